#include "sim/trial/outsider.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

#include "wire/record.h"

#define WORDS_CAP  48
#define NEWER_KIND 30  /* a record kind that this version does not know */
#define SEND_AGAIN 700 /* permille: the newer station repeats its last segment */

void sim_outsider_init(struct sim_outsider *outsider, uint64_t seed)
{
    memset(outsider, 0, sizeof *outsider);
    outsider->rng = rp_rng_seeded(seed ^ 0x0a77ac6e4u);
    rp_seal_init(&outsider->seal, (const uint8_t *)SIM_SECRET, 0);
}

void sim_outsider_deinit(struct sim_outsider *outsider)
{
    rp_seal_deinit(&outsider->seal);
}

void sim_outsider_hear(struct sim_outsider *outsider, struct rp_view frame)
{
    struct sim_overheard *place =
        &outsider->overheard[outsider->overheard_count++ % SIM_OVERHEARD_MAX];
    place->len = (uint16_t)frame.len;
    memcpy(place->bytes, frame.bytes, frame.len);
}

/* The part of a frame that is sealed: all, or all but what stands behind a segment. */
static size_t sealed_len(const uint8_t *bytes, size_t len)
{
    struct rp_frame_head head;
    bool segment = rp_frame_head_read((struct rp_view){bytes, len}, &head) > 0 &&
                   head.kind == RP_FRAME_SEGMENT;
    return segment ? rp_segment_sealed_len((struct rp_view){bytes, len}) : len;
}

bool sim_outsider_damage(struct rp_rng *rng, uint8_t *bytes, size_t *len)
{
    size_t before = sealed_len(bytes, *len);
    uint8_t original[RP_FRAME_LEN_MAX];
    memcpy(original, bytes, *len);
    if (rp_rng_below(rng, 4) == 0 && *len > 1) {
        *len = (size_t)rp_rng_between(rng, 1, (int64_t)*len - 1);
        return sealed_len(bytes, *len) != before;
    }
    for (uint64_t flips = 1 + rp_rng_below(rng, 8); flips > 0; flips--) {
        bytes[rp_rng_below(rng, *len)] ^= (uint8_t)(1u << rp_rng_below(rng, 8));
    }
    return sealed_len(bytes, *len) != before || memcmp(original, bytes, before) != 0;
}

/* Says that base holds what a segment belongs to, without being able to prove it. False: it is no
 * segment, or there is no room. */
static bool add_mark(struct rp_rng *rng, uint8_t *bytes, size_t *len)
{
    struct rp_view frame = {bytes, *len};
    struct rp_frame_head head;
    struct rp_trailer trailer;
    if (rp_frame_head_read(frame, &head) < 0 || head.kind != RP_FRAME_SEGMENT ||
        rp_trailer_read(frame, &trailer) < 0) {
        return false;
    }
    size_t sealed = rp_segment_sealed_len(frame);
    struct rp_mark mark = {(uint8_t)rp_rng_below(rng, RP_MARK_BACK_MAX + 1),
                           (uint32_t)rp_rng_below(rng, 1u << RP_MARK_PROOF_BITS)};
    if (sealed == 0 || sealed + RP_MARK_LEN + RP_TRAILER_LEN > RP_FRAME_LEN_MAX) {
        return false;
    }
    trailer.marked = true;
    rp_mark_write(&mark, bytes + sealed);
    rp_trailer_write(&trailer, bytes + sealed + RP_MARK_LEN);
    *len = sealed + RP_MARK_LEN + RP_TRAILER_LEN;
    return true;
}

static void send(struct sim_outsider *outsider, struct sim_world *world, bool forged,
                 struct rp_view frame)
{
    for (unsigned to = 0; to < world->count; to++) {
        if (rp_rng_below(&outsider->rng, 2) == 0) {
            sim_world_bring(world, to, forged ? SIM_ARRIVAL_FORGED : SIM_ARRIVAL_FRAME, frame, 0);
        }
    }
}

bool sim_outsider_attack(struct sim_outsider *outsider, struct sim_world *world, char *out_words)
{
    unsigned known = outsider->overheard_count < SIM_OVERHEARD_MAX ? outsider->overheard_count
                                                                   : SIM_OVERHEARD_MAX;
    if (known == 0) {
        return false;
    }
    struct sim_overheard copy = outsider->overheard[rp_rng_below(&outsider->rng, known)];
    size_t len = copy.len;
    bool changed = rp_rng_below(&outsider->rng, 2) == 0;
    bool marked = changed && rp_rng_below(&outsider->rng, 4) == 0 &&
                  add_mark(&outsider->rng, copy.bytes, &len);
    bool forged = changed && !marked && sim_outsider_damage(&outsider->rng, copy.bytes, &len);
    snprintf(out_words, WORDS_CAP, "%s",
             !changed ? "replays a frame"
             : marked ? "sends a segment with a mark of its own"
             : forged ? "sends a changed frame"
                      : "sends a frame with a changed trailer");
    send(outsider, world, forged, (struct rp_view){copy.bytes, len});
    return true;
}

