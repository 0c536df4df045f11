/* Segments, charges, values. */
#include "fixture.h"

#include <string.h>

static void an_own_record_is_held_after_closing(void **state)
{
    struct fixture *f = *state;
    assert_int_equal(rows_append(f->store, 7, 1, 1), 0);
    assert_int_equal(rows_append(f->store, 7, 2, 3), 0);
    assert_int_equal(rows_append(f->store, 7, 5, RP_RECORD_SEGMENTS_MAX), 0);
    fixture_reopen(f);
    assert_rows_held(f->store, 7, 1, 1);
    assert_rows_held(f->store, 7, 2, 3);
    assert_rows_held(f->store, 7, 5, RP_RECORD_SEGMENTS_MAX);
    assert_int_equal(f->ops->last_seq(f->store, 7), 28);
    assert_whole(f->store);
}

static void a_sequence_used_twice_writes_nothing(void **state)
{
    struct fixture *f = *state;
    assert_int_equal(rows_append(f->store, 7, 5, 2), 0);
    /* Any overlap: same, from below, from above, inside. */
    assert_int_equal(rows_append(f->store, 7, 5, 2), RP_E_DUPLICATE);
    assert_int_equal(rows_append(f->store, 7, 4, 2), RP_E_DUPLICATE);
    assert_int_equal(rows_append(f->store, 7, 6, 3), RP_E_DUPLICATE);
    assert_int_equal(rows_append(f->store, 7, 6, 1), RP_E_DUPLICATE);
    assert_int_equal(fixture_number(f, "SELECT count(*) FROM segments"), 2);
    assert_int_equal(fixture_number(f, "SELECT count(*) FROM records"), 1);
    assert_rows_held(f->store, 7, 5, 2);
    assert_int_equal(rows_append(f->store, 7, 7, 2), 0);
    assert_int_equal(rows_append(f->store, 8, 5, 2), 0);
}

static void rows_out_of_bounds_are_refused(void **state)
{
    struct fixture *f = *state;
    struct rows rows;
#define REFUSES(change)                                                                            \
    do {                                                                                           \
        rows_fill(&rows, 7, 3, 2);                                                                 \
        change;                                                                                    \
        assert_int_equal(f->ops->append_own(f->store, rows.segments, rows.count, &rows.record),    \
                         RP_E_INVALID);                                                            \
    } while (0)
    REFUSES(rows.count = 1);
    REFUSES(rows.segments[1].seq = 5);
    REFUSES(rows.segments[1].origin = 8);
    REFUSES(rows.segments[1].first = true);
    REFUSES(rows.segments[1].last = false);
    REFUSES(rows.segments[0].sealed.len = 0);
    REFUSES(rows.segments[0].sealed.len = 223);
    REFUSES(rows.record.body.len = 0);
    REFUSES(rows.record.body.len = 1401);
    REFUSES(rows.record.seq_last = 2);
    REFUSES(rows.record.seq_last = 27);
    REFUSES(rows.record.episode.origin = 0);
    REFUSES(rows.record.base_s = -1);
    REFUSES(rows.record.origin = 0);
    REFUSES(rows.record.seq_first = 0);
#undef REFUSES
    assert_int_equal(fixture_number(f, "SELECT count(*) FROM segments"), 0);
    assert_int_equal(f->ops->append_own(f->store, rows.segments, 0, &rows.record), RP_E_INVALID);
}

static void segments_arrive_in_any_order(void **state)
{
    struct fixture *f = *state;
    struct rows rows;
    rows_fill(&rows, 4, 10, 3);
    assert_int_equal(f->ops->put_segment(f->store, &rows.segments[2], NULL), 0);
    assert_int_equal(f->ops->put_segment(f->store, &rows.segments[0], NULL), 0);
    assert_int_equal(f->ops->put_segment(f->store, &rows.segments[0], NULL), RP_E_DUPLICATE);
    assert_int_equal(f->ops->put_segment(f->store, &rows.segments[1], &rows.record), 0);
    assert_int_equal(f->ops->put_segment(f->store, &rows.segments[1], &rows.record),
                     RP_E_DUPLICATE);
    assert_rows_held(f->store, 4, 10, 3);
    assert_whole(f->store);
}

