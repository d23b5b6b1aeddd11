/* Pulses to light. */
#include "check.h"

#include "light/play.h"
#include "words/random.h"

enum { FRAMES_MOST = 4000, CHANNELS_MOST = 64 };

static struct tc_channel channels[CHANNELS_MOST];

/* A trunk 0-1-2 with a fork 3 at 1, then floods. */
static struct tc_rig small_rig(size_t floods)
{
    static const int parents[] = { -1, 0, 1, 1 };
    struct tc_rig rig = { .channels = channels, .channel_count = 4 + floods };
    for (size_t i = 0; i < rig.channel_count; i++)
        channels[i] = (struct tc_channel){ .number = (int)i + 1, .kind = i < 4 ? TC_BRANCH : TC_FLOOD,
                                           .parent = i < 4 ? parents[i] : -1, .max_level = 100 };
    return rig;
}

static float light[FRAMES_MOST][CHANNELS_MOST];

/* Plays a timeline into light[][]; returns the number of frames. */
static uint32_t play_through(struct tc_pulse *pulses, size_t count, uint32_t frames, const struct tc_rig *rig)
{
    struct tc_timeline t = { .frame_rate = 40, .frames = frames, .pulses = pulses, .pulse_count = count };
    struct play *p;
    assert_int_equal(play_create(&p, &t, rig), TC_OK);
    uint32_t n = 0;
    while (play_step(p, light[n])) n++;
    assert_false(play_step(p, light[FRAMES_MOST - 1]));
    play_destroy(p);
    return n;
}

static void silence_is_black(void **state)
{
    (void)state;
    struct tc_rig rig = small_rig(2);
    assert_int_equal(play_through(NULL, 0, 100, &rig), 100);
    for (int f = 0; f < 100; f++)
        for (size_t c = 0; c < 6; c++) assert_near((double)light[f][c], 0, 0);
    assert_int_equal(play_through(NULL, 0, 0, &rig), 0);
    rig.channel_count = 0;
    assert_int_equal(play_through(NULL, 0, 3, &rig), 3);
}

/* Peak in its frame, black before; an exponential that passes three time
 * constants and a bit, exactly 0 at the end of the fall. */
static void a_pulse_strikes_falls_and_ends(void **state)
{
    (void)state;
    struct tc_rig rig = small_rig(0);
    static const uint16_t falls[] = { 1, 2, 3, 5, 6, 7, 8, 14, 40, 300 };
    for (size_t i = 0; i < COUNT(falls); i++) {
        struct tc_pulse p = { .frame = 10, .channel = 2, .peak = 65535, .fall = falls[i] };
        play_through(&p, 1, 400, &rig);
        assert_near((double)light[9][2], 0, 0);
        assert_near((double)light[10][2], 1, 0);
        assert_near((double)light[10 + falls[i]][2], 0, 0);
        for (uint32_t k = 1; k < falls[i]; k++) {
            double here = (double)light[10 + k][2];
            assert_true(here > 0 && here < (double)light[9 + k][2]);
            assert_near(here, exp(-PULSE_FALL_CONSTANTS * k / falls[i]), 0.09);
        }
        for (uint32_t f = 0; f < 400; f++) assert_near((double)light[f][1], 0, 0);
    }
}

static void a_rise_begins_lit_and_goes_straight(void **state)
{
    (void)state;
    struct tc_rig rig = small_rig(0);
    struct tc_pulse p = { .frame = 10, .channel = 0, .peak = 65535, .rise = 3, .fall = 4 };
    play_through(&p, 1, 40, &rig);
    static const double want[] = { 0, 0.25, 0.5, 0.75, 1 };
    for (size_t i = 0; i < COUNT(want); i++) assert_near((double)light[6 + i][0], want[i], 1e-6);
}

static void a_glow_holds_and_ends(void **state)
{
    (void)state;
    struct tc_rig rig = small_rig(0);
    struct tc_pulse p = { .frame = 5, .channel = 1, .peak = 65535, .fall = 4, .glow = 13107, .hold = 6 };
    play_through(&p, 1, 40, &rig);
    for (int f = 9; f <= 15; f++) assert_near((double)light[f][1], 0.2, 1e-6);
    assert_true((double)light[16][1] < 0.2 && light[16][1] > 0);
    assert_near((double)light[19][1], 0, 0);
}

static void ramps_join_without_a_step(void **state)
{
    (void)state;
    struct tc_rig rig = small_rig(4);
    struct tc_pulse p[] = {
        { .frame = 20, .channel = TC_SET_FLOODS + TC_SIDE_FIRST, .glow = 0, .peak = 6000, .rise = 10 },
        { .frame = 30, .channel = TC_SET_FLOODS + TC_SIDE_FIRST, .glow = 6000, .peak = 2000, .rise = 10 },
        { .frame = 40, .channel = TC_SET_FLOODS + TC_SIDE_FIRST, .glow = 2000, .peak = 0, .rise = 10 },
    };
    play_through(p, 3, 60, &rig);
    for (int f = 10; f <= 40; f++) {
        double want = f <= 20 ? (f - 10) * 600 : f <= 30 ? 6000 - (f - 20) * 400 : 2000 - (f - 30) * 200;
        assert_near((double)light[f][4], want / 65535, 1e-6);
        assert_near((double)light[f][5], want / 65535, 1e-6);
        assert_near((double)light[f][6], 0, 0);
    }
}

