#include "hearing/cracks.h"

#include <math.h>
#include <stdlib.h>

#include "hearing/decibel.h"
#include "hearing/peaks.h"
#include "hearing/quiet.h"
#include "words/memory.h"
#include "words/units.h"

/* Lengths in steps of 5 ms. */
enum {
    RING = 1 << 14,     /* steps held: AHEAD and what lies around it */
    SPIKE = 7,          /* a band must hold a level this long: longer than the window */
    SMOOTH = 14,        /* loud level: mean power to each side */
    AHEAD = 12000,      /* loud level, and noise: a minute to each side */
    LOOK = 20,          /* steps from one look at loud level and noise to the next */
    FADE_FROM = 1600,   /* a louder moment this far away is forgotten step by step */
    AFTER = 4,          /* last step of the level after */
    BEFORE_FROM = 11, BEFORE_TO = 1, /* level before, this many steps earlier */
    LATE_FROM = 6, LATE_TO = 10,     /* level that must still be there, this many steps later */
    AROUND = 160,       /* local mean of the rise, to each side */
    EDGE = 3,           /* steps whose window reaches over the start or the end */
    START_FROM = 13, START_TO = 59,  /* what the recording goes on with */
    EARLIER = 8, LATER = 12,         /* where the start of the rise may lie ... */
    QUIET_FROM = 12, QUIET_TO = 4,   /* ... over the level of these steps before */
    LOUD_AFTER = 12,    /* steps over which a crack's loudness is looked for */
    BEYOND = LATE_TO + SPIKE + LATER, /* steps that a rise needs to see after its own */
};

#define SPIKE_DB      8.0f    /* over the level that is held */
#define FLOOR_DB      44.0f   /* under the loud level of the surroundings */
#define FADE_DB       0.005f  /* of the loud level, with each step beyond FADE_FROM: 1 dB a second */
#define FADE_MOST_DB  15.0f
#define RAISED_MOST   2.0f    /* a rise out of noise counts at most this many times */
#define SHORT_DB      6.0f    /* a band's rise counts up to this, and what is left of it later ... */
#define SHORT_TIMES   3.0f    /* ... this many times */
#define UNHEARD_SHARE 0.5f    /* what a band out of reach is taken to rise, of the two below it */
#define EDGE_SAYS     0.2f    /* the lowest band has this much less to say than the middle one */
#define LATE_MOST     3.0f    /* a score is at most this many times what is left of the rise later */
#define LOCAL_SHARE   0.6f    /* of the local mean that is taken off */
#define DEPTH_SHARE   0.1f    /* of the dB that the moment lies under the loud level: taken off */
#define DEPTH_MOST_DB 15.0f
#define SPIKES_NONE   0.1f    /* dB that spikes stood over their limit, mean of the steps around: none to speak of ... */
#define SPIKES_ALL    0.3f    /* ... and drops or ticks */
#define UNDER_NONE_DB 8.0f    /* amid these no crack where the low bands stand less than this over their noise ... */
#define UNDER_ALL_DB  18.0f   /* ... and all of it counts from here on */
#define UNDER_MOST_DB 20.0f   /* of one band */
#define START_QUIETER_DB 6.0f /* a beginning this much quieter than what follows counts as such */
#define WAY_MOST_DB   25.0f   /* a rise from silence is timed by its last part */
#define MOMENT        0.40f   /* share of the rise that is done at the moment of a crack */
#define QUIETEST      1e-11f  /* power added to each band: -110 dBFS, under 16-bit noise */
#define NO_BAND_DB    -200.0f
#define DEEPEST_DB    40.0f   /* a crack deeper under the loudest moment is none */

/* Score at which a crack counts at sensitivity 50: the middle of the plateau of
 * F. So many points of sensitivity halve it, or double it: a step is worth about
 * the same to both sides. */
#define SCORE_AT_50   2.3f
#define HALVING       30.0f
#define DOUBLING      45.0f
#define SCORE_LEAST   0.724f  /* at sensitivity 100 */

/* Near and far, by how far the rise above 1.36 kHz lies under the whole rise:
 * 8 dB and less is sharp, 40 dB and more is dull. Air takes some 10 dB at 2 kHz
 * with every km (ISO 9613-2, 20 C, 70 % humidity). */
enum { SHARP_BAND = 9, MIDDLE_BAND = 8, REACH_LEAST = 4, LOW_BANDS = 7, LOW_GREATEST = 3 };
#define SHARP_DB      8.0f
#define DULL_DB       40.0f

