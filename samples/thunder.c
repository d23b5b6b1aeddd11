#include "thunder.h"

#include <assert.h>
#include <complex.h>
#include <math.h>
#include <stdlib.h>

static const double pi = 3.14159265358979323846;

/* ---- Chance ------------------------------------------------------------- */

static uint64_t dice_next(struct dice *d)
{
    uint64_t z = d->state += UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return z ^ (z >> 31);
}

struct dice dice_for(uint64_t seed, uint64_t index)
{
    struct dice whole = { seed };
    struct dice part = { dice_next(&whole) ^ index };
    return (struct dice){ dice_next(&part) };
}

double dice_uniform(struct dice *d)
{
    return (double)(dice_next(d) >> 11) * 0x1p-53;
}

double dice_normal(struct dice *d)
{
    const double radius = sqrt(-2.0 * log(1.0 - dice_uniform(d)));
    return radius * cos(2.0 * pi * dice_uniform(d));
}

/* ---- Sound in air ------------------------------------------------------- */

double air_sound_speed(double celsius)
{
    return 331.3 * sqrt(1.0 + celsius / 273.15);
}

double air_loss(double hz)
{
    static const double db_per_km[] = { 0.1, 0.3, 1.1, 2.8, 5.0, 9.0, 22.9, 76.6 };
    enum { LAST_PAIR = sizeof db_per_km / sizeof *db_per_km - 2 };
    const double octave = log2(hz / 62.5);
    const int low = (int)fmin(fmax(floor(octave), 0.0), LAST_PAIR);
    return db_per_km[low] * pow(db_per_km[low + 1] / db_per_km[low], octave - low);
}

/* ---- The N-wave --------------------------------------------------------- */

double nwave_peak_hz(double joules_per_m, double speed)
{
    const double pascals = 101325.0; /* standard atmosphere */
    return 0.63 * speed * sqrt(pascals / joules_per_m);
}

double nwave_length(double joules_per_m, double speed)
{
    return 0.6626 / nwave_peak_hz(joules_per_m, speed);
}

double nwave(double t, double length)
{
    return t < 0.0 || t > length ? 0.0 : 1.0 - 2.0 * t / length;
}

/* What has gone by of an N-wave at t: its integral, a parabola. */
static double nwave_gone_by(double t, double length)
{
    return t < 0.0 || t > length ? 0.0 : t * (1.0 - t / length);
}

double nwave_spread(double t, double length, double spread)
{
    if (spread <= 0.0) return nwave(t, length);
    return (nwave_gone_by(t, length) - nwave_gone_by(t - spread, length)) / spread;
}

/* ---- Points ------------------------------------------------------------- */

static struct point along(struct point a, double by, struct point d)
{
    return (struct point){ a.x + by * d.x, a.y + by * d.y, a.z + by * d.z };
}

static double range(struct point a)
{
    return sqrt(a.x * a.x + a.y * a.y + a.z * a.z);
}

static struct point unit(struct point a)
{
    const double r = range(a);
    return (struct point){ a.x / r, a.y / r, a.z / r };
}

static struct point across(struct point a, struct point b)
{
    return (struct point){ a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x };
}

/* The direction turned by `angle` towards a side that chance decides. */
static struct point turned(struct point direction, double angle, struct dice *d)
{
    const struct point off = fabs(direction.z) < 0.9 ? (struct point){ 0, 0, 1 }
                                                     : (struct point){ 1, 0, 0 };
    const struct point side = unit(across(direction, off));
    const struct point other = across(direction, side);
    const double round = 2.0 * pi * dice_uniform(d);
    const struct point way = along(along((struct point){ 0 }, cos(round), side), sin(round), other);
    return unit(along(along((struct point){ 0 }, cos(angle), direction), sin(angle), way));
}

/* ---- A bolt ------------------------------------------------------------- */

bool bolt_add(struct bolt *b, const struct segment *s)
{
    if (b->count == b->room) {
        const size_t room = b->room ? 2 * b->room : 1024;
        struct segment *more = calloc(room, sizeof *more);
        if (!more) return false;
        for (size_t i = 0; i < b->count; i++) more[i] = b->segments[i];
        free(b->segments);
        b->segments = more;
        b->room = room;
    }
    b->segments[b->count++] = *s;
    return true;
}

void bolt_clear(struct bolt *b)
{
    free(b->segments);
    *b = (struct bolt){ 0 };
}

struct bolt_form bolt_form_draw(double distance_m, struct dice *d)
{
    return (struct bolt_form){
        .distance_m = distance_m,
        .height_m = 3000.0 + 2000.0 * dice_uniform(d),
        .reach_m = 1000.0 + 3000.0 * dice_uniform(d),
        .joules_per_m = 2e4 * exp2(0.7 * dice_normal(d)),
    };
}

/* The shape of a crooked line. Mean turn 16 degrees: Ribner and Roy 1982; a
 * half-normal angle of that mean has a standard deviation of 16 sqrt(pi / 2).
 * The pull keeps the line, that would soon forget where it was going, on its
 * way: bends last for some 200 m, and those make the claps. */