/* A stroke fainter than the rumble behind it is still a rise. */
static void strokes_shine_on_top_of_the_background(void **state)
{
    (void)state;
    struct tc_rig rig = small_rig(2);
    struct tc_pulse p[] = {
        { .frame = 40, .channel = TC_SET_FLOODS + TC_SIDE_BOTH, .glow = 32768, .peak = 32768, .rise = 40, .hold = 1 },
        { .frame = 20, .channel = 4, .peak = 13107, .fall = 5 },
        { .frame = 30, .channel = 5, .peak = 65535, .fall = 5 },
    };
    play_through(p, 3, 60, &rig);
    assert_near((double)light[19][4], 0.5, 1e-4);
    assert_near((double)light[20][4], 0.6, 1e-4); /* 0.5 + 0.2 * (1 - 0.5) */
    assert_near((double)light[20][5], 0.5, 1e-4);
    assert_near((double)light[30][5], 1, 1e-4);
    assert_near((double)light[41][5], 0, 0);
}

/* Which channels a set lights, as a string of 0 and 1. */
static void sets_name_their_channels(void **state)
{
    (void)state;
    static const struct { size_t floods; uint16_t set; const char *lit; } rows[] = {
        { 3, 2, "0010000" },
        { 3, TC_SET_PATH + 2, "1110000" },
        { 3, TC_SET_PATH + 3, "1101000" },
        { 3, TC_SET_PATH + 0, "1000000" },
        { 3, TC_SET_FLOODS + TC_SIDE_BOTH, "0000111" },
        { 3, TC_SET_FLOODS + TC_SIDE_FIRST, "0000110" },
        { 3, TC_SET_FLOODS + TC_SIDE_SECOND, "0000011" },
        { 4, TC_SET_FLOODS + TC_SIDE_FIRST, "00001100" },
        { 4, TC_SET_FLOODS + TC_SIDE_SECOND, "00000011" },
        { 1, TC_SET_FLOODS + TC_SIDE_FIRST, "00001" },
        { 1, TC_SET_FLOODS + TC_SIDE_SECOND, "00001" },
        { 0, TC_SET_FLOODS + TC_SIDE_BOTH, "0000" },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct tc_rig rig = small_rig(rows[i].floods);
        struct tc_pulse p = { .frame = 1, .channel = rows[i].set, .peak = 65535, .fall = 1 };
        play_through(&p, 1, 4, &rig);
        char lit[CHANNELS_MOST + 1] = "";
        for (size_t c = 0; c < rig.channel_count; c++) lit[c] = light[1][c] > 0 ? '1' : '0';
        assert_string_equal(lit, rows[i].lit);
    }
}

static void the_brightest_pulse_wins(void **state)
{
    (void)state;
    struct tc_rig rig = small_rig(0);
    struct tc_pulse p[] = {
        { .frame = 3, .channel = 0, .peak = 30000, .fall = 40 },
        { .frame = 3, .channel = TC_SET_PATH + 2, .peak = 50000, .fall = 2 },
    };
    play_through(p, 2, 60, &rig);
    assert_near((double)light[3][0], 50000 / 65535.0, 1e-6);
    assert_true((double)light[5][0] > 0.3 && light[5][2] <= 0);
}

/* Two strokes are two to the eye: it is darker between them, at every gap of
 * two frames or more, and a restrike fainter than the first is seen too. */
static void a_restrike_stands_out(void **state)
{
    (void)state;
    struct tc_rig rig = small_rig(0);
    for (uint32_t gap = 2; gap < 20; gap++) {
        struct tc_pulse p[] = {
            { .frame = 10, .channel = TC_SET_PATH + 2, .peak = 65535, .fall = 20 },
            { .frame = 10 + gap, .channel = TC_SET_PATH + 2, .peak = 30000, .fall = 8 },
        };
        play_through(p, 2, 60, &rig);
        for (size_t c = 0; c < 3; c++) {
            assert_near((double)light[10][c], 1, 0);
            assert_true((double)light[9 + gap][c] < 0.7 * (double)light[10 + gap][c]);
        }
    }
}

/* A stroke too faint to be a flash must not become one by the dimming before
 * it: light rises by no more than its own. */
static void a_faint_stroke_makes_no_flash(void **state)
{
    (void)state;
    struct tc_rig rig = small_rig(0);
    for (uint32_t gap = 2; gap < 20; gap++)
        for (uint16_t peak = 655; peak < 30000; peak = (uint16_t)(2 * peak)) {
            struct tc_pulse p[] = {
                { .frame = 10, .channel = TC_SET_PATH + 2, .peak = 65535, .fall = 20 },
                { .frame = 10 + gap, .channel = TC_SET_PATH + 2, .peak = peak, .fall = 8 },
            };
            play_through(p, 2, 60, &rig);
            double rise = (double)light[10 + gap][2] - (double)light[9 + gap][2];
            assert_true(rise > 0.5 * peak / 65535 && rise <= 1.0001 * peak / 65535);
        }
}

