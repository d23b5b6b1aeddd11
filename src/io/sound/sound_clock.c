#include "io/sound/sound_clock.h"

#include <math.h>

/* A jump by more than this is no jitter: the card has stopped and gone on. */
#define JUMP_S 0.05
/* How fast the loop follows, in Hz: quickly at first, then calmly. */
#define WIDE_HZ 1.0
#define CALM_HZ 0.05
#define SETTLE_S 4.0
#define PI 3.14159265358979323846

void sound_clock_begin(struct sound_clock *c, double rate)
{
    *c = (struct sound_clock){ .rate = rate, .each_s = 1 / rate };
}

void sound_clock_tell(struct sound_clock *c, int64_t frame, double at_s)
{
    double steps = (double)(frame - c->frame), expected = c->at_s + steps * c->each_s;
    if (!c->told || steps <= 0 || fabs(at_s - expected) > JUMP_S) {
        bool first = !c->told;
        c->told = true;
        c->frame = frame;
        c->at_s = at_s;
        if (first) c->since_s = at_s;
        return;
    }
    double share = (at_s - c->since_s) / SETTLE_S;
    double hz = share > 1 ? CALM_HZ : WIDE_HZ + (CALM_HZ - WIDE_HZ) * (share < 0 ? 0 : share);
    double omega = 2 * PI * hz * steps / c->rate;
    if (omega > 0.5) omega = 0.5;
    double wrong = at_s - expected;
    c->frame = frame;
    c->at_s = expected + sqrt(2) * omega * wrong;
    c->each_s += omega * omega * wrong / steps;
}

double sound_clock_frame(const struct sound_clock *c, double now_s)
{
    return (double)c->frame + (now_s - c->at_s) / c->each_s;
}
