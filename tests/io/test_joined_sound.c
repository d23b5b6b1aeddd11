/* Many sounds in one file: what overlaps adds up, what would clip gives way,
 * what lies beneath goes down and comes back, and the same sounds give the same
 * bytes. Files are read back with libsndfile, Ogg pages by RFC 3533. */
#include "scratch.h"

#include <sndfile.h>

#include "io/sound/ceiling.h"
#include "io/sound/joined_sound.h"
#include "io/sound/quantise.h"
#include "words/random.h"

enum { RATE = 48000 };

/* ---- The ceiling ---- */

static float *draw_noise(size_t frames, float most, uint64_t seed)
{
    struct randomiser r = random_keyed(seed, 3, 1);
    float *pair = calloc(2 * frames, sizeof *pair);
    assert_non_null(pair);
    for (size_t i = 0; i < 2 * frames; i++) pair[i] = most * (float)(2 * random_uniform(&r) - 1);
    return pair;
}

static void limit_in_pieces(float *pair, size_t frames, size_t piece)
{
    struct ceiling *l;
    assert_int_equal(ceiling_create(&l, RATE, 0.9f), TC_OK);
    for (size_t at = 0; at < frames; at += piece)
        ceiling_step(l, pair + 2 * at, frames - at < piece ? frames - at : piece);
    ceiling_destroy(l);
}

static void nothing_comes_out_above_the_ceiling(void **state)
{
    (void)state;
    enum { FRAMES = 30000 };
    float *one = draw_noise(FRAMES, 4, 5), *other = draw_noise(FRAMES, 4, 5);
    for (size_t f = 10000; f < FRAMES; f++) one[2 * f] *= 0.1f, other[2 * f] *= 0.1f;
    limit_in_pieces(one, FRAMES, FRAMES);
    limit_in_pieces(other, FRAMES, 113);
    for (size_t i = 0; i < 2 * FRAMES; i++) {
        assert_true(fabsf(one[i]) <= 0.9f);
        assert_true(one[i] == other[i]);
    }
    free(one);
    free(other);
}

static void what_stays_below_passes_unchanged(void **state)
{
    (void)state;
    enum { FRAMES = 50000 };
    float *in = draw_noise(FRAMES, 0.9f, 7), *out = draw_noise(FRAMES, 0.9f, 7);
    in[2 * 1000] = out[2 * 1000] = 3; /* one peak; a second later all is as it was */
    struct ceiling *l;
    assert_int_equal(ceiling_create(&l, RATE, 0.9f), TC_OK);
    size_t late = ceiling_delay(l);
    ceiling_step(l, out, FRAMES);
    long long softened = ceiling_softened(l);
    for (size_t f = 0; f + late < FRAMES; f++)
        if (f < 1000 - late || f > 1000 + 6 * RATE / 10) {
            assert_near(out[2 * (f + late)], in[2 * f], 0.06 * (f > 1000) * fabs((double)in[2 * f]));
        }
    assert_true(softened > 0);
    ceiling_destroy(l);
    free(in);
    free(out);
}

/* ---- Whole numbers ---- */

/* With triangular noise of two steps' width the mean of what comes out is what went in, between the steps too, and the
 * error has a quarter of a square step at any level (Lipshitz, Wannamaker and Vanderkooy 1992). */
static void sixteen_bits_keep_what_lies_between_their_steps(void **state)
{
    (void)state;
    enum { COUNT_OF = 200000 };
    static const double levels[] = { 0.1, 0.25, 0.5, -0.3, 1000.4, -0.999 };
    struct randomiser noise = random_keyed(3, 1, 0);
    float *in = calloc(COUNT_OF, sizeof *in);
    short *out = calloc(COUNT_OF, sizeof *out);
    assert_non_null(in);
    assert_non_null(out);
    for (size_t k = 0; k < COUNT(levels); k++) {
        double sum = 0, squares = 0;
        for (size_t i = 0; i < COUNT_OF; i++) in[i] = (float)(levels[k] / 32768);
        quantise_16(&noise, in, out, COUNT_OF);
        for (size_t i = 0; i < COUNT_OF; i++) {
            double wrong = out[i] - levels[k];
            sum += wrong;
            squares += wrong * wrong;
        }
        assert_near(sum / COUNT_OF, 0, 0.006);
        assert_near(squares / COUNT_OF, 0.25, 0.006);
    }
    free(in);
    free(out);
}

