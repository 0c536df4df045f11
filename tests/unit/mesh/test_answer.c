/* Who answers a need, and what is asked for. The bound is the engine's own (src/mesh/pull/gap.c);
 * the bytes are those of proto/PROTOCOL.md, "Request". */
#include "rp_test.h"

#include "one_engine.h"

#define MINUTE (60 * RP_SECOND_US)

static const uint16_t near = 5 << 9 | 1, far = 6 << 9 | 1;

/* Station 5 asks station 6 for segment 2 of 7.42, which this one holds, too; the links between the
 * two are of this ratio. Whether this one answers. */
static bool answers(uint8_t q8, uint8_t answerer)
{
    struct fixture fixture;
    start(&fixture, 0);
    assert_int_equal(rp_mesh_load(fixture.mesh, high, 1, 3), 0);
    struct rp_digest digest = {.battery_pct = 127, .row_count = 2, .rows = {{4, 240}, {6, q8}}};
    hear_digest(&fixture, near, 1, digest, true);
    digest.rows[1].station = 5;
    hear_digest(&fixture, far, 1, digest, true);
    const uint8_t need[] = {answerer, 0x0e, 0x2a, 2 << 1};
    hear_body(&fixture, RP_FRAME_REQUEST, near, 2, need, sizeof need);
    bool answered = next_of_kind(&fixture, RP_FRAME_SEGMENT, fixture.now_us + MINUTE);
    assert_int_equal(answered ? fixture.head.counter : 2, 2);
    stop(&fixture);
    return answered;
}

static void test_a_need_is_left_to_whom_it_names_over_good_links(void **state)
{
    (void)state;
    assert_false(answers(240, 6)); /* 0.94 both ways: 0.89 */
    assert_false(answers(199, 6)); /* 0.78 both ways: 0.61 */
    assert_true(answers(168, 6));  /* 0.66 both ways: 0.43 */
    assert_true(answers(240, 4));  /* this one is named */
    assert_true(answers(240, 0));  /* nobody is */
    assert_true(answers(240, 9));  /* a stranger is, of whom nothing is known */
}

/* Seed 2457 of the simulator's storm: base's disk had been full. A segment is asked for at a time
 * then, to see whether it can be kept, and it was the newest, which nobody held: base did without
 * two that its neighbour's vectors told of, for a day. */
static void test_what_a_neighbour_holds_is_asked_for_after_storage_failed(void **state)
{
    (void)state;
    struct fixture fixture;
    uint8_t frame[RP_FRAME_LEN_MAX];
    start(&fixture, 0);
    assert_int_equal(rp_mesh_load(fixture.mesh, high, 1, 132), 0);
    fixture.put_rc = -1;
    hear(&fixture, frame, make_segment(&fixture, high, 136, 0, frame));
    fixture.put_rc = 0;
    assert_true(fixture.mesh->store_failing);
    struct rp_log *log = rp_log_find(fixture.mesh, high);
    assert_int_equal(log->known, 136);
    struct rp_held theirs = {.upto = 134};
    rp_pull_had(log, &theirs);
    unsigned had = 0;
    for (unsigned needs = 0; needs < 20; needs++) {
        assert_true(next_of_kind(&fixture, RP_FRAME_REQUEST, fixture.now_us + 60 * MINUTE));
        struct rp_request request;
        assert_int_equal(rp_request_read(rp_view_of(fixture.body, fixture.body_len), &request), 0);
        had += needs >= 10 && (request.entries[0].last == 134 || request.entries[0].last == 133);
    }
    assert_true(had >= 4);
    stop(&fixture);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_need_is_left_to_whom_it_names_over_good_links),
        cmocka_unit_test(test_what_a_neighbour_holds_is_asked_for_after_storage_failed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
