#include "port/clock.h"

#include <assert.h>
#include <errno.h>
#include <stdio.h>
#include <string.h>
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

int rp_clock_boot(int64_t *out_boot)
{
    char digits[37] = ""; /* 8-4-4-4-12 hexadecimal digits */
    FILE *file = fopen("/proc/sys/kernel/random/boot_id", "re");
    bool got = file != NULL && fgets(digits, sizeof digits, file) != NULL;
    if (file != NULL) {
        fclose(file);
    }
    unsigned long high, low;
    if (!got || sscanf(digits, "%8lx-%*4x-%*4x-%*4x-%*4x%8lx", &high, &low) != 2) {
        return RP_E_IO;
    }
    uint64_t number = ((uint64_t)high << 32 | low) & INT64_MAX;
    *out_boot = number != 0 ? (int64_t)number : 1;
    return 0;
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
