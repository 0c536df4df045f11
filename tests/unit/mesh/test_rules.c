/* The rules of dissemination one by one, on an engine that is fed frames by hand. The numbers are
 * those of proto/PROTOCOL.md or of the engine's own tables (ours; no outside source). */
#include "rp_test.h"

#include <string.h>

#include "one_engine.h"
#include "wire/record.h"

#define MINUTE     (60 * RP_SECOND_US)
#define STATION(n) ((uint16_t)((n) << 9 | 1))

static const uint16_t near = 5 << 9 | 1, far = 6 << 9 | 1;

static void test_a_promise_is_rounded_up(void **state)
{
    (void)state;
    static const struct {
        uint32_t within_s;
        uint8_t code; /* PROTOCOL.md: none 5 10 15 20 30 60 120 minutes */
    } rows[] = {{0, 0},   {1, 1},    {300, 1},  {301, 2},  {600, 2},  {900, 3},
                {901, 4}, {1800, 5}, {3600, 6}, {7200, 7}, {7201, 0}, {100000, 0}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct fixture fixture;
        start(&fixture, 0);
        rp_mesh_promise(fixture.mesh, rows[i].within_s);
        static const uint8_t plain[] = {RP_REC_NOTE, 'x'};
        assert_int_equal(
            rp_mesh_publish(fixture.mesh, 1, rp_view_of(plain, sizeof plain), fixture.now_us), 0);
        assert_true(next_of_kind(&fixture, RP_FRAME_SEGMENT, MINUTE));
        struct rp_trailer trailer;
        assert_int_equal(rp_trailer_read(rp_view_of(fixture.sent, fixture.sent_len), &trailer), 0);
        assert_int_equal(trailer.promise, rows[i].code);
        stop(&fixture);
    }
}

static const struct rp_trailer promised = {.station = 7, .promise = 2, .hops = 0};

static void test_a_promised_record_is_asked_for_when_due(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    meet(&fixture, high, 1, 0);
    fixture.now_us = MINUTE;
    hear_status(&fixture, 1, 24000000, promised);
    assert_false(next_of_kind(&fixture, RP_FRAME_REQUEST, 11 * MINUTE));
    /* Ten minutes after the entry, 4 s and 20 s for the one hop, reference time. */
    assert_true(next_of_kind(&fixture, RP_FRAME_REQUEST, 12 * MINUTE));
    struct rp_request need;
    assert_int_equal(rp_request_read(rp_view_of(fixture.body, fixture.body_len), &need), 0);
    assert_false(need.is_ack);
    assert_int_equal(need.count, 1);
    assert_int_equal(rp_origin_station(need.entries[0].origin), 7);
    assert_int_equal(need.entries[0].last, 2);
    assert_int_equal(need.entries[0].count, 0);
    struct rp_mesh_holding holding;
    rp_mesh_holding(fixture.mesh, high, &holding);
    assert_int_equal(holding.known, 1); /* nobody has said that it exists */
    unsigned needs = 1;
    while (next_of_kind(&fixture, RP_FRAME_REQUEST, 48 * 60 * MINUTE)) {
        needs++;
    }
    assert_int_equal(needs, 15); /* and no more, should the origin be gone */
    stop(&fixture);
}

/* What a partition left behind is sent newest first; should that one be lost, the need for the rest
 * brings it again. */
static void test_who_lacks_many_asks_for_newer_ones_too(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    meet(&fixture, high, 1, 0);
    hear_status(&fixture, 1, 24000000, (struct rp_trailer){.station = 7});
    hear_status(&fixture, 30, 24003600, (struct rp_trailer){.station = 7});
    assert_true(next_of_kind(&fixture, RP_FRAME_REQUEST, 5 * MINUTE));
    struct rp_request need;
    assert_int_equal(rp_request_read(rp_view_of(fixture.body, fixture.body_len), &need), 0);
    assert_int_equal(need.count, 2);
    assert_int_equal(need.entries[0].last, 29);
    assert_int_equal(need.entries[1].origin, high);
    assert_int_equal(need.entries[1].last, 31);
    assert_int_equal(need.entries[1].count, 0);
    stop(&fixture);
}

