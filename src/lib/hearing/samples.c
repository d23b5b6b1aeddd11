#include "hearing/samples.h"

#include <math.h>
#include <string.h>

/* Infinities and NaN have all exponent bits set. Counting is a loop that the
 * compiler vectorises; mending is rare. */
int64_t samples_mend(float *samples, size_t count)
{
    const uint32_t exponent = 0x7F800000u;
    uint32_t bad = 0;
    for (size_t i = 0; i < count; i++) {
        uint32_t bits;
        memcpy(&bits, samples + i, sizeof bits);
        bad += (bits & exponent) == exponent;
    }
    if (!bad) return 0;
    for (size_t i = 0; i < count; i++)
        if (!isfinite(samples[i])) samples[i] = 0;
    return bad;
}