/* Levels of all bands, with room up to a multiple of four: the sums over rows
 * are what detection costs, and four at a time go fast. */
enum { ROW = (BAND_COUNT + 3) / 4 * 4 };
struct row {
    float db[ROW];
};

enum { BLOCKS = 1 << 11 };      /* of LOOK steps: more than 2 * AHEAD */

struct cracks {
    int64_t heard;              /* steps taken, those after the end too */
    int64_t end;                /* steps of the recording, once it has ended; else far away */
    int64_t smoothed, calmed, risen, scored, judged; /* the next step of each */
    int bands;
    struct row level[RING];     /* as heard */
    struct row calm[RING];      /* despiked */
    struct row held[2 * SPIKE + 2]; /* least level of the SPIKE steps from this one on, by step modulo */
    struct row start;           /* what lies before the start */
    float power[RING];          /* of all bands */
    float total[RING];          /* the same in dB */
    float loud[RING];           /* loud level of the surroundings, dB */
    float rise[RING], late[RING], score[RING];
    float under[RING];          /* how much of the score counts, by the low bands */
    float says[BAND_COUNT];     /* what each band has to say: most in the middle */
    float counts[BAND_COUNT];   /* what its rise counts */
    float noise[BAND_COUNT];    /* the level that it keeps to, dB */
    int reach;                  /* bands from here on hold nothing to hear */
    float spikes[RING];         /* dB that were cut off the high bands */
    double rise_sum, spike_sum; /* around the step that is scored */
    int64_t sum_from, sum_to;   /* the steps in them */
    struct quiet quiet;         /* the noise within reach */
    float loudest;              /* of the recording, dB */
    float block[BLOCKS];        /* loudest of each LOOK steps, dB */

    struct peak *found;
    size_t count, room;
};

enum tc_status cracks_create(struct cracks **out)
{
    struct cracks *d = memory_new(1, sizeof *d);
    *out = d;
    if (!d) return TC_ERR_MEMORY;
    /* The lowest wobble most, and the highest hold the ticks. */
    for (int b = 0; b < BAND_COUNT; b++) d->says[b] = 1 - EDGE_SAYS * (float)abs(b - MIDDLE_BAND) / MIDDLE_BAND;
    d->loudest = -200;
    d->end = INT64_MAX;
    d->room = 4096;
    d->found = memory_new(d->room, sizeof *d->found);
    if (d->found) return TC_OK;
    cracks_destroy(d);
    *out = NULL;
    return TC_ERR_MEMORY;
}

static size_t slot(int64_t step)
{
    return (size_t)step & (RING - 1);
}

static float least(float a, float b)
{
    return a < b ? a : b;
}

static float most(float a, float b)
{
    return a > b ? a : b;
}

/* ---- Levels, one step at a time ---- */

/* Levels of a step; before the start lies what find_start says. */
static const struct row *level_at(const struct cracks *d, int64_t step)
{
    return step < 0 ? &d->start : &d->level[slot(step)];
}

static const struct row *calm_at(const struct cracks *d, int64_t step)
{
    return step < 0 ? &d->start : &d->calm[slot(step)];
}

/* Before the start lies what the recording goes on with, or what it begins with
 * if that is clearly quieter: one that opens amid the roll has no crack there,
 * one that opens on the very crack, or just before it, has. */
static void find_start(struct cracks *d)
{
    float goes_on = 0;
    for (int i = START_FROM; i <= START_TO; i++) goes_on += d->total[i];
    d->start = d->level[0];
    if (d->total[0] < goes_on / (START_TO - START_FROM + 1) - START_QUIETER_DB) return;
    for (int b = 0; b < d->bands; b++) {
        float sum = 0;
        for (int i = START_FROM; i <= START_TO; i++) sum += d->level[i].db[b];
        d->start.db[b] = sum / (START_TO - START_FROM + 1);
    }
}

static struct row *held_at(struct cracks *d, int64_t step)
{
    enum { HELD = sizeof d->held / sizeof *d->held };
    return &d->held[(size_t)(step + HELD) % HELD];
}

/* The least level of each band over the SPIKE steps from this one on. */
static void hold(struct cracks *d, int64_t step)
{
    struct row *held = held_at(d, step);
    *held = *level_at(d, step);
    for (int i = 1; i < SPIKE; i++) {
        const struct row *r = level_at(d, step + i);
        for (int b = 0; b < ROW; b++) held->db[b] = least(held->db[b], r->db[b]);
    }
}

