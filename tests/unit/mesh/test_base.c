/* What base holds: told, passed on with segments of the same log, believed only with a proof. The
 * counts and times are the engine's own (src/mesh/hold/base.c); the form is PROTOCOL.md's. */
#include "rp_test.h"

#include <string.h>

#include "one_engine.h"

#define MINUTE (60 * RP_SECOND_US)

static const uint16_t near = 5 << 9 | 1;

/* A segment of `origin` as station `from` passes it on, with a mark `back` before it; `wrong` is
 * XORed to the proof. */
static void hear_marked(struct fixture *fixture, uint16_t origin, uint32_t seq, uint8_t from,
                        uint8_t back, uint32_t wrong)
{
    uint8_t frame[RP_FRAME_LEN_MAX];
    size_t len = make_segment(fixture, origin, seq, 0, frame) - RP_TRAILER_LEN;
    struct rp_mark mark = {
        back, wrong ^ rp_seal_proof(&fixture->seal, fixture->seal.epoch, origin, seq - back)};
    rp_mark_write(&mark, frame + len);
    struct rp_trailer trailer = {.station = from, .marked = true};
    rp_trailer_write(&trailer, frame + len + RP_MARK_LEN);
    hear(fixture, frame, len + RP_MARK_LEN + RP_TRAILER_LEN);
}

static void hear_plain(struct fixture *fixture, uint16_t origin, uint32_t seq)
{
    uint8_t frame[RP_FRAME_LEN_MAX];
    hear(fixture, frame, make_segment(fixture, origin, seq, 4, frame));
}

static void publish(struct fixture *fixture, uint32_t count)
{
    static const uint8_t plain[] = {0x0a, 'x'};
    for (uint32_t seq = 1; seq <= count; seq++) {
        assert_int_equal(
            rp_mesh_publish(fixture->mesh, seq, rp_view_of(plain, sizeof plain), fixture->now_us),
            0);
    }
}

/* The highest sequence of this station's log that is proved to be at base; 0 none. */
static uint32_t proved(struct fixture *fixture)
{
    struct rp_mesh_event event;
    uint32_t upto = 0;
    while (rp_mesh_next_event(fixture->mesh, &event)) {
        if (event.kind == RP_MESH_AT_BASE) {
            assert_int_equal(event.origin, relay);
            upto = event.seq;
        }
    }
    return upto;
}

static void test_a_mark_on_an_own_segment_proves_it_at_base(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    publish(&fixture, 9);
    assert_int_equal(proved(&fixture), 0);
    hear_marked(&fixture, relay, 8, 5, 2, 0);
    assert_int_equal(proved(&fixture), 6);
    hear_marked(&fixture, relay, 9, 5, 4, 0); /* older than what is known */
    assert_int_equal(proved(&fixture), 0);
    hear_marked(&fixture, relay, 9, 5, 0, 0);
    assert_int_equal(proved(&fixture), 9);
    assert_int_equal(counted(&fixture).refused_auth, 0);
    stop(&fixture);
}

static void test_a_wrong_proof_is_counted_and_silences_marks(void **state)
{
    (void)state;
    for (unsigned bit = 0; bit < RP_MARK_PROOF_BITS; bit++) {
        struct fixture fixture;
        start(&fixture, 0);
        publish(&fixture, 9);
        hear_marked(&fixture, relay, 8, 5, 2, 1u << bit);
        assert_int_equal(proved(&fixture), 0);
        assert_int_equal(counted(&fixture).refused_auth, 1);
        /* Ten minutes without belief, so that nobody can try many. */
        hear_marked(&fixture, relay, 8, 5, 2, 0);
        assert_int_equal(proved(&fixture), 0);
        fixture.now_us += 10 * MINUTE;
        hear_marked(&fixture, relay, 8, 5, 2, 0);
        assert_int_equal(proved(&fixture), 6);
        stop(&fixture);
    }
}

/* More than this station ever made, and a mark that reaches below the first segment. */
static void test_a_mark_beyond_the_log_is_not_believed(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    publish(&fixture, 2);
    hear_marked(&fixture, relay, 9, 5, 0, 0);
    assert_int_equal(proved(&fixture), 0);
    hear_marked(&fixture, relay, 2, 5, 2, 0);
    assert_int_equal(proved(&fixture), 0);
    assert_int_equal(counted(&fixture).refused_auth, 1);
    stop(&fixture);
}

/* Frames of this log that leave with a mark from now on, until `heard` more have come in. */
static unsigned passed_on(struct fixture *fixture, uint32_t from_seq, uint32_t heard,
                          uint32_t *out_upto)
{
    unsigned marked = 0;
    for (uint32_t seq = from_seq; seq < from_seq + heard; seq++) {
        hear_plain(fixture, high, seq);
        rp_time_us until_us = fixture->now_us + MINUTE;
        while (next_of_kind(fixture, RP_FRAME_SEGMENT, until_us)) {
            struct rp_view frame = rp_view_of(fixture->sent, fixture->sent_len);
            struct rp_trailer trailer;
            struct rp_mark mark;
            assert_int_equal(rp_trailer_read(frame, &trailer), 0);
            if (trailer.marked) {
                assert_true(rp_mark_read(frame, &mark));
                *out_upto = fixture->head.counter - mark.back;
                assert_int_equal(mark.proof, rp_seal_proof(&fixture->seal, fixture->head.epoch,
                                                           high, *out_upto));
                marked++;
            }
        }
        fixture->now_us = until_us;
    }
    return marked;
}

