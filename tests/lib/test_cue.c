/* Cueing: lightning against its published statistics, and what must hold for
 * any rig, seed and recording. */
#include "check.h"
#include "ks.h"
#include "storm.h"

#include <time.h>

#include "cueing/flash_draw.h"
#include "cueing/light.h"
#include "cueing/paths.h"
#include "cueing/thin.h"
#include "io/files/read_form.h"
#include "light/limit.h"
#include "light/play.h"
#include "words/settings.h"
#include "words/units.h"

/* ---- Published statistics ---- */

enum { FLASHES = 10000, INTERVALS_MOST = FLASHES * FLASH_STROKES_MOST };

static double counts[FLASHES], intervals[INTERVALS_MOST], lights[INTERVALS_MOST];
static size_t interval_count;
static int stronger, multiple;

static void draw_flashes(uint64_t seed)
{
    struct tc_settings s = tc_settings_default();
    interval_count = 0;
    stronger = multiple = 0;
    for (int i = 0; i < FLASHES; i++) {
        struct randomiser r = random_keyed(seed, DRAW_STROKES, (uint64_t)i * 9000);
        struct flash_stroke strokes[FLASH_STROKES_MOST];
        int n = flash_draw(&r, &s, 0, strokes);
        bool any = false;
        counts[i] = n;
        multiple += n > 1;
        for (int k = 1; k < n; k++) {
            intervals[interval_count] = strokes[k].after_ms - strokes[k - 1].after_ms;
            lights[interval_count++] = strokes[k].light;
            any |= strokes[k].light > 1;
        }
        stronger += any;
    }
}

/* Source: Zhu et al. 2015, JASTP 136:16-22: mean 3.3 strokes a flash, 30.5 %
 * single, falling exponentially with the number; n = 1085. The shifted
 * geometric distribution with p = 0.303 has both. */
static void strokes_a_flash_are_as_published(void **state)
{
    (void)state;
    draw_flashes(1);
    double sum = 0, single = 0, four = 0, seven = 0, p = 0.303;
    for (int i = 0; i < FLASHES; i++) {
        sum += counts[i];
        single += counts[i] < 2;
        four += counts[i] > 3;
        seven += counts[i] > 6;
    }
    assert_near(sum / FLASHES, 3.3, 0.1);
    assert_near(single / FLASHES, 0.305, 0.015);
    assert_near(four / FLASHES, 0.339, 0.015);
    assert_near(seven / FLASHES, 0.115, 0.01);
    assert_true(ks_distance_whole(counts, FLASHES, geometric_cdf, &p) < ks_critical(FLASHES));
}

/* Sources: Zhu et al. 2015: geometric mean 62 ms (n = 2525); Thomson et al.
 * 1984, JGR 89: log-normal, 69 ms, 0.32 decades; Thottappillil et al. 1992,
 * JGR 97: 57 ms; common value 60 ms. 5, 50 and 95 % of that: 17.9, 60, 202 ms. */
static void intervals_are_as_published(void **state)
{
    (void)state;
    draw_flashes(2);
    struct lognormal law = { 60, 0.32 };
    double logs = 0;
    for (size_t i = 0; i < interval_count; i++) logs += log10(intervals[i]);
    double mean = pow(10, logs / (double)interval_count);
    assert_true(mean > 57 && mean < 69);
    assert_true(ks_distance(intervals, interval_count, lognormal_cdf, &law) < ks_critical(interval_count));
    assert_near(intervals[interval_count / 20], 17.9, 1);
    assert_near(intervals[interval_count / 2], 60, 2);
    assert_near(intervals[interval_count - interval_count / 20], 202, 8);
}

/* Sources: Zhu et al. 2015: later strokes' field peaks 0.52 of the first's
 * (geometric mean), 41.4 % of flashes of several strokes have a stronger one;
 * Thottappillil et al. 1992: 33 % (15 of 46). */
static void later_strokes_are_as_bright_as_published(void **state)
{
    (void)state;
    draw_flashes(3);
    struct lognormal law = { 0.52, 0.30 };
    assert_true(ks_distance(lights, interval_count, lognormal_cdf, &law) < ks_critical(interval_count));
    assert_near(lights[interval_count / 2], 0.52, 0.015);
    assert_near((double)stronger / multiple, 0.414, 0.03); /* n = 1085, 70 % of them multiple: +- 0.02 */
}

/* ---- A storm through the whole stage ---- */

static struct tc_rig rig;

static struct tc_settings free_settings(int64_t rate)
{
    struct tc_settings s = tc_settings_default();
    s.flash_limit = 0;
    s.frame_rate = rate;
    return s;
}

static int of_flash(const struct tc_timeline *t, size_t first)
{
    int n = 1;
    while (first + (size_t)n < t->stroke_count && t->strokes[first + (size_t)n].event == t->strokes[first].event) n++;
    return n;
}

/* Sources as above, and Rakov & Uman 1990: 37 % of second strokes make a new
 * termination. Cracks 9 s apart, so that no flash runs into the next. */
