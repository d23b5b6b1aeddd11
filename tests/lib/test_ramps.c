/* ramps.csv says the same as frames.csv, in fewer words. */
#include "check.h"

#include "words/random.h"
#include "writing/ramps_csv.h"

enum { CHANNELS = 5, FRAMES = 600 };

struct storm {
    uint16_t level[FRAMES][CHANNELS];
    struct ramp *ramps;
    size_t count;
};

/* A lamp of each curve, and two that light between 12 and 80 percent. */
static struct tc_channel lamps[CHANNELS] = {
    { .max_level = 100 }, { .max_level = 100, .curve = TC_CURVE_SQUARE }, { .max_level = 100, .curve = TC_CURVE_LSTAR },
    { .min_level = 12, .max_level = 80 }, { .min_level = 12, .max_level = 80, .curve = TC_CURVE_SQUARE },
};

static void turn_into_ramps(struct storm *s, uint16_t full)
{
    struct ramper *r;
    struct tc_rig rig = { .channels = lamps, .channel_count = CHANNELS };
    assert_int_equal(ramper_create(&r, &rig, full), TC_OK);
    s->ramps = calloc(FRAMES * CHANNELS * 2 + 1, sizeof *s->ramps);
    s->count = 0;
    for (int f = 0; f < FRAMES; f++) {
        assert_int_equal(ramper_step(r, s->level[f]), TC_OK);
        while (ramper_next(r, &s->ramps[s->count])) s->count++;
    }
    assert_int_equal(ramper_flush(r), TC_OK);
    while (ramper_next(r, &s->ramps[s->count])) s->count++;
    ramper_destroy(r);
}

/* What a controller would show: the last ramp that has begun, by a straight
 * line, and held after its end. Written from the words of the file format. */
static double shown(const struct storm *s, int channel, int frame)
{
    double level = 0;
    for (size_t i = 0; i < s->count; i++) {
        const struct ramp *r = &s->ramps[i];
        if (r->channel != channel || (int)r->start > frame) continue;
        double share = r->end > r->start ? (double)(frame - (int)r->start) / (double)(r->end - r->start) : 1;
        level = r->start_level + (share < 1 ? share : 1) * (r->end_level - r->start_level);
    }
    return level;
}

/* The light of a lamp, with curves of our own. */
static double light(int channel, double percent)
{
    const struct tc_channel *c = &lamps[channel];
    double x = fmin(1, fmax(0, (percent - c->min_level) / (c->max_level - c->min_level)));
    if (c->curve == TC_CURVE_SQUARE) return x * x;
    if (c->curve == TC_CURVE_LSTAR) return x > 0.08 ? pow((100 * x + 16) / 116, 3) : 100 * x / 903.2963; /* CIE 15 */
    return x;
}

/* Within a quarter of a percent of light; dark where it is dark. */
static void check_same(const struct storm *s, uint16_t full)
{
    for (int c = 0; c < CHANNELS; c++)
        for (int f = 0; f < FRAMES; f++) {
            double there = shown(s, c, f);
            if (!s->level[f][c]) assert_near(there, 0, 0);
            assert_near(light(c, there * 100 / full), light(c, s->level[f][c] * 100.0 / full), 0.0025 + 1e-9);
        }
}

static void check_order(const struct storm *s)
{
    for (size_t i = 1; i < s->count; i++) {
        const struct ramp *a = &s->ramps[i - 1], *b = &s->ramps[i];
        assert_true(a->start < b->start || (a->start == b->start && a->channel <= b->channel));
    }
    for (int c = 0; c < CHANNELS; c++) { /* one channel's ramps follow each other */
        const struct ramp *last = NULL;
        for (size_t i = 0; i < s->count; i++) {
            if (s->ramps[i].channel != c) continue;
            if (last) assert_true(last->end <= s->ramps[i].start);
            last = &s->ramps[i];
        }
    }
}

static void random_levels(struct storm *s, uint64_t seed, uint16_t full)
{
    struct randomiser r = random_keyed(seed, 0, 0);
    memset(s->level, 0, sizeof s->level);
    for (int c = 0; c < CHANNELS; c++) {
        double level = 0, slope = 0;
        for (int f = 0; f + 1 < FRAMES; f++) {
            uint32_t what = random_below(&r, 20);
            if (what == 0) level = random_uniform(&r) * full;
            if (what == 1) slope = (random_uniform(&r) - 0.5) * full / 30;
            if (what == 2) level = slope = 0;
            if (what == 3) slope = 0;
            level += slope;
            level = level < 0 ? 0 : level > full ? full : level;
            s->level[f][c] = (uint16_t)(level + 0.5);
        }
    }
}

static void ramps_show_the_levels_of_every_frame(void **state)
{
    (void)state;
    static struct storm s;
    for (uint64_t seed = 0; seed < 60; seed++) {
        uint16_t full = seed % 2 ? 255 : 1000;
        random_levels(&s, seed, full);
        turn_into_ramps(&s, full);
        check_order(&s);
        check_same(&s, full);
        free(s.ramps);
    }
}

static void a_straight_fade_is_one_ramp(void **state)
{
    (void)state;
    static struct storm s;
    memset(s.level, 0, sizeof s.level);
    for (int f = 0; f <= 40; f++) s.level[100 + f][2] = (uint16_t)(1000 - 25 * f);
    turn_into_ramps(&s, 1000);
    assert_int_equal(s.count, 2);
    assert_int_equal(s.ramps[0].start, 100); /* the attack snaps */
    assert_int_equal(s.ramps[0].end, 100);
    assert_int_equal(s.ramps[0].end_level, 1000);
    assert_int_equal(s.ramps[1].start, 100);
    assert_int_equal(s.ramps[1].end, 140);
    assert_int_equal(s.ramps[1].end_level, 0);
    free(s.ramps);
}

static void darkness_needs_no_ramp(void **state)
{
    (void)state;
    static struct storm s;
    memset(s.level, 0, sizeof s.level);
    turn_into_ramps(&s, 255);
    assert_int_equal(s.count, 0);
    free(s.ramps);
}

static void no_light_comes_before_its_frame(void **state)
{
    (void)state;
    static struct storm s;
    memset(s.level, 0, sizeof s.level);
    s.level[50][0] = 300;
    s.level[51][0] = 900;
    turn_into_ramps(&s, 1000);
    assert_near(shown(&s, 0, 49), 0, 0);
    for (size_t i = 0; i < s.count; i++) assert_true(s.ramps[i].start >= 50);
    free(s.ramps);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ramps_show_the_levels_of_every_frame),
        cmocka_unit_test(a_straight_fade_is_one_ramp),
        cmocka_unit_test(darkness_needs_no_ramp),
        cmocka_unit_test(no_light_comes_before_its_frame),
    };
    return cmocka_run_group_tests_name("ramps", tests, NULL, NULL);
}
