#include "base/text.h"

#include <stdarg.h>
#include <stdio.h>

struct rp_text rp_text_on(char *buf, size_t cap)
{
    if (cap > 0) {
        buf[0] = '\0';
    }
    return (struct rp_text){buf, cap, 0, cap == 0};
}

void rp_text_add(struct rp_text *text, const char *format, ...)
{
    if (text->cut) {
        return;
    }
    va_list args;
    va_start(args, format);
    int len = vsnprintf(text->buf + text->len, text->cap - text->len, format, args);
    va_end(args);
    if (len < 0 || (size_t)len >= text->cap - text->len) {
        text->cut = true;
        text->len = text->cap - 1;
    } else {
        text->len += (size_t)len;
    }
}