static void a_drawn_storm_is_as_published(void **state)
{
    (void)state;
    struct randomiser r = random_keyed(4, 0, 0);
    struct tc_rig own = storm_rig(&r, 12, 4, 0.1);
    struct tc_analysis a = storm_cracks(&r, FLASHES, 9000, true);
    for (size_t i = 0; i < a.event_count; i++) a.events[i].sharpness = 1;
    struct tc_settings s = free_settings(120);
    struct tc_timeline t;
    assert_int_equal(tc_cue(&a, &own, &s, NULL, &t, NULL), TC_OK);

    double logs = 0, p = 0.303;
    size_t flashes = 0, gaps = 0, second = 0, elsewhere = 0;
    for (size_t i = 0; i < t.stroke_count; i += (size_t)counts[flashes++]) {
        assert_true(flashes < FLASHES);
        counts[flashes] = of_flash(&t, i);
        for (size_t k = i + 1; k < i + (size_t)counts[flashes]; k++, gaps++)
            logs += log10((t.strokes[k].frame - t.strokes[k - 1].frame) * 1000.0 / 120);
        if (counts[flashes] < 2) continue;
        second++;
        elsewhere += t.strokes[i + 1].tip != t.strokes[i].tip;
    }
    assert_int_equal(flashes, FLASHES);
    assert_true(ks_distance_whole(counts, FLASHES, geometric_cdf, &p) < ks_critical(FLASHES));
    assert_near(pow(10, logs / (double)gaps), 60, 3); /* in frames of 8.3 ms */
    assert_near((double)elsewhere / (double)second, 0.37, 0.02);

    /* Source: 30 to 50 % of flashes hold a long continuing current (a national
     * lightning service's page); the preset is between. */
    size_t glowing = 0;
    for (size_t i = 0; i < t.stroke_count; i++) {
        const struct tc_stroke *k = &t.strokes[i];
        bool glow = false;
        for (uint32_t n = 0; n < k->pulse_count; n++)
            glow |= t.pulses[k->first_pulse + n].fall && t.pulses[k->first_pulse + n].glow;
        glowing += glow;
    }
    assert_near((double)glowing / FLASHES, s.glow_chance, 0.015);
    assert_true(s.glow_chance >= 0.3 && s.glow_chance <= 0.5);

    /* At 40 light frames a second some strokes share a frame or stand side by
     * side: they are moved apart, none is lost. */
    size_t all = t.stroke_count;
    tc_timeline_clear(&t);
    s.frame_rate = 40;
    assert_int_equal(tc_cue(&a, &own, &s, NULL, &t, NULL), TC_OK);
    assert_int_equal(t.stroke_count, all);
    for (size_t i = 1; i < t.stroke_count; i++)
        assert_true(t.strokes[i].frame >= t.strokes[i - 1].frame + 2);
    tc_timeline_clear(&t);
    tc_analysis_clear(&a);
    free(own.channels);
}

/* ---- Paths ---- */

/* Every tip gets its turn, evenly; nothing comes twice in a row. */
static void all_tips_get_their_turn(void **state)
{
    (void)state;
    enum { TURNS = 20000 };
    static const size_t sizes[] = { 1, 2, 3, 5, 12, 200 };
    for (size_t i = 0; i < COUNT(sizes); i++) {
        struct randomiser r = random_keyed(5, i, 0);
        struct tc_rig own = storm_rig(&r, sizes[i], 1, 0.1);
        struct paths g;
        assert_int_equal(paths_create(&g, &own), TC_OK);
        size_t *seen = calloc(own.channel_count, sizeof *seen);
        assert_non_null(seen);
        uint16_t before = TC_NO_TIP;
        for (int n = 0; n < TURNS; n++) {
            uint16_t tip = paths_new(&g, &r);
            assert_true(tip < sizes[i]);
            if (g.tip_count > 1) assert_int_not_equal(tip, before);
            paths_took(&g, before = tip);
            seen[tip]++;
        }
        double share = (double)TURNS / (double)g.tip_count;
        for (size_t k = 0; k < g.tip_count; k++) assert_near((double)seen[g.tips[k]], share, 6 * sqrt(share));
        free(seen);
        paths_clear(&g);
        free(own.channels);
    }
}

/* Forks hang on the way or on each other, never on the way twice, and many
 * loose branches don't all light. */
static void forks_grow_beside_the_way(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < 200; seed++) {
        struct randomiser r = random_keyed(6, seed, 0);
        struct tc_rig own = storm_rig(&r, 1 + random_below(&r, 200), 0, (double)(seed % 3) / 2);
        struct paths g;
        assert_int_equal(paths_create(&g, &own), TC_OK);
        uint16_t forks[FORKS_MOST];
        size_t in_all = 0;
        for (int n = 0; n < 50; n++) {
            uint16_t tip = paths_new(&g, &r);
            size_t count = paths_forks(&g, &r, tip, 1, forks, FORKS_MOST);
            assert_true(count <= FORKS_MOST);
            bool lit[512] = { false };
            for (int c = tip; c >= 0; c = own.channels[c].parent) lit[c] = true;
            for (size_t i = 0; i < count; i++) {
                int parent = own.channels[forks[i]].parent;
                assert_true(parent < 0 || lit[parent]);
                assert_false(lit[forks[i]]);
                lit[forks[i]] = true;
            }
            in_all += count;
            assert_int_equal(paths_forks(&g, &r, tip, 0, forks, FORKS_MOST), 0);
        }
        assert_true(in_all < 50 * 20);
        paths_clear(&g);
        free(own.channels);
    }
}

/* ---- What is heard ---- */

