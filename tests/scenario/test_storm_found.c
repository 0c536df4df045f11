/* What the simulator's storm found, reduced to one engine that is fed frames by hand. Each test
 * names the seeds of the campaign that showed it; with another build the same seed tells another
 * story, these stay. */
#include "rp_test.h"

#include "mesh/push/profile.h"
#include "one_engine.h"
#include "wire/record.h"

#define MINUTE     (60 * RP_SECOND_US)
#define STATION(n) ((uint16_t)((n) << 9 | 1))

static const uint8_t note[] = {RP_REC_NOTE, 'x'};
static const uint8_t urgent_plain[] = {0x80 | RP_REC_EVACUATION, 1};

/* A digest of a station in the same state that hears those two well; 0: nobody. */
static void hear_rows(struct fixture *fixture, uint8_t station, uint32_t counter, uint8_t one,
                      uint8_t other)
{
    struct rp_digest digest = {.battery_pct = 127};
    uint8_t heard[] = {one, other};
    for (unsigned i = 0; i < 2; i++) {
        if (heard[i] != 0) {
            digest.rows[digest.row_count++] = (struct rp_row){heard[i], 240};
        }
    }
    hear_digest(fixture, STATION(station), counter, digest, true);
}

static void publish(struct fixture *fixture, uint32_t seq, const uint8_t *plain)
{
    assert_int_equal(rp_mesh_publish(fixture->mesh, seq, rp_view_of(plain, 2), fixture->now_us), 0);
}

static void hear_need(struct fixture *fixture, uint8_t station, uint32_t counter,
                      struct rp_need_entry entry)
{
    struct rp_request request = {.station = 4, .count = 1, .entries = {entry}};
    uint8_t body[RP_FRAME_LEN_MAX];
    size_t len = rp_request_write(&request, body, sizeof body);
    assert_true(len > 0);
    hear_body(fixture, RP_FRAME_REQUEST, STATION(station), counter, body, len);
}

/* Two notes: the first is out and names station 5, the second waits until that one's silence is
 * judged; returns that moment. */
static rp_time_us one_out_one_waiting(struct fixture *fixture)
{
    start(fixture, 0);
    hear_rows(fixture, 5, 1, 4, 6);
    publish(fixture, 1, note);
    assert_true(next_of_kind(fixture, RP_FRAME_SEGMENT, MINUTE));
    publish(fixture, 2, note);
    struct rp_pending *first = rp_queue_find(fixture->mesh, relay, 1);
    assert_non_null(first);
    assert_int_equal(first->state, RP_PENDING_AWAIT);
    return first->due_us;
}

/* Seeds 1597 and 5958: a record that waits for another one's silence has been due for seconds when
 * it may go, and was taken for one that had gone before the urgent one was entered. */
static void test_what_waited_long_still_lets_the_urgent_one_go_first(void **state)
{
    (void)state;
    for (rp_time_us before_us = 0; before_us < 20000; before_us += 1000) {
        struct fixture fixture;
        rp_time_us judged_us = one_out_one_waiting(&fixture);
        assert_int_equal(next_frame(&fixture, judged_us - before_us - 1), 0);
        publish(&fixture, 3, urgent_plain);
        assert_true(next_of_kind(&fixture, RP_FRAME_SEGMENT, judged_us + MINUTE));
        assert_int_equal(fixture.head.counter, 3);
        stop(&fixture);
    }
}

/* The first segment of station 7, urgent, as it transmits it naming this station. */
static void hear_urgent(struct fixture *fixture)
{
    struct rp_frame_head head = {.first = true, .last = true, .origin = high, .counter = 1};
    uint8_t frame[RP_FRAME_LEN_MAX];
    int len = rp_frame_seal(&fixture->seal, &head, rp_view_of(urgent_plain, 2), frame,
                            sizeof frame - RP_TRAILER_LEN);
    assert_true(len > 0);
    rp_trailer_write(&(struct rp_trailer){.station = 7, .named = 4}, frame + len);
    hear(fixture, frame, (size_t)len + RP_TRAILER_LEN);
}

/* Seeds 5958, 560, 635 and 5128: at a relay that is named for an urgent segment, an answer went
 * first that had waited for the silence of a push. */
