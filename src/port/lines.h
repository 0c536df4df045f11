/* Cuts a byte stream into lines that end in a newline, with a bound on their length. */
#ifndef RP_PORT_LINES_H
#define RP_PORT_LINES_H

#include "ridgepost/view.h"

/* Longest control line in bytes, without its newline. */
#define RP_LINE_LEN_MAX (64 * 1024)

/* The fields belong to src/port. Grows on the heap up to len_max and one push. */
struct rp_lines {
    uint8_t *bytes;
    size_t cap;
    size_t start, len; /* the bytes not yet handed out are start..len */
    size_t scanned;    /* start..scanned holds no newline */
    size_t len_max;
};

void rp_lines_init(struct rp_lines *lines, size_t len_max);
void rp_lines_deinit(struct rp_lines *lines);

/* Adds what arrived. RP_E_TOO_LONG: a line without end is longer than len_max. RP_E_MEMORY. After
 * either, the stream cannot be followed any more. Take all lines before pushing again. */
int rp_lines_push(struct rp_lines *lines, struct rp_view bytes);

/* 1 and the next line without its newline, valid until the next push; 0 when there is none;
 * RP_E_TOO_LONG when it is longer than len_max. Any byte but the newline may be in it. */
int rp_lines_next(struct rp_lines *lines, struct rp_view *out_line);

#endif
