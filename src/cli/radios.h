/* `ridgepost radios ...`: which serial ports there are, and what modem is on one; without a daemon.
 */
#ifndef RP_CLI_RADIOS_H
#define RP_CLI_RADIOS_H

#include "cli/options.h"

/* Returns the exit status. */
int rp_cli_radios(const struct rp_options *options);

#endif
