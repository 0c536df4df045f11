/* Looks at the battery now and then and tells the node. */
#ifndef RP_DAEMON_POWER_H
#define RP_DAEMON_POWER_H

#include "daemon/settings.h"

struct rp_power {
    char path[RP_PATH_LEN + 1]; /* empty: no battery to look at */
    rp_time_us look_us;
};

/* By the settings: a file, none, or the one that is found; looked for once. */
void rp_power_start(struct rp_power *power, const struct rp_settings *settings);
/* When to tick next; RP_NEVER without a battery. */
rp_time_us rp_power_wake(const struct rp_power *power);
void rp_power_tick(struct rp_power *power, struct rp_node *node, struct rp_moment moment);

#endif