static void test_a_relay_forwards_the_urgent_one_before_an_answer_that_waited(void **state)
{
    (void)state;
    for (rp_time_us before_us = 0; before_us < 20000; before_us += 1000) {
        struct fixture fixture;
        start(&fixture, 0);
        hear_rows(&fixture, 5, 1, 4, 6);
        publish(&fixture, 1, note);
        while (next_frame(&fixture, 30 * MINUTE) > 0) {
        }
        publish(&fixture, 2, note);
        assert_true(next_of_kind(&fixture, RP_FRAME_SEGMENT, 31 * MINUTE));
        struct rp_pending *pushed = rp_queue_find(fixture.mesh, relay, 2);
        assert_non_null(pushed);
        for (uint32_t i = 0; i < 2; i++) { /* whoever is heard is given time */
            hear_need(&fixture, 5, 2 + i, (struct rp_need_entry){relay, 1, 1});
            assert_false(next_of_kind(&fixture, RP_FRAME_SEGMENT, pushed->due_us - 50000));
            assert_int_equal(pushed->state, RP_PENDING_AWAIT);
        }
        rp_time_us judged_us = pushed->due_us;
        assert_false(next_of_kind(&fixture, RP_FRAME_SEGMENT, judged_us - before_us - 1));
        hear_urgent(&fixture);
        assert_true(next_of_kind(&fixture, RP_FRAME_SEGMENT, judged_us + MINUTE));
        assert_int_equal(fixture.head.origin, high);
        stop(&fixture);
    }
}

/* Seeds 30653 and 35092: the urgent lane was refused by budget or storage, and the pause after that
 * has a random end; routine frames, refused a moment later, went on before it. */
static void test_what_keeps_the_urgent_one_keeps_the_others(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    hear_rows(&fixture, 5, 1, 4, 6);
    publish(&fixture, 1, note);
    publish(&fixture, 2, urgent_plain);
    fixture.mesh->blocked_us[RP_LANE_URGENT] = 5 * RP_SECOND_US;
    assert_true(next_of_kind(&fixture, RP_FRAME_SEGMENT, MINUTE));
    assert_int_equal(fixture.head.counter, 2);
    stop(&fixture);
}

/* The station named by the push of a new note, half an hour later. */
static uint8_t named_next(struct fixture *fixture, uint32_t seq)
{
    publish(fixture, seq, note);
    struct rp_trailer trailer = {0};
    bool found = false;
    rp_time_us until_us = fixture->now_us + 30 * MINUTE;
    while (next_of_kind(fixture, RP_FRAME_SEGMENT, until_us)) {
        if (!found && fixture->head.counter == seq) {
            found = rp_trailer_read(rp_view_of(fixture->sent, fixture->sent_len), &trailer) == 0;
        }
    }
    assert_true(found);
    return trailer.named;
}

/* Seeds 6434, 4291: an attacker's replays, or a gust of good luck, let a station be heard that
 * hears nothing of this one. It was named, and called for every other minute, for a day, while
 * those who were there were not. */
static void phantom(bool with_rows, bool talks)
{
    struct fixture fixture;
    start(&fixture, 0);
    hear_rows(&fixture, 5, 1, 4, 6);
    if (with_rows) {
        hear_rows(&fixture, 9, 1, 6, 8);
    } else {
        uint8_t frame[RP_FRAME_LEN_MAX];
        hear(&fixture, frame, make_segment(&fixture, STATION(9), 1, 0, frame));
    }
    uint8_t named = 0;
    for (uint32_t seq = 1; seq <= 8; seq++) {
        if (talks) { /* deaf, but heard again and again */
            uint8_t frame[RP_FRAME_LEN_MAX];
            hear(&fixture, frame, make_segment(&fixture, STATION(9), 1, 0, frame));
        }
        named = named_next(&fixture, seq);
        hear_rows(&fixture, 5, 1 + seq, 4, 6); /* this one is alive */
    }
    assert_int_equal(named, 5);
    assert_false(rp_neighbours_missing(fixture.mesh, fixture.now_us));
    stop(&fixture);
}

static void test_who_never_answered_is_neither_named_nor_called_for_ever(void **state)
{
    (void)state;
    phantom(false, false);
    phantom(true, false);
    phantom(false, true);
    phantom(true, true);
}

/* How many digests station 4 sends in eight hours in which station 3 repeats every other minute
 * that both are in the same state. */
static unsigned digests_beside_a_talker(uint8_t five_hears)
{
    struct fixture fixture;
    start(&fixture, 0);
    hear_rows(&fixture, 3, 1, 4, 0);
    hear_rows(&fixture, 5, 1, 4, five_hears);
    unsigned count = 0;
    for (uint32_t i = 0; i < 600; i++) {
        hear_rows(&fixture, 3, 2 + i, 4, 0);
        while (next_frame(&fixture, (rp_time_us)(2 * i + 2) * MINUTE) > 0) {
            count += i >= 360 && fixture.head.kind == RP_FRAME_DIGEST;
        }
    }
    stop(&fixture);
    return count;
}

