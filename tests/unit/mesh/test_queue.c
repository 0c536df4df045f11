/* Order of sending, and what happens when the queue is full. */
#include "rp_test.h"

#include "mesh/state.h"
#include "wire/record.h"

static struct rp_mesh mesh;
static const uint16_t high = 7 << 9 | 42;

static void reset(uint32_t known)
{
    mesh = (struct rp_mesh){.station = 4, .config = {.origin = 4 << 9}};
    struct rp_log *log = rp_log_make(&mesh, high);
    assert_non_null(log);
    assert_int_equal(rp_log_add(&mesh, log, 1, known), 0);
}

static struct rp_pending *add(uint32_t seq, uint8_t lead, uint8_t stream)
{
    uint8_t plain[] = {lead, stream};
    return rp_queue_add(&mesh, high, seq, rp_view_of(plain, sizeof plain), true, 0);
}

static void test_order(void **state)
{
    (void)state;
    reset(100);
    struct rp_pending *old_note = add(10, RP_REC_NOTE, 0);
    struct rp_pending *old_status = add(20, RP_REC_STATUS, 1);
    struct rp_pending *new_note = add(30, RP_REC_NOTE, 0);
    struct rp_pending *receipt = add(40, RP_REC_RECEIPT, 0);
    struct rp_pending *other_status = add(45, RP_REC_STATUS, 2);
    struct rp_pending *status = add(50, RP_REC_STATUS, 1);
    struct rp_pending *urgent = add(60, 0x80 | RP_REC_NOTE, 0);
    const struct rp_pending *order[] = {urgent,   other_status, status,  receipt,
                                        new_note, old_status,   old_note};
    for (size_t i = 0; i + 1 < sizeof order / sizeof order[0]; i++) {
        assert_true(rp_queue_before(&mesh, order[i], order[i + 1]));
        assert_false(rp_queue_before(&mesh, order[i + 1], order[i]));
    }
    assert_int_equal(old_status->class, RP_CLASS_HISTORY); /* the moment a newer one came */
}

static void test_old_status_arrives_late(void **state)
{
    (void)state;
    reset(100);
    struct rp_pending *newest = add(50, RP_REC_STATUS, 1);
    struct rp_pending *older = add(20, RP_REC_STATUS, 1);
    assert_int_equal(newest->class, RP_CLASS_STATUS);
    assert_int_equal(older->class, RP_CLASS_HISTORY);
}

static void test_second_segment_of_a_status(void **state)
{
    (void)state;
    reset(100);
    add(20, RP_REC_STATUS, 1);
    uint8_t plain[] = {RP_REC_STATUS, 99};
    struct rp_pending *rest =
        rp_queue_add(&mesh, high, 21, rp_view_of(plain, sizeof plain), false, 0);
    assert_int_equal(rest->stream, 1); /* not 99: only the first segment names the stream */
    add(30, RP_REC_STATUS, 1);
    assert_int_equal(rp_queue_find(&mesh, high, 21)->class, RP_CLASS_HISTORY);
}

static void test_full_queue_drops_the_least_important(void **state)
{
    (void)state;
    reset(2000);
    for (uint32_t seq = 1; seq <= RP_PENDING_MAX; seq++) {
        struct rp_pending *pending = add(seq, RP_REC_NOTE, 0);
        assert_non_null(pending);
        pending->state = RP_PENDING_FORWARD;
    }
    /* Older than everything there: no place. Newer: the oldest goes. */
    assert_int_equal(mesh.counters.queue_full, 0);
    assert_non_null(add(1000, RP_REC_NOTE, 0));
    assert_null(rp_queue_find(&mesh, high, 1));
    assert_non_null(rp_queue_find(&mesh, high, 2));
    rp_queue_find(&mesh, high, 1000)->state = RP_PENDING_FORWARD;
    assert_null(add(1, RP_REC_NOTE, 0));
    assert_int_equal(mesh.counters.queue_full, 2);
    /* What only beliefs are kept of goes before anything that is to be sent. */
    rp_queue_find(&mesh, high, 200)->state = RP_PENDING_IDLE;
    assert_non_null(add(1001, RP_REC_RECEIPT, 0));
    assert_null(rp_queue_find(&mesh, high, 200));
    assert_int_equal(mesh.pending_count, RP_PENDING_MAX);
}

