/* Hex strings in tests. */
#ifndef RP_HEX_H
#define RP_HEX_H

#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

/* Reads hex digits, skipping white space, until something else or the end; the number of bytes. */
static inline size_t rp_hex_read(const char *text, uint8_t *out, size_t cap)
{
    size_t digits = 0;
    for (; *text != '\0'; text++) {
        unsigned value;
        if (*text >= '0' && *text <= '9') {
            value = (unsigned)(*text - '0');
        } else if ((*text | 0x20) >= 'a' && (*text | 0x20) <= 'f') {
            value = (unsigned)((*text | 0x20) - 'a' + 10);
        } else if (*text == ' ' || *text == '\n') {
            continue;
        } else {
            break;
        }
        if (digits / 2 >= cap) {
            break;
        }
        out[digits / 2] = (uint8_t)(digits % 2 == 0 ? value << 4 : out[digits / 2] | value);
        digits++;
    }
    return digits / 2;
}

/* Writes len bytes as lower-case hex, NUL-terminated; out holds 2 * len + 1. */
static inline void rp_hex_write(const uint8_t *bytes, size_t len, char *out)
{
    for (size_t i = 0; i < len; i++) {
        snprintf(out + 2 * i, 3, "%02x", bytes[i]);
    }
    out[2 * len] = '\0';
}

#endif