static const double step_m = 8.0;
static const double turn_deg = 20.05;
static const double pull = 0.04;
static const double forks_per_m = 1.0 / 800.0;

/* A channel is as crooked at half a metre as at a hundred (Hill 1968, from memory):
 * every step is broken in halves, and their halves, at a point moved aside. */
static const double finest_m = 0.5;
static const double aside = 0.14;  /* of the length: half the tangent of 16 degrees */
static const double uneven = 1.0;  /* octaves: no two metres are heated alike */

struct walk {
    struct point at, direction;
    double left_m;       /* still to go */
    double ceiling_m;    /* above this height it goes level */
    double bearing;      /* of the level part, radians */
    double joules_per_m;
    int fork;            /* 0 for the trunk */
};

static struct point walk_goal(const struct walk *w)
{
    const struct point level = { cos(w->bearing), sin(w->bearing), (w->ceiling_m - w->at.z) / 1000.0 };
    const struct point up = { 0.2 * cos(w->bearing), 0.2 * sin(w->bearing), 1.0 };
    return unit(w->at.z < w->ceiling_m - 300.0 ? up : level);
}

static bool add_crooked(struct bolt *b, const struct segment *s, struct dice *d)
{
    const struct point way = along(s->to, -1.0, s->from);
    const double metres = range(way);
    if (metres < 2.0 * finest_m) {
        struct segment one = *s;
        one.joules_per_m *= exp2(uneven * dice_normal(d));
        return bolt_add(b, &one);
    }
    const struct point sideways = turned(unit(way), pi / 2.0, d);
    const double by = aside * metres * dice_normal(d);
    const struct point middle = along(along(s->from, 0.5, way), by, sideways);
    struct segment first = *s, second = *s;
    first.to = second.from = middle;
    return add_crooked(b, &first, d) && add_crooked(b, &second, d);
}

static bool walk_on(struct bolt *b, struct walk w, struct dice *d)
{
    for (; w.left_m > 0.0; w.left_m -= step_m) {
        const double angle = fabs(dice_normal(d)) * turn_deg * pi / 180.0;
        w.direction = unit(along(turned(w.direction, angle, d), pull, walk_goal(&w)));
        struct segment s = {
            .from = w.at, .to = along(w.at, step_m, w.direction),
            .joules_per_m = w.joules_per_m, .share = 1.0, .fork = w.fork,
        };
        if (s.to.z < 0.0) {
            w.direction.z = fabs(w.direction.z);
            s.to.z = 0.0;
        }
        if (!add_crooked(b, &s, d)) return false;
        w.at = s.to;
        if (w.fork < 2 && dice_uniform(d) < forks_per_m * step_m) {
            struct walk fork = w;
            fork.fork++;
            fork.joules_per_m /= 4.0;
            fork.left_m = 300.0 + 900.0 * dice_uniform(d);
            fork.bearing = 2.0 * pi * dice_uniform(d);
            fork.direction = turned(w.direction, pi / 4.0, d);
            if (!walk_on(b, fork, d)) return false;
        }
    }
    return true;
}

/* Later strokes run through the trunk again. Number of strokes: shifted geometric, p = 0.303;
 * intervals: log-normal, geometric mean 62 ms, 0.32 decades; field of later
 * strokes 0.52 of the first (Zhu et al. 2015), so a quarter of the energy. */
static bool bolt_restrike(struct bolt *b, struct dice *d)
{
    enum { MOST_STROKES = 8 };
    const size_t first_stroke = b->count;
    double delay_s = 0.0;
    for (int n = 1; n < MOST_STROKES && dice_uniform(d) >= 0.303; n++) {
        delay_s += 0.062 * pow(10.0, 0.32 * dice_normal(d));
        for (size_t i = 0; i < first_stroke; i++) {
            struct segment s = b->segments[i];
            if (s.fork > 0) continue;
            s.joules_per_m *= 0.52 * 0.52;
            s.delay_s = delay_s;
            if (!bolt_add(b, &s)) return false;
        }
    }
    return true;
}

bool bolt_grow(struct bolt *b, const struct bolt_form *form, struct dice *d)
{
    const struct walk trunk = {
        .at = { form->distance_m, 0.0, 0.0 },
        .direction = { 0.0, 0.0, 1.0 },
        .left_m = 1.25 * form->height_m + form->reach_m, /* a crooked way is longer */
        .ceiling_m = form->height_m,
        .bearing = 2.0 * pi * dice_uniform(d),
        .joules_per_m = form->joules_per_m,
        };
    return walk_on(b, trunk, d) && bolt_restrike(b, d);
}

bool bolt_scatter(struct bolt *b, struct dice *d)
{
    enum { ECHOES = 4 };
    const double pressure = 0.4; /* each; together two thirds of the power that came straight */
    const double typical_s = 0.15;
    const size_t straight = b->count;
    for (size_t i = 0; i < straight; i++) {
        for (int n = 0; n < ECHOES; n++) {
            struct segment s = b->segments[i];
            s.share *= pressure * dice_normal(d);
            s.delay_s += typical_s * exp2(0.7 * dice_normal(d)) * -log(1.0 - dice_uniform(d));
            if (!bolt_add(b, &s)) return false;
        }
    }
    return true;
}