/* A record of an unknown kind, or a status report with a field of the future. */
static size_t newer_plain(struct sim_outsider *outsider, uint8_t *plain, size_t cap)
{
    if (rp_rng_below(&outsider->rng, 2) == 0) {
        size_t len = 2 + rp_rng_below(&outsider->rng, 30);
        plain[0] = NEWER_KIND;
        for (size_t i = 1; i < len; i++) {
            plain[i] = (uint8_t)rp_rng_next(&outsider->rng);
        }
        return len;
    }
    struct rp_record record = {.kind = RP_REC_NOTE, .time_s = 5000000};
    snprintf(record.as.note.text, sizeof record.as.note.text, "from the future");
    int len = rp_record_encode(&record, plain, cap - 3, NULL);
    assert(len > 0);
    /* Field 100, varint, value 1: protobuf encoding, "Message Structure". */
    plain[len] = 0xa0;
    plain[len + 1] = 0x06;
    plain[len + 2] = 0x01;
    return (size_t)len + 3;
}

static void newer_segment(struct sim_outsider *outsider, struct sim_world *world)
{
    uint8_t plain[RP_FRAME_LEN_MAX];
    size_t plain_len = newer_plain(outsider, plain, 100);
    uint16_t origin = rp_origin_make(SIM_NEWER_STATION, 1);
    struct rp_frame_head head = {.kind = RP_FRAME_SEGMENT,
                                 .first = true,
                                 .last = true,
                                 .origin = origin,
                                 .counter = ++outsider->newer_seq};
    int len = rp_frame_seal(&outsider->seal, &head, (struct rp_view){plain, plain_len},
                            outsider->newer.bytes, sizeof outsider->newer.bytes - RP_TRAILER_LEN);
    assert(len > 0);
    sim_truth_made_outside(&world->truth, origin, head.counter,
                           (struct rp_view){outsider->newer.bytes, (size_t)len}, world->now_us);
    struct rp_trailer trailer = {.station = SIM_NEWER_STATION};
    rp_trailer_write(&trailer, outsider->newer.bytes + len);
    outsider->newer.len = (uint16_t)(len + RP_TRAILER_LEN);
}

/* A digest of a form that this version does not know, sealed well. */
static void newer_digest(struct sim_outsider *outsider, struct sim_world *world)
{
    uint8_t body[64], frame[RP_FRAME_LEN_MAX];
    size_t body_len = 1 + rp_rng_below(&outsider->rng, sizeof body);
    for (size_t i = 0; i < body_len; i++) {
        body[i] = (uint8_t)rp_rng_next(&outsider->rng);
    }
    struct rp_frame_head head = {.kind = RP_FRAME_DIGEST,
                                 .origin = rp_origin_make(SIM_NEWER_STATION, 1),
                                 .counter = ++outsider->newer_counter};
    int len = rp_frame_seal(&outsider->seal, &head, (struct rp_view){body, body_len}, frame,
                            sizeof frame);
    assert(len > 0);
    send(outsider, world, false, (struct rp_view){frame, (size_t)len});
}

void sim_outsider_newer(struct sim_outsider *outsider, struct sim_world *world, char *out_words)
{
    uint64_t what = rp_rng_below(&outsider->rng, 3);
    struct sim_overheard *newer = &outsider->newer;
    if (what == 0) {
        /* The version bits of the first byte: a frame nobody here can read. */
        uint8_t frame[24];
        for (size_t i = 0; i < sizeof frame; i++) {
            frame[i] = (uint8_t)rp_rng_next(&outsider->rng);
        }
        frame[0] = (uint8_t)(frame[0] | 0x40);
        snprintf(out_words, WORDS_CAP, "sends a frame of another version");
        send(outsider, world, true, (struct rp_view){frame, sizeof frame});
    } else if (what == 1) {
        snprintf(out_words, WORDS_CAP, "sends a control frame of a newer form");
        newer_digest(outsider, world);
    } else {
        if (newer->len == 0 || rp_rng_below(&outsider->rng, 1000) >= SEND_AGAIN) {
            newer_segment(outsider, world);
        }
        snprintf(out_words, WORDS_CAP, "sends a record of a newer version");
        send(outsider, world, false, (struct rp_view){newer->bytes, newer->len});
    }
}
