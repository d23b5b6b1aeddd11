#include "rig/rope.h"

#include <math.h>

double rope_tension(double span, double sag, double centre, double uniform)
{
    double along = (centre * span / 4 + uniform * span * span / 8) / sag;
    double down = (centre + uniform * span) / 2;
    return hypot(along, down);
}

double rope_length_v(double span, double sag)
{
    return 2 * hypot(span / 2, sag);
}

double rope_sag_stretched(double span, double sag, double share)
{
    double half = rope_length_v(span, sag) * (1 + share) / 2;
    return sqrt(half * half - span * span / 4);
}

double rope_working_load(double breaking, double knot, double design_factor)
{
    return breaking * knot / design_factor;
}

double rope_breaking_needed(double tension, double knot, double design_factor)
{
    return tension * design_factor / knot;
}