static void attacks_after_a_crack_become_restrikes(void **state)
{
    (void)state;
    struct tc_event events[] = {
        { .kind = TC_CRACK, .start_ms = 1000, .end_ms = 1000, .peak_ms = 1000, .strength = 1, .sharpness = 1 },
        { .kind = TC_CRACK, .start_ms = 1420, .end_ms = 1420, .peak_ms = 1420, .strength = 0.5f, .sharpness = 1 },
    };
    struct tc_candidate candidates[] = {
        { .at_ms = 800, .found_at = 60, .loudness = 4 },
        { .at_ms = 1000, .found_at = 10, .loudness = 4 },  /* the crack itself */
        { .at_ms = 1020, .found_at = 55, .loudness = 4 },  /* a part of its attack */
        { .at_ms = 1150, .found_at = 60, .loudness = 2 },
        { .at_ms = 1200, .found_at = 30, .loudness = 2 },  /* was a crack, deleted by hand */
        { .at_ms = 1230, .found_at = 99, .loudness = 2 },  /* too doubtful */
        { .at_ms = 1260, .found_at = 70, .loudness = 0.1f }, /* too faint */
        { .at_ms = 1310, .found_at = 70, .loudness = 6 },
        { .at_ms = 1420, .found_at = 20, .loudness = 2 },  /* the next crack */
        { .at_ms = 1925, .found_at = 60, .loudness = 2 },  /* more than half a second later */
    };
    struct tc_analysis a = { .length_ms = 4000, .events = events, .event_count = 2, .candidates = candidates,
                             .candidate_count = COUNT(candidates), .sensitivity = 50 };
    struct tc_settings s = free_settings(40);
    struct flash_stroke strokes[FLASH_STROKES_MOST];
    struct randomiser r = random_keyed(1, 0, 0);
    int n = flash_plan(&r, &s, &a, 0, 1420, strokes);
    assert_int_equal(n, 3);
    assert_near(strokes[1].after_ms, 150, 0);
    assert_near(strokes[1].light, 0.5, 1e-6);
    assert_near(strokes[2].after_ms, 310, 0);
    assert_near(strokes[2].light, 1, 1e-6); /* louder than the crack: as bright */
    assert_true(strokes[1].heard && strokes[2].heard);

    struct tc_timeline t;
    assert_int_equal(tc_cue(&a, &rig, &s, NULL, &t, NULL), TC_OK);
    assert_true(t.stroke_count >= 4);
    static const uint32_t frames[] = { 40, 46, 52, 56 };
    for (size_t i = 0; i < COUNT(frames); i++) assert_int_equal(t.strokes[i].frame, frames[i]);
    assert_int_equal(t.strokes[3].event, 1);
    for (size_t i = 4; i < t.stroke_count; i++) assert_false(t.strokes[i].heard);
    tc_timeline_clear(&t);
}

/* ---- Hand control ---- */

static void a_hand_forces_strokes_and_channels(void **state)
{
    (void)state;
    struct tc_event events[] = {
        { .kind = TC_CRACK, .start_ms = 1000, .strength = 1, .sharpness = 0, .strokes = 4,
          .path_count = 3, .path = { 2, 14, 999 } },
        { .kind = TC_CRACK, .start_ms = 9000, .strength = 1, .sharpness = 1, .strokes = 1 },
        { .kind = TC_CRACK, .start_ms = 19000, .strength = 1, .sharpness = 1, .path_count = 1, .path = { 888 } },
    };
    struct tc_analysis a = { .length_ms = 30000, .events = events, .event_count = 3 };
    struct tc_settings s = free_settings(40);
    struct tc_timeline t;
    assert_int_equal(tc_cue(&a, &rig, &s, NULL, &t, NULL), TC_OK);
    size_t of[3] = { 0 };
    for (size_t i = 0; i < t.stroke_count; i++) {
        const struct tc_stroke *k = &t.strokes[i];
        of[k->event]++;
        for (uint32_t n = 0; n < k->pulse_count && k->event == 0; n++)
            assert_true(t.pulses[k->first_pulse + n].channel == 1 || t.pulses[k->first_pulse + n].channel == 13);
        if (k->event == 0) assert_int_equal(k->tip, 1);
    }
    assert_int_equal(of[0], 4);
    assert_int_equal(of[1], 1);
    assert_true(of[2] >= 1); /* a number that the rig doesn't have forces nothing */
    tc_timeline_clear(&t);
}

/* ---- Any rig, seed and recording ---- */

enum { CHANNELS_MOST = 260 };

/* What the timeline says of itself must be true. */
static void check_form(const struct tc_timeline *t, const struct tc_rig *on)
{
    uint32_t begin = 0, read_to = 0;
    for (size_t i = 0; i < t->stroke_count; i++) {
        const struct tc_stroke *k = &t->strokes[i];
        if (i) assert_true(k->frame >= t->strokes[i - 1].frame);
        assert_true(k->frame + 1 < t->frames);
        assert_true(k->first_pulse + k->pulse_count <= t->pulse_count && k->pulse_count > 0);
        assert_true(k->light > 0 && k->light <= 1);
        assert_true(k->tip == TC_NO_TIP || (k->tip < on->channel_count && on->channels[k->tip].kind == TC_BRANCH));
    }
    for (size_t i = 0; i < t->pulse_count; i++) {
        const struct tc_pulse *p = &t->pulses[i];
        assert_true(p->frame >= p->rise);
        assert_true(p->channel >= TC_SET_PATH ? p->channel - TC_SET_PATH < (int)on->channel_count
                    : p->channel >= TC_SET_FLOODS ? p->channel - TC_SET_FLOODS < TC_SIDE_COUNT
                                                  : p->channel < on->channel_count);
        begin = p->frame - p->rise;
        if (begin > read_to) read_to = begin;
        assert_true(read_to - begin < 10 * (uint32_t)t->frame_rate); /* little looking ahead */
    }
}

static bool stroke_at(const struct tc_timeline *t, uint32_t frame)
{
    for (size_t i = 0; i < t->stroke_count; i++)
        if (t->strokes[i].frame == frame) return true;
    return false;
}

/* True if a glow may ripple, or a glimmer swell, at this frame. */
static bool glows_at(const struct tc_timeline *t, uint32_t frame)
{
    for (size_t i = 0; i < t->pulse_count; i++)
        if (t->pulses[i].rise && t->pulses[i].frame >= frame && t->pulses[i].frame - t->pulses[i].rise <= frame)
            return true;
    return false;
}

/* Plays, and checks that every crack has its light in its own frame, that
 * nothing rises without a cause, and that the end is black. Only for lamps
 * that are quick. */
