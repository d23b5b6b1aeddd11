/* The light of a show as it will be sent: 0..255 for every slot, light frame
 * by light frame, held in memory as changes, so that nothing has to be read or
 * worked out while it plays. What goes in is counted for flashes, as levels of
 * 8 bits, by the independent counter. */
#ifndef TC_TRACK_H
#define TC_TRACK_H

#include "words/model.h"

enum { TRACK_FULL = 255 };

struct track_change {
    uint16_t slot;
    uint8_t level;
};

/* Where a channel's level goes, and its share of all light. */
struct track_output {
    size_t slot;
    double share;
};

struct track {
    const struct tc_rig *rig;     /* borrowed */
    size_t slots;                 /* whole universes */
    size_t frames;
    int64_t *at_us;               /* by frame, rising */
    size_t *first;                /* by frame: its first change; one more than there are frames */
    uint8_t *bright;              /* by frame: light of all channels, 255 = all on */
    struct track_change *changes;
    struct flash_report flash;    /* filled in by track_count */
    size_t frame_room, change_room;
    struct track_output *outputs; /* by channel */
    uint8_t *last;                /* slots as the last frame left them */
};

/* TC_ERR_MEMORY. */
enum tc_status track_begin(struct track *t, const struct tc_rig *rig);
/* The next light frame: levels 0..255 in rig order, at a later moment than the
 * one before. TC_ERR_FORM if it comes less than 1/44 s after it (the light
 * network takes no more), TC_ERR_MEMORY. */
enum tc_status track_add(struct track *t, int64_t at_us, const uint16_t *levels, struct tc_problem *why);

/* Counts the flashes of what will be sent, over the seam too if it repeats
 * every `lap_us` (0 = it does not). TC_ERR_MEMORY. */
enum tc_status track_count(struct track *t, int64_t limit, int64_t lap_us);
bool track_flashes_too_fast(const struct track *t);

/* Applies a frame's changes to `slots` (frame 0 after all were set to 0). */
void track_apply(const struct track *t, size_t frame, uint8_t *slots);

void track_clear(struct track *t);

#endif
