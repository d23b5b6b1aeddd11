/* How long the fall after a stroke can still be seen as one: whoever begins to
 * look while enough light is left counts it, however late that is. */
#ifndef TC_TAIL_H
#define TC_TAIL_H

#include "thundercue.h"

struct tail;

/* Borrows timeline and rig. TC_ERR_MEMORY. */
enum tc_status tail_create(struct tail **out, const struct tc_timeline *t, const struct tc_rig *rig);
/* Frames from a stroke's own to the first at which a look no longer finds a
 * transition in its fall: on the summed light, on branches, floods and every
 * group. 1 or more. */
int64_t tail_of(struct tail *t, const struct tc_stroke *stroke);
void tail_destroy(struct tail *t);

#endif
