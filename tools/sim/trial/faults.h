/* The faults of a plan, as they happen. */
#ifndef SIM_TRIAL_FAULTS_H
#define SIM_TRIAL_FAULTS_H

#include "sim/trial/trial.h"

/* Clocks as drawn, and the first moment asked for. */
void sim_faults_start(struct sim_trial *trial);
/* The moment asked for has come. */
void sim_faults_due(struct sim_trial *trial);
/* A frame reaches a station: false when a fault has taken it in hand. */
bool sim_faults_pass(struct sim_trial *trial, unsigned to, const struct sim_air_frame *frame);

#endif
