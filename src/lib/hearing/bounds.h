/* The smaller and the greater of two, in the form that compilers turn into one
 * instruction; fminf and fmaxf must mind NaN, which never comes here. */
#ifndef TC_HEARING_BOUNDS_H
#define TC_HEARING_BOUNDS_H

static inline float least(float a, float b)
{
    return a < b ? a : b;
}

static inline float most(float a, float b)
{
    return a > b ? a : b;
}

/* 0 up to `from`, 1 from `to` on, even between them. */
static inline float share_of(float value, float from, float to)
{
    return least(most((value - from) / (to - from), 0), 1);
}

#endif
