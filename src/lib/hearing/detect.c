#include "hearing/detect.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "words/memory.h"
#include "words/units.h"

/* Lengths in steps of 5 ms. */
enum {
    RING = 1024,        /* steps held; a power of two */
    SPIKE = 6,          /* a band must hold a level this long: longer than the window */
    SMOOTH = 10,        /* loud level: mean power to each side */
    AHEAD = 600,        /* loud level: how far it looks ahead */
    AFTER = 12,         /* last step of the level after */
    BEFORE_FROM = 12, BEFORE_TO = 1, /* level before, this many steps earlier */
    AROUND = 100,       /* local mean of the step, to each side */
    ALONE = 20,         /* one crack within this, to each side */
    EDGE = 3,           /* steps whose window reaches over the start or the end */
    START_FROM = 13, START_TO = 59,  /* what the recording goes on with */
    EARLIER = 6, LATER = 12,         /* where the start of the rise may lie ... */
    QUIET_FROM = 10, QUIET_TO = 2,   /* ... over the level of these steps before */
    TRACK_EACH = 10,    /* steps in one value of the rumble track: 50 ms */
};

/* Rumbles. Lengths in values of the track (50 ms), levels in half decibels. */
enum {
    TRACK_SMOOTH = 3,       /* mean power to each side: 0.35 s */
    MINUTE = 1200,          /* surroundings, to each side */
    RUMBLE_OVER = 8,        /* over the quiet background ... */
    RUMBLE_CLEAR = 6,       /* ... and at its best this much more */
    RUMBLE_UNDER = 80,      /* not deeper under the loudest moment */
    RUMBLE_TOP = 20,        /* the loudest 10 dB are rumble, whatever the background */
    RUMBLE_LEAST = 35,      /* -110 dBFS */
    RUMBLE_GAP = 12,        /* a gap up to 0.6 s is bridged */
    RUMBLE_SHORTEST = 10,   /* half a second */
};
#define RUMBLE_HIGH_SHARE 4 /* high power may rise by at most this many times the low */

#define SPIKE_DB      8.0f    /* over the level that is held */
#define FLOOR_DB      50.0f   /* under the loud level of the surroundings */
#define FORGET_DB     0.01f   /* the loud level falls by this each step: 2 dB a second */
#define RISE_MOST_DB  15.0f   /* one band has no more say than this */
#define LOCAL_SHARE   0.7f    /* of the local mean that is taken off */
#define DEPTH_SHARE   0.05f   /* of the dB that the moment lies under the loud level: taken off */
#define START_QUIETER_DB 6.0f /* a beginning this much quieter than what follows counts as such */
#define WAY_MOST_DB   25.0f   /* a rise from silence is timed by its last part */
#define MOMENT        0.4f    /* share of the rise that is done at the moment of a crack */
#define QUIETEST      1e-11f  /* power added to each band: -110 dBFS, under 16-bit noise */
#define NO_BAND_DB    -200.0f
#define DEEPEST_DB    40.0f   /* a crack deeper under the loudest moment is none */

/* Score at which a crack counts at sensitivity 50: between the bustle that
 * people leave unmarked (up to 2.2) and the weakest cracks that they call clear
 * (from 2.6). Every HALVING points of sensitivity halve it. */
#define SCORE_AT_50   2.4f
#define HALVING       30.0f
#define SCORE_LEAST   0.756f  /* at sensitivity 100 */

/* Near and far, by how far the rise above 1.36 kHz lies under the whole rise:
 * 8 dB and less is sharp, 40 dB and more is dull. Air takes some 10 dB at 2 kHz
 * with every km (ISO 9613-2, 20 C, 70 % humidity). */
enum { SHARP_BAND = 9 };
#define SHARP_DB      8.0f
#define DULL_DB       40.0f

/* Levels of all bands, with room up to a multiple of four: the sums over rows
 * are what detection costs, and four at a time go fast. */
enum { ROW = (BAND_COUNT + 3) / 4 * 4 };
struct row {
    float db[ROW];
};

struct detector {
    int64_t heard;              /* steps taken */
    int bands;
    struct row level[RING];     /* as heard */
    struct row calm[RING];      /* despiked */
    struct row start;           /* what lies before the start */
    float power[RING];          /* of all bands */
    float total[RING];          /* the same in dB */
    float smooth[RING];         /* loudness over 100 ms, dB */
    float loud[RING];           /* loud level of the surroundings, dB */
    float rise[RING], score[RING];
    double rise_sum;            /* of the rises around the step that is scored */
    float past_loud;            /* loud level of the past, falling */
    float loudest;              /* of the recording, dB */
    int64_t queue[RING];        /* steps of falling loudness: the first is the loudest ahead */
    size_t queue_first, queue_end;

