/* Runs one configured program at a time: arguments in the environment, never through a shell, its
 * input and output closed off, killed with all its children when its time is over. */
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
    RP_COMMAND_NONE,    /* none has ended yet */
    RP_COMMAND_WELL,    /* exit status 0 */
    RP_COMMAND_BADLY,   /* another status, or by a signal */
    RP_COMMAND_TOO_LONG /* killed when its time was over */
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
bool rp_command_running(const struct rp_command *command);

/* The command has one deadline; RP_NEVER while nothing runs. To be called when it has passed. */
rp_time_us rp_command_wake(const struct rp_command *command);
void rp_command_tick(struct rp_command *command);

#endif
