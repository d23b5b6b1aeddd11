#include "hearing/cracks.h"

#include <math.h>
#include <stdlib.h>

#include "hearing/attack.h"
#include "hearing/bounds.h"
#include "hearing/decibel.h"
#include "hearing/levels.h"
#include "hearing/loud.h"
#include "hearing/peaks.h"
#include "hearing/quiet.h"
#include "words/memory.h"
#include "words/units.h"

/* Lengths in steps of 5 ms. */
enum {
    LATE_FROM = 6, LATE_TO = 10,     /* level that must still be there, this many steps later */
    AROUND = 160,       /* local mean of the rise, to each side */
    LOUD_AFTER = 12,    /* steps over which a crack's loudness is looked for */
    BEYOND = LATE_TO + LEVELS_SPIKE + ATTACK_LATER, /* steps that a rise needs to see after its own */
};

#define FLOOR_DB      44.0f   /* under the loud level of the surroundings */
#define RAISED_MOST   1.5f    /* a rise out of noise counts at most this many times */
#define SHORT_DB      6.0f    /* a band's rise counts up to this, and what is left of it later ... */
#define SHORT_TIMES   3.0f    /* ... this many times */
#define UNHEARD_SHARE 0.5f    /* what a band out of reach is taken to rise, of the two below it */
#define EDGE_LESS     0.2f    /* the lowest band has this much less to say than the middle one */
#define LATE_MOST     4.0f    /* a score is at most this many times what is left of the rise later */
#define LOCAL_SHARE   0.6f    /* of the local mean that is taken off */
#define DEPTH_SHARE   0.1f    /* of the dB that the moment lies under the loud level: taken off */
#define DEPTH_MOST_DB 15.0f
#define SPIKES_NONE   0.1f    /* dB that spikes stood over their limit, mean of the steps around: none to speak of ... */
#define SPIKES_ALL    0.3f    /* ... and drops or ticks */
#define UNDER_NONE_DB 8.0f    /* amid these no crack where the low bands stand less than this over their noise ... */
#define UNDER_ALL_DB  18.0f   /* ... and all of it counts from here on */
#define UNDER_MOST_DB 20.0f   /* of one band */
#define DEEPEST_DB    40.0f   /* a crack deeper under the loudest moment is none */

/* Score at which a crack counts at sensitivity 50: the middle of the plateau of
 * F. So many points of sensitivity halve it, or double it: a step is worth about
 * the same to both sides. */
#define SCORE_AT_50     2.3f
#define HALVING_POINTS  30.0f
#define DOUBLING_POINTS 45.0f
#define SCORE_LEAST     0.724f  /* at sensitivity 100 */

/* Bands. */
enum { MIDDLE_BAND = 8, REACH_LEAST = 4, LOW_BANDS = 7, LOW_GREATEST = 3 };

struct cracks {
    struct levels levels;
    struct loud loud;
    struct quiet quiet;         /* the noise within reach */
    int64_t risen, scored, judged; /* the next step of each */
    float loud_db[LEVELS_HELD]; /* loud level of the surroundings */
    float rise[LEVELS_HELD], late[LEVELS_HELD], score[LEVELS_HELD];
    float under[LEVELS_HELD];   /* how much of the score counts, by the low bands */
    float weight[BAND_COUNT];   /* of each band: most in the middle */
    float gain[BAND_COUNT];     /* of its rise */
    float noise[BAND_COUNT];    /* the level that it keeps to, dB */
    int reach;                  /* bands from here on hold nothing to hear */
    double rise_sum, spike_sum; /* around the step that is scored */
    int64_t sum_from, sum_to;   /* the steps in them */

    struct peak *found;
    size_t count, room;
};

enum tc_status cracks_create(struct cracks **out)
{
    struct cracks *d = memory_new(1, sizeof *d);
    *out = d;
    if (!d) return TC_ERR_MEMORY;
    /* The lowest wobble most, and the highest hold the ticks. */
    for (int b = 0; b < BAND_COUNT; b++) d->weight[b] = 1 - EDGE_LESS * (float)abs(b - MIDDLE_BAND) / MIDDLE_BAND;
    levels_start(&d->levels);
    loud_start(&d->loud);
    d->room = 4096;
    d->found = memory_new(d->room, sizeof *d->found);
    if (d->found) return TC_OK;
    cracks_destroy(d);
    *out = NULL;
    return TC_ERR_MEMORY;
}

/* ---- Noise ---- */

/* What each band's rise counts: the more, the less room the noise leaves for it
 * under the loud level. */
static void find_room(struct cracks *d, float loud)
{
    float audible = quiet_audible(&d->quiet, loud);
    for (int b = 0; b < d->levels.bands; b++) {
        d->noise[b] = quiet_level(&d->quiet, b, loud - FLOOR_DB);
        float room = loud - d->noise[b];
        d->gain[b] = audible * (room * RAISED_MOST > FLOOR_DB ? FLOOR_DB / room : RAISED_MOST);
    }
    d->reach = d->levels.bands;
    while (d->reach > REACH_LEAST && quiet_loudest(&d->quiet, d->reach - 1) < loud - FLOOR_DB) d->reach--;
}

