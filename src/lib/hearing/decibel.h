/* Decibels of a power, in plain additions and multiplications: the same bits
 * from every C library and every compiler, which logf does not give. */
#ifndef TC_DECIBEL_H
#define TC_DECIBEL_H

#include <stdint.h>
#include <string.h>

/* 10 log10 of a positive normal number, to 0.00001. With m between sqrt(1/2)
 * and sqrt(2) and t = (m - 1) / (m + 1), ln m = 2 (t + t^3/3 + t^5/5 + ...). */
static inline float decibel_of(float power)
{
    uint32_t bits;
    memcpy(&bits, &power, sizeof bits);
    const int32_t above = (int32_t)bits - 0x3F3504F3; /* sqrt(1/2) */
    const int32_t octaves = above >> 23;
    const uint32_t rest = bits - ((uint32_t)octaves << 23);
    float m;
    memcpy(&m, &rest, sizeof m);
    const float t = (m - 1) / (m + 1), tt = t * t;
    const float ln = 2 * t * (1 + tt * (0.33333333f + tt * (0.2f + tt * 0.14285714f)));
    return 3.0103000f * (float)octaves + 4.3429448f * ln;
}

#endif
