/* Recordings in bad weather and other clothes: noise of published kinds, and
 * what is done to sound on its way. For measuring; out of memory ends it. */
#ifndef TC_TEST_SOUNDS_H
#define TC_TEST_SOUNDS_H

#include <math.h>
#include <samplerate.h>
#include <stdlib.h>
#include <string.h>

#include "evaluate.h"
#include "words/random.h"

#define TWO_PI 6.283185307179586

static struct sound sound_copy(const struct sound *s)
{
    struct sound c = *s;
    c.samples = room(s->frames * (size_t)s->channels, sizeof *c.samples);
    memcpy(c.samples, s->samples, s->frames * (size_t)s->channels * sizeof *c.samples);
    return c;
}

/* ---- Weather ---- */

static double sum_of_squares(const float *x, size_t count)
{
    double sum = 0;
    for (size_t i = 0; i < count; i++) sum += (double)x[i] * (double)x[i];
    return sum;
}

/* RMS of the loudest 0.1 s, over all channels. */
static double loudest(const struct sound *s)
{
    size_t each = (size_t)(s->rate / 10), channels = (size_t)s->channels;
    double most = 0;
    for (size_t at = 0; at < s->frames; at += each) {
        size_t n = s->frames - at < each ? s->frames - at : each;
        most = fmax(most, sum_of_squares(s->samples + at * channels, n * channels) / (double)(each * channels));
    }
    return sqrt(most);
}

/* RMS of all of it, over all channels. */
static double mean_level(const struct sound *s)
{
    size_t count = s->frames * (size_t)s->channels;
    return sqrt(sum_of_squares(s->samples, count) / (double)(count + !count));
}

static void noise_hiss(float *x, size_t n, double rate, struct randomiser *dice)
{
    (void)rate;
    for (size_t i = 0; i < n; i++) x[i] = (float)random_normal(dice);
}

/* Sum of octave-spaced generators that change each 2^k samples (R. Voss, as
 * told by M. Gardner, Scientific American, April 1978). */
static void noise_pink(float *x, size_t n, double rate, struct randomiser *dice)
{
    enum { OCTAVES = 14 };
    double part[OCTAVES] = { 0 };
    (void)rate;
    for (size_t i = 0; i < n; i++) {
        double sum = random_normal(dice);
        for (int k = 0; k < OCTAVES; k++) {
            if (i % ((size_t)1 << k) == 0) part[k] = random_normal(dice);
            sum += part[k];
        }
        x[i] = (float)sum;
    }
}

/* Drops come as a Poisson process, ring for 2 to 6 ms at 0.9 to 4.5 kHz. */
static void add_drops(float *x, size_t n, double rate, struct randomiser *dice, double each_s, double size)
{
    for (double at = 0;;) {
        at -= log(1 - random_uniform(dice)) / each_s;
        if (at * rate >= (double)n) return;
        double fade = 0.002 + 0.004 * random_uniform(dice), hz = fmin(900 + 3600 * random_uniform(dice), 0.45 * rate);
        double strength = size * exp(0.7 * random_normal(dice));
        for (size_t i = (size_t)(at * rate), k = 0; i < n && (double)k < 6 * fade * rate; i++, k++)
            x[i] += (float)(strength * exp(-(double)k / rate / fade) * sin(TWO_PI * hz * (double)k / rate));
    }
}

static void noise_rain(float *x, size_t n, double rate, struct randomiser *dice)
{
    noise_hiss(x, n, rate, dice);
    add_drops(x, n, rate, dice, 15, 4);
}

static void noise_drops(float *x, size_t n, double rate, struct randomiser *dice)
{
    add_drops(x, n, rate, dice, 4, 1);
}

typedef void make_noise(float *, size_t, double, struct randomiser *);

/* So many dB over a level; each `draw` is noise of its own. */
static void add_noise(struct sound *s, make_noise *make, double over, double db, size_t draw)
{
    struct randomiser dice = random_keyed(11, s->frames, draw);
    float *noise = room(s->frames, sizeof *noise);
    make(noise, s->frames, s->rate, &dice);
    double by = over * pow(10, db / 20) / sqrt(sum_of_squares(noise, s->frames) / (double)s->frames + 1e-20);
    for (size_t i = 0; i < s->frames; i++)
        for (int c = 0; c < s->channels; c++) s->samples[i * (size_t)s->channels + (size_t)c] += (float)(by * (double)noise[i]);
    free(noise);
}

