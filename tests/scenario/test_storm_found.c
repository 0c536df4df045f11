/* What the simulator's storm found, reduced to one engine that is fed frames by hand. Each test
 * names the seeds of the campaign that showed it; with another build the same seed tells another
 * story, these stay. */
#include "rp_test.h"

#include "one_engine.h"
#include "wire/record.h"

#define MINUTE     (60 * RP_SECOND_US)
#define STATION(n) ((uint16_t)((n) << 9 | 1))

static const uint8_t note[] = {RP_REC_NOTE, 'x'};
static const uint8_t urgent_plain[] = {0x80 | RP_REC_EVACUATION, 1};

/* A station that hears this one well, and `behind` (0: nobody) as well. */
static void meet(struct fixture *fixture, uint8_t station, uint8_t behind)
{
    struct rp_digest digest = {.battery_pct = 127, .row_count = 1, .rows = {{4, 240}}};
    if (behind != 0) {
        digest.rows[digest.row_count++] = (struct rp_row){behind, 240};
    }
    hear_digest(fixture, STATION(station), 1, digest, true);
}

static void publish(struct fixture *fixture, uint32_t seq, const uint8_t *plain)
{
    assert_int_equal(rp_mesh_publish(fixture->mesh, seq, rp_view_of(plain, 2), fixture->now_us), 0);
}

/* Two notes: the first is out and names station 5, the second waits until that one's silence is
 * judged; returns that moment. */
static rp_time_us one_out_one_waiting(struct fixture *fixture)
{
    start(fixture, 0);
    meet(fixture, 5, 6);
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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_what_waited_long_still_lets_the_urgent_one_go_first),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
