#include "sim/run.h"

#include <stdio.h>
#include <stdlib.h>
#include <sysexits.h>

#include "sim/measure.h"
#include "sim/report.h"
#include "sim/world/links.h"

static int run_seed(const struct sim_options *options, const struct sim_topology *topology,
                    uint64_t seed, struct sim_measure *measure, struct rp_problem *out_problem)
{
    struct sim_world world;
    int code = sim_world_init(&world, topology, &options->settings, seed, NULL, out_problem);
    if (code == 0) {
        sim_world_run_all(&world);
        sim_measure_add(measure, &world, 0);
    }
    sim_world_deinit(&world);
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
    for (uint32_t i = 0; code == 0 && i < options->count; i++) {
        code = run_seed(options, topology, options->seed + i, &measure, &problem);
    }
    if (code < 0) {
        fprintf(stderr, "ridgepost-sim: %s\n", problem.text);
    } else if (options->json) {
        sim_report_json(stdout, &measure);
    } else {
        sim_report_text(stdout, &measure);
    }
    int status = code < 0 ? EX_USAGE : measure.violations > 0 ? 1 : EX_OK;
    sim_measure_deinit(&measure);
    free(topology);
    return status;
}
