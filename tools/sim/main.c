/* ridgepost-sim: many stations in one process, in virtual time. */
#include <stdio.h>
#include <sysexits.h>

#include "sim/help.h"
#include "sim/options.h"
#include "sim/run.h"

int main(int argc, char **argv)
{
    struct sim_options options;
    struct rp_problem problem;
    if (sim_options_read(argc - 1, argv + 1, &options, &problem) < 0) {
        fprintf(stderr, "ridgepost-sim: %s\n", problem.text);
        return EX_USAGE;
    }
    switch (options.command) {
    case SIM_COMMAND_HELP:
        fputs(sim_help_text, stdout);
        fputs(sim_topology_help, stdout);
        return EX_OK;
    case SIM_COMMAND_RUN:
        return sim_run(&options);
    case SIM_COMMAND_STORM:
        return sim_storm(&options, false);
    case SIM_COMMAND_TELL:
        return sim_storm(&options, true);
    }
    return EX_SOFTWARE;
}
