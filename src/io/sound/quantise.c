#include "io/sound/quantise.h"

#include <math.h>
#include <stdint.h>

/* The nearest whole number within a range of -scale to scale - 1. */
static long nearest(double v, double scale)
{
    return lrint(fmax(-scale, fmin(scale - 1, v)));
}

/* The difference of two uniform numbers: triangular, from -1 to 1. */
static double triangular(struct randomiser *r)
{
    uint64_t both = random_next(r);
    return ((double)(uint32_t)both - (double)(uint32_t)(both >> 32)) / 4294967296.0;
}

void quantise_16(struct randomiser *noise, const float *in, short *out, size_t count)
{
    enum { SCALE = 1 << 15 };
    for (size_t i = 0; i < count; i++)
        out[i] = in[i] == 0 ? 0 : (short)nearest((double)in[i] * SCALE + triangular(noise), SCALE);
}

void quantise_24(const float *in, int *out, size_t count)
{
    enum { SCALE = 1 << 23, PLACE = 1 << 8 };
    for (size_t i = 0; i < count; i++) out[i] = PLACE * (int)nearest((double)in[i] * SCALE, SCALE);
}
