/* A client of the control socket for the system tests: raw enough to misbehave. Every wait has a
 * limit; what cannot go on prints why and ends the program with status 1. */
#ifndef RP_TEST_CONTROL_IO_H
#define RP_TEST_CONTROL_IO_H

#include <stdbool.h>
#include <stddef.h>

#define IO_WAIT_MS 20000 /* far above anything a healthy daemon needs, on a slow machine too */

struct io {
    int fd;
    size_t len;
    bool ended;      /* the daemon has closed */
    char buf[65536]; /* what came and was not taken yet */
};

void io_fail(const char *format, ...) __attribute__((format(printf, 1, 2), noreturn));

/* Connects, trying again until the daemon answers or the limit is over. */
void io_open(struct io *io, const char *socket_path);
void io_close(struct io *io);
/* Sends all bytes; false when the daemon has closed. Takes in answers while it waits. */
bool io_send(struct io *io, const void *bytes, size_t len);
/* The next line, NUL in place of its newline, valid until the next call; NULL when the daemon has
 * closed. */
const char *io_line(struct io *io);
/* Takes in what is there now, without waiting. */
void io_take_in(struct io *io, int wait_ms);
/* Sends a note on an episode and waits for the answer: the record's name in `out_name` (24 bytes),
 * or false when the daemon went away before it answered. A refusal ends the program. */
bool io_note(struct io *io, const char *episode, const char *text, char *out_name);

#endif
