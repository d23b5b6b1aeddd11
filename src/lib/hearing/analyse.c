#include "hearing/analyse.h"

#include <math.h>
#include <string.h>

#include "hearing/decimate.h"
#include "hearing/fourier.h"
#include "hearing/samples.h"
#include "words/memory.h"

#define WINDOW_S    0.02322  /* 1024 samples at 44.1 kHz */
#define LOW_HZ_FROM 40.0     /* below this, wind and handling noise */
#define LOW_HZ_TO   600.0
#define ENOUGH_HZ   22050.0  /* a sample rate that holds all bands */
#define TWO_PI      6.283185307179586

/* How many bins at each end of the spectrum a constant offset leaks into. */
enum { OFFSET_BINS = 32 };

/* Samples of one channel that are taken in at once. */
enum { BLOCK = DECIMATE_BLOCK };

/* Steps that are worked out at once: as many as there are transforms side by
 * side. A transform holds two channels, or of a single channel two steps. */
enum { LANES = FOURIER_LANES, GROUP_MOST = 2 * LANES };

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
    int64_t taken, bad;          /* sample frames; samples that were no numbers */
    size_t room;                 /* samples that `past` holds for each channel */
    float *past;                 /* [channel][room] */
    float *shape;                /* the window */
    float *nothing;              /* a window of silence */
    struct { float re, im; } offset[OFFSET_BINS]; /* its transform over its sum */
    struct fourier *fourier;
    struct quad *windows;        /* what is transformed next */
    four *power[2];              /* size / 2 + 1 bins, summed over channels; [1] for one channel only */
    struct hearing ready[GROUP_MOST];
    int group, ready_at;         /* steps in a group, the next one to hand out */
    size_t bins;
    float scale;                 /* so that a full-scale sine in every channel has the power 1 */
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
        a->offset[k].re = (float)(re / sum);
        a->offset[k].im = (float)(im / sum);
    }
}

enum tc_status analyser_create(struct analyser **out, double rate, int channels)
{
    *out = NULL;
    if (!(rate >= 1000 && rate <= 768000) || channels < 1 || channels > 64) return TC_ERR_USAGE;
    struct analyser *a = memory_new(1, sizeof *a);
    if (!a) return TC_ERR_MEMORY;
    a->rate = rate;
    a->channels = channels;
    for (; a->rate / 2 >= ENOUGH_HZ; a->rate /= 2) a->halvings++;
    rate = a->rate;
    a->window = (size_t)(WINDOW_S * rate + 0.5);
    if (a->window < 2 * OFFSET_BINS) a->size = 4 * OFFSET_BINS;
    else a->size = fourier_size(a->window);
    a->bins = a->size / 2 + 1;
    a->room = 4 * a->window + BLOCK;