static void test_unreceipted_urgent_stays(void **state)
{
    (void)state;
    reset(2000);
    for (uint32_t seq = 1; seq <= RP_PENDING_MAX; seq++) {
        struct rp_pending *pending = add(seq, 0x80 | RP_REC_NOTE, 0);
        pending->state = RP_PENDING_REPEAT;
        pending->receipt_wanted = true;
    }
    assert_null(add(1000, 0x80 | RP_REC_NOTE, 0));
    rp_queue_find(&mesh, high, 7)->receipt_wanted = false;
    rp_queue_find(&mesh, high, 7)->state = RP_PENDING_IDLE;
    assert_non_null(add(1000, 0x80 | RP_REC_NOTE, 0));
    assert_null(rp_queue_find(&mesh, high, 7));
}

static void test_state_hash(void **state)
{
    (void)state;
    /* The same sets, told in another order, hash alike; one segment less does not. */
    static struct rp_mesh a, b;
    static const uint16_t origins[] = {2 << 9 | 1, 4 << 9 | 2, 7 << 9 | 3};
    a = b = (struct rp_mesh){.station = 9};
    for (int i = 0; i < 3; i++) {
        rp_log_add(&a, rp_log_make(&a, origins[i]), 1, 5);
        rp_log_add(&a, rp_log_make(&a, origins[i]), 8, 9);
        rp_log_add(&b, rp_log_make(&b, origins[2 - i]), 8, 8);
        rp_log_add(&b, rp_log_make(&b, origins[2 - i]), 9, 9);
        rp_log_add(&b, rp_log_make(&b, origins[2 - i]), 1, i == 2 ? 4 : 5);
    }
    assert_int_not_equal(rp_state_hash(&a, 2 << 9, 1), rp_state_hash(&b, 2 << 9, 1));
    rp_log_add(&b, rp_log_find(&b, origins[0]), 5, 5);
    for (uint32_t counter = 1; counter < 100; counter++) {
        assert_int_equal(rp_state_hash(&a, 2 << 9, counter), rp_state_hash(&b, 2 << 9, counter));
    }
    assert_int_not_equal(rp_state_hash(&a, 2 << 9, 1), rp_state_hash(&a, 2 << 9, 2));
    /* A log known by name only changes nothing. */
    rp_log_make(&b, 8 << 9);
    assert_int_equal(rp_state_hash(&a, 2 << 9, 1), rp_state_hash(&b, 2 << 9, 1));
}

static void test_state_hash_literal(void **state)
{
    (void)state;
    /* Computed from the text of PROTOCOL.md, "Digest", by a program of its own (Python). */
    static struct rp_mesh one;
    one = (struct rp_mesh){.station = 4};
    rp_log_add(&one, rp_log_make(&one, 0x0e2a), 1, 4);
    rp_log_add(&one, rp_log_make(&one, 0x0e2a), 7, 8);
    rp_log_add(&one, rp_log_make(&one, 0x040b), 1, 70);
    assert_int_equal(rp_state_hash(&one, 0x080b, 5), 0xbc2aa0d8u);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_order),
        cmocka_unit_test(test_old_status_arrives_late),
        cmocka_unit_test(test_second_segment_of_a_status),
        cmocka_unit_test(test_full_queue_drops_the_least_important),
        cmocka_unit_test(test_unreceipted_urgent_stays),
        cmocka_unit_test(test_state_hash),
        cmocka_unit_test(test_state_hash_literal),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
