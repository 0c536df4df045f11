#include "base/bytes.h"

#include <assert.h>
#include <string.h>

static uint8_t *claim(struct rp_writer *w, size_t len)
{
    if (w->failed || w->cap - w->len < len) {
        w->failed = true;
        return NULL;
    }
    uint8_t *at = w->bytes + w->len;
    w->len += len;
    return at;
}

void rp_put_u8(struct rp_writer *w, uint8_t value)
{
    uint8_t *at = claim(w, 1);
    if (at != NULL) {
        *at = value;
    }
}

void rp_put_be(struct rp_writer *w, uint64_t value, unsigned bytes)
{
    assert(bytes >= 1 && bytes <= 8);
    for (unsigned i = bytes; i-- > 0;) {
        rp_put_u8(w, (uint8_t)(value >> (8 * i)));
    }
}

void rp_put_view(struct rp_writer *w, struct rp_view view)
{
    uint8_t *at = claim(w, view.len);
    if (at != NULL && view.len > 0) {
        memcpy(at, view.bytes, view.len);
    }
}

void rp_put_varint(struct rp_writer *w, uint64_t value)
{
    while (value >= 0x80) {
        rp_put_u8(w, (uint8_t)(value | 0x80));
        value >>= 7;
    }
    rp_put_u8(w, (uint8_t)value);
}

uint8_t rp_get_u8(struct rp_reader *r)
{
    if (r->failed || r->at >= r->len) {
        r->failed = true;
        return 0;
    }
    return r->bytes[r->at++];
}

uint64_t rp_get_be(struct rp_reader *r, unsigned bytes)
{
    assert(bytes >= 1 && bytes <= 8);
    uint64_t value = 0;
    for (unsigned i = 0; i < bytes; i++) {
        value = value << 8 | rp_get_u8(r);
    }
    return r->failed ? 0 : value;
}

uint64_t rp_get_varint(struct rp_reader *r, uint64_t max)
{
    uint64_t value = 0;
    for (unsigned shift = 0; shift < 64; shift += 7) {
        uint8_t byte = rp_get_u8(r);
        uint64_t part = byte & 0x7f;
        if (shift == 63 && part > 1) {
            r->failed = true;
        }
        value |= part << shift;
        if ((byte & 0x80) == 0) {
            if ((shift > 0 && byte == 0) || value > max) {
                r->failed = true;
            }
            return r->failed ? 0 : value;
        }
    }
    r->failed = true;
    return 0;
}