/* Flat opening in time: the greatest of the least levels of all runs of SPIKE
 * steps that contain this one. */
static void despike(struct cracks *d, int64_t step)
{
    hold(d, step);
    struct row open = *held_at(d, step);
    for (int i = 1; i < SPIKE; i++) {
        const struct row *held = held_at(d, step - i);
        for (int b = 0; b < ROW; b++) open.db[b] = most(open.db[b], held->db[b]);
    }
    const struct row *level = level_at(d, step);
    struct row *calm = &d->calm[slot(step)];
    for (int b = 0; b < ROW; b++) calm->db[b] = least(level->db[b], open.db[b] + SPIKE_DB);
    float *cut = &d->spikes[slot(step)];
    *cut = 0;
    for (int b = SHARP_BAND; b < d->bands; b++) *cut += level->db[b] - calm->db[b];
}

/* ---- The loud level of the surroundings ---- */

static void smooth(struct cracks *d, int64_t step)
{
    int64_t from = step < SMOOTH ? 0 : step - SMOOTH;
    float sum = 0;
    for (int64_t i = from; i <= step + SMOOTH; i++) sum += d->power[slot(i)];
    float db = decibel_of(sum / (float)(step + SMOOTH - from + 1));
    float *block = &d->block[(step / LOOK) & (BLOCKS - 1)];
    *block = step % LOOK ? most(*block, db) : db;
    d->loudest = most(d->loudest, db);
}

/* The loudest within a minute; of what is far away something is forgotten. Only
 * whole blocks count, however far the steps ahead have come. */
static float find_loud(const struct cracks *d, int64_t step)
{
    int64_t now = step / LOOK, from = now - AHEAD / LOOK, to = now + AHEAD / LOOK;
    if (from < 0) from = 0;
    if (to > (d->smoothed + LOOK - 1) / LOOK) to = (d->smoothed + LOOK - 1) / LOOK;
    float loud = -200;
    for (int64_t i = from; i < to; i++) {
        float faded = FADE_DB * (float)(LOOK * (i < now ? now - i : i - now) - FADE_FROM);
        loud = most(loud, d->block[i & (BLOCKS - 1)] - least(most(faded, 0), FADE_MOST_DB));
    }
    return loud;
}

/* ---- Noise ---- */

/* What each band's rise counts: the more, the less room the noise leaves for it
 * under the loud level. */
static void find_room(struct cracks *d, float loud)
{
    float says = quiet_says(&d->quiet, loud);
    for (int b = 0; b < d->bands; b++) {
        d->noise[b] = quiet_level(&d->quiet, b, loud - FLOOR_DB);
        float room = loud - d->noise[b];
        d->counts[b] = says * (room * RAISED_MOST > FLOOR_DB ? FLOOR_DB / room : RAISED_MOST);
    }
    d->reach = d->bands;
    while (d->reach > REACH_LEAST && quiet_loudest(&d->quiet, d->reach - 1) < loud - FLOOR_DB) d->reach--;
}

static void look_around(struct cracks *d, int64_t step)
{
    float *loud = &d->loud[slot(step)];
    while (d->quiet.to < d->end && d->quiet.to <= step + AHEAD)
        quiet_add(&d->quiet, d->level[slot(d->quiet.to)].db, d->total[slot(d->quiet.to)]);
    quiet_forget(&d->quiet, step - AHEAD);
    if (step % LOOK) {
        *loud = d->loud[slot(step - 1)];
        return;
    }
    quiet_measure(&d->quiet);
    *loud = find_loud(d, step);
    find_room(d, *loud);
}

/* ---- The rise in level, and its score ---- */

/* Mean levels over steps from..to, none under `floor`. */
static void mean_level(const struct cracks *d, int64_t from, int64_t to, float floor, struct row *out)
{
    float sum[ROW] = { 0 };
    for (int64_t i = from; i <= to; i++) {
        const struct row *r = calm_at(d, i);
        for (int b = 0; b < ROW; b++) sum[b] += most(r->db[b], floor);
    }
    for (int b = 0; b < ROW; b++) out->db[b] = sum[b] / (float)(to - from + 1);
}

/* The rise of each band from `before` to `after`. Bands that a low sample rate,
 * or a low-pass filter on the way, has not left are taken to rise half as much
 * as the two below them. */
static void rise_of(const struct cracks *d, const struct row *before, const struct row *after, float *rise)
{
    for (int b = 0; b < d->bands; b++) rise[b] = d->counts[b] * most(after->db[b] - before->db[b], 0);
}

