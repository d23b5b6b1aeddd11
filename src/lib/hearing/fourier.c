#include "hearing/fourier.h"

#include <math.h>

#include "words/memory.h"

#define TWO_PI 6.283185307179586

struct turn {
    float re, im;
};

struct fourier {
    size_t size;
    struct turn *turns;     /* of all stages, one after the other */
    struct quad *scratch;
};

/* ---- Set-up ---- */

static size_t radix_of(size_t n)
{
    return n % 4 == 0 ? 4 : n % 2 == 0 ? 2 : n % 3 == 0 ? 3 : 0;
}

static bool is_product(size_t n)
{
    while (n > 1 && radix_of(n)) n /= radix_of(n);
    return n == 1;
}

size_t fourier_size(size_t least)
{
    size_t n = least + least % 2;
    if (n < 2) n = 2;
    while (!is_product(n)) n += 2;
    return n;
}

/* For each stage of length n and radix r: exp(-2 pi j p k / n) for p in 0 .. n/r,
 * k in 1 .. r-1. */
static void make_turns(struct fourier *f)
{
    struct turn *to = f->turns;
    for (size_t n = f->size; n > 1; n /= radix_of(n)) {
        size_t r = radix_of(n);
        for (size_t p = 0; p < n / r; p++)
            for (size_t k = 1; k < r; k++) {
                double angle = -TWO_PI * (double)(p * k) / (double)n;
                *to++ = (struct turn){ (float)cos(angle), (float)sin(angle) };
            }
    }
}

enum tc_status fourier_create(struct fourier **out, size_t size)
{
    *out = NULL;
    if (size < 2 || !is_product(size)) return TC_ERR_USAGE;
    struct fourier *f = memory_new(1, sizeof *f);
    if (!f) return TC_ERR_MEMORY;
    f->size = size;
    f->turns = memory_new(2 * size, sizeof *f->turns); /* size - 1 are needed */
    f->scratch = memory_new(size, sizeof *f->scratch);
    if (!f->turns || !f->scratch) {
        fourier_destroy(f);
        return TC_ERR_MEMORY;
    }
    make_turns(f);
    *out = f;
    return TC_OK;
}

/* ---- Stages ---- */

static inline struct quad plus(struct quad a, struct quad b)
{
    return (struct quad){ a.re + b.re, a.im + b.im };
}

static inline struct quad minus(struct quad a, struct quad b)
{
    return (struct quad){ a.re - b.re, a.im - b.im };
}

static inline struct quad turned(struct quad a, struct turn w)
{
    return (struct quad){ a.re * w.re - a.im * w.im, a.re * w.im + a.im * w.re };
}

/* Each stage takes `r` elements that lie a share of n apart and puts what
 * becomes of them side by side; `s` transforms of length n are interleaved. */

static const struct turn *stage_2(size_t n, size_t s, const struct turn *w, const struct quad *restrict x,
                                  struct quad *restrict y)
{
    size_t m = n / 2;
    for (size_t p = 0; p < m; p++, w++)
        for (size_t q = 0; q < s; q++) {
            struct quad a = x[q + s * p], b = x[q + s * (p + m)];
            y[q + s * (2 * p)] = plus(a, b);
            y[q + s * (2 * p + 1)] = turned(minus(a, b), *w);
        }
    return w;
}

#define HALF_ROOT_3 0.8660254037844386f

static const struct turn *stage_3(size_t n, size_t s, const struct turn *w, const struct quad *restrict x,
                                  struct quad *restrict y)
{
    size_t m = n / 3;
    for (size_t p = 0; p < m; p++, w += 2)
        for (size_t q = 0; q < s; q++) {
            struct quad a = x[q + s * p], b = x[q + s * (p + m)], c = x[q + s * (p + 2 * m)];
            struct quad sum = plus(b, c), d = minus(b, c);
            struct quad mid = { a.re - 0.5f * sum.re, a.im - 0.5f * sum.im };
            struct quad off = { HALF_ROOT_3 * d.im, -HALF_ROOT_3 * d.re };
            y[q + s * (3 * p)] = plus(a, sum);
            y[q + s * (3 * p + 1)] = turned(plus(mid, off), w[0]);
            y[q + s * (3 * p + 2)] = turned(minus(mid, off), w[1]);
        }
    return w;
}

static const struct turn *stage_4(size_t n, size_t s, const struct turn *w, const struct quad *restrict x,
                                  struct quad *restrict y)
{
    size_t m = n / 4;
    for (size_t p = 0; p < m; p++, w += 3)
        for (size_t q = 0; q < s; q++) {
            struct quad a = x[q + s * p], b = x[q + s * (p + m)];
            struct quad c = x[q + s * (p + 2 * m)], d = x[q + s * (p + 3 * m)];
            struct quad ac = plus(a, c), bd = plus(b, d), a_c = minus(a, c), b_d = minus(b, d);
            struct quad back = { b_d.im, -b_d.re }; /* a quarter turn back */
            y[q + s * (4 * p)] = plus(ac, bd);
            y[q + s * (4 * p + 1)] = turned(plus(a_c, back), w[0]);
            y[q + s * (4 * p + 2)] = turned(minus(ac, bd), w[1]);
            y[q + s * (4 * p + 3)] = turned(minus(a_c, back), w[2]);
        }
    return w;
}

struct quad *fourier_run(struct fourier *f, struct quad *data)
{
    struct quad *x = data, *y = f->scratch;
    const struct turn *w = f->turns;
    size_t s = 1;
    for (size_t n = f->size; n > 1;) {
        size_t r = radix_of(n);
        w = r == 4 ? stage_4(n, s, w, x, y) : r == 3 ? stage_3(n, s, w, x, y) : stage_2(n, s, w, x, y);
        n /= r;
        s *= r;
        struct quad *swap = x;
        x = y;
        y = swap;
    }
    return x;
}

void fourier_destroy(struct fourier *f)
{
    if (!f) return;
    memory_free(f->turns);
    memory_free(f->scratch);
    memory_free(f);
}
