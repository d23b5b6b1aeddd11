/* The sound of a show, sample by sample, as a card takes it. */
#include "scratch.h"
#include "wav.h"

#include <time.h>

#include "io/sound/sound_feed.h"

enum { RATE = 48000, FILE_FRAMES = 30000 };

/* Sample i of channel c is (i + 1 + 0.25 c) / 65536. */
static float sample(int i, int c)
{
    return ((float)i + 1 + 0.25f * (float)c) / 65536;
}

static const char *write_file(const char *name, int channels)
{
    struct bytes b = { 0 };
    bytes_put(&b, "RIFF\0\0\0\0WAVE", 12);
    wav_fmt(&b, &(struct wav){ .tag = 3, .channels = channels, .rate = RATE, .bits = 32 }); /* IEEE float */
    bytes_put(&b, "data", 4);
    bytes_number(&b, (uint64_t)FILE_FRAMES * (uint64_t)channels * 4, 4);
    for (int i = 0; i < FILE_FRAMES; i++)
        for (int c = 0; c < channels; c++) {
            float v = sample(i, c);
            bytes_put(&b, &v, 4);
        }
    wav_end(&b);
    bytes_save(&b, scratch_at(name));
    free(b.data);
    return scratch_at(name);
}

static struct sound_feed *open_feed(const struct sound_plan *plan, int channels, double rate)
{
    struct sound_feed *f;
    struct tc_problem why;
    if (sound_feed_open(&f, plan, &why) != TC_OK) fail_msg("%s", why.text);
    assert_int_equal(sound_feed_start(f, channels, rate, &why), TC_OK);
    return f;
}

enum { STUCK_S = 60 }; /* long after any busy machine would have been done */

static void wait_a_little(time_t begun)
{
    if (time(NULL) - begun > STUCK_S) fail_msg("no sound after %d s", STUCK_S);
    nanosleep(&(struct timespec){ .tv_nsec = 1000000 }, NULL);
}

/* The next `count` sample frames of the show, however long the thread takes;
 * gaps are no part of the show. */
static float *take(struct sound_feed *f, int channels, size_t count)
{
    float *all = calloc(count * (size_t)channels, sizeof *all);
    assert_non_null(all);
    time_t begun = time(NULL);
    for (size_t got = 0; got < count;) {
        size_t piece = count - got < 441 ? count - got : 441;
        struct sound_taken t = sound_feed_take(f, all + got * (size_t)channels, piece);
        got += (size_t)t.frames;
        if (t.dry) wait_a_little(begun);
    }
    return all;
}

static void wait_until_ready(struct sound_feed *f)
{
    time_t begun = time(NULL);
    while (!sound_feed_ready(f)) wait_a_little(begun);
}

static void silence_comes_before_and_behind_the_sound(void **state)
{
    (void)state;
    struct sound_plan plan = { .path = write_file("one.wav", 1), .before_s = 0.25, .lap_s = 1 };
    struct sound_feed *f = open_feed(&plan, 2, RATE);
    enum { BEFORE = RATE / 4, COUNT_ALL = BEFORE + FILE_FRAMES + 5000 };
    for (int turn = 0; turn < 2; turn++) { /* once more from the beginning */
        wait_until_ready(f);
        float *all = take(f, 2, COUNT_ALL);
        for (int i = 0; i < COUNT_ALL; i++) {
            float want = i < BEFORE || i >= BEFORE + FILE_FRAMES ? 0 : sample(i - BEFORE, 0);
            if (all[2 * i] != want || all[2 * i + 1] != want) fail_msg("sample %d is %g, not %g", i, (double)all[2 * i], (double)want);
        }
        free(all);
        assert_int_equal(sound_feed_take(f, (float[20]){ 0 }, 10).at, COUNT_ALL); /* silence goes on as part of the show */
        sound_feed_rewind(f);
        assert_int_equal(sound_feed_take(f, (float[20]){ 0 }, 10).frames, 0);
    }
    sound_feed_close(f);
}

