/* Sheets that another program draws while their connections rest: which request waits for which. */
#ifndef RP_WEB_DRAWING_H
#define RP_WEB_DRAWING_H

#include "web/site.h"

#define RP_WEB_DRAWINGS_MAX 2 /* at once */

struct MHD_Connection;
struct rp_mhd;

/* A request that waits, and what it gets. */
struct rp_web_wait {
    bool ready;
    struct rp_web_response response;
};

struct rp_web_drawings {
    const struct rp_mhd *calls; /* borrowed */
    /* See rp_web_options (server.h). */
    int (*draw)(void *ctx, size_t place, const char *form, struct rp_view rows);
    void *ctx;
    struct {
        bool busy;
        struct MHD_Connection *mhd;
        struct rp_web_wait *wait; /* NULL: nobody waits any more */
    } at[RP_WEB_DRAWINGS_MAX];
};

/* Starts to draw the rows of `response`, lets the connection rest, and moves the response to
 * `wait`: true. Else false, and the response says why not. */
bool rp_web_drawings_start(struct rp_web_drawings *drawings, struct MHD_Connection *mhd,
                           struct rp_web_wait *wait, struct rp_web_response *response);
/* A drawing has ended, see rp_web_drawn (server.h): its connection goes on. */
void rp_web_drawings_done(struct rp_web_drawings *drawings, size_t place, int code,
                          struct rp_view bytes);
/* The request of `wait` ends, drawn or not: frees what is in it. */
void rp_web_drawings_forget(struct rp_web_drawings *drawings, struct rp_web_wait *wait);
/* All connections go on, with a sentence. */
void rp_web_drawings_end(struct rp_web_drawings *drawings);

#endif
