#include "port/client.h"

#include <errno.h>
#include <grp.h>
#include <poll.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "port/clock.h"

/* The group that may use the socket, when the folder lets us see it. */
static bool socket_group(const char *path, char *buf, size_t cap)
{
    struct stat st;
    struct group group, *found = NULL;
    char space[4096];
    if (stat(path, &st) != 0 || (st.st_mode & S_IWGRP) == 0 ||
        getgrgid_r(st.st_gid, &group, space, sizeof space, &found) != 0 || found == NULL) {
        return false;
    }
    snprintf(buf, cap, "%s", found->gr_name);
    return true;
}

static int open_failed(const char *path, int error, struct rp_problem *out_problem)
{
    char group[32];
    switch (error) {
    case ENOENT:
    case ENOTDIR:
    case ECONNREFUSED:
        return rp_problem_set(out_problem, RP_E_NOT_FOUND, "socket",
                              "the daemon is not running: nothing answers at %.120s", path);
    case EACCES:
    case EPERM:
        if (socket_group(path, group, sizeof group)) {
            return rp_problem_set(out_problem, RP_E_PERMISSION, "socket",
                                  "no permission to use %.80s: the user must be in the group %s",
                                  path, group);
        }
        return rp_problem_set(out_problem, RP_E_PERMISSION, "socket",
                              "no permission to use %.80s: only its owner may, or root", path);
    case EAGAIN:
        return rp_problem_set(out_problem, RP_E_BUSY, "socket",
                              "the daemon at %.120s is too busy to answer: try again", path);
    default:
        return rp_problem_set(out_problem, RP_E_IO, "socket", "%.120s: %s", path, strerror(error));
    }
}

int rp_client_open(struct rp_client *client, const char *path, struct rp_problem *out_problem)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    if (strlen(path) >= sizeof address.sun_path) {
        return rp_problem_set(out_problem, RP_E_TOO_LONG, "socket",
                              "the path of the socket must have at most 107 bytes");
    }
    strcpy(address.sun_path, path);
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (fd < 0) {
        return open_failed(path, errno, out_problem);
    }
    if (connect(fd, (const struct sockaddr *)&address, sizeof address) != 0) {
        int error = errno;
        close(fd);
        return open_failed(path, error, out_problem);
    }
    client->fd = fd;
    rp_lines_init(&client->in, RP_CLIENT_REPLY_LEN_MAX);
    return 0;
}

void rp_client_close(struct rp_client *client)
{
    close(client->fd);
    rp_lines_deinit(&client->in);
    client->fd = -1;
}

static rp_time_us deadline_in(int timeout_ms)
{
    return timeout_ms < 0 ? RP_NEVER : rp_clock_now_us() + (rp_time_us)timeout_ms * 1000;
}

/* Waits for the socket. 0 when it is worth trying, or RP_E_TIMEOUT. */
static int wait_for(int fd, short events, rp_time_us deadline_us, struct rp_problem *out_problem)
{
    for (;;) {
        int left_ms = -1;
        if (deadline_us != RP_NEVER) {
            rp_time_us left_us = deadline_us - rp_clock_now_us();
            left_ms = left_us > 0 ? (int)((left_us + 999) / 1000) : 0;
        }
        struct pollfd p = {.fd = fd, .events = events};
        int rc = poll(&p, 1, left_ms);
        if (rc > 0) {
            return 0;
        }
        if (rc == 0 || errno != EINTR) {
            return rp_problem_set(out_problem, RP_E_TIMEOUT, "socket",
                                  "the daemon did not answer in time");
        }
    }
}

/* 0 when all is sent or the daemon has closed; then it may still have said why. */
static int send_all(struct rp_client *client, struct rp_view bytes, rp_time_us deadline_us,
                    struct rp_problem *out_problem)
{
    size_t done = 0;
    while (done < bytes.len) {
        ssize_t put = send(client->fd, bytes.bytes + done, bytes.len - done, MSG_NOSIGNAL);
        if (put >= 0) {
            done += (size_t)put;
        } else if (errno == EPIPE || errno == ECONNRESET) {
            return 0;
        } else if (errno != EAGAIN && errno != EINTR) {
            return rp_problem_set(out_problem, RP_E_IO, "socket", "sending failed: %s",
                                  strerror(errno));
        } else {
            int rc = wait_for(client->fd, POLLOUT, deadline_us, out_problem);
            if (rc < 0) {
                return rc;
            }
        }
    }
    return 0;
}

int rp_client_send(struct rp_client *client, struct rp_view line, int timeout_ms,
                   struct rp_problem *out_problem)
{
    if (line.len > RP_LINE_LEN_MAX) {
        return rp_problem_set(out_problem, RP_E_TOO_LONG, "request",
                              "the request has %zu bytes; at most %d fit", line.len,
                              RP_LINE_LEN_MAX);
    }
    if (line.len > 0 && memchr(line.bytes, '\n', line.len) != NULL) {
        return rp_problem_set(out_problem, RP_E_INVALID, "request",
                              "the request holds a line break");
    }
    rp_time_us deadline_us = deadline_in(timeout_ms);
    int rc = send_all(client, line, deadline_us, out_problem);
    if (rc < 0) {
        return rc;
    }
    return send_all(client, (struct rp_view){(const uint8_t *)"\n", 1}, deadline_us, out_problem);
}

/* Adds what the daemon sent. 1 when something came, RP_E_GONE at the end. */
static int receive_some(struct rp_client *client, struct rp_problem *out_problem)
{
    uint8_t buf[8192];
    ssize_t got = recv(client->fd, buf, sizeof buf, 0);
    if (got < 0 && (errno == EAGAIN || errno == EINTR)) {
        return 1;
    }
    if (got <= 0) {
        return rp_problem_set(out_problem, RP_E_GONE, "socket",
                              "the daemon closed the connection without an answer");
    }
    int rc = rp_lines_push(&client->in, (struct rp_view){buf, (size_t)got});
    if (rc < 0) {
        return rp_problem_set(out_problem, rc, "socket", "the daemon's answer is %s",
                              rc == RP_E_TOO_LONG ? "too long" : "too large for memory");
    }
    return 1;
}

int rp_client_next(struct rp_client *client, int timeout_ms, struct rp_view *out_line,
                   struct rp_problem *out_problem)
{
    rp_time_us deadline_us = deadline_in(timeout_ms);
    for (;;) {
        int rc = rp_lines_next(&client->in, out_line);
        if (rc == 1) {
            return 0;
        }
        if (rc < 0) {
            return rp_problem_set(out_problem, rc, "socket", "the daemon's answer is too long");
        }
        rc = wait_for(client->fd, POLLIN, deadline_us, out_problem);
        if (rc == 0) {
            rc = receive_some(client, out_problem);
        }
        if (rc < 0) {
            return rc;
        }
    }
}

int rp_client_call(const char *path, struct rp_view request, int timeout_ms,
                   int (*on_reply)(void *ctx, struct rp_view reply), void *ctx,
                   struct rp_problem *out_problem)
{
    struct rp_client client;
    int rc = rp_client_open(&client, path, out_problem);
    if (rc < 0) {
        return rc;
    }
    struct rp_view reply;
    rc = rp_client_send(&client, request, timeout_ms, out_problem);
    if (rc == 0) {
        rc = rp_client_next(&client, timeout_ms, &reply, out_problem);
    }
    if (rc == 0) {
        rc = on_reply(ctx, reply);
    }
    rp_client_close(&client);
    return rc;
}
