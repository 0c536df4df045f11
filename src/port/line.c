#include "port/line.h"

#include <assert.h>
#include <errno.h>
#include <limits.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "port/line_backend.h"

static int resolve(struct rp_line *line, const char *target, struct rp_problem *out_problem)
{
    char resolved[PATH_MAX];
    if (realpath(target, resolved) == NULL) {
        return rp_tty_open_failed(target, target, errno, out_problem);
    }
    if (strncmp(resolved, "/dev/", 5) != 0) {
        return rp_problem_set(out_problem, RP_E_INVALID, "port",
                              "%s is not a device: name a port such as /dev/ttyUSB0 or "
                              "tcp:127.0.0.1:8001",
                              target);
    }
    if (strlen(resolved) >= sizeof line->device) {
        return rp_problem_set(out_problem, RP_E_TOO_LONG, "port",
                              "the port's name is longer than "
                              "%d bytes",
                              RP_LINE_TARGET_CAP - 1);
    }
    strcpy(line->device, resolved);
    return 0;
}

static bool is_tcp(const char *target)
{
    return strncmp(target, "tcp:", 4) == 0;
}

static int check_form(const char *target, struct rp_problem *out_problem)
{
    if (strlen(target) >= RP_LINE_TARGET_CAP) {
        return rp_problem_set(out_problem, RP_E_TOO_LONG, "port",
                              "the port's name is longer than "
                              "%d bytes",
                              RP_LINE_TARGET_CAP - 1);
    }
    if (!is_tcp(target) && target[0] != '/') {
        return rp_problem_set(out_problem, RP_E_INVALID, "port",
                              "'%s' is neither a path such as /dev/ttyUSB0 nor "
                              "tcp:HOST:PORT such as tcp:127.0.0.1:8001",
                              target);
    }
    return 0;
}

int rp_line_check(const char *target, uint32_t baud, struct rp_problem *out_problem)
{
    int rc = check_form(target, out_problem);
    if (rc < 0) {
        return rc;
    }
    return is_tcp(target) ? rp_tcp_check(target, out_problem)
                          : rp_tty_check_baud(baud, out_problem);
}

/* Finds the kind of line and fills target and device. */
static int choose(struct rp_line *line, const char *target,
                  const struct rp_line_backend **out_backend, struct rp_problem *out_problem)
{
    int rc = check_form(target, out_problem);
    if (rc < 0) {
        return rc;
    }
    strcpy(line->target, target);
    if (is_tcp(target)) {
        strcpy(line->device, target);
        *out_backend = &rp_line_tcp;
        return 0;
    }
    rc = resolve(line, target, out_problem);
    if (rc < 0) {
        return rc;
    }
    bool is_pty = strncmp(line->device, "/dev/pts/", 9) == 0;
    *out_backend = is_pty ? &rp_line_pty : &rp_line_serial;
    return 0;
}

int rp_line_open(struct rp_line *line, const char *target, uint32_t baud,
                 const struct rp_line_options *options, struct rp_problem *out_problem)
{
    static const struct rp_line_options keep = {RP_LINE_KEEP, RP_LINE_KEEP};
    assert(line->backend == NULL);
    *line = (struct rp_line){.fd = -1, .lock_fd = -1, .baud = baud};
    const struct rp_line_backend *backend = NULL;
    int rc = choose(line, target, &backend, out_problem);
    if (rc == 0) {
        rc = backend->open(line, options != NULL ? options : &keep, out_problem);
    }
    if (rc < 0) {
        *line = (struct rp_line){.fd = -1, .lock_fd = -1};
        return rc;
    }
    line->backend = backend;
    return 0;
}

int rp_line_ready(struct rp_line *line)
{
    assert(line->backend != NULL);
    if (line->fault.code != 0) {
        return RP_E_GONE;
    }
    return line->backend->ready != NULL ? line->backend->ready(line) : 0;
}

int rp_line_read(struct rp_line *line, uint8_t *buf, size_t cap)
{
    assert(line->backend != NULL && cap >= 1);
    if (line->fault.code != 0) {
        return RP_E_GONE;
    }
    return line->backend->read(line, buf, cap < INT_MAX ? cap : INT_MAX);
}

int rp_line_write(struct rp_line *line, const uint8_t *bytes, size_t len)
{
    assert(line->backend != NULL && len >= 1);
    if (line->fault.code != 0) {
        return RP_E_GONE;
    }
    return line->backend->write(line, bytes, len < INT_MAX ? len : INT_MAX);
}

int rp_line_signal(struct rp_line *line, enum rp_line_pin pin, bool on)
{
    assert(line->backend != NULL);
    if (line->fault.code != 0) {
        return RP_E_GONE;
    }
    return line->backend->signal != NULL ? line->backend->signal(line, pin, on) : RP_E_UNSUPPORTED;
}

int rp_line_set_baud(struct rp_line *line, uint32_t baud)
{
    struct rp_problem problem;
    assert(line->backend != NULL);
    if (line->fault.code != 0) {
        return RP_E_GONE;
    }
    int code = line->backend == &rp_line_tcp
                   ? RP_OK
                   : rp_tty_set_raw(line->target, line->fd, baud, &problem);
    line->baud = code == RP_OK ? baud : line->baud;
    return code;
}

int rp_line_fd(const struct rp_line *line)
{
    return line->backend != NULL ? line->fd : -1;
}

const struct rp_problem *rp_line_fault(const struct rp_line *line)
{
    return &line->fault;
}

void rp_line_close(struct rp_line *line)
{
    if (line->backend == NULL) {
        return;
    }
    line->backend->close(line);
    line->backend = NULL;
    line->fd = -1;
    line->lock_fd = -1;
    line->port = NULL;
}

void rp_line_describe(const struct rp_line *line, char *buf, size_t cap)
{
    if (line->backend == NULL) {
        snprintf(buf, cap, "closed");
    } else if (line->backend == &rp_line_tcp) {
        snprintf(buf, cap, "%s", line->target);
    } else if (strcmp(line->target, line->device) == 0) {
        snprintf(buf, cap, "%s, %u baud", line->target, (unsigned)line->baud);
    } else {
        snprintf(buf, cap, "%s (%s), %u baud", line->target, line->device, (unsigned)line->baud);
    }
}

int rp_line_lose(struct rp_line *line, int error)
{
    const char *why = strerror(error);
    switch (error) {
    case 0:
        why = line->backend == &rp_line_tcp ? "the other end closed the connection"
                                            : "unplugged or hung up";
        break;
    case EIO:
        why = "unplugged or hung up";
        break;
    case ECONNREFUSED:
        why = "connection refused: nothing listens there";
        break;
    case ETIMEDOUT:
        why = "the other end does not answer";
        break;
    default:
        break;
    }
    return rp_problem_set(&line->fault, RP_E_GONE, "port", "%.120s: %s", line->target, why);
}

int rp_line_failed(struct rp_line *line, int error)
{
    if (error == EAGAIN || error == EWOULDBLOCK || error == EINTR) {
        return RP_E_BUSY;
    }
    return rp_line_lose(line, error);
}
