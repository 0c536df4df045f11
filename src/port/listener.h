/* A Unix stream socket in the loop, for the local control protocol: lines in, bytes out.
 *
 * Bounds: RP_LISTENER_CLIENTS_MAX clients, RP_LINE_LEN_MAX bytes a line, `out_len_max` bytes
 * waiting for a client that reads slowly. While something waits for a client, no further line is
 * taken from it. Idle clients may stay for ever: they cost no wake-up. */
#ifndef RP_PORT_LISTENER_H
#define RP_PORT_LISTENER_H

#include <stdbool.h>

#include "base/problem.h"
#include "port/lines.h"
#include "port/loop.h"

#define RP_LISTENER_CLIENTS_MAX 16

struct rp_listener;

/* Names one connection; never used twice, so that a late answer cannot reach another client. */
typedef uint32_t rp_client_id;

struct rp_listener_options {
    /* NULL: the socket is for its owner only (mode 0600). Otherwise the name of the group that may
     * use it too (mode 0660). */
    const char *group;
    /* Bytes that may wait for one client before it is dropped; 0 means 1 MiB. */
    size_t out_len_max;
    /* Sent, with a newline added, before dropping a client: one too many; a line too long. NULL:
     * dropped without a word. Borrowed for the life of the listener. */
    const char *full_reply, *long_reply;
};

struct rp_listener_events {
    void *ctx;
    /* A complete line, without its newline; valid during the call. May hold any bytes. It may
     * call rp_listener_send for any client, but not rp_listener_free. */
    void (*on_line)(void *ctx, rp_client_id client, struct rp_view line);
    /* The client went, or was dropped for breaking a bound. Not called from inside, nor for
     * clients that rp_listener_send has ended. May be NULL. */
    void (*on_gone)(void *ctx, rp_client_id client);
};

/* Starts to listen at `path`. The socket a dead daemon left is replaced; while a live one answers
 * there, or holds the lock file PATH.lock, RP_E_TAKEN. RP_E_TOO_LONG (a path of 108 bytes or
 * more), RP_E_INVALID (something else than a socket is there), RP_E_NOT_FOUND (no such folder or
 * group), RP_E_PERMISSION, RP_E_IO, RP_E_MEMORY. options may be NULL. */
int rp_listener_new(struct rp_loop *loop, const char *path,
                    const struct rp_listener_options *options,
                    const struct rp_listener_events *events, struct rp_listener **out_listener,
                    struct rp_problem *out_problem);
/* Drops all clients and removes the socket file. Harmless on NULL. */
void rp_listener_free(struct rp_listener *listener);

/* Sends bytes as they are: end each message with a newline. 0 when all are sent or waiting.
 * RP_E_NOT_FOUND (that client has gone), RP_E_FULL (it reads too slowly), RP_E_GONE, RP_E_MEMORY:
 * after the last three the client has been dropped. */
int rp_listener_send(struct rp_listener *listener, rp_client_id client, struct rp_view bytes);

size_t rp_listener_client_count(const struct rp_listener *listener);

#endif
