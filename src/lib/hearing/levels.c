#include "hearing/levels.h"

#include "hearing/bounds.h"
#include "hearing/decibel.h"

/* Lengths in steps of 5 ms. */
enum {
    EDGE = 3,           /* steps whose window reaches over the start or the end */
    GOES_ON_FROM = 13,  /* to LEVELS_GOES_ON: what the recording goes on with */
    SEEN_EARLY = 2,     /* steps by which the window sees a sound before it comes */
    LOOKED_BACK = 40,   /* no rise is measured over more than these */
    LATE_START = 20,    /* so much digital silence at the start is left by encoders */
};

#define SPIKE_DB         8.0f    /* over the level that is held */
#define START_QUIETER_DB 6.0f    /* a beginning this much quieter than what follows counts as such */
#define SET_IN_DB        3.0f    /* out of digital silence a sound sets in over so much less than it goes on with */
#define QUIETEST         1e-11f  /* power added to each band: -110 dBFS, under 16-bit noise */
#define SILENT           1e-15f  /* power of all bands: -150 dBFS, far under what any format keeps of sound */
#define NO_BAND_DB       -200.0f

void levels_start(struct levels *l)
{
    l->heard = 0;
    l->calmed = 0;
    l->silent_from = l->silent_to = 0;
    l->end = INT64_MAX;
}

/* ---- The start and the end ---- */

/* Steps at the very start and end see a cut from or to silence in their window;
 * where there is an offset (DC), its edge fills all bands. They are taken to be
 * no louder than the nearest step that sees none of it. */
static void settle_edge(struct levels *l, int64_t from, int64_t whole)
{
    const struct row *r = &l->level[levels_slot(whole)];
    for (int64_t i = from; i < from + EDGE; i++) {
        size_t at = levels_slot(i);
        for (int b = 0; b < l->bands; b++) l->level[at].db[b] = least(l->level[at].db[b], r->db[b]);
        l->filled[at] = l->level[at];
        l->power[at] = least(l->power[at], l->power[levels_slot(whole)]);
        l->total[at] = least(l->total[at], l->total[levels_slot(whole)]);
    }
}

/* What lies before a sound that begins at `from`. */
static struct row before_start(const struct levels *l, int64_t from, float set_in_db)
{
    enum { STEPS = LEVELS_GOES_ON - GOES_ON_FROM + 1 };
    struct row start = l->filled[levels_slot(from)];
    float goes_on = 0;
    for (int i = GOES_ON_FROM; i <= LEVELS_GOES_ON; i++) goes_on += l->total[levels_slot(from + i)];
    if (l->total[levels_slot(from)] < goes_on / STEPS - START_QUIETER_DB) return start;
    for (int b = 0; b < l->bands; b++) {
        float sum = 0;
        for (int i = GOES_ON_FROM; i <= LEVELS_GOES_ON; i++) sum += l->level[levels_slot(from + i)].db[b];
        start.db[b] = sum / STEPS - set_in_db;
    }
    return start;
}

bool levels_silent(const struct levels *l, int64_t step)
{
    return l->power[levels_slot(step)] < QUIETEST + SILENT;
}

/* A sound has set in out of digital silence, and it is known what it goes on
 * with: that takes the place of the silence, as far back as anybody looks. The
 * steps whose window still holds some silence are taken to be like the first
 * whole one. */
static void fill_silence(struct levels *l)
{
    int64_t from = l->silent_to + SEEN_EARLY, back = from - LOOKED_BACK, whole = from + EDGE;
    for (int64_t i = from; i < whole; i++) l->filled[levels_slot(i)] = l->level[levels_slot(whole)];
    bool start = l->silent_from == 0 && l->silent_to <= LATE_START;
    struct row before = before_start(l, whole, start ? 0 : SET_IN_DB);
    for (int64_t i = back > l->silent_from ? back : l->silent_from; i < from; i++) l->filled[levels_slot(i)] = before;
    l->silent_from = l->silent_to = from;
}

