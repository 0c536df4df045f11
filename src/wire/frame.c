#include "wire/frame.h"

#include "base/bytes.h"
#include "ridgepost/error.h"
#include "wire/record.h"

const uint8_t rp_promise_min[8] = {0, 5, 10, 15, 20, 30, 60, 120};

/* First byte: version 7-6, kind 5-4, epoch 3-2, first 1, last 0. */
#define VERSION_SHIFT 6
#define KIND_SHIFT    4
#define EPOCH_SHIFT   2
#define FIRST_BIT     0x02
#define LAST_BIT      0x01

/* Trailer, as one 32-bit big-endian number: the three stations as decimal digits of base 100 31-12,
 * marked 11, retransmission 10, counter 9-6, hops 5-3, promise 2-0. */
#define STATIONS       100u
#define STATIONS_SHIFT 12
#define MARKED_SHIFT   11
#define RETRANS_SHIFT  10
#define COUNTER_SHIFT  6
#define HOPS_SHIFT     3

static bool station_valid(unsigned station)
{
    return station >= RP_STATION_MIN && station <= RP_STATION_MAX;
}

/* A sequence of 1 to 3 groups of 7 bits; tells bytes that end early from bytes that are wrong. */
static int sequence_read(struct rp_reader *r, uint32_t *out_seq)
{
    uint32_t seq = 0;
    for (unsigned shift = 0; shift <= 14; shift += 7) {
        if (rp_reader_left(r) == 0) {
            return RP_E_TRUNCATED;
        }
        uint8_t byte = rp_get_u8(r);
        seq |= (uint32_t)(byte & 0x7f) << shift;
        if ((byte & 0x80) == 0) {
            if (byte == 0 && shift > 0) {
                return RP_E_FORMAT; /* a second form of the same number */
            }
            *out_seq = seq;
            return 0;
        }
    }
    return RP_E_FORMAT;
}

static int counter_read(struct rp_reader *r, enum rp_frame_kind kind, uint32_t *out_counter)
{
    if (kind == RP_FRAME_SEGMENT) {
        return sequence_read(r, out_counter);
    }
    uint32_t counter = (uint32_t)rp_get_be(r, 3);
    if (r->failed) {
        return RP_E_TRUNCATED;
    }
    *out_counter = counter;
    return 0;
}

int rp_frame_head_read(struct rp_view frame, struct rp_frame_head *out_head)
{
    struct rp_reader r = rp_reader_on(frame);
    if (frame.len < 1) {
        return RP_E_TRUNCATED;
    }
    uint8_t byte = rp_get_u8(&r);
    if (byte >> VERSION_SHIFT != RP_FRAME_VERSION) {
        return RP_E_VERSION;
    }
    struct rp_frame_head head = {
        .kind = (enum rp_frame_kind)(byte >> KIND_SHIFT & 3),
        .epoch = byte >> EPOCH_SHIFT & 3,
        .first = (byte & FIRST_BIT) != 0,
        .last = (byte & LAST_BIT) != 0,
        .origin = (uint16_t)rp_get_be(&r, 2),
    };
    if (r.failed) {
        return RP_E_TRUNCATED;
    }
    int rc = counter_read(&r, head.kind, &head.counter);
    if (rc < 0) {
        return rc;
    }
    if (!station_valid(rp_origin_station(head.origin)) || head.counter == 0 ||
        (head.kind != RP_FRAME_SEGMENT && (head.first || head.last))) {
        return RP_E_FORMAT;
    }
    *out_head = head;
    return (int)r.at;
}

static bool head_valid(const struct rp_frame_head *head)
{
    bool segment = head->kind == RP_FRAME_SEGMENT;
    return head->kind <= RP_FRAME_REQUEST && head->epoch <= 3 &&
           station_valid(rp_origin_station(head->origin)) && head->counter >= 1 &&
           head->counter <= (segment ? RP_SEQ_MAX : RP_COUNTER_MAX) &&
           (segment || (!head->first && !head->last));
}

int rp_frame_head_write(const struct rp_frame_head *head, uint8_t *buf, size_t cap)
{
    if (!head_valid(head)) {
        return RP_E_INVALID;
    }
    struct rp_writer w = rp_writer_on(buf, cap);
    rp_put_u8(&w, (uint8_t)(RP_FRAME_VERSION << VERSION_SHIFT | head->kind << KIND_SHIFT |
                            head->epoch << EPOCH_SHIFT | (head->first ? FIRST_BIT : 0) |
                            (head->last ? LAST_BIT : 0)));
    rp_put_be(&w, head->origin, 2);
    if (head->kind == RP_FRAME_SEGMENT) {
        rp_put_varint(&w, head->counter);
    } else {
        rp_put_be(&w, head->counter, 3);
    }
    return w.failed ? RP_E_TOO_LONG : (int)w.len;
}