static void check_light(const struct tc_analysis *a, const struct tc_timeline *t, const struct tc_rig *on,
                        const struct tc_settings *s)
{
    struct play *p;
    static float light[CHANNELS_MOST];
    assert_int_equal(play_create(&p, t, on), TC_OK);
    double *sum = calloc(t->frames + 1, sizeof *sum);
    assert_non_null(sum);
    for (uint32_t f = 0; play_step(p, light); f++)
        for (size_t c = 0; c < on->channel_count; c++) {
            assert_true(light[c] >= 0 && light[c] <= 1);
            sum[f] += (double)light[c];
        }
    play_destroy(p);
    for (uint32_t f = 0; f < t->frames; f++)
        if (sum[f] > (f ? sum[f - 1] : 0) + 1e-9) assert_true(stroke_at(t, f) || glows_at(t, f));
    for (size_t i = 0; i < a->event_count; i++) {
        uint32_t f = (uint32_t)frame_at(a->events[i].start_ms, s->frame_rate);
        if (a->events[i].kind != TC_CRACK) continue;
        assert_true(stroke_at(t, f));
        assert_true(sum[f] > 0);
        /* At low rates cracks can share frames or follow frame on frame. */
        if (f && !stroke_at(t, f - 1) && !stroke_at(t, f + 1)) assert_true(sum[f] > sum[f - 1]);
    }
    assert_true(sum[t->frames - 1] <= 0);
    free(sum);
}

static void check_paths(const struct tc_timeline *t, const struct tc_rig *on)
{
    size_t tips = 0;
    for (size_t c = 0; c < on->channel_count; c++) {
        bool tip = on->channels[c].kind == TC_BRANCH;
        for (size_t i = 0; i < on->channel_count; i++) tip &= on->channels[i].parent != (int)c;
        tips += tip;
    }
    uint16_t before = TC_NO_TIP;
    for (size_t i = 0; i < t->stroke_count; i++) {
        if (t->strokes[i].tip == TC_NO_TIP) continue;
        if (t->strokes[i].order == 0 && before != TC_NO_TIP && tips > 1)
            assert_int_not_equal(t->strokes[i].tip, before);
        before = t->strokes[i].tip;
    }
}

static void any_storm_on_any_rig_holds_together(void **state)
{
    (void)state;
    static const int64_t rates[] = { 10, 25, 40, 44, 60, 120 };
    static const struct { size_t branches, floods; } sizes[] = {
        { 12, 4 }, { 1, 0 }, { 0, 1 }, { 1, 1 }, { 200, 4 }, { 12, 0 }, { 0, 7 }, { 40, 40 }, { 2, 2 },
    };
    for (uint64_t seed = 0; seed < 216; seed++) {
        struct randomiser r = random_keyed(seed, 77, 0);
        size_t k = seed % COUNT(sizes);
        struct tc_rig own = storm_rig(&r, sizes[k].branches, sizes[k].floods, 0.2);
        struct tc_settings s = tc_settings_default();
        s.seed = (int64_t)seed;
        s.frame_rate = rates[seed % COUNT(rates)];
        if (seed % 5 == 0) s.rumble_light = 0.5; /* brighter than a weak crack */
        struct tc_analysis a = storm_cracks(&r, random_below(&r, 60), 100 + random_below(&r, 3000), false);
        if (seed % 2) storm_rumble(&a, &r, s.frame_rate);
        struct tc_timeline t;
        s.flash_limit = 0;
        assert_int_equal(tc_cue(&a, &own, &s, NULL, &t, NULL), TC_OK);
        check_form(&t, &own);
        check_light(&a, &t, &own, &s);
        check_paths(&t, &own);
        size_t all = t.stroke_count;
        s.flash_limit = 3;
        assert_int_equal(thin_strokes(&t, &own, &s, NULL), TC_OK);
        assert_int_equal(t.stroke_count + t.dropped, all);
        check_form(&t, &own);
        check_light(&a, &t, &own, &s);
        tc_timeline_clear(&t);
        tc_analysis_clear(&a);
        free(own.channels);
    }
}

/* Lamps of all sorts in one rig: slow, early, mixed. */
static void slow_lamps_start_early_and_blur_nothing(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < 60; seed++) {
        struct randomiser r = random_keyed(seed, 78, 0);
        struct tc_rig own = storm_rig(&r, 1 + random_below(&r, 30), random_below(&r, 6), 0.2);
        for (size_t c = 0; c < own.channel_count; c++) {
            own.channels[c].lamp = random_below(&r, 2) ? TC_LAMP_INCANDESCENT : TC_LAMP_LED;
            own.channels[c].rise_ms = random_below(&r, 3) * 70;
            own.channels[c].fall_ms = random_below(&r, 3) * 110;
            own.channels[c].lead_ms = random_below(&r, 3) * 40;
        }
        struct tc_settings s = tc_settings_default();
        s.lead_ms = 30 * (double)(seed % 4);
        s.frame_rate = 60;
        s.leader = 0.2;
        s.flash_limit = 0;
        struct tc_analysis a = storm_cracks(&r, 40, 500, false);
        if (seed % 2) storm_rumble(&a, &r, s.frame_rate);
        struct tc_timeline t;
        assert_int_equal(tc_cue(&a, &own, &s, NULL, &t, NULL), TC_OK);
        check_form(&t, &own);
        check_paths(&t, &own);
        struct play *p;
        float light[CHANNELS_MOST];
        assert_int_equal(play_create(&p, &t, &own), TC_OK);
        while (play_step(p, light)) {}
        for (size_t c = 0; c < own.channel_count; c++) assert_near((double)light[c], 0, 0);
        play_destroy(p);
        tc_timeline_clear(&t);
        tc_analysis_clear(&a);
        free(own.channels);
    }
}

/* A slow flood (90 ms to its peak) is told 90 ms before the crack and held
 * until it; one with a lead is told that much earlier again. */
