#include "hearing/attack.h"

#include <math.h>

#include "hearing/bounds.h"

/* Lengths in steps of 5 ms. */
enum {
    EARLIER = 8,                   /* where the start of the rise may lie: so far before, ATTACK_LATER after ... */
    OVER_FROM = 12, OVER_TO = 4,   /* ... over the level of these steps before */
};

#define MOMENT      0.40f   /* share of the rise that is done at the moment of a crack */
#define WAY_MOST_DB 25.0f   /* a rise from silence is timed by its last part */
#define SHARP_DB    8.0f
#define DULL_DB     40.0f

/* Each band says how much of its way it has gone, and counts by how far that is.
 * Of a long way the last WAY_MOST_DB count: the window sees a rise from silence
 * long before it has come. */
int64_t attack_moment(const struct levels *l, int64_t step, float floor)
{
    float before[BAND_COUNT], way[BAND_COUNT], all = 0;
    for (int b = 0; b < l->bands; b++) {
        float sum = 0, top = -200;
        for (int i = OVER_TO; i <= OVER_FROM; i++) sum += most(levels_at(l, step - i)->db[b], floor);
        before[b] = sum / (OVER_FROM - OVER_TO + 1);
        for (int i = 0; i < ATTACK_LATER - 2; i++) {
            float three = 0;
            for (int k = i; k < i + 3; k++) three += most(levels_at(l, step + k)->db[b], floor);
            top = most(top, three / 3);
        }
        way[b] = least(most(top - before[b], 0), WAY_MOST_DB);
        before[b] = top - way[b];
        all += way[b];
    }
    float was = 0;
    for (int i = -EARLIER; i <= ATTACK_LATER; i++) {
        const struct row *r = levels_at(l, step + i);
        float done = 0;
        for (int b = 0; b < l->bands; b++) {
            if (way[b] <= 0) continue;
            float share = (most(r->db[b], floor) - before[b]) / way[b];
            done += least(most(share, 0), 1) * way[b];
        }
        done /= all + 1e-6f;
        if (done >= MOMENT) {
            float part = i > -EARLIER && done > was ? (MOMENT - was) / (done - was) : 1;
            int64_t ms = (step + i - 1) * STEP_MS + (int64_t)(part * STEP_MS + 0.5f);
            return ms > 0 ? ms : 0;
        }
        was = done;
    }
    return step * STEP_MS;
}

float attack_sharpness(const struct levels *l, int64_t step)
{
    double all = 0, high = 0;
    for (int b = 0; b < l->bands; b++) {
        double before = 0, after = 0;
        for (int i = ATTACK_BEFORE_TO; i <= ATTACK_BEFORE_FROM; i++) before += pow(10, (double)levels_at(l, step - i)->db[b] / 10);
        for (int i = 0; i <= ATTACK_AFTER; i++) after += pow(10, (double)levels_at(l, step + i)->db[b] / 10);
        double rise = after / (ATTACK_AFTER + 1) - before / (ATTACK_BEFORE_FROM - ATTACK_BEFORE_TO + 1);
        if (rise <= 0) continue;
        all += rise;
        if (b >= LEVELS_SHARP_BAND) high += rise;
    }
    if (!(all > 0 && high > 0)) return 0;
    float under = (float)(10 * log10(all / high));
    return share_of(under, DULL_DB, SHARP_DB);
}