static void fill_unheard(const struct cracks *d, float *rise)
{
    float next = UNHEARD_SHARE * (rise[d->reach - 1] + rise[d->reach - 2]) / 2;
    for (int b = d->reach; b < BAND_COUNT; b++) rise[b] = next;
}

/* Mean over the bands, by what each has to say. The band that rises most can be
 * left without a say, so that a drop or a chirp alone lifts nothing. */
static float mean_of(const struct cracks *d, const float *rise, bool trim)
{
    float sum = 0, greatest = 0;
    for (int b = 0; b < BAND_COUNT; b++) {
        float says = d->says[b] * rise[b];
        sum += says;
        greatest = most(greatest, says);
    }
    return trim ? (sum - greatest) / (BAND_COUNT - 1) : sum / BAND_COUNT;
}

/* Thunder has something below 600 Hz, whatever was taken from it on the way:
 * the three low bands that stand highest over their noise tell how much. Rain
 * on the microphone has nothing there. */
static float share_under(const struct cracks *d, const struct row *after)
{
    float greatest[LOW_GREATEST] = { 0 }, sum = 0;
    for (int b = 0; b < LOW_BANDS && b < d->bands; b++) {
        float over = least(after->db[b] - d->noise[b], UNDER_MOST_DB);
        for (int i = 0; i < LOW_GREATEST; i++) {
            float next = least(greatest[i], over);
            greatest[i] = most(greatest[i], over);
            over = next;
        }
    }
    for (int i = 0; i < LOW_GREATEST; i++) sum += greatest[i];
    return least(most((sum / LOW_GREATEST - UNDER_NONE_DB) / (UNDER_ALL_DB - UNDER_NONE_DB), 0), 1);
}

static void find_rise(struct cracks *d, int64_t step)
{
    float floor = d->loud[slot(step)] - FLOOR_DB;
    float rise[BAND_COUNT], left[BAND_COUNT];
    struct row before, after, late;
    mean_level(d, step - BEFORE_FROM, step - BEFORE_TO, floor, &before);
    mean_level(d, step, step + AFTER, floor, &after);
    mean_level(d, step + LATE_FROM, step + LATE_TO, floor, &late);
    rise_of(d, &before, &after, rise);
    rise_of(d, &before, &late, left);
    for (int b = 0; b < d->bands; b++) rise[b] = least(rise[b], SHORT_DB + SHORT_TIMES * left[b]);
    fill_unheard(d, rise);
    fill_unheard(d, left);
    d->rise[slot(step)] = mean_of(d, rise, true);
    d->late[slot(step)] = mean_of(d, left, false);
    d->under[slot(step)] = share_under(d, &after);
}

/* Mean level of all bands together over the time after. */
static float level_after(const struct cracks *d, int64_t step)
{
    float sum = 0;
    for (int64_t i = step; i <= step + AFTER; i++) sum += d->total[slot(i)];
    return sum / (AFTER + 1);
}

/* The local mean is a running sum: each rise enters it once and leaves it once. */
static float score_at(struct cracks *d, int64_t step)
{
    for (; d->sum_to < d->risen && d->sum_to <= step + AROUND; d->sum_to++) {
        d->rise_sum += (double)d->rise[slot(d->sum_to)];
        d->spike_sum += (double)d->spikes[slot(d->sum_to)];
    }
    for (; d->sum_from < step - AROUND; d->sum_from++) {
        d->rise_sum -= (double)d->rise[slot(d->sum_from)];
        d->spike_sum -= (double)d->spikes[slot(d->sum_from)];
    }
    float mean = (float)(d->rise_sum / (double)(d->sum_to - d->sum_from));
    float spikes = (float)(d->spike_sum / (double)(d->sum_to - d->sum_from));
    float amid = least(most((spikes - SPIKES_NONE) / (SPIKES_ALL - SPIKES_NONE), 0), 1);
    float depth = least(most(d->loud[slot(step)] - level_after(d, step), 0), DEPTH_MOST_DB);
    float score = d->rise[slot(step)] - LOCAL_SHARE * mean - DEPTH_SHARE * depth;
    return least(score * (1 - amid * (1 - d->under[slot(step)])), LATE_MOST * d->late[slot(step)]);
}

/* ---- Candidates ---- */

/* Where the rise is MOMENT done, in ms. Each band says how much of its way it
 * has gone, and counts by how far that is. Of a long way the last WAY_MOST_DB
 * count: the window sees a rise from silence long before it has come. */
