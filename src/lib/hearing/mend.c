#include "hearing/mend.h"

#include <string.h>

/* 120 dB over full scale: no recording, but a broken file. */
#define LOUDEST 1e6f

/* Without their sign, floats are in the order of their bits, infinities and NaN
 * above all others. Counting is a loop that the compiler vectorises; mending is
 * rare. */
static uint32_t magnitude(float sample)
{
    uint32_t bits;
    memcpy(&bits, &sample, sizeof bits);
    return bits & 0x7FFFFFFFu;
}

int64_t mend_samples(float *samples, size_t count)
{
    const uint32_t most = magnitude(LOUDEST);
    uint32_t bad = 0;
    for (size_t i = 0; i < count; i++) bad += magnitude(samples[i]) > most;
    for (size_t i = 0; bad && i < count; i++)
        if (magnitude(samples[i]) > most) samples[i] = 0;
    return bad;
}
