/* A world under watch: the audit looks at every event, and a plan's faults, if there are any,
 * happen. The storm runs drawn plans; a plain run has none. */
#ifndef SIM_TRIAL_TRIAL_H
#define SIM_TRIAL_TRIAL_H

#include "sim/trial/audit.h"
#include "sim/trial/outsider.h"
#include "sim/trial/plan.h"
#include "sim/trial/story.h"

struct sim_trial {
    struct sim_world world;
    struct sim_audit audit;
    struct sim_story story;
    const struct sim_plan *plan; /* NULL: no faults */
    struct sim_outsider outsider;
    struct rp_rng rng; /* of faults that befall single frames */
    unsigned next_incident;
    rp_time_us attack_us, newer_us;                             /* RP_NEVER: not in this plan */
    unsigned full[SIM_STATIONS_MAX], held_up[SIM_STATIONS_MAX]; /* overlapping spells */
    uint64_t injected[SIM_FAULT_COUNT];
};

/* Builds the world of a topology and settings without faults (plan NULL), or that of a plan. All
 * are borrowed. A failed trial needs no sim_trial_deinit. */
int sim_trial_init(struct sim_trial *trial, const struct sim_topology *topology,
                   const struct sim_settings *settings, const struct sim_plan *plan, uint64_t seed,
                   struct sim_story story, struct rp_problem *out_problem);
void sim_trial_deinit(struct sim_trial *trial);
/* Runs to the end and judges. */
void sim_trial_run(struct sim_trial *trial);

#endif
