/* The limiter keeps its promise for whatever comes: random rigs and timelines,
 * counted by the counter of flash_count.c, which shares no code with it and is
 * itself checked against published vectors (test_flash_count.c), and by a slow
 * one (flash_brute.h) that shares nothing with either. The rule: WCAG 2.2, SC
 * 2.3.1, three flashes in any second. */
#include "cases.h"
#include "check.h"
#include "flash_brute.h"

#include "cueing/thin.h"
#include "light/flash_count.h"
#include "light/limit.h"
#include "light/play.h"
#include "light/room.h"
#include "words/random.h"
#include "words/units.h"
#include "writing/ramps_csv.h"

enum { CHANNELS_MOST = 24, GROUPS_MOST = 4, FRAMES_MOST = 700, CASES = 2000, SLOW_EACH = 40, BETWEEN_EACH = 20 };

/* ---- Random rigs and timelines ---- */

struct trial {
    struct tc_channel channels[CHANNELS_MOST];
    struct tc_group groups[GROUPS_MOST];
    struct tc_rig rig;
    struct tc_settings settings;
    struct dimmer *dimmer;
    uint32_t frames;
    uint16_t asked[FRAMES_MOST][CHANNELS_MOST];
    uint16_t given[FRAMES_MOST][CHANNELS_MOST];
    size_t softened;
};

static bool chance(struct randomiser *r, double p)
{
    return random_uniform(r) < p;
}

static int below(struct randomiser *r, int n)
{
    return (int)random_below(r, (uint32_t)n);
}

static void draw_rig(struct trial *t, struct randomiser *r)
{
    memset(&t->rig, 0, sizeof t->rig);
    memset(t->channels, 0, sizeof t->channels);
    t->rig.channels = t->channels;
    t->rig.groups = t->groups;
    t->rig.channel_count = 1 + random_below(r, CHANNELS_MOST);
    t->rig.group_count = chance(r, 0.5) ? random_below(r, GROUPS_MOST + 1) : 0;
    bool lumens = chance(r, 0.2), plain = chance(r, 0.3);
    for (size_t c = 0; c < t->rig.channel_count; c++) {
        struct tc_channel *ch = &t->channels[c];
        ch->number = (int)c + 1;
        ch->kind = chance(r, 0.4) ? TC_FLOOD : TC_BRANCH;
        ch->parent = -1;
        ch->group = t->rig.group_count ? below(r, (int)t->rig.group_count + 1) - 1 : -1;
        ch->watts = chance(r, 0.05) ? 0 : 1 + 30 * random_uniform(r);
        ch->lumens = lumens ? 100 + 900 * random_uniform(r) : 0;
        ch->max_level = 100;
        if (plain) continue;
        ch->curve = (enum tc_curve)below(r, 3);
        ch->min_level = chance(r, 0.4) ? below(r, 30) : 0;
        ch->max_level = chance(r, 0.3) ? 50 + below(r, 51) : 100;
    }
}

/* Kinds of timeline. Each fills in the light of a channel in a frame from the
 * frame before. */
enum shape { NOISE, STRIKES, WAVES, STAIRS, RELAY, SHAPES };

struct drawing {
    enum shape shape;
    double quiet, decay[CHANNELS_MOST], period[CHANNELS_MOST], height;
    int turn;
};

static double draw_light(struct drawing *d, struct randomiser *r, uint32_t f, size_t c, double last,
                         bool strike)
{
    switch (d->shape) {
    case NOISE: /* whatever a hostile file may hold */
        return chance(r, d->quiet) ? last : chance(r, 0.3) ? 0 : chance(r, 0.1) ? 1 : random_uniform(r);
    case STRIKES: /* what cueing makes: jumps and decays */
        return strike && chance(r, 0.7) ? fmax(last, d->height * random_uniform(r)) : last * d->decay[c];
    case WAVES:
        return d->height * (0.5 - 0.5 * cos(6.283185307 * (double)f / d->period[c]));
    case STAIRS: /* steps below and above 10 % */
        return fmin(1, fmax(0, last + (chance(r, d->quiet) ? 0 : 0.25 * (random_uniform(r) - 0.5))));
    case RELAY: /* one hands over to the other: the sum hardly changes */
    case SHAPES:
        break;
    }
    return (int)c % 3 == d->turn ? d->height : 0;
}

