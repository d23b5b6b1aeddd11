/* Samples to whole numbers. To 16 bits with triangular noise of two steps'
 * width (TPDF dither: S. P. Lipshitz, R. A. Wannamaker, J. Vanderkooy,
 * "Quantization and dither", JAES 40, 1992), so that what fades out becomes
 * noise rather than distortion; to 24 bits they are rounded. Digital silence
 * stays what it is. */
#ifndef TC_QUANTISE_H
#define TC_QUANTISE_H

#include <stddef.h>

#include "words/random.h"

/* Full scale is +-1; beyond is clipped. */
void quantise_16(struct randomiser *noise, const float *in, short *out, size_t count);
/* In the upper 24 of 32 bits, as libsndfile takes them. */
void quantise_24(const float *in, int *out, size_t count);

#endif
