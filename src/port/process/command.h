/* Runs one program at a time beside the loop, never through a shell, killed with all its children
 * when its time is over: told by its environment, input and output closed off; or fed on its
 * standard input, its output kept within a bound. */
#ifndef RP_PORT_COMMAND_H
#define RP_PORT_COMMAND_H

#include "port/loop.h"
#include "ridgepost/error.h"

struct rp_command;

/* One variable of the program's environment, which else holds only PATH. */
struct rp_command_var {
    const char *name, *value;
};
#define RP_COMMAND_VARS_MAX 16
#define RP_COMMAND_VAR_LEN  256 /* name, '=' and value; what is longer is cut */

/* How the last run ended. */
enum rp_command_end {
    RP_COMMAND_NONE,     /* none has ended yet */
    RP_COMMAND_WELL,     /* exit status 0 */
    RP_COMMAND_BADLY,    /* another status, or by a signal */
    RP_COMMAND_TOO_LONG, /* killed when its time was over */
    RP_COMMAND_TOO_MUCH  /* killed when its output went over the bound (or memory ran out) */
};

/* path: the program, absolute, copied. timeout_us > 0. on_end is called from the loop when a run
 * has ended. RP_E_INVALID (not absolute), RP_E_MEMORY. */
int rp_command_new(struct rp_loop *loop, const char *path, rp_time_us timeout_us,
                   void (*on_end)(void *ctx, enum rp_command_end end), void *ctx,
                   struct rp_command **out_command);
/* Kills what still runs. Harmless on NULL. */
void rp_command_free(struct rp_command *command);

/* Starts a run; RP_E_BUSY while one runs, RP_E_IO when it cannot be started (no such program, no
 * more processes), RP_E_INVALID for more than RP_COMMAND_VARS_MAX variables. */
int rp_command_run(struct rp_command *command, const struct rp_command_var *vars, size_t count);
#define RP_COMMAND_ARG_LEN 64 /* longest argument with its NUL, bytes */
/* Starts a run with one argument, `input` (copied) on its standard input, and at most output_max
 * bytes of its standard output kept. RP_E_BUSY, RP_E_IO as above, RP_E_INVALID: argument too long,
 * RP_E_MEMORY. */
int rp_command_feed(struct rp_command *command, const char *arg, struct rp_view input,
                    size_t output_max);
/* What the run that ended last wrote: whole when it ended well. Valid until it is forgotten or the
 * next run. */
struct rp_view rp_command_output(const struct rp_command *command);
void rp_command_forget_output(struct rp_command *command);
bool rp_command_running(const struct rp_command *command);

/* The command has one deadline; RP_NEVER while nothing runs. To be called when it has passed. */
rp_time_us rp_command_wake(const struct rp_command *command);
void rp_command_tick(struct rp_command *command);

#endif
