/* How much of its light each stroke of a timeline gets: a dry run of the player
 * with the flash limit beside one without it. */
#ifndef TC_REACHED_H
#define TC_REACHED_H

#include "thundercue.h"

/* Below this share a stroke's light counts as held back. */
#define REACHED_HELD_BACK 0.5f

/* share[i]: light that stroke i rises by in its own frame with the limit, of
 * what it rises by without; 0..1. 1 for a stroke that rises by nothing. There is
 * room for t->stroke_count. TC_ERR_USAGE, TC_ERR_MEMORY. */
enum tc_status strokes_reached(const struct tc_timeline *t, const struct tc_rig *rig, const struct tc_settings *s,
                               const struct tc_watch *watch, float *share);

/* Cracks whose first stroke gets less than REACHED_HELD_BACK of its light for
 * the flash limit: strokes that nobody sees. *which is a new list of *count
 * numbers of events, for memory_free. `events` are those that the timeline was
 * cued from. TC_ERR_USAGE, TC_ERR_MEMORY. */
enum tc_status cracks_held_back(const struct tc_timeline *t, const struct tc_event *events, const struct tc_rig *rig,
                                const struct tc_settings *s, const struct tc_watch *watch, uint32_t **which,
                                size_t *count);

#endif
