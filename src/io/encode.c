#include "io/encode.h"

#include <samplerate.h>
#include <sndfile.h>
#include <stdlib.h>
#include <string.h>

enum { BLOCK = 4096, MOST_OUT = 2, STRETCH = 9 }; /* STRETCH: most output per input, 1 kHz to 8 kHz and some */

/* What may be written, best first. */
static const struct {
    int format;
    const char *type;
} forms[] = {
    { SF_FORMAT_MPEG | SF_FORMAT_MPEG_LAYER_III, "audio/mpeg" },
    { SF_FORMAT_WAV | SF_FORMAT_PCM_16, "audio/wav" },
};

/* The sample rates of MPEG-1, 2 and 2.5 (ISO 11172-3, 13818-3). */
static const int rates[] = { 8000, 11025, 12000, 16000, 22050, 24000, 32000, 44100, 48000 };
enum { RATE_COUNT = sizeof rates / sizeof *rates };

/* Variable bit rate; 0 is the best and 1 the smallest. About 80 kbit/s for
 * thunder in stereo at 44.1 kHz, half of that for one channel. */
static const double smallness = 0.7;

struct encoder {
    FILE *file;
    SNDFILE *sound;
    SRC_STATE *converter;      /* NULL if the rate stays */
    double ratio;              /* rate out by rate in */
    int channels, kept;        /* pushed, written */
    const char *type;
    float *mixed, *converted;
};

/* The rate itself if MP3 knows it; else the next above, at most the highest. */
static int choose_rate(double rate)
{
    for (int i = 0; i < RATE_COUNT; i++)
        if (rate <= rates[i]) return rates[i];
    return rates[RATE_COUNT - 1];
}

static SNDFILE *open_form(struct encoder *e, size_t form, int rate)
{
    SF_INFO info = { .samplerate = rate, .channels = e->kept, .format = forms[form].format };
    if (!sf_format_check(&info)) return NULL;
    SNDFILE *sound = sf_open_fd(fileno(e->file), SFM_WRITE, &info, 0);
    if (!sound) return NULL;
    int mode = SF_BITRATE_MODE_VARIABLE;
    double level = smallness;
    sf_command(sound, SFC_SET_BITRATE_MODE, &mode, sizeof mode);
    sf_command(sound, SFC_SET_COMPRESSION_LEVEL, &level, sizeof level);
    sf_command(sound, SFC_SET_CLIPPING, NULL, SF_TRUE);
    e->type = forms[form].type;
    return sound;
}

enum tc_status encoder_create(struct encoder **out, double rate, int channels)
{
    struct encoder *e = calloc(1, sizeof *e);
    int problem = 0;
    if (!e) return TC_ERR_MEMORY;
    e->channels = channels;
    e->kept = channels < MOST_OUT ? channels : MOST_OUT;
    int rate_out = choose_rate(rate);
    e->ratio = rate_out / rate;
    enum tc_status status = TC_ERR_MEMORY;
    e->mixed = calloc((size_t)BLOCK * MOST_OUT, sizeof *e->mixed);
    e->converted = calloc((size_t)BLOCK * MOST_OUT * STRETCH, sizeof *e->converted);
    if (!e->mixed || !e->converted) goto fail;
    if (e->ratio != 1.0 && !(e->converter = src_new(SRC_SINC_FASTEST, e->kept, &problem))) goto fail;
    status = TC_ERR_WRITE;
    if (!(e->file = tmpfile())) goto fail;
    for (size_t i = 0; i < sizeof forms / sizeof *forms && !e->sound; i++)
        e->sound = open_form(e, i, rate_out);
    if (!e->sound) goto fail;
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
        enum tc_status status = convert(e, part, false);
        if (status != TC_OK) return status;
        samples += part * (size_t)e->channels;
        frames -= part;
    }
    return TC_OK;
}

enum tc_status encoder_finish(struct encoder *e)
{
    enum tc_status status = e->converter ? convert(e, 0, true) : TC_OK;
    int failed = sf_close(e->sound);
    e->sound = NULL;
    rewind(e->file);
    return status == TC_OK && failed ? TC_ERR_WRITE : status;
}

FILE *encoder_bytes(const struct encoder *e)
{
    return e->file;
}

const char *encoder_type(const struct encoder *e)
{
    return e->type;
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
