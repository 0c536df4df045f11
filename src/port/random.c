#include "port/random.h"

#include <errno.h>
#include <stdint.h>
#include <sys/random.h>

#include "ridgepost/error.h"

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
