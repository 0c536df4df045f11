#include "web/server.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>

#include "ridgepost/error.h"
#include "web/drawing.h"
#include "web/listen.h"
#include "web/mhd.h"

#define SECOND_US        ((rp_time_us)1000000)
#define RUNS_MAX         16          /* of the library in one turn: a crowd cannot keep it busy */
#define BODY_DISCARD_MAX 65536       /* more than this is not even read to its end */
#define POOL_LEN         (32 * 1024) /* memory of one connection: headers and buffers */

/* A connection, so that one that never ends a request can be closed. */
struct connection {
    struct MHD_Connection *mhd; /* NULL: free */
    int fd;
    bool waits; /* for us: live events, or a sheet that is being drawn */
    bool ending;
    rp_time_us since_us; /* connected, or ended its last request */
};

/* What is gathered of one request. */
struct request {
    uint8_t *body;
    size_t len, cap;
    bool too_long, no_memory;
    struct rp_web_wait wait; /* for a sheet that is being drawn */
};

struct rp_web {
    struct rp_mhd calls;
    struct MHD_Daemon *mhd;
    int fd;
    struct rp_web_site site;
    struct rp_web_stream stream;
    struct connection connections[RP_WEB_CONNECTIONS_MAX];
    struct rp_web_drawings drawings;
    rp_time_us now_us, pulse_us;
    bool closed; /* a connection ended in this run of the library */
};

/* --- connections --- */

/* It is closed when the loop sees it. */
static void end_connection(struct connection *connection)
{
    shutdown(connection->fd, SHUT_RDWR);
    connection->ending = true;
}

static bool may_end(const struct connection *connection)
{
    return connection->mhd != NULL && !connection->waits && !connection->ending &&
           connection->fd >= 0;
}

/* Behind an access point many devices share one address, so no address has a share of its own:
 * when few places are left, whoever has been without a request for longest gives way to the
 * newcomer. */
static void make_room(struct rp_web *web, const struct connection *newcomer)
{
    struct connection *oldest = NULL;
    size_t open = 0;
    for (size_t i = 0; i < RP_WEB_CONNECTIONS_MAX; i++) {
        struct connection *connection = &web->connections[i];
        open += connection->mhd != NULL && !connection->ending;
        if (connection != newcomer && may_end(connection) &&
            (oldest == NULL || connection->since_us < oldest->since_us)) {
            oldest = connection;
        }
    }
    if (open > RP_WEB_CONNECTIONS_MAX - RP_WEB_CONNECTIONS_SPARE && oldest != NULL) {
        end_connection(oldest);
    }
}

static void on_connection(void *cls, struct MHD_Connection *mhd, void **socket_context,
                          enum MHD_ConnectionNotificationCode code)
{
    struct rp_web *web = cls;
    if (code == MHD_CONNECTION_NOTIFY_CLOSED) {
        struct connection *connection = *socket_context;
        if (connection != NULL) {
            *connection = (struct connection){.mhd = NULL};
        }
        web->closed = true;
        return;
    }
    for (size_t i = 0; i < RP_WEB_CONNECTIONS_MAX; i++) {
        struct connection *connection = &web->connections[i];
        if (connection->mhd == NULL) {
            const union MHD_ConnectionInfo *info =
                web->calls.get_connection_info(mhd, MHD_CONNECTION_INFO_CONNECTION_FD);
            *connection = (struct connection){
                .mhd = mhd, .fd = info != NULL ? info->connect_fd : -1, .since_us = web->now_us};
            *socket_context = connection;
            make_room(web, connection);
            return;
        }
    }
}

static struct connection *connection_of(struct rp_web *web, struct MHD_Connection *mhd)
{
    for (size_t i = 0; i < RP_WEB_CONNECTIONS_MAX; i++) {
        if (web->connections[i].mhd == mhd) {
            return &web->connections[i];
        }
    }
    return NULL;
}

