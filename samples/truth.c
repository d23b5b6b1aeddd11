#include "truth.h"

#include <math.h>
#include <stdlib.h>

static const double pi = 3.14159265358979323846;

static const double centre_hz[TRUTH_BANDS] = { 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0 };
enum { LOW_BANDS = 3 }; /* these lie below 600 Hz (the third up to 707, on its skirt) */

/* ---- Octave bands ------------------------------------------------------- */

struct truth_bands truth_bands_begin(double rate)
{
    struct truth_bands b = { 0 };
    const double quality = sqrt(2.0); /* centre over width, of an octave */
    for (int k = 0; k < TRUTH_BANDS; k++) {
        if (centre_hz[k] > 0.4 * rate) continue;
        const double w = 2.0 * pi * centre_hz[k] / rate;
        const double alpha = sin(w) / (2.0 * quality);
        b.filter[k].gain = alpha / (1.0 + alpha);
        b.filter[k].back[0] = 2.0 * cos(w) / (1.0 + alpha);
        b.filter[k].back[1] = -(1.0 - alpha) / (1.0 + alpha);
    }
    return b;
}

void truth_bands_step(struct truth_bands *b, double x, double power[TRUTH_BANDS])
{
    for (int k = 0; k < TRUTH_BANDS; k++) {
        struct truth_filter *f = &b->filter[k];
        double y = x;
        for (int pass = 0; pass < 2; pass++) {
            double *s = f->state[pass];
            const double now = y + f->back[0] * s[0] + f->back[1] * s[1];
            y = f->gain * (now - s[1]);
            s[1] = s[0];
            s[0] = now;
        }
        power[k] += y * y;
    }
}

double truth_low(const double power[TRUTH_BANDS])
{
    double sum = 0.0;
    for (int k = 0; k < LOW_BANDS; k++) sum += power[k];
    return sum;
}

/* ---- Labels ------------------------------------------------------------- */

bool truth_labels_add(struct truth_labels *l, struct truth_label one)
{
    if (l->count == l->room) {
        const size_t room = l->room ? 2 * l->room : 64;
        struct truth_label *more = calloc(room, sizeof *more);
        if (!more) return false;
        for (size_t i = 0; i < l->count; i++) more[i] = l->list[i];
        free(l->list);
        l->list = more;
        l->room = room;
    }
    l->list[l->count++] = one;
    return true;
}

static int by_start(const void *a, const void *b)
{
    const struct truth_label *one = a, *two = b;
    if (one->start_s != two->start_s) return one->start_s < two->start_s ? -1 : 1;
    return (int)one->kind - (int)two->kind;
}

void truth_labels_settle(struct truth_labels *l)
{
    if (l->count == 0) return;
    qsort(l->list, l->count, sizeof *l->list, by_start);
    struct truth_label *rumble = NULL;
    size_t kept = 0;
    for (size_t i = 0; i < l->count; i++) {
        const struct truth_label one = l->list[i];
        if (one.kind == TRUTH_RUMBLE && rumble && one.start_s <= rumble->end_s) {
            rumble->end_s = fmax(rumble->end_s, one.end_s);
            continue;
        }
        l->list[kept] = one;
        if (one.kind == TRUTH_RUMBLE) rumble = &l->list[kept];
        kept++;
    }
    l->count = kept;
}

void truth_labels_clear(struct truth_labels *l)
{
    free(l->list);
    *l = (struct truth_labels){ 0 };
}

/* ---- Cracks ------------------------------------------------------------- */

/* In frames, that is in milliseconds. */
enum {
    BEFORE = 300,
    AFTER = 60,
    BURST = 15,
    APART = 100,
    LATE = APART + AFTER + BURST /* how long after t its fate is known */
};

static const struct {
    double rise_db;
    int weight;
} grades[] = { { 12.0, 3 }, { 6.0, 2 }, { 4.0, 1 } };

struct truth truth_begin(double rate, const double under[TRUTH_BANDS])
{
    struct truth t = { .bands = truth_bands_begin(rate), .rate = rate };
    for (int k = 0; k < TRUTH_BANDS; k++) t.under[k] = under[k];
    return t;
}

/* Mean square of band k over frames [from, to), what lies underneath included.
 * Before the recording there is only that. */
static double mean(const struct truth *t, int k, int64_t from, int64_t to)
{
    const double sum_to = to > 0 ? t->total[(to - 1) % TRUTH_MEMORY][k] : 0.0;
    const double sum_from = from > 0 ? t->total[(from - 1) % TRUTH_MEMORY][k] : 0.0;
    return fmax(sum_to - sum_from, 0.0) / (double)(to - from) + t->under[k];
}

static double band_rise(const struct truth *t, int k, int64_t at)
{
    double burst = 0.0;
    for (int64_t from = at; from <= at + AFTER - BURST; from++) {
        burst = fmax(burst, mean(t, k, from, from + BURST));
    }
    return 10.0 * log10(burst / mean(t, k, at - BEFORE, at));
}

/* The rise in dB at a frame: see truth.h. */
static double rise_at(const struct truth *t, int64_t at)
{
    double first = 0.0, second = 0.0, high = 0.0;
    for (int k = 0; k < TRUTH_BANDS; k++) {
        const double rise = band_rise(t, k, at);
        if (rise > first) {
            second = first;
            first = rise;
        } else {
            second = fmax(second, rise);
        }
        if (k >= LOW_BANDS) high = fmax(high, rise);
    }
    return fmin(second, high);
}