static void draw_timeline(struct trial *t, struct randomiser *r)
{
    struct drawing d = { .shape = (enum shape)below(r, SHAPES), .quiet = random_uniform(r),
                         .height = chance(r, 0.3) ? random_uniform(r) : 1 };
    double period = 2 + 20 * random_uniform(r), often = 0.5 * random_uniform(r) * random_uniform(r);
    bool together = chance(r, 0.5);
    for (size_t c = 0; c < CHANNELS_MOST; c++) {
        d.decay[c] = 0.4 + 0.6 * random_uniform(r);
        d.period[c] = together ? period : 2 + 40 * random_uniform(r);
    }
    t->frames = 1 + random_below(r, FRAMES_MOST);
    if (chance(r, 0.2)) t->frames = 1 + random_below(r, 60);
    memset(t->asked, 0, sizeof t->asked);
    double light[CHANNELS_MOST] = { 0 };
    for (uint32_t f = 0; f + 1 < t->frames; f++) { /* the last frame is black */
        bool strike = chance(r, often);
        if (chance(r, 0.3)) d.turn = below(r, 4);
        for (size_t c = 0; c < t->rig.channel_count; c++) {
            light[c] = draw_light(&d, r, f, c, light[c], strike);
            t->asked[f][c] = dimmer_level(t->dimmer, c, (float)light[c]);
        }
    }
}

/* A dimmer for the trial's rig as it is now. */
static void fit_dimmer(struct trial *t, enum tc_levels unit)
{
    dimmer_destroy(t->dimmer);
    assert_int_equal(dimmer_create(&t->dimmer, &t->rig, unit), TC_OK);
}

static int set_up(void **state)
{
    *state = calloc(1, sizeof(struct trial));
    return *state ? 0 : -1;
}

static int tear_down(void **state)
{
    struct trial *t = *state;
    dimmer_destroy(t->dimmer);
    free(t);
    return 0;
}

static void limit_by(struct trial *t, const struct tc_timeline *plan_of)
{
    struct limiter *l;
    assert_int_equal(limiter_create(&l, t->dimmer, &t->settings, t->frames), TC_OK);
    limiter_follow(l, plan_of);
    memcpy(t->given, t->asked, sizeof t->given);
    for (uint32_t f = 0; f < t->frames; f++) limiter_step(l, t->given[f]);
    t->softened = limiter_softened(l);
    assert_true(limiter_holds(l));
    limiter_destroy(l);
}

static void limit(struct trial *t)
{
    limit_by(t, NULL);
}

static struct trial *trial_draw(struct trial *t, uint64_t which)
{
    struct randomiser r = random_keyed(20, 26, which);
    draw_rig(t, &r);
    t->settings = tc_settings_default();
    t->settings.frame_rate = 1 + below(&r, 120);
    t->settings.flash_limit = 1 + below(&r, 3);
    t->settings.loop = chance(&r, 0.4);
    t->settings.levels = below(&r, 2);
    fit_dimmer(t, (enum tc_levels)t->settings.levels);
    draw_timeline(t, &r);
    limit(t);
    return t;
}

/* An eighth of the cases where time is short. */
static int part_of(int count)
{
    return quick() ? count / 8 : count;
}

/* ---- Counting, at the frame rate and between frames ---- */

/* What the light may do on the way from one frame to the next. */
enum between { HELD, LIGHT_SLIDES, LEVEL_SLIDES, FALLS_SLIDE, RAMPS, BETWEENS };

static const char *const between_names[] = {
    "held", "light slides", "levels slide", "falls slide, rises jump", "as the ramps file has it",
};

enum { STEPS = 4 }; /* moments in each frame */

/* Levels that the ramps file shows, [(k * STEPS + i) * channels + c], the last of
 * each STEPS at the frame; by the words of the format. The caller frees. */
