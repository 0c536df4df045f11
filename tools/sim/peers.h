/* The baselines beside a run: the same net, workload and seeds, on the baselines' own air. */
#ifndef SIM_PEERS_H
#define SIM_PEERS_H

#include <stdio.h>

#include "sim/world/settings.h"
#include "sim/yard/baseline.h"

struct sim_peer {
    uint64_t originated, delivered_to_base, delivered_to_all;
    int64_t airtime_us, genie_base_us, genie_all_us; /* a genie of 0: not known */
    double p50_sum_s, p95_sum_s;                     /* over seeds; of what was delivered */
    int64_t newest_us; /* after a cut, see baseline.h: the longest of all seeds; -1 never */
};

struct sim_peers {
    uint32_t seeds;
    struct sim_peer of[SIM_BASELINE_COUNT];
};

/* Runs all baselines with that seed and adds their figures. The topology's links must all be
 * losses. Serial delays, sensing and urgent records are ours alone. */
int sim_peers_add(struct sim_peers *peers, const struct sim_topology *topology,
                  const struct sim_settings *settings, uint64_t seed,
                  struct rp_problem *out_problem);
/* One member "baselines" of a JSON object, with a comma behind it. */
void sim_peers_json(FILE *to, const struct sim_peers *peers);
void sim_peers_text(FILE *to, const struct sim_peers *peers);

#endif