/* Follows digital silence, now that one more step was heard. What falls silent
 * again before it is known what it goes on with is a burst, and stays one. */
static void mind_silence(struct levels *l)
{
    int64_t now = l->heard - 1;
    bool waiting = l->silent_to > l->silent_from && l->silent_to < now;
    if (waiting) {
        if (now == l->silent_to + SEEN_EARLY + EDGE + LEVELS_GOES_ON) fill_silence(l);
    } else if (levels_silent(l, now)) {
        if (l->silent_to < now) l->silent_from = now;
        l->silent_to = now + 1;
    }
}

/* ---- Spikes ---- */

static const struct row *filled_at(const struct levels *l, int64_t step)
{
    return step < 0 ? &l->start : &l->filled[levels_slot(step)];
}

static struct row *held_at(struct levels *l, int64_t step)
{
    enum { HELD = sizeof l->held / sizeof *l->held };
    return &l->held[(size_t)(step + HELD) % HELD];
}

/* The least level of each band over the LEVELS_SPIKE steps from this one on. */
static void hold(struct levels *l, int64_t step)
{
    struct row *held = held_at(l, step);
    *held = *filled_at(l, step);
    for (int i = 1; i < LEVELS_SPIKE; i++) {
        const struct row *r = filled_at(l, step + i);
        for (int b = 0; b < ROW; b++) held->db[b] = least(held->db[b], r->db[b]);
    }
}

/* Flat opening in time: the greatest of the least levels of all runs of
 * LEVELS_SPIKE steps that contain this one. */
static void despike(struct levels *l, int64_t step)
{
    hold(l, step);
    struct row open = *held_at(l, step);
    for (int i = 1; i < LEVELS_SPIKE; i++) {
        const struct row *held = held_at(l, step - i);
        for (int b = 0; b < ROW; b++) open.db[b] = most(open.db[b], held->db[b]);
    }
    const struct row *level = filled_at(l, step);
    struct row *calm = &l->calm[levels_slot(step)];
    for (int b = 0; b < ROW; b++) calm->db[b] = least(level->db[b], open.db[b] + SPIKE_DB);
    float *cut = &l->spikes[levels_slot(step)];
    *cut = 0;
    for (int b = LEVELS_SHARP_BAND; b < l->bands; b++) *cut += level->db[b] - calm->db[b];
}

void levels_calm(struct levels *l, int64_t until)
{
    if (l->calmed == 0 && until > 0) {
        l->start = before_start(l, 0, 0);
        for (int i = 1 - LEVELS_SPIKE; i < 0; i++) hold(l, i);
    }
    while (l->calmed < until) despike(l, l->calmed++);
}

/* ---- The flow ---- */

void levels_step(struct levels *l, const struct hearing *h)
{
    size_t at = levels_slot(h->step);
    float power = 0;
    for (int b = 0; b < BAND_COUNT; b++) {
        l->level[at].db[b] = b < h->bands ? decibel_of(h->band[b] + QUIETEST) : NO_BAND_DB;
        power += h->band[b];
    }
    l->filled[at] = l->level[at];
    l->power[at] = power + QUIETEST;
    l->total[at] = decibel_of(power + QUIETEST);
    l->bands = h->bands;
    l->heard = h->step + 1;
    if (l->heard == EDGE + 1) settle_edge(l, 0, EDGE);
    mind_silence(l);
}

void levels_end(struct levels *l, int more)
{
    if (!l->heard) return;
    if (l->heard > 2 * EDGE) settle_edge(l, l->heard - EDGE, l->heard - EDGE - 1);
    l->end = l->heard;
    struct row last = l->level[levels_slot(l->end - 1)];
    float power = l->power[levels_slot(l->end - 1)];
    for (int i = 0; i < more; i++) {
        size_t at = levels_slot(l->heard);
        l->level[at] = l->filled[at] = last;
        l->power[at] = power;
        l->total[at] = decibel_of(power);
        l->heard++;
        mind_silence(l);
    }
}
