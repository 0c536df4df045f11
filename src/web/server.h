/* The pages over HTTP, by libmicrohttpd in the caller's own loop: one thread, one descriptor to
 * watch, one deadline.
 *
 * Bounds: RP_WEB_CONNECTIONS_MAX connections, the last RP_WEB_CONNECTIONS_SPARE of which are kept
 * free by ending the one that has been without a request for longest; RP_WEB_BODY_LEN_MAX bytes of
 * body, 16 KiB of headers, RP_WEB_IDLE_S without a byte and RP_WEB_REQUEST_S without a whole
 * request; RP_WEB_VIEWERS_MAX pages with live events; RP_WEB_DRAWINGS_MAX sheets being drawn. What
 * is over a bound is refused; recording goes on. */
#ifndef RP_WEB_SERVER_H
#define RP_WEB_SERVER_H

#include "web/drawing.h"
#include "web/site.h"
#include "web/stream.h"

#define RP_WEB_CONNECTIONS_MAX   96
#define RP_WEB_CONNECTIONS_SPARE 8
#define RP_WEB_VIEWERS_MAX       RP_WEB_STREAM_MAX
#define RP_WEB_IDLE_S            20
#define RP_WEB_REQUEST_S         30
#define RP_WEB_PULSE_S           15 /* a live page hears something at least so often */

struct rp_web;

struct rp_web_options {
    const char *listen; /* "127.0.0.1:8080", "[::1]:8080", "0.0.0.0:8080" */
    const char *name;   /* host name answered besides numbers and localhost; NULL: none */
    struct rp_view saved_sessions; /* as rp_web_sessions_write made them; empty: none */
    void *ctx;                     /* of the functions, see site.h */
    char *(*act)(void *ctx, struct rp_view line);
    int64_t (*unix_s)(void *ctx);
    int (*random)(void *ctx, void *buf, size_t len);
    /* Starts to draw the form "rows" as `form` ("pdf", "png", "screen"), in the background; rp_web_drawn must
     * follow, later and once, with the same place (0..RP_WEB_DRAWINGS_MAX - 1). NULL, or
     * RP_E_NOT_FOUND: no program for it; any other error: it cannot now. rows: for the call. */
    int (*draw)(void *draw_ctx, size_t place, const char *form, struct rp_view rows);
    void *draw_ctx;
};

/* Whether `listen` is an address and port: RP_E_FORMAT with an example, else 0. Opens nothing. */
int rp_web_check_listen(const char *listen, struct rp_problem *out_problem);

/* Starts to listen. RP_E_FORMAT (listen), RP_E_TAKEN (another program has the port),
 * RP_E_PERMISSION, RP_E_NOT_FOUND (no such address here), RP_E_IO, RP_E_MEMORY. */
int rp_web_new(const struct rp_web_options *options, rp_time_us now_us, struct rp_web **out_web,
               struct rp_problem *out_problem);
/* Ends all connections. Harmless on NULL. */
void rp_web_free(struct rp_web *web);

/* The descriptor to watch for reading. */
int rp_web_fd(const struct rp_web *web);
/* To be called when it is readable and when the deadline has passed. */
void rp_web_run(struct rp_web *web, rp_time_us now_us);
/* When rp_web_run must be called if nothing happens; RP_NEVER when nobody is connected. */
rp_time_us rp_web_wake(struct rp_web *web, rp_time_us now_us);
/* Something shown may have changed: tells the live pages. Cheap when there are none. */
void rp_web_changed(struct rp_web *web, rp_time_us now_us);

/* The end of a drawing: the bytes (copied), or RP_E_TIMEOUT, RP_E_TOO_LONG, any other error. */
void rp_web_drawn(struct rp_web *web, size_t place, int code, struct rp_view bytes);

/* Ends a session by its number, and its live events with it; RP_E_NOT_FOUND. */
int rp_web_session_stop(struct rp_web *web, unsigned number, rp_time_us now_us);

/* The sessions, for pairing and listing; when sessions->changed the owner saves and clears it. */
struct rp_web_sessions *rp_web_sessions(struct rp_web *web);
/* Makes a pairing code; RP_E_IO when the kernel gives no random bytes. */
int rp_web_make_code(struct rp_web *web, enum rp_web_role role, const char **out_digits);
size_t rp_web_viewer_count(const struct rp_web *web);

#endif
