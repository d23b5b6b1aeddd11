/* The nouns that stages share and the public header does not show. Plain
 * data: whoever fills it in says so beside it. */
#ifndef TC_MODEL_H
#define TC_MODEL_H

#include "thundercue.h"

/* Analysis goes in steps of 5 ms; step k is centred on k * 5 ms. */
enum { STEP_MS = 5, STEPS_A_SECOND = 1000 / STEP_MS };

/* Half-octave bands from 60 Hz: edges 60 * 2^(i/2), the last ends at 10.86 kHz. */
enum { BAND_COUNT = TC_OVERVIEW_BANDS };
#define BAND_LOWEST_HZ 60.0

/* A pulse falls for this many time constants, then it is cut off (at 4 %). */
#define PULSE_FALL_CONSTANTS 3.2

/* What is not over where the recording ends gets this much time. Only events
 * made by hand lie beyond it, or those without a recording. */
enum { TAIL_MS = 2000 };

/* What the ear makes of one step. Powers are relative to a full-scale sine
 * (AES17: 0 dBFS), mean over the channels of the recording. */
struct hearing {
    int64_t step;
    int bands;                /* below the Nyquist frequency, 1..BAND_COUNT */
    float band[BAND_COUNT];   /* power in each band; 0 above `bands` */
    float low;                /* power from 40 to 600 Hz, where thunder rolls */
    float total;              /* power from 40 Hz up */
    float peak;               /* greatest |sample| within the step, of what lies below 11 kHz */
};

/* Samples waiting to be taken; the callee advances it. */
struct span {
    const float *samples;     /* interleaved */
    size_t frames;            /* sample frames left */
};

/* A row of an events or label file. */
struct label {
    struct tc_event event;
    long line;                /* of its file, from 1 */
    int weight;               /* 1 doubtful .. 3 unmistakable; 0 = none given */
};

/* How a finished timeline flashes. Flashes are pairs of opposing changes. */
struct flash_report {
    int64_t limit;            /* that was asked for; 0 = off */
    int64_t peak_transitions; /* most transitions in any half-open second, of the worst series */
    int64_t peak_at_ms;       /* the second that ends with it; in the time of the files */
    char peak_series[64];     /* "all", "branches", "floods", "any group" or a group's name */
    int64_t transitions;      /* of the summed light, in all */
    int64_t extended_ms;      /* time spent in extended flashing (4 s of any 5 at 4..6 transitions/s) */
    size_t softened;          /* light frames in which the limiter held a rise back */
};

/* Watts drawn by a part of the rig. */
struct load_row {
    double all_on_w;          /* sum of nameplates */
    double reached_w;         /* most in any light frame of this timeline */
    int64_t reached_at_ms;
};

struct load_report {
    struct load_row rig;
    struct load_row *channels;  /* rig order; the report owns both arrays */
    struct load_row *circuits;
    double lit_share;           /* share of light frames with any light */
    int64_t longest_dark_ms;
};

/* One row of ramps.csv. Levels in the unit of the timeline's levels. */
struct ramp {
    uint32_t start, end;      /* light frames; equal = a snap */
    uint16_t channel;         /* index into the rig */
    uint16_t start_level, end_level;
};

/* A whole timeline in columns, for drawing (columns.h). */
struct columns {
    size_t count, channels;
    uint32_t frames;         /* that they stand for */
    uint32_t at;             /* frames taken so far */
    uint16_t *level;         /* [column * channels + channel]: greatest level */
    uint8_t *flashes;        /* [column]: most flashes in any second that ends in it */
};

#endif