static double *levels_of_ramps(const struct trial *t)
{
    size_t n = t->rig.channel_count, rows = (size_t)t->frames * STEPS;
    double *level = calloc(rows * n, sizeof *level);
    struct ramper *r;
    struct ramp ramp;
    assert_non_null(level);
    assert_int_equal(ramper_create(&r, &t->rig, t->dimmer->full), TC_OK);
    size_t done[CHANNELS_MOST] = { 0 }; /* rows that are filled in */
    uint16_t held[CHANNELS_MOST] = { 0 };
    for (uint32_t f = 0; f <= t->frames; f++) {
        if (f < t->frames) assert_int_equal(ramper_step(r, t->given[f]), TC_OK);
        else assert_int_equal(ramper_flush(r), TC_OK);
        while (ramper_next(r, &ramp)) {
            size_t c = ramp.channel, from = (size_t)ramp.start * STEPS + STEPS - 1,
                to = (size_t)ramp.end * STEPS + STEPS;
            while (done[c] < from) level[done[c]++ * n + c] = held[c];
            for (size_t row = from; row < to; row++)
                level[row * n + c] = to - 1 == row ? ramp.end_level
                    : ramp.start_level + (double)(row - from) / (double)(to - 1 - from) * (ramp.end_level - ramp.start_level);
            done[c] = to;
            held[c] = ramp.end_level;
        }
    }
    for (size_t c = 0; c < n; c++)
        while (done[c] < rows) level[done[c]++ * n + c] = held[c];
    ramper_destroy(r);
    return level;
}

static double light_between(const struct trial *t, size_t c, uint16_t from, uint16_t to, double part,
                            enum between how)
{
    const struct tc_channel *ch = &t->channels[c];
    double full = t->dimmer->full, a = from * 100.0 / full, b = to * 100.0 / full;
    if (part >= 1) return channel_light(ch, b);
    if (how == HELD || (how == FALLS_SLIDE && to > from)) return channel_light(ch, a);
    if (how == LIGHT_SLIDES) return channel_light(ch, a) + part * (channel_light(ch, b) - channel_light(ch, a));
    return channel_light(ch, a + part * (b - a));
}

static int64_t laps_of(const struct trial *t)
{
    return t->settings.loop ? 2 + 2 * t->settings.frame_rate / t->frames : 1;
}

/* Most transitions in a second at the frame rate. */
static int peak_of(const struct trial *t, uint16_t (*frames)[CHANNELS_MOST])
{
    struct flash_counter *c;
    int64_t rate = t->settings.frame_rate;
    assert_int_equal(flash_counter_create(&c, &t->rig, t->dimmer->full, t->settings.flash_limit), TC_OK);
    for (int64_t k = 0; k < laps_of(t) * t->frames; k++)
        flash_counter_step(c, frames[k % t->frames], k * 1000000 / rate);
    int peak = flash_counter_peak(c);
    flash_counter_destroy(c);
    return peak;
}

/* The same with four moments in each frame, the slow way. A look at a single
 * series may begin at any of them. */
static int peak_between(const struct trial *t, enum between how)
{
    static const uint16_t black[CHANNELS_MOST] = { 0 };
    size_t n = t->rig.channel_count, frames = (size_t)laps_of(t) * t->frames;
    double *lamp = calloc(frames * STEPS * n, sizeof *lamp);
    int64_t *at_us = calloc(frames * STEPS, sizeof *at_us);
    double *ramps = how == RAMPS ? levels_of_ramps(t) : NULL;
    assert_true(lamp && at_us);
    for (size_t k = 0; k < frames; k++) {
        const uint16_t *to = t->given[k % t->frames], *from = k ? t->given[(k - 1) % t->frames] : black;
        for (size_t i = 0; i < STEPS; i++) {
            at_us[k * STEPS + i] = (int64_t)(k * STEPS + i + 1) * 1000000 / (t->settings.frame_rate * STEPS);
            for (size_t c = 0; c < n; c++)
                lamp[(k * STEPS + i) * n + c]
                    = ramps ? channel_light(&t->channels[c],
                                            ramps[(k % t->frames * STEPS + i) * n + c] * 100 / t->dimmer->full)
                            : light_between(t, c, from[c], to[c], (double)(i + 1) / STEPS, how);
        }
    }
    int peak = brute_show_each(&t->rig, lamp, at_us, frames * STEPS, STEPS);
    free(ramps);
    free(lamp);
    free(at_us);
    return peak;
}

