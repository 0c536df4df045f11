#define _GNU_SOURCE /* accept4 */
#include "port/listener.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "port/socket_file.h"

enum {
    BACKLOG = 16,                         /* connections the kernel keeps until we accept */
    READ_LEN = 4096,                      /* bytes per read */
    OUT_CAP_KEPT = 64 * 1024,             /* bytes an idle client may keep for its next answer */
    OUT_LEN_MAX_DEFAULT = 4 * 1024 * 1024 /* room for the longest answer: a whole incident */
};

enum client_state {
    CLIENT_FREE,
    CLIENT_OPEN,
    CLIENT_ENDING, /* takes no more lines; closed once its output is sent */
    CLIENT_LOST,   /* ended by a call made inside its own on_line: closed on the way out */
};

struct client {
    enum client_state state;
    bool inside; /* its on_line is running */
    bool at_eof; /* it has stopped sending */
    rp_client_id id;
    int fd;
    struct rp_loop_watch *watch;
    struct rp_listener *listener;
    struct rp_lines in;
    uint8_t *out;
    size_t out_start, out_len, out_cap; /* what waits is out_start..out_len */
};

struct rp_listener {
    struct rp_loop *loop;
    struct rp_listener_options options;
    struct rp_listener_events events;
    struct rp_socket_file file;
    int spare_fd; /* given up for a moment when descriptors run out, see accept_waiting */
    struct rp_loop_watch *watch;
    rp_client_id last_id;
    struct client clients[RP_LISTENER_CLIENTS_MAX];
};

/* --- clients --- */

static void release(struct client *c)
{
    rp_loop_watch_stop(c->watch);
    close(c->fd);
    rp_lines_deinit(&c->in);
    free(c->out);
    *c = (struct client){.state = CLIENT_FREE};
}

/* Ends a client that went or broke something, and says so. */
static void lose(struct client *c)
{
    struct rp_listener *listener = c->listener;
    rp_client_id id = c->id;
    release(c);
    if (listener->events.on_gone != NULL) {
        listener->events.on_gone(listener->events.ctx, id);
    }
}

/* Ends a client that the owner's own call found gone: the call says so. */
static void end_in_call(struct client *c)
{
    if (c->inside) {
        c->state = CLIENT_LOST;
    } else {
        release(c);
    }
}

static bool output_waits(const struct client *c)
{
    return c->out_start < c->out_len;
}

/* Reads only while nothing waits: that is what bounds a client that asks and never listens. */
static void rewatch(struct client *c)
{
    unsigned wanted = output_waits(c) ? RP_LOOP_WRITABLE : RP_LOOP_READABLE;
    rp_loop_watch_set(c->watch, wanted | RP_LOOP_HALF_OPEN);
}

/* Sends what the socket takes now. 0, or RP_E_GONE. */
static int flush(struct client *c)
{
    while (output_waits(c)) {
        ssize_t put = send(c->fd, c->out + c->out_start, c->out_len - c->out_start, MSG_NOSIGNAL);
        if (put < 0 && errno == EINTR) {
            continue;
        }
        if (put < 0) {
            return errno == EAGAIN || errno == EWOULDBLOCK ? 0 : RP_E_GONE;
        }
        c->out_start += (size_t)put;
    }
    c->out_start = 0;
    c->out_len = 0;
    if (c->out_cap > OUT_CAP_KEPT) {
        free(c->out);
        c->out = NULL;
        c->out_cap = 0;
    }
    return 0;
}

static int queue(struct client *c, struct rp_view bytes)
{
    if (bytes.len == 0) {
        return 0;
    }
    if (c->out_start > 0) {
        memmove(c->out, c->out + c->out_start, c->out_len - c->out_start);
        c->out_len -= c->out_start;
        c->out_start = 0;
    }
    if (bytes.len > c->listener->options.out_len_max - c->out_len) {
        return RP_E_FULL;
    }
    size_t needed = c->out_len + bytes.len;
    if (needed > c->out_cap) {
        size_t cap = needed < 1024 ? 1024 : needed * 2;
        uint8_t *out = realloc(c->out, cap);
        if (out == NULL) {
            return RP_E_MEMORY;
        }
        c->out = out;
        c->out_cap = cap;
    }
    memcpy(c->out + c->out_len, bytes.bytes, bytes.len);
    c->out_len += bytes.len;
    return 0;
}