static void a_record_without_all_its_segments_is_refused(void **state)
{
    struct fixture *f = *state;
    struct rows rows;
    rows_fill(&rows, 4, 10, 3);
    assert_int_equal(f->ops->put_segment(f->store, &rows.segments[0], NULL), 0);
    assert_int_equal(f->ops->put_segment(f->store, &rows.segments[1], &rows.record), RP_E_INVALID);
    /* Nothing of the refused write is left. */
    assert_int_equal(fixture_number(f, "SELECT count(*) FROM segments"), 1);
    struct rows other;
    rows_fill(&other, 4, 20, 1);
    assert_int_equal(f->ops->put_segment(f->store, &other.segments[0], &rows.record), RP_E_INVALID);
    rows.segments[1].first = true;
    assert_int_equal(f->ops->put_segment(f->store, &rows.segments[1], &rows.record), RP_E_INVALID);
    rows.segments[1].seq = 0;
    assert_int_equal(f->ops->put_segment(f->store, &rows.segments[1], NULL), RP_E_INVALID);
}

static void a_segment_is_copied_or_not_found(void **state)
{
    struct fixture *f = *state;
    uint8_t buf[RP_FRAME_LEN_MAX];
    bool first = false, last = true;
    struct rows rows;
    rows_fill(&rows, 7, 9, 1);
    uint8_t longest[RP_FRAME_LEN_MAX];
    memset(longest, 0xa5, sizeof longest);
    rows.segments[0].sealed = (struct rp_view){longest, sizeof longest};
    assert_int_equal(f->ops->append_own(f->store, rows.segments, 1, &rows.record), 0);
    assert_int_equal(f->ops->get_segment(f->store, 7, 8, &first, &last, buf, sizeof buf),
                     RP_E_NOT_FOUND);
    assert_int_equal(f->ops->get_segment(f->store, 7, 9, &first, &last, buf, 221), RP_E_TOO_LONG);
    assert_false(first);
    assert_int_equal(f->ops->get_segment(f->store, 7, 9, &first, &last, buf, 222), 222);
    assert_true(first && last);
    assert_memory_equal(buf, longest, 222);
}

struct runs {
    uint32_t rows[8][3];
    int count, stop_after;
};

static int run_visit(void *arg, uint16_t origin, uint32_t seq_first, uint32_t seq_last)
{
    struct runs *runs = arg;
    assert_true(runs->count < 8);
    runs->rows[runs->count][0] = origin;
    runs->rows[runs->count][1] = seq_first;
    runs->rows[runs->count][2] = seq_last;
    runs->count++;
    return runs->count == runs->stop_after ? 5 : 0;
}

static void runs_are_told_without_gaps(void **state)
{
    struct fixture *f = *state;
    struct runs runs = {.count = 0};
    assert_int_equal(f->ops->each_run(f->store, run_visit, &runs), 0);
    assert_int_equal(runs.count, 0);
    assert_int_equal(rows_append(f->store, 7, 1, 2), 0);
    assert_int_equal(rows_append(f->store, 7, 3, 1), 0);
    assert_int_equal(rows_append(f->store, 7, 6, 1), 0);
    /* Origin 8 goes on where 7 ends: still a run of its own. */
    assert_int_equal(rows_append(f->store, 8, 7, 3), 0);
    assert_int_equal(rows_append(f->store, 2, 4294967294u, 2), 0);
    assert_int_equal(f->ops->each_run(f->store, run_visit, &runs), 0);
    static const uint32_t expected[4][3] = {
        {2, 4294967294u, 4294967295u}, {7, 1, 3}, {7, 6, 6}, {8, 7, 9}};
    assert_int_equal(runs.count, 4);
    assert_memory_equal(runs.rows, expected, sizeof expected);
    runs = (struct runs){.stop_after = 2};
    assert_int_equal(f->ops->each_run(f->store, run_visit, &runs), 5);
    assert_int_equal(runs.count, 2);
    assert_int_equal(f->ops->last_seq(f->store, 2), 4294967295);
    assert_int_equal(f->ops->last_seq(f->store, 7), 6);
    assert_int_equal(f->ops->last_seq(f->store, 3), 0);
}

