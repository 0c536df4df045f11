/* A station's clocks against true time: a monotonic one that drifts, and a wall clock that drifts
 * with it, may be wrong by years, and steps. */
#ifndef SIM_WORLD_CLOCK_H
#define SIM_WORLD_CLOCK_H

#include <stdint.h>

#include "ridgepost/view.h"

#define SIM_SECOND_US ((rp_time_us)1000000)
#define SIM_MINUTE_US (60 * SIM_SECOND_US)
#define SIM_HOUR_US   (3600 * SIM_SECOND_US)
#define SIM_START_S   1772020800 /* unix, true time 0: 2026-02-25T12:00:00Z */

struct sim_clock {
    int32_t drift_ppm;    /* local time runs faster by this much */
    int64_t wall_error_s; /* wall clock minus true time, besides the drift */
    rp_time_us boot_us;   /* what the drifting clock showed when the computer started */
};

/* Products stay within 63 bits for 2500 hours. */
static inline rp_time_us sim_clock_drifted_us(const struct sim_clock *clock, rp_time_us true_us)
{
    return clock->drift_ppm == 0 ? true_us : true_us * (1000000 + clock->drift_ppm) / 1000000;
}

/* The monotonic clock: it begins with the computer. */
static inline rp_time_us sim_clock_local_us(const struct sim_clock *clock, rp_time_us true_us)
{
    return sim_clock_drifted_us(clock, true_us) - clock->boot_us;
}

/* The first true moment whose local time is not before local_us. */
static inline rp_time_us sim_clock_true_us(const struct sim_clock *clock, rp_time_us local_us)
{
    int64_t pace = 1000000 + clock->drift_ppm;
    rp_time_us drifted_us = local_us + clock->boot_us;
    return clock->drift_ppm == 0 ? drifted_us : (drifted_us * 1000000 + pace - 1) / pace;
}

static inline int64_t sim_clock_unix_s(const struct sim_clock *clock, rp_time_us true_us)
{
    return SIM_START_S + sim_clock_drifted_us(clock, true_us) / SIM_SECOND_US + clock->wall_error_s;
}

#endif
