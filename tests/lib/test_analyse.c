/* The front end: levels, power and time against known signals. */
#include "check.h"

#include "hearing/analyse.h"
#include "words/random.h"
#include "words/units.h"

#define TWO_PI 6.283185307179586

/* A signal of `channels` that only the test knows. */
struct signal {
    double rate;
    int channels;
    size_t frames;
    float *samples;
};

static struct signal make(double rate, int channels, double seconds)
{
    struct signal s = { rate, channels, (size_t)(seconds * rate), NULL };
    s.samples = calloc(s.frames * (size_t)channels + 1, sizeof *s.samples);
    assert_non_null(s.samples);
    return s;
}

static void add_sine(struct signal *s, int channel, double hz, double amplitude, double phase)
{
    for (size_t i = 0; i < s->frames; i++)
        s->samples[i * (size_t)s->channels + (size_t)channel] +=
            (float)(amplitude * sin(TWO_PI * hz * (double)i / s->rate + phase));
}

static void add_noise(struct signal *s, int channel, double amplitude, uint64_t seed)
{
    struct randomiser r = random_keyed(seed, 1, 2);
    for (size_t i = 0; i < s->frames; i++)
        s->samples[i * (size_t)s->channels + (size_t)channel] += (float)(amplitude * (2 * random_uniform(&r) - 1));
}

/* Hears all of it in blocks of `block` frames (0: of random sizes). The caller frees. */
static struct hearing *hear(const struct signal *s, size_t block, size_t *count)
{
    struct analyser *a;
    assert_int_equal(analyser_create(&a, s->rate, s->channels), TC_OK);
    size_t room = (size_t)((double)s->frames / s->rate * STEPS_A_SECOND) + 8;
    struct hearing *all = calloc(room, sizeof *all);
    assert_non_null(all);
    struct randomiser r = random_keyed(block, 3, 4);
    *count = 0;
    for (size_t at = 0; at < s->frames;) {
        size_t n = block ? block : 1 + random_below(&r, 3000);
        if (n > s->frames - at) n = s->frames - at;
        struct span in = { s->samples + at * (size_t)s->channels, n };
        while (analyser_step(a, &in, &all[*count])) (*count)++;
        at += n;
        assert_true(*count < room);
    }
    while (analyser_flush(a, &all[*count])) (*count)++;
    assert_int_equal(analyser_taken(a), s->frames);
    analyser_destroy(a);
    return all;
}

static double total_db_at(const struct signal *s, double seconds)
{
    size_t count;
    struct hearing *all = hear(s, 4096, &count);
    double db = power_db((double)all[(size_t)(seconds * STEPS_A_SECOND)].total);
    free(all);
    return db;
}

/* Source: AES17, RMS level of a full-scale sine is 0 dBFS. */
static void a_full_scale_sine_is_0_dbfs(void **state)
{
    (void)state;
    static const struct { double rate, hz, amplitude, db; } rows[] = {
        { 44100, 997, 1, 0 }, { 44100, 997, 0.1, -20 }, { 48000, 1000, 1, 0 }, { 8000, 440, 1, 0 },
        { 96000, 5000, 0.01, -40 }, { 192000, 300, 1, 0 }, { 22050, 2000, 0.5, -6.02 },
        { 44100, 9000, 1, 0 },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct signal s = make(rows[i].rate, 1, 0.5);
        add_sine(&s, 0, rows[i].hz, rows[i].amplitude, 0.3);
        assert_near(total_db_at(&s, 0.25), rows[i].db, 0.1);
        free(s.samples);
    }
}

/* Source: Parseval's theorem: the power of the spectrum is that of the signal.
 * Uniform noise of amplitude a has the mean square a^2/3; bands end at 10.86
 * kHz, so at 16 kHz all of it but what lies below 40 Hz is heard. */
static void noise_has_the_power_that_parseval_says(void **state)
{
    (void)state;
    struct signal s = make(16000, 1, 4);
    add_noise(&s, 0, 0.5, 7);
    double squares = 0, heard = 0;
    for (size_t i = 0; i < s.frames; i++) squares += (double)s.samples[i] * (double)s.samples[i];
    size_t count;
    struct hearing *all = hear(&s, 4096, &count);
    for (size_t i = 10; i + 10 < count; i++) heard += (double)all[i].total / (double)(count - 20);
    double share = 1 - 40.0 / 8000; /* of white noise from 40 Hz up */
    assert_near(power_db(heard), power_db(2 * share * squares / (double)s.frames), 0.1);
    free(all);
    free(s.samples);
}

static void any_block_size_hears_the_same(void **state)
{
    (void)state;
    static const double rates[] = { 44100, 48000, 8000, 96000 };
    for (size_t r = 0; r < COUNT(rates); r++)
        for (int channels = 1; channels <= 3; channels++) {
            struct signal s = make(rates[r], channels, 0.31);
            for (int c = 0; c < channels; c++) add_noise(&s, c, 0.7, (uint64_t)c);
            size_t count;
            struct hearing *whole = hear(&s, s.frames, &count);
            static const size_t blocks[] = { 1, 7, 64, 4096, 0 };
            for (size_t b = 0; b < COUNT(blocks); b++) {
                size_t n;
                struct hearing *parts = hear(&s, blocks[b], &n);
                assert_int_equal(n, count);
                assert_memory_equal(parts, whole, n * sizeof *parts);
                free(parts);
            }
            free(whole);
            free(s.samples);
        }
}

