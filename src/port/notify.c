#include "port/notify.h"

#include <errno.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "ridgepost/error.h"

int rp_notify(const char *state)
{
    const char *name = getenv("NOTIFY_SOCKET");
    if (name == NULL || name[0] == '\0') {
        return 0;
    }
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    size_t len = strlen(name);
    if ((name[0] != '/' && name[0] != '@') || len >= sizeof address.sun_path) {
        return RP_E_INVALID;
    }
    memcpy(address.sun_path, name, len);
    if (name[0] == '@') {
        address.sun_path[0] = '\0'; /* unix(7), "abstract" */
    }
    socklen_t address_len = (socklen_t)(offsetof(struct sockaddr_un, sun_path) + len);
    int fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (fd < 0) {
        return RP_E_IO;
    }
    ssize_t sent = sendto(fd, state, strlen(state), MSG_NOSIGNAL, (const struct sockaddr *)&address,
                          address_len);
    close(fd);
    return sent >= 0 ? 1 : RP_E_IO;
}

/* A plain decimal number of at most 18 digits, or -1. */
static int64_t number_from(const char *text)
{
    size_t len = text != NULL ? strlen(text) : 0;
    if (len < 1 || len > 18 || strspn(text, "0123456789") != len) {
        return -1;
    }
    return strtoll(text, NULL, 10);
}

rp_time_us rp_notify_watchdog_us(void)
{
    int64_t wait_us = number_from(getenv("WATCHDOG_USEC"));
    const char *pid = getenv("WATCHDOG_PID");
    if (wait_us <= 0 || (pid != NULL && number_from(pid) != (int64_t)getpid())) {
        return RP_NEVER;
    }
    return wait_us;
}