static void silence_stays_silence_and_full_scale_does_not_wrap(void **state)
{
    (void)state;
    struct randomiser noise = random_keyed(3, 1, 0);
    const float in[] = { 0, 1, -1, 3, -3, 0 };
    short coarse[6];
    int fine[6];
    quantise_16(&noise, in, coarse, 6);
    quantise_24(in, fine, 6);
    assert_int_equal(coarse[0], 0);
    assert_int_equal(coarse[5], 0);
    assert_true(coarse[1] >= 32766 && coarse[2] <= -32767 && coarse[3] == 32767 && coarse[4] == -32768);
    assert_int_equal(fine[0], 0);
    assert_int_equal(fine[1], 0x7FFFFF * 256);
    assert_int_equal(fine[2], -0x800000 * 256);
    assert_int_equal(fine[3], 0x7FFFFF * 256);
    assert_int_equal(fine[4], -0x800000 * 256);
}

/* ---- Files ---- */

struct place {
    char folder[256], one[300], other[300], track[300], out[300];
};

static struct place place_make(void)
{
    struct place p;
    scratch_make(p.folder, sizeof p.folder);
    snprintf(p.one, sizeof p.one, "%s/one.wav", p.folder);
    snprintf(p.other, sizeof p.other, "%s/other.wav", p.folder);
    snprintf(p.track, sizeof p.track, "%s/track.wav", p.folder);
    snprintf(p.out, sizeof p.out, "%s/out", p.folder);
    return p;
}

static void save_tone(const char *path, double hz, float level, double seconds)
{
    SF_INFO info = { .samplerate = RATE, .channels = 2, .format = SF_FORMAT_WAV | SF_FORMAT_FLOAT };
    SNDFILE *to = sf_open(path, SFM_WRITE, &info);
    assert_non_null(to);
    for (int64_t f = 0; f < llround(seconds * RATE); f++) {
        float v = level * (float)sin(6.283185307179586 * hz * (double)f / RATE), pair[2] = { v, v };
        sf_writef_float(to, pair, 1);
    }
    sf_close(to);
}

static struct joined *begin(const struct place *p, FILE **file, enum joined_form form)
{
    struct joined *j;
    assert_non_null(*file = fopen(p->out, "w+b"));
    assert_int_equal(joined_open(&j, *file, &(struct joined_wish){ .form = form, .bits = 16, .rate = RATE, .seed = 1 }),
                     TC_OK);
    return j;
}

static void add(struct joined *j, const char *path, double at_s, double seconds, double gain_db)
{
    struct source *source;
    assert_int_equal(joined_until(j, llround(at_s * RATE)), TC_OK);
    assert_int_equal(source_open(&source, path, NULL), TC_OK);
    assert_int_equal(joined_clip(j, source, llround(seconds * RATE), gain_db), TC_OK);
}

static struct joined_sum end(struct joined *j, FILE *file, double at_s)
{
    struct joined_sum sum;
    assert_int_equal(joined_until(j, llround(at_s * RATE)), TC_OK);
    assert_int_equal(joined_finish(j, &sum), TC_OK);
    joined_close(j);
    assert_int_equal(fclose(file), 0);
    assert_int_equal(sum.frames, llround(at_s * RATE));
    return sum;
}

