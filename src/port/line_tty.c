/* What serial ports and pseudo-terminals share: opening, locking, raw settings. */
#include "port/line_backend.h"
#include "port/ports/ports.h"

#include <errno.h>
#include <fcntl.h>
#include <grp.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

/* The rates every serial module we know of offers, and those the kernel has a code for. */
static const struct {
    uint32_t baud;
    speed_t code;
} rates[] = {
    {1200, B1200},     {2400, B2400},     {4800, B4800},     {9600, B9600},
    {19200, B19200},   {38400, B38400},   {57600, B57600},   {115200, B115200},
    {230400, B230400}, {460800, B460800}, {921600, B921600},
};

static bool find_rate(uint32_t baud, speed_t *out_code)
{
    for (size_t i = 0; i < sizeof rates / sizeof rates[0]; i++) {
        if (rates[i].baud == baud) {
            *out_code = rates[i].code;
            return true;
        }
    }
    return false;
}

int rp_tty_check_baud(uint32_t baud, struct rp_problem *out_problem)
{
    speed_t code;
    if (!find_rate(baud, &code)) {
        return rp_problem_set(out_problem, RP_E_INVALID, "baud",
                              "%u baud is not a usual rate: one of 1200, 2400, 4800, 9600, 19200, "
                              "38400, 57600, 115200, 230400, 460800, 921600",
                              (unsigned)baud);
    }
    return 0;
}

/* Name of the group that owns the device: "dialout" on Debian, and when nobody knows. */
static void owner_group(const char *device, char *buf, size_t cap)
{
    struct stat st;
    struct group group, *found = NULL;
    char space[4096];
    snprintf(buf, cap, "dialout");
    if (stat(device, &st) == 0 && st.st_gid != 0 &&
        getgrgid_r(st.st_gid, &group, space, sizeof space, &found) == 0 && found != NULL) {
        snprintf(buf, cap, "%s", found->gr_name);
    }
}

int rp_tty_open_failed(const char *name, const char *device, int error,
                       struct rp_problem *out_problem)
{
    char group[32];
    struct rp_port_holder holder;
    switch (error) {
    case ENOENT:
    case ENOTDIR:
        return rp_problem_set(out_problem, RP_E_NOT_FOUND, "port",
                              "%.100s is not there: is the radio plugged in and powered?", name);
    case EACCES:
    case EPERM:
        owner_group(device, group, sizeof group);
        return rp_problem_set(out_problem, RP_E_PERMISSION, "port",
                              "no permission to use %.80s: the user must be in the group %s "
                              "(adduser USER %s, then log in again)",
                              name, group, group);
    case EBUSY:
        rp_port_find_holder(device, &holder);
        return holder.pid != 0
                   ? rp_problem_set(out_problem, RP_E_TAKEN, "port",
                                    "%.100s is in use by another program: close that one first "
                                    "(%s, process %d)",
                                    name, holder.name, holder.pid)
                   : rp_problem_set(out_problem, RP_E_TAKEN, "port",
                                    "%.120s is in use by another program: close that one first",
                                    name);
    case ENXIO:
    case ENODEV:
    case EIO:
        return rp_problem_set(out_problem, RP_E_GONE, "port", "%.120s: unplugged or hung up", name);
    case ENOMEM:
        return rp_problem_set(out_problem, RP_E_MEMORY, "port", "%.120s: out of memory", name);
    default:
        return rp_problem_set(out_problem, RP_E_IO, "port", "%.120s cannot be opened: %s", name,
                              strerror(error));
    }
}

int rp_tty_open(const char *name, const char *device, int *out_fd, struct rp_problem *out_problem)
{
    int fd = open(device, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (fd < 0) {
        return rp_tty_open_failed(name, device, errno, out_problem);
    }
    if (!isatty(fd)) {
        close(fd);
        return rp_problem_set(out_problem, RP_E_INVALID, "port", "%.120s is not a serial port",
                              name);
    }
    *out_fd = fd;
    return 0;
}

int rp_tty_lock(const char *name, const char *device, int fd, struct rp_problem *out_problem)
{
    if (flock(fd, LOCK_EX | LOCK_NB) == 0) {
        return 0;
    }
    return rp_tty_open_failed(name, device, errno == EWOULDBLOCK ? EBUSY : errno, out_problem);
}

/* The settings as they must read back; see termios(3). */
#define IFLAG_CLEAR                                                                                \
    (IGNBRK | BRKINT | PARMRK | ISTRIP | INLCR | IGNCR | ICRNL | INPCK | IXON | IXOFF | IXANY |    \
     IUCLC)
#define LFLAG_CLEAR (ECHO | ECHONL | ICANON | ISIG | IEXTEN)
#define CFLAG_MASK  (CSIZE | PARENB | CSTOPB | CRTSCTS | HUPCL | CLOCAL | CREAD)
#define CFLAG_WANT  (CS8 | CLOCAL | CREAD)

static const char *first_difference(const struct termios *t, speed_t code)
{
    if (cfgetispeed(t) != code || cfgetospeed(t) != code) {
        return "the baud rate";
    }
    if ((t->c_cflag & CFLAG_MASK) != CFLAG_WANT) {
        return "8 data bits, no parity, 1 stop bit, no handshake";
    }
    if ((t->c_iflag & IFLAG_CLEAR) != 0 || (t->c_oflag & OPOST) != 0 ||
        (t->c_lflag & LFLAG_CLEAR) != 0) {
        return "raw mode";
    }
    return NULL;
}

int rp_tty_set_raw(const char *name, int fd, uint32_t baud, struct rp_problem *out_problem)
{
    speed_t code;
    struct termios t;
    if (!find_rate(baud, &code)) {
        return rp_tty_check_baud(baud, out_problem);
    }
    if (tcgetattr(fd, &t) != 0) {
        return rp_tty_open_failed(name, name, errno, out_problem);
    }
    t.c_iflag &= ~(tcflag_t)(IFLAG_CLEAR | IGNPAR);
    t.c_oflag &= ~(tcflag_t)OPOST;
    t.c_lflag &= ~(tcflag_t)LFLAG_CLEAR;
    t.c_cflag = (t.c_cflag & ~(tcflag_t)CFLAG_MASK) | CFLAG_WANT;
    /* With VMIN 1, "nothing there" is EAGAIN and 0 bytes can only mean a hang-up. */
    t.c_cc[VMIN] = 1;
    t.c_cc[VTIME] = 0;
    if (cfsetispeed(&t, code) != 0 || cfsetospeed(&t, code) != 0 ||
        tcsetattr(fd, TCSANOW, &t) != 0 || tcgetattr(fd, &t) != 0) {
        return rp_tty_open_failed(name, name, errno, out_problem);
    }
    /* tcsetattr succeeds when any one of the changes could be made: look. */
    const char *refused = first_difference(&t, code);
    if (refused != NULL) {
        return rp_problem_set(out_problem, RP_E_INVALID, "port", "%.80s refuses %s (%u baud asked)",
                              name, refused, (unsigned)baud);
    }
    return 0;
}