static void test_no_promise_no_asking(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    meet(&fixture, high, 1, 0);
    hear_status(&fixture, 1, 24000000, (struct rp_trailer){.station = 7});
    assert_false(next_of_kind(&fixture, RP_FRAME_REQUEST, 48 * 60 * MINUTE));
    stop(&fixture);
}

static void test_who_breaks_promises_is_not_believed(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    meet(&fixture, high, 1, 0);
    uint32_t entry_s = 24000000;
    /* Ten minutes promised, half an hour taken: 20 minutes late count as the most, 600 s; a fifth
     * of that is above 45 s. */
    for (uint32_t seq = 1; seq <= 3; seq++) {
        hear_status(&fixture, seq, entry_s, promised);
        entry_s += 1800;
        fixture.now_us += 30 * MINUTE;
    }
    unsigned log = (unsigned)(rp_log_find(fixture.mesh, high) - fixture.mesh->logs);
    assert_false(rp_due_regular(fixture.mesh, log));
    assert_true(rp_pull_next(fixture.mesh) == RP_NEVER);
    /* It is believed again after some that kept it: 293 s, then four fifths each time. */
    for (uint32_t seq = 4; seq <= 14; seq++) {
        hear_status(&fixture, seq, entry_s, promised);
        entry_s += 600;
        fixture.now_us += 10 * MINUTE;
    }
    assert_true(rp_due_regular(fixture.mesh, log));
    stop(&fixture);
}

static void test_a_clock_two_years_wrong_keeps_its_promises(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    meet(&fixture, high, 1, 0);
    fixture.now_us = 100 * MINUTE;
    hear_status(&fixture, 1, 5, promised); /* its clock believes it is January 2026 */
    assert_true(next_of_kind(&fixture, RP_FRAME_REQUEST, 112 * MINUTE));
    assert_true(fixture.now_us > 110 * MINUTE);
    /* The clock is set right, two years on: that is no breach of a promise. */
    uint32_t entry_s = 63072000;
    fixture.now_us = 113 * MINUTE;
    unsigned log = (unsigned)(rp_log_find(fixture.mesh, high) - fixture.mesh->logs);
    for (uint32_t seq = 2; seq <= 4; seq++) {
        hear_status(&fixture, seq, entry_s, promised);
        assert_true(rp_due_regular(fixture.mesh, log));
        entry_s += 600;
        fixture.now_us += 10 * MINUTE;
    }
    rp_time_us due_us = fixture.mesh->logs[log].pace.due_us;
    assert_true(due_us > fixture.now_us && due_us < fixture.now_us + 5 * MINUTE);
    stop(&fixture);
}

static void test_an_open_need_tells_nothing(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    meet(&fixture, near, 1, 0);
    hear_status(&fixture, 1, 24000000, (struct rp_trailer){.station = 7});
    /* Station 5 misses what was promised after 7's first: short, and long. */
    hear_body(&fixture, RP_FRAME_REQUEST, near, 2, "\x00\x87\x02", 3);
    hear_body(&fixture, RP_FRAME_REQUEST, near, 3, "\x00\x0e\x2a\x05\x00", 5);
    struct rp_mesh_holding holding;
    rp_mesh_holding(fixture.mesh, high, &holding);
    assert_int_equal(holding.known, 1);
    assert_true(rp_pull_next(fixture.mesh) == RP_NEVER);
    /* A need for it is another matter: somebody knows that it exists. */
    hear_body(&fixture, RP_FRAME_REQUEST, near, 4, "\x00\x0e\x2a\x04", 4);
    rp_mesh_holding(fixture.mesh, high, &holding);
    assert_int_equal(holding.known, 2);
    assert_true(rp_pull_next(fixture.mesh) != RP_NEVER);
    stop(&fixture);
}

