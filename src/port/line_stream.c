/* Lines that are plain byte streams: pseudo-terminals and TCP connections. */
#include "port/line_backend.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

/* --- pseudo-terminals --- */

static int pty_open(struct rp_line *line, const struct rp_line_options *options,
                    struct rp_problem *out_problem)
{
    (void)options; /* pseudo-terminals have no modem control lines */
    int rc = rp_tty_check_baud(line->baud, out_problem);
    if (rc < 0) {
        return rc;
    }
    rc = rp_tty_open(line->target, line->device, &line->fd, out_problem);
    if (rc < 0) {
        return rc;
    }
    rc = rp_tty_lock(line->target, line->device, line->fd, out_problem);
    if (rc == 0) {
        rc = rp_tty_set_raw(line->target, line->fd, line->baud, out_problem);
    }
    if (rc < 0) {
        close(line->fd);
    }
    return rc;
}

static int pty_read(struct rp_line *line, uint8_t *buf, size_t cap)
{
    ssize_t got = read(line->fd, buf, cap);
    if (got > 0) {
        return (int)got;
    }
    return got == 0 ? rp_line_lose(line, 0) : rp_line_failed(line, errno);
}

static int pty_write(struct rp_line *line, const uint8_t *bytes, size_t len)
{
    ssize_t put = write(line->fd, bytes, len);
    if (put > 0) {
        return (int)put;
    }
    return put == 0 ? RP_E_BUSY : rp_line_failed(line, errno);
}

static void stream_close(struct rp_line *line)
{
    close(line->fd);
}

const struct rp_line_backend rp_line_pty = {
    .open = pty_open,
    .read = pty_read,
    .write = pty_write,
    .close = stream_close,
};

/* --- TCP --- */

struct address {
    union {
        struct sockaddr any;
        struct sockaddr_in v4;
        struct sockaddr_in6 v6;
    } to;
    socklen_t len;
};

static int bad_target(const char *target, struct rp_problem *out_problem)
{
    return rp_problem_set(out_problem, RP_E_INVALID, "port",
                          "'%.60s' is not tcp:HOST:PORT with a numeric HOST and PORT 1-65535, such "
                          "as tcp:127.0.0.1:8001 or tcp:[::1]:8001",
                          target);
}

/* Digits only, 1..65535. */
static bool parse_port(const char *text, uint16_t *out_port)
{
    size_t len = strlen(text);
    if (len < 1 || len > 5 || strspn(text, "0123456789") != len) {
        return false;
    }
    long value = strtol(text, NULL, 10);
    if (value < 1 || value > 65535) {
        return false;
    }
    *out_port = (uint16_t)value;
    return true;
}

/* Host names are refused: looking one up can hang the only thread for many seconds. */
static bool parse_address(const char *host, uint16_t port, struct address *out_address)
{
    struct address a;
    memset(&a, 0, sizeof a);
    if (strcmp(host, "localhost") == 0) {
        host = "127.0.0.1";
    }
    if (inet_pton(AF_INET, host, &a.to.v4.sin_addr) == 1) {
        a.to.v4.sin_family = AF_INET;
        a.to.v4.sin_port = htons(port);
        a.len = sizeof a.to.v4;
    } else if (inet_pton(AF_INET6, host, &a.to.v6.sin6_addr) == 1) {
        a.to.v6.sin6_family = AF_INET6;
        a.to.v6.sin6_port = htons(port);
        a.len = sizeof a.to.v6;
    } else {
        return false;
    }
    *out_address = a;
    return true;
}

static int parse_target(const char *target, struct address *out_address,
                        struct rp_problem *out_problem)
{
    char host[RP_LINE_TARGET_CAP];
    strcpy(host, target + strlen("tcp:"));
    char *colon = strrchr(host, ':');
    uint16_t port = 0;
    if (colon == NULL || !parse_port(colon + 1, &port)) {
        return bad_target(target, out_problem);
    }
    *colon = '\0';
    char *start = host;
    size_t len = strlen(host);
    if (len >= 2 && host[0] == '[' && host[len - 1] == ']') {
        host[len - 1] = '\0';
        start++;
    }
    return parse_address(start, port, out_address) ? 0 : bad_target(target, out_problem);
}

/* Small writes leave at once, and a dead peer is noticed within half a minute, by the kernel. */
static void set_tcp_options(int fd)
{
    static const struct {
        int level, name, value;
    } options[] = {
        {IPPROTO_TCP, TCP_NODELAY, 1},
        {SOL_SOCKET, SO_KEEPALIVE, 1},
        {IPPROTO_TCP, TCP_KEEPIDLE, 15},            /* seconds */
        {IPPROTO_TCP, TCP_KEEPINTVL, 5},            /* seconds */
        {IPPROTO_TCP, TCP_KEEPCNT, 3},              /* probes */
        {IPPROTO_TCP, TCP_USER_TIMEOUT, 30 * 1000}, /* milliseconds */
        {IPPROTO_TCP, TCP_SYNCNT, 3},               /* repeats: gives up after about 15 s */
    };
    for (size_t i = 0; i < sizeof options / sizeof options[0]; i++) {
        /* Without one of these the line still works: a failure is no reason to do without it. */
        setsockopt(fd, options[i].level, options[i].name, &options[i].value,
                   sizeof options[i].value);
    }
}

int rp_tcp_check(const char *target, struct rp_problem *out_problem)
{
    struct address address;
    return parse_target(target, &address, out_problem);
}

static int tcp_open(struct rp_line *line, const struct rp_line_options *options,
                    struct rp_problem *out_problem)
{
    (void)options;
    struct address address;
    int rc = parse_target(line->target, &address, out_problem);
    if (rc < 0) {
        return rc;
    }
    int fd = socket(address.to.any.sa_family, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (fd < 0) {
        return rp_tty_open_failed(line->target, line->target, errno, out_problem);
    }
    set_tcp_options(fd);
    if (connect(fd, &address.to.any, address.len) != 0 && errno != EINPROGRESS) {
        rp_line_lose(line, errno);
        close(fd);
        return rp_problem_set(out_problem, RP_E_GONE, "port", "%s", line->fault.text);
    }
    line->fd = fd;
    return 0;
}

static int tcp_ready(struct rp_line *line)
{
    int error = 0;
    socklen_t len = sizeof error;
    if (getsockopt(line->fd, SOL_SOCKET, SO_ERROR, &error, &len) != 0) {
        error = errno;
    }
    if (error != 0) {
        return rp_line_lose(line, error);
    }
    struct tcp_info info;
    len = sizeof info;
    if (getsockopt(line->fd, IPPROTO_TCP, TCP_INFO, &info, &len) != 0) {
        return rp_line_lose(line, errno);
    }
    return info.tcpi_state == TCP_SYN_SENT ? RP_E_BUSY : 0;
}

static int tcp_read(struct rp_line *line, uint8_t *buf, size_t cap)
{
    ssize_t got = recv(line->fd, buf, cap, 0);
    if (got > 0) {
        return (int)got;
    }
    return got == 0 ? rp_line_lose(line, 0) : rp_line_failed(line, errno);
}

static int tcp_write(struct rp_line *line, const uint8_t *bytes, size_t len)
{
    ssize_t put = send(line->fd, bytes, len, MSG_NOSIGNAL);
    if (put > 0) {
        return (int)put;
    }
    return put == 0 ? RP_E_BUSY : rp_line_failed(line, errno);
}

const struct rp_line_backend rp_line_tcp = {
    .open = tcp_open,
    .ready = tcp_ready,
    .read = tcp_read,
    .write = tcp_write,
    .close = stream_close,
};
