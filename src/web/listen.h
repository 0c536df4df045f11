/* "127.0.0.1:8080", "[::1]:8080": where the pages are served. */
#ifndef RP_WEB_LISTEN_H
#define RP_WEB_LISTEN_H

#include <netinet/in.h>
#include <stdbool.h>

#include "base/problem.h"

struct rp_web_listen {
    union {
        struct sockaddr any;
        struct sockaddr_in v4;
        struct sockaddr_in6 v6;
    } address;
    bool is_v6;
};

/* A numeric address and a port, 1..65535. RP_E_FORMAT with an example. */
int rp_web_listen_parse(const char *text, struct rp_web_listen *out_listen,
                        struct rp_problem *out_problem);

#endif