static void a_slow_lamp_peaks_with_the_crack(void **state)
{
    (void)state;
    static const struct { double rise, lead; int early; } rows[] = {
        { 0, 0, 0 }, { 90, 0, 9 }, { 0, 50, 5 }, { 90, 50, 14 },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct tc_channel c = { .number = 1, .kind = TC_FLOOD, .parent = -1, .group = -1, .max_level = 100,
                                .rise_ms = rows[i].rise, .lead_ms = rows[i].lead };
        struct tc_rig one = { .channels = &c, .channel_count = 1 };
        struct tc_event e = { .kind = TC_CRACK, .start_ms = 1000, .strength = 1, .sharpness = 1, .strokes = 1 };
        struct tc_analysis a = { .length_ms = 3000, .events = &e, .event_count = 1 };
        struct tc_settings s = free_settings(100);
        struct tc_timeline t;
        assert_int_equal(tc_cue(&a, &one, &s, NULL, &t, NULL), TC_OK);
        struct play *p;
        float light;
        assert_int_equal(play_create(&p, &t, &one), TC_OK);
        for (int f = 0; f < 100 - rows[i].early; f++) {
            assert_true(play_step(p, &light));
            assert_near((double)light, 0, 0);
        }
        /* full until the lamp is up */
        for (int f = 0; f <= (int)rows[i].rise / 10; f++) {
            assert_true(play_step(p, &light));
            assert_near((double)light, 1, 1e-4);
        }
        assert_true(play_step(p, &light));
        assert_true(light < 1);
        play_destroy(p);
        tc_timeline_clear(&t);
    }
}

/* ---- Same and different ---- */

static bool same_flash(const struct tc_timeline *x, const struct tc_timeline *y, uint32_t event, bool ways)
{
    size_t i = 0, k = 0;
    while (i < x->stroke_count && x->strokes[i].event != event) i++;
    while (k < y->stroke_count && y->strokes[k].event != event) k++;
    for (; i < x->stroke_count && x->strokes[i].event == event; i++, k++) {
        if (k >= y->stroke_count || y->strokes[k].event != event) return false;
        const struct tc_stroke *a = &x->strokes[i], *b = &y->strokes[k];
        if (a->frame != b->frame || a->order != b->order || fabsf(a->light - b->light) > 0) return false;
        if (ways && a->tip != b->tip) return false;
    }
    return k >= y->stroke_count || y->strokes[k].event != event;
}

static void a_hand_on_one_crack_leaves_the_others(void **state)
{
    (void)state;
    struct randomiser r = random_keyed(8, 0, 0);
    struct tc_analysis a = storm_cracks(&r, 200, 3000, true);
    struct tc_settings s = free_settings(40);
    struct tc_timeline before, after;
    assert_int_equal(tc_cue(&a, &rig, &s, NULL, &before, NULL), TC_OK);
    a.events[100].strokes = 7;
    a.events[100].strength = 0.5f;
    a.events[100].start_ms += 40;
    assert_int_equal(tc_cue(&a, &rig, &s, NULL, &after, NULL), TC_OK);
    for (uint32_t i = 0; i < 200; i++) {
        /* Ways that follow may differ for a while, by the rule that none comes
         * twice in a row. */
        if (i != 100) assert_true(same_flash(&before, &after, i, i < 100 || i > 130));
    }
    assert_false(same_flash(&before, &after, 100, false));
    tc_timeline_clear(&after);

    s.seed = 2;
    assert_int_equal(tc_cue(&a, &rig, &s, NULL, &after, NULL), TC_OK);
    int same = 0;
    for (uint32_t i = 0; i < 200; i++) same += same_flash(&before, &after, i, true);
    assert_true(same < 30); /* another seed is another show */
    tc_timeline_clear(&before);
    tc_timeline_clear(&after);
    tc_analysis_clear(&a);
}

/* Without a recording the length comes from the events themselves, and must not
 * draw another show when a crack is added behind the last. */
static void a_crack_added_to_events_alone_leaves_the_others(void **state)
{
    (void)state;
    struct randomiser r = random_keyed(18, 0, 0);
    struct tc_analysis a = storm_cracks(&r, 50, 3000, true);
    struct tc_settings s = free_settings(40);
    struct tc_timeline before, after;
    a.sample_rate = 0;
    a.event_count = 49;
    a.length_ms = a.events[48].end_ms + 2000;
    assert_int_equal(tc_cue(&a, &rig, &s, NULL, &before, NULL), TC_OK);
    a.event_count = 50;
    a.length_ms = a.events[49].end_ms + 2000;
    assert_int_equal(tc_cue(&a, &rig, &s, NULL, &after, NULL), TC_OK);
    for (uint32_t i = 0; i < 49; i++) assert_true(same_flash(&before, &after, i, true));
    tc_timeline_clear(&before);
    tc_timeline_clear(&after);
    tc_analysis_clear(&a);
}

static void a_part_is_lit_alone_and_alike(void **state)
{
    (void)state;
    struct randomiser r = random_keyed(9, 0, 0);
    struct tc_analysis a = storm_cracks(&r, 60, 1500, true);
    storm_rumble(&a, &r, 40);
    struct tc_settings s = free_settings(40);
    struct tc_timeline all, part;
    assert_int_equal(tc_cue(&a, &rig, &s, NULL, &all, NULL), TC_OK);
    s.from_s = 20;
    s.to_s = 50;
    assert_int_equal(tc_cue(&a, &rig, &s, NULL, &part, NULL), TC_OK);
    assert_int_equal(all.frames, part.frames);
    assert_true(part.stroke_count > 0);
    for (size_t i = 0; i < part.stroke_count; i++)
        assert_true(part.strokes[i].frame >= 20 * 40 && part.strokes[i].frame < 50 * 40);
    for (size_t i = 0; i < part.pulse_count; i++)
        assert_true(part.pulses[i].frame >= 20 * 40 && part.pulses[i].frame <= 50 * 40 + 80);
    for (uint32_t i = 0; i < a.event_count; i++) {
        int64_t at = a.events[i].start_ms;
        if (a.events[i].kind == TC_CRACK && at >= 20000 && at < 46000) assert_true(same_flash(&all, &part, i, false));
    }
    tc_timeline_clear(&all);
    tc_timeline_clear(&part);
    tc_analysis_clear(&a);
}