/* The same at the frame rate, the slow way. */
static int slow_peak_of(const struct trial *t)
{
    size_t n = t->rig.channel_count;
    int64_t rate = t->settings.frame_rate, laps = laps_of(t);
    size_t rows = (size_t)laps * t->frames;
    double *lamp = calloc(rows * n, sizeof *lamp);
    int64_t *at_us = calloc(rows, sizeof *at_us);
    assert_true(lamp && at_us);
    for (size_t k = 0; k < rows; k++) {
        at_us[k] = (int64_t)k * 1000000 / rate;
        for (size_t c = 0; c < n; c++)
            lamp[k * n + c] = brute_lamp(&t->channels[c], t->given[k % t->frames][c] * 100.0 / t->dimmer->full);
    }
    int peak = brute_show(&t->rig, lamp, at_us, rows);
    free(lamp);
    free(at_us);
    return peak;
}

/* ---- Properties ---- */

static void never_more_than_the_limit(void **state)
{
    struct trial *t = *state;
    int broke_before = 0, n = cases(CASES, part_of(CASES));
    for (int i = 0; i < n; i++) {
        trial_draw(t, (uint64_t)i);
        int most = 2 * (int)t->settings.flash_limit;
        int peak = peak_of(t, t->given);
        if (peak > most) fail_msg("case %d: %d transitions in a second, %d allowed", i, peak, most);
        for (int how = 0; how < BETWEENS && i % BETWEEN_EACH == 0; how++)
            if ((peak = peak_between(t, (enum between)how)) > most)
                fail_msg("case %d, %s: %d transitions in a second, %d allowed", i, between_names[how], peak, most);
        if (i % SLOW_EACH == 0 && (peak = slow_peak_of(t)) > most)
            fail_msg("case %d, the slow way: %d transitions in a second, %d allowed", i, peak, most);
        broke_before += peak_of(t, t->asked) > most;
    }
    print_message("    %d random cases, %d of them over the limit before\n", n, broke_before);
    assert_true(broke_before > n / 3); /* else this test would prove little */
}

static void levels_only_go_down(void **state)
{
    struct trial *t = *state;
    for (int i = 0; i < part_of(600); i++) {
        trial_draw(t, (uint64_t)i);
        for (uint32_t f = 0; f < t->frames; f++)
            for (size_t c = 0; c < t->rig.channel_count; c++)
                if (t->given[f][c] > t->asked[f][c]) fail_msg("case %d frame %u channel %zu raised", i, f, c);
    }
}

static void what_came_out_goes_through_unchanged(void **state)
{
    struct trial *t = *state;
    for (int i = 0; i < part_of(600); i++) {
        trial_draw(t, (uint64_t)i);
        memcpy(t->asked, t->given, sizeof t->asked);
        limit(t);
        if (memcmp(t->asked, t->given, sizeof t->asked) != 0) fail_msg("case %d changed again", i);
        assert_int_equal(t->softened, 0);
    }
}

/* Strikes of all channels from black, each back in black within three frames,
 * and so far apart that they keep the limit with a frame to spare. */
static void where_nothing_is_wrong_nothing_changes(void **state)
{
    struct trial *t = *state;
    for (int i = 0; i < part_of(600); i++) {
        trial_draw(t, (uint64_t)i);
        struct randomiser r = random_keyed(7, 7, (uint64_t)i);
        int64_t rate = t->settings.frame_rate, limit_n = t->settings.flash_limit;
        int64_t apart = (rate + 1 + 3 + limit_n - 1) / limit_n;
        if (apart < 4) apart = 4;
        memset(t->asked, 0, sizeof t->asked);
        t->settings.loop = false;
        t->frames = FRAMES_MOST;
        for (int64_t f = below(&r, 5); f + 3 < FRAMES_MOST; f += apart + below(&r, 3))
            for (int64_t k = 0; k < 3; k++)
                for (size_t c = 0; c < t->rig.channel_count; c++)
                    t->asked[f + k][c] = dimmer_level(t->dimmer, c, (float)(1.0 - 0.3 * (double)k));
        limit(t);
        if (memcmp(t->asked, t->given, sizeof t->asked) != 0) fail_msg("case %d was changed", i);
    }
}

static double light_of(const struct trial *t, uint16_t (*frames)[CHANNELS_MOST], int64_t f)
{
    double sum = 0;
    for (size_t c = 0; f >= 0 && c < t->rig.channel_count; c++)
        sum += t->dimmer->weight[c] * dimmer_light(t->dimmer, c, frames[f][c]);
    return sum;
}

/* A storm: strikes from black in quick succession. Each still gives a rise of
 * light in its own frame, and the first keeps its full strength. */
