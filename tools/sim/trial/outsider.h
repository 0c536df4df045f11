/* Senders that are no simulated station: an attacker with a radio and without the secret, and a
 * station of a newer version with the secret. What they send arrives without use of the air: the
 * worst case for those who must refuse it. */
#ifndef SIM_TRIAL_OUTSIDER_H
#define SIM_TRIAL_OUTSIDER_H

#include "sim/world/world.h"
#include "wire/seal.h"

#define SIM_OVERHEARD_MAX 64
#define SIM_NEWER_STATION 99 /* its station number: above those of the drawn nets */

struct sim_overheard {
    uint16_t len;
    uint8_t bytes[RP_FRAME_LEN_MAX];
};

struct sim_outsider {
    struct rp_rng rng;
    struct sim_overheard overheard[SIM_OVERHEARD_MAX]; /* ring */
    unsigned overheard_count;
    struct rp_seal seal; /* of the newer station */
    uint32_t newer_seq, newer_counter;
    struct sim_overheard newer; /* its last segment, sent several times */
};

void sim_outsider_init(struct sim_outsider *outsider, uint64_t seed);
void sim_outsider_deinit(struct sim_outsider *outsider);
/* The attacker hears everything. */
void sim_outsider_hear(struct sim_outsider *outsider, struct rp_view frame);
/* Changes a frame somehow. True when it is forged: it differs from what was sealed in a part that
 * is authenticated. *len may become shorter. */
bool sim_outsider_damage(struct rp_rng *rng, uint8_t *bytes, size_t *len);
/* Replays an old frame or a changed one, to some stations. What it was is written to `out_words`,
 * at least 48 bytes; false: it has heard nothing yet. */
bool sim_outsider_attack(struct sim_outsider *outsider, struct sim_world *world, char *out_words);
/* Sends something newer, to some stations. */
void sim_outsider_newer(struct sim_outsider *outsider, struct sim_world *world, char *out_words);

#endif
