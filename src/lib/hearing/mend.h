/* Samples as they come from strangers. */
#ifndef TC_MEND_H
#define TC_MEND_H

#include <stddef.h>
#include <stdint.h>

/* Turns NaN, infinities and what is 120 dB over full scale into silence; returns
 * how many there were. */
int64_t mend_samples(float *samples, size_t count);

#endif
