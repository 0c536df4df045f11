/* `ridgepost net ...`: making, showing and joining a net, without a daemon. */
#ifndef RP_CLI_NET_H
#define RP_CLI_NET_H

#include "cli/options.h"

/* Returns the exit status. */
int rp_cli_net(const struct rp_options *options);

#endif
