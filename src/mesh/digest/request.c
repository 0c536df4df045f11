/* Requests, that is needs and acknowledgements, to bytes and back (PROTOCOL.md, "Request"). */
#include "mesh/state.h"

#define SHORT_NEED_LEN 3

size_t rp_request_write(const struct rp_request *request, uint8_t *buf, size_t cap)
{
    struct rp_writer w = rp_writer_on(buf, cap);
    rp_put_u8(&w, (uint8_t)((request->is_ack ? 0x80 : 0) | (request->station & 127)));
    if (request->is_ack) {
        rp_put_varint(&w, (uint64_t)request->seq << 2 | (uint64_t)request->forwards << 1 |
                              request->all_below);
        for (unsigned i = 0; i < request->mark_count; i++) {
            rp_put_be(&w, request->marks[i].origin, 2);
            rp_put_varint(&w, request->marks[i].upto);
        }
    }
    if (request->is_short) {
        const struct rp_need_entry *entry = &request->entries[0];
        rp_put_u8(&w, (uint8_t)((entry->count == 0 ? 0x80 : 0) | rp_origin_station(entry->origin)));
        rp_put_u8(&w, (uint8_t)entry->last);
    }
    for (unsigned i = 0; !request->is_ack && !request->is_short && i < request->count; i++) {
        const struct rp_need_entry *entry = &request->entries[i];
        rp_put_be(&w, entry->origin, 2);
        rp_put_varint(&w, (uint64_t)entry->last << 1 | (entry->count != 1));
        if (entry->count != 1) {
            rp_put_u8(&w, (uint8_t)(entry->count > 0 ? entry->count - 1 : 0));
        }
    }
    return w.failed ? 0 : w.len;
}

static void need_read(struct rp_reader *r, struct rp_request *request)
{
    while (rp_reader_left(r) > 0 && request->count < RP_NEED_MAX) {
        struct rp_need_entry entry = {.origin = (uint16_t)rp_get_be(r, 2), .count = 1};
        uint64_t mark = rp_get_varint(r, (uint64_t)RP_SEQ_MAX << 1 | 1);
        entry.last = (uint32_t)(mark >> 1);
        if ((mark & 1) != 0) {
            entry.count = rp_get_u8(r) + 1u;
            entry.count = entry.count > 1 ? entry.count : 0; /* 0: and all above it */
        }
        uint8_t station = rp_origin_station(entry.origin);
        if (station < RP_STATION_MIN || station > RP_STATION_MAX || entry.last == 0 ||
            entry.count > entry.last) {
            r->failed = true;
        }
        request->entries[request->count++] = entry;
    }
    if (request->count == 0 || rp_reader_left(r) > 0) {
        r->failed = true;
    }
}

static void short_need_read(struct rp_reader *r, struct rp_request *request)
{
    uint8_t head = rp_get_u8(r);
    uint8_t station = head & 127;
    request->is_short = true;
    request->count = 1;
    request->entries[0] = (struct rp_need_entry){.origin = (uint16_t)(station << 9),
                                                 .last = rp_get_u8(r),
                                                 .count = (head & 0x80) != 0 ? 0 : 1};
    r->failed = r->failed || station < RP_STATION_MIN || station > RP_STATION_MAX;
}

static void ack_read(struct rp_reader *r, struct rp_request *request)
{
    uint64_t held = rp_get_varint(r, (uint64_t)RP_SEQ_MAX << 2 | 3);
    request->seq = (uint32_t)(held >> 2);
    request->forwards = (held & 2) != 0;
    request->all_below = (held & 1) != 0;
    r->failed = r->failed || request->seq == 0 || request->station < RP_STATION_MIN;
    while (rp_reader_left(r) > 0 && request->mark_count < RP_BASE_MARKS_MAX) {
        struct rp_base_mark mark = {.origin = (uint16_t)rp_get_be(r, 2)};
        mark.upto = (uint32_t)rp_get_varint(r, RP_SEQ_MAX);
        uint8_t station = rp_origin_station(mark.origin);
        r->failed =
            r->failed || station < RP_STATION_MIN || station > RP_STATION_MAX || mark.upto == 0;
        request->marks[request->mark_count++] = mark;
    }
    r->failed = r->failed || rp_reader_left(r) > 0;
}

int rp_request_read(struct rp_view body, struct rp_request *out_request)
{
    struct rp_reader r = rp_reader_on(body);
    uint8_t head = rp_get_u8(&r);
    struct rp_request request = {.is_ack = (head & 0x80) != 0, .station = head & 127};
    if (request.is_ack) {
        ack_read(&r, &request);
    } else if (body.len == SHORT_NEED_LEN) {
        short_need_read(&r, &request);
    } else {
        need_read(&r, &request);
    }
    if (r.failed || request.station > RP_STATION_MAX) {
        return RP_E_FORMAT;
    }
    *out_request = request;
    return 0;
}
