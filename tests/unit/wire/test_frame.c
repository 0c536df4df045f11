#include "rp_test.h"

#include <string.h>

#include "base/bytes.h"
#include "base/rng.h"
#include "ridgepost/error.h"
#include "wire/frame.h"
#include "wire/record.h"

#define ORIGIN_7 0x0e2a /* station 7, generation 42 */

static int read_bytes(const char *bytes, size_t len, struct rp_frame_head *out_head)
{
    return rp_frame_head_read(rp_view_of(bytes, len), out_head);
}

/* Every legal first byte, every origin class, and sequences at each varint step. */
static void heads_round_trip(void **state)
{
    (void)state;
    static const uint32_t counters[] = {1, 127, 128, 16383, 16384, RP_SEQ_MAX, RP_COUNTER_MAX};
    static const size_t segment_len[] = {4, 4, 5, 5, 6, 6};
    for (unsigned bits = 0; bits < 64; bits++) {
        for (size_t i = 0; i < 7; i++) {
            struct rp_frame_head head = {.kind = (enum rp_frame_kind)(bits >> 4),
                                         .epoch = bits >> 2 & 3,
                                         .first = (bits & 2) != 0,
                                         .last = (bits & 1) != 0,
                                         .origin = ORIGIN_7,
                                         .counter = counters[i]},
                                 back = {0};
            uint8_t buf[RP_HEAD_LEN_MAX];
            int len = rp_frame_head_write(&head, buf, sizeof buf);
            bool segment = head.kind == RP_FRAME_SEGMENT;
            if (segment ? i == 6 : (bits & 3) != 0) {
                assert_int_equal(len, RP_E_INVALID);
                continue;
            }
            assert_int_equal(len, segment ? segment_len[i] : 6);
            assert_int_equal(buf[0], bits);
            assert_int_equal(rp_frame_head_read(rp_view_of(buf, (size_t)len), &back), len);
            assert_int_equal(back.kind, head.kind);
            assert_int_equal(back.epoch, head.epoch);
            assert_int_equal(back.first, head.first);
            assert_int_equal(back.last, head.last);
            assert_int_equal(back.origin, head.origin);
            assert_int_equal(back.counter, head.counter);
            for (int cut = 0; cut < len; cut++) {
                assert_int_equal(rp_frame_head_read(rp_view_of(buf, (size_t)cut), &back),
                                 RP_E_TRUNCATED);
                assert_int_equal(rp_frame_head_write(&head, buf, (size_t)cut), RP_E_TOO_LONG);
            }
        }
    }
}

static void heads_refuse_what_is_not_minimal_or_reserved(void **state)
{
    (void)state;
    struct rp_frame_head head = {.counter = 77};
    assert_int_equal(read_bytes("\x03\x0e\x2a\x81\x00", 5, &head), RP_E_FORMAT);
    assert_int_equal(read_bytes("\x03\x0e\x2a\x81\x80\x00", 6, &head), RP_E_FORMAT);
    assert_int_equal(read_bytes("\x03\x0e\x2a\x81\x81\x81\x01", 7, &head), RP_E_FORMAT);
    assert_int_equal(read_bytes("\x03\x0e\x2a\x00", 4, &head), RP_E_FORMAT);
    assert_int_equal(read_bytes("\x10\x0e\x2a\x00\x00\x00", 6, &head), RP_E_FORMAT);
    assert_int_equal(read_bytes("\x12\x0e\x2a\x00\x00\x01", 6, &head), RP_E_FORMAT);
    assert_int_equal(read_bytes("\x11\x0e\x2a\x00\x00\x01", 6, &head), RP_E_FORMAT);
    assert_int_equal(read_bytes("\x43\x0e\x2a\x01", 4, &head), RP_E_VERSION);
    assert_int_equal(read_bytes("\xc3\x0e\x2a\x01", 4, &head), RP_E_VERSION);
    assert_int_equal(head.counter, 77); /* untouched on failure */
}

