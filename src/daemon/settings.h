/* The daemon's own configuration file. */
#ifndef RP_DAEMON_SETTINGS_H
#define RP_DAEMON_SETTINGS_H

#include "daemon/bell.h"
#include "node/node.h"
#include "port/line.h"

#define RP_PATH_LEN 180

/* What is wired to the module's reset input, or works as one. */
enum rp_reset { RP_RESET_NONE, RP_RESET_DTR, RP_RESET_RTS, RP_RESET_BREAK };

struct rp_settings {
    struct rp_node_config node; /* without store, seeds, plan and protocol */
    struct rp_watch_plan plan;
    bool has_protocol;
    struct rp_protocol protocol; /* when has_protocol */
    struct rp_bell_settings bell;
    char net_file[RP_PATH_LEN + 1];
    char database[RP_PATH_LEN + 1];
    char socket[RP_PATH_LEN + 1];
    char socket_group[RP_NAME_LEN + 1];
    char port[RP_PATH_LEN + 1]; /* empty: no radio */
    uint32_t baud;              /* 0: the modem family's usual speed */
    struct rp_line_options line;
    enum rp_reset reset;                /* how a module that is deaf is reset */
    char mode_pin[RP_NAME_LEN + 1];     /* of a transparent module; empty: none */
    char pages_listen[RP_PATH_LEN + 1]; /* empty: no pages */
    char pages_name[RP_NAME_LEN + 1];
    char battery[RP_PATH_LEN + 1]; /* a file that holds its charge; "none"; "auto": looked for */
    bool clock_trusted;            /* the operator vouches for the wall clock */
};

/* Reads the configuration file and the net file and protocol table it names. */
int rp_settings_read(const char *path, struct rp_settings *out_settings,
                     struct rp_problem *out_problem);

#endif
