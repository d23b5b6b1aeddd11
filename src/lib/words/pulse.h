/* How a pulse shines: the one shape that player and planner share. */
#ifndef TC_PULSE_H
#define TC_PULSE_H

#include "thundercue.h"

enum { PULSE_KNOTS = 4 };

/* A fall as straight lines; worked out once for a pulse. */
struct pulse_fall {
    uint32_t knot[PULSE_KNOTS]; /* frames after the peak */
    float share[PULSE_KNOTS];   /* of the way from the glow to the peak */
};

struct pulse_fall pulse_fall_of(const struct tc_pulse *p);
/* The first frame with light, and the first without it again. */
uint32_t pulse_begin(const struct tc_pulse *p);
uint32_t pulse_end(const struct tc_pulse *p);
float pulse_light(const struct tc_pulse *p, const struct pulse_fall *f, uint32_t frame);

#endif
