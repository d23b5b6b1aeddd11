/* Soft beginnings and ends. */
#ifndef TC_FADE_H
#define TC_FADE_H

#include <stdint.h>

/* From 0 at one end to 1 at the other, half a cosine; beyond them 0 and 1. */
double fade_rise(double share);

/* The factor of frame `at` of `frames`: 0 at the very ends, 1 from `length` frames on. */
float fade_ends(int64_t at, int64_t frames, double length);

#endif