static float *load(const struct place *p, int64_t frames)
{
    SF_INFO info = { 0 };
    SNDFILE *in = sf_open(p->out, SFM_READ, &info);
    assert_non_null(in);
    assert_int_equal(info.frames, frames);
    float *pair = calloc((size_t)frames * 2, sizeof *pair);
    assert_int_equal(sf_readf_float(in, pair, frames), frames);
    sf_close(in);
    return pair;
}

/* In dB against a full-scale sine (AES17), left side. */
static double level_db(const float *pair, double from_s, double to_s)
{
    double sum = 0;
    int64_t from = llround(from_s * RATE), to = llround(to_s * RATE);
    for (int64_t f = from; f < to; f++) sum += (double)pair[2 * f] * (double)pair[2 * f];
    return 10 * log10(2 * sum / (double)(to - from) + 1e-12);
}

static void clips_that_overlap_add_up(void **state)
{
    (void)state;
    struct place p = place_make();
    FILE *file;
    save_tone(p.one, 440, 0.25f, 3);
    save_tone(p.other, 1000, 0.5f, 2);
    struct joined *j = begin(&p, &file, JOINED_WAV);
    add(j, p.one, 0.5, 3, 0);
    add(j, p.other, 2, 2, -6.0206); /* to 0.25 */
    struct joined_sum sum = end(j, file, 5);
    float *pair = load(&p, 5 * RATE);
    for (int64_t f = 0; f < 5 * RATE; f++) {
        double t = (double)f / RATE, want = 0;
        if (t >= 0.51 && t < 3.49) want += 0.25 * sin(6.283185307179586 * 440 * (t - 0.5));
        if (t >= 2.01 && t < 3.99) want += 0.25 * sin(6.283185307179586 * 1000 * (t - 2));
        bool fades = fabs(t - 0.5) < 0.011 || fabs(t - 3.5) < 0.011 || fabs(t - 2) < 0.011 || fabs(t - 4) < 0.011;
        if (!fades) assert_near(pair[2 * f], want, 2.0 / 32768);
    }
    assert_true(sum.softened_s == 0);
    free(pair);
    scratch_remove(p.folder);
}

static void loud_clips_together_do_not_clip(void **state)
{
    (void)state;
    struct place p = place_make();
    FILE *file;
    save_tone(p.one, 440, 0.89f, 3);
    struct joined *j = begin(&p, &file, JOINED_WAV);
    for (int i = 0; i < JOINED_VOICES_MOST; i++) add(j, p.one, 0.1 * i, 3, 0);
    struct source *source;
    assert_int_equal(source_open(&source, p.one, NULL), TC_OK);
    assert_int_equal(joined_clip(j, source, RATE, 0), TC_ERR_USAGE);
    struct joined_sum sum = end(j, file, 4);
    float *pair = load(&p, 4 * RATE);
    for (int64_t f = 0; f < 8 * RATE; f++) assert_true(fabsf(pair[f]) <= 0.8914f); /* -1 dB and a step of 16 bits */
    assert_true(sum.softened_s > 1 && sum.peak_db <= -0.99);
    free(pair);
    scratch_remove(p.folder);
}