static int send_now(struct client *c, struct rp_view bytes)
{
    int rc = queue(c, bytes);
    return rc < 0 ? rc : flush(c);
}

/* A last word, if there is one, then the end. */
static void refuse(struct client *c, const char *reply)
{
    int rc = 0;
    if (reply != NULL) {
        rc = send_now(c, (struct rp_view){(const uint8_t *)reply, strlen(reply)});
    }
    if (rc == 0 && reply != NULL) {
        rc = send_now(c, (struct rp_view){(const uint8_t *)"\n", 1});
    }
    if (rc < 0 || !output_waits(c)) {
        lose(c);
        return;
    }
    c->state = CLIENT_ENDING;
    rewatch(c);
}

/* Hands out lines until there is none, an answer waits, or the client has ended. */
static int take_lines(struct client *c)
{
    const struct rp_listener_events *events = &c->listener->events;
    int rc = 0;
    while (c->state == CLIENT_OPEN && !output_waits(c)) {
        struct rp_view line;
        rc = rp_lines_next(&c->in, &line);
        if (rc <= 0) {
            break;
        }
        c->inside = true;
        events->on_line(events->ctx, c->id, line);
        c->inside = false;
    }
    return rc < 0 ? rc : 0;
}

/* Brings a client forward after bytes moved either way. It may be gone on return. */
static void advance(struct client *c)
{
    int rc = take_lines(c);
    if (c->state == CLIENT_LOST) {
        release(c);
    } else if (rc < 0) {
        refuse(c, c->listener->options.long_reply);
    } else if (output_waits(c)) {
        rewatch(c);
    } else if (c->state == CLIENT_ENDING || c->at_eof) {
        lose(c);
    } else {
        rewatch(c);
    }
}

static void read_client(struct client *c)
{
    uint8_t buf[READ_LEN];
    ssize_t got = recv(c->fd, buf, sizeof buf, 0);
    if (got < 0 && (errno == EAGAIN || errno == EWOULDBLOCK || errno == EINTR)) {
        return;
    }
    if (got < 0) {
        lose(c);
        return;
    }
    c->at_eof = got == 0;
    int rc = rp_lines_push(&c->in, (struct rp_view){buf, (size_t)got});
    if (rc < 0) {
        refuse(c, c->listener->options.long_reply);
        return;
    }
    advance(c);
}

static void client_event(void *ctx, unsigned events)
{
    struct client *c = ctx;
    if ((events & RP_LOOP_GONE) != 0) {
        lose(c);
    } else if (output_waits(c)) {
        if (flush(c) < 0) {
            lose(c);
        } else {
            advance(c);
        }
    } else {
        read_client(c);
    }
}

/* --- accepting --- */

static void welcome(struct rp_listener *listener, int fd)
{
    struct client *c = NULL;
    for (size_t i = 0; i < RP_LISTENER_CLIENTS_MAX && c == NULL; i++) {
        c = listener->clients[i].state == CLIENT_FREE ? &listener->clients[i] : NULL;
    }
    if (c == NULL) {
        const char *reply = listener->options.full_reply;
        if (reply != NULL) {
            /* One short line fits the empty buffer of a new socket; if not, it is only a word. */
            send(fd, reply, strlen(reply), MSG_NOSIGNAL | MSG_MORE);
            send(fd, "\n", 1, MSG_NOSIGNAL);
        }
        close(fd);
        return;
    }
    struct rp_loop_watch *watch = NULL;
    if (rp_loop_watch_start(listener->loop, fd, RP_LOOP_READABLE | RP_LOOP_HALF_OPEN, client_event,
                            c, &watch) < 0) {
        close(fd);
        return;
    }
    listener->last_id++;
    *c = (struct client){.state = CLIENT_OPEN,
                         .id = listener->last_id,
                         .fd = fd,
                         .watch = watch,
                         .listener = listener};
    rp_lines_init(&c->in, RP_LINE_LEN_MAX);
}

