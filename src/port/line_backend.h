/* Inside src/port: what a kind of line must be able to do, and what terminals share. */
#ifndef RP_PORT_LINE_BACKEND_H
#define RP_PORT_LINE_BACKEND_H

#include "port/line.h"

struct rp_line_backend {
    /* line->target, line->device and line->baud are set. Leaves nothing open on failure. */
    int (*open)(struct rp_line *line, const struct rp_line_options *options,
                struct rp_problem *out_problem);
    int (*ready)(struct rp_line *line); /* NULL: always */
    int (*read)(struct rp_line *line, uint8_t *buf, size_t cap);
    int (*write)(struct rp_line *line, const uint8_t *bytes, size_t len);
    void (*close)(struct rp_line *line);
    int (*signal)(struct rp_line *line, enum rp_line_pin pin, bool on); /* NULL: none */
};

extern const struct rp_line_backend rp_line_serial; /* line_serial.c: libserialport */
extern const struct rp_line_backend rp_line_pty;    /* line_stream.c */
extern const struct rp_line_backend rp_line_tcp;    /* line_stream.c */

/* Notes why the line is gone (an errno value, or 0 for a plain hang-up). Returns RP_E_GONE. */
int rp_line_lose(struct rp_line *line, int error);
/* The result of read or write on errno `error`: RP_E_BUSY or, through rp_line_lose, RP_E_GONE. */
int rp_line_failed(struct rp_line *line, int error);

/* Whether the text after "tcp:" is an address and a port (line_stream.c). */
int rp_tcp_check(const char *target, struct rp_problem *out_problem);

/* Terminals (line_tty.c). `name` is what a person called the port, for sentences. */
int rp_tty_open(const char *name, const char *device, int *out_fd, struct rp_problem *out_problem);
/* The sentence for an errno value met while opening. Returns the matching error. */
int rp_tty_open_failed(const char *name, const char *device, int error,
                       struct rp_problem *out_problem);
/* flock(2), at once or not at all: RP_E_TAKEN. */
int rp_tty_lock(const char *name, const char *device, int fd, struct rp_problem *out_problem);
/* RP_E_INVALID for a rate that is not in the table. */
int rp_tty_check_baud(uint32_t baud, struct rp_problem *out_problem);
/* Raw, 8N1, no flow control, no hang-up on close, at `baud`; then reads everything back. */
int rp_tty_set_raw(const char *name, int fd, uint32_t baud, struct rp_problem *out_problem);

#endif
