#include "base/rng.h"

#include <assert.h>

uint64_t rp_rng_next(struct rp_rng *rng)
{
    uint64_t z = (rng->state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

uint64_t rp_rng_below(struct rp_rng *rng, uint64_t bound)
{
    assert(bound >= 1);
    /* Values below `reject` would make the low remainders more likely. */
    uint64_t reject = (UINT64_MAX - bound + 1) % bound;
    uint64_t value;
    do {
        value = rp_rng_next(rng);
    } while (value < reject);
    return value % bound;
}

int64_t rp_rng_between(struct rp_rng *rng, int64_t low, int64_t high)
{
    assert(low <= high);
    return low + (int64_t)rp_rng_below(rng, (uint64_t)(high - low) + 1);
}