void bolt_heard(const struct bolt *b, double speed, double *first_s, double *last_s)
{
    assert(b->count > 0);
    *first_s = INFINITY;
    *last_s = -INFINITY;
    for (size_t i = 0; i < b->count; i++) {
        const struct segment *s = &b->segments[i];
        const double from_s = s->delay_s + range(s->from) / speed;
        const double to_s = s->delay_s + range(s->to) / speed;
        *first_s = fmin(*first_s, fmin(from_s, to_s));
        *last_s = fmax(*last_s, fmax(from_s, to_s));
    }
}

void bolt_sound(const struct bolt *b, double speed, double rate, double start_s,
                 double *out, size_t count)
{
    for (size_t i = 0; i < b->count; i++) {
        const struct segment *s = &b->segments[i];
        const double near_m = fmin(range(s->from), range(s->to));
        const double far_m = fmax(range(s->from), range(s->to));
        const double metres = range(along(s->to, -1.0, s->from));
        /* Never sharper than a sample, or the shock would alias. */
        const double spread = fmax((far_m - near_m) / speed, 1.0 / rate);
        const double length = nwave_length(s->joules_per_m, speed);
        const double pressure = s->share * sqrt(s->joules_per_m / 1e5) * metres / fmax(near_m, 1.0);
        const double begin_s = s->delay_s + near_m / speed - start_s;
        const double first = fmax(ceil(begin_s * rate), 0.0);
        const double beyond = fmin(floor((begin_s + length + spread) * rate) + 1.0, (double)count);
        for (double n = first; n < beyond; n++) {
            out[(size_t)n] += pressure * nwave_spread(n / rate - begin_s, length, spread);
        }
    }
}

/* ---- What the air takes ------------------------------------------------- */

/* Discrete Fourier transform in place, count a power of two (Cooley and Tukey
 * 1965). `sign` -1 forward, +1 back; not scaled. */
static void transform(double complex *x, size_t count, double sign)
{
    for (size_t i = 1, j = 0; i < count; i++) {
        size_t bit = count >> 1;
        for (; j & bit; bit >>= 1) j ^= bit;
        j ^= bit;
        if (i < j) {
            const double complex swap = x[i];
            x[i] = x[j];
            x[j] = swap;
        }
    }
    for (size_t half = 1; half < count; half *= 2) {
        for (size_t k = 0; k < half; k++) {
            const double angle = sign * pi * (double)k / (double)half;
            const double complex turn = cos(angle) + sin(angle) * I;
            for (size_t i = k; i < count; i += 2 * half) {
                const double complex odd = turn * x[i + half];
                x[i + half] = x[i] - odd;
                x[i] += odd;
            }
        }
    }
}

/* Overlapping windows that add up to one (Hann, half overlapped), each with
 * the loss of its own distance and room for the filter's answer:
 *
 *     room/2      window      room/2
 *     |..........|  ___  |..........|      N = 2 windows
 */
bool bolt_air(double speed, double rate, double start_s, double *sound, size_t count)
{
    size_t window = 64;
    while ((double)window < 0.02 * rate) window *= 2;
    const size_t size = 2 * window;
    const size_t room = window / 2;
    double complex *x = calloc(size, sizeof *x);
    double *loss = calloc(window + 1, sizeof *loss);
    double *out = calloc(count + size, sizeof *out);
    const bool good = x && loss && out;
    if (!good) goto done;

    for (size_t k = 1; k <= window; k++) {
        loss[k] = air_loss((double)k * rate / (double)size) / 1000.0;
    }
    /* out[i + window] is the sample i: the first windows begin before it. */
    for (size_t begin = window / 2; begin < count + window; begin += window / 2) {
        for (size_t i = 0; i < size; i++) x[i] = 0.0;
        for (size_t i = 0; i < window; i++) {
            const size_t at = begin + i;
            if (at < window || at >= count + window) continue;
            const double hann = 0.5 - 0.5 * cos(2.0 * pi * ((double)i + 0.5) / (double)window);
            x[room + i] = hann * sound[at - window];
        }
        const double middle_s = ((double)begin - (double)room) / rate;
        const double metres = fmax(start_s + middle_s, 0.0) * speed;
        transform(x, size, -1.0);
        for (size_t k = 0; k <= window; k++) {
            const double gain = pow(10.0, -loss[k] * metres / 20.0) / (double)size;
            x[k] *= gain;
            if (k > 0 && k < window) x[size - k] *= gain;
        }
        transform(x, size, 1.0);
        for (size_t i = 0; i < size; i++) {
            const size_t at = begin + i;
            if (at < room || at - room >= count + size) continue;
            out[at - room] += creal(x[i]);
        }
    }
    for (size_t i = 0; i < count; i++) sound[i] = out[i + window];
done:
    free(x);
    free(loss);
    free(out);
    return good;
}