static int64_t moment_of(const struct cracks *d, int64_t step)
{
    float floor = d->loud[slot(step)] - FLOOR_DB;
    float before[BAND_COUNT], way[BAND_COUNT], all = 0;
    for (int b = 0; b < d->bands; b++) {
        float sum = 0, top = -200;
        for (int i = QUIET_TO; i <= QUIET_FROM; i++) sum += most(level_at(d, step - i)->db[b], floor);
        before[b] = sum / (QUIET_FROM - QUIET_TO + 1);
        for (int i = 0; i < LATER - 2; i++) {
            float three = 0;
            for (int k = i; k < i + 3; k++) three += most(level_at(d, step + k)->db[b], floor);
            top = most(top, three / 3);
        }
        way[b] = least(most(top - before[b], 0), WAY_MOST_DB);
        before[b] = top - way[b];
        all += way[b];
    }
    float was = 0;
    for (int i = -EARLIER; i <= LATER; i++) {
        const struct row *r = level_at(d, step + i);
        float done = 0;
        for (int b = 0; b < d->bands; b++) {
            if (way[b] <= 0) continue;
            float share = (most(r->db[b], floor) - before[b]) / way[b];
            done += least(most(share, 0), 1) * way[b];
        }
        done /= all + 1e-6f;
        if (done >= MOMENT) {
            float part = i > -EARLIER && done > was ? (MOMENT - was) / (done - was) : 1;
            int64_t ms = (step + i - 1) * STEP_MS + (int64_t)(part * STEP_MS + 0.5f);
            return ms > 0 ? ms : 0;
        }
        was = done;
    }
    return step * STEP_MS;
}

/* The share of the rise in power that lies high, as near (1) or far (0). */
static float sharpness_of(const struct cracks *d, int64_t step)
{
    double all = 0, high = 0;
    for (int b = 0; b < d->bands; b++) {
        double before = 0, after = 0;
        for (int i = BEFORE_TO; i <= BEFORE_FROM; i++) before += pow(10, (double)level_at(d, step - i)->db[b] / 10);
        for (int i = 0; i <= AFTER; i++) after += pow(10, (double)level_at(d, step + i)->db[b] / 10);
        double rise = after / (AFTER + 1) - before / (BEFORE_FROM - BEFORE_TO + 1);
        if (rise <= 0) continue;
        all += rise;
        if (b >= SHARP_BAND) high += rise;
    }
    if (!(all > 0 && high > 0)) return 0;
    float under = (float)(10 * log10(all / high));
    return least(most((DULL_DB - under) / (DULL_DB - SHARP_DB), 0), 1);
}

static enum tc_status keep(struct cracks *d, int64_t step, float score)
{
    if (d->count == d->room) {
        struct peak *more = memory_resize(d->found, 2 * d->room * sizeof *more);
        if (!more) return TC_ERR_MEMORY;
        d->found = more;
        d->room *= 2;
    }
    float loud = 0;
    for (int64_t i = step; i <= step + LOUD_AFTER; i++) loud = most(loud, d->power[slot(i)]);
    float stays = least(d->late[slot(step)] / d->rise[slot(step)], 1);
    float octaves = decibel_of(score / SCORE_AT_50) / decibel_of(2);
    float found_at = 50.0f - octaves * (octaves > 0 ? DOUBLING : HALVING);
    d->found[d->count++] = (struct peak){
        .crack = {
            .at_ms = moment_of(d, step),
            .found_at = least(most(found_at, 0), 100),
            .loudness = sqrtf(sqrtf(loud)) * score * stays, /* square root of amplitude, times the rise that lasts */
            .sharpness = sharpness_of(d, step),
            .level_dbfs = (float)power_db((double)loud),
        },
        .step = step,
        .score = score,
        .db = level_after(d, step),
    };
    return TC_OK;
}

static enum tc_status judge(struct cracks *d, int64_t step)
{
    float here = d->score[slot(step)];
    if (here < SCORE_LEAST) return TC_OK;
    int64_t from = step < PEAK_FINE ? 0 : step - PEAK_FINE, to = step + PEAK_FINE < d->scored ? step + PEAK_FINE : d->scored - 1;
    for (int64_t i = from; i <= to; i++) {
        float there = d->score[slot(i)];
        if (i < step ? there >= here : there > here) return TC_OK;
    }
    return keep(d, step, here);
}

/* ---- The flow ---- */

/* Steps at the very start and end see a cut from or to silence in their window;
 * where there is an offset (DC), its edge fills all bands. They are taken to be
 * no louder than the nearest step that sees none of it. */