/* Seed 4291: 3 agrees with 4, and 5 with 6; 4 and 5 differ, and keep silent because of the others.
 */
static void test_who_agrees_on_one_side_still_speaks_to_the_other(void **state)
{
    (void)state;
    assert_in_range(digests_beside_a_talker(0), 3, 9);
    assert_in_range(digests_beside_a_talker(3), 0, 1); /* 5 has heard it from 3 */
}

/* Seeds 1330, 996: a neighbour gave no sign and was forgotten after a day; the moment to call it
 * once more was past for ever, and the station woke for it without end. next_frame refuses a wake
 * that is not later than the last. */
static void test_who_is_forgotten_wakes_nobody(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    hear_rows(&fixture, 5, 1, 4, 6);
    for (uint32_t seq = 1; seq <= 4; seq++) {
        publish(&fixture, seq, note);
        while (next_frame(&fixture, seq * 10 * MINUTE) > 0) {
        }
    }
    assert_true(rp_neighbours_missing(fixture.mesh, fixture.now_us));
    while (next_frame(&fixture, 30 * RP_HOUR_US) > 0) {
    }
    assert_false(rp_neighbours_missing(fixture.mesh, fixture.now_us));
    stop(&fixture);
}

static void ask_again_and_again(const uint8_t *plain, bool sensing)
{
    struct fixture fixture;
    start(&fixture, 0);
    if (sensing) {
        rp_mesh_channel(fixture.mesh, false, 0);
    }
    hear_rows(&fixture, 5, 1, 4, 6);
    hear_rows(&fixture, 8, 1, 4, 0);
    publish(&fixture, 1, plain);
    assert_true(next_of_kind(&fixture, RP_FRAME_SEGMENT, MINUTE));
    struct rp_pending *pending = rp_queue_find(fixture.mesh, relay, 1);
    assert_non_null(pending);
    for (uint32_t i = 0; i < 120; i++) {
        pending->state = RP_PENDING_AWAIT; /* still, or again */
        pending->named = 5;
        hear_need(&fixture, 8, 2 + i, (struct rp_need_entry){relay, 1, 1});
        assert_true(next_of_kind(&fixture, RP_FRAME_SEGMENT, fixture.now_us + 2 * RP_HOUR_US));
        if (sensing) { /* the named station seems to forward it */
            rp_mesh_channel(fixture.mesh, true, fixture.now_us + 1000);
            rp_mesh_channel(fixture.mesh, false, fixture.now_us + 2000);
            rp_urgent_looks(fixture.mesh, pending, fixture.now_us);
        }
        /* 600 s and half as much, of a net whose frames are shorter than the reference. */
        assert_true(pending->due_us - fixture.now_us <= 900 * RP_SECOND_US);
    }
    assert_true(pending->sends > 50);
    stop(&fixture);
}

/* Seeds 6440 and, with a modem that senses, 13370: a segment that was asked for again and again
 * while a named station was waited for counted more than 50 sends; the wait, which grows with each,
 * became no number at all. */
static void test_the_wait_for_a_named_station_stays_a_number(void **state)
{
    (void)state;
    ask_again_and_again(note, false);
    ask_again_and_again(urgent_plain, false);
    ask_again_and_again(urgent_plain, true);
}

/* Whether one of this station's needs of six hours asks for this segment. */
static bool is_asked_for(struct fixture *fixture, uint16_t origin, uint32_t seq)
{
    bool asked = false;
    while (next_of_kind(fixture, RP_FRAME_REQUEST, 6 * RP_HOUR_US)) {
        struct rp_request need;
        assert_int_equal(rp_request_read(rp_view_of(fixture->body, fixture->body_len), &need), 0);
        for (unsigned i = 0; !need.is_ack && i < need.count; i++) {
            const struct rp_need_entry *entry = &need.entries[i];
            asked = asked || (entry->origin == origin && seq <= entry->last &&
                              seq + entry->count > entry->last);
        }
    }
    return asked;
}

/* Seeds 3176, 1478: twenty segments that nobody holds any more, since their origin lost its
 * database, filled every need, and what could be had below them was never asked for. */
