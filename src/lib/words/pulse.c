#include "words/pulse.h"

#include <math.h>

#include "words/flash_rule.h"
#include "words/model.h"

/* Where the straight lines of a fall meet the exponential, in shares of the
 * fall: at 1, 0.45, 0.15 and (there it is cut off) 0 of its light. The lines
 * pass it by at most 0.09. */
static const double knot_at[PULSE_KNOTS] = { 0, 0.25, 0.6, 1 };

struct pulse_fall pulse_fall_of(const struct tc_pulse *p)
{
    struct pulse_fall f;
    for (int i = 0; i < PULSE_KNOTS; i++) {
        f.knot[i] = (uint32_t)(knot_at[i] * p->fall + 0.5);
        f.share[i] = p->fall ? (float)exp(-PULSE_FALL_CONSTANTS * f.knot[i] / p->fall) : 0;
    }
    f.share[PULSE_KNOTS - 1] = 0;
    return f;
}

uint32_t pulse_begin(const struct tc_pulse *p)
{
    return p->frame > p->rise ? p->frame - p->rise : 0;
}

uint32_t pulse_end(const struct tc_pulse *p)
{
    if (!p->fall) return p->frame + 1;
    return p->frame + p->fall + (p->glow ? (uint32_t)p->hold + p->fall : 0);
}

/* How much of a fall is left `after` frames from its start; 0 from its end on. */
static float fall_share(const struct pulse_fall *f, uint32_t after)
{
    int i = PULSE_KNOTS - 1;
    while (i > 0 && f->knot[i] > after) i--;
    if (i == PULSE_KNOTS - 1) return 0;
    float along = (float)(after - f->knot[i]) / (float)(f->knot[i + 1] - f->knot[i]);
    return f->share[i] + along * (f->share[i + 1] - f->share[i]);
}

float pulse_light(const struct tc_pulse *p, const struct pulse_fall *f, uint32_t frame)
{
    float peak = (float)p->peak / PULSE_LIGHT_FULL, glow = (float)p->glow / PULSE_LIGHT_FULL;
    if (frame < pulse_begin(p) || frame >= pulse_end(p)) return 0;
    if (!p->fall) {
        if (frame >= p->frame || !p->rise) return peak;
        return glow + (peak - glow) * (float)(frame + p->rise - p->frame) / (float)p->rise;
    }
    if (frame < p->frame) return peak * (float)(frame + p->rise + 1 - p->frame) / (float)(p->rise + 1);
    uint32_t after = frame - p->frame;
    if (after < p->fall) return glow + (peak - glow) * fall_share(f, after);
    if (after < (uint32_t)p->fall + p->hold) return glow;
    return glow * fall_share(f, after - p->fall - p->hold);
}

bool pulse_swells(const struct tc_pulse *p)
{
    return p->rise && p->fall;
}

uint32_t stroke_opens(const struct tc_timeline *t, const struct tc_stroke *k)
{
    uint32_t opens = k->frame;
    for (uint32_t i = 0; i < k->pulse_count; i++) {
        const struct tc_pulse *p = &t->pulses[k->first_pulse + i];
        uint32_t begin = pulse_begin(p);
        if (begin < opens && !pulse_swells(p)) opens = begin;
    }
    return opens;
}

bool stroke_is_faint(const struct tc_stroke *k)
{
    return k->light < (float)(FLASH_PERCENT / 100.0);
}
