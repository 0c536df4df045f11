/* The air between the stations: who hears whom, what is lost, what collides. Times are true time
 * in microseconds; one channel, one spreading factor (the net's).
 *
 * A frame is lost at a receiver when the receiver transmits during any part of it, when another
 * frame the receiver can hear overlaps it, or by chance with the link's loss. With capture the
 * stronger of two overlapping frames survives when it is at least 6 dB stronger (Bor, Roedig,
 * Voigt, Alonso, "Do LoRa Low-Power Wide-Area Networks Scale?", MSWiM 2016). */
#ifndef SIM_WORLD_CHANNEL_H
#define SIM_WORLD_CHANNEL_H

#include <stdbool.h>
#include <stdint.h>

#include "base/rng.h"
#include "ridgepost/view.h"
#include "sim/topology.h"

#define SIM_SET_WORDS ((SIM_STATIONS_MAX + 63) / 64)

/* A set of stations. */
struct sim_set {
    uint64_t words[SIM_SET_WORDS];
};

static inline bool sim_set_has(const struct sim_set *set, unsigned at)
{
    return (set->words[at / 64] >> at % 64 & 1) != 0;
}

static inline void sim_set_put(struct sim_set *set, unsigned at, bool in)
{
    uint64_t bit = (uint64_t)1 << at % 64;
    set->words[at / 64] = in ? set->words[at / 64] | bit : set->words[at / 64] & ~bit;
}

/* One direction of a link. */
struct sim_path {
    bool audible;        /* it can be heard, or at least disturbs */
    uint16_t loss;       /* thousandths */
    int16_t power_cdbm;  /* mean strength at the receiver, hundredths of dBm */
    uint8_t cuts;        /* how many faults cut it now */
    uint16_t extra_loss; /* thousandths, added by a fault */
};

struct sim_flight {
    bool active;
    rp_time_us start_us, end_us;
    struct sim_set spoiled; /* receivers at which something overlapped it */
};

struct sim_channel {
    unsigned count;
    bool capture;
    struct rp_rng rng;
    struct sim_path *paths;     /* [from * count + to], owned */
    struct sim_set *hears;      /* [from]: who is reached, or disturbed, by from; owned */
    struct sim_flight *flights; /* [station], owned */
    uint8_t *active;            /* stations on air now, owned */
    unsigned active_count;
    uint64_t frames, collisions, losses;
};

/* No link yet. Out of memory ends the program. */
void sim_channel_init(struct sim_channel *channel, unsigned count, bool capture, uint64_t seed);
void sim_channel_deinit(struct sim_channel *channel);
struct sim_path *sim_channel_path(struct sim_channel *channel, unsigned from, unsigned to);
/* After a path was changed. */
void sim_channel_changed(struct sim_channel *channel, unsigned from, unsigned to);
/* A station begins to transmit; it must not be transmitting. */
void sim_channel_begin(struct sim_channel *channel, unsigned from, rp_time_us start_us,
                       rp_time_us end_us);
/* Its frame ends: *out_reached is who received it. */
void sim_channel_end(struct sim_channel *channel, unsigned from, struct sim_set *out_reached);
/* The station's transmitter lost its power in the middle of a frame: nobody receives it. */
void sim_channel_abort(struct sim_channel *channel, unsigned from);
/* Somebody whom this station can hear is on air. */
bool sim_channel_busy(const struct sim_channel *channel, unsigned at);

#endif
