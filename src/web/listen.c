#include "web/listen.h"

#include <arpa/inet.h>
#include <string.h>

#include "ridgepost/error.h"

static int malformed(const char *text, struct rp_problem *out_problem)
{
    return rp_problem_set(out_problem, RP_E_FORMAT, "listen",
                          "\"%.60s\" is not a numeric address and a port from 1 to 65535 "
                          "(example: 127.0.0.1:8080, or [::1]:8080)",
                          text);
}

static long read_port(const char *digits)
{
    long port = 0;
    size_t len = strlen(digits);
    if (len < 1 || len > 5 || strspn(digits, "0123456789") != len) {
        return -1;
    }
    for (; *digits != '\0'; digits++) {
        port = port * 10 + (*digits - '0');
    }
    return port >= 1 && port <= 65535 ? port : -1;
}

int rp_web_listen_parse(const char *text, struct rp_web_listen *out_listen,
                        struct rp_problem *out_problem)
{
    char host[INET6_ADDRSTRLEN] = "";
    struct rp_web_listen listen;
    memset(&listen, 0, sizeof listen);
    const char *colon = strrchr(text, ':');
    long port = colon != NULL ? read_port(colon + 1) : -1;
    if (port < 0) {
        return malformed(text, out_problem);
    }
    listen.is_v6 = text[0] == '[' && colon > text && colon[-1] == ']';
    const char *from = listen.is_v6 ? text + 1 : text;
    size_t len = (size_t)((listen.is_v6 ? colon - 1 : colon) - from);
    if (len == 0 || len >= sizeof host) {
        return malformed(text, out_problem);
    }
    memcpy(host, from, len);
    int good;
    if (listen.is_v6) {
        listen.address.v6.sin6_family = AF_INET6;
        listen.address.v6.sin6_port = htons((uint16_t)port);
        good = inet_pton(AF_INET6, host, &listen.address.v6.sin6_addr);
    } else {
        listen.address.v4.sin_family = AF_INET;
        listen.address.v4.sin_port = htons((uint16_t)port);
        good = inet_pton(AF_INET, host, &listen.address.v4.sin_addr);
    }
    if (good != 1) {
        return malformed(text, out_problem);
    }
    *out_listen = listen;
    return RP_OK;
}
