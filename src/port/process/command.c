/* pidfd_open and the posix_spawn extensions are of the GNU library. */
#define _GNU_SOURCE 1
#include "port/process/command.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/pidfd.h>
#include <sys/wait.h>
#include <unistd.h>

#include "port/clock.h"

#define PATH_VAR "PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin"

struct rp_command {
    struct rp_loop *loop;
    char *path;
    rp_time_us timeout_us, deadline_us;
    void (*on_end)(void *ctx, enum rp_command_end end);
    void *ctx;
    pid_t pid; /* 0: nothing runs */
    int pid_fd;
    struct rp_loop_watch *watch;
    bool killed;
};

int rp_command_new(struct rp_loop *loop, const char *path, rp_time_us timeout_us,
                   void (*on_end)(void *ctx, enum rp_command_end end), void *ctx,
                   struct rp_command **out_command)
{
    if (path[0] != '/' || timeout_us <= 0) {
        return RP_E_INVALID;
    }
    struct rp_command *command = calloc(1, sizeof *command);
    char *copy = strdup(path);
    if (command == NULL || copy == NULL) {
        free(command);
        free(copy);
        return RP_E_MEMORY;
    }
    *command = (struct rp_command){.loop = loop,
                                   .path = copy,
                                   .timeout_us = timeout_us,
                                   .deadline_us = RP_NEVER,
                                   .on_end = on_end,
                                   .ctx = ctx,
                                   .pid_fd = -1};
    *out_command = command;
    return RP_OK;
}

static void forget(struct rp_command *command)
{
    rp_loop_watch_stop(command->watch);
    command->watch = NULL;
    if (command->pid_fd >= 0) {
        close(command->pid_fd);
    }
    command->pid_fd = -1;
    command->pid = 0;
    command->deadline_us = RP_NEVER;
}

/* The whole group: what the program started goes with it, also when it ended by itself. */
static void kill_group(const struct rp_command *command)
{
    kill(-command->pid, SIGKILL);
}

static void on_exit_seen(void *ctx, unsigned events)
{
    struct rp_command *command = ctx;
    int status = 0;
    (void)events;
    kill_group(command); /* before it is waited for: the number is still its own */
    pid_t got = waitpid(command->pid, &status, WNOHANG);
    if (got == 0) {
        return;
    }
    bool well = got == command->pid && WIFEXITED(status) && WEXITSTATUS(status) == 0;
    enum rp_command_end end = command->killed ? RP_COMMAND_TOO_LONG
                              : well          ? RP_COMMAND_WELL
                                              : RP_COMMAND_BADLY;
    forget(command);
    command->on_end(command->ctx, end);
}

void rp_command_free(struct rp_command *command)
{
    if (command == NULL) {
        return;
    }
    if (command->pid != 0) {
        kill_group(command);
        waitpid(command->pid, NULL, 0);
        forget(command);
    }
    free(command->path);
    free(command);
}

/* Input from nowhere, output to the daemon's log, every signal as a program expects it, a group of
 * its own, no descriptor of the daemon. */
static int spawn(struct rp_command *command, char *const env[])
{
    posix_spawn_file_actions_t files;
    posix_spawnattr_t attr;
    sigset_t all, none;
    char *const args[] = {command->path, NULL};
    sigfillset(&all);
    sigemptyset(&none);
    if (posix_spawn_file_actions_init(&files) != 0) {
        return RP_E_MEMORY;
    }
    if (posix_spawnattr_init(&attr) != 0) {
        posix_spawn_file_actions_destroy(&files);
        return RP_E_MEMORY;
    }
    bool ready = posix_spawn_file_actions_addopen(&files, 0, "/dev/null", O_RDONLY, 0) == 0 &&
                 posix_spawn_file_actions_adddup2(&files, 2, 1) == 0 &&
                 posix_spawn_file_actions_addclosefrom_np(&files, 3) == 0 &&
                 posix_spawnattr_setsigdefault(&attr, &all) == 0 &&
                 posix_spawnattr_setsigmask(&attr, &none) == 0 &&
                 posix_spawnattr_setflags(&attr, POSIX_SPAWN_SETSID | POSIX_SPAWN_SETSIGDEF |
                                                     POSIX_SPAWN_SETSIGMASK) == 0;
    int rc = ready ? posix_spawn(&command->pid, command->path, &files, &attr, args, env) : ENOMEM;
    posix_spawnattr_destroy(&attr);
    posix_spawn_file_actions_destroy(&files);
    if (rc != 0) {
        command->pid = 0;
    }
    return rc == 0 ? RP_OK : RP_E_IO;
}

static int watch_end(struct rp_command *command)
{
    command->pid_fd = pidfd_open(command->pid, 0);
    if (command->pid_fd < 0) {
        return RP_E_IO;
    }
    return rp_loop_watch_start(command->loop, command->pid_fd, RP_LOOP_READABLE, on_exit_seen,
                               command, &command->watch);
}

int rp_command_run(struct rp_command *command, const struct rp_command_var *vars, size_t count)
{
    char texts[RP_COMMAND_VARS_MAX][RP_COMMAND_VAR_LEN];
    char path_var[] = PATH_VAR;
    char *env[RP_COMMAND_VARS_MAX + 2] = {path_var};
    if (command->pid != 0) {
        return RP_E_BUSY;
    }
    if (count > RP_COMMAND_VARS_MAX) {
        return RP_E_INVALID;
    }
    for (size_t i = 0; i < count; i++) {
        snprintf(texts[i], sizeof texts[i], "%s=%s", vars[i].name, vars[i].value);
        env[i + 1] = texts[i];
    }
    command->killed = false;
    int code = spawn(command, env);
    if (code == RP_OK) {
        code = watch_end(command);
        if (code < 0) { /* an end nobody sees is a run nobody bounds */
            kill_group(command);
            waitpid(command->pid, NULL, 0);
            forget(command);
        } else {
            command->deadline_us = rp_clock_now_us() + command->timeout_us;
        }
    }
    return code;
}

bool rp_command_running(const struct rp_command *command)
{
    return command->pid != 0;
}

rp_time_us rp_command_wake(const struct rp_command *command)
{
    return command->deadline_us;
}

void rp_command_tick(struct rp_command *command)
{
    if (command->pid != 0 && rp_clock_now_us() >= command->deadline_us) {
        command->killed = true;
        command->deadline_us = RP_NEVER;
        kill_group(command); /* its end is seen by the watch */
    }
}