static void test_needs_are_answered_in_both_forms(void **state)
{
    (void)state;
    static const struct {
        const char *body;
        size_t len;
    } needs[] = {
        {"\x04\x07\x2c", 3},         /* of station 7 the ..44: 300 is nearest to 301 */
        {"\x04\x87\x2c", 3},         /* and all above */
        {"\x04\x0e\x2a\xd8\x04", 5}, /* of 7.42 the 300 */
    };
    for (size_t i = 0; i < sizeof needs / sizeof needs[0]; i++) {
        struct fixture fixture;
        start(&fixture, 0);
        assert_int_equal(rp_mesh_load(fixture.mesh, high, 1, 300), 0);
        meet(&fixture, near, 1, 0);
        hear_body(&fixture, RP_FRAME_REQUEST, near, 2, needs[i].body, needs[i].len);
        assert_true(next_of_kind(&fixture, RP_FRAME_SEGMENT, fixture.now_us + MINUTE));
        assert_int_equal(fixture.head.origin, high);
        assert_int_equal(fixture.head.counter, 300);
        stop(&fixture);
    }
}

/* After ten quiet minutes with 7's 1 to 10 held, station 5 says a mark of that log; its state is
 * the same but for the mark (explained), or differs elsewhere, too. */
static void hear_mark(struct fixture *fixture, uint16_t mark, bool explained)
{
    start(fixture, 0);
    assert_int_equal(rp_mesh_load(fixture->mesh, high, 1, 10), 0);
    meet(fixture, near, 1, 0);
    fixture->now_us = 10 * MINUTE;
    struct rp_digest digest = {.battery_pct = 127, .mark_station = 7, .mark = mark};
    digest.hash = rp_state_hash_if(fixture->mesh, rp_log_find(fixture->mesh, high), mark, near, 2) +
                  !explained;
    uint8_t body[RP_FRAME_LEN_MAX];
    size_t len = rp_digest_write(&digest, body, sizeof body);
    hear_body(fixture, RP_FRAME_DIGEST, near, 2, body, len);
}

static void test_a_mark_spares_the_vector(void **state)
{
    (void)state;
    struct fixture fixture;
    hear_mark(&fixture, 11, true); /* one ahead: it is asked for */
    assert_true(next_of_kind(&fixture, RP_FRAME_REQUEST, fixture.now_us + MINUTE));
    assert_int_equal(counted(&fixture).vectors_out, 0);
    stop(&fixture);
    hear_mark(&fixture, 9, true); /* one behind: it is offered */
    assert_true(next_of_kind(&fixture, RP_FRAME_SEGMENT, fixture.now_us + MINUTE));
    assert_int_equal(fixture.head.counter, 10);
    assert_int_equal(counted(&fixture).vectors_out, 0);
    stop(&fixture);
    for (uint16_t mark = 9; mark <= 11; mark++) { /* not all the difference: a vector tells */
        hear_mark(&fixture, mark, false);
        assert_true(next_of_kind(&fixture, RP_FRAME_VECTOR, fixture.now_us + MINUTE));
        stop(&fixture);
    }
}

static void test_rows_are_said_to_who_lacks_them(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    meet(&fixture, near, 1, 0);
    while (next_frame(&fixture, 30 * MINUTE) > 0) {
    }
    struct rp_digest digest = {.battery_pct = 127, .wants_rows = true};
    hear_digest(&fixture, near, 2, digest, true);
    assert_true(next_of_kind(&fixture, RP_FRAME_DIGEST, 32 * MINUTE));
    struct rp_digest said;
    assert_int_equal(rp_digest_read(rp_view_of(fixture.body, fixture.body_len), &said), 0);
    assert_int_equal(said.row_count, 1);
    assert_int_equal(said.rows[0].station, 5);
    assert_false(said.wants_rows); /* station 5 has said its own */
    stop(&fixture);
}