/* libmicrohttpd ends a connection that sends nothing; one that sends a byte now and then is ended
 * here. */
static void end_slow(struct rp_web *web)
{
    for (size_t i = 0; i < RP_WEB_CONNECTIONS_MAX; i++) {
        struct connection *connection = &web->connections[i];
        if (may_end(connection) &&
            web->now_us - connection->since_us >= RP_WEB_REQUEST_S * SECOND_US) {
            end_connection(connection);
        }
    }
}

/* --- one response --- */

/* No inline script or style, nothing from elsewhere, no frame (CSP level 3). */
static const char *const fixed_headers[][2] = {
    {"Content-Security-Policy",
     "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
     "manifest-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"},
    {"X-Content-Type-Options", "nosniff"},
    {"Referrer-Policy", "no-referrer"},
    {"Cross-Origin-Opener-Policy", "same-origin"},
    {"Cross-Origin-Resource-Policy", "same-origin"},
};

static void add_headers(const struct rp_web *web, struct MHD_Response *reply,
                        const struct rp_web_response *response)
{
    for (size_t i = 0; i < sizeof fixed_headers / sizeof fixed_headers[0]; i++) {
        web->calls.add_response_header(reply, fixed_headers[i][0], fixed_headers[i][1]);
    }
    web->calls.add_response_header(reply, "Cache-Control",
                                   response->keeps ? "no-cache" : "no-store");
    if (response->type != NULL) {
        web->calls.add_response_header(reply, "Content-Type", response->type);
    }
    if (response->etag != NULL) {
        web->calls.add_response_header(reply, "ETag", response->etag);
    }
    if (response->location[0] != '\0') {
        web->calls.add_response_header(reply, "Location", response->location);
    }
    if (response->file[0] != '\0') {
        char how[sizeof response->file + 32];
        snprintf(how, sizeof how, "attachment; filename=\"%s\"", response->file); /* RFC 6266 */
        web->calls.add_response_header(reply, "Content-Disposition", how);
    }
    if (response->cookie[0] != '\0') {
        web->calls.add_response_header(reply, "Set-Cookie", response->cookie);
    }
}

static struct MHD_Response *make_reply(const struct rp_web *web, struct rp_web_response *response)
{
    /* libmicrohttpd promises not to change it. */
    void *bytes = (void *)(uintptr_t)response->body.bytes;
    struct MHD_Response *reply;
    if (response->owned != NULL) {
        reply = web->calls.create_response_from_buffer(response->body.len, bytes,
                                                       MHD_RESPMEM_MUST_FREE);
        if (reply != NULL) {
            response->owned = NULL;
        }
    } else {
        reply = web->calls.create_response_from_buffer(response->body.len, bytes,
                                                       MHD_RESPMEM_PERSISTENT);
    }
    return reply;
}

static enum MHD_Result send_response(struct rp_web *web, struct MHD_Connection *mhd,
                                     struct rp_web_response *response)
{
    struct MHD_Response *reply;
    if (response->stream) {
        const char *last =
            web->calls.lookup_connection_value(mhd, MHD_HEADER_KIND, "Last-Event-ID");
        struct connection *connection = connection_of(web, mhd);
        reply = rp_web_stream_reply(&web->stream, mhd, response->session, last);
        if (reply != NULL && connection != NULL) {
            connection->waits = true;
        }
        if (reply == NULL) {
            rp_web_response_say(response, 503, "too many pages are open\n");
            reply = make_reply(web, response);
        }
    } else {
        reply = make_reply(web, response);
    }
    if (reply == NULL) {
        return MHD_NO;
    }
    add_headers(web, reply, response);
    enum MHD_Result result = web->calls.queue_response(mhd, response->status, reply);
    web->calls.destroy_response(reply);
    return result;
}

/* --- one request --- */

static const char *header(const struct rp_web *web, struct MHD_Connection *mhd, const char *name)
{
    return web->calls.lookup_connection_value(mhd, MHD_HEADER_KIND, name);
}

