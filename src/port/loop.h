/* The event loop of the daemon, on libuv: descriptors, one deadline, signals. One thread.
 *
 * When nothing happens it sleeps: no timer exists but the one deadline, and that one only while
 * it is set. */
#ifndef RP_PORT_LOOP_H
#define RP_PORT_LOOP_H

#include <stdbool.h>
#include <stdint.h>

#include "ridgepost/view.h"

struct rp_loop;
struct rp_loop_watch;

/* What to watch a descriptor for, and what happened to it; bits may be combined. */
enum rp_loop_events {
    RP_LOOP_READABLE = 1,
    RP_LOOP_WRITABLE = 2,
    /* Only reported, and always watched for: hung up, or the other end will
     * send no more. What had arrived can still be read: read until RP_E_GONE, then stop the
     * watch. It reports nothing further. */
    RP_LOOP_GONE = 4,
    /* Only asked for: the other end of a socket may stop sending and still listen. That is then
     * not GONE; reading says so by 0 bytes. */
    RP_LOOP_HALF_OPEN = 8,
};

/* RP_E_MEMORY or RP_E_IO. The caller owns the loop. */
int rp_loop_new(struct rp_loop **out_loop);
/* Every watch must have been stopped. Harmless on NULL. */
void rp_loop_free(struct rp_loop *loop);

/* Runs until rp_loop_stop, which may be called from any of the callbacks; called before, the next
 * run returns at once. May be run again. */
void rp_loop_run(struct rp_loop *loop);
void rp_loop_stop(struct rp_loop *loop);

/* Starts watching fd (borrowed; one watch per descriptor; made non-blocking) for `events`, a union
 * of READABLE, WRITABLE and HALF_OPEN. on_event gets what happened. RP_E_MEMORY, RP_E_INVALID (a
 * plain file, or a descriptor watched already). */
int rp_loop_watch_start(struct rp_loop *loop, int fd, unsigned events,
                        void (*on_event)(void *ctx, unsigned events), void *ctx,
                        struct rp_loop_watch **out_watch);
/* Changes what a watch waits for; 0 waits for GONE alone. No effect once GONE was reported. */
void rp_loop_watch_set(struct rp_loop_watch *watch, unsigned events);
/* Ends a watch; the pointer is dead on return, no callback follows, and the descriptor may be
 * closed. Allowed inside its own callback. Harmless on NULL. */
void rp_loop_watch_stop(struct rp_loop_watch *watch);

/* The one deadline, in the time of rp_clock_now_us; RP_NEVER: none. When it passes, on_deadline is
 * called once and the deadline is RP_NEVER again. One in the past is due at once. Time asleep
 * counts: after a suspend an overdue deadline fires on waking. */
void rp_loop_on_deadline(struct rp_loop *loop, void (*on_deadline)(void *ctx), void *ctx);
void rp_loop_set_deadline(struct rp_loop *loop, rp_time_us deadline_us);

/* Calls on_signal, from the loop and not from a signal handler, on SIGTERM, SIGINT and SIGHUP.
 * Also ignores SIGPIPE and SIGXFSZ for the process. RP_E_IO, RP_E_STATE (called twice). */
int rp_loop_on_signal(struct rp_loop *loop, void (*on_signal)(void *ctx, int signal_number),
                      void *ctx);

/* Called at the end of every turn in which something happened: the one place to move bytes on and
 * to set the next deadline. */
void rp_loop_on_turn(struct rp_loop *loop, void (*on_turn)(void *ctx), void *ctx);

/* How many turns were made: wake-ups, for tests and the status page. */
uint64_t rp_loop_turns(const struct rp_loop *loop);

#endif
