#include "io/sound/ceiling.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>

/* The level gives way within this time before a peak, and comes back with this
 * time constant: fast enough for the attack of a crack, slow enough not to be
 * heard as a wobble. */
#define AHEAD_S 0.005
#define RETURN_S 0.2
/* Half a decibel: less is not worth telling. */
#define SOFTENED 0.944f
enum { SIDES = 2 };
/* Levels are whole numbers, so that their running sum is exact. */
#define WHOLE (1 << 24)

/*  in  --> needed level --> least of the next AHEAD --> slow return --> mean over AHEAD --> times the sound of AHEAD ago
 * The mean is at most the level that a peak needs at the moment when it comes
 * out, since each of the levels in it knew of that peak. */
struct ceiling {
    float most;
    size_t ahead;
    double back;               /* share of the way back in a frame */
    float *sound;              /* ring of `ahead` frames */
    int32_t *level;            /* ring of `ahead`: levels in the mean */
    struct { int64_t at; int32_t level; } *least; /* ring of ahead + 1: rising levels that may yet be the least */
    size_t least_first, least_count, ring;
    int64_t at, sum;
    double now;                /* the level after the slow return */
    long long softened;
};

enum tc_status ceiling_create(struct ceiling **out, int rate, float most)
{
    struct ceiling *l = *out = calloc(1, sizeof *l);
    if (!l) return TC_ERR_MEMORY;
    l->most = most;
    l->ahead = (size_t)(AHEAD_S * rate) + 1;
    l->back = 1 - exp(-1 / (RETURN_S * rate));
    l->ring = l->ahead + 1;
    l->sound = calloc(l->ahead * SIDES, sizeof *l->sound);
    l->level = calloc(l->ahead, sizeof *l->level);
    l->least = calloc(l->ring, sizeof *l->least);
    if (!l->sound || !l->level || !l->least) {
        ceiling_destroy(l);
        *out = NULL;
        return TC_ERR_MEMORY;
    }
    for (size_t i = 0; i < l->ahead; i++) l->level[i] = WHOLE;
    l->sum = (int64_t)l->ahead * WHOLE;
    l->now = WHOLE;
    return TC_OK;
}

size_t ceiling_delay(const struct ceiling *l)
{
    return l->ahead;
}

long long ceiling_softened(const struct ceiling *l)
{
    return l->softened;
}

static int32_t needed(const struct ceiling *l, const float *pair)
{
    float peak = fmaxf(fabsf(pair[0]), fabsf(pair[1]));
    return peak > l->most ? (int32_t)floor((double)l->most / (double)peak * WHOLE) : WHOLE;
}

/* The least level that this frame and the `ahead` before it need. */
static int32_t least_level(struct ceiling *l, int32_t level)
{
    while (l->least_count && l->least[(l->least_first + l->least_count - 1) % l->ring].level >= level) l->least_count--;
    if (l->least_count && l->least[l->least_first].at < l->at - (int64_t)l->ahead) {
        l->least_first = (l->least_first + 1) % l->ring;
        l->least_count--;
    }
    size_t end = (l->least_first + l->least_count++) % l->ring;
    l->least[end].at = l->at;
    l->least[end].level = level;
    return l->least[l->least_first].level;
}

void ceiling_step(struct ceiling *l, float *pair, size_t frames)
{
    for (size_t f = 0; f < frames; f++, l->at++, pair += SIDES) {
        int32_t least = least_level(l, needed(l, pair));
        l->now = least < l->now ? least : l->now + (least - l->now) * l->back;
        if (least - l->now < 1) l->now = least;
        size_t place = (size_t)(l->at % (int64_t)l->ahead);
        int32_t level = (int32_t)floor(l->now);
        l->sum += level - l->level[place];
        l->level[place] = level;
        bool soft = l->sum < (int64_t)l->ahead * WHOLE;
        float gain = soft ? (float)((double)l->sum / (double)l->ahead / WHOLE) : 1;
        l->softened += soft && gain < SOFTENED;
        for (int k = 0; k < SIDES; k++) {
            float late = l->sound[SIDES * place + (size_t)k];
            l->sound[SIDES * place + (size_t)k] = pair[k];
            pair[k] = fmaxf(-l->most, fminf(l->most, late * gain)); /* by a rounding at most */
            if (!soft) pair[k] = late;
        }
    }
}

void ceiling_destroy(struct ceiling *l)
{
    if (!l) return;
    free(l->sound);
    free(l->level);
    free(l->least);
    free(l);
}
