/* Two records of the whole recording that cueing and drawing need: the
 * envelope (low-band level, one byte per light frame) and the overview (a
 * drawing in a fixed number of columns). */
#ifndef TC_ENVELOPE_H
#define TC_ENVELOPE_H

#include "words/model.h"

struct envelope;

/* TC_ERR_MEMORY. */
enum tc_status envelope_create(struct envelope **out, int64_t frame_rate);
/* The next step, in order. TC_ERR_MEMORY (only when the result grows). */
enum tc_status envelope_step(struct envelope *e, const struct hearing *h);
/* Moves both records into *out. TC_ERR_MEMORY. */
enum tc_status envelope_finish(struct envelope *e, struct tc_analysis *out);
void envelope_destroy(struct envelope *e);

#endif
