/* The commands; each prints its answer and returns the exit status. */
#ifndef SIM_RUN_H
#define SIM_RUN_H

#include "sim/options.h"

int sim_run(struct sim_options *options);
/* Runs options->count seeds; or one, told as a story. */
int sim_storm(const struct sim_options *options, bool tell);

#endif
