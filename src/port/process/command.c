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
#include <sys/mman.h>
#include <sys/pidfd.h>
#include <sys/wait.h>
#include <unistd.h>

#include "port/clock.h"

#define OUTPUT_FIRST 65536
#define PATH_VAR     "PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin"

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
    int out_fd; /* -1: its output is not kept */
    struct rp_loop_watch *out_watch;
    uint8_t *out;
    size_t out_len, out_cap, out_max;
    bool too_much;
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
                                   .pid_fd = -1,
                                   .out_fd = -1};
    *out_command = command;
    return RP_OK;
}

static void stop_reading(struct rp_command *command)
{
    rp_loop_watch_stop(command->out_watch);
    command->out_watch = NULL;
    if (command->out_fd >= 0) {
        close(command->out_fd);
    }
    command->out_fd = -1;
}

static void forget(struct rp_command *command)
{
    rp_loop_watch_stop(command->watch);
    command->watch = NULL;
    if (command->pid_fd >= 0) {
        close(command->pid_fd);
    }
    stop_reading(command);
    command->pid_fd = -1;
    command->pid = 0;
    command->deadline_us = RP_NEVER;
}

/* The whole group: what the program started goes with it, also when it ended by itself. */
static void kill_group(const struct rp_command *command)
{
    kill(-command->pid, SIGKILL);
}

/* Room for one byte more than is allowed, so that too much is noticed. */
static bool grow(struct rp_command *command)
{
    size_t cap = command->out_cap == 0 ? OUTPUT_FIRST : command->out_cap * 2;
    cap = cap < command->out_max + 1 ? cap : command->out_max + 1;
    uint8_t *larger = command->out_len < command->out_cap ? command->out
                      : cap > command->out_cap            ? realloc(command->out, cap)
                                                          : NULL;
    if (larger == NULL) {
        return false;
    }
    command->out_cap = command->out_len < command->out_cap ? command->out_cap : cap;
    command->out = larger;
    return true;
}

/* What has come so far; at its end, or over the bound, nothing more is read. */
static void read_output(struct rp_command *command)
{
    while (command->out_fd >= 0) {
        if (!grow(command)) {
            command->too_much = true;
            kill_group(command);
            stop_reading(command);
            return;
        }
        ssize_t got = read(command->out_fd, command->out + command->out_len,
                           command->out_cap - command->out_len);
        if (got < 0 && errno == EAGAIN) {
            return;
        }
        if (got == 0 || (got < 0 && errno != EINTR)) {
            stop_reading(command);
        }
        command->out_len += got > 0 ? (size_t)got : 0;
    }
}

static void on_output(void *ctx, unsigned events)
{
    (void)events;
    read_output(ctx);
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
    read_output(command);
    bool well = got == command->pid && WIFEXITED(status) && WEXITSTATUS(status) == 0;
    enum rp_command_end end = command->killed     ? RP_COMMAND_TOO_LONG
                              : command->too_much ? RP_COMMAND_TOO_MUCH
                              : well              ? RP_COMMAND_WELL
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
    free(command->out);
    free(command->path);
    free(command);
}

/* Input from nowhere (in_fd < 0), output to the daemon's log (out_fd < 0), every signal as a
 * program expects it, a group of its own, no other descriptor of the daemon. */
static int spawn(struct rp_command *command, const char *arg, char *const env[], int in_fd,
                 int out_fd)
{
    posix_spawn_file_actions_t files;
    posix_spawnattr_t attr;
    sigset_t all, none;
    char word[RP_COMMAND_ARG_LEN];
    char *const args[] = {command->path, arg != NULL ? word : NULL, NULL};
    snprintf(word, sizeof word, "%s", arg != NULL ? arg : "");
    sigfillset(&all);
    sigemptyset(&none);
    if (posix_spawn_file_actions_init(&files) != 0) {
        return RP_E_MEMORY;
    }
    if (posix_spawnattr_init(&attr) != 0) {
        posix_spawn_file_actions_destroy(&files);
        return RP_E_MEMORY;
    }
    int in = in_fd < 0 ? posix_spawn_file_actions_addopen(&files, 0, "/dev/null", O_RDONLY, 0)
                       : posix_spawn_file_actions_adddup2(&files, in_fd, 0);
    bool ready = in == 0 &&
                 posix_spawn_file_actions_adddup2(&files, out_fd < 0 ? 2 : out_fd, 1) == 0 &&
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

static int begin(struct rp_command *command, const char *arg, char *const env[], int in_fd,
                 int out_fd)
{
    command->killed = false;
    command->too_much = false;
    command->out_len = 0;
    int code = spawn(command, arg, env, in_fd, out_fd);
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
    return begin(command, NULL, env, -1, -1);
}

/* The input as a file in memory: a program that does not read it holds nobody up. */
static int input_file(struct rp_view input)
{
    int fd = memfd_create("input", MFD_CLOEXEC);
    for (size_t at = 0; fd >= 0 && at < input.len;) {
        ssize_t put = write(fd, input.bytes + at, input.len - at);
        if (put < 0 && errno != EINTR) {
            close(fd);
            return -1;
        }
        at += put > 0 ? (size_t)put : 0;
    }
    if (fd >= 0) {
        lseek(fd, 0, SEEK_SET);
    }
    return fd;
}

int rp_command_feed(struct rp_command *command, const char *arg, struct rp_view input,
                    size_t output_max)
{
    char path_var[] = PATH_VAR;
    char *const env[] = {path_var, NULL};
    int out[2] = {-1, -1};
    if (command->pid != 0) {
        return RP_E_BUSY;
    }
    if (strlen(arg) >= RP_COMMAND_ARG_LEN) {
        return RP_E_INVALID;
    }
    rp_command_forget_output(command);
    int in_fd = input_file(input);
    int code = in_fd >= 0 && pipe2(out, O_CLOEXEC) == 0 ? RP_OK : RP_E_IO;
    if (code == RP_OK) {
        command->out_fd = out[0];
        command->out_max = output_max;
        code = rp_loop_watch_start(command->loop, out[0], RP_LOOP_READABLE, on_output, command,
                                   &command->out_watch);
    }
    if (code == RP_OK) {
        code = begin(command, arg, env, in_fd, out[1]);
    }
    if (code < 0) {
        stop_reading(command);
    }
    if (in_fd >= 0) {
        close(in_fd);
    }
    if (out[1] >= 0) {
        close(out[1]);
    }
    return code;
}

struct rp_view rp_command_output(const struct rp_command *command)
{
    return (struct rp_view){command->out, command->out_len};
}

void rp_command_forget_output(struct rp_command *command)
{
    free(command->out);
    command->out = NULL;
    command->out_len = 0;
    command->out_cap = 0;
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