    struct tc_candidate *found;
    size_t count, room;

    double low_power, high_power;   /* of the track value under way */
    int track_steps;
    uint8_t *low, *high;            /* tracks of the level below and above 600 Hz */
    size_t track_count, track_room;
};

enum tc_status detector_create(struct detector **out)
{
    struct detector *d = memory_new(1, sizeof *d);
    *out = d;
    if (!d) return TC_ERR_MEMORY;
    d->past_loud = d->loudest = -200;
    d->room = 256;
    d->track_room = 1 << 14;
    d->found = memory_new(d->room, sizeof *d->found);
    d->low = memory_new(d->track_room, 1);
    d->high = memory_new(d->track_room, 1);
    if (d->found && d->low && d->high) return TC_OK;
    detector_destroy(d);
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

static float db_of(float power)
{
    return 10.0f * log10f(power);
}

/* ---- Levels, one step at a time ---- */

/* Levels of a step; before the start lies what find_start says. */
static const struct row *level_at(const struct detector *d, int64_t step)
{
    return step < 0 ? &d->start : &d->level[slot(step)];
}

static const struct row *calm_at(const struct detector *d, int64_t step)
{
    return step < 0 ? &d->start : &d->calm[slot(step)];
}

/* Before the start lies what the recording goes on with, or what it begins with
 * if that is clearly quieter: one that opens amid the roll has no crack there,
 * one that opens on the very crack, or just before it, has. */
static void find_start(struct detector *d)
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

/* Flat opening in time: the greatest of the least levels of all runs of SPIKE
 * steps that contain this one. */
static void despike(struct detector *d, int64_t step)
{
    const struct row *r[2 * SPIKE - 1];
    for (int i = 0; i < 2 * SPIKE - 1; i++) r[i] = level_at(d, step + i - (SPIKE - 1));
    struct row *calm = &d->calm[slot(step)];
    for (int b = 0; b < ROW; b++) {
        float held = NO_BAND_DB;
        for (int from = 0; from < SPIKE; from++) {
            float low = r[from]->db[b];
            for (int i = 1; i < SPIKE; i++) low = least(low, r[from + i]->db[b]);
            held = most(held, low);
        }
        calm->db[b] = least(r[SPIKE - 1]->db[b], held + SPIKE_DB);
    }
}

/* ---- The loud level of the surroundings ---- */

static void smooth(struct detector *d, int64_t step)
{
    int64_t from = step < SMOOTH ? 0 : step - SMOOTH;
    float sum = 0;
    for (int64_t i = from; i <= step + SMOOTH; i++) sum += d->power[slot(i)];
    float db = db_of(sum / (float)(step + SMOOTH - from + 1));
    d->smooth[slot(step)] = db;
    d->loudest = most(d->loudest, db);
    while (d->queue_end > d->queue_first
           && d->smooth[slot(d->queue[(d->queue_end - 1) % RING])] <= db) d->queue_end--;
    d->queue[d->queue_end++ % RING] = step;
}

static void find_loud(struct detector *d, int64_t step)
{
    while (d->queue[d->queue_first % RING] < step) d->queue_first++;
    float ahead = d->smooth[slot(d->queue[d->queue_first % RING])];
    d->past_loud = most(d->past_loud - FORGET_DB, d->smooth[slot(step)]);
    d->loud[slot(step)] = most(d->past_loud, ahead);
}

/* ---- The step in level, and its score ---- */

/* Mean levels over steps from..to, none under `floor`. */
static void mean_level(const struct detector *d, int64_t from, int64_t to, float floor, struct row *out)
{
    float sum[ROW] = { 0 };
    for (int64_t i = from; i <= to; i++) {
        const struct row *r = calm_at(d, i);
        for (int b = 0; b < ROW; b++) sum[b] += most(r->db[b], floor);
    }
    for (int b = 0; b < ROW; b++) out->db[b] = sum[b] / (float)(to - from + 1);
}

static float rise_at(const struct detector *d, int64_t step)
{
    float floor = d->loud[slot(step)] - FLOOR_DB, sum = 0;
    struct row before, after;
    mean_level(d, step - BEFORE_FROM, step - BEFORE_TO, floor, &before);
    mean_level(d, step, step + AFTER, floor, &after);
    for (int b = 0; b < d->bands; b++)
        sum += least(most(after.db[b] - before.db[b], 0), RISE_MOST_DB);
    return sum / BAND_COUNT;
}

/* The local mean is a running sum: each rise enters it once and leaves it once. */
static float score_at(struct detector *d, int64_t step)
{
    int64_t from = step < AROUND ? 0 : step - AROUND;
    if (from > 0) d->rise_sum -= (double)d->rise[slot(from - 1)];
    float level = 0, mean = (float)(d->rise_sum / (double)(step + AROUND - from + 1));
    for (int64_t i = step; i <= step + AFTER; i++) level += d->total[slot(i)];
    float depth = most(d->loud[slot(step)] - level / (AFTER + 1), 0);
    return d->rise[slot(step)] - LOCAL_SHARE * mean - DEPTH_SHARE * depth;
}

/* ---- Candidates ---- */

/* Where the rise is MOMENT done, in ms. Each band says how much of its way it
 * has gone, and counts by how far that is. Of a long way the last WAY_MOST_DB
 * count: the window sees a rise from silence long before it has come. */
static int64_t moment_of(const struct detector *d, int64_t step)
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
static float sharpness_of(const struct detector *d, int64_t step)
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

static enum tc_status keep(struct detector *d, int64_t step, float score)
{
    if (d->count == d->room) {
        struct tc_candidate *more = memory_resize(d->found, 2 * d->room * sizeof *more);
        if (!more) return TC_ERR_MEMORY;
        d->found = more;
        d->room *= 2;
    }
    float loud = 0;
    for (int64_t i = step; i <= step + AFTER; i++) loud = most(loud, d->power[slot(i)]);
    float found_at = 50.0f - HALVING * log2f(score / SCORE_AT_50);
    d->found[d->count++] = (struct tc_candidate){
        .at_ms = moment_of(d, step),
        .found_at = least(most(found_at, 0), 100),
        .loudness = powf(loud, 0.25f) * score, /* square root of amplitude, times the rise */
        .sharpness = sharpness_of(d, step),
        .level_dbfs = (float)power_db((double)loud),
    };
    return TC_OK;
}

static enum tc_status judge(struct detector *d, int64_t step)
{
    float here = d->score[slot(step)];
    if (here < SCORE_LEAST) return TC_OK;
    for (int64_t i = step < ALONE ? 0 : step - ALONE; i <= step + ALONE; i++) {
        float there = d->score[slot(i)];
        if (i < step ? there >= here : there > here) return TC_OK;
    }
    return keep(d, step, here);
}

/* ---- The track of rumbles ---- */

static enum tc_status end_track_value(struct detector *d)
{
    if (d->track_count == d->track_room) {
        uint8_t *low = memory_resize(d->low, 2 * d->track_room);
        if (low) d->low = low;
        uint8_t *high = memory_resize(d->high, 2 * d->track_room);
        if (high) d->high = high;
        if (!low || !high) return TC_ERR_MEMORY;
        d->track_room *= 2;
    }
    d->low[d->track_count] = level_byte(d->low_power / d->track_steps);
    d->high[d->track_count++] = level_byte(d->high_power / d->track_steps);
    d->low_power = d->high_power = 0;
    d->track_steps = 0;
    return TC_OK;
}

static enum tc_status track(struct detector *d, const struct hearing *h)
{
    d->low_power += (double)h->low;
    d->high_power += (double)most(h->total - h->low, 0);
    return ++d->track_steps < TRACK_EACH ? TC_OK : end_track_value(d);
}

/* ---- The flow ---- */

/* Steps at the very start and end see a cut from or to silence in their window;
 * where there is an offset (DC), its edge fills all bands. They are taken to be
 * no louder than the nearest step that sees none of it. */
static void settle_edge(struct detector *d, int64_t from, int64_t whole)
{
    const struct row *r = &d->level[slot(whole)];
    for (int64_t i = from; i < from + EDGE; i++) {
        struct row *edge = &d->level[slot(i)];
        for (int b = 0; b < d->bands; b++) edge->db[b] = least(edge->db[b], r->db[b]);
        d->power[slot(i)] = least(d->power[slot(i)], d->power[slot(whole)]);
        d->total[slot(i)] = least(d->total[slot(i)], d->total[slot(whole)]);
    }
}

/* Does what can be done now that one more step was heard: each thing follows
 * the steps heard at its own distance, as drawn in the header. */
static enum tc_status advance(struct detector *d)
{
    int64_t last = d->heard - 1;
    if (last < SMOOTH) return TC_OK;
    smooth(d, last - SMOOTH);

