#include "io/sound/encode.h"

#include <samplerate.h>
#include <sndfile.h>
#include <stdlib.h>
#include <string.h>

#include "hearing/decimate.h"

enum {
    BLOCK = 2 * DECIMATE_BLOCK, MOST_OUT = 2,
    STRETCH = 9,                /* most output per input: 1 kHz to 8 kHz and some */
    ROOM_NEEDED = 2 << 20,      /* bytes of memory that an encoder takes, and some */
    HALVED_FROM = 32000, RATE_LEAST = 8000, RATE_MOST = 48000,
};

struct encoder {
    FILE *file;
    SNDFILE *sound;
    SRC_STATE *converter;      /* NULL if the rate stays */
    double ratio;              /* of the conversion: rate out by rate in */
    int channels, kept;        /* pushed, written */
    bool halves;
    struct decimator halver[MOST_OUT];
    float *mixed, *converted;
};

/* The quickest that the encoder knows: without a search for predictors. */
static SNDFILE *open_flac(struct encoder *e, int rate)
{
    SF_INFO info = { .samplerate = rate, .channels = e->kept, .format = SF_FORMAT_FLAC | SF_FORMAT_PCM_16 };
    SNDFILE *sound = sf_open_fd(fileno(e->file), SFM_WRITE, &info, 0);
    double level = 0;
    if (!sound) return NULL;
    sf_command(sound, SFC_SET_COMPRESSION_LEVEL, &level, sizeof level);
    sf_command(sound, SFC_SET_CLIPPING, NULL, SF_TRUE);
    return sound;
}

enum tc_status encoder_create(struct encoder **out, double rate, int channels)
{
    struct encoder *e = calloc(1, sizeof *e);
    int problem = 0;
    if (!e) return TC_ERR_MEMORY;
    e->channels = channels;
    e->kept = channels < MOST_OUT ? channels : MOST_OUT;
    e->halves = rate >= HALVED_FROM;
    for (int c = 0; c < e->kept; c++) decimator_start(&e->halver[c]);
    if (e->halves) rate /= 2;
    double rate_out = rate < RATE_LEAST ? RATE_LEAST : rate > RATE_MOST ? RATE_MOST : (int)(rate + 0.5);
    e->ratio = rate_out / rate;
    enum tc_status status = TC_ERR_MEMORY;
    /* libsndfile doesn't check that it was given memory for FLAC, so check before it does. */
    void *volatile room = malloc(ROOM_NEEDED); /* volatile, so that the compiler can't leave the check out */
    if (!room) goto fail;
    free(room);
    e->mixed = calloc((size_t)BLOCK * MOST_OUT, sizeof *e->mixed);
    e->converted = calloc((size_t)BLOCK * MOST_OUT * STRETCH, sizeof *e->converted);
    if (!e->mixed || !e->converted) goto fail;
    if (e->ratio != 1.0 && !(e->converter = src_new(SRC_SINC_FASTEST, e->kept, &problem))) goto fail;
    status = TC_ERR_WRITE;
    if (!(e->file = tmpfile())) goto fail;
    if (!(e->sound = open_flac(e, (int)rate_out))) goto fail;
    *out = e;
    return TC_OK;
fail:
    encoder_destroy(e);
    return status;
}

static void mix(const struct encoder *e, const float *samples, size_t frames)
{
    for (size_t f = 0; f < frames; f++) {
        const float *in = samples + f * (size_t)e->channels;
        for (int k = 0; k < e->kept; k++) {
            float sum = 0;
            int parts = 0;
            for (int c = k; c < e->channels; c += e->kept, parts++) sum += in[c];
            float value = sum / (float)parts;
            e->mixed[f * (size_t)e->kept + (size_t)k] = value > 1 ? 1 : value < -1 ? -1 : value;
        }
    }
}

/* Halves the rate of what is in `mixed`; returns how much is left. */
static size_t halve(struct encoder *e, size_t frames)
{
    float in[BLOCK], out[BLOCK];
    size_t kept = (size_t)e->kept, got = 0;
    for (size_t c = 0; c < kept; c++) {
        for (size_t f = 0; f < frames; f++) in[f] = e->mixed[f * kept + c];
        got = decimator_step(&e->halver[c], in, frames, out);
        for (size_t f = 0; f < got; f++) e->mixed[f * kept + c] = out[f];
    }
    return got;
}

static enum tc_status put(struct encoder *e, const float *samples, sf_count_t frames)
{
    return sf_writef_float(e->sound, samples, frames) == frames ? TC_OK : TC_ERR_WRITE;
}

/* Converts and writes what is in `mixed`. */
static enum tc_status convert(struct encoder *e, size_t frames, bool last)
{
    if (!e->converter) return put(e, e->mixed, (sf_count_t)frames);
    SRC_DATA d = { .data_in = e->mixed, .input_frames = (long)frames, .data_out = e->converted,
                   .output_frames = BLOCK * STRETCH, .src_ratio = e->ratio, .end_of_input = last };
    do {
        if (src_process(e->converter, &d)) return TC_ERR_WRITE;
        enum tc_status status = put(e, e->converted, d.output_frames_gen);
        if (status != TC_OK) return status;
        d.data_in += d.input_frames_used * e->kept;
        d.input_frames -= d.input_frames_used;
    } while (d.input_frames > 0 || (last && d.output_frames_gen > 0));
    return TC_OK;
}

enum tc_status encoder_push(struct encoder *e, const float *samples, size_t frames)
{
    while (frames > 0) {
        size_t part = frames < BLOCK ? frames : BLOCK;
        mix(e, samples, part);
        enum tc_status status = convert(e, e->halves ? halve(e, part) : part, false);
        if (status != TC_OK) return status;
        samples += part * (size_t)e->channels;
        frames -= part;
    }
    return TC_OK;
}

enum tc_status encoder_finish(struct encoder *e)
{
    enum tc_status status = TC_OK;
    if (e->halves) { /* silence after the end, to get out what waits for it */
        memset(e->mixed, 0, sizeof *e->mixed * 4 * DECIMATE_TAPS);
        status = convert(e, halve(e, 2 * DECIMATE_TAPS), false);
    }
    if (status == TC_OK && e->converter) status = convert(e, 0, true);
    int failed = sf_close(e->sound);
    e->sound = NULL;
    rewind(e->file);
    return status == TC_OK && failed ? TC_ERR_WRITE : status;
}

FILE *encoder_bytes(const struct encoder *e)
{
    return e->file;
}

const char *encoder_type(void)
{
    return "audio/flac";
}

void encoder_destroy(struct encoder *e)
{
    if (!e) return;
    if (e->sound) sf_close(e->sound);
    if (e->converter) src_delete(e->converter);
    if (e->file) fclose(e->file);
    free(e->mixed);
    free(e->converted);
    free(e);
}