struct query {
    const struct rp_web *web;
    struct MHD_Connection *mhd;
};

static const char *query(const void *ctx, const char *name)
{
    const struct query *query = ctx;
    return query->web->calls.lookup_connection_value(query->mhd, MHD_GET_ARGUMENT_KIND, name);
}

static void gather(struct request *request, const char *bytes, size_t len)
{
    if (len > RP_WEB_BODY_LEN_MAX - (request->too_long ? RP_WEB_BODY_LEN_MAX : request->len)) {
        request->too_long = true;
        request->len += len;
        return;
    }
    if (request->len + len > request->cap) {
        size_t cap = request->len + len < 1024 ? 1024 : RP_WEB_BODY_LEN_MAX;
        uint8_t *body = realloc(request->body, cap);
        if (body == NULL) {
            request->no_memory = true;
            return;
        }
        request->body = body;
        request->cap = cap;
    }
    memcpy(request->body + request->len, bytes, len);
    request->len += len;
}

static enum MHD_Result answer(struct rp_web *web, struct MHD_Connection *mhd, const char *url,
                              const char *method, struct request *gathered)
{
    const struct query asked = {web, mhd};
    struct rp_web_request request = {
        .method = method,
        .path = url,
        .host = header(web, mhd, MHD_HTTP_HEADER_HOST),
        .origin = header(web, mhd, "Origin"),
        .cookie = header(web, mhd, MHD_HTTP_HEADER_COOKIE),
        .content_type = header(web, mhd, MHD_HTTP_HEADER_CONTENT_TYPE),
        .guard = header(web, mhd, "X-Ridgepost"),
        .if_none_match = header(web, mhd, MHD_HTTP_HEADER_IF_NONE_MATCH),
        .query = query,
        .query_ctx = &asked,
    };
    if (gathered->no_memory) {
        return MHD_NO;
    }
    request.body = (struct rp_view){gathered->body, gathered->len};
    struct rp_web_response response;
    rp_web_site_answer(&web->site, &request, &response);
    if (response.drawn_as != NULL &&
        rp_web_drawings_start(&web->drawings, mhd, &gathered->wait, &response)) {
        struct connection *connection = connection_of(web, mhd);
        if (connection != NULL) {
            connection->waits = true;
        }
        return MHD_YES;
    }
    enum MHD_Result result = send_response(web, mhd, &response);
    rp_web_response_free(&response);
    return result;
}

static enum MHD_Result on_request(void *cls, struct MHD_Connection *mhd, const char *url,
                                  const char *method, const char *version, const char *upload,
                                  size_t *upload_len, void **request_context)
{
    struct rp_web *web = cls;
    struct request *request = *request_context;
    (void)version;
    if (request == NULL) {
        request = calloc(1, sizeof *request);
        *request_context = request;
        return request != NULL ? MHD_YES : MHD_NO;
    }
    if (*upload_len > 0) {
        gather(request, upload, *upload_len);
        *upload_len = 0;
        return request->len > BODY_DISCARD_MAX ? MHD_NO : MHD_YES;
    }
    return request->wait.ready ? send_response(web, mhd, &request->wait.response)
                               : answer(web, mhd, url, method, request);
}

static void on_done(void *cls, struct MHD_Connection *mhd, void **request_context,
                    enum MHD_RequestTerminationCode code)
{
    struct rp_web *web = cls;
    struct request *request = *request_context;
    struct connection *connection = connection_of(web, mhd);
    (void)code;
    if (connection != NULL) {
        connection->since_us = web->now_us;
        connection->waits = false;
    }
    if (request != NULL) {
        rp_web_drawings_forget(&web->drawings, &request->wait);
        free(request->body);
        free(request);
        *request_context = NULL;
    }
}

/* --- life --- */