/* All 65,536 origins: stations 1 to 99 and nothing else. */
static void heads_accept_stations_1_to_99(void **state)
{
    (void)state;
    unsigned accepted = 0;
    for (unsigned origin = 0; origin < 65536; origin++) {
        uint8_t bytes[] = {0x03, (uint8_t)(origin >> 8), (uint8_t)origin, 0x01};
        struct rp_frame_head head;
        int rc = rp_frame_head_read(rp_view_of(bytes, sizeof bytes), &head);
        bool legal = origin >> 9 >= 1 && origin >> 9 <= 99;
        assert_int_equal(rc, legal ? 4 : RP_E_FORMAT);
        accepted += legal;
        struct rp_frame_head out = {.origin = (uint16_t)origin, .counter = 1};
        uint8_t buf[RP_HEAD_LEN_MAX];
        assert_int_equal(rp_frame_head_write(&out, buf, sizeof buf), legal ? 4 : RP_E_INVALID);
    }
    assert_int_equal(accepted, 99 * 512);
}

static void trailer_has_its_published_layout(void **state)
{
    (void)state;
    struct rp_trailer t = {.station = 4,
                           .previous = 7,
                           .named = 2,
                           .retransmission = true,
                           .counter = 9,
                           .hops = 1,
                           .promise = 3};
    uint8_t bytes[RP_TRAILER_LEN];
    rp_trailer_write(&t, bytes);
    /* 4 07 02 is 40702 = 0x09efe; 0 1 1001 001 011 (PROTOCOL.md, "Hop trailer") */
    assert_memory_equal(bytes, "\x09\xef\xe6\x4b", 4);
    struct rp_trailer back;
    assert_int_equal(rp_trailer_read(rp_view_of(bytes, 4), &back), 0);
    assert_int_equal(back.station, 4);
    assert_int_equal(back.previous, 7);
    assert_int_equal(back.named, 2);
    assert_true(back.retransmission);
    assert_int_equal(back.counter, 9);
    assert_int_equal(back.hops, 1);
    assert_int_equal(back.promise, 3);
}

static void trailer_round_trips(void **state)
{
    (void)state;
    for (unsigned a = 1; a <= 99; a++) {
        for (unsigned b = 0; b <= 99; b++) {
            struct rp_trailer t = {.station = (uint8_t)a,
                                   .previous = (uint8_t)b,
                                   .named = (uint8_t)((a + b) % 100),
                                   .marked = (a + b) % 3 == 0,
                                   .retransmission = a % 2 == 1,
                                   .counter = b % 16,
                                   .hops = a % 8,
                                   .promise = (a + b) % 8},
                              back;
            uint8_t frame[9] = {0xff, 0xff, 0xff, 0xff, 0xff};
            rp_trailer_write(&t, frame + 5);
            assert_int_equal(rp_trailer_read(rp_view_of(frame, sizeof frame), &back), 0);
            assert_int_equal(back.station, a);
            assert_int_equal(back.previous, b);
            assert_int_equal(back.named, t.named);
            assert_int_equal(back.marked, t.marked);
            assert_int_equal(back.retransmission, t.retransmission);
            assert_int_equal(back.counter, t.counter);
            assert_int_equal(back.hops, t.hops);
            assert_int_equal(back.promise, t.promise);
        }
    }
    struct rp_trailer back;
    assert_int_equal(rp_trailer_read(rp_view_of("\x08\x1c\x16", 3), &back), RP_E_TRUNCATED);
}

/* Of the 2^20 values of the stations: 99 * 100 * 100 are said, from 10000 on. */
static void trailer_refuses_stations_that_cannot_be(void **state)
{
    (void)state;
    unsigned accepted = 0;
    for (uint32_t stations = 0; stations < 1u << 20; stations++) {
        uint8_t bytes[4] = {(uint8_t)(stations >> 12), (uint8_t)(stations >> 4),
                            (uint8_t)(stations << 4), 0};
        struct rp_trailer t;
        int rc = rp_trailer_read(rp_view_of(bytes, 4), &t);
        bool legal = stations >= 10000 && stations < 1000000;
        assert_int_equal(rc, legal ? 0 : RP_E_FORMAT);
        accepted += rc == 0;
    }
    assert_int_equal(accepted, 990000);
}

