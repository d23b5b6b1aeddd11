#include "hearing/analyse.h"

#include <kiss_fft.h>
#include <math.h>
#include <string.h>

#include "hearing/decimate.h"
#include "hearing/mend.h"
#include "words/memory.h"

#define WINDOW_S    0.02322  /* 1024 samples at 44.1 kHz */
#define LOW_HZ_FROM 40.0     /* below this, wind and handling noise */
#define LOW_HZ_TO   600.0
#define ENOUGH_HZ   22050.0  /* a sample rate that holds all bands */
#define TWO_PI      6.283185307179586

/* Samples of one channel that are taken in at once. */
enum { BLOCK = DECIMATE_BLOCK };
_Static_assert((int)BLOCK <= (int)MEND_BLOCK, "the mender takes a block at once");

/* Sums go into this many places by turns, so that the compiler may work on
 * them side by side and the order of additions is the same everywhere. */
enum { LANES = 8 };

/* Steps that one transform holds: of a single channel two. */
enum { STEPS_MOST = 2 };

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
    struct mender *mender;       /* [channel] */
    float *first;                /* [channel]: the first sample */
    bool begun;                  /* it is known */
    size_t window, size;         /* samples in the window; size of the transform */
    int64_t step;                /* the next one */
    int64_t end;                 /* absolute index just after the last sample held */
    int64_t base;                /* absolute index of past[channel][0] */
    int64_t taken, bad;          /* sample frames; samples that were no numbers */
    size_t room;                 /* samples that `past` holds for each channel */
    float *past;                 /* [channel][room] */
    float *shape;                /* the window */
    float shape_sum;
    kiss_fft_cfg fft;
    kiss_fft_cpx *in, *out;      /* `size` values */
    float *power;                /* size / 2 + 1 bins, summed over channels */
    float *power_next;           /* of the second step, with one channel */
    struct hearing ready[STEPS_MOST];
    int group, ready_at;         /* steps in a transform, the next one to hand out */
    size_t bins;
    float scale;                 /* so that a full-scale sine in every channel has the power 1 */
    int bands;
    struct tap band[BAND_COUNT], low;
    struct tap between, above;   /* what `total` has beside `low` and the bands over it */
    int first_high;              /* the lowest band that lies over `low` */
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
    struct tap tap = { .first = first, .count = to > from ? last - first + 1 : 0, .weight = *next };
    for (int k = first; k < first + tap.count; k++) {
        double a = fmax(from, k - 0.5), b = fmin(to, k + 0.5);
        *(*next)++ = (float)fmax(0, b - a);
    }
    return tap;
}

static double band_from_hz(int band)
{
    return BAND_LOWEST_HZ * pow(2, band / 2.0);
}

static void make_bands(struct analyser *a)
{
    double spacing = a->rate / (double)a->size;
    double nyquist = a->rate / 2, low_to = fmin(LOW_HZ_TO, nyquist);
    float *next = a->weights;
    for (a->bands = 0; a->bands < BAND_COUNT; a->bands++) {
        double to = band_from_hz(a->bands + 1);
        if (to > nyquist * 1.001) break;
        a->band[a->bands] = make_tap(&next, band_from_hz(a->bands), to, spacing, a->bins);
    }
    a->low = make_tap(&next, LOW_HZ_FROM, low_to, spacing, a->bins);
    while (a->first_high < a->bands && band_from_hz(a->first_high) < low_to) a->first_high++;
    double high_from = a->first_high < a->bands ? band_from_hz(a->first_high) : low_to;
    double high_to = a->first_high < a->bands ? band_from_hz(a->bands) : low_to;
    a->between = make_tap(&next, low_to, high_from, spacing, a->bins);
    a->above = make_tap(&next, high_to, nyquist, spacing, a->bins);
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
    a->shape_sum = (float)sum;
    /* Parseval: a sine of amplitude 1 puts size * squares / 4 into one half. */
    a->scale = (float)(4.0 / ((double)a->size * squares * a->channels));
}

