/* Plays a log of the emulator again: what hosts wrote and what was commanded goes into a fresh
 * world at the times of the log, and the same log comes out, line by line. */
#ifndef AIR_REPLAY_H
#define AIR_REPLAY_H

#include "air/world.h"

/* Applies one line of a log, which is cut up: inputs are repeated, everything else only lets time
 * pass. RP_E_FORMAT for a line without a time; RP_E_NOT_FOUND for a modem that is not there. */
int air_replay_line(struct air_world *world, char *line);

#endif
