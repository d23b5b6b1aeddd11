/* Keeps a timeline to the safe flash rate.
 *
 * The limiter works on the finished levels, frame by frame, and is what the
 * promise rests on. It looks at the summed light, at branches, floods and
 * every named group, and at all of them together, and follows each from peak
 * to valley; a change of 10 % or more of the all-on light is a transition
 * (WCAG 2.2, general flash; the exemption for light above 0.80 is ignored).
 * A rise may only become a transition if it and the fall that must follow
 * still fit into the second; otherwise all channels concerned are held back to
 * a rise below 10 %. A fall is always allowed, since its place was kept free.
 * The second is taken one light frame longer than it is, so that ramps
 * between frames can't undercut it, and changes from a little below 10 % on
 * must have room as well. */
#ifndef TC_LIMIT_H
#define TC_LIMIT_H

#include "rig/dimmer.h"
#include "words/model.h"

struct limiter;

/* Borrows dimmer and rig. `frames`: length of the timeline, for the seam of a
 * loop. TC_ERR_MEMORY. */
enum tc_status limiter_create(struct limiter **out, const struct dimmer *d,
                              const struct tc_settings *s, uint32_t frames);

/* Tells which strokes the frames will bring, so that those that yield can't
 * take the last room in a second. Borrows the timeline. */
void limiter_follow(struct limiter *l, const struct tc_timeline *t);

/* Lowers levels of the next frame where they would break the limit. Never
 * raises one, never allocates. Should it ever find that it let too much through,
 * a mistake of its own, all is dark from then on. */
void limiter_step(struct limiter *l, uint16_t *levels);

/* Light frames in which it had to lower something. */
size_t limiter_softened(const struct limiter *l);

/* False if that has happened. */
bool limiter_holds(const struct limiter *l);

void limiter_destroy(struct limiter *l);

#endif