static void look_around(struct cracks *d, int64_t step)
{
    float *loud = &d->loud_db[levels_slot(step)];
    const struct levels *l = &d->levels;
    while (d->quiet.to < l->end && d->quiet.to <= step + LOUD_AHEAD) {
        if (levels_silent(l, d->quiet.to)) quiet_skip(&d->quiet);
        else quiet_add(&d->quiet, levels_at(l, d->quiet.to)->db, l->total[levels_slot(d->quiet.to)]);
    }
    quiet_forget(&d->quiet, step - LOUD_AHEAD);
    if (step % LOUD_LOOK) {
        *loud = d->loud_db[levels_slot(step - 1)];
        return;
    }
    quiet_measure(&d->quiet);
    *loud = loud_find(&d->loud, step);
    find_room(d, *loud);
}

/* ---- The rise in level, and its score ---- */

/* Mean levels over steps from..to, none under `floor`. */
static void mean_level(const struct cracks *d, int64_t from, int64_t to, float floor, struct row *out)
{
    float sum[ROW] = { 0 };
    for (int64_t i = from; i <= to; i++) {
        const struct row *r = levels_calm_at(&d->levels, i);
        for (int b = 0; b < ROW; b++) sum[b] += most(r->db[b], floor);
    }
    for (int b = 0; b < ROW; b++) out->db[b] = sum[b] / (float)(to - from + 1);
}

/* The rise of each band from `before` to `after`. Bands that a low sample rate,
 * or a low-pass filter on the way, has not left are taken to rise half as much
 * as the two below them. */
static void rise_of(const struct cracks *d, const struct row *before, const struct row *after, float *rise)
{
    for (int b = 0; b < d->levels.bands; b++) rise[b] = d->gain[b] * most(after->db[b] - before->db[b], 0);
}

static void fill_unheard(const struct cracks *d, float *rise)
{
    float next = UNHEARD_SHARE * (rise[d->reach - 1] + rise[d->reach - 2]) / 2;
    for (int b = d->reach; b < BAND_COUNT; b++) rise[b] = next;
}

/* Mean over the bands, by their weights. The band that rises most can be left
 * out, so that a drop or a chirp alone lifts nothing. */
static float mean_of(const struct cracks *d, const float *rise, bool trim)
{
    float sum = 0, greatest = 0;
    for (int b = 0; b < BAND_COUNT; b++) {
        float weighted = d->weight[b] * rise[b];
        sum += weighted;
        greatest = most(greatest, weighted);
    }
    return trim ? (sum - greatest) / (BAND_COUNT - 1) : sum / BAND_COUNT;
}

/* Thunder has something below 680 Hz, whatever was taken from it on the way:
 * the three low bands that stand highest over their noise tell how much. Rain
 * on the microphone has nothing there. */
static float share_under(const struct cracks *d, const struct row *after)
{
    float greatest[LOW_GREATEST] = { 0 }, sum = 0;
    for (int b = 0; b < LOW_BANDS && b < d->levels.bands; b++) {
        float over = least(after->db[b] - d->noise[b], UNDER_MOST_DB);
        for (int i = 0; i < LOW_GREATEST; i++) {
            float next = least(greatest[i], over);
            greatest[i] = most(greatest[i], over);
            over = next;
        }
    }
    for (int i = 0; i < LOW_GREATEST; i++) sum += greatest[i];
    return share_of(sum / LOW_GREATEST, UNDER_NONE_DB, UNDER_ALL_DB);
}

static float floor_at(const struct cracks *d, int64_t step)
{
    return d->loud_db[levels_slot(step)] - FLOOR_DB;
}

static void find_rise(struct cracks *d, int64_t step)
{
    float floor = floor_at(d, step);
    float rise[BAND_COUNT], left[BAND_COUNT];
    struct row before, after, late;
    mean_level(d, step - ATTACK_BEFORE_FROM, step - ATTACK_BEFORE_TO, floor, &before);
    mean_level(d, step, step + ATTACK_AFTER, floor, &after);
    mean_level(d, step + LATE_FROM, step + LATE_TO, floor, &late);
    rise_of(d, &before, &after, rise);
    rise_of(d, &before, &late, left);
    for (int b = 0; b < d->levels.bands; b++) rise[b] = least(rise[b], SHORT_DB + SHORT_TIMES * left[b]);
    fill_unheard(d, rise);
    fill_unheard(d, left);
    d->rise[levels_slot(step)] = mean_of(d, rise, true);
    d->late[levels_slot(step)] = mean_of(d, left, false);
    d->under[levels_slot(step)] = share_under(d, &after);
}

/* Mean level of all bands together over the time after. */
static float level_after(const struct cracks *d, int64_t step)
{
    float sum = 0;
    for (int64_t i = step; i <= step + ATTACK_AFTER; i++) sum += d->levels.total[levels_slot(i)];
    return sum / (ATTACK_AFTER + 1);
}