static void every_strike_still_shows(void **state)
{
    struct trial *t = *state;
    for (int i = 0; i < 500; i++) {
        struct randomiser r = random_keyed(8, 8, (uint64_t)i);
        trial_draw(t, (uint64_t)i);
        for (size_t c = 0; c < t->rig.channel_count; c++) {
            t->channels[c].min_level = 0;
            t->channels[c].max_level = 100;
        }
        t->settings.loop = false;
        t->settings.levels = TC_LEVELS_PERCENT;
        fit_dimmer(t, TC_LEVELS_PERCENT);
        memset(t->asked, 0, sizeof t->asked);
        t->frames = FRAMES_MOST;
        int64_t first = -1;
        for (int64_t f = 1 + below(&r, 5); f + 4 < FRAMES_MOST; f += 4 + below(&r, 20)) {
            if (first < 0) first = f;
            for (int64_t k = 0; k < 3; k++)
                for (size_t c = 0; c < t->rig.channel_count; c++)
                    t->asked[f + k][c] = dimmer_level(t->dimmer, c, (float)(1.0 - 0.3 * (double)k));
        }
        limit(t);
        assert_memory_equal(t->asked[first], t->given[first], sizeof t->asked[first]);
        for (int64_t f = 1; f < FRAMES_MOST; f++) {
            if (light_of(t, t->asked, f) <= light_of(t, t->asked, f - 1)) continue;
            if (light_of(t, t->given, f) <= light_of(t, t->given, f - 1) + 0.01)
                fail_msg("case %d: no rise in frame %d", i, (int)f);
        }
    }
}

/* Three short strikes, a fourth that has no room and fades over two seconds,
 * and a fifth while it still glows. The fourth must not break out when room
 * comes, and the fifth, which has room, keeps its strength. */
static void a_refused_strike_fades_and_the_next_is_free(void **state)
{
    struct trial *t = *state;
    trial_draw(t, 3);
    memset(t->asked, 0, sizeof t->asked);
    t->settings.frame_rate = 40;
    t->settings.flash_limit = 3;
    t->settings.loop = false;
    t->frames = 200;
    for (size_t c = 0; c < t->rig.channel_count; c++) {
        t->channels[c].min_level = 0;
        t->channels[c].max_level = 100;
    }
    fit_dimmer(t, TC_LEVELS_PERCENT);
    for (int f = 0; f < 199; f++) {
        bool strikes = f == 10 || f == 14 || f == 18 || f == 120;
        double light = strikes ? 1 : f >= 22 && f < 150 ? 1 - (f - 22) / 160.0 : 0;
        for (size_t c = 0; c < t->rig.channel_count; c++)
            t->asked[f][c] = dimmer_level(t->dimmer, c, (float)light);
    }
    limit(t);
    assert_true(light_of(t, t->given, 22) > 0.05);
    for (int f = 23; f < 120; f++) {
        assert_true(light_of(t, t->given, f) <= light_of(t, t->given, f - 1) + 1e-9);
        assert_true(light_of(t, t->given, f) < 0.10);
    }
    assert_true(light_of(t, t->given, 119) > 0);
    assert_memory_equal(t->given[120], t->asked[120], sizeof t->asked[120]);
}

static void limit_off_changes_nothing(void **state)
{
    struct trial *t = *state;
    for (int i = 0; i < 50; i++) {
        trial_draw(t, (uint64_t)i);
        t->settings.flash_limit = 0;
        limit(t);
        assert_memory_equal(t->asked, t->given, sizeof t->asked);
    }
}

/* ---- The plan ---- */

enum { STROKES = 8 };

static struct tc_timeline plan(struct tc_stroke *strokes, struct tc_pulse *pulses, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        strokes[i].first_pulse = (uint32_t)(2 * i);
        strokes[i].pulse_count = 2;
        pulses[2 * i] = (struct tc_pulse){ .frame = strokes[i].frame, .channel = 0, .peak = 65535 };
        pulses[2 * i + 1] = (struct tc_pulse){ .frame = strokes[i].frame, .channel = 1, .peak = 65535 };
    }
    return (struct tc_timeline){ .frame_rate = 40, .frames = 400, .strokes = strokes, .stroke_count = n,
                                 .pulses = pulses, .pulse_count = 2 * n };
}

