/* A crack: the strokes of its flash, each with its path and its floods. */
#ifndef TC_CRACK_H
#define TC_CRACK_H

#include "cueing/draft.h"

/* Adds the strokes of the crack heard->events[event]; its restrikes end before
 * `until_ms`, the next crack. */
void crack_cue(struct draft *d, size_t event, int64_t until_ms);

#endif
