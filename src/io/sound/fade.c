#include "io/sound/fade.h"

#include <math.h>

double fade_rise(double share)
{
    return share <= 0 ? 0 : share >= 1 ? 1 : 0.5 - 0.5 * cos(3.141592653589793 * share);
}

float fade_ends(int64_t at, int64_t frames, double length)
{
    int64_t from_end = at < frames - 1 - at ? at : frames - 1 - at;
    return (double)from_end >= length ? 1 : (float)fade_rise((double)from_end / length);
}