static void test_what_can_be_had_is_asked_for_below_what_cannot(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    hear_rows(&fixture, 5, 1, 4, 6);
    for (uint32_t seq = 1; seq <= 20; seq++) {
        uint8_t frame[RP_FRAME_LEN_MAX];
        size_t len = make_segment(&fixture, high, seq, 0, frame);
        if (seq != 5) {
            hear(&fixture, frame, len);
        }
    }
    hear_need(&fixture, 5, 2, (struct rp_need_entry){high, 40, 16}); /* so they did exist */
    assert_true(is_asked_for(&fixture, high, 5));
    stop(&fixture);
}

/* Seeds 10094, 10451 and many that were slow: what a neighbour says it holds is asked for before
 * what nobody is known to hold. */
static void test_what_a_neighbour_holds_is_asked_for_first(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    hear_rows(&fixture, 5, 1, 4, 6);
    for (uint32_t seq = 10; seq <= 20; seq++) {
        uint8_t frame[RP_FRAME_LEN_MAX];
        hear(&fixture, frame, make_segment(&fixture, high, seq, 0, frame));
    }
    hear_need(&fixture, 5, 2, (struct rp_need_entry){high, 60, 16});
    struct rp_vector_entry held = {.origin = high,
                                   .held = {.upto = 3, .run_count = 2, .runs = {{5, 6}, {12, 22}}}};
    uint8_t body[RP_FRAME_LEN_MAX];
    struct rp_writer w = rp_writer_on(body, sizeof body);
    rp_put_u8(&w, 0);
    assert_true(rp_vector_put(&w, &held));
    hear_body(&fixture, RP_FRAME_VECTOR, STATION(5), 3, body, w.len);
    assert_true(next_of_kind(&fixture, RP_FRAME_REQUEST, MINUTE));
    struct rp_request need;
    assert_int_equal(rp_request_read(rp_view_of(fixture.body, fixture.body_len), &need), 0);
    static const struct rp_need_entry wanted[] = {{0, 22, 2}, {0, 6, 2}, {0, 3, 3}};
    assert_int_equal(need.count, 3);
    for (unsigned i = 0; i < 3; i++) {
        assert_int_equal(need.entries[i].origin, high);
        assert_int_equal(need.entries[i].last, wanted[i].last);
        assert_int_equal(need.entries[i].count, wanted[i].count);
    }
    stop(&fixture);
}

/* Airtime of the second hour in which station 5 asks for all it can get of an old log, in
 * milliseconds of the 36 s that there are. */
static unsigned answered_ms(bool reports)
{
    struct fixture fixture;
    start(&fixture, 0);
    hear_rows(&fixture, 5, 1, 4, 6);
    assert_int_equal(rp_mesh_load(fixture.mesh, high, 1, 2000), 0);
    static const uint8_t status[] = {RP_REC_STATUS, 1};
    uint64_t before_us = 0;
    for (uint32_t i = 0; i < 720; i++) {
        if (i % 120 == 0 && reports) {
            publish(&fixture, 1 + i / 120, status);
        }
        before_us = i == 360 ? counted(&fixture).airtime_out_us : before_us;
        hear_need(&fixture, 5, 2 + i, (struct rp_need_entry){high, 1990 - 2 * i, 16});
        while (next_frame(&fixture, (rp_time_us)(i + 1) * 10 * RP_SECOND_US) > 0) {
        }
    }
    unsigned ms = (unsigned)((counted(&fixture).airtime_out_us - before_us) / 1000);
    stop(&fixture);
    return ms;
}

/* Where a database was lost, the others wait for the one who answers: seeds 2018, 10451. */
static void test_a_backlog_takes_more_while_no_reports_come(void **state)
{
    (void)state;
    assert_in_range(answered_ms(true), 16000, 19000);  /* 49 % of 36 s, and the reports */
    assert_in_range(answered_ms(false), 21000, 24000); /* 63 % */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_what_waited_long_still_lets_the_urgent_one_go_first),
        cmocka_unit_test(test_a_relay_forwards_the_urgent_one_before_an_answer_that_waited),
        cmocka_unit_test(test_what_keeps_the_urgent_one_keeps_the_others),
        cmocka_unit_test(test_who_never_answered_is_neither_named_nor_called_for_ever),
        cmocka_unit_test(test_who_agrees_on_one_side_still_speaks_to_the_other),
        cmocka_unit_test(test_who_is_forgotten_wakes_nobody),
        cmocka_unit_test(test_the_wait_for_a_named_station_stays_a_number),
        cmocka_unit_test(test_what_can_be_had_is_asked_for_below_what_cannot),
        cmocka_unit_test(test_what_a_neighbour_holds_is_asked_for_first),
        cmocka_unit_test(test_a_backlog_takes_more_while_no_reports_come),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
