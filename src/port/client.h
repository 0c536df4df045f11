/* The other end of the listener, for the command line: connect, send a line, wait for the answer.
 * Blocking, with a bound on every wait. */
#ifndef RP_PORT_CLIENT_H
#define RP_PORT_CLIENT_H

#include "base/problem.h"
#include "port/lines.h"

/* Longest answer in bytes, without its newline: what the listener lets wait for one client. */
#define RP_CLIENT_REPLY_LEN_MAX (4 * 1024 * 1024)

/* The fields belong to src/port. */
struct rp_client {
    int fd;
    struct rp_lines in;
};

/* Connects to the daemon at `path`. RP_E_NOT_FOUND (it is not running), RP_E_PERMISSION,
 * RP_E_TOO_LONG, RP_E_BUSY (too many connections waiting), RP_E_IO; *out_problem tells the user
 * what to do. */
int rp_client_open(struct rp_client *client, const char *path, struct rp_problem *out_problem);

/* Sends one line; the newline is added. The line must hold none (RP_E_INVALID) and have at most
 * RP_LINE_LEN_MAX bytes (RP_E_TOO_LONG). RP_E_TIMEOUT after timeout_ms; a daemon that closes
 * early is no error here: its last word is to be read. */
int rp_client_send(struct rp_client *client, struct rp_view line, int timeout_ms,
                   struct rp_problem *out_problem);

/* The next line from the daemon, valid until the next call. timeout_ms < 0 waits for ever.
 * RP_E_TIMEOUT, RP_E_GONE (closed without a further line), RP_E_TOO_LONG, RP_E_MEMORY. */
int rp_client_next(struct rp_client *client, int timeout_ms, struct rp_view *out_line,
                   struct rp_problem *out_problem);

void rp_client_close(struct rp_client *client);

/* One request, one answer: all of the above, timeout_ms (>= 0) for each step. on_reply gets the
 * answer without its newline, valid during the call; what it returns is returned. Errors as
 * above. */
int rp_client_call(const char *path, struct rp_view request, int timeout_ms,
                   int (*on_reply)(void *ctx, struct rp_view reply), void *ctx,
                   struct rp_problem *out_problem);

#endif
