/* The site: one request in, one response out. No socket here: the server (server.h) brings the
 * requests, tests and the fuzzer bring their own.
 *
 * What is recorded and shown goes through the control protocol, handed in as a function, so that
 * the pages can do nothing that the command line cannot. */
#ifndef RP_WEB_SITE_H
#define RP_WEB_SITE_H

#include "web/session.h"

#define RP_WEB_BODY_LEN_MAX 16384 /* longest request body, bytes: the longest note with room */

struct rp_web_request {
    const char *method, *path; /* path without query */
    /* Headers; NULL when absent. guard is X-Ridgepost, which a foreign page cannot send. */
    const char *host, *origin, *cookie, *content_type, *guard, *if_none_match;
    struct rp_view body;
    /* A parameter of the query, decoded, or NULL. */
    const char *(*query)(const void *ctx, const char *name);
    const void *query_ctx;
};

struct rp_web_response {
    unsigned status;     /* HTTP status (RFC 9110) */
    const char *type;    /* media type, or NULL: no body */
    struct rp_view body; /* valid until rp_web_response_free */
    char *owned;         /* what body points into, or NULL: borrowed for ever */
    const char *etag;    /* quoted, or NULL */
    bool keeps;          /* may be kept by the browser and asked for again by its ETag */
    bool stream;         /* no body yet: the live events follow */
    unsigned session;    /* number of the device's session; 0: none */
    /* "pdf", "png", "screen": the body is the form "rows", to be drawn so and then sent as `type`; or NULL */
    const char *drawn_as;
    char location[32]; /* of a redirection, or empty */
    char cookie[160];  /* a Set-Cookie value, or empty */
    char file[64];     /* to be saved under this name, or empty */
};

struct rp_web_site {
    struct rp_web_sessions sessions;
    const char *name; /* a host name answered besides numbers and localhost (a port after it counts
                         not), or "" */
    void *ctx;        /* of the functions below */
    /* A control request (src/control/control.h) and its reply, to be freed; NULL: no memory. */
    char *(*act)(void *ctx, struct rp_view line);
    int64_t (*unix_s)(void *ctx);
    int (*random)(void *ctx, void *buf, size_t len); /* 0, or negative: no random bytes */
};

/* Never fails: whatever is wrong with the request has a response that says so. */
void rp_web_site_answer(struct rp_web_site *site, const struct rp_web_request *request,
                        struct rp_web_response *out_response);
/* Makes it a plain sentence instead of what it was. sentence: borrowed for ever. */
void rp_web_response_say(struct rp_web_response *response, unsigned status, const char *sentence);
void rp_web_response_free(struct rp_web_response *response);

/* Whether a role may send a command ("obs", "answer", ...). A command nobody has listed is
 * refused to all. */
bool rp_web_may(enum rp_web_role role, const char *command);

#endif