static int start_failure(int number, const char *listen, struct rp_problem *out_problem)
{
    switch (number) {
    case EADDRINUSE:
        return rp_problem_set(out_problem, RP_E_TAKEN, "listen",
                              "%.60s is in use by another program: choose another port (example: "
                              "127.0.0.1:8081)",
                              listen);
    case EACCES:
        return rp_problem_set(out_problem, RP_E_PERMISSION, "listen",
                              "%.60s may not be used: ports below 1024 are for root (example: "
                              "127.0.0.1:8080)",
                              listen);
    case EADDRNOTAVAIL:
        return rp_problem_set(out_problem, RP_E_NOT_FOUND, "listen",
                              "this computer does not have the address of %.60s (example: "
                              "127.0.0.1:8080)",
                              listen);
    default:
        return rp_problem_set(out_problem, RP_E_IO, "listen", "%.60s: the pages cannot be served",
                              listen);
    }
}

static int start(struct rp_web *web, const char *listen, struct rp_problem *out_problem)
{
    struct rp_web_listen at;
    int code = rp_web_listen_parse(listen, &at, out_problem);
    if (code < 0) {
        return code;
    }
    errno = 0;
    web->mhd = web->calls.start_daemon(
        MHD_USE_EPOLL | MHD_ALLOW_SUSPEND_RESUME | (at.is_v6 ? MHD_USE_IPv6 : 0), 0, NULL, NULL,
        on_request, web, MHD_OPTION_SOCK_ADDR, &at.address, MHD_OPTION_CONNECTION_LIMIT,
        (unsigned)RP_WEB_CONNECTIONS_MAX, MHD_OPTION_CONNECTION_TIMEOUT, (unsigned)RP_WEB_IDLE_S,
        MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t)POOL_LEN, MHD_OPTION_STRICT_FOR_CLIENT, 1,
        MHD_OPTION_NOTIFY_CONNECTION, on_connection, web, MHD_OPTION_NOTIFY_COMPLETED, on_done, web,
        MHD_OPTION_END);
    if (web->mhd == NULL) {
        return start_failure(errno, listen, out_problem);
    }
    const union MHD_DaemonInfo *info =
        web->calls.get_daemon_info(web->mhd, MHD_DAEMON_INFO_EPOLL_FD);
    if (info == NULL) {
        return rp_problem_set(out_problem, RP_E_IO, "listen", "no event descriptor for the pages");
    }
    web->fd = info->epoll_fd;
    return RP_OK;
}

int rp_web_check_listen(const char *listen, struct rp_problem *out_problem)
{
    struct rp_web_listen at;
    return rp_web_listen_parse(listen, &at, out_problem);
}

int rp_web_new(const struct rp_web_options *options, rp_time_us now_us, struct rp_web **out_web,
               struct rp_problem *out_problem)
{
    struct rp_web *web = calloc(1, sizeof *web);
    if (web == NULL) {
        return rp_problem_set(out_problem, RP_E_MEMORY, "listen", "out of memory");
    }
    web->now_us = now_us;
    web->pulse_us = RP_NEVER;
    web->drawings.calls = &web->calls;
    web->drawings.draw = options->draw;
    web->drawings.ctx = options->draw_ctx;
    web->site = (struct rp_web_site){.name = options->name != NULL ? options->name : "",
                                     .ctx = options->ctx,
                                     .act = options->act,
                                     .unix_s = options->unix_s,
                                     .random = options->random};
    rp_web_sessions_read(&web->site.sessions, options->saved_sessions);
    uint32_t boot;
    int code = options->random(options->ctx, &boot, sizeof boot);
    if (code < 0) {
        rp_problem_set(out_problem, code, "listen", "the kernel gives no random bytes");
    } else {
        code = rp_mhd_load(&web->calls, out_problem);
    }
    if (code == RP_OK) {
        rp_web_stream_init(&web->stream, &web->calls, boot);
        code = start(web, options->listen, out_problem);
    }
    if (code < 0) {
        rp_web_free(web);
        return code;
    }
    *out_web = web;
    return RP_OK;
}

