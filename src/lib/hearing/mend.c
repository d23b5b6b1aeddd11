#include "hearing/mend.h"

#include <math.h>
#include <string.h>

/* 120 dB over full scale: no recording, but a broken file. */
#define LOUDEST 1e6f

#define LONE_TIMES 30.0f
#define LONE_LEAST 4.0f     /* amid digital silence: the smallest steps of few bits stand alone, too */

/* Without their sign, floats are in the order of their bits, infinities and NaN
 * above all others. Counting is a loop that the compiler vectorises; mending is
 * rare. */
static uint32_t magnitude(float sample)
{
    uint32_t bits;
    memcpy(&bits, &sample, sizeof bits);
    return bits & 0x7FFFFFFFu;
}

int64_t mend_samples(float *samples, size_t count)
{
    const uint32_t most = magnitude(LOUDEST);
    uint32_t bad = 0;
    for (size_t i = 0; i < count; i++) bad += magnitude(samples[i]) > most;
    for (size_t i = 0; bad && i < count; i++)
        if (magnitude(samples[i]) > most) samples[i] = 0;
    return bad;
}

static bool is_lone(const float *x, int from, int to)
{
    float most = 0;
    for (int i = from; i <= to; i++)
        if (i && fabsf(x[i]) > most) most = fabsf(x[i]);
    return fabsf(x[0]) > (most > 0 ? LONE_TIMES * most : LONE_LEAST);
}

/* Whether one of them stands out from the two beside it; rare. A loop that the
 * compiler vectorises. */
static bool any_stands_out(const float *x, size_t count)
{
    uint32_t found = 0;
    for (size_t i = 0; i < count; i++) {
        float here = fabsf(x[i]);
        found += (here > LONE_TIMES * fabsf(x[i - 1])) & (here > LONE_TIMES * fabsf(x[i + 1]));
    }
    return found;
}

size_t mender_step(struct mender *m, float *samples, size_t count)
{
    float run[2 * MEND_REACH + MEND_BLOCK], *x = run + MEND_REACH;
    memcpy(run, m->before, sizeof m->before);
    memcpy(x, m->held, m->waiting * sizeof *x);
    memcpy(x + m->waiting, samples, count * sizeof *x);
    size_t all = m->waiting + count, done = all > MEND_REACH ? all - MEND_REACH : 0;
    memcpy(samples, x, done * sizeof *x);
    if (any_stands_out(x, done))
        for (size_t i = 0; i < done; i++)
            if (is_lone(x + i, -MEND_REACH, MEND_REACH)) samples[i] = 0;
    memcpy(m->before, x + done - MEND_REACH, sizeof m->before);
    m->waiting = all - done;
    memcpy(m->held, x + done, m->waiting * sizeof *x);
    return done;
}

float mender_last(const struct mender *m)
{
    if (!m->waiting) return 0;
    float run[2 * MEND_REACH];
    memcpy(run, m->before, sizeof m->before);
    memcpy(run + MEND_REACH, m->held, sizeof m->held);
    const float *last = run + MEND_REACH + m->waiting - 1;
    return is_lone(last, -MEND_REACH, 0) ? 0 : *last;
}
