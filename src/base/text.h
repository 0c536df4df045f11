/* Building text in a bounded buffer. What does not fit is cut and remembered. */
#ifndef RP_BASE_TEXT_H
#define RP_BASE_TEXT_H

#include <stdbool.h>
#include <stddef.h>

struct rp_text {
    char *buf; /* borrowed; always NUL-terminated when cap > 0 */
    size_t cap, len;
    bool cut;
};

struct rp_text rp_text_on(char *buf, size_t cap);
void rp_text_add(struct rp_text *text, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

#endif
