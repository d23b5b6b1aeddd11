#include "io/sound/loudness.h"

#include <ebur128.h>
#include <math.h>
#include <stdlib.h>

struct loudness {
    ebur128_state *state;
};

enum tc_status loudness_create(struct loudness **out, int rate, bool peak)
{
    struct loudness *l = *out = calloc(1, sizeof *l);
    if (!l) return TC_ERR_MEMORY;
    /* With a histogram memory does not grow with the length. */
    int mode = EBUR128_MODE_I | EBUR128_MODE_HISTOGRAM | (peak ? EBUR128_MODE_TRUE_PEAK : 0);
    if ((l->state = ebur128_init(2, (unsigned long)rate, mode))) return TC_OK;
    free(l);
    *out = NULL;
    return TC_ERR_MEMORY;
}

enum tc_status loudness_push(struct loudness *l, const float *stereo, size_t frames)
{
    return ebur128_add_frames_float(l->state, stereo, frames) == EBUR128_SUCCESS ? TC_OK : TC_ERR_MEMORY;
}

double loudness_lufs(struct loudness *l)
{
    double lufs;
    return ebur128_loudness_global(l->state, &lufs) == EBUR128_SUCCESS ? lufs : -HUGE_VAL;
}

double loudness_peak_db(struct loudness *l)
{
    double most = 0;
    for (unsigned c = 0; c < 2; c++) {
        double peak = 0;
        if (ebur128_true_peak(l->state, c, &peak) == EBUR128_SUCCESS && peak > most) most = peak;
    }
    return most > 0 ? 20 * log10(most) : -HUGE_VAL;
}

void loudness_destroy(struct loudness *l)
{
    if (!l) return;
    ebur128_destroy(&l->state);
    free(l);
}
