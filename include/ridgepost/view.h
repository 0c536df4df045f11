/* A borrowed run of bytes: never owned, never freed, valid as long as its owner says. */
#ifndef RIDGEPOST_VIEW_H
#define RIDGEPOST_VIEW_H

#include <stddef.h>
#include <stdint.h>

struct rp_view {
    const uint8_t *bytes; /* may be NULL only when len is 0 */
    size_t len;           /* in bytes */
};

/* A time or deadline of the monotonic clock, in microseconds. Library code never reads a clock:
 * every function that needs the time is given it. */
typedef int64_t rp_time_us;

/* The sooner of two times, or the shorter of two spans. */
static inline rp_time_us rp_sooner_us(rp_time_us a_us, rp_time_us b_us)
{
    return a_us < b_us ? a_us : b_us;
}

/* The later of two times, or the longer of two spans. */
static inline rp_time_us rp_later_us(rp_time_us a_us, rp_time_us b_us)
{
    return a_us > b_us ? a_us : b_us;
}

/* The deadline that does not exist. */
#define RP_NEVER INT64_MAX

/* Longest frame any part of Ridgepost handles, in bytes: the largest payload the common LoRa
 * regional limits share (see proto/PROTOCOL.md, "Frame length"). */
#define RP_FRAME_LEN_MAX 222

#endif
