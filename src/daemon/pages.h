/* The pages in the daemon: where they are served, what they may do, whom they know. */
#ifndef RP_DAEMON_PAGES_H
#define RP_DAEMON_PAGES_H

#include "control/pages.h"
#include "daemon/draw.h"
#include "daemon/settings.h"
#include "port/loop.h"
#include "web/server.h"

struct rp_daemon_pages {
    struct rp_web *web;                 /* NULL: not configured */
    const struct rp_settings *settings; /* borrowed */
    struct rp_loop_watch *watch;
    struct rp_daemon_draw draw; /* .self may be set before the start */
    struct rp_pages control;    /* for the control protocol */
    char where[RP_PATH_LEN + 16];
    char file[RP_PATH_LEN + 8]; /* the paired devices, beside the database */
};

/* Starts to serve if the settings say so; they must outlive the pages. act and ctx: see
 * web/server.h. */
int rp_daemon_pages_start(struct rp_daemon_pages *pages, const struct rp_settings *settings,
                          struct rp_loop *loop, char *(*act)(void *ctx, struct rp_view line),
                          void *ctx, struct rp_problem *out_problem);
void rp_daemon_pages_stop(struct rp_daemon_pages *pages);
/* At the end of each turn: saves what has changed, tells live pages when `changed`, and returns
 * the next deadline. */
rp_time_us rp_daemon_pages_turn(struct rp_daemon_pages *pages, bool changed);

#endif