static void test_who_lacks_rows_says_so(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    hear_digest(&fixture, near, 1, (struct rp_digest){.battery_pct = 127}, true);
    bool wanted = false;
    while (next_of_kind(&fixture, RP_FRAME_DIGEST, 20 * MINUTE)) {
        struct rp_digest said;
        assert_int_equal(rp_digest_read(rp_view_of(fixture.body, fixture.body_len), &said), 0);
        wanted = wanted || said.wants_rows;
    }
    assert_true(wanted);
    stop(&fixture);
}

static void test_settings_reach_the_neighbour_table(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    meet(&fixture, near, 1, 0);
    struct rp_mesh_neighbour neighbour;
    assert_int_equal(rp_mesh_neighbours(fixture.mesh, &neighbour, 1), 1);
    assert_false(neighbour.has_settings);
    struct rp_digest digest = {.battery_pct = 127, .has_settings = true, .settings_hash = 0xbeef};
    hear_digest(&fixture, near, 2, digest, true);
    assert_int_equal(rp_mesh_neighbours(fixture.mesh, &neighbour, 1), 1);
    assert_true(neighbour.has_settings);
    assert_int_equal(neighbour.settings_hash, 0xbeef);
    /* A digest that does not say leaves the last word standing. */
    meet(&fixture, near, 3, 0);
    assert_int_equal(rp_mesh_neighbours(fixture.mesh, &neighbour, 1), 1);
    assert_true(neighbour.has_settings);
    /* And this one says its own with its first rows. */
    assert_true(next_of_kind(&fixture, RP_FRAME_DIGEST, MINUTE));
    struct rp_digest said;
    assert_int_equal(rp_digest_read(rp_view_of(fixture.body, fixture.body_len), &said), 0);
    assert_true(said.has_settings);
    stop(&fixture);
}

/* 7 -> 4 (this one), which hears 5 and 8; 6 is behind 5 only. */
static struct rp_pending *heard_between(struct fixture *fixture, uint8_t named)
{
    meet(fixture, high, 1, 0);
    meet(fixture, near, 1, 6);
    meet(fixture, STATION(8), 1, 0);
    hear_status(fixture, 1, 24000000, (struct rp_trailer){.station = 7, .named = named});
    struct rp_pending *pending = rp_queue_find(fixture->mesh, high, 1);
    assert_non_null(pending);
    return pending;
}

static void test_the_name_is_who_has_others_behind(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    struct rp_pending *pending = heard_between(&fixture, 4);
    assert_int_equal(rp_name_choose(fixture.mesh, pending, false, fixture.now_us), 5);
    /* Once 6 is covered, 5 and 8 are ends that nobody else serves: the better heard is named. */
    rp_belief_holds(fixture.mesh, pending, 6);
    rp_belief_holds(fixture.mesh, pending, 5);
    assert_int_equal(rp_name_choose(fixture.mesh, pending, false, fixture.now_us), 8);
    rp_belief_holds(fixture.mesh, pending, 8);
    assert_int_equal(rp_name_choose(fixture.mesh, pending, false, fixture.now_us), 0);
    stop(&fixture);
}

static void test_the_end_of_a_path_confirms_only_without_a_promise(void **state)
{
    (void)state;
    for (uint8_t promise = 0; promise <= 2; promise += 2) {
        struct fixture fixture;
        start(&fixture, 0);
        meet(&fixture, high, 1, 0);
        struct rp_digest leaf = {
            .battery_pct = 127, .is_leaf = true, .row_count = 1, .rows = {{4, 240}}};
        hear_digest(&fixture, near, 1, leaf, true);
        hear_status(&fixture, 1, 24000000,
                    (struct rp_trailer){.station = 7, .named = 4, .promise = promise});
        assert_true(next_of_kind(&fixture, RP_FRAME_SEGMENT, MINUTE));
        struct rp_trailer trailer;
        assert_int_equal(rp_trailer_read(rp_view_of(fixture.sent, fixture.sent_len), &trailer), 0);
        assert_int_equal(trailer.named, promise > 0 ? 0 : 5);
        assert_int_equal(trailer.promise, promise); /* passed on */
        assert_int_equal(trailer.hops, 1);
        stop(&fixture);
    }
}

