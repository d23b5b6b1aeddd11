#include "hearing/levels.h"

#include "hearing/bounds.h"
#include "hearing/decibel.h"

/* Lengths in steps of 5 ms. */
enum {
    EDGE = 3,           /* steps whose window reaches over the start or the end */
    GOES_ON_FROM = 13, GOES_ON_TO = 59, /* what the recording goes on with */
    GOES_ON_LEAST = 10, /* so many of these at least; else it was a burst */
    SEEN_EARLY = 2,     /* steps by which the window sees a sound before it comes */
    LOOKED_BACK = 40,   /* no rise is measured over more than these; shorter silences are dropouts */
    LEFT = 8,           /* steps before a dropout that tell what it interrupts */
    LATE_START = 20,    /* so much digital silence at the start is left by encoders */
};

#define SPIKE_DB         8.0f    /* over the level that is held */
#define START_QUIETER_DB 6.0f    /* a beginning this much quieter than what follows counts as such */
#define LEAD_DB          8.0f    /* more than a window half in silence takes: something soft led up to the sound */
#define SET_IN_DB        1.5f    /* out of digital silence a sound sets in over so much less than it goes on with */
#define QUIETEST         1e-11f  /* power added to each band: -110 dBFS, under 16-bit noise */
#define SILENT           1e-15f  /* power of all bands: -150 dBFS, far under what any format keeps of sound */
#define NO_BAND_DB       -200.0f

void levels_start(struct levels *l)
{
    l->heard = 0;
    l->calmed = 0;
    l->mended = 0;
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

bool levels_silent(const struct levels *l, int64_t step)
{
    return l->power[levels_slot(step)] < QUIETEST + SILENT;
}

/* What lies before a sound that begins at `from`: so much less than what it goes
 * on with, or the sound itself if it begins clearly quieter. False if it is too
 * short to tell. */
static bool find_before(const struct levels *l, int64_t from, float set_in_db, struct row *before)
{
    float goes_on = 0, sum[ROW] = { 0 };
    int count = 0;
    for (int64_t i = from + GOES_ON_FROM; i <= from + GOES_ON_TO; i++) {
        if (levels_silent(l, i)) continue;
        goes_on += l->total[levels_slot(i)];
        for (int b = 0; b < ROW; b++) sum[b] += l->level[levels_slot(i)].db[b];
        count++;
    }
    if (count < GOES_ON_LEAST) return false;
    *before = l->filled[levels_slot(from)];
    if (l->total[levels_slot(from)] < goes_on / (float)count - START_QUIETER_DB) return true;
    for (int b = 0; b < ROW; b++) before->db[b] = sum[b] / (float)count - set_in_db;
    return true;
}

static void find_start(struct levels *l)
{
    if (!find_before(l, 0, 0, &l->start)) l->start = l->filled[0];
}

/* ---- Digital silence ---- */

/* The mean of what was there in the LEFT steps before `step`, as filled. */
static struct row mean_before(const struct levels *l, int64_t step)
{
    struct row mean = { { 0 } };
    for (int64_t i = step - LEFT; i < step; i++)
        for (int b = 0; b < ROW; b++) mean.db[b] += l->filled[levels_slot(i)].db[b] / LEFT;
    return mean;
}

/* A sound sets in at step `sets_in`, out of digital silence. What lay before a
 * dropout, or else what lies before the sound by what it goes on with, takes the
 * place of the silence, as far back as anybody looks; the steps whose window
 * still holds some of the silence are taken to be like the first whole one. A
 * short burst stays one. */
static void fill_silence(struct levels *l, int64_t sets_in)
{
    int64_t from = sets_in + SEEN_EARLY, whole = from + EDGE, silent = sets_in;
    while (silent > 0 && sets_in - silent < LOOKED_BACK && levels_silent(l, silent - 1)) silent--;
    bool starts_late = silent == 0 && sets_in <= LATE_START;
    bool dropout = sets_in - silent < LOOKED_BACK && silent >= EDGE + LEFT;
    bool led_up_to = l->total[levels_slot(whole)] > l->total[levels_slot(from)] + LEAD_DB;
    struct row before;
    if (dropout) {
        silent -= EDGE;
        before = mean_before(l, silent);
    } else if (!find_before(l, led_up_to ? from : whole, starts_late ? 0 : SET_IN_DB, &before)) return;
    for (int64_t i = silent; i < from; i++) l->filled[levels_slot(i)] = before;
    for (int64_t i = from; !led_up_to && i < whole; i++) l->filled[levels_slot(i)] = l->level[levels_slot(whole)];
}

static void mend(struct levels *l, int64_t until)
{
    for (; l->mended < until; l->mended++)
        if (l->mended > 0 && levels_silent(l, l->mended - 1) && !levels_silent(l, l->mended)) fill_silence(l, l->mended);
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
    int64_t looked_at = until + LEVELS_SPIKE + LOOKED_BACK;
    mend(l, looked_at < l->end ? looked_at : l->end);
    if (l->calmed == 0 && until > 0) {
        find_start(l);
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
}

void levels_end(struct levels *l, int more)
{
    if (!l->heard) return;
    if (l->heard > 2 * EDGE) settle_edge(l, l->heard - EDGE, l->heard - EDGE - 1);
    l->end = l->heard;
    struct row last = l->level[levels_slot(l->end - 1)];
    float power = l->power[levels_slot(l->end - 1)];
    for (int i = 0; i < more; i++, l->heard++) {
        size_t at = levels_slot(l->heard);
        l->level[at] = l->filled[at] = last;
        l->power[at] = power;
        l->total[at] = decibel_of(power);
    }
}
