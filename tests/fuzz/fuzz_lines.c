/* A byte stream cut into pushes by its own bytes: the lines that come out, put together again with
 * their newlines, are the stream, and none is longer than the bound. */
#include <stdlib.h>
#include <string.h>

#include "port/lines.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { LEN_MAX = 32 };

/* Takes all lines; adds what they cover to *covered. False when the stream has broken the bound. */
static int take_all(struct rp_lines *lines, const uint8_t *data, size_t *covered)
{
    struct rp_view line;
    int rc;
    while ((rc = rp_lines_next(lines, &line)) == 1) {
        if (line.len > LEN_MAX || memcmp(data + *covered, line.bytes, line.len) != 0 ||
            data[*covered + line.len] != '\n' || memchr(line.bytes, '\n', line.len) != NULL) {
            abort();
        }
        *covered += line.len + 1;
    }
    return rc;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct rp_lines lines;
    rp_lines_init(&lines, LEN_MAX);
    size_t at = 0, covered = 0;
    int rc = 0;
    while (at < size && rc == 0) {
        size_t part = 1 + data[at] % 19;
        part = part < size - at ? part : size - at;
        rc = rp_lines_push(&lines, (struct rp_view){data + at, part});
        at += part;
        if (rc == 0) {
            rc = take_all(&lines, data, &covered);
        }
    }
    /* What is left holds no newline, or the bound was broken by more than LEN_MAX bytes. */
    const uint8_t *end = size > covered ? memchr(data + covered, '\n', at - covered) : NULL;
    size_t first_len = end != NULL ? (size_t)(end - (data + covered)) : at - covered;
    if (rc == 0 ? end != NULL : first_len <= LEN_MAX) {
        abort();
    }
    rp_lines_deinit(&lines);
    return 0;
}