static void mark_has_its_published_layout(void **state)
{
    (void)state;
    /* A segment of 3 bytes, a mark 5 back with proof 0x1234567, a trailer of station 4 that says so
     * (PROTOCOL.md, "Base mark"): 000101 01001000110100010101100111. */
    uint8_t frame[11] = {1, 2, 3};
    rp_mark_write(&(struct rp_mark){.back = 5, .proof = 0x1234567}, frame + 3);
    assert_memory_equal(frame + 3, "\x15\x23\x45\x67", 4);
    rp_trailer_write(&(struct rp_trailer){.station = 4, .marked = true}, frame + 7);
    struct rp_mark mark;
    assert_int_equal(rp_segment_sealed_len(rp_view_of(frame, sizeof frame)), 3);
    assert_true(rp_mark_read(rp_view_of(frame, sizeof frame), &mark));
    assert_int_equal(mark.back, 5);
    assert_int_equal(mark.proof, 0x1234567);
    /* Without the flag the same bytes are part of the segment; and nothing is left of too few. */
    rp_trailer_write(&(struct rp_trailer){.station = 4}, frame + 7);
    assert_int_equal(rp_segment_sealed_len(rp_view_of(frame, sizeof frame)), 7);
    rp_trailer_write(&(struct rp_trailer){.station = 4, .marked = true}, frame + 7);
    assert_int_equal(rp_segment_sealed_len(rp_view_of(frame + 3, 8)), 0);
    assert_false(rp_mark_read(rp_view_of(frame + 4, 7), &mark));
}

static void lead_bytes_round_trip(void **state)
{
    (void)state;
    for (unsigned byte = 0; byte < 256; byte++) {
        assert_int_equal(rp_lead_pack(rp_lead_unpack((uint8_t)byte)), byte);
    }
}

static void classes_follow_the_record_kinds(void **state)
{
    (void)state;
    for (unsigned byte = 0x80; byte < 256; byte++) {
        assert_int_equal(rp_segment_class((uint8_t)byte), RP_CLASS_URGENT);
    }
    for (unsigned flags = 0; flags < 0x80; flags += 0x20) {
        for (unsigned kind = 0; kind < 32; kind++) {
            enum rp_class want = RP_CLASS_COORDINATION;
            if (kind == RP_REC_STATUS) {
                want = RP_CLASS_STATUS;
            } else if (kind == 0 || kind > 23 || kind == RP_REC_STATION || kind == RP_REC_NOTE ||
                       kind == RP_REC_CLOCK || kind == RP_REC_PUMPING) {
                want = RP_CLASS_HISTORY;
            }
            assert_int_equal(rp_segment_class((uint8_t)(flags | kind)), want);
        }
    }
}

static void only_status_reports_have_a_stream(void **state)
{
    (void)state;
    assert_int_equal(rp_segment_stream(rp_view_of("\x04\x03", 2)), 3);
    assert_int_equal(rp_segment_stream(rp_view_of("\xe4\xff", 2)), 255);
    assert_int_equal(rp_segment_stream(rp_view_of("\x04\x00", 2)), -1);
    assert_int_equal(rp_segment_stream(rp_view_of("\x04", 1)), -1);
    assert_int_equal(rp_segment_stream(rp_view_of("\x05\x03", 2)), -1);
    assert_int_equal(rp_segment_stream(rp_view_of("", 0)), -1);
    /* Behind lead byte and stream: PROTOCOL.md, "Record", time 23,992,900. */
    assert_int_equal(rp_segment_entry_s(rp_view_of("\x06\xc4\xb4\xb8\x0b", 5)), 23992900);
    assert_int_equal(rp_segment_entry_s(rp_view_of("\x04\x01\xc4\xb4\xb8\x0b", 6)), 23992900);
    assert_int_equal(rp_segment_entry_s(rp_view_of("\x06\xc4\xb4", 3)), -1);
    assert_int_equal(rp_segment_entry_s(rp_view_of("", 0)), -1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(heads_round_trip),
        cmocka_unit_test(heads_refuse_what_is_not_minimal_or_reserved),
        cmocka_unit_test(heads_accept_stations_1_to_99),
        cmocka_unit_test(trailer_has_its_published_layout),
        cmocka_unit_test(trailer_round_trips),
        cmocka_unit_test(trailer_refuses_stations_that_cannot_be),
        cmocka_unit_test(mark_has_its_published_layout),
        cmocka_unit_test(lead_bytes_round_trip),
        cmocka_unit_test(classes_follow_the_record_kinds),
        cmocka_unit_test(only_status_reports_have_a_stream),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
