#include "analyse.h"

#include <kiss_fft.h>
#include <kiss_fftr.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "decimate.h"

#define WINDOW_S    0.02322  /* 1024 samples at 44.1 kHz */
#define LOW_HZ_FROM 40.0     /* below this, wind and handling noise */
#define LOW_HZ_TO   600.0
#define ENOUGH_HZ   22050.0  /* a sample rate that holds all bands */
#define TWO_PI      6.283185307179586

/* How many bins at each end of the spectrum a constant offset leaks into. */
enum { OFFSET_BINS = 32 };

/* Samples of one channel that are taken in at once. */
enum { BLOCK = DECIMATE_BLOCK };

/* A run of neighbouring bins and how much of each lies in a band. */
struct tap {
    int first, count;
    const float *weight;
};

struct analyser {
    double rate;                 /* after halving */
    int channels;
    int halvings;                /* stages of decimation */
    struct decimator *decimator; /* [channel][halvings] */
    float *block;                /* two blocks on their way through the stages */
    size_t window, size;         /* samples in the window; size of the transform */
    int64_t step;                /* the next one */
    int64_t end;                 /* absolute index just after the last sample held */
    int64_t base;                /* absolute index of past[channel][0] */
    int64_t taken;
    size_t room;                 /* samples that `past` holds for each channel */
    float *past;                 /* [channel][room] */
    float *shape;                /* the window */
    kiss_fft_cpx *offset;        /* its transform over its sum, first OFFSET_BINS */
    kiss_fft_cpx *pair_in, *pair_out;
    float *lone_in;
    kiss_fft_cpx *lone_out;
    kiss_fft_cfg pair;
    kiss_fftr_cfg lone;
    float *power;                /* size / 2 + 1 bins, summed over channels */
    size_t bins;
    float scale;                 /* a full-scale sine in one of one channels: 1 */
    int bands;
    struct tap band[BAND_COUNT], low, total;
    float *weights;
};

/* ---- Set-up ---- */

/* Bin k stands for (k - 1/2 .. k + 1/2) * spacing; a band takes its overlap. */
static struct tap make_tap(float **next, double from_hz, double to_hz, double spacing, size_t bins)
{
    double from = from_hz / spacing, to = to_hz / spacing;
    double most = (double)bins - 0.5;
    if (to > most) to = most;
    int first = (int)floor(from + 0.5), last = (int)ceil(to - 0.5);
    struct tap tap = { .first = first, .count = last >= first ? last - first + 1 : 0, .weight = *next };
    for (int k = first; k <= last; k++) {
        double a = fmax(from, k - 0.5), b = fmin(to, k + 0.5);
        *(*next)++ = (float)fmax(0, b - a);
    }
    return tap;
}

static void make_bands(struct analyser *a)
{
    double spacing = a->rate / (double)a->size;
    double nyquist = a->rate / 2;
    float *next = a->weights;
    for (a->bands = 0; a->bands < BAND_COUNT; a->bands++) {
        double from = BAND_LOWEST_HZ * pow(2, a->bands / 2.0), to = from * sqrt(2.0);
        if (to > nyquist * 1.001) break;
        a->band[a->bands] = make_tap(&next, from, to, spacing, a->bins);
    }
    a->low = make_tap(&next, LOW_HZ_FROM, fmin(LOW_HZ_TO, nyquist), spacing, a->bins);
    a->total = make_tap(&next, LOW_HZ_FROM, nyquist, spacing, a->bins);
}

static void make_window(struct analyser *a)
{
    double sum = 0, squares = 0;
    for (size_t i = 0; i < a->window; i++) {
        double w = 0.5 - 0.5 * cos(TWO_PI * ((double)i + 0.5) / (double)a->window);
        a->shape[i] = (float)w;
        sum += w;
        squares += w * w;
    }
    /* Parseval: a sine of amplitude 1 puts size * squares / 4 into one half. */
    a->scale = (float)(4.0 / ((double)a->size * squares * a->channels));
    for (int k = 0; k < OFFSET_BINS; k++) {
        double re = 0, im = 0;
        for (size_t i = 0; i < a->window; i++) {
            double turn = TWO_PI * k * (double)i / (double)a->size;
            re += (double)a->shape[i] * cos(turn);
            im -= (double)a->shape[i] * sin(turn);
        }
        a->offset[k] = (kiss_fft_cpx){ .r = (float)(re / sum), .i = (float)(im / sum) };
    }
}

