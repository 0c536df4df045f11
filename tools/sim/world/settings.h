/* What one simulated net does: radio, workload, faults wished for by name. */
#ifndef SIM_WORLD_SETTINGS_H
#define SIM_WORLD_SETTINGS_H

#include <stdbool.h>
#include <stdint.h>

#include "sim/topology.h"
#include "sim/world/clock.h"

#define SIM_CUTS_MAX 8 /* as SIM_BREAKS_MAX of the baselines */

enum sim_cadence {
    SIM_DECLARED, /* one record every interval, and each promises the next */
    SIM_EVEN,     /* one record every interval, nothing is promised */
    SIM_SPORADIC, /* exponential pauses with the same mean, nothing is promised */
};

/* How strength falls with distance; see links.c for the sources. */
enum sim_path_loss {
    SIM_PATH_LAND, /* along the ground, measured */
    SIM_PATH_FREE, /* nothing in between */
};

/* All links between the two are cut from..to. */
struct sim_cut {
    uint16_t a, b; /* indices of stations */
    rp_time_us from_us, to_us;
};

struct sim_settings {
    uint8_t spreading_factor;   /* 7..12 */
    uint32_t bandwidth_hz;      /* 125000, 250000, 500000 */
    uint16_t duty_permille;     /* transmit time allowed, 1..1000 */
    uint8_t urgent_reserve_pct; /* 0..90 */
    uint16_t frame_len_max;     /* 60..222 */
    bool capture;
    enum sim_path_loss path_loss; /* of links between positions */
    uint64_t terrain_seed;        /* of their shadowing: the same for all seeds of a run */
    bool modem_acks;              /* the modem tells when a frame was sent */
    bool sensing;                 /* every modem tells whether the channel is busy */
    rp_time_us latency_us_max;    /* serial delay, uniform from 0, each way */
    rp_time_us hours_us;          /* length of the workload */
    rp_time_us settle_us;         /* how much longer it may take until all is everywhere */
    rp_time_us interval_us;       /* between records of one origin */
    uint16_t record_bytes;        /* on air, all included */
    enum sim_cadence cadence;
    uint16_t urgent_permille; /* share of records that are urgent */
    struct sim_cut cuts[SIM_CUTS_MAX];
    unsigned cut_count;
};

/* SF9, 125 kHz, 1 %, 24 h, one 40-byte record per 10 minutes, declared. */
void sim_settings_defaults(struct sim_settings *settings);

#endif