    a->group = channels == 1 ? 2 * LANES : LANES;
    a->ready_at = a->group;
    a->past = memory_new(a->room * (size_t)channels, sizeof *a->past);
    a->shape = memory_new(a->window, sizeof *a->shape);
    a->nothing = memory_new(a->window, sizeof *a->nothing);
    a->windows = memory_new(a->size, sizeof *a->windows);
    a->power[0] = memory_new(a->bins, sizeof *a->power[0]);
    a->power[1] = memory_new(a->bins, sizeof *a->power[1]);
    a->block = memory_new(2 * BLOCK, sizeof *a->block);
    a->decimator = memory_new((size_t)(channels * a->halvings) + 1, sizeof *a->decimator);
    a->weights = memory_new(3 * (a->bins + 2 * BAND_COUNT), sizeof *a->weights);
    if (!a->past || !a->shape || !a->nothing || !a->windows || !a->power[0] || !a->power[1] || !a->weights || !a->block
        || !a->decimator || fourier_create(&a->fourier, a->size) != TC_OK) {
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

/* ---- A group of steps ---- */

/* Puts windows into the transform: lane l of the real part from re[l], of the
 * imaginary part from im[l]. */
static void load(struct analyser *a, const float *const re[LANES], const float *const im[LANES])
{
    for (size_t i = 0; i < a->window; i++) {
        const float w = a->shape[i];
        a->windows[i].re = (four){ re[0][i], re[1][i], re[2][i], re[3][i] } * w;
        a->windows[i].im = (four){ im[0][i], im[1][i], im[2][i], im[3][i] } * w;
    }
    memset(a->windows + a->window, 0, (a->size - a->window) * sizeof *a->windows);
}

/* Transforms, and takes out a constant offset of both parts. */
static const struct quad *transform(struct analyser *a)
{
    struct quad *z = fourier_run(a->fourier, a->windows);
    const struct quad dc = z[0];
    for (size_t k = 0; k < OFFSET_BINS; k++) {
        const float re = a->offset[k].re, im = a->offset[k].im;
        z[k].re -= dc.re * re - dc.im * im;
        z[k].im -= dc.re * im + dc.im * re;
        if (!k) continue;
        z[a->size - k].re -= dc.re * re + dc.im * im;
        z[a->size - k].im -= dc.im * re - dc.re * im;
    }
    return z;
}

/* Real and imaginary part are two channels: |L|^2 + |R|^2 of bin k is the mean
 * of |Z[k]|^2 and |Z[n-k]|^2, doubled and halved again by the two halves of
 * the spectrum. */
static void add_channels(struct analyser *a, const struct quad *z)
{
    for (size_t k = 1; k < a->bins; k++) {
        const struct quad x = z[k], y = z[a->size - k];
        a->power[0][k] += 0.5f * (x.re * x.re + x.im * x.im + y.re * y.re + y.im * y.im);
    }
}

/* Real and imaginary part are two steps of one channel: what is even under
 * k -> n-k and conjugation belongs to the first, what is odd to the second. */
static void add_steps(struct analyser *a, const struct quad *z)
{
    for (size_t k = 1; k < a->bins; k++) {
        const struct quad x = z[k], y = z[a->size - k];
        const four p = x.re + y.re, q = x.im - y.im, r = x.im + y.im, s = y.re - x.re;
        a->power[0][k] = 0.25f * (p * p + q * q);
        a->power[1][k] = 0.25f * (r * r + s * s);
    }
}

/* Two sums side by side, so that the additions need not wait for each other. */
static four tap_sum(const struct tap *t, const four *power)
{
    const four *p = power + t->first;
    const float *w = t->weight;
    four even = { 0 }, odd = { 0 };
    int i = 0;
    for (; i + 2 <= t->count; i += 2) {
        even += p[i] * w[i];
        odd += p[i + 1] * w[i + 1];
    }
    if (i < t->count) even += p[i] * w[i];
    return even + odd;
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

static int64_t first_of(const struct analyser *a, int64_t step)
{
    return centre_of(a, step) - (int64_t)(a->window / 2);
}

/* The sums of four steps, from the group's `from`th on. */
static void sum_up(struct analyser *a, int from, const four *power)
{
    struct hearing *out = a->ready + from;
    const four low = a->scale * tap_sum(&a->low, power), total = a->scale * tap_sum(&a->total, power);
    for (int l = 0; l < LANES; l++) {
        int64_t step = a->step + from + l;
        out[l] = (struct hearing){ .step = step, .bands = a->bands, .low = low[l], .total = total[l],
                                   .peak = peak_of(a, centre_of(a, step)) };
    }
    for (int b = 0; b < a->bands; b++) {
        const four band = a->scale * tap_sum(&a->band[b], power);
        for (int l = 0; l < LANES; l++) out[l].band[b] = band[l];
    }
}

/* Works out the group of steps that begins with the next one. */
static void hear(struct analyser *a)
{
    size_t at[GROUP_MOST];
    const float *re[LANES], *im[LANES];
    for (int i = 0; i < a->group; i++) at[i] = (size_t)(first_of(a, a->step + i) - a->base);
    if (a->channels == 1) {
        for (int l = 0; l < LANES; l++) re[l] = a->past + at[l], im[l] = a->past + at[LANES + l];
        load(a, re, im);
        add_steps(a, transform(a));
        sum_up(a, LANES, a->power[1]);
    } else {
        memset(a->power[0], 0, a->bins * sizeof *a->power[0]);
        for (int c = 0; c < a->channels; c += 2) {
            bool lone = c + 1 == a->channels; /* its partner is silence */
            const float *left = a->past + (size_t)c * a->room;
            const float *right = lone ? a->nothing : left + a->room;
            for (int l = 0; l < LANES; l++) re[l] = left + at[l], im[l] = lone ? right : right + at[l];
            load(a, re, im);
            add_channels(a, transform(a));
        }
    }
    sum_up(a, 0, a->power[0]);
    a->ready_at = 0;
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
        a->bad += samples_mend(to, n);
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

/* Brings in what the next group needs; false if the input is used up before. */
static bool fill(struct analyser *a, struct span *in)
{
    int64_t first = first_of(a, a->step), last = first_of(a, a->step + a->group - 1) + (int64_t)a->window;
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

static bool hand_out(struct analyser *a, struct span *in, struct hearing *out)
{
    if (a->ready_at == a->group) {
        if (!fill(a, in)) return false;
        hear(a);
    }
    *out = a->ready[a->ready_at++];
    a->step++;
    return true;
}

bool analyser_step(struct analyser *a, struct span *in, struct hearing *out)
{
    return hand_out(a, in, out);
}

bool analyser_flush(struct analyser *a, struct hearing *out)
{
    if (centre_of(a, a->step) << a->halvings >= a->taken) return false;
    return hand_out(a, NULL, out);
}

int64_t analyser_bad_samples(const struct analyser *a)
{
    return a->bad;
}

int64_t analyser_taken(const struct analyser *a)
{
    return a->taken;
}

void analyser_destroy(struct analyser *a)
{
    if (!a) return;
    memory_free(a->past);
    memory_free(a->shape);
    memory_free(a->nothing);
    memory_free(a->windows);
    memory_free(a->power[0]);
    memory_free(a->power[1]);
    memory_free(a->weights);
    memory_free(a->block);
    memory_free(a->decimator);
    fourier_destroy(a->fourier);
    memory_free(a);
}
