/* The parts of the cueing stage, for cue*.c and their tests alone.
 *
 *     events --cue_flash--> strokes with times and lights
 *     strokes + rig --cue_ways--> which channels
 *     channels + lamps --cue_light--> pulses
 *     rumbles + envelope --cue_rumble--> ramps of the floods, and glimmers
 *
 * Nothing here knows the past but for the last few ways: every event draws
 * from streams of its own, keyed by its start, so that editing one by hand
 * leaves the others as they were. */
#ifndef TC_CUE_H
#define TC_CUE_H

#include "words/model.h"
#include "words/random.h"

/* What a stream of random numbers is for. */
enum draw { DRAW_STROKES, DRAW_WAY, DRAW_FORKS, DRAW_SIDE, DRAW_GLOW, DRAW_GLIMMER, DRAW_CLOUD, DRAW_RIPPLE };

/* ---- Flashes: what is known of lightning ---- */

/* High-speed records know up to 26 strokes (from memory: Rakov & Uman 2003). */
enum { FLASH_STROKES_MOST = 26 };

struct flash_stroke {
    double after_ms;        /* after the first */
    double light;           /* the first is 1; may be above */
    bool heard;
};

/* Draws a flash from the published statistics: how many strokes (forced if
 * > 0), when, how bright. Returns the number of strokes, at least 1. */
int flash_draw(struct randomiser *r, const struct tc_settings *s, int forced,
               struct flash_stroke strokes[FLASH_STROKES_MOST]);

/* The same, but strokes that can be heard come first: attacks soon after the
 * crack a->events[event] and before `until_ms`. */
int flash_plan(struct randomiser *r, const struct tc_settings *s, const struct tc_analysis *a,
               size_t event, int64_t until_ms, struct flash_stroke strokes[FLASH_STROKES_MOST]);

/* ---- Ways through the rig ---- */

#define NO_TIP 65535u
enum { WAYS_LAST = 4 };

/* The rig as a bolt sees it: indices of channels. */
struct grove {
    const struct tc_rig *rig;
    uint16_t *tips;         /* branches from which none grows */
    size_t tip_count;
    uint16_t *floods;
    size_t flood_count;
    uint16_t *shuffled;     /* room for all tips */
    int32_t *first_child, *next_sibling; /* by channel; -1 = none */
    int32_t first_root;
    bool branches_alike, floods_alike;   /* lamps need the same treatment */
    uint16_t last[WAYS_LAST];            /* the tips taken last */
    size_t last_count;
};

enum tc_status grove_create(struct grove *out, const struct tc_rig *rig);
void grove_clear(struct grove *g);

/* A tip other than the last few, every tip as likely. NO_TIP without branches. */
uint16_t grove_new_way(struct grove *g, struct randomiser *r);
/* For a stroke that leaves the way of `tip`: another tip, rather one that
 * shares much of the way; `tip` itself if there is no other. */
uint16_t grove_other_way(struct grove *g, struct randomiser *r, uint16_t tip);
/* Remembers that a flash took this way. */
void grove_took(struct grove *g, uint16_t tip);

/* Channels beside the way that light with it; returns how many, at most
 * `most`. `readiness` 0..1. */
size_t grove_forks(const struct grove *g, struct randomiser *r, uint16_t tip, double readiness,
                   uint16_t *forks, size_t most);

/* ---- The timeline under way ---- */

struct cueing {
    const struct tc_analysis *heard;
    const struct tc_settings *settings;
    struct grove grove;
    struct tc_timeline *out;
    size_t stroke_room, pulse_room;
    uint64_t key;           /* seed and length of the recording, if there is one */
    int64_t from_ms, to_ms; /* the part that is lit */
    bool out_of_memory;     /* checked once, at the end */
    struct rumble_walk *rumbles;
};

struct randomiser cue_draw(const struct cueing *q, enum draw what, int64_t start_ms);
/* The light frame for a moment of the recording, lead and all. */
uint32_t cue_frame(const struct cueing *q, int64_t ms, double earlier_ms);
/* A time in light frames, rounded. */
int64_t cue_frames(const struct cueing *q, double ms);

/* ---- Strokes into pulses ---- */

enum { FORKS_MOST = 64 };

struct strike {
    uint32_t event;
    int order;
    bool heard;
    int64_t at_ms;          /* in the recording */
    int64_t gap_ms;         /* since the stroke before, large for the first */
    uint32_t frame;
    uint32_t frame_least;   /* pulses that start early don't start before this */
    uint16_t tip;           /* or NO_TIP */
    const uint16_t *forks;  /* beside the way; by hand: all that is lit */
    size_t fork_count;
    bool by_hand;
    enum tc_side side;      /* of the floods that shine full */
    double branch_light, fork_light, flood_light;
    double other_side;      /* share of the floods on the other side */
    double glow_ms;         /* 0 = none */
    double softness;        /* 0 near .. 1 far: slower falls */
};

/* Adds a stroke, brightest in its frame. False if it would show nothing. */
bool cue_strike(struct cueing *q, const struct strike *k);
void cue_pulse(struct cueing *q, struct tc_pulse pulse);
void cue_stroke(struct cueing *q, struct tc_stroke stroke);

/* ---- Rumbles ---- */

struct rumble_walk;

enum tc_status rumble_walk_create(struct rumble_walk **out, struct cueing *q);
/* Adds what the rumbles show and what begins before `frame`. */
void rumble_walk_until(struct rumble_walk *w, struct cueing *q, uint32_t frame);
void rumble_walk_destroy(struct rumble_walk *w);

#endif