    int64_t step = last - SMOOTH - AHEAD;
    if (step < 0) return TC_OK;
    if (step == 0) {
        find_start(d);
        for (int i = 0; i < AFTER; i++) despike(d, i);
    }
    despike(d, step + AFTER);
    find_loud(d, step);
    d->rise[slot(step)] = rise_at(d, step);
    d->rise_sum += (double)d->rise[slot(step)];

    step -= AROUND;
    if (step < 0) return TC_OK;
    d->score[slot(step)] = score_at(d, step);

    step -= ALONE;
    return step < 0 ? TC_OK : judge(d, step);
}

enum tc_status detector_step(struct detector *d, const struct hearing *h)
{
    struct row *now = &d->level[slot(h->step)];
    float power = 0;
    for (int b = 0; b < BAND_COUNT; b++) {
        now->db[b] = b < h->bands ? db_of(h->band[b] + QUIETEST) : NO_BAND_DB;
        power += h->band[b];
    }
    d->power[slot(h->step)] = power + QUIETEST;
    d->total[slot(h->step)] = db_of(power + QUIETEST);
    d->bands = h->bands;
    d->heard = h->step + 1;
    if (h->step == EDGE) settle_edge(d, 0, EDGE);
    enum tc_status status = track(d, h);
    return status == TC_OK ? advance(d) : status;
}

/* After the end goes on what was there last, so that nothing rises or falls. */
static enum tc_status run_out(struct detector *d)
{
    if (!d->heard) return TC_OK;
    if (d->heard > 2 * EDGE) settle_edge(d, d->heard - EDGE, d->heard - EDGE - 1);
    struct row last = d->level[slot(d->heard - 1)];
    float power = d->power[slot(d->heard - 1)];
    for (int i = 0; i < SMOOTH + AHEAD + AROUND + ALONE; i++) {
        d->level[slot(d->heard)] = last;
        d->power[slot(d->heard)] = power;
        d->total[slot(d->heard)] = db_of(power);
        d->heard++;
        enum tc_status status = advance(d);
        if (status != TC_OK) return status;
    }
    return TC_OK;
}

static int by_moment(const void *left, const void *right)
{
    const struct tc_candidate *a = left, *b = right;
    if (a->at_ms != b->at_ms) return a->at_ms < b->at_ms ? -1 : 1;
    return (a->loudness < b->loudness) - (a->loudness > b->loudness); /* no order left to qsort */
}

static void drop_deep(struct detector *d)
{
    size_t kept = 0;
    for (size_t i = 0; i < d->count; i++)
        if (d->found[i].level_dbfs >= d->loudest - DEEPEST_DB) d->found[kept++] = d->found[i];
    d->count = kept;
}

/* ---- Rumbles ---- */

/* Values of the track within a minute of one another. */
struct minute {
    size_t histogram[256], count;
};

static void minute_change(struct minute *m, uint8_t value, int by)
{
    m->histogram[value] += (size_t)by;
    m->count += (size_t)by;
}

/* The quiet background: 5th percentile. */
static int minute_quiet(const struct minute *m)
{
    size_t seen = 0;
    int value = 0;
    while (value < 255 && (seen += m->histogram[value]) <= m->count / 20) value++;
    return value;
}

static int minute_loudest(const struct minute *m)
{
    int value = 255;
    while (value > 0 && !m->histogram[value]) value--;
    return value;
}

/* Level over 0.35 s of each value of a track. */
static void smooth_track(const uint8_t *track, size_t count, uint8_t *out)
{
    for (size_t i = 0; i < count; i++) {
        size_t from = i < TRACK_SMOOTH ? 0 : i - TRACK_SMOOTH;
        size_t to = i + TRACK_SMOOTH < count ? i + TRACK_SMOOTH : count - 1;
        double power = 0;
        for (size_t k = from; k <= to; k++) power += level_byte_power(track[k]);
        out[i] = level_byte(power / (double)(to - from + 1));
    }
}

/* Sets gate[i] to the level from which a rumble is heard at i. */
static void find_gates(const uint8_t *level, size_t count, uint8_t *gate, uint8_t *quiet)
{
    struct minute m = { 0 };
    for (size_t i = 0; i < count && i < MINUTE; i++) minute_change(&m, level[i], 1);
    for (size_t i = 0; i < count; i++) {
        if (i + MINUTE < count) minute_change(&m, level[i + MINUTE], 1);
        if (i > MINUTE) minute_change(&m, level[i - MINUTE - 1], -1);
        int loudest = minute_loudest(&m), low = minute_quiet(&m), at = low + RUMBLE_OVER;
        if (at < loudest - RUMBLE_UNDER) at = loudest - RUMBLE_UNDER;
        if (at > loudest - RUMBLE_TOP) at = loudest - RUMBLE_TOP;
        gate[i] = (uint8_t)(at < RUMBLE_LEAST ? RUMBLE_LEAST : at);
        quiet[i] = (uint8_t)low;
    }
}

/* The tracks that finding rumbles needs, one after the other; spare is scratch. */
struct rumble_tracks {
    uint8_t *low, *gate, *quiet, *high, *high_quiet, *spare;
};

/* Whether what rises from start to end does so mostly below 600 Hz. */
static bool mostly_low(const struct rumble_tracks *t, size_t start, size_t end)
{
    double low = 0, high = 0;
    for (size_t i = start; i < end; i++) {
        low += level_byte_power(t->low[i]) - level_byte_power(t->quiet[i]);
        high += level_byte_power(t->high[i]) - level_byte_power(t->high_quiet[i]);
    }
    return low * RUMBLE_HIGH_SHARE > high;
}

static enum tc_status add_rumble(struct tc_analysis *out, size_t *room, struct tc_event e)
{
    if (out->event_count == *room) {
        size_t more = *room ? 2 * *room : 16;
        struct tc_event *events = memory_resize(out->events, more * sizeof *events);
        if (!events) return TC_ERR_MEMORY;
        out->events = events;
        *room = more;
    }
    out->events[out->event_count++] = e;
    return TC_OK;
}

static enum tc_status cut_rumbles(const struct rumble_tracks *t, size_t count, int64_t length_ms,
                                  struct tc_analysis *out)
{
    const int64_t each = TRACK_EACH * STEP_MS;
    size_t room = 0;
    int loudest = 0;
    for (size_t i = 0; i < count; i++) loudest = t->low[i] > loudest ? t->low[i] : loudest;
    for (size_t i = 0; i < count;) {
        if (t->low[i] < t->gate[i]) {
            i++;
            continue;
        }
        size_t start = i, end = i, peak = i;
        int over = 0;
        for (; i < count && i - end <= RUMBLE_GAP; i++) {
            if (t->low[i] >= t->gate[i]) end = i + 1;
            if (t->low[i] - t->gate[i] > over) over = t->low[i] - t->gate[i];
            if (t->low[i] > t->low[peak]) peak = i;
        }
        if (end - start < RUMBLE_SHORTEST || over < RUMBLE_CLEAR || !mostly_low(t, start, end)) continue;
        int64_t end_ms = (int64_t)end * each;
        enum tc_status status = add_rumble(out, &room, (struct tc_event){
            .kind = TC_RUMBLE,
            .start_ms = (int64_t)start * each,
            .end_ms = end_ms < length_ms ? end_ms : length_ms,
            .peak_ms = (int64_t)peak * each + each / 2,
            .strength = (float)pow(10, (t->low[peak] - loudest) / 40.0),
            .level_dbfs = (float)t->low[peak] / 2 - 127.5f,
        });
        if (status != TC_OK) return status;
    }
    return TC_OK;
}

static enum tc_status find_rumbles(const struct detector *d, int64_t length_ms, struct tc_analysis *out)
{
    size_t n = d->track_count;
    uint8_t *all = memory_new(6, n + 1);
    if (!all) return TC_ERR_MEMORY;
    struct rumble_tracks t = { all, all + n, all + 2 * n, all + 3 * n, all + 4 * n, all + 5 * n };
    smooth_track(d->low, n, t.low);
    find_gates(t.low, n, t.gate, t.quiet);
    smooth_track(d->high, n, t.high);
    find_gates(t.high, n, t.spare, t.high_quiet);
    enum tc_status status = cut_rumbles(&t, n, length_ms, out);
    memory_free(all);
    return status;
}

/* ---- The end ---- */

enum tc_status detector_finish(struct detector *d, int64_t length_ms, struct tc_analysis *out)
{
    enum tc_status status = run_out(d);
    if (status == TC_OK && d->track_steps) status = end_track_value(d);
    if (status == TC_OK) status = find_rumbles(d, length_ms, out);
    if (status != TC_OK) return status;
    drop_deep(d);
    if (d->count) qsort(d->found, d->count, sizeof *d->found, by_moment);
    out->candidates = d->found;
    out->candidate_count = d->count;
    d->found = NULL;
    return TC_OK;
}

void detector_destroy(struct detector *d)
{
    if (!d) return;
    memory_free(d->found);
    memory_free(d->low);
    memory_free(d->high);
    memory_free(d);
}
