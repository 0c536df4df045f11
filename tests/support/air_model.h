/* A small radio channel in virtual time with real engines on it, for scenario tests.
 *
 * Every directed link has a loss; two frames that overlap at a receiver destroy each other; a
 * station that transmits hears nothing. Frame times are exact, the serial line adds a random
 * delay. The model checks by itself, and ends the test with the seed when violated: airtime in
 * every sliding hour, control counters never used twice and reserved before use, segments
 * bit-identical to what their origin sealed. */
#ifndef AIR_MODEL_H
#define AIR_MODEL_H

#include <stdbool.h>
#include <stdint.h>

#include "ridgepost/engine.h"
#include "wire/frame.h"
#include "wire/seal.h"

#define AIR_STATIONS_MAX 8
#define AIR_LOGS_MAX     16
#define AIR_SECOND_US    ((rp_time_us)1000000)
#define AIR_HOUR_US      (3600 * AIR_SECOND_US)
#define AIR_NO_LINK      1000 /* loss in thousandths */

struct air_segment {
    uint16_t len; /* 0: not held */
    uint8_t bytes[RP_FRAME_LEN_MAX];
    rp_time_us held_us;
};

struct air_log {
    uint16_t origin;
    uint32_t cap, top;
    struct air_segment *segments; /* [cap], index sequence - 1 */
};

struct air_charge {
    rp_time_us start_us, end_us;
};

struct air_event_counts {
    unsigned aired, heard, accepted, same_station, own_ahead, clock, at_base;
};

struct air_station {
    struct air *air;
    uint16_t origin;
    bool is_base, up;
    int64_t clock_s;    /* net time of this station when the model starts; may be set at any time */
    uint32_t promise_s; /* given to the engine at its next start */
    bool put_fails, charge_fails, reserve_fails;
    struct rp_seal seal;
    struct rp_mesh *mesh;
    /* Storage: survives a restart. */
    struct air_log logs[AIR_LOGS_MAX];
    unsigned log_count;
    uint32_t counter_reserved, counter_used;
    /* On air. */
    bool sending;
    uint8_t frame[RP_FRAME_LEN_MAX];
    size_t frame_len;
    rp_time_us start_us, end_us;
    /* Everything ever sent, for the sliding hour. */
    struct air_charge *charges;
    size_t charge_count, charge_cap, hour_first;
    uint64_t hour_us;
    uint64_t airtime_us; /* in all */
    unsigned starts;
    struct air_event_counts events;
};

struct air_config {
    unsigned stations;         /* the station numbers are 1, 2 ... */
    unsigned base;             /* index of the base station */
    unsigned spreading_factor; /* 7..9, 125 kHz, 4/5 */
    uint32_t budget_us_per_hour;
    uint8_t urgent_reserve_pct;
    uint16_t frame_len_max;
    uint32_t latency_most_us; /* serial line and modem before the first symbol; 0: 40 ms */
};

struct air {
    struct air_config config;
    uint64_t seed, rng_state;
    rp_time_us now_us;
    uint32_t airtime_us[RP_FRAME_LEN_MAX + 1];
    uint16_t loss[AIR_STATIONS_MAX][AIR_STATIONS_MAX]; /* from, to; thousandths */
    struct air_station stations[AIR_STATIONS_MAX];
    struct air_charge recent[64]; /* ring of transmissions, for collisions */
    uint8_t recent_from[64];
    unsigned recent_next;
    uint64_t frames, collisions;
    /* Called for each frame that starts, may be NULL. */
    void (*on_frame)(void *ctx, unsigned from, struct rp_view frame);
    void *on_frame_ctx;
};

/* Exact time on air in microseconds (see air_model.c for the source). */
uint32_t air_time_us(unsigned spreading_factor, unsigned len);

void air_start(struct air *air, const struct air_config *config, uint64_t seed);
void air_stop(struct air *air);
void air_link(struct air *air, unsigned a, unsigned b, uint16_t loss); /* both ways */
/* Seals, stores and publishes a one-segment record; returns its sequence. `stream` is the second
 * plain byte. */
uint32_t air_publish(struct air *air, unsigned station, uint8_t lead, uint8_t stream,
                     size_t plain_len);
/* Loses everything volatile and starts again from storage. */
void air_restart(struct air *air, unsigned station);
/* The same, under another origin. */
void air_restart_as(struct air *air, unsigned station, uint16_t origin);
void air_run_until(struct air *air, rp_time_us until_us);
/* Runs until every station holds every segment; the time taken, or -1 after limit_us. */
rp_time_us air_run_until_same(struct air *air, rp_time_us limit_us);
bool air_same(const struct air *air);
/* When the station got the segment; -1 when it has not. */
rp_time_us air_held_at(const struct air *air, unsigned station, uint16_t origin, uint32_t seq);
uint64_t air_random(struct air *air, uint64_t bound);
uint64_t air_airtime_us(const struct air *air); /* of all stations */
/* Delivers a frame to one station as if it had been heard now. */
void air_inject(struct air *air, unsigned station, struct rp_view frame);

#endif
