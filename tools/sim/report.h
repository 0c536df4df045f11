/* Figures as JSON and as text. */
#ifndef SIM_REPORT_H
#define SIM_REPORT_H

#include <stdio.h>

#include "sim/measure.h"
#include "sim/peers.h"

/* `peers` may be NULL: none ran. */
void sim_report_json(FILE *to, struct sim_measure *measure, const struct sim_peers *peers);
void sim_report_text(FILE *to, struct sim_measure *measure, const struct sim_peers *peers);

#endif