/* Thins for the built-in rig. */
static enum tc_status thin(struct tc_timeline *t, const struct tc_settings *s)
{
    struct tc_rig rig;
    assert_int_equal(tc_rig_builtin(&rig), TC_OK);
    enum tc_status status = thin_strokes(t, &rig, s, NULL);
    tc_rig_clear(&rig);
    return status;
}

static void restrikes_make_room_for_first_strokes(void **state)
{
    (void)state;
    struct tc_stroke strokes[STROKES] = {
        { .frame = 100, .order = 0, .light = 0.6f },
        { .frame = 103, .order = 1, .light = 0.5f, .heard = true },
        { .frame = 106, .order = 2, .light = 0.9f },
        { .frame = 109, .order = 3, .light = 0.2f },
        { .frame = 120, .event = 1, .order = 0, .light = 0.3f },
        { .frame = 300, .event = 2, .order = 0, .light = 1 },
    };
    struct tc_pulse pulses[2 * STROKES];
    struct tc_settings s = tc_settings_default();
    struct tc_timeline t = plan(strokes, pulses, 6);
    assert_int_equal(thin(&t, &s), TC_OK);
    /* both first strokes and the restrike heard stay, the drawn ones go */
    static const uint32_t left[] = { 100, 103, 120, 300 };
    assert_int_equal(t.stroke_count, 4);
    assert_int_equal(t.dropped, 2);
    assert_int_equal(t.pulse_count, 8);
    for (size_t i = 0; i < 4; i++) {
        assert_int_equal(t.strokes[i].frame, left[i]);
        for (uint32_t k = 0; k < 2; k++)
            assert_int_equal(t.pulses[t.strokes[i].first_pulse + k].frame, left[i]);
    }
    t = plan(strokes, pulses, 4);
    s.flash_limit = 0;
    t.dropped = 0;
    assert_int_equal(thin(&t, &s), TC_OK);
    assert_int_equal(t.stroke_count, 4);
}

static void first_strokes_are_never_left_out(void **state)
{
    (void)state;
    struct tc_stroke strokes[STROKES];
    struct tc_pulse pulses[2 * STROKES];
    struct tc_settings s = tc_settings_default();
    for (uint32_t i = 0; i < STROKES; i++)
        strokes[i] = (struct tc_stroke){ .frame = 10 + 4 * i, .event = i, .light = 1 };
    struct tc_timeline t = plan(strokes, pulses, STROKES);
    assert_int_equal(thin(&t, &s), TC_OK);
    assert_int_equal(t.stroke_count, STROKES);
    assert_int_equal(t.dropped, 0);
}

struct struck { uint32_t frame; float light; };

/* Strokes on lamps without a minimum, 40 light frames a second, cued as first
 * strokes in t->asked, planned, and limited by that plan in t->given. */
static void play_planned(struct trial *t, const struct struck *rows, uint32_t count, struct tc_stroke *strokes)
{
    struct tc_pulse pulses[2 * STROKES];
    trial_draw(t, 5);
    for (size_t c = 0; c < t->rig.channel_count; c++) t->channels[c].min_level = 0, t->channels[c].max_level = 100;
    t->settings.frame_rate = 40;
    t->settings.flash_limit = 3;
    t->settings.loop = false;
    t->frames = 300;
    fit_dimmer(t, TC_LEVELS_PERCENT);
    memset(t->asked, 0, sizeof t->asked);
    for (uint32_t i = 0; i < count; i++) {
        strokes[i] = (struct tc_stroke){ .frame = rows[i].frame, .event = i, .light = rows[i].light };
        for (size_t c = 0; c < t->rig.channel_count; c++)
            t->asked[rows[i].frame][c] = dimmer_level(t->dimmer, c, rows[i].light);
    }
    struct tc_timeline planned = plan(strokes, pulses, count);
    assert_int_equal(thin_strokes(&planned, &t->rig, &t->settings, NULL), TC_OK);
    limit_by(t, &planned);
}

/* Three weak cracks and a strong one within a second: a weak one gives way,
 * in the plan and when it plays; the strong one keeps its strength. */