static void test_belief_counts_who_else_could_serve(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    struct rp_pending *pending = heard_between(&fixture, 0);
    /* Nobody but this one serves 8; 5 hears 6, which probably lacks it too. */
    int slot5 = rp_neighbour_slot(fixture.mesh, 5), slot8 = rp_neighbour_slot(fixture.mesh, 8);
    assert_int_equal(rp_belief_sole(fixture.mesh, pending, &fixture.mesh->neighbours[slot8]), 255);
    assert_int_equal(rp_belief_sole(fixture.mesh, pending, &fixture.mesh->neighbours[slot5]), 255);
    assert_int_equal(rp_belief_forsaken(fixture.mesh, pending, fixture.now_us), 510);
    rp_belief_holds(fixture.mesh, pending, 6); /* now 6 serves 5 */
    assert_int_equal(rp_belief_sole(fixture.mesh, pending, &fixture.mesh->neighbours[slot5]), 0);
    assert_int_equal(rp_belief_forsaken(fixture.mesh, pending, fixture.now_us), 255);
    assert_int_equal(rp_belief_uncovered(fixture.mesh, pending, fixture.now_us), 510);
    /* A frame of this one reaches each with 240 of 255. */
    rp_belief_covers(fixture.mesh, pending, 4, 255);
    assert_int_equal(pending->lack[8], 15);
    assert_int_equal(pending->lack[6], 0);
    stop(&fixture);
}

static void test_a_poor_link_counts_where_there_is_no_way_round(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    struct rp_digest poor = {.battery_pct = 127, .row_count = 1, .rows = {{4, 51}}};
    hear_digest(&fixture, near, 1, poor, true);
    int slot = rp_neighbour_slot(fixture.mesh, 5);
    assert_true(rp_neighbour_usable(fixture.mesh, slot, fixture.now_us));
    /* Station 6 hears this one well, and 5 hears 6 well: there is a way round. */
    meet(&fixture, far, 1, 0);
    poor.rows[poor.row_count++] = (struct rp_row){6, 240};
    hear_digest(&fixture, near, 2, poor, true);
    assert_false(rp_neighbour_usable(fixture.mesh, slot, fixture.now_us));
    stop(&fixture);
}

static void test_nothing_is_sent_into_a_busy_channel(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    static const uint8_t plain[] = {0x80 | RP_REC_EVACUATION, 1};
    assert_int_equal(rp_mesh_publish(fixture.mesh, 1, rp_view_of(plain, 2), 0), 0);
    rp_mesh_channel(fixture.mesh, true, 0);
    assert_int_equal(next_frame(&fixture, 4 * RP_SECOND_US), 0);
    rp_mesh_channel(fixture.mesh, false, fixture.now_us);
    assert_true(next_frame(&fixture, 5 * RP_SECOND_US) > 0);
    /* A radio that says busy for ever is not believed after 5 s. */
    rp_mesh_channel(fixture.mesh, true, fixture.now_us);
    rp_time_us from_us = fixture.now_us;
    assert_true(next_frame(&fixture, from_us + 60 * RP_SECOND_US) > 0);
    assert_true(fixture.now_us - from_us >= 5 * RP_SECOND_US);
    stop(&fixture);
}

