/* What the command "pair" needs of whoever serves the pages; the daemon fills it. */
#ifndef RP_CONTROL_PAGES_H
#define RP_CONTROL_PAGES_H

#include <stdint.h>

#include "base/problem.h"

/* One paired device. */
struct rp_pages_device {
    unsigned number;          /* how it is named: 1..255 */
    const char *role;         /* "bedside" */
    const char *device;       /* what the person called it; may be empty */
    int64_t paired_s, seen_s; /* unix seconds, to the hour */
};
typedef void rp_pages_visit(void *arg, const struct rp_pages_device *device);

struct rp_pages {
    void *ctx;
    const char *where; /* "http://192.168.4.1:8080/", as of the last code */
    /* Makes a code for a role; digits are valid until the next call. RP_E_INVALID (no such role),
     * RP_E_IO. */
    int (*make_code)(void *ctx, const char *role, const char **out_digits,
                     struct rp_problem *out_problem);
    void (*each_device)(void *ctx, rp_pages_visit *visit, void *arg);
    /* RP_E_NOT_FOUND. */
    int (*end_device)(void *ctx, unsigned number);
};

#endif
