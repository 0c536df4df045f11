/* Bounded readers and writers of bytes. A reader or writer that ran out stays out: callers check
 * `failed` once, at the end. */
#ifndef RP_BASE_BYTES_H
#define RP_BASE_BYTES_H

#include <stdbool.h>
#include <stdint.h>

#include "ridgepost/view.h"

struct rp_writer {
    uint8_t *bytes; /* borrowed */
    size_t cap, len;
    bool failed; /* something did not fit; len is then meaningless */
};

struct rp_reader {
    const uint8_t *bytes; /* borrowed */
    size_t len, at;
    bool failed; /* something was missing or malformed */
};

static inline struct rp_writer rp_writer_on(uint8_t *bytes, size_t cap)
{
    return (struct rp_writer){bytes, cap, 0, false};
}

static inline struct rp_reader rp_reader_on(struct rp_view view)
{
    return (struct rp_reader){view.bytes, view.len, 0, false};
}

static inline struct rp_view rp_view_of(const void *bytes, size_t len)
{
    return (struct rp_view){(const uint8_t *)bytes, len};
}

static inline size_t rp_reader_left(const struct rp_reader *r)
{
    return r->failed ? 0 : r->len - r->at;
}

void rp_put_u8(struct rp_writer *w, uint8_t value);
void rp_put_be(struct rp_writer *w, uint64_t value, unsigned bytes); /* 1..8 bytes, big endian */
void rp_put_view(struct rp_writer *w, struct rp_view view);
/* LEB128, least significant group first, as protobuf's varint; 1..10 bytes. */
void rp_put_varint(struct rp_writer *w, uint64_t value);

uint8_t rp_get_u8(struct rp_reader *r);
uint64_t rp_get_be(struct rp_reader *r, unsigned bytes);
/* Refuses a varint longer than needed (a second form of the same number) and one above max. */
uint64_t rp_get_varint(struct rp_reader *r, uint64_t max);

#endif
