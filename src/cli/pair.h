/* `ridgepost pair ROLE`: the code to be typed, and one for the device's camera. */
#ifndef RP_CLI_PAIR_H
#define RP_CLI_PAIR_H

#include "cli/options.h"

/* Whether the words ask for a code. */
bool rp_cli_pair_wanted(const struct rp_options *options);
/* The camera's code is drawn on a terminal, or wherever --form qr asks for it. Returns the exit
 * status. */
int rp_cli_pair(const struct rp_options *options);

#endif
