/* The bell: says aloud what the watch rules find, by a configured program and on a terminal. It
 * keeps no queue that could be full: at each look all alarms that stand are judged anew, and the
 * most pressing that is due is told. */
#ifndef RP_DAEMON_BELL_H
#define RP_DAEMON_BELL_H

#include "node/node.h"
#include "port/loop.h"

struct rp_bell_settings {
    char command[181];  /* absolute path; empty: none */
    char terminal[181]; /* a terminal device; empty: none */
    uint32_t timeout_s; /* of the command, 1..60 */
};

struct rp_bell;

/* node and settings are borrowed. say: one line for the log. RP_E_MEMORY, RP_E_INVALID. */
int rp_bell_new(struct rp_loop *loop, struct rp_node *node, const struct rp_bell_settings *settings,
                void (*say)(const char *text), struct rp_bell **out_bell);
void rp_bell_free(struct rp_bell *bell);

/* When it wants to look next: RP_NEVER while no patient is known. */
rp_time_us rp_bell_wake(const struct rp_bell *bell);
/* Looks, when it is due. */
void rp_bell_tick(struct rp_bell *bell, struct rp_moment moment);
/* Something was entered or heard: look soon. */
void rp_bell_stir(struct rp_bell *bell, struct rp_moment moment);

#endif
