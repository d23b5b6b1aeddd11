/* Samples as they come from strangers. */
#ifndef TC_SAMPLES_H
#define TC_SAMPLES_H

#include <stddef.h>
#include <stdint.h>

/* Turns NaN and infinities into silence; returns how many there were. */
int64_t samples_mend(float *samples, size_t count);

#endif
