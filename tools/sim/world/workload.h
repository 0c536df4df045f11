/* The simulated people: when they enter a record, and which. */
#ifndef SIM_WORLD_WORKLOAD_H
#define SIM_WORLD_WORKLOAD_H

#include "sim/world/settings.h"
#include "sim/world/station.h"

/* The first record of an origin: anywhere within one interval after the first minute. */
rp_time_us sim_workload_first_us(const struct sim_settings *settings, struct rp_rng *rng);
/* When the record after the one entered now comes. */
rp_time_us sim_workload_next_us(const struct sim_settings *settings, struct rp_rng *rng,
                                rp_time_us now_us);
/* Enters one record of settings->record_bytes on air, or as near above as a record allows. */
int sim_workload_enter(struct sim_host *host, const struct sim_settings *settings,
                       struct rp_rng *rng, rp_time_us now_us, struct rp_record_ref *out_ref);

#endif