/* An analysis knows its light frames: at another rate it would be cued wrong. */
static void another_frame_rate_is_refused(void **state)
{
    (void)state;
    struct randomiser r = random_keyed(19, 0, 0);
    struct tc_analysis a = storm_cracks(&r, 3, 2000, true);
    storm_rumble(&a, &r, 40);
    a.frame_rate = 40;
    struct tc_settings s = free_settings(40);
    struct tc_timeline t;
    struct tc_problem why = { "" };
    assert_int_equal(tc_cue(&a, &rig, &s, NULL, &t, &why), TC_OK);
    tc_timeline_clear(&t);
    s.frame_rate = 25;
    assert_int_equal(tc_cue(&a, &rig, &s, NULL, &t, &why), TC_ERR_USAGE);
    assert_non_null(strstr(why.text, "25"));
    assert_non_null(strstr(why.text, "40"));
    tc_analysis_clear(&a);
}

/* Deleted by hand is what counts at the sensitivity of the listening, whatever
 * the settings of the cueing say. */
static void deletions_are_known_by_the_analysis(void **state)
{
    (void)state;
    struct tc_event crack = { .kind = TC_CRACK, .start_ms = 1000, .strength = 1, .sharpness = 1 };
    struct tc_candidate candidates[] = {
        { .at_ms = 1000, .found_at = 10, .loudness = 4 },
        { .at_ms = 1200, .found_at = 35, .loudness = 3 },
    };
    struct tc_analysis a = { .length_ms = 4000, .events = &crack, .event_count = 1, .candidates = candidates,
                             .candidate_count = 2 };
    struct tc_settings s = free_settings(40);
    for (int at = 20; at <= 50; at += 30) {
        struct flash_stroke strokes[FLASH_STROKES_MOST];
        struct randomiser r = random_keyed(1, 0, 0);
        a.sensitivity = at;
        s.sensitivity = 70 - at;
        int n = flash_plan(&r, &s, &a, 0, INT64_MAX, strokes);
        bool heard = n > 1 && strokes[1].heard;
        assert_int_equal(heard, at == 20);
    }
}

/* Hours of work once: all at one moment, or close to each other. */
static void a_crowd_of_cracks_is_cued_in_a_moment(void **state)
{
    (void)state;
    enum { CROWD = 200000 };
    for (int apart = 0; apart < 2; apart++) {
        struct tc_analysis a = { .length_ms = 400000, .event_count = CROWD, .sample_rate = 44100 };
        a.events = calloc(CROWD, sizeof *a.events);
        assert_non_null(a.events);
        for (size_t i = 0; i < CROWD; i++) {
            int64_t at = 1000 + apart * (int64_t)i;
            a.events[i] = (struct tc_event){ .kind = TC_CRACK, .start_ms = at, .end_ms = at, .peak_ms = at,
                                             .strength = (float)(i % 100) / 100, .sharpness = 1 };
        }
        struct tc_settings s = tc_settings_default();
        struct tc_timeline t;
        clock_t begin = clock();
        assert_int_equal(tc_cue(&a, &rig, &s, NULL, &t, NULL), TC_OK);
        double seconds = (double)(clock() - begin) / CLOCKS_PER_SEC;
        print_message("    %d cracks: %.2f s\n", CROWD, seconds);
        /* at one moment: 64 cracks and one for each step of strength, the strongest among them */
        float strongest = 0;
        for (size_t i = 0; i < t.stroke_count; i++) strongest = fmaxf(strongest, a.events[t.strokes[i].event].strength);
        if (!apart) assert_true(t.stroke_count && t.stroke_count <= (64 + 101) * FLASH_STROKES_MOST);
        assert_float_equal(strongest, 0.99f, 1e-6f);
        tc_timeline_clear(&t);
        tc_analysis_clear(&a);
    }
}

/* Source of the worth of a lead: common practice; light must only be moved. */
static void a_lead_moves_all_light(void **state)
{
    (void)state;
    struct randomiser r = random_keyed(10, 0, 0);
    struct tc_analysis a = storm_cracks(&r, 30, 2000, true);
    struct tc_settings s = free_settings(40);
    struct tc_timeline plain, early;
    assert_int_equal(tc_cue(&a, &rig, &s, NULL, &plain, NULL), TC_OK);
    s.lead_ms = 100;
    assert_int_equal(tc_cue(&a, &rig, &s, NULL, &early, NULL), TC_OK);
    assert_int_equal(plain.stroke_count, early.stroke_count);
    for (size_t i = 0; i < plain.stroke_count; i++)
        assert_int_equal(plain.strokes[i].frame, early.strokes[i].frame + 4);
    tc_timeline_clear(&early);
    s.lead_ms = 5000; /* nothing begins before the recording */
    assert_int_equal(tc_cue(&a, &rig, &s, NULL, &early, NULL), TC_OK);
    check_form(&early, &rig);
    tc_timeline_clear(&plain);
    tc_timeline_clear(&early);
    tc_analysis_clear(&a);
}

/* ---- Near and far, rumbles ---- */

