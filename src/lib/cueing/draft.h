/* A timeline under way: what all parts of the cueing stage read from and add
 * to.
 *
 *     events --flash_draw--> strokes with times and lights
 *     strokes + rig --paths--> which channels
 *     channels + lamps --light--> pulses            (a crack as a whole: crack)
 *     rumbles + envelope --rumble_light--> ramps of the floods, and glimmers
 *     all of that --thin--> no more strokes than the flash limit has room for
 *
 * Nothing knows the past but for the last few paths: every event draws from
 * streams of its own, keyed by its start, so that editing one by hand leaves
 * the others as they were. */
#ifndef TC_DRAFT_H
#define TC_DRAFT_H

#include "cueing/paths.h"
#include "thundercue.h"
#include "words/random.h"

/* What a stream of random numbers is for. */
enum draw { DRAW_STROKES, DRAW_PATH, DRAW_FORKS, DRAW_SIDE, DRAW_GLOW, DRAW_GLIMMER, DRAW_CLOUD, DRAW_RIPPLE };

struct draft {
    const struct tc_analysis *heard;
    const struct tc_settings *settings;
    struct paths paths;
    struct tc_timeline *out;
    size_t stroke_room, pulse_room;
    uint64_t key;           /* seed and length of the recording, if there is one */
    int64_t from_ms, to_ms; /* the part that is lit */
    bool out_of_memory;     /* checked once, at the end */
};

struct randomiser draft_random(const struct draft *d, enum draw what, int64_t start_ms);
/* The light frame for a moment of the recording, lead and all. */
uint32_t draft_frame(const struct draft *d, int64_t ms, double earlier_ms);
/* A time in light frames, rounded. */
int64_t draft_frames(const struct draft *d, double ms);

void draft_pulse(struct draft *d, struct tc_pulse pulse);
/* Strokes may come in any order until draft_finish. */
void draft_stroke(struct draft *d, struct tc_stroke stroke);
/* Puts the strokes in order. */
void draft_finish(struct draft *d);

/* Light 0..1 and a number of light frames as pulses hold them. */
uint16_t light_word(double light);
uint16_t frames_word(int64_t frames);

#endif
