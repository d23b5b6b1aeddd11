/* Pulses to light: adds up, light frame by light frame, what every channel's
 * pulses ask for. The brightest pulse of a channel wins. */
#ifndef TC_PLAY_H
#define TC_PLAY_H

#include "model.h"

struct play;

/* Borrows the timeline. Memory depends on the pulses that overlap, not on the
 * length. TC_ERR_MEMORY. */
enum tc_status play_create(struct play **out, const struct tc_timeline *t, size_t channels);

/* Light 0..1 of every channel in the next frame. False after the last. The
 * last frame is black. Never allocates. */
bool play_step(struct play *p, float *light);

void play_destroy(struct play *p);

#endif