static void near_has_branches_far_has_floods(void **state)
{
    (void)state;
    struct tc_settings s = free_settings(40);
    double before = -1;
    for (int sharp = 0; sharp <= 100; sharp += 5) {
        struct tc_event e = { .kind = TC_CRACK, .start_ms = 1000, .strength = 1, .strokes = 1,
                              .sharpness = (float)sharp / 100 };
        struct tc_analysis a = { .length_ms = 3000, .events = &e, .event_count = 1 };
        struct tc_timeline t;
        assert_int_equal(tc_cue(&a, &rig, &s, NULL, &t, NULL), TC_OK);
        struct play *p;
        float light[CHANNELS_MOST];
        assert_int_equal(play_create(&p, &t, &rig), TC_OK);
        for (int f = 0; f <= 40; f++) assert_true(play_step(p, light));
        double branches = 0, floods = 0;
        for (size_t c = 0; c < 12; c++) branches = fmax(branches, (double)light[c]);
        for (size_t c = 12; c < 16; c++) floods = fmax(floods, (double)light[c]);
        double near = (sharp / 100.0 - s.far_sharpness) / (s.near_sharpness - s.far_sharpness);
        if (near <= 0) assert_near(branches, 0, 0);
        if (near >= 1) assert_true(branches > 0.999 && floods > 0.999);
        assert_true(floods > 0.3);
        assert_true(branches + floods >= before - 1e-6);
        before = branches + floods;
        play_destroy(p);
        tc_timeline_clear(&t);
    }
}

/* Never a strobe: whatever the envelope does, rumbles alone change by less
 * than 10 % of the floods' all-on light in any tenth of a second (WCAG 2.2
 * counts changes of 10 %), and by no more than the setting altogether. */
static void rumbles_never_flash(void **state)
{
    (void)state;
    for (uint64_t seed = 0; seed < 20; seed++) {
        struct randomiser r = random_keyed(seed, 11, 0);
        struct tc_analysis a = storm_cracks(&r, 0, 30000, true);
        storm_rumble(&a, &r, 40);
        for (size_t i = 0; i < a.envelope_count; i++) a.envelope[i] = (uint8_t)(random_below(&r, 2) ? 90 : 250);
        struct tc_settings s = free_settings(40);
        s.glimmer = 1;
        s.seed = (int64_t)seed;
        struct tc_timeline t;
        assert_int_equal(tc_cue(&a, &rig, &s, NULL, &t, NULL), TC_OK);
        struct play *p;
        assert_int_equal(play_create(&p, &t, &rig), TC_OK);
        double past[4] = { 0 };
        float light[CHANNELS_MOST];
        bool any = false;
        for (size_t f = 0; play_step(p, light); f++) {
            double floods = 0;
            for (size_t c = 12; c < 16; c++) floods += (double)light[c] / 4;
            for (size_t c = 0; c < 12; c++) assert_near((double)light[c], 0, 0);
            for (size_t i = 0; i < 4; i++) assert_near(floods, past[i], 0.0999);
            past[f % 4] = floods;
            assert_true(floods < s.rumble_light + 0.1);
            any |= floods > 0.01;
        }
        assert_true(any);
        play_destroy(p);
        tc_timeline_clear(&t);
        tc_analysis_clear(&a);
    }
}

/* ---- Leader ---- */

/* Runs down the way before the crack, tip last, where light frames are fine
 * enough; at 40 a second it is left out rather than smeared. */
static void a_leader_runs_down_to_the_tip(void **state)
{
    (void)state;
    static const struct { int64_t rate; int frames; } rows[] = { { 40, 0 }, { 60, 2 }, { 120, 4 } };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct tc_event e = { .kind = TC_CRACK, .start_ms = 1000, .strength = 1, .sharpness = 1, .strokes = 1,
                              .path_count = 0 };
        struct tc_analysis a = { .length_ms = 3000, .events = &e, .event_count = 1 };
        struct tc_settings s = free_settings(rows[i].rate);
        s.leader = 0.2;
        s.fork_share = 0;
        struct tc_timeline t;
        assert_int_equal(tc_cue(&a, &rig, &s, NULL, &t, NULL), TC_OK);
        struct play *p;
        float light[CHANNELS_MOST];
        assert_int_equal(play_create(&p, &t, &rig), TC_OK);
        size_t lit = 0, first_lit = 0;
        for (int64_t f = 0; f < rows[i].rate; f++) {
            assert_true(play_step(p, light));
            size_t now = 0;
            for (size_t c = 0; c < rig.channel_count; c++) {
                assert_true(light[c] <= 0.2001f);
                now += light[c] > 0;
                /* what is lit hangs on what is lit */
                if (light[c] > 0 && rig.channels[c].parent >= 0) assert_true(light[rig.channels[c].parent] > 0);
            }
            assert_true(now >= lit);
            if (now && !first_lit) first_lit = (size_t)f;
            lit = now;
        }
        if (rows[i].frames) assert_true(lit > 0 && first_lit >= (size_t)(rows[i].rate - rows[i].frames));
        else assert_int_equal(lit, 0);
        play_destroy(p);
        tc_timeline_clear(&t);
    }
}

/* ---- Characters of storm ---- */

