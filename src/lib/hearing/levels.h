/* The levels of all bands in dB, step by step, as detection wants them.
 *
 * As heard: with the edges of the recording mended, so that a cut from or to
 * silence is neither a rise nor a fall. Before the start lies what the recording
 * goes on with, or what it begins with if that is clearly quieter: one that
 * opens amid the roll has no crack there, one that opens on the very crack, or
 * just before it, has. After the end goes on what was there last.
 *
 * Filled: a sound that sets in out of digital silence is such a start, too, but
 * over 1.5 dB less: a splice, a gate that opens, a file padded with silence. Over
 * a dropout, shorter than 0.2 s, goes on what it interrupts.
 *
 * Calm: that, despiked. A band may stand at most 8 dB above its opening in time over
 * 35 ms (the highest level that it holds for 35 ms around the moment). Clicks
 * and drops, even smeared over the analysis window, are shorter. */
#ifndef TC_HEARING_LEVELS_H
#define TC_HEARING_LEVELS_H

#include "words/model.h"

enum {
    LEVELS_HELD = 1 << 14,      /* steps that are remembered */
    LEVELS_SPIKE = 7,           /* a band must hold a level this long: longer than the window */
    LEVELS_AHEAD = 120,         /* steps that must have been heard beyond one whose level is wanted */
    LEVELS_SHARP_BAND = 9,      /* bands from here on, 1.36 kHz, are the highs */
};

/* Levels of all bands, with room up to a multiple of four: the sums over rows
 * are what detection costs, and four at a time go fast. Above `bands` -200. */
enum { ROW = (BAND_COUNT + 3) / 4 * 4 };
struct row {
    float db[ROW];
};

/* Steps from 0 on; the last LEVELS_HELD of them are there. */
struct levels {
    int64_t heard;              /* steps there are, those after the end too */
    int64_t end;                /* steps of the recording, once it has ended; else far away */
    int64_t mended;             /* the first step not yet looked at for digital silence before it */
    int64_t calmed;             /* the first step without a calm level */
    int bands;
    struct row level[LEVELS_HELD];  /* as heard */
    struct row filled[LEVELS_HELD]; /* the same, but for digital silence before a sound that sets in */
    struct row calm[LEVELS_HELD];
    struct row held[2 * LEVELS_SPIKE + 2]; /* least level of the LEVELS_SPIKE steps from this one on, by step modulo */
    struct row start;           /* what lies before the start */
    float power[LEVELS_HELD];   /* of all bands, never 0 */
    float total[LEVELS_HELD];   /* the same in dB */
    float spikes[LEVELS_HELD];  /* dB that were cut off the highs */
};

/* Nothing is heard yet. */
void levels_start(struct levels *l);

/* The next step, in order from 0. */
void levels_step(struct levels *l, const struct hearing *h);

/* After the last step: `more` steps after the end. */
void levels_end(struct levels *l, int more);

/* Is this step, as it was heard, digital silence? */
bool levels_silent(const struct levels *l, int64_t step);

/* Calms the steps before `until`; LEVELS_AHEAD after it have been heard. */
void levels_calm(struct levels *l, int64_t until);

static inline size_t levels_slot(int64_t step)
{
    return (size_t)step & (LEVELS_HELD - 1);
}

/* Before the start lies what the recording goes on with. */
static inline const struct row *levels_at(const struct levels *l, int64_t step)
{
    return step < 0 ? &l->start : &l->level[levels_slot(step)];
}

static inline const struct row *levels_calm_at(const struct levels *l, int64_t step)
{
    return step < 0 ? &l->start : &l->calm[levels_slot(step)];
}

#endif
