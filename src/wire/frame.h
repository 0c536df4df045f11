/* Frames on the air: every bit outside the seal and the first bits inside it. No protobuf here.
 * The byte-level truth is proto/PROTOCOL.md; this header and that text must agree. */
#ifndef RP_WIRE_FRAME_H
#define RP_WIRE_FRAME_H

#include <stdbool.h>
#include <stdint.h>

#include "ridgepost/view.h"

/* Net time counts seconds from 2026-01-01T00:00:00Z (unix 1767225600): a time of this decade then
 * fits a 4-byte varint until 2034. */
#define RP_NET_EPOCH_UNIX_S 1767225600

#define RP_FRAME_VERSION    0
#define RP_TAG_LEN          8         /* AES-CCM-16-64-128, RFC 9053 table 6 */
#define RP_TRAILER_LEN      4         /* hop trailer after a segment, outside the seal */
#define RP_MARK_LEN         4         /* base mark before the trailer, when the trailer says so */
#define RP_SEQ_MAX          2097151u  /* 3-byte varint: 2^21 - 1 */
#define RP_COUNTER_MAX      16777215u /* control frames: 3 bytes */
#define RP_STATION_MIN      1
#define RP_STATION_MAX      99
#define RP_GENERATION_MAX   511

enum rp_frame_kind {
    RP_FRAME_SEGMENT = 0,
    RP_FRAME_DIGEST = 1,
    RP_FRAME_VECTOR = 2,
    RP_FRAME_REQUEST = 3, /* a need or an acknowledgement, told apart inside the seal */
};

/* origin = station number (7 bits) << 9 | random generation (9 bits) */
static inline uint8_t rp_origin_station(uint16_t origin)
{
    return (uint8_t)(origin >> 9);
}

static inline uint16_t rp_origin_make(uint8_t station, uint16_t generation)
{
    return (uint16_t)((station << 9) | (generation & RP_GENERATION_MAX));
}

/* The clear, authenticated start of every frame: first byte, origin, sequence or counter. */
struct rp_frame_head {
    enum rp_frame_kind kind;
    uint8_t epoch;    /* of the key, 0..3 */
    bool first, last; /* segments: first / last of a record; false in control frames */
    uint16_t origin;  /* segments: whose log; control frames: who sends it */
    uint32_t counter; /* segments: sequence 1..RP_SEQ_MAX (varint, 1-3 bytes);
                       * control frames: 1..RP_COUNTER_MAX (3 bytes, big endian) */
};

/* Longest encoded head, in bytes: first byte 1, origin 2, counter 3. */
#define RP_HEAD_LEN_MAX 6

/* Reads a head; returns its length in bytes. RP_E_TRUNCATED, RP_E_VERSION, RP_E_FORMAT (reserved
 * bits, station number outside 1..99, counter 0, a varint longer than needed). */
int rp_frame_head_read(struct rp_view frame, struct rp_frame_head *out_head);
/* Writes a head; returns its length. RP_E_INVALID, or RP_E_TOO_LONG when cap is too small. */
int rp_frame_head_write(const struct rp_frame_head *head, uint8_t *buf, size_t cap);

/* The hop trailer: written by the transmitting station, outside the seal. A hint that steers
 * timers, never evidence of delivery (see PROTOCOL.md). */
struct rp_trailer {
    uint8_t station;     /* who transmits, 1..99 */
    uint8_t previous;    /* from whom it had the segment, 0 at the origin */
    uint8_t named;       /* who should forward next, 0 nobody */
    bool retransmission; /* the same station sent it before */
    bool marked;         /* a base mark stands between the segment and this trailer */
    uint8_t counter;     /* transmit counter modulo 16, for reception ratios */
    uint8_t hops;        /* from the origin, 0..7; 7 stands for more, too */
    uint8_t promise;     /* 0 none, else the origin enters its next record within ... (0..7) */
};

#define RP_TRAILER_COUNTERS 16
#define RP_HOPS_MAX         7
/* The promises a trailer can carry, in minutes; 0 none. */
extern const uint8_t rp_promise_min[8];

int rp_trailer_read(struct rp_view frame, struct rp_trailer *out_trailer); /* the last 4 bytes */
/* The stations are within their bounds: the caller's promise. */
void rp_trailer_write(const struct rp_trailer *trailer, uint8_t out_bytes[RP_TRAILER_LEN]);

/* The base mark: base holds this log up to some segments before the one it travels with. Only a
 * member of the net can make the proof (rp_seal_proof). */
struct rp_mark {
    uint8_t back;   /* how many segments before, 0..RP_MARK_BACK_MAX */
    uint32_t proof; /* 26 bits */
};

#define RP_MARK_BACK_MAX   63
#define RP_MARK_PROOF_BITS 26

/* Of a segment frame as it was on air: the bytes before trailer and mark; 0 when there are none. */
size_t rp_segment_sealed_len(struct rp_view frame);
/* The mark of a segment frame whose trailer says that there is one; false when it is too short. */
bool rp_mark_read(struct rp_view frame, struct rp_mark *out_mark);
void rp_mark_write(const struct rp_mark *mark, uint8_t out_bytes[RP_MARK_LEN]);

/* The lead byte: first byte inside the seal of every segment. */
struct rp_lead {
    bool urgent;   /* bit 7 */
    bool exercise; /* bit 6 */
    bool unsynced; /* bit 5: the origin's clock was not synchronised */
    uint8_t kind;  /* bits 4-0: enum rp_record_kind */
};

static inline uint8_t rp_lead_pack(struct rp_lead lead)
{
    return (uint8_t)((lead.urgent ? 0x80 : 0) | (lead.exercise ? 0x40 : 0) |
                     (lead.unsynced ? 0x20 : 0) | (lead.kind & 0x1f));
}

static inline struct rp_lead rp_lead_unpack(uint8_t byte)
{
    return (struct rp_lead){(byte & 0x80) != 0, (byte & 0x40) != 0, (byte & 0x20) != 0,
                            byte & 0x1f};
}

/* Order of sending, most important first. */
enum rp_class {
    RP_CLASS_URGENT,
    RP_CLASS_STATUS,       /* the newest status report of each stream; older ones are history */
    RP_CLASS_COORDINATION, /* receipts, answers, read-backs, treatments, chamber events ... */
    RP_CLASS_HISTORY,      /* the rest, from new to old */
};

/* The class of a segment from its lead byte: urgent when bit 7 is set, else by record kind. */
enum rp_class rp_segment_class(uint8_t lead_byte);
/* The stream of a status report (episode number, 1..255), or -1 for anything else. `plain` starts
 * with the lead byte of a record's FIRST segment. */
int rp_segment_stream(struct rp_view plain);
/* When the record was entered, seconds since the net epoch; -1 when it does not say. `plain` as
 * above. */
int64_t rp_segment_entry_s(struct rp_view plain);

#endif