static void a_track_beneath_goes_down_for_thunder_and_comes_back(void **state)
{
    (void)state;
    struct place p = place_make();
    FILE *file;
    save_tone(p.one, 440, 0, 6); /* a clip of silence, so that the track is heard alone */
    save_tone(p.track, 1000, 0.5f, 7.3);
    static const struct under_span spans[] = { { 10 * RATE, 16 * RATE }, { 40 * RATE, 44 * RATE } };
    for (int once = 0; once <= 1; once++) {
        struct under_plan plan = { .path = p.track, .frames = llround(7.3 * RATE), .end = 60 * RATE, .gain_db = -10,
                                   .dip_db = 12,
                                   .once = once, .spans = spans, .span_count = 2 };
        struct joined *j = begin(&p, &file, JOINED_WAV);
        assert_int_equal(joined_under(j, &plan, NULL), TC_OK);
        add(j, p.one, 10, 6, 0);
        add(j, p.one, 40, 4, 0);
        end(j, file, 60);
        float *pair = load(&p, 60 * RATE);
        double full = 20 * log10(0.5) - 10;
        assert_near(level_db(pair, 3, 7), full, 0.05);
        if (once) {
            assert_true(level_db(pair, 7.4, 60) < -90);
        } else {
            assert_near(level_db(pair, 10.5, 14), full - 12, 0.05);
            assert_near(level_db(pair, 40, 43), full - 12, 0.05);
            assert_near(level_db(pair, 22, 28), full, 0.05); /* and it began again */
            double before = 0; /* down and up in small steps: no 0.1 s differs from the last by more than 3 dB */
            for (double t = 8.05; t < 21; t += 0.1) {
                double now = level_db(pair, t, t + 0.1);
                if (t > 8.1 && fmod(t, 7.3) > 0.2 && fmod(t, 7.3) < 7.1) assert_near(now, before, 3);
                before = now;
            }
            assert_true(level_db(pair, 0, 0.1) < full - 20 && level_db(pair, 59.8, 60) < full - 20); /* in and out */
        }
        free(pair);
    }
    scratch_remove(p.folder);
}

/* The checksum of RFC 3533, bit by bit. */
static uint32_t page_sum(const unsigned char *page, size_t size)
{
    uint32_t sum = 0;
    for (size_t i = 0; i < size; i++) {
        sum ^= (uint32_t)(i >= 22 && i < 26 ? 0 : page[i]) << 24;
        for (int bit = 0; bit < 8; bit++) sum = sum & 0x80000000u ? sum << 1 ^ 0x04c11db7u : sum << 1;
    }
    return sum;
}

static void ogg_is_the_same_twice_and_whole(void **state)
{
    (void)state;
    struct place p = place_make();
    char *bytes[2] = { NULL };
    size_t size[2] = { 0 };
    save_tone(p.one, 440, 0.5f, 2);
    for (int i = 0; i < 2; i++) {
        FILE *file;
        struct joined *j = begin(&p, &file, JOINED_OGG);
        add(j, p.one, 1, 2, 0);
        end(j, file, 10);
        float *pair = load(&p, 10 * RATE);
        assert_near(level_db(pair, 1.1, 2.9), 20 * log10(0.5), 0.5);
        free(pair);
        assert_non_null(bytes[i] = scratch_read(p.out, &size[i]));
    }
    assert_int_equal(size[0], size[1]);
    assert_memory_equal(bytes[0], bytes[1], size[0]);
    size_t at = 0, pages = 0;
    while (at < size[0]) {
        const unsigned char *page = (const unsigned char *)bytes[0] + at;
        assert_memory_equal(page, "OggS", 4);
        size_t length = 27u + page[26];
        for (int s = 0; s < page[26]; s++) length += page[27 + s];
        uint32_t sum = page[22] | (uint32_t)page[23] << 8 | (uint32_t)page[24] << 16 | (uint32_t)page[25] << 24;
        assert_int_equal(sum, page_sum(page, length));
        at += length;
        pages++;
    }
    assert_int_equal(at, size[0]);
    assert_true(pages >= 3);
    free(bytes[0]);
    free(bytes[1]);
    scratch_remove(p.folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sixteen_bits_keep_what_lies_between_their_steps),
        cmocka_unit_test(silence_stays_silence_and_full_scale_does_not_wrap),
        cmocka_unit_test(nothing_comes_out_above_the_ceiling),
        cmocka_unit_test(what_stays_below_passes_unchanged),
        cmocka_unit_test(clips_that_overlap_add_up),
        cmocka_unit_test(loud_clips_together_do_not_clip),
        cmocka_unit_test(a_track_beneath_goes_down_for_thunder_and_comes_back),
        cmocka_unit_test(ogg_is_the_same_twice_and_whole),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