/* 7 -> 4 (this one) -> 5 -> base. */
static void test_a_relay_passes_it_on_with_the_next_segments(void **state)
{
    (void)state;
    struct fixture fixture;
    uint32_t upto = 0;
    start(&fixture, 0);
    struct rp_digest rows = {.battery_pct = 127, .row_count = 1, .rows = {{4, 240}}};
    hear_digest(&fixture, high, 1, rows, true);
    rows.rows[rows.row_count++] = (struct rp_row){6, 240};
    hear_digest(&fixture, near, 1, rows, true);
    assert_int_equal(passed_on(&fixture, 1, 4, &upto), 0);
    hear_marked(&fixture, high, 4, 5, 1, 0);
    /* The origin never says it, so it is told a fixed number of times. */
    assert_int_equal(passed_on(&fixture, 5, 8, &upto), 3);
    assert_int_equal(upto, 3);
    stop(&fixture);
}

/* The last request of this station: the marks of an acknowledgement. */
static unsigned told(struct fixture *fixture, uint32_t *out_upto)
{
    rp_time_us until_us = fixture->now_us + 10 * RP_SECOND_US;
    unsigned marks = 0;
    while (next_of_kind(fixture, RP_FRAME_REQUEST, until_us)) {
        struct rp_request request;
        assert_int_equal(rp_request_read(rp_view_of(fixture->body, fixture->body_len), &request),
                         0);
        for (unsigned i = 0; i < request.mark_count; i++) {
            assert_int_equal(request.marks[i].origin, high);
            *out_upto = request.marks[i].upto;
            marks++;
        }
    }
    fixture->now_us = until_us;
    return marks;
}

/* Half an hour in a band of 1 %. Until the neighbour repeats it, base says it again with the next
 * records, three times in all. */
static void test_base_tells_now_and_then(void **state)
{
    (void)state;
    struct fixture fixture;
    uint32_t upto = 0;
    start(&fixture, 0);
    fixture.mesh->config.is_base = true;
    fixture.now_us = 60 * MINUTE;
    hear_plain(&fixture, high, 1); /* a card, say: nothing follows it yet */
    told(&fixture, &upto);
    unsigned marks = 0;
    for (uint32_t seq = 2; seq <= 8; seq++) {
        hear_plain(&fixture, high, seq);
        marks += told(&fixture, &upto) > 0;
    }
    assert_int_equal(marks, 3);
    assert_int_equal(upto, 4);
    /* Heard with it from the neighbour: told. */
    fixture.now_us += 60 * MINUTE;
    hear_plain(&fixture, high, 9);
    assert_int_equal(told(&fixture, &upto), 1);
    assert_int_equal(upto, 9);
    hear_marked(&fixture, high, 10, 7, 1, 0);
    assert_int_equal(told(&fixture, &upto), 0);
    /* What is not contiguous is not said. */
    fixture.now_us += 60 * MINUTE;
    hear_plain(&fixture, high, 15);
    assert_int_equal(told(&fixture, &upto), 1);
    assert_int_equal(upto, 10);
    assert_int_equal(events_of(&fixture, RP_MESH_AT_BASE), 0);
    stop(&fixture);
}

/* From any member, authenticated: here the neighbour nearer base. */
static void test_an_acknowledgement_brings_marks(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    publish(&fixture, 9);
    /* Held are 9 of station 4; base holds 4.11 up to 7, and 7.42 up to 300. */
    static const uint8_t body[] = {0x84, 0x24, 0x08, 0x0b, 0x07, 0x0e, 0x2a, 0xac, 0x02};
    hear_body(&fixture, RP_FRAME_REQUEST, near, 1, body, sizeof body);
    assert_int_equal(proved(&fixture), 7);
    /* Cut short, a station that cannot be, a sequence 0, one mark too many: refused whole. */
    static const uint8_t wrong[][20] = {
        {4, 0x84, 0x24, 0x08, 0x0b},
        {5, 0x84, 0x24, 0xff, 0x0b, 0x08},
        {5, 0x84, 0x24, 0x08, 0x0b, 0x00},
        {17, 0x84, 0x24, 8, 11, 8, 8, 11, 8, 8, 11, 8, 8, 11, 8, 8, 11, 8}};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        hear_body(&fixture, RP_FRAME_REQUEST, near, (uint32_t)(2 + i), wrong[i] + 1, wrong[i][0]);
        assert_int_equal(counted(&fixture).refused_format, i + 1);
        assert_int_equal(proved(&fixture), 0);
    }
    stop(&fixture);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_mark_on_an_own_segment_proves_it_at_base),
        cmocka_unit_test(test_a_wrong_proof_is_counted_and_silences_marks),
        cmocka_unit_test(test_a_mark_beyond_the_log_is_not_believed),
        cmocka_unit_test(test_a_relay_passes_it_on_with_the_next_segments),
        cmocka_unit_test(test_base_tells_now_and_then),
        cmocka_unit_test(test_an_acknowledgement_brings_marks),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
