/* Serial ports through libserialport.
 *
 * Debian 12's libserialport 0.1.1 sets CRTSCTS in the wrong word, takes no lock, leaks its
 * descriptor to children, reports a hang-up as "0 bytes" and a full queue as a failure, and spins
 * in its blocking calls. So: our own lock before it opens, our own settings after it has, our own
 * poll(2) around its non-blocking calls, and never one of its blocking ones. */
#include "port/line_backend.h"

#include <errno.h>
#include <fcntl.h>
#include <libserialport.h>
#include <poll.h>
#include <stdbool.h>
#include <sys/ioctl.h>
#include <unistd.h>

static int serial_failed(const struct rp_line *line, enum sp_return rc,
                         struct rp_problem *out_problem)
{
    switch (rc) {
    case SP_ERR_MEM:
        return rp_tty_open_failed(line->target, line->device, ENOMEM, out_problem);
    case SP_ERR_FAIL:
        return rp_tty_open_failed(line->target, line->device, errno, out_problem);
    default:
        return rp_problem_set(out_problem, RP_E_INVALID, "port",
                              "%.120s is not a serial port, or refuses its settings", line->target);
    }
}

/* Every setting explicitly: 0.1.1 leaves some fields of a new config uninitialised. */
static enum sp_return apply_config(struct sp_port *port, uint32_t baud,
                                   const struct rp_line_options *options)
{
    static const enum sp_dtr dtr[] = {SP_DTR_INVALID, SP_DTR_ON, SP_DTR_OFF};
    static const enum sp_rts rts[] = {SP_RTS_INVALID, SP_RTS_ON, SP_RTS_OFF};
    struct sp_port_config *config = NULL;
    enum sp_return rc = sp_new_config(&config);
    if (rc != SP_OK) {
        return rc;
    }
    sp_set_config_flowcontrol(config, SP_FLOWCONTROL_NONE);
    sp_set_config_xon_xoff(config, SP_XONXOFF_DISABLED);
    sp_set_config_baudrate(config, (int)baud);
    sp_set_config_bits(config, 8);
    sp_set_config_parity(config, SP_PARITY_NONE);
    sp_set_config_stopbits(config, 1);
    sp_set_config_cts(config, SP_CTS_IGNORE);
    sp_set_config_dsr(config, SP_DSR_IGNORE);
    sp_set_config_dtr(config, dtr[options->dtr]);
    sp_set_config_rts(config, rts[options->rts]);
    rc = sp_set_config(port, config);
    int error = errno;
    sp_free_config(config);
    errno = error;
    return rc;
}

/* The flag TIOCEXCL keeps other users out but not root, whom the kernel lets pass: ask. */
static bool held_exclusively(int fd)
{
    int exclusive = 0;
    return ioctl(fd, TIOCGEXCL, &exclusive) == 0 && exclusive != 0;
}

static int set_up(struct rp_line *line, const struct rp_line_options *options,
                  struct rp_problem *out_problem)
{
    enum sp_return rc = sp_get_port_handle(line->port, &line->fd);
    if (rc != SP_OK) {
        return serial_failed(line, rc, out_problem);
    }
    if (fcntl(line->fd, F_SETFD, FD_CLOEXEC) != 0 || ioctl(line->fd, TIOCEXCL) != 0) {
        return rp_tty_open_failed(line->target, line->device, errno, out_problem);
    }
    rc = apply_config(line->port, line->baud, options);
    if (rc != SP_OK) {
        return serial_failed(line, rc, out_problem);
    }
    return rp_tty_set_raw(line->target, line->fd, line->baud, out_problem);
}

static void serial_close(struct rp_line *line)
{
    if (line->fd >= 0) {
        ioctl(line->fd, TIOCNXCL);
        sp_close(line->port);
    }
    if (line->port != NULL) {
        sp_free_port(line->port);
    }
    if (line->lock_fd >= 0) {
        close(line->lock_fd);
    }
}

static int open_locked(struct rp_line *line, const struct rp_line_options *options,
                       struct rp_problem *out_problem)
{
    int rc = rp_tty_lock(line->target, line->device, line->lock_fd, out_problem);
    if (rc < 0) {
        return rc;
    }
    if (held_exclusively(line->lock_fd)) {
        return rp_tty_open_failed(line->target, line->device, EBUSY, out_problem);
    }
    enum sp_return found = sp_get_port_by_name(line->device, &line->port);
    if (found != SP_OK) {
        line->port = NULL;
        return serial_failed(line, found, out_problem);
    }
    enum sp_return opened = sp_open(line->port, SP_MODE_READ_WRITE);
    if (opened != SP_OK) {
        return serial_failed(line, opened, out_problem);
    }
    return set_up(line, options, out_problem);
}

static int serial_open(struct rp_line *line, const struct rp_line_options *options,
                       struct rp_problem *out_problem)
{
    int rc = rp_tty_check_baud(line->baud, out_problem);
    if (rc < 0) {
        return rc;
    }
    /* The lock comes before libserialport, which changes settings while it opens: those of the
     * program that holds the port would be lost. */
    rc = rp_tty_open(line->target, line->device, &line->lock_fd, out_problem);
    if (rc < 0) {
        return rc;
    }
    rc = open_locked(line, options, out_problem);
    if (rc < 0) {
        serial_close(line);
    }
    return rc;
}

static short poll_now(int fd)
{
    struct pollfd p = {.fd = fd, .events = POLLIN};
    int rc = poll(&p, 1, 0);
    return rc > 0 ? p.revents : 0;
}

static int serial_read(struct rp_line *line, uint8_t *buf, size_t cap)
{
    short before = poll_now(line->fd);
    if ((before & POLLIN) == 0) {
        return (before & (POLLHUP | POLLERR | POLLNVAL)) != 0 ? rp_line_lose(line, 0) : RP_E_BUSY;
    }
    errno = 0;
    int got = (int)sp_nonblocking_read(line->port, buf, cap);
    if (got > 0) {
        return got;
    }
    if (got < 0) {
        return rp_line_failed(line, errno);
    }
    /* 0 bytes although poll promised some: gone, unless libserialport hides an EAGAIN. */
    return errno == EAGAIN ? RP_E_BUSY : rp_line_lose(line, 0);
}

static int serial_write(struct rp_line *line, const uint8_t *bytes, size_t len)
{
    errno = 0;
    int put = (int)sp_nonblocking_write(line->port, bytes, len);
    if (put > 0) {
        return put;
    }
    return put == 0 ? RP_E_BUSY : rp_line_failed(line, errno);
}

static int serial_signal(struct rp_line *line, enum rp_line_pin pin, bool on)
{
    enum sp_return rc = SP_OK;
    errno = 0;
    switch (pin) {
    case RP_LINE_DTR:
        rc = sp_set_dtr(line->port, on ? SP_DTR_ON : SP_DTR_OFF);
        break;
    case RP_LINE_RTS:
        rc = sp_set_rts(line->port, on ? SP_RTS_ON : SP_RTS_OFF);
        break;
    case RP_LINE_BREAK:
        rc = on ? sp_start_break(line->port) : sp_end_break(line->port);
        break;
    }
    if (rc == SP_OK) {
        return 0;
    }
    bool gone = errno == EIO || errno == ENXIO || errno == ENODEV;
    return gone ? rp_line_lose(line, errno) : RP_E_UNSUPPORTED;
}

const struct rp_line_backend rp_line_serial = {
    .open = serial_open,
    .read = serial_read,
    .write = serial_write,
    .close = serial_close,
    .signal = serial_signal,
};