enum tc_status analyser_create(struct analyser **out, double rate, int channels)
{
    *out = NULL;
    if (!(rate >= 1000 && rate <= 768000) || channels < 1 || channels > 64) return TC_ERR_USAGE;
    struct analyser *a = calloc(1, sizeof *a);
    if (!a) return TC_ERR_MEMORY;
    a->rate = rate;
    a->channels = channels;
    for (; a->rate / 2 >= ENOUGH_HZ; a->rate /= 2) a->halvings++;
    rate = a->rate;
    a->window = (size_t)(WINDOW_S * rate + 0.5);
    if (a->window < 2 * OFFSET_BINS) a->size = 4 * OFFSET_BINS;
    else a->size = (size_t)kiss_fftr_next_fast_size_real((int)a->window);
    a->bins = a->size / 2 + 1;
    a->room = 4 * a->window + BLOCK;

    size_t n = a->size;
    a->past = calloc(a->room * (size_t)channels, sizeof *a->past);
    a->shape = calloc(a->window, sizeof *a->shape);
    a->offset = calloc(OFFSET_BINS, sizeof *a->offset);
    a->pair_in = calloc(n, sizeof *a->pair_in);
    a->pair_out = calloc(n, sizeof *a->pair_out);
    a->lone_in = calloc(n, sizeof *a->lone_in);
    a->lone_out = calloc(a->bins, sizeof *a->lone_out);
    a->power = calloc(a->bins, sizeof *a->power);
    a->block = calloc(2 * BLOCK, sizeof *a->block);
    a->decimator = calloc((size_t)(channels * a->halvings) + 1, sizeof *a->decimator);
    a->weights = calloc(3 * (a->bins + 2 * BAND_COUNT), sizeof *a->weights);
    a->pair = kiss_fft_alloc((int)n, 0, NULL, NULL);
    a->lone = kiss_fftr_alloc((int)n, 0, NULL, NULL);
    if (!a->past || !a->shape || !a->offset || !a->pair_in || !a->pair_out || !a->lone_in
        || !a->lone_out || !a->power || !a->weights || !a->block || !a->decimator || !a->pair || !a->lone) {
        analyser_destroy(a);
        return TC_ERR_MEMORY;
    }
    for (int i = 0; i < channels * a->halvings; i++) decimator_start(&a->decimator[i]);
    make_window(a);
    make_bands(a);
    a->base = -(int64_t)a->room; /* silence before the start */
    *out = a;
    return TC_OK;
}

/* ---- One step ---- */

static void add_pair(struct analyser *a, const float *left, const float *right)
{
    size_t n = a->size;
    for (size_t i = 0; i < a->window; i++) {
        a->pair_in[i].r = a->shape[i] * left[i];
        a->pair_in[i].i = a->shape[i] * right[i];
    }
    kiss_fft(a->pair, a->pair_in, a->pair_out);

    /* |L|^2 + |R|^2 of bin k is the mean of |Z[k]|^2 and |Z[n-k]|^2, doubled
     * and halved again by the two halves of the spectrum. */
    kiss_fft_cpx *z = a->pair_out;
    const kiss_fft_cpx dc = z[0];
    for (int k = 0; k < OFFSET_BINS; k++) {
        const kiss_fft_cpx h = a->offset[k];
        z[k].r -= dc.r * h.r - dc.i * h.i;
        z[k].i -= dc.r * h.i + dc.i * h.r;
        if (!k) continue;
        z[n - (size_t)k].r -= dc.r * h.r + dc.i * h.i;
        z[n - (size_t)k].i -= dc.i * h.r - dc.r * h.i;
    }
    for (size_t k = 1; k < a->bins; k++) {
        const kiss_fft_cpx x = z[k], y = z[n - k];
        a->power[k] += 0.5f * (x.r * x.r + x.i * x.i + y.r * y.r + y.i * y.i);
    }
}

static void add_lone(struct analyser *a, const float *samples)
{
    for (size_t i = 0; i < a->window; i++) a->lone_in[i] = a->shape[i] * samples[i];
    kiss_fftr(a->lone, a->lone_in, a->lone_out);
    kiss_fft_cpx *z = a->lone_out;
    const float dc = z[0].r;
    for (int k = 0; k < OFFSET_BINS; k++) {
        z[k].r -= dc * a->offset[k].r;
        z[k].i -= dc * a->offset[k].i;
    }
    for (size_t k = 1; k < a->bins; k++) a->power[k] += z[k].r * z[k].r + z[k].i * z[k].i;
}

/* Four sums side by side, so that the additions need not wait for each other. */
static float tap_sum(const struct tap *t, const float *power)
{
    const float *p = power + t->first, *w = t->weight;
    float s[4] = { 0 };
    int i = 0;
    for (; i + 4 <= t->count; i += 4)
        for (int j = 0; j < 4; j++) s[j] += p[i + j] * w[i + j];
    for (; i < t->count; i++) s[0] += p[i] * w[i];
    return (s[0] + s[1]) + (s[2] + s[3]);
}

static int64_t centre_of(const struct analyser *a, int64_t step)
{
    return (int64_t)floor((double)step * a->rate / STEPS_A_SECOND + 0.5);
}

