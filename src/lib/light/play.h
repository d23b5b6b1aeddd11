/* Pulses to light: what every channel's pulses ask for, light frame by light
 * frame. The brightest pulse of a channel wins, on top of its background.
 *
 * In the frame before a stroke (where a slow lamp leads it: from the frame
 * before that on) what is left of older ones is dimmed, so that
 * the eye sees two, and light rises at every stroke; a faint one dims little,
 * and is no flash by that. This happens here, so that leaving out a stroke
 * leaves no notch.
 *
 * The fall of a pulse is an exponential drawn in three straight lines that
 * meet it at whole frames: ramps stay few, and at the end it is exactly 0. */
#ifndef TC_PLAY_H
#define TC_PLAY_H

#include "words/model.h"

struct play;

/* Borrows the timeline and the rig. Memory depends on the pulses that overlap,
 * not on the length. TC_ERR_MEMORY. */
enum tc_status play_create(struct play **out, const struct tc_timeline *t, const struct tc_rig *rig);

/* Light 0..1 of every channel in the next frame. False after the last. The
 * last frame is black. Never allocates. */
bool play_step(struct play *p, float *light);

void play_destroy(struct play *p);

#endif