static void dress_gain(struct sound *s, double db)
{
    for (size_t i = 0; i < s->frames * (size_t)s->channels; i++) s->samples[i] *= (float)pow(10, db / 20);
}

static float peak(const struct sound *s)
{
    float most = 1e-20f;
    for (size_t i = 0; i < s->frames * (size_t)s->channels; i++) most = fmaxf(most, fabsf(s->samples[i]));
    return most;
}

static void dress_clip(struct sound *s, double db)
{
    dress_gain(s, db - 20 * log10((double)peak(s)));
    for (size_t i = 0; i < s->frames * (size_t)s->channels; i++) s->samples[i] = fmaxf(-1, fminf(1, s->samples[i]));
}

static void dress_offset(struct sound *s, double by)
{
    for (size_t i = 0; i < s->frames * (size_t)s->channels; i++) s->samples[i] += (float)by;
}

/* The second of two channels turned over; a lone one gets such a second. */
static void dress_opposite(struct sound *s, double unused)
{
    (void)unused;
    size_t channels = (size_t)s->channels;
    float *both = room(2 * s->frames, sizeof *both);
    for (size_t i = 0; i < s->frames; i++) {
        both[2 * i] = s->samples[i * channels];
        both[2 * i + 1] = -s->samples[i * channels + (channels > 1)];
    }
    free(s->samples);
    s->samples = both;
    s->channels = 2;
}

static void resample(struct sound *s, double rate)
{
    size_t channels = (size_t)s->channels, most = (size_t)((double)s->frames * rate / s->rate) + 16;
    float *to = room(most * channels, sizeof *to);
    SRC_DATA d = { .data_in = s->samples, .input_frames = (long)s->frames, .data_out = to, .output_frames = (long)most,
                   .src_ratio = rate / s->rate };
    if (src_simple(&d, SRC_SINC_MEDIUM_QUALITY, s->channels)) die("a rate can't be changed");
    free(s->samples);
    s->samples = to;
    s->frames = (size_t)d.output_frames_gen;
    s->rate = rate;
}

static void dress_rate(struct sound *s, double rate)
{
    if (rate > s->rate && rate < 40000) return; /* recordings below it stay as they are */
    resample(s, rate);
}

/* Out of a codec that has left out the highs, at the rate that it came with. */
static void dress_low_pass(struct sound *s, double hz)
{
    double rate = s->rate;
    if (2 * hz > rate) return;
    dress_rate(s, 2 * hz);
    resample(s, rate);
}

/* A limiter: level with 2 ms up and 150 ms down; over -18 dB of the peak a rise
 * of 10 dB leaves 3. */
static void dress_limit(struct sound *s, double share)
{
    double up = 1 - exp(-1 / (0.002 * s->rate)), down = 1 - exp(-1 / (0.15 * s->rate)), from = 0.126 * (double)peak(s), level = 0;
    size_t channels = (size_t)s->channels;
    for (size_t i = 0; i < s->frames; i++) {
        double now = 0;
        for (size_t c = 0; c < channels; c++) now = fmax(now, fabs((double)s->samples[i * channels + c]));
        level += (now > level ? up : down) * (now - level);
        for (size_t c = 0; level > from && c < channels; c++) s->samples[i * channels + c] *= (float)pow(from / level, share);
    }
}

/* The same, after itself so much louder, a faint hiss of 20 s between. */
static void dress_after(struct sound *s, double db)
{
    struct randomiser dice = random_keyed(12, s->frames, 3);
    size_t gap = (size_t)(20 * s->rate), channels = (size_t)s->channels, n = s->frames;
    float *to = room((2 * n + gap) * channels, sizeof *to), soft = (float)pow(10, -db / 20);
    float hiss = (float)(loudest(s) * pow(10, -4)) * soft;
    for (size_t i = 0; i < n * channels; i++) {
        to[i] = s->samples[i];
        to[(n + gap) * channels + i] = soft * s->samples[i];
    }
    for (size_t i = n * channels; i < (n + gap) * channels; i++) to[i] = hiss * (float)random_normal(&dice);
    free(s->samples);
    s->samples = to;
    s->frames = 2 * n + gap;
}

