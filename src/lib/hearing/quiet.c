#include "hearing/quiet.h"

#define STEADY_DB   3.5f    /* from the 5th to the 30th percentile: noise */
#define UNSTEADY_DB 7.5f    /* the same: none */

static size_t slot(int64_t step)
{
    return (size_t)step & (QUIET_WINDOW - 1);
}

void quiet_add(struct quiet *q, const float *db, int bands)
{
    uint8_t *bin = q->bin[slot(q->to++)];
    for (int b = 0; b < bands; b++) {
        int k = (int)(db[b] - QUIET_LOWEST);
        bin[b] = (uint8_t)(k < 0 ? 0 : k < QUIET_BINS ? k : QUIET_BINS - 1);
        q->count[b][bin[b]]++;
    }
}

void quiet_forget(struct quiet *q, int64_t step, int bands)
{
    for (; q->from < step; q->from++)
        for (int b = 0; b < bands; b++) q->count[b][q->bin[slot(q->from)][b]]--;
}

/* Level under which this share of the steps lies; within a bin in proportion. */
static float percentile(const int32_t *count, float share, int64_t steps)
{
    float left = share * (float)steps;
    for (int k = 0; k < QUIET_BINS; k++) {
        float here = (float)count[k];
        if (here > 0 && here >= left) return (float)(QUIET_LOWEST + k) + left / here;
        left -= here;
    }
    return QUIET_LOWEST + QUIET_BINS;
}

void quiet_measure(struct quiet *q, int bands)
{
    int64_t steps = q->to - q->from;
    for (int b = 0; b < bands; b++) {
        float spread = percentile(q->count[b], 0.30f, steps) - percentile(q->count[b], 0.05f, steps);
        float steady = (UNSTEADY_DB - spread) / (UNSTEADY_DB - STEADY_DB);
        q->low[b] = percentile(q->count[b], 0.10f, steps);
        q->steady[b] = steady < 0 ? 0 : steady > 1 ? 1 : steady;
    }
}

float quiet_level(const struct quiet *q, int b, float floor)
{
    float over = q->low[b] - floor;
    return over > 0 ? floor + q->steady[b] * over : floor;
}