/* The time between the first and the second copy of an urgent segment with station 5 named. */
static rp_time_us copy_after_us(bool sensing, bool forwarded)
{
    struct fixture fixture;
    start(&fixture, 0);
    meet(&fixture, near, 1, 6);
    if (sensing) {
        rp_mesh_channel(fixture.mesh, false, 0);
    }
    static const uint8_t plain[] = {0x80 | RP_REC_EVACUATION, 1};
    assert_int_equal(rp_mesh_publish(fixture.mesh, 1, rp_view_of(plain, 2), 0), 0);
    assert_true(next_of_kind(&fixture, RP_FRAME_SEGMENT, MINUTE));
    rp_time_us first_us = fixture.now_us;
    if (forwarded) {
        fixture.now_us += 30000;
        rp_mesh_channel(fixture.mesh, true, fixture.now_us);
        fixture.now_us += fixture.airtime_us[fixture.sent_len];
        rp_mesh_channel(fixture.mesh, false, fixture.now_us);
    }
    assert_true(next_of_kind(&fixture, RP_FRAME_SEGMENT, MINUTE));
    rp_time_us after_us = fixture.now_us - fixture.airtime_us[fixture.sent_len] - first_us;
    stop(&fixture);
    return after_us;
}

static void test_urgent_segments_go_twice_unless_the_channel_tells(void **state)
{
    (void)state;
    /* This net's 40-byte frame takes 80 ms, 0.278 of the reference: 80-120 ms become 22-34 ms. */
    rp_time_us blind_us = copy_after_us(false, false);
    assert_true(blind_us >= RP_LATENCY_US + 22000 && blind_us <= RP_LATENCY_US + 34000);
    rp_time_us silent_us = copy_after_us(true, false);
    assert_true(silent_us >= RP_LATENCY_US + 13000 && silent_us <= RP_LATENCY_US + 20000);
    assert_true(copy_after_us(true, true) >= 166000); /* 600 ms of the reference */
}

static void test_a_missing_neighbour_is_called(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    meet(&fixture, near, 1, 6);
    static const uint8_t plain[] = {RP_REC_NOTE, 'x'};
    for (uint32_t seq = 1; seq <= 4; seq++) { /* four pushes, and 5 gives no sign */
        assert_int_equal(rp_mesh_publish(fixture.mesh, seq, rp_view_of(plain, 2), fixture.now_us),
                         0);
        while (next_frame(&fixture, seq * 10 * MINUTE) > 0) {
        }
    }
    assert_true(rp_neighbours_missing(fixture.mesh, fixture.now_us));
    for (unsigned i = 0; i < 20; i++) { /* within three minutes and a bit, again and again */
        assert_true(next_frame(&fixture, fixture.now_us + 190 * RP_SECOND_US) > 0);
    }
    meet(&fixture, near, 2, 6); /* there it is */
    assert_false(rp_neighbours_missing(fixture.mesh, fixture.now_us));
    while (next_frame(&fixture, fixture.now_us + 10 * MINUTE) > 0) {
    }
    unsigned before = counted(&fixture).frames_out;
    while (next_frame(&fixture, fixture.now_us + 60 * MINUTE) > 0) {
    }
    assert_true(counted(&fixture).frames_out - before <= 3);
    stop(&fixture);
}

static void test_asking_has_its_share_of_a_busy_hour(void **state)
{
    (void)state;
    struct rp_ledger ledger;
    const uint32_t budget_us = 36000000, frame_us = 200000;
    rp_ledger_init(&ledger, budget_us, 30, 0);
    /* Below half of the routine budget (25.2 s) nothing is counted. */
    for (unsigned i = 0; i < 100; i++) {
        assert_true(rp_ledger_talk_at(&ledger, frame_us, 0) == 0);
        rp_ledger_talked(&ledger, frame_us);
    }
    rp_ledger_add(&ledger, 0, 20000000);
    assert_int_equal(rp_ledger_load_pct(&ledger, 0), 79);
    /* 15 % of 25.2 s an hour: 0.2 s every 190 s. */
    assert_true(rp_ledger_talk_at(&ledger, frame_us, 0) >= 190 * RP_SECOND_US);
    assert_true(rp_ledger_talk_at(&ledger, frame_us, 189 * RP_SECOND_US) > 189 * RP_SECOND_US);
    assert_true(rp_ledger_talk_at(&ledger, frame_us, 192 * RP_SECOND_US) == 192 * RP_SECOND_US);
    unsigned sent = 0;
    for (rp_time_us now_us = 192 * RP_SECOND_US; now_us < 3500 * RP_SECOND_US;
         now_us += RP_SECOND_US) {
        if (rp_ledger_talk_at(&ledger, frame_us, now_us) == now_us) {
            rp_ledger_talked(&ledger, frame_us);
            sent++;
        }
    }
    assert_true(sent >= 17 && sent <= 19); /* 3500 s / 190 s */
}