/* The transform's plan, in our own room. */
static bool make_transform(struct analyser *a)
{
    size_t bytes = 0;
    kiss_fft_alloc((int)a->size, 0, NULL, &bytes);
    void *room = memory_new(1, bytes);
    a->in = memory_new(a->size, sizeof *a->in);
    a->out = memory_new(a->size, sizeof *a->out);
    if (room) a->fft = kiss_fft_alloc((int)a->size, 0, room, &bytes);
    return a->fft && a->in && a->out;
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
    a->window = (size_t)(WINDOW_S * a->rate + 0.5);
    a->size = (size_t)kiss_fft_next_fast_size((int)a->window);
    a->size += a->size % 2; /* 2, 3 and 5 are its factors still, or the window is tiny */
    a->bins = a->size / 2 + 1;
    a->room = 4 * a->window + BLOCK;
    a->group = channels == 1 ? 2 : 1;
    a->ready_at = a->group;

    size_t count = (size_t)channels;
    a->past = memory_new(a->room * count, sizeof *a->past);
    a->first = memory_new(count, sizeof *a->first);
    a->mender = memory_new(count, sizeof *a->mender);
    a->shape = memory_new(a->window, sizeof *a->shape);
    a->power = memory_new(2 * a->bins, sizeof *a->power);
    a->block = memory_new(2 * BLOCK, sizeof *a->block);
    a->decimator = memory_new(count * (size_t)a->halvings + 1, sizeof *a->decimator);
    a->weights = memory_new(3 * (a->bins + 2 * BAND_COUNT), sizeof *a->weights);
    if (!a->past || !a->first || !a->mender || !a->shape || !a->power || !a->block || !a->decimator || !a->weights
        || !make_transform(a)) {
        analyser_destroy(a);
        return TC_ERR_MEMORY;
    }
    a->power_next = a->power + a->bins;
    for (int i = 0; i < channels * a->halvings; i++) decimator_start(&a->decimator[i]);
    make_window(a);
    make_bands(a);
    a->base = -(int64_t)a->room;
    *out = a;
    return TC_OK;
}

/* ---- One transform ---- */

static float lanes_sum(const float lane[LANES])
{
    return ((lane[0] + lane[4]) + (lane[2] + lane[6])) + ((lane[1] + lane[5]) + (lane[3] + lane[7]));
}

/* sum over i of x[i] * y[i] */
static float product_sum(const float *x, const float *y, size_t count)
{
    float lane[LANES] = { 0 };
    size_t i = 0;
    for (; i + LANES <= count; i += LANES)
        for (size_t l = 0; l < LANES; l++) lane[l] += x[i + l] * y[i + l];
    for (size_t l = 0; i + l < count; l++) lane[l] += x[i + l] * y[i + l];
    return lanes_sum(lane);
}

/* A constant offset (DC) of the window, as the window weighs it. */
static float offset_of(const struct analyser *a, const float *x)
{
    return product_sum(x, a->shape, a->window) / a->shape_sum;
}

/* Transforms two windows at once, one as the real and one as the imaginary
 * part (NULL: nothing), each without its offset. */
static void transform(struct analyser *a, const float *re, const float *im)
{
    const float *shape = a->shape;
    const float re_offset = offset_of(a, re), im_offset = im ? offset_of(a, im) : 0;
    if (im)
        for (size_t i = 0; i < a->window; i++)
            a->in[i] = (kiss_fft_cpx){ shape[i] * (re[i] - re_offset), shape[i] * (im[i] - im_offset) };
    else
        for (size_t i = 0; i < a->window; i++) a->in[i] = (kiss_fft_cpx){ shape[i] * (re[i] - re_offset), 0 };
    kiss_fft(a->fft, a->in, a->out); /* in[window..size] stays 0 */
}

/* Real and imaginary part are two channels: |L|^2 + |R|^2 of bin k is the mean
 * of |Z[k]|^2 and |Z[n-k]|^2, doubled and halved again by the two halves of
 * the spectrum. */
static void add_channels(struct analyser *a)
{
    const kiss_fft_cpx *up = a->out, *down = a->out + a->size;
    for (size_t k = 1; k < a->bins; k++) {
        const kiss_fft_cpx x = up[k], y = down[-(ptrdiff_t)k];
        a->power[k] += 0.5f * (x.r * x.r + x.i * x.i + y.r * y.r + y.i * y.i);
    }
}

/* Real and imaginary part are two steps of one channel: what is even under
 * k -> n-k and conjugation belongs to the first, what is odd to the second. */
static void part_steps(struct analyser *a)
{
    const kiss_fft_cpx *up = a->out, *down = a->out + a->size;
    for (size_t k = 1; k < a->bins; k++) {
        const kiss_fft_cpx x = up[k], y = down[-(ptrdiff_t)k];
        const float p = x.r + y.r, q = x.i - y.i, r = x.i + y.i, s = y.r - x.r;
        a->power[k] = 0.25f * (p * p + q * q);
        a->power_next[k] = 0.25f * (r * r + s * s);
    }
}

static float tap_sum(const struct tap *t, const float *power)
{
    return product_sum(power + t->first, t->weight, (size_t)t->count);
}

/* ---- Steps ---- */

static int64_t centre_of(const struct analyser *a, int64_t step)
{
    return (int64_t)floor((double)step * a->rate / STEPS_A_SECOND + 0.5);
}

