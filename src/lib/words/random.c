#include "words/random.h"

#include <math.h>

uint64_t random_next(struct randomiser *r)
{
    uint64_t z = r->state += 0x9E3779B97F4A7C15u;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

struct randomiser random_keyed(uint64_t seed, uint64_t what, uint64_t which)
{
    struct randomiser r = { seed };
    r.state = random_next(&r) ^ what;
    r.state = random_next(&r) ^ which;
    r.state = random_next(&r);
    return r;
}

double random_uniform(struct randomiser *r)
{
    return (double)(random_next(r) >> 11) * 0x1p-53;
}

uint32_t random_below(struct randomiser *r, uint32_t n)
{
    return (uint32_t)(((random_next(r) >> 32) * n) >> 32);
}

double random_normal(struct randomiser *r)
{
    double radius = sqrt(-2.0 * log(1.0 - random_uniform(r)));
    return radius * cos(6.283185307179586 * random_uniform(r));
}

double random_lognormal(struct randomiser *r, double geometric_mean, double decades)
{
    return geometric_mean * pow(10.0, decades * random_normal(r));
}

int random_geometric(struct randomiser *r, double p, int most)
{
    int n = 1;
    while (n < most && random_uniform(r) >= p) n++;
    return n;
}