/* Who comes hours later and fetches a record tells of it by the state it is in then. */
static void test_who_holds_a_record_late_is_told(void **state)
{
    (void)state;
    for (unsigned way = 0; way < 2; way++) {
        struct fixture fixture;
        start(&fixture, 0);
        static const uint8_t plain[] = {RP_REC_NOTE, 'x'};
        assert_int_equal(rp_mesh_publish(fixture.mesh, 1, rp_view_of(plain, 2), 0), 0);
        assert_int_equal(rp_mesh_publish(fixture.mesh, 2, rp_view_of(plain, 2), 0), 0);
        while (next_frame(&fixture, 60 * MINUTE) > 0) {
        }
        assert_int_equal(events_of(&fixture, RP_MESH_HEARD), 0);
        if (way == 0) {
            meet(&fixture, near, 1, 0);
            assert_int_equal(events_of(&fixture, RP_MESH_HEARD), 2);
        } else {
            struct rp_vector_entry held = {.origin = relay, .held = {.upto = 1}};
            uint8_t body[RP_FRAME_LEN_MAX];
            struct rp_writer w = rp_writer_on(body, sizeof body);
            rp_put_u8(&w, 0);
            assert_true(rp_vector_put(&w, &held));
            hear_body(&fixture, RP_FRAME_VECTOR, near, 1, body, w.len);
            assert_int_equal(events_of(&fixture, RP_MESH_HEARD), 1);
        }
        meet(&fixture, far, 1, 0);
        assert_int_equal(events_of(&fixture, RP_MESH_HEARD), way); /* each once */
        stop(&fixture);
    }
}

static void test_charges_from_the_future_count_now(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    rp_mesh_load_charge(fixture.mesh, 0, -5 * RP_SECOND_US, 9000000); /* the clock was set back */
    assert_int_equal(rp_mesh_airtime_left_us(fixture.mesh, true, 0), 27000000);
    stop(&fixture);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_promise_is_rounded_up),
        cmocka_unit_test(test_a_promised_record_is_asked_for_when_due),
        cmocka_unit_test(test_who_lacks_many_asks_for_newer_ones_too),
        cmocka_unit_test(test_no_promise_no_asking),
        cmocka_unit_test(test_who_breaks_promises_is_not_believed),
        cmocka_unit_test(test_a_clock_two_years_wrong_keeps_its_promises),
        cmocka_unit_test(test_an_open_need_tells_nothing),
        cmocka_unit_test(test_needs_are_answered_in_both_forms),
        cmocka_unit_test(test_a_mark_spares_the_vector),
        cmocka_unit_test(test_rows_are_said_to_who_lacks_them),
        cmocka_unit_test(test_who_lacks_rows_says_so),
        cmocka_unit_test(test_settings_reach_the_neighbour_table),
        cmocka_unit_test(test_the_name_is_who_has_others_behind),
        cmocka_unit_test(test_the_end_of_a_path_confirms_only_without_a_promise),
        cmocka_unit_test(test_belief_counts_who_else_could_serve),
        cmocka_unit_test(test_a_poor_link_counts_where_there_is_no_way_round),
        cmocka_unit_test(test_nothing_is_sent_into_a_busy_channel),
        cmocka_unit_test(test_urgent_segments_go_twice_unless_the_channel_tells),
        cmocka_unit_test(test_a_missing_neighbour_is_called),
        cmocka_unit_test(test_asking_has_its_share_of_a_busy_hour),
        cmocka_unit_test(test_who_holds_a_record_late_is_told),
        cmocka_unit_test(test_charges_from_the_future_count_now),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