static void settle_edge(struct cracks *d, int64_t from, int64_t whole)
{
    const struct row *r = &d->level[slot(whole)];
    for (int64_t i = from; i < from + EDGE; i++) {
        struct row *edge = &d->level[slot(i)];
        for (int b = 0; b < d->bands; b++) edge->db[b] = least(edge->db[b], r->db[b]);
        d->power[slot(i)] = least(d->power[slot(i)], d->power[slot(whole)]);
        d->total[slot(i)] = least(d->total[slot(i)], d->total[slot(whole)]);
    }
}

static int64_t smaller(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

/* Does what can be done now that one more step was heard: each thing follows
 * the steps heard at its own distance, as drawn in the header. After the end
 * nothing waits for what doesn't come. */
static enum tc_status advance(struct cracks *d)
{
    bool ended = d->end < INT64_MAX;
    while (d->smoothed < smaller(d->heard - SMOOTH, d->end)) smooth(d, d->smoothed++);

    int64_t until = ended ? d->end : smaller(d->smoothed - AHEAD, d->heard - BEYOND);
    for (; d->risen < until; d->risen++) {
        if (d->risen == 0) {
            find_start(d);
            for (int i = 1 - SPIKE; i < 0; i++) hold(d, i);
        }
        while (d->calmed <= d->risen + LATE_TO) despike(d, d->calmed++);
        look_around(d, d->risen);
        find_rise(d, d->risen);
    }
    until = ended ? d->end : d->risen - AROUND;
    for (; d->scored < until; d->scored++) d->score[slot(d->scored)] = score_at(d, d->scored);
    until = ended ? d->end : d->scored - PEAK_FINE;
    for (; d->judged < until; d->judged++) {
        enum tc_status status = judge(d, d->judged);
        if (status != TC_OK) return status;
    }
    return TC_OK;
}

static void settle_start(struct cracks *d)
{
    if (d->heard == EDGE + 1) settle_edge(d, 0, EDGE);
}

enum tc_status cracks_step(struct cracks *d, const struct hearing *h)
{
    struct row *now = &d->level[slot(h->step)];
    float power = 0;
    for (int b = 0; b < BAND_COUNT; b++) {
        now->db[b] = b < h->bands ? decibel_of(h->band[b] + QUIETEST) : NO_BAND_DB;
        power += h->band[b];
    }
    d->power[slot(h->step)] = power + QUIETEST;
    d->total[slot(h->step)] = decibel_of(power + QUIETEST);
    d->bands = h->bands;
    d->heard = h->step + 1;
    settle_start(d);
    return advance(d);
}

/* After the end goes on what was there last, so that nothing rises or falls. */
static enum tc_status run_out(struct cracks *d)
{
    if (!d->heard) return TC_OK;
    if (d->heard > 2 * EDGE) settle_edge(d, d->heard - EDGE, d->heard - EDGE - 1);
    d->end = d->heard;
    struct row last = d->level[slot(d->end - 1)];
    float power = d->power[slot(d->end - 1)];
    for (int i = 0; i < START_TO + BEYOND; i++, d->heard++) {
        d->level[slot(d->heard)] = last;
        d->power[slot(d->heard)] = power;
        d->total[slot(d->heard)] = decibel_of(power);
    }
    return advance(d);
}

/* ---- The end ---- */

static int by_moment(const void *left, const void *right)
{
    const struct tc_candidate *a = left, *b = right;
    if (a->at_ms != b->at_ms) return a->at_ms < b->at_ms ? -1 : 1;
    return (a->loudness < b->loudness) - (a->loudness > b->loudness); /* no order left to qsort */
}

enum tc_status cracks_finish(struct cracks *d, struct tc_analysis *out)
{
    enum tc_status status = run_out(d);
    if (status == TC_OK) status = peaks_thin(d->found, &d->count);
    if (status != TC_OK) return status;
    struct tc_candidate *list = memory_new(d->count + 1, sizeof *list);
    if (!list) return TC_ERR_MEMORY;
    size_t kept = 0;
    for (size_t i = 0; i < d->count; i++)
        if (d->found[i].crack.level_dbfs >= d->loudest - DEEPEST_DB) list[kept++] = d->found[i].crack;
    qsort(list, kept, sizeof *list, by_moment);
    out->candidates = list;
    out->candidate_count = kept;
    return TC_OK;
}

void cracks_destroy(struct cracks *d)
{
    if (!d) return;
    memory_free(d->found);
    memory_free(d);
}