static float peak_of(const struct analyser *a, int64_t centre)
{
    int64_t half = (int64_t)(a->rate / STEPS_A_SECOND / 2) + 1;
    int64_t from = centre - half, to = centre + half;
    if (from < a->base) from = a->base;
    if (to > a->end) to = a->end;
    float peak = 0;
    for (int c = 0; c < a->channels; c++) {
        const float *x = a->past + (size_t)c * a->room;
        for (int64_t i = from - a->base; i < to - a->base; i++) {
            float v = fabsf(x[i]);
            peak = v > peak ? v : peak;
        }
    }
    return peak;
}

static void hear(struct analyser *a, int64_t first, struct hearing *out)
{
    memset(a->power, 0, a->bins * sizeof *a->power);
    size_t at = (size_t)(first - a->base);
    int c = 0;
    for (; c + 1 < a->channels; c += 2)
        add_pair(a, a->past + (size_t)c * a->room + at, a->past + (size_t)(c + 1) * a->room + at);
    if (c < a->channels) add_lone(a, a->past + (size_t)c * a->room + at);

    *out = (struct hearing){ .step = a->step, .bands = a->bands };
    for (int b = 0; b < a->bands; b++) out->band[b] = a->scale * tap_sum(&a->band[b], a->power);
    out->low = a->scale * tap_sum(&a->low, a->power);
    out->total = a->scale * tap_sum(&a->total, a->power);
    out->peak = peak_of(a, centre_of(a, a->step));
}

/* Drops what no coming window needs, to make room at the end. */
static void make_room(struct analyser *a, int64_t first_needed)
{
    size_t keep = (size_t)(a->end - first_needed), drop = (size_t)(first_needed - a->base);
    for (int c = 0; c < a->channels; c++) {
        float *x = a->past + (size_t)c * a->room;
        memmove(x, x + drop, keep * sizeof *x);
    }
    a->base = first_needed;
}

/* Appends n sample frames (at most BLOCK), silence if `in` is NULL, and halves
 * the rate on the way. There must be room. */
static void append(struct analyser *a, const float *in, size_t n)
{
    size_t at = (size_t)(a->end - a->base), channels = (size_t)a->channels, got = n;
    for (size_t c = 0; c < channels; c++) {
        float *past = a->past + c * a->room + at;
        float *to = a->halvings ? a->block : past;
        if (in)
            for (size_t i = 0; i < n; i++) to[i] = in[i * channels + c];
        else
            memset(to, 0, n * sizeof *to);
        struct decimator *stage = &a->decimator[c * (size_t)a->halvings];
        got = n;
        for (int h = 0; h < a->halvings; h++) {
            float *next = h + 1 == a->halvings ? past : to == a->block ? a->block + BLOCK : a->block;
            got = decimator_step(&stage[h], to, got, next);
            to = next;
        }
    }
    a->end += (int64_t)got;
}

/* Brings the next window in; false if the input is used up before. */
static bool fill(struct analyser *a, int64_t first, struct span *in)
{
    int64_t last = first + (int64_t)a->window;
    while (a->end < last) {
        if (a->end - a->base + BLOCK > (int64_t)a->room) make_room(a, first);
        size_t n = (size_t)(last - a->end) << a->halvings;
        if (n > BLOCK) n = BLOCK;
        if (!in) {
            append(a, NULL, n);
            continue;
        }
        if (!in->frames) return false;
        if (n > in->frames) n = in->frames;
        append(a, in->samples, n);
        in->samples += n * (size_t)a->channels;
        in->frames -= n;
        a->taken += (int64_t)n;
    }
    return true;
}

bool analyser_step(struct analyser *a, struct span *in, struct hearing *out)
{
    int64_t first = centre_of(a, a->step) - (int64_t)(a->window / 2);
    if (!fill(a, first, in)) return false;
    hear(a, first, out);
    a->step++;
    return true;
}

bool analyser_flush(struct analyser *a, struct hearing *out)
{
    int64_t centre = centre_of(a, a->step);
    if (centre << a->halvings >= a->taken) return false;
    int64_t first = centre - (int64_t)(a->window / 2);
    fill(a, first, NULL);
    hear(a, first, out);
    a->step++;
    return true;
}

int64_t analyser_taken(const struct analyser *a)
{
    return a->taken;
}

void analyser_destroy(struct analyser *a)
{
    if (!a) return;
    free(a->past);
    free(a->shape);
    free(a->offset);
    free(a->pair_in);
    free(a->pair_out);
    free(a->lone_in);
    free(a->lone_out);
    free(a->power);
    free(a->weights);
    free(a->block);
    free(a->decimator);
    kiss_fft_free(a->pair);
    kiss_fftr_free(a->lone);
    free(a);
}
