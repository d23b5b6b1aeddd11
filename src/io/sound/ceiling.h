/* Keeps stereo samples under a ceiling, for where several sounds add up: the
 * level gives way softly before the peak comes and returns after it. What
 * never reaches the ceiling passes as it is, only later by ceiling_delay. */
#ifndef TC_CEILING_H
#define TC_CEILING_H

#include <stddef.h>

#include "thundercue.h"

struct ceiling;

/* TC_ERR_MEMORY. */
enum tc_status ceiling_create(struct ceiling **out, int rate, float most);

/* By how many frames the output lags: it begins with that many silent ones. */
size_t ceiling_delay(const struct ceiling *l);

/* In place, in pieces of any size. No sample comes out above the ceiling. */
void ceiling_step(struct ceiling *l, float *pair, size_t frames);

/* How many frames came out softer than they went in, by half a decibel at least. */
long long ceiling_softened(const struct ceiling *l);

/* NULL is fine. */
void ceiling_destroy(struct ceiling *l);

#endif
