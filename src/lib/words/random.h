/* The project's own small generator: the same numbers on every machine.
 *
 * SplitMix64 (Steele, Lea & Flood, OOPSLA 2014). A generator is keyed by a few
 * numbers, so that every crack has a stream of its own: changing one crack by
 * hand leaves the draws of all others as they were. */
#ifndef TC_RANDOM_H
#define TC_RANDOM_H

#include <stdint.h>

struct randomiser {
    uint64_t state;
};

/* A stream that depends on all three numbers. */
struct randomiser random_keyed(uint64_t seed, uint64_t what, uint64_t which);

uint64_t random_next(struct randomiser *r);
/* Uniform in [0, 1), 53 bits. */
double random_uniform(struct randomiser *r);
/* Uniform in 0..n-1; n > 0. */
uint32_t random_below(struct randomiser *r, uint32_t n);
/* Standard normal (Box & Muller 1958). */
double random_normal(struct randomiser *r);
/* Log-normal by its geometric mean and the standard deviation of its log10. */
double random_lognormal(struct randomiser *r, double geometric_mean, double decades);
/* 1, 2, 3, ... with P(n) = p (1-p)^(n-1); 0 < p <= 1; at most `most`. */
int random_geometric(struct randomiser *r, double p, int most);

#endif
