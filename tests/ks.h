/* The Kolmogorov-Smirnov distance of a sample from a distribution, and the
 * distributions that lightning is described with. */
#ifndef TC_TESTS_KS_H
#define TC_TESTS_KS_H

#include <math.h>
#include <stdlib.h>

struct lognormal {
    double mean, decades;    /* geometric mean, standard deviation of log10 */
};

static inline double lognormal_cdf(double x, const void *parameters)
{
    const struct lognormal *p = parameters;
    return x <= 0 ? 0 : 0.5 * erfc(-log10(x / p->mean) / p->decades / sqrt(2));
}

/* P(N <= n) of 1, 2, 3, ... with P(N = n) = p (1-p)^(n-1). */
static inline double geometric_cdf(double n, const void *p)
{
    return n < 1 ? 0 : 1 - pow(1 - *(const double *)p, floor(n));
}

static inline int ks_order(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Sorts the sample. */
static inline double ks_distance(double *sample, size_t n, double (*cdf)(double, const void *), const void *of)
{
    double distance = 0;
    qsort(sample, n, sizeof *sample, ks_order);
    for (size_t i = 0; i < n; i++) {
        double want = cdf(sample[i], of);
        distance = fmax(distance, fmax(fabs((double)(i + 1) / (double)n - want), fabs((double)i / (double)n - want)));
    }
    return distance;
}

/* The same for whole numbers, where both functions go in steps. */
static inline double ks_distance_whole(double *sample, size_t n, double (*cdf)(double, const void *), const void *of)
{
    double distance = 0;
    qsort(sample, n, sizeof *sample, ks_order);
    for (size_t i = 0; i < n; i++)
        if (i + 1 == n || sample[i + 1] > sample[i])
            distance = fmax(distance, fabs((double)(i + 1) / (double)n - cdf(sample[i], of)));
    return distance;
}

/* Source: the asymptotic critical value at 1 %, 1.628 / sqrt(n) (textbooks);
 * for whole numbers the true one is lower, so the check is milder there; that it
 * still bites is tested too. */
static inline double ks_critical(size_t n)
{
    return 1.628 / sqrt((double)n);
}

#endif