/* The local mean is a running sum: each rise enters it once and leaves it once. */
static float score_at(struct cracks *d, int64_t step)
{
    for (; d->sum_to < d->risen && d->sum_to <= step + AROUND; d->sum_to++) {
        d->rise_sum += (double)d->rise[levels_slot(d->sum_to)];
        d->spike_sum += (double)d->levels.spikes[levels_slot(d->sum_to)];
    }
    for (; d->sum_from < step - AROUND; d->sum_from++) {
        d->rise_sum -= (double)d->rise[levels_slot(d->sum_from)];
        d->spike_sum -= (double)d->levels.spikes[levels_slot(d->sum_from)];
    }
    float mean = (float)(d->rise_sum / (double)(d->sum_to - d->sum_from));
    float spikes = (float)(d->spike_sum / (double)(d->sum_to - d->sum_from));
    float amid = share_of(spikes, SPIKES_NONE, SPIKES_ALL);
    float depth = least(most(d->loud_db[levels_slot(step)] - level_after(d, step), 0), DEPTH_MOST_DB);
    float score = d->rise[levels_slot(step)] - LOCAL_SHARE * mean - DEPTH_SHARE * depth;
    return least(score * (1 - amid * (1 - d->under[levels_slot(step)])), LATE_MOST * d->late[levels_slot(step)]);
}

/* ---- Candidates ---- */

static enum tc_status keep(struct cracks *d, int64_t step, float score)
{
    if (d->count == d->room) {
        struct peak *more = memory_resize(d->found, 2 * d->room * sizeof *more);
        if (!more) return TC_ERR_MEMORY;
        d->found = more;
        d->room *= 2;
    }
    float loud = 0;
    for (int64_t i = step; i <= step + LOUD_AFTER; i++) loud = most(loud, d->levels.power[levels_slot(i)]);
    float stays = least(d->late[levels_slot(step)] / d->rise[levels_slot(step)], 1);
    float octaves = decibel_of(score / SCORE_AT_50) / decibel_of(2);
    float found_at = 50.0f - octaves * (octaves > 0 ? DOUBLING_POINTS : HALVING_POINTS);
    d->found[d->count++] = (struct peak){
        .crack = {
            .at_ms = attack_moment(&d->levels, step, floor_at(d, step)),
            .found_at = least(most(found_at, 0), 100),
            .loudness = sqrtf(sqrtf(loud)) * score * stays, /* square root of amplitude, times the rise that lasts */
            .sharpness = attack_sharpness(&d->levels, step),
            .level_dbfs = (float)power_db((double)loud),
        },
        .step = step,
        .score = score,
        .db = level_after(d, step),
        .loudest_db = decibel_of(loud),
    };
    return TC_OK;
}

static enum tc_status judge(struct cracks *d, int64_t step)
{
    float here = d->score[levels_slot(step)];
    if (here < SCORE_LEAST) return TC_OK;
    int64_t from = step < PEAK_FINE ? 0 : step - PEAK_FINE, to = step + PEAK_FINE < d->scored ? step + PEAK_FINE : d->scored - 1;
    for (int64_t i = from; i <= to; i++) {
        float there = d->score[levels_slot(i)];
        if (i < step ? there >= here : there > here) return TC_OK;
    }
    return keep(d, step, here);
}

/* ---- The flow ---- */

static int64_t smaller(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

/* Does what can be done now that one more step was heard: each thing follows
 * the steps heard at its own distance, as drawn in the header. After the end
 * nothing waits for what doesn't come. */
static enum tc_status advance(struct cracks *d)
{
    struct levels *l = &d->levels;
    bool ended = l->end < INT64_MAX;
    loud_take(&d->loud, l);
    int64_t until = ended ? l->end : smaller(d->loud.smoothed - LOUD_AHEAD, l->heard - BEYOND);
    for (; d->risen < until; d->risen++) {
        levels_calm(l, d->risen + LATE_TO + 1);
        look_around(d, d->risen);
        find_rise(d, d->risen);
    }
    until = ended ? l->end : d->risen - AROUND;
    for (; d->scored < until; d->scored++) d->score[levels_slot(d->scored)] = score_at(d, d->scored);
    until = ended ? l->end : d->scored - PEAK_FINE;
    for (; d->judged < until; d->judged++) {
        enum tc_status status = judge(d, d->judged);
        if (status != TC_OK) return status;
    }
    return TC_OK;
}

enum tc_status cracks_step(struct cracks *d, const struct hearing *h)
{
    levels_step(&d->levels, h);
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
    levels_end(&d->levels, LEVELS_AHEAD);
    enum tc_status status = d->levels.heard ? advance(d) : TC_OK;
    if (status == TC_OK) status = peaks_thin(d->found, &d->count);
    if (status != TC_OK) return status;
    struct tc_candidate *list = memory_new(d->count + 1, sizeof *list);
    if (!list) return TC_ERR_MEMORY;
    size_t kept = 0;
    for (size_t i = 0; i < d->count; i++)
        if (d->found[i].loudest_db >= d->loud.most - DEEPEST_DB) list[kept++] = d->found[i].crack;
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
