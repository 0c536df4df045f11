/* One byte line to a modem: a serial port, a pseudo-terminal or a TCP stream behind one interface.
 *
 * Everything is non-blocking. A line that is gone stays gone: close it at once (a descriptor held
 * open makes the kernel give a re-plugged adapter another name) and open it again later, by the
 * same target. */
#ifndef RP_PORT_LINE_H
#define RP_PORT_LINE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/problem.h"

struct rp_line_backend; /* a row of the table in line.c */
struct sp_port;         /* of libserialport */

/* Longest target and longest resolved device name, with the terminating NUL, in bytes. */
#define RP_LINE_TARGET_CAP 256

/* What to do with a modem control line. KEEP leaves it as the kernel has it: Linux raises DTR and
 * RTS when a port is opened, and we clear HUPCL so that closing does not drop them. */
enum rp_line_signal {
    RP_LINE_KEEP,
    RP_LINE_ON,
    RP_LINE_OFF,
};

/* Serial ports only; ignored by pseudo-terminals and TCP. 8 data bits, no parity, 1 stop bit and no
 * flow control of any kind are fixed. */
struct rp_line_options {
    enum rp_line_signal dtr, rts;
};

/* What can be switched on a serial port while it is open. */
enum rp_line_pin { RP_LINE_DTR, RP_LINE_RTS, RP_LINE_BREAK };

/* The fields belong to src/port. A zeroed line is a closed one. */
struct rp_line {
    const struct rp_line_backend *backend; /* NULL: closed */
    int fd;
    int lock_fd; /* serial: holds the flock for as long as the line is open */
    struct sp_port *port;
    uint32_t baud;
    struct rp_problem fault; /* why the line is gone; code 0 while it is not */
    char target[RP_LINE_TARGET_CAP];
    char device[RP_LINE_TARGET_CAP]; /* target with links resolved */
};

/* Opens `target`:
 *   "/dev/..."       a serial port, or any path that leads to one; links are resolved now, so that
 *                    /dev/serial/by-id/... finds the port again whatever its number. What resolves
 *                    to /dev/pts/... is a pseudo-terminal and does not go through libserialport.
 *   "tcp:HOST:PORT"  HOST is a numeric address (IPv6 in brackets) or "localhost"; PORT 1..65535.
 *                    The connection may still be under way on return: see rp_line_ready.
 * baud in bits per second, one of the usual rates from 1200 to 921600; ignored by TCP.
 * options may be NULL (keep both signals). The line must be closed; it is on failure too.
 * RP_E_INVALID (target or baud malformed, not a serial port, settings refused), RP_E_NOT_FOUND (no
 * such port), RP_E_PERMISSION, RP_E_TAKEN (another program holds it), RP_E_GONE (unplugged, or
 * connection refused at once), RP_E_TOO_LONG, RP_E_MEMORY, RP_E_IO; *out_problem then names the
 * port and what to do. */
int rp_line_open(struct rp_line *line, const char *target, uint32_t baud,
                 const struct rp_line_options *options, struct rp_problem *out_problem);

/* Whether `target` and `baud` can be opened at all, as far as their form shows; nothing is looked
 * up and nothing is opened. 0, RP_E_INVALID or RP_E_TOO_LONG, as rp_line_open. */
int rp_line_check(const char *target, uint32_t baud, struct rp_problem *out_problem);

/* 0: open and usable. RP_E_BUSY: a TCP connection is under way; ask again when the descriptor is
 * writable (the kernel gives up after about 15 s). RP_E_GONE: see rp_line_fault. */
int rp_line_ready(struct rp_line *line);

/* Reads 1..cap bytes (cap >= 1) and returns how many. RP_E_BUSY: nothing there now. RP_E_GONE:
 * unplugged, hung up, or closed by the other end; what had arrived before has been returned. */
int rp_line_read(struct rp_line *line, uint8_t *buf, size_t cap);

/* Writes some of len bytes (len >= 1) and returns how many, 1..len. RP_E_BUSY: no room now, wait
 * for writable. RP_E_GONE as above; whether the bytes written last arrived is not known. */
int rp_line_write(struct rp_line *line, const uint8_t *bytes, size_t len);

/* Switches a signal of an open serial port. RP_E_UNSUPPORTED: the line has none (pseudo-terminals,
 * TCP). RP_E_GONE as above. */
int rp_line_signal(struct rp_line *line, enum rp_line_pin pin, bool on);

/* Another speed, at once; does nothing on TCP. Bytes still in the kernel's queue may be spoiled.
 * RP_E_INVALID (not a usual rate, or refused), RP_E_GONE. */
int rp_line_set_baud(struct rp_line *line, uint32_t baud);

/* The descriptor to watch, borrowed; -1 when closed. Stop watching before rp_line_close. */
int rp_line_fd(const struct rp_line *line);

/* Why the line is gone, a sentence in .text; .code is 0 while it is not. Valid until reopened. */
const struct rp_problem *rp_line_fault(const struct rp_line *line);

/* Gives everything back. Harmless on a closed line. */
void rp_line_close(struct rp_line *line);

/* Writes a NUL-terminated description, cut to cap bytes (cap >= 1), such as
 * "/dev/serial/by-id/usb-x (/dev/ttyUSB0), 57600 baud"; "closed" for a closed line. */
void rp_line_describe(const struct rp_line *line, char *buf, size_t cap);

#endif