/* Power of all bands at a frame, each against what went before `at`: the band
 * that rises most counts most. */
static double standing(const struct truth *t, int64_t frame, int64_t at)
{
    double sum = 0.0;
    for (int k = 0; k < TRUTH_BANDS; k++) {
        sum += mean(t, k, frame, frame + 1) / mean(t, k, at - BEFORE, at);
    }
    return sum / TRUTH_BANDS;
}

static int64_t first_arrival(const struct truth *t, int64_t at)
{
    double peak = 0.0;
    for (int64_t n = at; n < at + AFTER; n++) peak = fmax(peak, standing(t, n, at));
    int64_t n = at;
    while (n < at + AFTER && standing(t, n, at) < cbrt(peak)) n++;
    return n;
}

static bool is_peak(const struct truth *t, int64_t at)
{
    const double rise = t->rise[at % TRUTH_MEMORY];
    if (rise < grades[sizeof grades / sizeof *grades - 1].rise_db) return false;
    for (int64_t n = at > APART ? at - APART : 0; n <= at + APART; n++) {
        const double other = t->rise[n % TRUTH_MEMORY];
        if (n < at ? other >= rise : other > rise) return false;
    }
    return true;
}

static bool frame_done(struct truth *t, struct truth_labels *to)
{
    const int64_t now = t->frames - 1;
    const int64_t rising = now - AFTER - BURST;
    if (rising >= 0) t->rise[rising % TRUTH_MEMORY] = rise_at(t, rising);
    const int64_t at = now - LATE;
    if (at < 0 || !is_peak(t, at)) return true;
    const double start_s = (double)first_arrival(t, at) / 1000.0;
    for (size_t i = 0;; i++) {
        if (t->rise[at % TRUTH_MEMORY] < grades[i].rise_db) continue;
        return truth_labels_add(to, (struct truth_label){ TRUTH_CRACK, start_s, start_s, grades[i].weight });
    }
}

bool truth_step(struct truth *t, double x, struct truth_labels *to)
{
    truth_bands_step(&t->bands, x, t->sum);
    t->samples++;
    t->in_frame++;
    if ((double)t->samples * 1000.0 < (double)(t->frames + 1) * t->rate) return true;
    double *total = t->total[t->frames % TRUTH_MEMORY];
    const double *before = t->total[(t->frames + TRUTH_MEMORY - 1) % TRUTH_MEMORY];
    for (int k = 0; k < TRUTH_BANDS; k++) {
        total[k] = before[k] + t->sum[k] / (double)t->in_frame;
        t->sum[k] = 0.0;
    }
    t->in_frame = 0;
    t->frames++;
    return frame_done(t, to);
}

/* ---- Rumbles ------------------------------------------------------------ */

/* The two-sided mean over `width` values around each. */
static double *smoothed(const double *x, size_t count, size_t width)
{
    double *out = calloc(count, sizeof *out);
    double *total = calloc(count + 1, sizeof *total);
    for (size_t i = 0; out && total && i < count; i++) total[i + 1] = total[i] + x[i];
    for (size_t i = 0; out && total && i < count; i++) {
        const size_t from = i > width / 2 ? i - width / 2 : 0;
        const size_t to = i + width / 2 + 1 < count ? i + width / 2 + 1 : count;
        out[i] = (total[to] - total[from]) / (double)(width / 2 * 2 + 1);
    }
    if (!total) {
        free(out);
        out = NULL;
    }
    free(total);
    return out;
}

bool truth_rumbles(const double *sound, size_t count, double rate, double start_s,
                   double under, struct truth_labels *to)
{
    const double frame_s = 0.01;
    const size_t frames = (size_t)((double)count / rate / frame_s) + 1;
    bool good = false;
    double *power = calloc(frames, sizeof *power);
    double *level = NULL;
    if (!power) goto done;
    struct truth_bands b = truth_bands_begin(rate);
    for (size_t i = 0; i < count; i++) {
        double band[TRUTH_BANDS] = { 0 };
        truth_bands_step(&b, sound[i], band);
        power[(size_t)((double)i / rate / frame_s)] += truth_low(band) / (rate * frame_s);
    }
    level = smoothed(power, frames, 30);
    if (!level) goto done;
    double loudest = 0.0;
    for (size_t i = 0; i < frames; i++) loudest = fmax(loudest, level[i]);
    /* -30 dB, and 6 dB above what lies underneath (their sum is 4 times it). */
    const double enough = fmax(loudest / 1000.0, 3.0 * under);

    const size_t bridge = 100, shortest = 50;
    size_t begin = 0, end = 0;
    bool on = false;
    good = true;
    for (size_t i = 0; i <= frames && good; i++) {
        const bool loud = i < frames && level[i] >= enough;
        if (loud && !on) begin = i;
        if (loud) end = i + 1;
        on = on || loud;
        if (!on || loud || (i < frames && i - end < bridge)) continue;
        on = false;
        if (end - begin < shortest) continue;
        good = truth_labels_add(to, (struct truth_label){ TRUTH_RUMBLE, start_s + (double)begin * frame_s,
                                              start_s + (double)end * frame_s, 0 });
    }
done:
    free(power);
    free(level);
    return good;
}
