/* What one seed of the storm does: a net, a workload and a random subset of all faults, each with
 * its moments. Drawn once, before anything runs. */
#ifndef SIM_TRIAL_PLAN_H
#define SIM_TRIAL_PLAN_H

#include "sim/world/channel.h"
#include "sim/world/settings.h"

/* X(name, words) */
#define SIM_FAULTS(X)                                                                              \
    X(LOSS, "links with their own loss, each way up to 60 %")                                      \
    X(DUPLICATE, "frames delivered twice")                                                         \
    X(DELAY, "frames delivered late")                                                              \
    X(CORRUPT, "frames damaged on the way")                                                        \
    X(PARTITION, "partitions")                                                                     \
    X(RESTART, "restarts")                                                                         \
    X(POWER_CUT, "power cuts in the middle of a write")                                            \
    X(PAUSE, "paused processes")                                                                   \
    X(CLOCK_STEP, "clock steps")                                                                   \
    X(DRIFT, "drifting clocks")                                                                    \
    X(DISK_FULL, "full disks")                                                                     \
    X(LOST_DATABASE, "lost databases")                                                             \
    X(ATTACK, "frames replayed or changed by an attacker")                                         \
    X(NEWER, "frames of a newer version")

enum sim_fault {
#define SIM_FAULT_ENUM(name, words) SIM_FAULT_##name,
    SIM_FAULTS(SIM_FAULT_ENUM)
#undef SIM_FAULT_ENUM
        SIM_FAULT_COUNT
};

const char *sim_fault_words(enum sim_fault fault);

/* One thing that happens at a moment. `on` false: it ends. */
struct sim_incident {
    rp_time_us at_us;
    enum sim_fault fault;
    bool on;
    uint16_t host;
    int64_t value; /* CLOCK_STEP: seconds; RESTART, LOST_DATABASE: microseconds down; POWER_CUT:
                    * writes until it, odd: the last one reaches the disk */
    struct sim_set side; /* PARTITION: one side of it */
};

#define SIM_INCIDENTS_MAX 1024

struct sim_plan {
    char word[16]; /* of the topology */
    struct sim_topology topology;
    struct sim_settings settings;
    bool has[SIM_FAULT_COUNT];
    uint16_t duplicate_permille, delay_permille, corrupt_permille;
    rp_time_us delay_us_max;
    rp_time_us attack_every_us, newer_every_us; /* mean pauses */
    int16_t drift_ppm[SIM_STATIONS_MAX];
    bool unsynced[SIM_STATIONS_MAX];
    bool senses[SIM_STATIONS_MAX]; /* its modem tells whether the channel is busy */
    struct sim_incident incidents[SIM_INCIDENTS_MAX]; /* by time */
    unsigned incident_count;
};

/* Faults last until hours_us, and then everything is allowed settle_us. duty_permille 0: drawn. */
void sim_plan_draw(struct sim_plan *out_plan, uint64_t seed, rp_time_us hours_us,
                   rp_time_us settle_us, uint16_t duty_permille);

#endif
