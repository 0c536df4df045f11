/* Figures of one run or many: what was originated, what arrived, at which price. */
#ifndef SIM_MEASURE_H
#define SIM_MEASURE_H

#include "sim/world/world.h"

/* Times of arrival at base, in microseconds; a record that never came counts as RP_NEVER. */
struct sim_times {
    rp_time_us *at; /* owned */
    size_t count, cap;
};

struct sim_measure {
    uint32_t seeds;
    uint64_t originated, delivered_to_base, delivered_to_all;
    uint64_t spent_us[SIM_SPENT_COUNT], spent_frames[SIM_SPENT_COUNT];
    double genie_us; /* for the records originated; 0 when it is not known */
    bool genie_to_all;
    int64_t genie_urgent_p95_us; /* of the first origin; 0 unknown */
    struct sim_times routine, urgent;
    /* From the end of a cut until base holds the newest record made before it, or a newer one; one
     * for each cut and origin. 0: it was there already. */
    struct sim_times newest;
    /* From entry until its origin shows it as at base. */
    struct sim_times proof;
    uint64_t collisions, losses, frames, violations, refused_entries, events;
    double ratio_sum, ratio_square_sum; /* over seeds, for the spread */
    rp_time_us longest_settle_us;       /* after the workload until all was everywhere */
    uint32_t unsettled;                 /* seeds in which it was not within the time given */
    rp_time_us simulated_us;
    uint64_t trace_hash;
};

void sim_measure_init(struct sim_measure *measure);
void sim_measure_deinit(struct sim_measure *measure);
/* Adds a run that has ended. The topology's links must all be losses (sim_links_resolve). */
void sim_measure_add(struct sim_measure *measure, const struct sim_world *world,
                     uint64_t violations);
/* The value that `permille` of the times do not exceed; RP_NEVER when there are none or it is among
 * those that never came. Sorts the times. */
rp_time_us sim_times_quantile(struct sim_times *times, unsigned permille);
uint64_t sim_measure_airtime_us(const struct sim_measure *measure);
double sim_measure_ratio(const struct sim_measure *measure); /* 0 when the genie is unknown */
/* Standard error of the mean ratio over the seeds; 0 with one seed. */
double sim_measure_ratio_error(const struct sim_measure *measure);

#endif
