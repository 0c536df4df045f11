/* The two profiles. Without another word the numbers were measured in the prototype. */
#include "mesh/push/profile.h"

static const struct rp_profile profiles[2] = {
    [0] = {.named_low_ms = 50,
           .named_high_ms = 300,
           .ack_low_ms = 30,
           .ack_high_ms = 150,
           .named_least = 77,    /* 0.3 */
           .unnamed_least = 230, /* 0.9 */
           .lack_least = 38,     /* 0.15 */
           .sends_max = 4,       /* 8 in the prototype; re-fitted with bare engines */
           .again_ms = 4000,
           .again_busy_ms = 2000,
           .growth_pct = 130,
           .jitter_pct = 50},
    [1] = {.named_low_ms = 20,
           .named_high_ms = 30,
           .ack_low_ms = 10,
           .ack_high_ms = 30,
           .named_least = 13,    /* 0.05 */
           .unnamed_least = 382, /* 1.5 */
           .lack_least = 1,      /* not 0.02: what a neighbour last said of a link may flatter */
           .sends_max = 20,
           .again_ms = 320,
           .again_busy_ms = 320,
           .growth_pct = 108,
           .jitter_pct = 10},
};

const struct rp_profile *rp_profile_of(const struct rp_pending *pending)
{
    return &profiles[pending->urgent];
}

uint8_t rp_push_lack_least(const struct rp_pending *pending)
{
    return rp_profile_of(pending)->lack_least;
}
