/* Sheets drawn by the page program for the pages: beside the loop, at most RP_WEB_DRAWINGS_MAX at
 * once, each bounded in time and size. */
#ifndef RP_DAEMON_DRAW_H
#define RP_DAEMON_DRAW_H

#include "port/loop.h"
#include "port/process/command.h"
#include "web/server.h"

struct rp_daemon_draw {
    struct rp_loop *loop;
    const char *self; /* argv[0]: the page program may be beside */
    struct rp_web *web;
    struct rp_daemon_drawing {
        struct rp_daemon_draw *owner;
        struct rp_command *command; /* NULL: not used yet */
    } places[RP_WEB_DRAWINGS_MAX];
};

/* rp_web_options.draw; draw_ctx: the struct rp_daemon_draw. */
int rp_daemon_draw(void *draw_ctx, size_t place, const char *form, struct rp_view rows);
/* Kills what takes too long; returns the next deadline, or RP_NEVER. */
rp_time_us rp_daemon_draw_turn(struct rp_daemon_draw *draw);
void rp_daemon_draw_stop(struct rp_daemon_draw *draw);

#endif