static int64_t first_of(const struct analyser *a, int64_t step)
{
    return centre_of(a, step) - (int64_t)(a->window / 2);
}

/* Without their sign, floats are in the order of their bits. */
static float peak_of(const struct analyser *a, int64_t step)
{
    const uint32_t magnitude = 0x7FFFFFFFu;
    int64_t half = (int64_t)(a->rate / STEPS_A_SECOND / 2) + 1, centre = centre_of(a, step);
    int64_t from = centre - half, to = centre + half;
    if (from < a->base) from = a->base;
    if (to > a->end) to = a->end;
    float peak = 0;
    for (int c = 0; c < a->channels; c++) {
        const float *x = a->past + (size_t)c * a->room;
        int32_t most = 0;
        for (int64_t i = from - a->base; i < to - a->base; i++) {
            const float v = x[i] + a->first[c];
            uint32_t bits;
            memcpy(&bits, &v, sizeof bits);
            const int32_t here = (int32_t)(bits & magnitude);
            most = here > most ? here : most;
        }
        float most_here;
        memcpy(&most_here, &most, sizeof most_here);
        peak = most_here > peak ? most_here : peak;
    }
    return peak;
}

static void sum_up(const struct analyser *a, int64_t step, const float *power, struct hearing *h)
{
    *h = (struct hearing){ .step = step, .bands = a->bands, .peak = peak_of(a, step) };
    for (int b = 0; b < a->bands; b++) h->band[b] = a->scale * tap_sum(&a->band[b], power);
    h->low = a->scale * tap_sum(&a->low, power);
    h->total = h->low + a->scale * (tap_sum(&a->between, power) + tap_sum(&a->above, power));
    for (int b = a->first_high; b < a->bands; b++) h->total += h->band[b];
}

static void hear(struct analyser *a)
{
    const float *at = a->past + (first_of(a, a->step) - a->base);
    if (a->channels == 1) {
        transform(a, at, a->past + (first_of(a, a->step + 1) - a->base));
        part_steps(a);
        sum_up(a, a->step + 1, a->power_next, &a->ready[1]);
    } else {
        memset(a->power, 0, a->bins * sizeof *a->power);
        for (int c = 0; c < a->channels; c += 2) {
            const float *left = at + (size_t)c * a->room;
            transform(a, left, c + 1 < a->channels ? left + a->room : NULL);
            add_channels(a);
        }
    }
    sum_up(a, a->step, a->power, &a->ready[0]);
    a->ready_at = 0;
}

/* ---- Samples in ---- */

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

/* Samples of one channel, mended and less the first one: what lies before the
 * start is the same as the start, so that an offset begins without a step.
 * After the end (`in` NULL) goes on what was there last. Returns how many are
 * done. */
static size_t take(struct analyser *a, size_t channel, const float *in, size_t n, float *to)
{
    struct mender *m = &a->mender[channel];
    if (in) {
        for (size_t i = 0; i < n; i++) to[i] = in[i * (size_t)a->channels + channel];
        a->bad += mend_samples(to, n);
    } else {
        float last = mender_last(m);
        for (size_t i = 0; i < n; i++) to[i] = last;
    }
    n = mender_step(m, to, n);
    if (!a->begun && n) a->first[channel] = to[0];
    for (size_t i = 0; i < n; i++) to[i] -= a->first[channel];
    return n;
}

/* Appends n sample frames (at most BLOCK), halving the rate on the way. There
 * must be room. */
static void append(struct analyser *a, const float *in, size_t n)
{
    size_t at = (size_t)(a->end - a->base), done = 0, got = 0;
    for (size_t c = 0; c < (size_t)a->channels; c++) {
        float *past = a->past + c * a->room + at;
        float *to = a->halvings ? a->block : past;
        done = take(a, c, in, n, to);
        struct decimator *stage = &a->decimator[c * (size_t)a->halvings];
        got = done;
        for (int h = 0; h < a->halvings; h++) {
            float *next = h + 1 == a->halvings ? past : to == a->block ? a->block + BLOCK : a->block;
            got = decimator_step(&stage[h], to, got, next);
            to = next;
        }
    }
    a->end += (int64_t)got;
    a->begun |= done > 0;
    if (in) a->taken += (int64_t)n;
}

/* Brings in what the next transform needs; false if the input is used up before. */
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
    memory_free(a->first);
    memory_free(a->mender);
    memory_free(a->shape);
    memory_free(a->fft);
    memory_free(a->in);
    memory_free(a->out);
    memory_free(a->power);
    memory_free(a->weights);
    memory_free(a->block);
    memory_free(a->decimator);
    memory_free(a);
}
