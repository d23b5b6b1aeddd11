#include "io/sound/sound_pace.h"

#include <math.h>

/* Nothing is taken for its rhythm before that. */
#define LEARN_S 0.5
/* A pause is remembered for one to two of these. */
#define REMEMBER_S 60.0

void sound_pace_tell(struct sound_pace *p, double at_s, double piece_s)
{
    double pause = p->begun ? at_s - p->told_s : 0;
    p->most_s = fmax(fmax(p->most_s, SOUND_PACE_MOST_S), piece_s + SOUND_PACE_SPARE_S);
    if (!p->begun) p->begun_s = p->from_s = at_s;
    p->begun = true;
    p->told_s = at_s;
    if (at_s - p->from_s > REMEMBER_S) {
        p->before_s = p->longest_s;
        p->longest_s = 0;
        p->from_s = at_s;
    }
    p->longest_s = fmax(p->longest_s, fmax(piece_s, fmin(pause, p->most_s)));
}

double sound_pace_s(const struct sound_pace *p)
{
    bool learnt = p->told_s - p->begun_s >= LEARN_S;
    return SOUND_PACE_SPARE_S + (learnt ? fmax(p->longest_s, p->before_s) : fmax(p->most_s, SOUND_PACE_MOST_S));
}
