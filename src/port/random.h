/* Random bytes fit for keys, from the kernel. */
#ifndef RP_PORT_RANDOM_H
#define RP_PORT_RANDOM_H

#include <stddef.h>

/* Fills buf with len bytes of getrandom(2). RP_E_IO when the kernel refuses; buf is then not to be
 * used. May wait once, right after boot, until the kernel has gathered enough. */
int rp_random_bytes(void *buf, size_t len);

#endif
