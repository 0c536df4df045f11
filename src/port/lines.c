#include "port/lines.h"

#include <stdlib.h>
#include <string.h>

#include "ridgepost/error.h"

void rp_lines_init(struct rp_lines *lines, size_t len_max)
{
    *lines = (struct rp_lines){.len_max = len_max};
}

void rp_lines_deinit(struct rp_lines *lines)
{
    free(lines->bytes);
    *lines = (struct rp_lines){0};
}

/* Moves what is left to the front. */
static void compact(struct rp_lines *lines)
{
    if (lines->start > 0) {
        memmove(lines->bytes, lines->bytes + lines->start, lines->len - lines->start);
        lines->len -= lines->start;
        lines->scanned -= lines->start;
        lines->start = 0;
    }
}

static int grow(struct rp_lines *lines, size_t needed)
{
    if (needed <= lines->cap) {
        return 0;
    }
    size_t cap = lines->cap > 0 ? lines->cap : 1024;
    while (cap < needed) {
        cap *= 2;
    }
    uint8_t *bytes = realloc(lines->bytes, cap);
    if (bytes == NULL) {
        return RP_E_MEMORY;
    }
    lines->bytes = bytes;
    lines->cap = cap;
    return 0;
}

int rp_lines_push(struct rp_lines *lines, struct rp_view bytes)
{
    if (bytes.len == 0) {
        return 0;
    }
    compact(lines);
    int rc = grow(lines, lines->len + bytes.len);
    if (rc < 0) {
        return rc;
    }
    memcpy(lines->bytes + lines->len, bytes.bytes, bytes.len);
    lines->len += bytes.len;
    if (lines->len > lines->len_max && memchr(lines->bytes, '\n', lines->len_max + 1) == NULL) {
        return RP_E_TOO_LONG;
    }
    return 0;
}

int rp_lines_next(struct rp_lines *lines, struct rp_view *out_line)
{
    if (lines->scanned == lines->len) {
        return 0;
    }
    const uint8_t *end = memchr(lines->bytes + lines->scanned, '\n', lines->len - lines->scanned);
    if (end == NULL) {
        lines->scanned = lines->len;
        return lines->len - lines->start > lines->len_max ? RP_E_TOO_LONG : 0;
    }
    size_t end_at = (size_t)(end - lines->bytes);
    struct rp_view line = {lines->bytes + lines->start, end_at - lines->start};
    lines->start = end_at + 1;
    lines->scanned = lines->start;
    if (line.len > lines->len_max) {
        return RP_E_TOO_LONG;
    }
    *out_line = line;
    return 1;
}
