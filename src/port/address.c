#include "port/address.h"

#include <arpa/inet.h>
#include <ifaddrs.h>
#include <net/if.h>
#include <netinet/in.h>
#include <stdbool.h>

#include "ridgepost/error.h"

static const struct sockaddr_in *reachable(const struct ifaddrs *interface)
{
    bool up = (interface->ifa_flags & IFF_UP) != 0 && (interface->ifa_flags & IFF_LOOPBACK) == 0;
    return up && interface->ifa_addr != NULL && interface->ifa_addr->sa_family == AF_INET
               ? (const struct sockaddr_in *)(const void *)interface->ifa_addr
               : NULL;
}

int rp_address_own(char out_text[RP_ADDRESS_LEN])
{
    struct ifaddrs *all;
    int code = RP_E_NOT_FOUND;
    if (getifaddrs(&all) < 0) {
        return RP_E_IO;
    }
    for (const struct ifaddrs *at = all; at != NULL && code < 0; at = at->ifa_next) {
        const struct sockaddr_in *address = reachable(at);
        if (address != NULL &&
            inet_ntop(AF_INET, &address->sin_addr, out_text, RP_ADDRESS_LEN) != NULL) {
            code = RP_OK;
        }
    }
    freeifaddrs(all);
    return code;
}