static void the_strongest_first_stroke_keeps_its_strength(void **state)
{
    static const struct struck rows[] = { { 100, 0.5f }, { 106, 0.5f }, { 112, 0.5f }, { 118, 1 } };
    struct trial *t = *state;
    struct tc_stroke strokes[STROKES];
    play_planned(t, rows, COUNT(rows), strokes);
    assert_false(strokes[0].yields || strokes[1].yields || strokes[3].yields);
    assert_true(strokes[2].yields);
    assert_memory_equal(t->given[118], t->asked[118], sizeof t->asked[118]);
    assert_true(light_of(t, t->given, 112) < 0.10);
    assert_true(light_of(t, t->given, 112) > 0.05);
}

/* Two weak cracks, then three strong ones within the next second: both weak
 * ones give way, and all three strong ones keep their strength. */
static void weak_strokes_leave_room_for_all_strong_ones(void **state)
{
    static const struct struck rows[] = {
        { 115, 0.47f }, { 124, 0.64f }, { 137, 0.76f }, { 142, 0.79f }, { 157, 0.84f },
    };
    struct trial *t = *state;
    struct tc_stroke strokes[STROKES];
    play_planned(t, rows, COUNT(rows), strokes);
    for (uint32_t i = 0; i < COUNT(rows); i++) {
        double light = light_of(t, t->given, rows[i].frame);
        if (i < 2) assert_true(light > 0.05 && light < 0.10);
        else assert_memory_equal(t->given[rows[i].frame], t->asked[rows[i].frame], sizeof t->asked[0]);
    }
}

static void the_place_of_a_restrike_is_filled_with_glow(void **state)
{
    (void)state;
    struct tc_settings s = tc_settings_default();
    struct tc_stroke strokes[STROKES];
    struct tc_pulse pulses[2 * STROKES];
    for (uint32_t i = 0; i < 5; i++)
        strokes[i] = (struct tc_stroke){ .frame = 100 + 4 * i, .order = (uint8_t)i, .light = 0.9f - 0.1f * (float)i };
    struct tc_timeline t = plan(strokes, pulses, 5);
    for (size_t i = 0; i < t.pulse_count; i++) t.pulses[i].fall = 3;
    assert_int_equal(thin(&t, &s), TC_OK);
    assert_int_equal(t.stroke_count, 3); /* 100, 104 and 108 stay */
    assert_int_equal(t.dropped, 2);
    for (uint32_t k = 0; k < 2; k++) {
        const struct tc_pulse *before = &t.pulses[t.strokes[1].first_pulse + k];
        const struct tc_pulse *last = &t.pulses[t.strokes[2].first_pulse + k];
        assert_int_equal(before->glow, 0);
        assert_int_equal(last->glow, (uint16_t)(s.glow_light * 65535));
        assert_int_equal(last->frame + last->fall + last->hold, 116);
    }
}

/* A fall is over where the next stroke rises out of it: nobody who looks from
 * there on finds it. So a fourth stroke fits a second after the second one, not
 * a second after the fall that the first would have had alone; and all four play
 * without being held back. */
static void a_fall_ends_where_the_next_stroke_rises(void **state)
{
    (void)state;
    enum { FALL = 16, LAST = 104 + 41 };
    struct tc_settings s = tc_settings_default();
    struct tc_stroke strokes[STROKES] = { { .frame = 100, .light = 1 }, { .frame = 104, .order = 1, .light = 1 },
                                          { .frame = 108, .order = 2, .light = 1 }, { .frame = LAST, .event = 1, .light = 1 } };
    struct tc_pulse pulses[2 * STROKES];
    struct tc_rig rig;
    struct dimmer *d;
    struct limiter *l;
    struct play *p;
    struct tc_timeline t = plan(strokes, pulses, 4);
    for (size_t i = 0; i < t.pulse_count; i++) {
        t.pulses[i].channel = TC_SET_FLOODS + TC_SIDE_BOTH;
        t.pulses[i].fall = FALL;
    }
    assert_int_equal(tc_rig_builtin(&rig), TC_OK);
    assert_int_equal(thin_strokes(&t, &rig, &s, NULL), TC_OK);
    assert_int_equal(t.stroke_count, 4);
    for (size_t i = 0; i < 4; i++) assert_false(t.strokes[i].yields);

    assert_int_equal(dimmer_create(&d, &rig, TC_LEVELS_PERCENT), TC_OK);
    assert_int_equal(limiter_create(&l, d, &s, t.frames), TC_OK);
    limiter_follow(l, &t);
    assert_int_equal(play_create(&p, &t, &rig), TC_OK);
    float light[16];
    while (play_step(p, light)) {
        uint16_t levels[16];
        for (size_t c = 0; c < rig.channel_count; c++) levels[c] = dimmer_level(d, c, light[c]);
        limiter_step(l, levels);
    }
    assert_int_equal(limiter_softened(l), 0);
    play_destroy(p);
    assert_true(limiter_holds(l));
    limiter_destroy(l);
    dimmer_destroy(d);
    tc_rig_clear(&rig);
}

