#include "port/clock.h"

#include <assert.h>
#include <sys/timex.h>
#include <time.h>

rp_time_us rp_clock_now_us(void)
{
    struct timespec now;
    int rc = clock_gettime(CLOCK_BOOTTIME, &now);
    assert(rc == 0);
    return (rp_time_us)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

int64_t rp_clock_unix_s(void)
{
    struct timespec now;
    int rc = clock_gettime(CLOCK_REALTIME, &now);
    assert(rc == 0);
    return (int64_t)now.tv_sec;
}

bool rp_clock_synced(void)
{
    struct timex request = {.modes = 0}; /* only reads */
    int state = adjtimex(&request);
    return state >= 0 && state != TIME_ERROR && (request.status & STA_UNSYNC) == 0;
}