static void dress_bits(struct sound *s, double bits)
{
    float steps = (float)pow(2, bits - 1);
    for (size_t i = 0; i < s->frames * (size_t)s->channels; i++) s->samples[i] = floorf(s->samples[i] * steps + 0.5f) / steps;
}

/* Digital silence before and after. */
static void dress_padding(struct sound *s, double seconds)
{
    size_t more = (size_t)(seconds * s->rate), channels = (size_t)s->channels;
    float *to = room((s->frames + 2 * more) * channels, sizeof *to);
    memcpy(to + more * channels, s->samples, s->frames * channels * sizeof *to);
    free(s->samples);
    s->samples = to;
    s->frames += 2 * more;
}

static const struct {
    const char *name;
    void (*dress)(struct sound *, double);
    double by, later_s;
    make_noise *noise;                      /* instead of `dress`: `by` dB over */
    double (*over)(const struct sound *);
} clothes[] = {
    { "hiss 20 dB under the loudest", NULL, -20, 0, noise_hiss, loudest }, { "hiss 30 dB under", NULL, -30, 0, noise_hiss, loudest },
    { "hiss 20 dB under the mean", NULL, -20, 0, noise_hiss, mean_level },
    { "pink 20 dB under the loudest", NULL, -20, 0, noise_pink, loudest }, { "pink 30 dB under", NULL, -30, 0, noise_pink, loudest },
    { "pink 20 dB under the mean", NULL, -20, 0, noise_pink, mean_level },
    { "rain 20 dB under the loudest", NULL, -20, 0, noise_rain, loudest }, { "rain 30 dB under", NULL, -30, 0, noise_rain, loudest },
    { "rain 20 dB under the mean", NULL, -20, 0, noise_rain, mean_level },
    { "drops 20 dB under the loudest", NULL, -20, 0, noise_drops, loudest }, { "drops 30 dB under", NULL, -30, 0, noise_drops, loudest },
    { "drops 20 dB under the mean", NULL, -20, 0, noise_drops, mean_level },
    { "clipped by 6 dB", dress_clip, 6, 0, NULL, NULL }, { "clipped by 12 dB", dress_clip, 12, 0, NULL, NULL },
    { "at -40 dB", dress_gain, -40, 0, NULL, NULL }, { "at +12 dB, over full scale", dress_gain, 12, 0, NULL, NULL },
    { "with an offset of 0.3", dress_offset, 0.3, 0, NULL, NULL }, { "in opposite phase", dress_opposite, 0, 0, NULL, NULL },
    { "limited, 10 dB become 3", dress_limit, 0.7, 0, NULL, NULL },
    { "at 8 kHz", dress_rate, 8000, 0, NULL, NULL }, { "at 11.025 kHz", dress_rate, 11025, 0, NULL, NULL },
    { "with nothing above 4 kHz", dress_low_pass, 4000, 0, NULL, NULL },
    { "at 22.05 kHz", dress_rate, 22050, 0, NULL, NULL }, { "at 48 kHz", dress_rate, 48000, 0, NULL, NULL }, { "at 96 kHz", dress_rate, 96000, 0, NULL, NULL },
    { "in 16 bits", dress_bits, 16, 0, NULL, NULL }, { "in 8 bits", dress_bits, 8, 0, NULL, NULL },
    { "in 2 s of digital silence", dress_padding, 2, 2, NULL, NULL },
};

/* Noise comes in as many draws as one likes, from 0 on. */
static void dress(struct sound *s, size_t row, size_t draw)
{
    if (clothes[row].noise)
        add_noise(s, clothes[row].noise, clothes[row].over(s), clothes[row].by, draw * (sizeof clothes / sizeof *clothes) + row);
    else clothes[row].dress(s, clothes[row].by);
}

#endif