/* One flash a second: a second one that nobody asked about is noticed. */
static void what_was_let_through_by_mistake_is_noticed(void **state)
{
    (void)state;
    struct room *r;
    const struct room_for what = { .tracks = 1, .transition = 0.1, .limit = 1, .window = 41, .frames = 100 };
    assert_int_equal(room_create(&r, &what), TC_OK);
    for (int frame = 0; frame < 6; frame++) {
        double value = frame % 2 ? 0 : 1;
        room_begin(r);
        room_take(r, &(double){ 0 }, &value);
        assert_int_equal(room_holds(r), frame < 2);
    }
    room_destroy(r);
}

/* While set, the limiter believes that there is room for everything (the linker's --wrap). */
static bool blind;

bool __real_room_refuses(const struct room *r, const double *low, const double *value, int64_t spare, bool *refused,
                         double *floor);
bool __wrap_room_refuses(const struct room *r, const double *low, const double *value, int64_t spare, bool *refused,
                         double *floor);
bool __wrap_room_refuses(const struct room *r, const double *low, const double *value, int64_t spare, bool *refused,
                         double *floor)
{
    return !blind && __real_room_refuses(r, low, value, spare, refused, floor);
}

/* If the limiter is wrong it finds out in the frame in which it is, and all is
 * dark from the next one on, whatever is asked. */
static void a_limiter_that_was_wrong_goes_dark_and_stays_dark(void **state)
{
    struct trial *t = *state;
    enum { FRAMES = 200, ON = 4 };
    t->channels[0] = (struct tc_channel){ .number = 1, .parent = -1, .group = -1, .watts = 5, .max_level = 100 };
    t->channels[1] = t->channels[0];
    t->channels[1].number = 2;
    t->channels[1].kind = TC_FLOOD;
    t->rig = (struct tc_rig){ .channels = t->channels, .channel_count = 2 };
    t->settings = tc_settings_default();
    fit_dimmer(t, TC_LEVELS_PERCENT);
    struct limiter *l;
    assert_int_equal(limiter_create(&l, t->dimmer, &t->settings, FRAMES), TC_OK);
    int first_dark = -1;
    blind = true;
    for (int f = 0; f < FRAMES; f++) { /* ten flashes a second of all channels, and a glimmer between them */
        uint16_t levels[] = { f % ON ? 20 : 1000, f % ON ? 20 : 1000 };
        const bool held = limiter_holds(l);
        limiter_step(l, levels);
        if (held) {
            assert_true(levels[0] && levels[1]);
        } else {
            if (first_dark < 0) first_dark = f;
            assert_true(!levels[0] && !levels[1]);
        }
    }
    blind = false;
    assert_false(limiter_holds(l));
    /* three flashes fit into the first second; the fourth rise does not */
    assert_int_equal(first_dark, 3 * ON + 1);
    limiter_destroy(l);
}

#define TRIAL(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TRIAL(never_more_than_the_limit),
        TRIAL(levels_only_go_down),
        TRIAL(what_came_out_goes_through_unchanged),
        TRIAL(where_nothing_is_wrong_nothing_changes),
        TRIAL(every_strike_still_shows),
        TRIAL(a_refused_strike_fades_and_the_next_is_free),
        TRIAL(limit_off_changes_nothing),
        cmocka_unit_test(restrikes_make_room_for_first_strokes),
        cmocka_unit_test(first_strokes_are_never_left_out),
        TRIAL(the_strongest_first_stroke_keeps_its_strength),
        TRIAL(weak_strokes_leave_room_for_all_strong_ones),
        cmocka_unit_test(the_place_of_a_restrike_is_filled_with_glow),
        cmocka_unit_test(a_fall_ends_where_the_next_stroke_rises),
        cmocka_unit_test(what_was_let_through_by_mistake_is_noticed),
        TRIAL(a_limiter_that_was_wrong_goes_dark_and_stays_dark),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
