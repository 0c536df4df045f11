/* libmicrohttpd, loaded when pages are served and not before: with what it needs in turn it keeps
 * about 2 MB resident (measured), which a station without pages should not spend. */
#ifndef RP_WEB_MHD_H
#define RP_WEB_MHD_H

#include <microhttpd.h>

#include "base/problem.h"

/* X(member): the functions of the library that are used, without their MHD_. */
#define RP_MHD_CALLS(X)                                                                            \
    X(start_daemon)                                                                                \
    X(stop_daemon)                                                                                 \
    X(run)                                                                                         \
    X(get_timeout)                                                                                 \
    X(get_daemon_info)                                                                             \
    X(get_connection_info)                                                                         \
    X(lookup_connection_value)                                                                     \
    X(queue_response)                                                                              \
    X(destroy_response)                                                                            \
    X(add_response_header)                                                                         \
    X(create_response_from_buffer)                                                                 \
    X(create_response_from_callback)                                                               \
    X(suspend_connection)                                                                          \
    X(resume_connection)

struct rp_mhd {
    void *library; /* NULL: not loaded */
#define X(name) __typeof__(&MHD_##name) name;
    RP_MHD_CALLS(X)
#undef X
};

/* RP_E_UNSUPPORTED: the library is not installed; the problem names its package. */
int rp_mhd_load(struct rp_mhd *mhd, struct rp_problem *out_problem);
void rp_mhd_unload(struct rp_mhd *mhd);

#endif
