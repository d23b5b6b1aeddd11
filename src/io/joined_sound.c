#include "io/joined_sound.h"

#include <math.h>
#include <sndfile.h>
#include <stdlib.h>

#include "io/loudness.h"
#include "io/stereo.h"
#include "io/stop.h"

enum { SIDES = 2 };
/* Short enough to leave a crack its attack, long enough not to click. */
#define FADE_S 0.005

struct joined {
    SNDFILE *sound;
    int rate;
    int64_t at;             /* sample frames written */
    struct loudness *loudness;
    float peak;
    float *silence;
};

/* The clip at work. */
struct clip {
    struct joined *joined;
    int64_t at, frames;     /* written of it, to be written */
    float gain;
};

enum tc_status joined_open(struct joined **out, FILE *to, enum joined_form form, int rate)
{
    struct joined *j = *out = calloc(1, sizeof *j);
    if (!j) return TC_ERR_MEMORY;
    j->rate = rate;
    j->silence = calloc((size_t)SOURCE_BLOCK * SIDES, sizeof *j->silence);
    enum tc_status status = j->silence ? loudness_create(&j->loudness, rate, false) : TC_ERR_MEMORY;
    SF_INFO info = { .samplerate = rate, .channels = SIDES,
                     .format = (form == JOINED_FLAC ? SF_FORMAT_FLAC : SF_FORMAT_RF64) | SF_FORMAT_PCM_16 };
    if (status == TC_OK && !(j->sound = sf_open_fd(fileno(to), SFM_WRITE, &info, 0))) status = TC_ERR_WRITE;
    if (status == TC_OK) {
        double level = 0; /* the quickest: what counts is that silence takes no room */
        sf_command(j->sound, SFC_SET_CLIPPING, NULL, SF_TRUE);
        if (form == JOINED_FLAC) sf_command(j->sound, SFC_SET_COMPRESSION_LEVEL, &level, sizeof level);
        else sf_command(j->sound, SFC_RF64_AUTO_DOWNGRADE, NULL, SF_TRUE);
        return TC_OK;
    }
    joined_close(j);
    *out = NULL;
    return status;
}

static enum tc_status put(struct joined *j, const float *pair, int64_t frames)
{
    j->at += frames;
    return sf_writef_float(j->sound, pair, frames) == frames ? TC_OK : TC_ERR_WRITE;
}

enum tc_status joined_silence(struct joined *j, int64_t until)
{
    enum tc_status status = TC_OK;
    while (status == TC_OK && j->at < until) {
        int64_t part = until - j->at < SOURCE_BLOCK ? until - j->at : SOURCE_BLOCK;
        status = put(j, j->silence, part);
        if (status == TC_OK && stop_asked()) status = TC_ERR_STOPPED;
    }
    return status;
}

/* 0 at the very ends of a clip, 1 from a fade's length on. */
static float fade(const struct joined *j, int64_t at, int64_t frames)
{
    int64_t from_end = at < frames - 1 - at ? at : frames - 1 - at;
    double share = (double)from_end / (FADE_S * j->rate);
    return share >= 1 ? 1 : (float)(0.5 - 0.5 * cos(3.141592653589793 * share));
}

/* Amplified, faded, measured and written; what is beyond the clip's end is left out. */
static enum tc_status put_clip(void *to, float *pair, size_t count)
{
    struct clip *c = to;
    struct joined *j = c->joined;
    int64_t frames = (int64_t)count < c->frames - c->at ? (int64_t)count : c->frames - c->at;
    if (frames <= 0) return TC_OK;
    for (int64_t f = 0; f < frames; f++) {
        float gain = c->gain * fade(j, c->at + f, c->frames);
        for (int k = 0; k < SIDES; k++) {
            float value = pair[SIDES * f + k] *= gain;
            if (fabsf(value) > j->peak) j->peak = fabsf(value);
        }
    }
    c->at += frames;
    enum tc_status status = loudness_push(j->loudness, pair, (size_t)frames);
    return status == TC_OK ? put(j, pair, frames) : status;
}

enum tc_status joined_clip(struct joined *j, struct source *from, int64_t frames, double gain_db)
{
    struct clip c = { .joined = j, .frames = frames, .gain = (float)pow(10, gain_db / 20) };
    struct stereo *stereo = NULL;
    float *block = calloc((size_t)SOURCE_BLOCK * (size_t)source_channels(from), sizeof *block);
    enum tc_status status = block ? stereo_create(&stereo, source_channels(from), source_rate(from), j->rate, put_clip, &c)
                                  : TC_ERR_MEMORY;
    for (size_t n; status == TC_OK && c.at < frames && (n = source_read(from, block, SOURCE_BLOCK)) > 0;) {
        status = stereo_push(stereo, block, n);
        if (status == TC_OK && stop_asked()) status = TC_ERR_STOPPED;
    }
    if (status == TC_OK) status = stereo_finish(stereo);
    stereo_destroy(stereo);
    free(block);
    return status == TC_OK ? joined_silence(j, j->at + frames - c.at) : status;
}

enum tc_status joined_finish(struct joined *j, struct joined_sum *sum)
{
    *sum = (struct joined_sum){ j->at, loudness_lufs(j->loudness), j->peak > 0 ? 20 * log10((double)j->peak) : -HUGE_VAL };
    int failed = sf_close(j->sound);
    j->sound = NULL;
    return failed ? TC_ERR_WRITE : TC_OK;
}

void joined_close(struct joined *j)
{
    if (!j) return;
    if (j->sound) sf_close(j->sound);
    loudness_destroy(j->loudness);
    free(j->silence);
    free(j);
}