static void characters_differ(void **state)
{
    (void)state;
    static const char *const names[] = { "close-and-violent", "passing-over", "far-horizon", "dry-night" };
    double branches[COUNT(names)] = { 0 }, floods[COUNT(names)] = { 0 };
    for (size_t i = 0; i < COUNT(names); i++) {
        struct tc_settings s = free_settings(40);
        struct tc_problem why = { "" };
        char path[128];
        snprintf(path, sizeof path, "samples/%s.settings", names[i]);
        FILE *there = fopen(path, "r");
        if (!there) {
            print_message("skipped: not run from the checkout's top folder\n");
            skip();
        }
        fclose(there);
        if (read_settings(path, &s, &why) != TC_OK || tc_settings_check(&s, &why) != TC_OK) fail_msg("%s", why.text);
        struct randomiser r = random_keyed(14, 0, 0);
        struct tc_analysis a = storm_cracks(&r, 100, 2000, true);
        storm_rumble(&a, &r, 40);
        struct tc_timeline t;
        assert_int_equal(tc_cue(&a, &rig, &s, NULL, &t, NULL), TC_OK);
        struct play *p;
        float light[CHANNELS_MOST];
        assert_int_equal(play_create(&p, &t, &rig), TC_OK);
        while (play_step(p, light))
            for (size_t c = 0; c < 16; c++) *(c < 12 ? &branches[i] : &floods[i]) += (double)light[c];
        play_destroy(p);
        tc_timeline_clear(&t);
        tc_analysis_clear(&a);
    }
    assert_true(branches[0] > 1.5 * branches[1]);  /* close: the bolt itself */
    assert_true(branches[1] > 10 * branches[2]);   /* on the horizon there is next to none */
    assert_true(floods[2] > 20 * branches[2]);
    assert_true(floods[3] < 0.5 * floods[1]);      /* a dry night stays dark */
    assert_true(branches[3] > branches[2]);
}

/* ---- Memory that runs out ---- */

void *__real_calloc(size_t n, size_t size);
void *__real_realloc(void *old, size_t size);
void *__wrap_calloc(size_t n, size_t size);
void *__wrap_realloc(void *old, size_t size);
static int64_t calls_left = INT64_MAX;

void *__wrap_calloc(size_t n, size_t size)
{
    return calls_left-- > 0 ? __real_calloc(n, size) : NULL;
}

void *__wrap_realloc(void *old, size_t size)
{
    return calls_left-- > 0 ? __real_realloc(old, size) : NULL;
}

/* Every allocation fails in turn: a status, nothing lost (the address
 * sanitizer's run looks for that), and nothing to be cleared. */
static void memory_that_runs_out_is_told(void **state)
{
    (void)state;
    struct randomiser r = random_keyed(15, 0, 0);
    struct tc_analysis a = storm_cracks(&r, 300, 800, true);
    storm_rumble(&a, &r, 40);
    struct tc_settings s = free_settings(40);
    struct tc_timeline t;
    enum tc_status status = TC_ERR_MEMORY;
    int failed = 0;
    for (; status != TC_OK; failed++) {
        calls_left = failed;
        status = tc_cue(&a, &rig, &s, NULL, &t, NULL);
        calls_left = INT64_MAX;
        assert_true(status == TC_OK || (status == TC_ERR_MEMORY && !t.strokes && !t.pulses && !t.stroke_count));
    }
    assert_true(failed > 8);
    status = TC_ERR_MEMORY;
    for (failed = 0; status != TC_OK; failed++) {
        struct play *p;
        calls_left = failed;
        status = play_create(&p, &t, &rig);
        calls_left = INT64_MAX;
        if (status != TC_OK) assert_null(p);
        else play_destroy(p);
    }
    assert_true(failed > 2);
    tc_timeline_clear(&t);
    tc_analysis_clear(&a);
}

/* ---- Size ---- */

/* Ten hours of a dense storm: 60,000 cracks with rumble throughout. */
static void a_long_storm_stays_small(void **state)
{
    (void)state;
    struct randomiser r = random_keyed(12, 0, 0);
    struct tc_analysis a = storm_cracks(&r, 60000, 600, true);
    storm_rumble(&a, &r, 40);
    struct tc_settings s = tc_settings_default();
    struct tc_timeline t;
    assert_int_equal(tc_cue(&a, &rig, &s, NULL, &t, NULL), TC_OK);
    size_t bytes = t.stroke_count * sizeof *t.strokes + t.pulse_count * sizeof *t.pulses;
    print_message("60,000 cracks in ten hours: %zu strokes, %zu pulses, %.1f MB\n", t.stroke_count, t.pulse_count,
                  (double)bytes / 1e6);
    assert_true(bytes < 16000000);
    tc_timeline_clear(&t);
    tc_analysis_clear(&a);
}

/* ---- */

static int set_up(void **state)
{
    (void)state;
    return tc_rig_builtin(&rig) != TC_OK;
}

static int tear_down(void **state)
{
    (void)state;
    tc_rig_clear(&rig);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(strokes_a_flash_are_as_published),
        cmocka_unit_test(intervals_are_as_published),
        cmocka_unit_test(later_strokes_are_as_bright_as_published),
        cmocka_unit_test(a_drawn_storm_is_as_published),
        cmocka_unit_test(all_tips_get_their_turn),
        cmocka_unit_test(forks_grow_beside_the_way),
        cmocka_unit_test(attacks_after_a_crack_become_restrikes),
        cmocka_unit_test(a_hand_forces_strokes_and_channels),
        cmocka_unit_test(any_storm_on_any_rig_holds_together),
        cmocka_unit_test(slow_lamps_start_early_and_blur_nothing),
        cmocka_unit_test(a_slow_lamp_peaks_with_the_crack),
        cmocka_unit_test(a_hand_on_one_crack_leaves_the_others),
        cmocka_unit_test(a_crack_added_to_events_alone_leaves_the_others),
        cmocka_unit_test(a_part_is_lit_alone_and_alike),
        cmocka_unit_test(another_frame_rate_is_refused),
        cmocka_unit_test(deletions_are_known_by_the_analysis),
        cmocka_unit_test(a_crowd_of_cracks_is_cued_in_a_moment),
        cmocka_unit_test(a_lead_moves_all_light),
        cmocka_unit_test(near_has_branches_far_has_floods),
        cmocka_unit_test(rumbles_never_flash),
        cmocka_unit_test(a_leader_runs_down_to_the_tip),
        cmocka_unit_test(characters_differ),
        cmocka_unit_test(memory_that_runs_out_is_told),
        cmocka_unit_test(a_long_storm_stays_small),
    };
    return cmocka_run_group_tests_name("cue", tests, set_up, tear_down);
}