int rp_trailer_read(struct rp_view frame, struct rp_trailer *out_trailer)
{
    if (frame.len < RP_TRAILER_LEN) {
        return RP_E_TRUNCATED;
    }
    struct rp_reader r =
        rp_reader_on(rp_view_of(frame.bytes + frame.len - RP_TRAILER_LEN, RP_TRAILER_LEN));
    uint32_t bits = (uint32_t)rp_get_be(&r, RP_TRAILER_LEN);
    uint32_t stations = bits >> STATIONS_SHIFT;
    if (stations >= STATIONS * STATIONS * STATIONS || stations < STATIONS * STATIONS) {
        return RP_E_FORMAT; /* no such station, or station 0 transmits */
    }
    *out_trailer = (struct rp_trailer){
        .station = (uint8_t)(stations / (STATIONS * STATIONS)),
        .previous = (uint8_t)(stations / STATIONS % STATIONS),
        .named = (uint8_t)(stations % STATIONS),
        .marked = (bits >> MARKED_SHIFT & 1) != 0,
        .retransmission = (bits >> RETRANS_SHIFT & 1) != 0,
        .counter = (uint8_t)(bits >> COUNTER_SHIFT & (RP_TRAILER_COUNTERS - 1)),
        .hops = (uint8_t)(bits >> HOPS_SHIFT & RP_HOPS_MAX),
        .promise = (uint8_t)(bits & 7),
    };
    return 0;
}

void rp_trailer_write(const struct rp_trailer *trailer, uint8_t out_bytes[RP_TRAILER_LEN])
{
    uint32_t stations =
        (trailer->station * STATIONS + trailer->previous) * STATIONS + trailer->named;
    uint32_t bits = stations << STATIONS_SHIFT | (uint32_t)trailer->marked << MARKED_SHIFT |
                    (uint32_t)(trailer->retransmission ? 1 : 0) << RETRANS_SHIFT |
                    (uint32_t)(trailer->counter & (RP_TRAILER_COUNTERS - 1)) << COUNTER_SHIFT |
                    (uint32_t)(trailer->hops & RP_HOPS_MAX) << HOPS_SHIFT |
                    (uint32_t)(trailer->promise & 7);
    struct rp_writer w = rp_writer_on(out_bytes, RP_TRAILER_LEN);
    rp_put_be(&w, bits, RP_TRAILER_LEN);
}

size_t rp_segment_sealed_len(struct rp_view frame)
{
    struct rp_trailer trailer;
    size_t behind = RP_TRAILER_LEN;
    if (rp_trailer_read(frame, &trailer) == 0 && trailer.marked) {
        behind += RP_MARK_LEN;
    }
    return frame.len > behind ? frame.len - behind : 0;
}

bool rp_mark_read(struct rp_view frame, struct rp_mark *out_mark)
{
    if (frame.len < RP_MARK_LEN + RP_TRAILER_LEN) {
        return false;
    }
    struct rp_reader r = rp_reader_on(
        rp_view_of(frame.bytes + frame.len - RP_TRAILER_LEN - RP_MARK_LEN, RP_MARK_LEN));
    uint32_t bits = (uint32_t)rp_get_be(&r, RP_MARK_LEN);
    out_mark->back = (uint8_t)(bits >> RP_MARK_PROOF_BITS);
    out_mark->proof = bits & ((1u << RP_MARK_PROOF_BITS) - 1);
    return true;
}

void rp_mark_write(const struct rp_mark *mark, uint8_t out_bytes[RP_MARK_LEN])
{
    struct rp_writer w = rp_writer_on(out_bytes, RP_MARK_LEN);
    rp_put_be(&w, (uint32_t)mark->back << RP_MARK_PROOF_BITS | mark->proof, RP_MARK_LEN);
}

enum rp_class rp_segment_class(uint8_t lead_byte)
{
    /* Class plus one, so that 0 is a kind of a newer version, which can wait. */
    static const uint8_t by_kind[32] = {
#define ROW(name, number, word, class_) [number] = RP_CLASS_##class_ + 1,
        RP_RECORD_KINDS(ROW)
#undef ROW
    };
    struct rp_lead lead = rp_lead_unpack(lead_byte);
    if (lead.urgent) {
        return RP_CLASS_URGENT;
    }
    return by_kind[lead.kind] > 0 ? (enum rp_class)(by_kind[lead.kind] - 1) : RP_CLASS_HISTORY;
}

int rp_segment_stream(struct rp_view plain)
{
    if (plain.len < 2 || rp_lead_unpack(plain.bytes[0]).kind != RP_REC_STATUS) {
        return -1;
    }
    return plain.bytes[1] >= 1 ? plain.bytes[1] : -1;
}

int64_t rp_segment_entry_s(struct rp_view plain)
{
    struct rp_reader r = rp_reader_on(plain);
    struct rp_lead lead = rp_lead_unpack(rp_get_u8(&r));
    if (lead.kind == RP_REC_STATUS) {
        rp_get_u8(&r);
    }
    uint64_t entry_s = rp_get_varint(&r, UINT32_MAX);
    return r.failed ? -1 : (int64_t)entry_s;
}