void rp_web_free(struct rp_web *web)
{
    if (web == NULL) {
        return;
    }
    if (web->mhd != NULL) {
        /* A connection that is suspended must be taken up again before the end. */
        rp_web_stream_end(&web->stream);
        rp_web_drawings_end(&web->drawings);
        web->calls.run(web->mhd);
        web->calls.stop_daemon(web->mhd);
    }
    rp_mhd_unload(&web->calls);
    free(web);
}

int rp_web_fd(const struct rp_web *web)
{
    return web->fd;
}

static bool session_lives(const void *ctx, unsigned session)
{
    return rp_web_session_lives(ctx, session);
}

void rp_web_run(struct rp_web *web, rp_time_us now_us)
{
    web->now_us = now_us;
    end_slow(web);
    rp_web_stream_part(&web->stream, session_lives, &web->site.sessions);
    if (now_us >= web->pulse_us) {
        rp_web_stream_pulse(&web->stream);
        web->pulse_us = now_us + RP_WEB_PULSE_S * SECOND_US;
    }
    /* After a run that ended connections the library listens again only when it is run anew. */
    int runs = 0;
    do {
        web->closed = false;
        web->calls.run(web->mhd);
    } while (web->closed && ++runs < RUNS_MAX);
    size_t viewers = rp_web_stream_count(&web->stream);
    if (viewers == 0) {
        web->pulse_us = RP_NEVER;
    } else if (web->pulse_us == RP_NEVER) {
        web->pulse_us = now_us + RP_WEB_PULSE_S * SECOND_US;
    }
}

rp_time_us rp_web_wake(struct rp_web *web, rp_time_us now_us)
{
    MHD_UNSIGNED_LONG_LONG wait_ms;
    rp_time_us wake_us = web->pulse_us;
    for (size_t i = 0; i < RP_WEB_CONNECTIONS_MAX; i++) {
        const struct connection *connection = &web->connections[i];
        rp_time_us end_us = connection->since_us + RP_WEB_REQUEST_S * SECOND_US;
        if (may_end(connection) && end_us < wake_us) {
            wake_us = end_us;
        }
    }
    if (web->calls.get_timeout(web->mhd, &wait_ms) == MHD_YES) {
        rp_time_us at_us = now_us + (rp_time_us)wait_ms * 1000;
        wake_us = at_us < wake_us ? at_us : wake_us;
    }
    return wake_us;
}

void rp_web_changed(struct rp_web *web, rp_time_us now_us)
{
    rp_web_stream_wake(&web->stream);
    if (rp_web_stream_count(&web->stream) > 0) {
        rp_web_run(web, now_us);
    }
}

struct rp_web_sessions *rp_web_sessions(struct rp_web *web)
{
    return &web->site.sessions;
}

void rp_web_drawn(struct rp_web *web, size_t place, int code, struct rp_view bytes)
{
    rp_web_drawings_done(&web->drawings, place, code, bytes);
}

int rp_web_session_stop(struct rp_web *web, unsigned number, rp_time_us now_us)
{
    int code = rp_web_session_end(&web->site.sessions, number);
    if (code == RP_OK) {
        rp_web_run(web, now_us);
    }
    return code;
}

int rp_web_make_code(struct rp_web *web, enum rp_web_role role, const char **out_digits)
{
    uint8_t random[8];
    int code = web->site.random(web->site.ctx, random, sizeof random);
    if (code < 0) {
        return code;
    }
    rp_web_code_make(&web->site.sessions, role, web->site.unix_s(web->site.ctx),
                     (struct rp_view){random, sizeof random});
    *out_digits = web->site.sessions.code.digits;
    return RP_OK;
}

size_t rp_web_viewer_count(const struct rp_web *web)
{
    return rp_web_stream_count(&web->stream);
}
