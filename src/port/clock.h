/* Clocks and random bytes, from the kernel. Only daemon, cli and this room ask for them; everything
 * below is given the time and a seed. */
#ifndef RP_PORT_CLOCK_H
#define RP_PORT_CLOCK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "ridgepost/view.h"

/* Microseconds since the computer started, on CLOCK_BOOTTIME: never set back, never stepped, and
 * time asleep counts (clock_gettime(2)). A treatment clock must not stand still because a laptop
 * lid was closed, which is what CLOCK_MONOTONIC would do. Not comparable between two boots. */
rp_time_us rp_clock_now_us(void);

/* A number of the computer's present run, from its boot id (random(4)), never 0; two runs have the
 * same one only by a chance of 2^-63. RP_E_IO when the kernel does not tell. */
int rp_clock_boot(int64_t *out_boot);

/* Seconds of the wall clock since 1970-01-01 UTC (CLOCK_REALTIME). May step either way. */
int64_t rp_clock_unix_s(void);

/* True when the kernel says that something keeps the wall clock right: adjtimex(2) reports neither
 * TIME_ERROR nor STA_UNSYNC. False also when the call itself is not allowed (a sandbox). */
bool rp_clock_synced(void);

/* Fills buf with len bytes of getrandom(2), fit for keys. RP_E_IO when the kernel refuses; buf is
 * then not to be used. May wait once, right after boot, until the kernel has gathered enough. */
int rp_random_bytes(void *buf, size_t len);

#endif
