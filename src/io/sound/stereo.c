#include "io/sound/stereo.h"

#include <samplerate.h>
#include <stdlib.h>

enum { SIDES = 2, BLOCK = 4096 };

struct stereo {
    stereo_take *take;
    void *to;
    int channels;
    double ratio;
    SRC_STATE *converter;      /* NULL if the rate stays */
    float converted[BLOCK * SIDES], pair[BLOCK * SIDES]; /* in this order: libsamplerate takes an input that ends
                                                           * where the output begins for an overlap */
};

enum tc_status stereo_create(struct stereo **out, int channels, double rate_in, double rate_out, stereo_take *take,
                             void *to)
{
    int problem = 0;
    struct stereo *s = *out = calloc(1, sizeof *s);
    if (!s) return TC_ERR_MEMORY;
    s->take = take;
    s->to = to;
    s->channels = channels;
    s->ratio = rate_out / rate_in;
    if (rate_out == rate_in || (s->converter = src_new(SRC_SINC_MEDIUM_QUALITY, SIDES, &problem))) return TC_OK;
    free(s);
    *out = NULL;
    return TC_ERR_MEMORY;
}

static float side(const float *in, int from, int channels)
{
    float sum = 0;
    int parts = 0;
    for (int c = from; c < channels; c += SIDES, parts++) sum += in[c];
    return parts ? sum / (float)parts : in[0];
}

static enum tc_status convert(struct stereo *s, size_t frames, bool last)
{
    if (!s->converter) return s->take(s->to, s->pair, frames);
    SRC_DATA d = { .data_in = s->pair, .input_frames = (long)frames, .data_out = s->converted, .output_frames = BLOCK,
                   .src_ratio = s->ratio, .end_of_input = last };
    do {
        if (src_process(s->converter, &d)) return TC_ERR_INTERNAL;
        enum tc_status status = d.output_frames_gen ? s->take(s->to, s->converted, (size_t)d.output_frames_gen) : TC_OK;
        if (status != TC_OK) return status;
        d.data_in += d.input_frames_used * SIDES;
        d.input_frames -= d.input_frames_used;
    } while (d.input_frames > 0 || d.output_frames_gen == BLOCK || (last && d.output_frames_gen > 0));
    return TC_OK;
}

enum tc_status stereo_push(struct stereo *s, const float *samples, size_t frames)
{
    while (frames > 0) {
        size_t part = frames < BLOCK ? frames : BLOCK;
        for (size_t f = 0; f < part; f++, samples += s->channels) {
            s->pair[SIDES * f] = side(samples, 0, s->channels);
            s->pair[SIDES * f + 1] = side(samples, 1, s->channels);
        }
        enum tc_status status = convert(s, part, false);
        if (status != TC_OK) return status;
        frames -= part;
    }
    return TC_OK;
}

enum tc_status stereo_finish(struct stereo *s)
{
    return s->converter ? convert(s, 0, true) : TC_OK;
}

void stereo_destroy(struct stereo *s)
{
    if (!s) return;
    if (s->converter) src_delete(s->converter);
    free(s);
}