struct charges {
    struct rp_charge rows[8];
    int count;
};

static int charge_visit(void *arg, const struct rp_charge *charge)
{
    struct charges *charges = arg;
    assert_true(charges->count < 8);
    charges->rows[charges->count++] = *charge;
    return 0;
}

static int nested_run(void *arg, uint16_t origin, uint32_t seq_first, uint32_t seq_last)
{
    struct fixture *f = arg;
    (void)origin, (void)seq_first, (void)seq_last;
    assert_int_equal(f->ops->each_run(f->store, nested_run, f), RP_E_STATE);
    return f->ops->charge(f->store, &(struct rp_charge){.unix_s = 1790000000});
}

static int nested_charge(void *arg, const struct rp_charge *charge)
{
    struct fixture *f = arg;
    (void)charge;
    assert_int_equal(f->ops->each_charge(f->store, nested_charge, f), RP_E_STATE);
    return 9;
}

static int nested_record(void *arg, const struct rp_record_row *row)
{
    struct fixture *f = arg;
    struct rp_record_ref ref = {row->origin, row->seq_first};
    return f->ops->get_record(f->store, ref, nested_record, f);
}

static void a_visit_within_the_same_visit_is_refused(void **state)
{
    struct fixture *f = *state;
    assert_int_equal(rows_append(f->store, 7, 1, 1), 0);
    assert_int_equal(f->ops->charge(f->store, &(struct rp_charge){.unix_s = 100000}), 0);
    assert_int_equal(f->ops->each_run(f->store, nested_run, f), RP_E_STATE);
    assert_int_equal(f->ops->each_charge(f->store, nested_charge, f), 9);
    struct rp_record_ref ref = {7, 1};
    assert_int_equal(f->ops->get_record(f->store, ref, nested_record, f), RP_E_STATE);
    assert_int_equal(rows_append(f->store, 7, 2, 1), 0);
}

static int charge_at(struct fixture *f, int64_t boot, int64_t at_s, uint32_t airtime_us)
{
    struct rp_charge charge = {.boot = boot,
                               .at_us = at_s * 1000000,
                               .unix_s = 1790000000,
                               .synced = true,
                               .freq_hz = 869525000,
                               .airtime_us = airtime_us,
                               .urgent = airtime_us == 4294967295u};
    return f->ops->charge(f->store, &charge);
}

static struct charges all_charges(struct fixture *f)
{
    struct charges charges = {.count = 0};
    assert_int_equal(f->ops->each_charge(f->store, charge_visit, &charges), 0);
    return charges;
}

static void charges_are_kept_for_two_hours(void **state)
{
    struct fixture *f = *state;
    assert_int_equal(charge_at(f, 5, 100000, 370688), 0);
    assert_int_equal(charge_at(f, 5, 100000, 4294967295u), 0);
    assert_int_equal(charge_at(f, 5, 107200, 1), 0);
    fixture_reopen(f);
    struct charges charges = all_charges(f);
    assert_int_equal(charges.count, 3); /* the newest first */
    assert_int_equal(charges.rows[2].airtime_us, 370688);
    assert_true(charges.rows[1].airtime_us == 4294967295u && charges.rows[1].urgent);
    assert_true(charges.rows[0].synced && !charges.rows[0].urgent);
    assert_int_equal(charges.rows[0].at_us, 107200000000);
    assert_int_equal(charges.rows[0].boot, 5);
    assert_int_equal(charges.rows[0].unix_s, 1790000000);
    assert_int_equal(charges.rows[0].freq_hz, 869525000);
    assert_int_equal(charge_at(f, 5, 107201, 2), 0);
    assert_int_equal(all_charges(f).count, 2);
    assert_int_equal(charge_at(f, 5, -1, 2), RP_E_INVALID);
    struct rp_charge early = {.unix_s = -1};
    assert_int_equal(f->ops->charge(f->store, &early), RP_E_INVALID);
}

