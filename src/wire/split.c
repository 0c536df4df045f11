#include "wire/split.h"

#include <string.h>

#include "base/bytes.h"
#include "ridgepost/error.h"
#include "wire/record.h"

int rp_record_segments(size_t len, size_t plain_max)
{
    if (len < 1 || plain_max < 2) {
        return RP_E_INVALID;
    }
    size_t share = plain_max - 1; /* one byte of each segment is the lead byte */
    size_t count = len == 1 ? 1 : (len - 1 + share - 1) / share;
    if (len > RP_RECORD_LEN_MAX || count > RP_RECORD_SEGMENTS_MAX) {
        return RP_E_TOO_LONG;
    }
    return (int)count;
}

int rp_record_split(struct rp_view record, size_t plain_max, size_t index, uint8_t *buf, size_t cap)
{
    int count = rp_record_segments(record.len, plain_max);
    if (count < 0) {
        return count;
    }
    if (index >= (size_t)count) {
        return RP_E_NOT_FOUND;
    }
    size_t share = plain_max - 1, from = 1 + index * share;
    size_t len = record.len - from < share ? record.len - from : share;
    struct rp_writer w = rp_writer_on(buf, cap);
    rp_put_u8(&w, record.bytes[0]);
    rp_put_view(&w, rp_view_of(record.bytes + from, len));
    return w.failed ? RP_E_TOO_LONG : (int)w.len;
}

int rp_record_join(uint8_t *record, size_t cap, size_t len, struct rp_view plain)
{
    if (plain.len < 1 || (len > 0 && (plain.len < 2 || plain.bytes[0] != record[0]))) {
        return RP_E_FORMAT;
    }
    size_t skip = len > 0 ? 1 : 0; /* the lead byte is there already */
    if (len > cap || cap - len < plain.len - skip) {
        return RP_E_TOO_LONG;
    }
    memcpy(record + len, plain.bytes + skip, plain.len - skip);
    return (int)(len + plain.len - skip);
}
