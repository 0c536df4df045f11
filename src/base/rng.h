/* A seeded generator for waits and simulations; never for secrets.
 * SplitMix64 (Steele, Lea, Flood, "Fast splittable pseudorandom number generators", 2014). */
#ifndef RP_BASE_RNG_H
#define RP_BASE_RNG_H

#include <stdint.h>

struct rp_rng {
    uint64_t state;
};

static inline struct rp_rng rp_rng_seeded(uint64_t seed)
{
    return (struct rp_rng){seed};
}

uint64_t rp_rng_next(struct rp_rng *rng);
/* Uniform in [0, bound), bound >= 1, without modulo bias. */
uint64_t rp_rng_below(struct rp_rng *rng, uint64_t bound);
/* Uniform in [low, high]. */
int64_t rp_rng_between(struct rp_rng *rng, int64_t low, int64_t high);

#endif
