/* The command line of ridgepost-sim. */
#ifndef SIM_OPTIONS_H
#define SIM_OPTIONS_H

#include "base/problem.h"
#include "sim/topology.h"
#include "sim/world/settings.h"

enum sim_command { SIM_COMMAND_HELP, SIM_COMMAND_RUN, SIM_COMMAND_STORM, SIM_COMMAND_TELL };

struct sim_options {
    enum sim_command command;
    const char *topology_text; /* a word or a file, as given; NULL: not given */
    uint16_t loss;             /* thousandths */
    unsigned origins;          /* 0: as the topology says */
    const char *cut_texts[SIM_CUTS_MAX];
    unsigned cut_count;
    uint64_t seed;
    uint32_t count; /* seeds, from `seed` on */
    bool json;
    bool frames; /* tell: every frame on air, too */
    bool has_duty;
    bool baselines; /* run them beside */
    struct sim_settings settings;
};

/* Reads the words after the program's name. RP_E_INVALID or RP_E_NOT_FOUND: the problem names the
 * option, its bound and an example. */
int sim_options_read(int argc, char **argv, struct sim_options *out_options,
                     struct rp_problem *out_problem);
/* Makes or loads the topology, chooses its origins, finds the stations of the cuts, and gives links
 * between positions their losses. */
int sim_options_topology(struct sim_options *options, struct sim_topology *out_topology,
                         struct rp_problem *out_problem);

#endif
