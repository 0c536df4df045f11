/* This computer's own network addresses. */
#ifndef RP_PORT_ADDRESS_H
#define RP_PORT_ADDRESS_H

#include <stddef.h>

#define RP_ADDRESS_LEN 46 /* numeric IPv4 or IPv6 with its NUL (POSIX INET6_ADDRSTRLEN) */

/* The IPv4 address of the first interface that is up and not the loopback, as other computers reach
 * this one: "192.168.4.1". RP_E_NOT_FOUND when there is none, RP_E_IO. */
int rp_address_own(char out_text[RP_ADDRESS_LEN]);

#endif