/* A lap longer than its sound is filled up, one that is shorter cuts it; each begins on its sample. */
static void laps_begin_on_their_sample(void **state)
{
    (void)state;
    static const int laps[] = { FILE_FRAMES + 1234, FILE_FRAMES, 20011 };
    for (size_t l = 0; l < COUNT(laps); l++) {
        struct sound_plan plan = { .path = write_file("lap.wav", 1), .lap_s = (double)laps[l] / RATE, .loop = true };
        struct sound_feed *f = open_feed(&plan, 1, RATE);
        enum { ALL = 4 * FILE_FRAMES };
        float *all = take(f, 1, ALL);
        for (int i = 0; i < ALL; i++) {
            int at = i % laps[l];
            float want = at < FILE_FRAMES ? sample(at, 0) : 0;
            if (all[i] != want) fail_msg("lap of %d: sample %d is %g, not %g", laps[l], i, (double)all[i], (double)want);
        }
        free(all);
        sound_feed_close(f);
    }
}

/* Odd channels left, even ones right; all of them to a card with one. */
static void channels_are_mixed_for_the_card(void **state)
{
    (void)state;
    struct sound_plan plan = { .path = write_file("four.wav", 4), .lap_s = 1 };
    for (int channels = 1; channels <= 2; channels++) {
        struct sound_feed *f = open_feed(&plan, channels, RATE);
        float *all = take(f, channels, 1000);
        for (int i = 0; i < 1000; i++) {
            double left = channels == 1 ? (double)sample(i, 0) + 1.5 * 0.25 / 65536 : (double)sample(i, 0) + 0.25 / 65536;
            assert_near(all[channels * i], left, 1e-7);
            if (channels == 2) assert_near(all[2 * i + 1], left + 0.25 / 65536, 1e-7);
        }
        free(all);
        sound_feed_close(f);
    }
}

/* A recording that another takes the place of between two laps: silence from
 * there on, whether it is gone or has more channels than there is room for. */
static void a_recording_that_is_replaced_falls_silent(void **state)
{
    (void)state;
    for (int channels = 0; channels <= 8; channels += 4) {
        struct sound_plan plan = { .path = strdup(write_file("replaced.wav", 1)), .lap_s = (double)FILE_FRAMES / RATE, .loop = true };
        struct sound_feed *f = open_feed(&plan, 1, RATE);
        float *all = take(f, 1, 100);
        assert_near(all[99], sample(99, 0), 1e-9);
        free(all);
        assert_false(sound_feed_lost(f));
        if (channels) write_file("replaced.wav", channels);
        else assert_int_equal(remove(plan.path), 0);
        sound_feed_rewind(f);
        wait_until_ready(f);
        all = take(f, 1, 3 * FILE_FRAMES);
        for (int i = 0; i < 3 * FILE_FRAMES; i++)
            if (all[i] < 0 || all[i] > 0) fail_msg("%d channels: sample %d is %g, not silence", channels, i, (double)all[i]);
        assert_true(sound_feed_lost(f));
        free(all);
        sound_feed_close(f);
        free((char *)plan.path);
    }
}

/* At another rate the sound takes as long as before: within a sample or two over its length. */
static void another_rate_keeps_the_time(void **state)
{
    (void)state;
    struct sound_plan plan = { .path = write_file("rate.wav", 1), .lap_s = 1 };
    struct sound_feed *f = open_feed(&plan, 1, 44100);
    enum { WANT = FILE_FRAMES * 441 / 480 };
    float *all = take(f, 1, WANT + 3000);
    for (int i = 2000; i < WANT - 2000; i++) assert_near(all[i], ((double)i * 480 / 441 + 1) / 65536, 3e-5); /* two samples */
    int last = WANT + 2999;
    while (last > 0 && fabsf(all[last]) < 0.01f) last--;
    assert_in_range(last, WANT - 60, WANT + 60); /* the filter rings */
    free(all);
    sound_feed_close(f);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(silence_comes_before_and_behind_the_sound),
        cmocka_unit_test(laps_begin_on_their_sample),
        cmocka_unit_test(channels_are_mixed_for_the_card),
        cmocka_unit_test(a_recording_that_is_replaced_falls_silent),
        cmocka_unit_test(another_rate_keeps_the_time),
    };
    return cmocka_run_group_tests(tests, scratch_set_up, scratch_tear_down);
}
