/* Four complex Fourier transforms at once, side by side in the lanes of the
 * processor's vectors. The same additions and multiplications in the same
 * order on every machine, so the same bits.
 *
 * A general library transforms one series at a time and leaves three quarters
 * of every vector idle; listening is mostly transforms, and neighbouring steps
 * are independent of each other. Tests hold it against kissfft.
 *
 * Method: Stockham's self-sorting transform, decimation in frequency, radix 4,
 * 3 and 2 (C. Van Loan, Computational Frameworks for the Fast Fourier
 * Transform, SIAM 1992, 1.7). */
#ifndef TC_FOURIER_H
#define TC_FOURIER_H

#include <stddef.h>

#include "thundercue.h"

enum { FOURIER_LANES = 4 };

/* One value of four series. */
typedef float four __attribute__((vector_size(FOURIER_LANES * sizeof(float))));

struct quad {
    four re, im;
};

struct fourier;

/* The least size of at least `least` that is even and a product of 2s and 3s. */
size_t fourier_size(size_t least);

/* TC_ERR_USAGE for a size that is not such a product; TC_ERR_MEMORY. */
enum tc_status fourier_create(struct fourier **out, size_t size);

/* X[k] = sum over i of x[i] exp(-2 pi j i k / size), for each lane. Overwrites
 * `data` (`size` elements); the result lies in it or in the transform's own
 * memory, where it stays until the next run. */
struct quad *fourier_run(struct fourier *f, struct quad *data);

/* NULL is fine. */
void fourier_destroy(struct fourier *f);

#endif
