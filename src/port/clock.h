/* Clocks. Only daemon, cli and this room read them; everything below is given the time. */
#ifndef RP_PORT_CLOCK_H
#define RP_PORT_CLOCK_H

#include <stdbool.h>
#include <stdint.h>

#include "ridgepost/view.h"

/* Microseconds since the computer started, on CLOCK_BOOTTIME: never set back, never stepped, and
 * time asleep counts (clock_gettime(2)). A treatment clock must not stand still because a laptop
 * lid was closed, which is what CLOCK_MONOTONIC would do. Not comparable between two boots. */
rp_time_us rp_clock_now_us(void);

/* Seconds of the wall clock since 1970-01-01 UTC (CLOCK_REALTIME). May step either way. */
int64_t rp_clock_unix_s(void);

/* True when the kernel says that something keeps the wall clock right: adjtimex(2) reports neither
 * TIME_ERROR nor STA_UNSYNC. False also when the call itself is not allowed (a sandbox). */
bool rp_clock_synced(void);

#endif
