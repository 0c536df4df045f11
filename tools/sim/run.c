#include "sim/run.h"

#include <stdio.h>
#include <stdlib.h>
#include <sysexits.h>

#include "sim/measure.h"
#include "sim/report.h"
#include "sim/trial/trial.h"

static void print_violations(const struct sim_trial *trial, uint64_t seed)
{
    uint64_t kept = trial->audit.violations < SIM_VIOLATIONS_KEPT ? trial->audit.violations
                                                                  : SIM_VIOLATIONS_KEPT;
    for (uint64_t i = 0; i < kept; i++) {
        const struct sim_violation *violation = &trial->audit.kept[i];
        fprintf(stderr, "seed %llu, %.3f h, %s: VIOLATED: %s: %s\n", (unsigned long long)seed,
                (double)violation->at_us / SIM_HOUR_US,
                trial->world.topology->stations[violation->host].name,
                sim_rule_sentence(violation->rule), violation->text);
    }
}

static int run_seed(const struct sim_options *options, const struct sim_topology *topology,
                    uint64_t seed, struct sim_measure *measure, struct rp_problem *out_problem)
{
    struct sim_trial *trial = malloc(sizeof *trial);
    int code = trial == NULL ? rp_problem_set(out_problem, RP_E_MEMORY, "", "out of memory")
                             : sim_trial_init(trial, topology, &options->settings, NULL, seed,
                                              (struct sim_story){NULL, false}, out_problem);
    if (code == 0) {
        sim_trial_run(trial);
        sim_measure_add(measure, &trial->world, trial->audit.violations);
        print_violations(trial, seed);
        sim_trial_deinit(trial);
    }
    free(trial);
    return code;
}

int sim_run(struct sim_options *options)
{
    struct rp_problem problem;
    struct sim_topology *topology = malloc(sizeof *topology);
    struct sim_measure measure;
    sim_measure_init(&measure);
    int code = topology == NULL ? rp_problem_set(&problem, RP_E_MEMORY, "", "out of memory")
                                : sim_options_topology(options, topology, &problem);
    struct sim_peers ran = {.seeds = 0};
    for (uint32_t i = 0; code == 0 && i < options->count; i++) {
        code = run_seed(options, topology, options->seed + i, &measure, &problem);
        if (code == 0 && options->baselines) {
            code = sim_peers_add(&ran, topology, &options->settings, options->seed + i, &problem);
        }
    }
    const struct sim_peers *peers = options->baselines ? &ran : NULL;
    if (code < 0) {
        fprintf(stderr, "ridgepost-sim: %s\n", problem.text);
    } else if (options->json) {
        sim_report_json(stdout, &measure, peers);
    } else {
        sim_report_text(stdout, &measure, peers);
    }
    int status = code < 0 ? EX_USAGE : measure.violations > 0 ? 1 : EX_OK;
    sim_measure_deinit(&measure);
    free(topology);
    return status;
}
