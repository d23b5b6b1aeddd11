/* How a pulse shines and what a stroke makes of its pulses, for all who plan,
 * play and limit. */
#ifndef TC_PULSE_H
#define TC_PULSE_H

#include "thundercue.h"

/* Light 1 in a pulse. */
enum { PULSE_LIGHT_FULL = 65535 };

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

/* True for a pulse that swells up to its peak and falls again, as glimmers do
 * and the ripples of a glow: it leads no stroke. */
bool pulse_swells(const struct tc_pulse *p);
/* When the first of a stroke's lamps lights: in its own frame, or before it
 * where slow lamps lead it. */
uint32_t stroke_opens(const struct tc_timeline *t, const struct tc_stroke *k);
/* True if the stroke's light can't be a flash by itself. */
bool stroke_is_faint(const struct tc_stroke *k);

#endif