static void a_step_for_every_5_ms(void **state)
{
    (void)state;
    static const struct { double rate; size_t frames, steps; } rows[] = {
        { 44100, 44100, 200 }, { 44100, 1, 1 }, { 44100, 220, 1 }, { 44100, 222, 2 },
        { 8000, 8000, 200 }, { 192000, 96000, 100 },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct signal s = make(rows[i].rate, 1, 2);
        s.frames = rows[i].frames;
        size_t count;
        struct hearing *all = hear(&s, 64, &count);
        assert_int_equal(count, rows[i].steps);
        free(all);
        free(s.samples);
    }
}

static void opposite_phase_does_not_cancel(void **state)
{
    (void)state;
    struct signal same = make(44100, 2, 0.5), opposite = make(44100, 2, 0.5);
    for (int c = 0; c < 2; c++) {
        add_sine(&same, c, 700, 0.5, 0);
        add_sine(&opposite, c, 700, 0.5, c ? TWO_PI / 2 : 0);
    }
    assert_near(total_db_at(&same, 0.25), -6.02, 0.1);
    assert_near(total_db_at(&opposite, 0.25), -6.02, 0.1);
    free(same.samples);
    free(opposite.samples);
}

static void a_constant_offset_is_silence(void **state)
{
    (void)state;
    for (int channels = 1; channels <= 2; channels++) {
        struct signal s = make(44100, channels, 0.5);
        for (size_t i = 0; i < s.frames * (size_t)channels; i++) s.samples[i] = 0.5f;
        assert_true(total_db_at(&s, 0.25) < -90);
        free(s.samples);
    }
}

/* Two channels share one transform, three take another: all count alike. */
static void channels_are_averaged(void **state)
{
    (void)state;
    for (int channels = 1; channels <= 8; channels++) {
        struct signal s = make(44100, channels, 0.5);
        for (int c = 0; c < channels; c++) add_sine(&s, c, 500 + 100 * c, 1, c);
        assert_near(total_db_at(&s, 0.25), 0, 0.1);
        free(s.samples);
    }
}

static void a_click_is_heard_when_it_comes(void **state)
{
    (void)state;
    static const double rates[] = { 8000, 22050, 44100, 48000, 96000, 192000 };
    for (size_t r = 0; r < COUNT(rates); r++) {
        struct signal s = make(rates[r], 1, 0.5);
        size_t at = (size_t)(0.2 * rates[r]);
        for (size_t i = at; i < at + (size_t)(rates[r] / 4000); i++) s.samples[i] = 1;
        size_t count, best = 0;
        struct hearing *all = hear(&s, 512, &count);
        for (size_t i = 0; i < count; i++)
            if (all[i].total > all[best].total) best = i;
        assert_in_range(best, 39, 41); /* 0.2 s is step 40 */
        free(all);
        free(s.samples);
    }
}

/* The public header promises it for whoever pushes samples. */
static void what_is_no_number_is_silence(void **state)
{
    (void)state;
    for (int channels = 1; channels <= 2; channels++) {
        struct signal clean = make(44100, channels, 0.5), odd = make(44100, channels, 0.5);
        for (int c = 0; c < channels; c++) add_noise(&clean, c, 0.3, 5), add_noise(&odd, c, 0.3, 5);
        static const float bad[] = { NAN, INFINITY, -INFINITY, 1e30f, -1e7f };
        for (size_t i = 0; i < COUNT(bad); i++) {
            clean.samples[9000 + 700 * i] = 0;
            odd.samples[9000 + 700 * i] = bad[i];
        }
        size_t n, m;
        struct hearing *a = hear(&clean, 333, &n), *b = hear(&odd, 333, &m);
        assert_int_equal(n, m);
        assert_memory_equal(a, b, n * sizeof *a);
        struct analyser *analyser;
        struct hearing out;
        assert_int_equal(analyser_create(&analyser, 44100, channels), TC_OK);
        struct span in = { odd.samples, odd.frames };
        while (analyser_step(analyser, &in, &out)) continue;
        assert_int_equal(analyser_bad_samples(analyser), COUNT(bad));
        analyser_destroy(analyser);
        free(a);
        free(b);
        free(clean.samples);
        free(odd.samples);
    }
}

static void wrong_rates_and_channels_are_refused(void **state)
{
    (void)state;
    struct analyser *a;
    assert_int_equal(analyser_create(&a, 999, 1), TC_ERR_USAGE);
    assert_int_equal(analyser_create(&a, NAN, 1), TC_ERR_USAGE);
    assert_int_equal(analyser_create(&a, 44100, 0), TC_ERR_USAGE);
    assert_int_equal(analyser_create(&a, 44100, 65), TC_ERR_USAGE);
    assert_null(a);
    analyser_destroy(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_full_scale_sine_is_0_dbfs),
        cmocka_unit_test(noise_has_the_power_that_parseval_says),
        cmocka_unit_test(any_block_size_hears_the_same),
        cmocka_unit_test(a_step_for_every_5_ms),
        cmocka_unit_test(opposite_phase_does_not_cancel),
        cmocka_unit_test(a_constant_offset_is_silence),
        cmocka_unit_test(channels_are_averaged),
        cmocka_unit_test(a_click_is_heard_when_it_comes),
        cmocka_unit_test(what_is_no_number_is_silence),
        cmocka_unit_test(wrong_rates_and_channels_are_refused),
    };
    return cmocka_run_group_tests_name("analyse", tests, NULL, NULL);
}
