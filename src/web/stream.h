/* Live events (server-sent events, HTML standard section 9.2): each says "something changed" with
 * the revision as its id, and the page asks for what it shows. So a page that was away needs no
 * history: the first event after it is back tells it all. */
#ifndef RP_WEB_STREAM_H
#define RP_WEB_STREAM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define RP_WEB_STREAM_MAX 24

struct MHD_Connection;
struct MHD_Response;
struct rp_mhd;
struct rp_web_stream;

struct rp_web_viewer {
    struct rp_web_stream *stream;
    struct MHD_Connection *mhd; /* NULL: free */
    unsigned session;           /* whose it is */
    bool ending;                /* that session is over */
    bool waits;                 /* suspended: nothing to send */
    bool pulse;                 /* a comment is due, so that a dead line is noticed */
    uint64_t sent;              /* the revision told last; 0: none */
    char text[96];              /* what is being sent */
    size_t at, len;
};

struct rp_web_stream {
    const struct rp_mhd *calls;
    uint32_t boot;
    uint64_t revision; /* 1.., grows whenever something shown may have changed */
    bool ending;
    struct rp_web_viewer viewers[RP_WEB_STREAM_MAX];
};

/* calls: borrowed for the life of the stream. boot: random, tells the ids of two runs apart. */
void rp_web_stream_init(struct rp_web_stream *stream, const struct rp_mhd *calls, uint32_t boot);
/* A reply that goes on for as long as the session; NULL when RP_WEB_STREAM_MAX are open. last_id:
 * the header of a page that comes back, or NULL. */
struct MHD_Response *rp_web_stream_reply(struct rp_web_stream *stream, struct MHD_Connection *mhd,
                                         unsigned session, const char *last_id);
/* Ends, at their next turn, those whose session `lives` no longer. */
void rp_web_stream_part(struct rp_web_stream *stream,
                        bool (*lives)(const void *ctx, unsigned session), const void *ctx);
/* Something changed. */
void rp_web_stream_wake(struct rp_web_stream *stream);
/* Sends every page a comment. */
void rp_web_stream_pulse(struct rp_web_stream *stream);
/* Ends all of them at their next turn. */
void rp_web_stream_end(struct rp_web_stream *stream);
size_t rp_web_stream_count(const struct rp_web_stream *stream);

#endif
