#define _GNU_SOURCE /* RTLD_NEXT */
#include "modem_shim.h"

#include <dirent.h>
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <linux/gpio.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

struct modem_shim modem_shim;

/* The function of that name which would have been called without us. POSIX lets dlsym's result be
 * used as a function; C has no cast for it, hence the copy. */
#define REAL(type, name)                                                                           \
    type real_##name = NULL;                                                                       \
    {                                                                                              \
        void *found = dlsym(RTLD_NEXT, #name);                                                     \
        memcpy(&real_##name, &found, sizeof found);                                                \
    }

typedef int (*open_fn)(const char *, int, ...);
typedef FILE *(*fopen_fn)(const char *, const char *);
typedef ssize_t (*readlink_fn)(const char *, char *, size_t);
typedef DIR *(*opendir_fn)(const char *);
typedef int (*stat_fn)(const char *, struct stat *);
typedef int (*access_fn)(const char *, int);
typedef int (*lstat_fn)(const char *, struct stat *);
typedef char *(*realpath_fn)(const char *, char *);
typedef int (*ioctl_fn)(int, unsigned long, ...);
typedef ssize_t (*read_fn)(int, void *, size_t);
typedef ssize_t (*write_fn)(int, const void *, size_t);
typedef int (*tcsetattr_fn)(int, int, const struct termios *);

int __open_2(const char *path, int flags);
int __lxstat(int version, const char *path, struct stat *st);

/* Where a path really leads. */
static const char *map(const char *path, char *space)
{
    static const char tty[] = "/sys/class/tty";
    if (modem_shim.sys != NULL && strncmp(path, tty, sizeof tty - 1) == 0) {
        snprintf(space, PATH_MAX, "%s%s", modem_shim.sys, path + sizeof tty - 1);
        return space;
    }
    static const char serial[] = "/dev/serial";
    if (modem_shim.serial != NULL && strncmp(path, serial, sizeof serial - 1) == 0) {
        snprintf(space, PATH_MAX, "%s%s", modem_shim.serial, path + sizeof serial - 1);
        return space;
    }
    if (modem_shim.device != NULL && strcmp(path, MODEM_NAME) == 0) {
        return modem_shim.device;
    }
    return path;
}

static int open_mapped(const char *path, int flags, mode_t mode)
{
    REAL(open_fn, open)
    char space[PATH_MAX];
    if (modem_shim.gpio != 0 && strcmp(path, "/dev/gpiochip0") == 0) {
        return real_open("/dev/null", flags, mode);
    }
    if (modem_shim.sys != NULL && strcmp(path, MODEM_NAME) == 0) {
        if (modem_shim.open_error != 0) {
            errno = modem_shim.open_error;
            return -1;
        }
        modem_shim.opened++;
    }
    return real_open(map(path, space), flags, mode);
}

int open(const char *path, int flags, ...)
{
    mode_t mode = 0;
    if ((flags & O_CREAT) != 0) {
        va_list args;
        va_start(args, flags);
        mode = va_arg(args, mode_t);
        va_end(args);
    }
    return open_mapped(path, flags, mode);
}

int __open_2(const char *path, int flags)
{
    return open_mapped(path, flags, 0);
}

FILE *fopen(const char *path, const char *mode)
{
    REAL(fopen_fn, fopen)
    char space[PATH_MAX];
    return real_fopen(map(path, space), mode);
}

DIR *opendir(const char *path)
{
    REAL(opendir_fn, opendir)
    char space[PATH_MAX];
    return real_opendir(map(path, space));
}

int stat(const char *path, struct stat *st)
{
    REAL(stat_fn, stat)
    char space[PATH_MAX];
    return real_stat(map(path, space), st);
}

int access(const char *path, int mode)
{
    REAL(access_fn, access)
    char space[PATH_MAX];
    return real_access(map(path, space), mode);
}

ssize_t readlink(const char *path, char *buf, size_t cap)
{
    REAL(readlink_fn, readlink)
    char space[PATH_MAX];
    return real_readlink(map(path, space), buf, cap);
}

int lstat(const char *path, struct stat *st)
{
    REAL(lstat_fn, lstat)
    char space[PATH_MAX];
    return real_lstat(map(path, space), st);
}

int __lxstat(int version, const char *path, struct stat *st)
{
    (void)version;
    return lstat(path, st);
}

/* The last step of a real chain of links may be /dev/ttyUSB0, which is not on this computer. */
char *realpath(const char *path, char *resolved)
{
    REAL(realpath_fn, realpath)
    char target[PATH_MAX];
    ssize_t len = readlink(path, target, sizeof target - 1);
    target[len > 0 ? len : 0] = '\0';
    const char *last = len > 0 ? target : path;
    if (modem_shim.sys == NULL || strcmp(last, MODEM_NAME) != 0) {
        return real_realpath(path, resolved);
    }
    if (modem_shim.device == NULL) {
        errno = ENOENT;
        return NULL;
    }
    return strcpy(resolved, MODEM_NAME);
}

/* Modem control lines, which pseudo-terminals lack. */
static int answer_modem(unsigned long request, int *bits)
{
    switch (request) {
    case TIOCMGET:
        *bits = modem_shim.lines;
        return 0;
    case TIOCMSET:
        modem_shim.lines = *bits;
        break;
    case TIOCMBIS:
        modem_shim.lines |= *bits;
        break;
    case TIOCMBIC:
        modem_shim.lines &= ~*bits;
        break;
    default:
        errno = ENOTTY;
        return -1;
    }
    modem_shim.lines_set++;
    return 0;
}

/* The GPIO character device, linux/gpio.h. */
static int answer_gpio(int fd, unsigned long request, void *arg)
{
    if (modem_shim.gpio_error != 0) {
        errno = modem_shim.gpio_error;
        return -1;
    }
    if (request == GPIO_V2_GET_LINE_IOCTL) {
        struct gpio_v2_line_request *line = arg;
        modem_shim.gpio_line =
            (line->config.flags & GPIO_V2_LINE_FLAG_OUTPUT) != 0 ? (int)line->offsets[0] : -1;
        line->fd = dup(fd);
    } else {
        const struct gpio_v2_line_values *values = arg;
        modem_shim.gpio_high = (int)(values->bits & values->mask);
    }
    return 0;
}

int ioctl(int fd, unsigned long request, ...)
{
    REAL(ioctl_fn, ioctl)
    va_list args;
    va_start(args, request);
    void *arg = va_arg(args, void *);
    va_end(args);
    if (modem_shim.gpio != 0 &&
        (request == GPIO_V2_GET_LINE_IOCTL || request == GPIO_V2_LINE_SET_VALUES_IOCTL)) {
        return answer_gpio(fd, request, arg);
    }
    if (modem_shim.sys != NULL && (request == TIOCSBRK || request == TIOCCBRK)) {
        modem_shim.breaks += request == TIOCSBRK ? 1 : -1; /* a pseudo-terminal drops it */
        return 0;
    }
    int rc = real_ioctl(fd, request, arg);
    if (rc == 0 || errno != ENOTTY || modem_shim.sys == NULL || !isatty(fd)) {
        return rc;
    }
    return answer_modem(request, arg);
}

ssize_t read(int fd, void *buf, size_t cap)
{
    REAL(read_fn, read)
    if (modem_shim.sys != NULL && isatty(fd)) {
        modem_shim.mode_calls++;
        if (modem_shim.read_error != 0) {
            errno = modem_shim.read_error;
            modem_shim.read_error = 0;
            return -1;
        }
    }
    return real_read(fd, buf, cap);
}

ssize_t write(int fd, const void *bytes, size_t len)
{
    REAL(write_fn, write)
    if (modem_shim.sys != NULL && isatty(fd)) {
        modem_shim.mode_calls++;
        if (modem_shim.write_error != 0) {
            errno = modem_shim.write_error;
            modem_shim.write_error = 0;
            return -1;
        }
        if (modem_shim.write_cap != 0 && len > modem_shim.write_cap) {
            len = modem_shim.write_cap;
        }
    }
    return real_write(fd, bytes, len);
}

int tcsetattr(int fd, int when, const struct termios *settings)
{
    REAL(tcsetattr_fn, tcsetattr)
    return modem_shim.settings_fail != 0 ? 0 : real_tcsetattr(fd, when, settings);
}
