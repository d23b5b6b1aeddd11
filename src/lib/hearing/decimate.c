#include "hearing/decimate.h"

#include <math.h>
#include <string.h>

#define PI   3.141592653589793
#define BETA 6.0

/* Modified Bessel function of the first kind, order 0, by its power series. */
static double bessel(double x)
{
    double sum = 1, term = 1;
    for (int k = 1; k < 32; k++) {
        term *= (x / (2 * k)) * (x / (2 * k));
        sum += term;
    }
    return sum;
}

void decimator_start(struct decimator *d)
{
    memset(d, 0, sizeof *d);
    double sum = 0, c[DECIMATE_TAPS];
    for (int i = 0; i < DECIMATE_TAPS; i++) {
        double n = 2 * i + 1, edge = n / (2 * DECIMATE_TAPS);
        c[i] = sin(PI * n / 2) / (PI * n) * bessel(BETA * sqrt(1 - edge * edge)) / bessel(BETA);
        sum += 2 * c[i];
    }
    for (int i = 0; i < DECIMATE_TAPS; i++) d->coefficient[i] = (float)(c[i] * 0.5 / sum);
    /* Silence before the start: TAPS samples to look back on. */
    d->evens = d->odds = DECIMATE_TAPS;
}

/* y[m] = e[m] / 2 + sum over i of c[i] (o[m + i] + o[m - i - 1]); loops over m
 * innermost, so that the compiler works on several outputs at once. */
static void filter(const struct decimator *d, size_t count, float *restrict out)
{
    const float *even = d->even + DECIMATE_TAPS, *odd = d->odd + DECIMATE_TAPS;
    for (size_t m = 0; m < count; m++) out[m] = 0.5f * even[m];
    for (size_t i = 0; i < DECIMATE_TAPS; i++) {
        const float c = d->coefficient[i];
        const float *after = odd + i, *before = odd - i - 1;
        for (size_t m = 0; m < count; m++) out[m] += c * (after[m] + before[m]);
    }
}

size_t decimator_step(struct decimator *d, const float *in, size_t count, float *out)
{
    size_t i = 0;
    if (!count) return 0;
    if (d->next_is_odd) d->odd[d->odds++] = in[i++];
    for (; i + 1 < count; i += 2) {
        d->even[d->evens++] = in[i];
        d->odd[d->odds++] = in[i + 1];
    }
    d->next_is_odd = i < count;
    if (d->next_is_odd) d->even[d->evens++] = in[i];

    /* Output m needs odd samples up to m + TAPS - 1 after the look-back. */
    size_t ready = d->odds > 2 * DECIMATE_TAPS - 1 ? d->odds - (2 * DECIMATE_TAPS - 1) : 0;
    if (ready > d->evens - DECIMATE_TAPS) ready = d->evens - DECIMATE_TAPS;
    filter(d, ready, out);
    d->evens -= ready;
    d->odds -= ready;
    memmove(d->even, d->even + ready, d->evens * sizeof *d->even);
    memmove(d->odd, d->odd + ready, d->odds * sizeof *d->odd);
    return ready;
}
