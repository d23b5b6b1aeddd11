/* The steady noise of each band: hiss, hum, rain, wind.
 *
 * A band that noise fills up to near the loud level can't rise as far as one
 * that is silent between claps. So the level that each band keeps to when it is
 * quiet, the tenth percentile of its levels within the window, counts as noise
 * if it is steady: if the 5th and the 30th percentile lie close together. Steady
 * noise has 2 to 5 dB between them, decaying thunder 8 to 20; all bands together
 * 1 to 3, thunder 5 and more. Digital silence is none of it: a recording padded
 * with it has the noise that it had. Levels are counted by whole dB, and looked
 * at every 0.1 s. */
#ifndef TC_HEARING_QUIET_H
#define TC_HEARING_QUIET_H

#include "words/model.h"

enum {
    QUIET_LOWEST = -112,        /* dB of the first bin */
    QUIET_BINS = 144,
    QUIET_WINDOW = 1 << 15,     /* steps remembered: more than are counted at once */
    QUIET_ALL = BAND_COUNT,     /* the track of all bands together, beside those of each */
    QUIET_TRACKS,
};

struct quiet {
    uint8_t bin[QUIET_WINDOW][QUIET_TRACKS];  /* of each step, by step modulo; QUIET_BINS: skipped */
    int32_t count[QUIET_TRACKS][QUIET_BINS];
    int64_t from, to;           /* steps within reach */
    int64_t counted;            /* of these */
    float low[QUIET_TRACKS];    /* tenth percentile, dB */
    float steady[QUIET_TRACKS]; /* 0 none of it is noise, 1 all */
    float loudest[QUIET_TRACKS]; /* to a dB */
};

/* The next step, in order: levels in dB of the bands, and of all together. */
void quiet_add(struct quiet *q, const float *db, float all);

/* The next step is digital silence: that is no noise, and is not counted. */
void quiet_skip(struct quiet *q);

/* Forgets the steps before `step`. */
void quiet_forget(struct quiet *q, int64_t step);

/* Measures anew what was added. */
void quiet_measure(struct quiet *q);

/* How much there is to hear beside steady noise, 0..1: less than all where the
 * loud level comes hardly over it. Rain or hiss alone has no cracks. Where bands
 * enough rise over their own noise there is: a tone, hum or insects hold all the
 * power there is in a band or two and hide nothing in the others. */
float quiet_audible(const struct quiet *q, float loud);

/* Level in dB that noise keeps band `b` at, not under `floor`. */
float quiet_level(const struct quiet *q, int b, float floor);

/* The loudest that band `b` gets, to a dB. */
float quiet_loudest(const struct quiet *q, int b);

#endif