/* Out of descriptors, the waiting connection would wake the loop without end: a spare descriptor
 * is given up to accept and close it. */
static void turn_away(struct rp_listener *listener)
{
    close(listener->spare_fd);
    int fd = accept(listener->file.fd, NULL, NULL);
    if (fd >= 0) {
        close(fd);
    }
    listener->spare_fd = open("/dev/null", O_RDONLY | O_CLOEXEC);
}

static void accept_waiting(void *ctx, unsigned events)
{
    (void)events;
    struct rp_listener *listener = ctx;
    for (int i = 0; i < BACKLOG; i++) {
        int fd = accept4(listener->file.fd, NULL, NULL, SOCK_NONBLOCK | SOCK_CLOEXEC);
        if (fd >= 0) {
            welcome(listener, fd);
        } else if (errno == EMFILE || errno == ENFILE) {
            turn_away(listener);
            return;
        } else if (errno != EINTR && errno != ECONNABORTED) {
            return;
        }
    }
}

/* --- life --- */

int rp_listener_new(struct rp_loop *loop, const char *path,
                    const struct rp_listener_options *options,
                    const struct rp_listener_events *events, struct rp_listener **out_listener,
                    struct rp_problem *out_problem)
{
    struct rp_listener *listener = calloc(1, sizeof *listener);
    if (listener == NULL) {
        return rp_problem_set(out_problem, RP_E_MEMORY, "socket", "out of memory");
    }
    listener->loop = loop;
    listener->options = options != NULL ? *options : (struct rp_listener_options){0};
    if (listener->options.out_len_max == 0) {
        listener->options.out_len_max = OUT_LEN_MAX_DEFAULT;
    }
    listener->events = *events;
    listener->spare_fd = open("/dev/null", O_RDONLY | O_CLOEXEC);
    int rc =
        rp_socket_file_open(&listener->file, path, listener->options.group, BACKLOG, out_problem);
    if (rc == 0 && rp_loop_watch_start(loop, listener->file.fd, RP_LOOP_READABLE, accept_waiting,
                                       listener, &listener->watch) < 0) {
        rc = rp_problem_set(out_problem, RP_E_MEMORY, "socket", "out of memory");
    }
    if (rc < 0) {
        rp_listener_free(listener);
        return rc;
    }
    *out_listener = listener;
    return 0;
}

void rp_listener_free(struct rp_listener *listener)
{
    if (listener == NULL) {
        return;
    }
    for (size_t i = 0; i < RP_LISTENER_CLIENTS_MAX; i++) {
        assert(!listener->clients[i].inside);
        if (listener->clients[i].state != CLIENT_FREE) {
            release(&listener->clients[i]);
        }
    }
    rp_loop_watch_stop(listener->watch);
    rp_socket_file_close(&listener->file);
    if (listener->spare_fd >= 0) {
        close(listener->spare_fd);
    }
    free(listener);
}

/* --- for the owner --- */

static struct client *find(struct rp_listener *listener, rp_client_id id)
{
    for (size_t i = 0; i < RP_LISTENER_CLIENTS_MAX; i++) {
        struct client *c = &listener->clients[i];
        if (c->state == CLIENT_OPEN && c->id == id) {
            return c;
        }
    }
    return NULL;
}

int rp_listener_send(struct rp_listener *listener, rp_client_id client, struct rp_view bytes)
{
    struct client *c = find(listener, client);
    if (c == NULL) {
        return RP_E_NOT_FOUND;
    }
    int rc = send_now(c, bytes);
    if (rc < 0) {
        end_in_call(c);
    } else if (!c->inside) {
        rewatch(c);
    }
    return rc;
}

size_t rp_listener_client_count(const struct rp_listener *listener)
{
    size_t count = 0;
    for (size_t i = 0; i < RP_LISTENER_CLIENTS_MAX; i++) {
        count += listener->clients[i].state != CLIENT_FREE;
    }
    return count;
}