static void the_last_frame_is_black(void **state)
{
    (void)state;
    struct tc_rig rig = small_rig(1);
    struct tc_pulse p[] = {
        { .frame = 7, .channel = TC_SET_PATH + 3, .peak = 65535, .fall = 100, .glow = 9000, .hold = 500 },
        { .frame = 9, .channel = 4, .peak = 65535, .fall = 10 },
        { .frame = 70, .channel = 4, .peak = 65535, .fall = 10 },
    };
    assert_int_equal(play_through(p, 3, 10, &rig), 10);
    for (size_t c = 0; c < 5; c++) assert_near((double)light[9][c], 0, 0);
    assert_true(light[8][0] > 0);
}

/* ---- Against an order-free reading of the same pulses ---- */

static double plain_light(const struct tc_pulse *p, uint32_t f, const struct tc_rig *rig, size_t channel,
                          bool *fading)
{
    bool covered = p->channel == channel;
    if (p->channel >= TC_SET_PATH)
        for (int c = p->channel - TC_SET_PATH; c >= 0; c = rig->channels[c].parent) covered |= (size_t)c == channel;
    if (!covered || f + p->rise < p->frame) return 0;
    *fading = f > p->frame || p->rise;
    double glow = p->glow / 65535.0, peak = p->peak / 65535.0;
    if (f <= p->frame) return peak * (f + p->rise + 1 - p->frame) / (p->rise + 1);
    uint32_t after = f - p->frame, end = p->fall + (p->glow ? (uint32_t)p->hold + p->fall : 0);
    if (after >= end) return 0;
    if (after < p->fall) return glow + (peak - glow) * exp(-PULSE_FALL_CONSTANTS * after / p->fall);
    if (after < (uint32_t)p->fall + p->hold) return glow;
    return glow * exp(-PULSE_FALL_CONSTANTS * (after - p->fall - p->hold) / p->fall);
}

/* Random storms whose pulses stand in blocks, some behind others that begin
 * later, as strokes with glows do. */
static void order_and_overlap_lose_nothing(void **state)
{
    (void)state;
    enum { PULSES = 400, FRAMES = 1500 };
    struct tc_rig rig = small_rig(0);
    for (uint64_t seed = 0; seed < 10; seed++) {
        struct randomiser r = random_keyed(seed, 0, 0);
        struct tc_pulse p[PULSES];
        uint32_t block = 0;
        for (size_t i = 0; i < PULSES; i++) {
            if (random_uniform(&r) < 0.3) block += random_below(&r, 20);
            p[i] = (struct tc_pulse){
                .frame = 9 + block + random_below(&r, 60), .peak = (uint16_t)(1 + random_below(&r, 65535)),
                .channel = (uint16_t)(random_below(&r, 4) + random_below(&r, 2) * TC_SET_PATH),
                .rise = (uint16_t)random_below(&r, 8), .fall = (uint16_t)(1 + random_below(&r, 30)),
                .hold = (uint16_t)random_below(&r, 30),
            };
            if (random_below(&r, 2)) p[i].glow = (uint16_t)(p[i].peak / 3);
        }
        play_through(p, PULSES, FRAMES, &rig);
        for (uint32_t f = 0; f + 1 < FRAMES; f++)
            for (size_t c = 0; c < 4; c++) {
                bool dip = false, fading = false;
                for (size_t i = 0; i < PULSES; i++)
                    dip |= p[i].frame == f + 1 && !p[i].rise;
                double want = 0, most = 0;
                for (size_t i = 0; i < PULSES; i++) {
                    double here = plain_light(&p[i], f, &rig, c, &fading);
                    if (here > 0 && !(dip && fading)) want = fmax(want, here);
                    if (here > 0) most = fmax(most, here);
                }
                /* Before a stroke, older light may be dimmed. */
                if (dip && (double)light[f][c] > want) want = fmin(most, (double)light[f][c]);
                /* The straight lines of a fall pass the exponential by this. */
                assert_near((double)light[f][c], want, 0.09);
                if (want <= 0) assert_near((double)light[f][c], 0, 0);
            }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(silence_is_black),
        cmocka_unit_test(a_pulse_strikes_falls_and_ends),
        cmocka_unit_test(a_rise_begins_lit_and_goes_straight),
        cmocka_unit_test(a_glow_holds_and_ends),
        cmocka_unit_test(ramps_join_without_a_step),
        cmocka_unit_test(strokes_shine_on_top_of_the_background),
        cmocka_unit_test(sets_name_their_channels),
        cmocka_unit_test(the_brightest_pulse_wins),
        cmocka_unit_test(a_restrike_stands_out),
        cmocka_unit_test(a_faint_stroke_makes_no_flash),
        cmocka_unit_test(the_last_frame_is_black),
        cmocka_unit_test(order_and_overlap_lose_nothing),
    };
    return cmocka_run_group_tests_name("play", tests, NULL, NULL);
}
