#include "port/clock.h"

#include <assert.h>
#include <errno.h>
#include <sys/random.h>
#include <sys/timex.h>
#include <time.h>

#include "ridgepost/error.h"

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

int rp_random_bytes(void *buf, size_t len)
{
    uint8_t *bytes = buf;
    size_t done = 0;
    while (done < len) {
        ssize_t got = getrandom(bytes + done, len - done, 0);
        if (got < 0 && errno != EINTR) {
            return RP_E_IO;
        }
        done += got > 0 ? (size_t)got : 0;
    }
    return 0;
}
