/* The light of rumbles: slow ramps of the floods, and glimmers. */
#ifndef TC_RUMBLE_LIGHT_H
#define TC_RUMBLE_LIGHT_H

#include "cueing/draft.h"

struct rumble_walk;

enum tc_status rumble_walk_create(struct rumble_walk **out, struct draft *d);
/* Adds what the rumbles show and what begins before `frame`. */
void rumble_walk_until(struct rumble_walk *w, struct draft *d, uint32_t frame);
void rumble_walk_destroy(struct rumble_walk *w);

#endif
