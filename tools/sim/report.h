/* Figures as JSON and as text. */
#ifndef SIM_REPORT_H
#define SIM_REPORT_H

#include <stdio.h>

#include "sim/measure.h"

void sim_report_json(FILE *to, struct sim_measure *measure);
void sim_report_text(FILE *to, struct sim_measure *measure);

#endif
