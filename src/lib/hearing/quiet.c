#include "hearing/quiet.h"

#include "hearing/bounds.h"

/* From the 5th to the 30th percentile: noise, and none; of all bands together. */
#define STEADY_DB       3.5f
#define UNSTEADY_DB     7.5f
#define ALL_STEADY_DB   3.0f
#define ALL_UNSTEADY_DB 5.5f

/* So far must the loud level stand over steady noise to be more than that. */
#define NOISE_DB 3.0f
#define MORE_DB  12.0f

/* The same for the loudest step of a band over its own noise; and the share of
 * the bands in which there is more: hardly any, and enough to hear all. */
#define BAND_NOISE_DB 14.0f
#define BAND_MORE_DB  24.0f
#define FEW_BANDS     0.2f
#define MANY_BANDS    0.7f

enum { EMPTY_BINS = 5 };        /* a band that stays within these holds nothing */

static size_t slot(int64_t step)
{
    return (size_t)step & (QUIET_WINDOW - 1);
}

void quiet_add(struct quiet *q, const float *db, float all)
{
    uint8_t *bin = q->bin[slot(q->to++)];
    q->counted++;
    for (int b = 0; b < QUIET_TRACKS; b++) {
        int k = (int)((b == QUIET_ALL ? all : db[b]) - QUIET_LOWEST);
        bin[b] = (uint8_t)(k < 0 ? 0 : k < QUIET_BINS ? k : QUIET_BINS - 1);
        q->count[b][bin[b]]++;
    }
}

void quiet_skip(struct quiet *q)
{
    q->bin[slot(q->to++)][0] = QUIET_BINS;
}

void quiet_forget(struct quiet *q, int64_t step)
{
    for (; q->from < step; q->from++) {
        const uint8_t *bin = q->bin[slot(q->from)];
        if (bin[0] == QUIET_BINS) continue;
        q->counted--;
        for (int b = 0; b < QUIET_TRACKS; b++) q->count[b][bin[b]]--;
    }
}

/* Level under which this share of the steps lies; within a bin in proportion.
 * Of none at all the lowest there is. */
static float percentile(const int32_t *count, float share, int64_t steps)
{
    if (!steps) return QUIET_LOWEST;
    float left = share * (float)steps;
    for (int k = 0; k < QUIET_BINS; k++) {
        float here = (float)count[k];
        if (here > 0 && here >= left) return (float)(QUIET_LOWEST + k) + left / here;
        left -= here;
    }
    return QUIET_LOWEST + QUIET_BINS;
}

static float loudest(const int32_t *count)
{
    int k = QUIET_BINS - 1;
    while (k > 0 && !count[k]) k--;
    return (float)(QUIET_LOWEST + k);
}

void quiet_measure(struct quiet *q)
{
    int64_t steps = q->counted;
    for (int b = 0; b < QUIET_TRACKS; b++) {
        float spread = percentile(q->count[b], 0.30f, steps) - percentile(q->count[b], 0.05f, steps);
        q->low[b] = percentile(q->count[b], 0.10f, steps);
        q->steady[b] = 1 - (b == QUIET_ALL ? share_of(spread, ALL_STEADY_DB, ALL_UNSTEADY_DB) : share_of(spread, STEADY_DB, UNSTEADY_DB));
        q->loudest[b] = loudest(q->count[b]);
    }
}

float quiet_level(const struct quiet *q, int b, float floor)
{
    float over = q->low[b] - floor;
    return over > 0 ? floor + q->steady[b] * over : floor;
}

float quiet_loudest(const struct quiet *q, int b)
{
    return q->loudest[b];
}

float quiet_audible(const struct quiet *q, float loud)
{
    float all = 1 - q->steady[QUIET_ALL] * (1 - share_of(loud - q->low[QUIET_ALL], NOISE_DB, MORE_DB));
    float sum = 0;
    int count = 0;
    for (int b = 0; b < BAND_COUNT; b++) {
        if (q->loudest[b] <= QUIET_LOWEST + EMPTY_BINS) continue;
        sum += 1 - q->steady[b] * (1 - share_of(q->loudest[b] - q->low[b], BAND_NOISE_DB, BAND_MORE_DB));
        count++;
    }
    return most(all, count ? share_of(sum / (float)count, FEW_BANDS, MANY_BANDS) : 0);
}