static void charges_of_another_run_are_kept_until_this_run_is_an_hour_old(void **state)
{
    struct fixture *f = *state;
    assert_int_equal(charge_at(f, 9, 100000, 1), 0);
    assert_int_equal(charge_at(f, 5, 30, 2), 0);
    assert_int_equal(charge_at(f, 5, 3600, 3), 0);
    struct charges charges = all_charges(f);
    assert_int_equal(charges.count, 3);
    assert_int_equal(charges.rows[0].boot, 9);
    assert_int_equal(charges.rows[1].airtime_us, 3);
    assert_int_equal(charge_at(f, 5, 3601, 4), 0);
    assert_int_equal(all_charges(f).count, 3);
    assert_int_equal(all_charges(f).rows[0].boot, 5);
}

static void values_are_replaced_and_kept(void **state)
{
    struct fixture *f = *state;
    static uint8_t big[4097], buf[4096];
    struct rp_view origin = {(const uint8_t *)"\x00\x07", 2};
    assert_int_equal(f->ops->get_value(f->store, "origin", buf, sizeof buf), RP_E_NOT_FOUND);
    assert_int_equal(f->ops->set_value(f->store, "origin", origin), 0);
    assert_int_equal(f->ops->get_value(f->store, "origin", buf, 1), RP_E_TOO_LONG);
    assert_int_equal(f->ops->get_value(f->store, "origin", buf, 2), 2);
    assert_memory_equal(buf, "\x00\x07", 2);
    assert_int_equal(f->ops->set_value(f->store, "origin", (struct rp_view){NULL, 0}), 0);
    assert_int_equal(f->ops->get_value(f->store, "origin", buf, 0), 0);
    memset(big, 0x5a, sizeof big);
    assert_int_equal(f->ops->set_value(f->store, "big", (struct rp_view){big, 4096}), 0);
    assert_int_equal(f->ops->set_value(f->store, "big", (struct rp_view){big, 4097}),
                     RP_E_TOO_LONG);
    fixture_reopen(f);
    assert_int_equal(f->ops->get_value(f->store, "big", buf, sizeof buf), 4096);
    assert_memory_equal(buf, big, 4096);
    char key[66] = {0};
    memset(key, 'k', 64);
    assert_int_equal(f->ops->set_value(f->store, key, origin), 0);
    assert_int_equal(f->ops->get_value(f->store, key, buf, sizeof buf), 2);
    key[64] = 'k';
    assert_int_equal(f->ops->set_value(f->store, key, origin), RP_E_TOO_LONG);
    assert_int_equal(f->ops->get_value(f->store, "", buf, sizeof buf), RP_E_INVALID);
}

int main(void)
{
#define CASE(name) cmocka_unit_test_setup_teardown(name, fixture_open, fixture_close)
    const struct CMUnitTest tests[] = {
        CASE(an_own_record_is_held_after_closing),
        CASE(a_sequence_used_twice_writes_nothing),
        CASE(rows_out_of_bounds_are_refused),
        CASE(segments_arrive_in_any_order),
        CASE(a_record_without_all_its_segments_is_refused),
        CASE(a_segment_is_copied_or_not_found),
        CASE(runs_are_told_without_gaps),
        CASE(a_visit_within_the_same_visit_is_refused),
        CASE(charges_are_kept_for_two_hours),
        CASE(charges_of_another_run_are_kept_until_this_run_is_an_hour_old),
        CASE(values_are_replaced_and_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
