/* Every rule of the audit must be able to fail: each is broken here on purpose, by what a faulty
 * station would do, and the same without the fault must pass. */
#include <stdlib.h>
#include <string.h>

#include "rp_test.h"
#include "sim/trial/audit.h"
#include "wire/frame.h"

struct rig {
    struct sim_topology topology;
    struct sim_settings settings;
    struct sim_world world;
    struct sim_audit audit;
};

#define ORIGIN 0x0301 /* station 1 */

static int set_up(void **state)
{
    struct rig *rig = calloc(1, sizeof *rig);
    struct rp_problem problem;
    assert_non_null(rig);
    assert_int_equal(sim_topology_make("chain:2", 0, &rig->topology, &problem), 0);
    sim_settings_defaults(&rig->settings);
    assert_int_equal(sim_world_init(&rig->world, &rig->topology, &rig->settings, 1, NULL, &problem),
                     0);
    sim_audit_init(&rig->audit, 2, 36000000); /* 36 s: 1 % of an hour */
    rig->world.now_us = 1000;
    *state = rig;
    return 0;
}

static int tear_down(void **state)
{
    struct rig *rig = *state;
    sim_audit_deinit(&rig->audit);
    sim_world_deinit(&rig->world);
    free(rig);
    return 0;
}

static const uint8_t sealed[] = "a sealed segment", other[] = "another content..";

static struct rp_segment_row segment(uint32_t seq, const void *bytes)
{
    return (struct rp_segment_row){ORIGIN, seq, true, true, {bytes, sizeof sealed}};
}

/* Station 0 makes a segment, as the world would tell it. */
static void make(struct rig *rig, uint32_t seq, bool urgent)
{
    struct rp_segment_row row = segment(seq, sealed);
    struct rp_record_row record = {
        .origin = ORIGIN, .seq_first = seq, .seq_last = seq, .urgent = urgent};
    sim_audit_made(&rig->audit, &rig->world, 0, &row, &record);
    if (sim_truth_find(&rig->world.truth, ORIGIN, seq) == NULL) {
        sim_truth_made(&rig->world.truth, 0, &row, &record, SIM_SORT_WORKLOAD, rig->world.now_us);
    }
}

static void assert_broken(const struct rig *rig, enum sim_rule rule)
{
    assert_int_equal(rig->audit.violations, 1);
    assert_int_equal(rig->audit.kept[0].rule, rule);
    assert_true(rig->audit.kept[0].text[0] != '\0');
}

static void test_segment_made_twice(void **state)
{
    struct rig *rig = *state;
    make(rig, 1, false);
    make(rig, 2, false);
    assert_int_equal(rig->audit.violations, 0);
    make(rig, 2, false);
    assert_broken(rig, SIM_RULE_NONCE);
}

static void test_log_begun_again(void **state)
{
    struct rig *rig = *state;
    make(rig, 1, false);
    struct rp_segment_row row = segment(1, sealed);
    struct rp_record_row record = {.origin = ORIGIN + 1, .seq_first = 1, .seq_last = 1};
    row.origin = ORIGIN + 1;
    sim_audit_made(&rig->audit, &rig->world, 0, &row, &record);
    assert_broken(rig, SIM_RULE_LOG);
}

static void test_log_begun_with_a_new_database(void **state)
{
    struct rig *rig = *state;
    make(rig, 1, false);
    sim_audit_wiped(&rig->audit, 0);
    struct rp_segment_row row = segment(1, sealed);
    struct rp_record_row record = {.origin = ORIGIN + 1, .seq_first = 1, .seq_last = 1};
    row.origin = ORIGIN + 1;
    sim_audit_made(&rig->audit, &rig->world, 0, &row, &record);
    assert_int_equal(rig->audit.violations, 0);
}

static void test_forged_segment_kept(void **state)
{
    struct rig *rig = *state;
    make(rig, 1, false);
    struct rp_segment_row row = segment(2, sealed);
    sim_audit_held(&rig->audit, &rig->world, 1, &row);
    assert_broken(rig, SIM_RULE_AUTHENTIC);
}

static void test_changed_segment_kept(void **state)
{
    struct rig *rig = *state;
    make(rig, 1, false);
    struct rp_segment_row row = segment(1, sealed);
    sim_audit_held(&rig->audit, &rig->world, 1, &row);
    assert_int_equal(rig->audit.violations, 0);
    row = segment(1, other);
    sim_audit_held(&rig->audit, &rig->world, 1, &row);
    assert_broken(rig, SIM_RULE_IDENTICAL);
}

static void test_shown_at_base_too_early(void **state)
{
    struct rig *rig = *state;
    make(rig, 1, false);
    sim_truth_held(&rig->world.truth, 1, ORIGIN, 1, 5000); /* station 1 is base */
    sim_audit_at_base(&rig->audit, &rig->world, 0, ORIGIN, 1, 1);
    assert_int_equal(rig->audit.violations, 0);
    make(rig, 2, false);
    sim_audit_at_base(&rig->audit, &rig->world, 0, ORIGIN, 1, 2);
    assert_broken(rig, SIM_RULE_STORED);
}

static void test_acknowledged_and_not_stored(void **state)
{
    struct rig *rig = *state;
    make(rig, 1, false);
    sim_audit_entered(&rig->audit, &rig->world, 0, (struct rp_record_ref){ORIGIN, 1});
    assert_int_equal(rig->audit.violations, 0);
    sim_audit_entered(&rig->audit, &rig->world, 0, (struct rp_record_ref){ORIGIN, 2});
    assert_broken(rig, SIM_RULE_STORED);
}

/* A frame of station 0 on air, `len` bytes. */
static void air(struct rig *rig, const uint8_t *bytes, size_t len, rp_time_us start_us,
                rp_time_us end_us)
{
    struct sim_air_frame frame = {0, {bytes, len}, start_us, start_us, end_us};
    rig->world.now_us = start_us;
    sim_audit_on_air(&rig->audit, &rig->world, &frame);
}

static size_t control_frame(uint32_t counter, uint8_t *bytes)
{
    struct rp_frame_head head = {.kind = RP_FRAME_DIGEST, .origin = ORIGIN, .counter = counter};
    int len = rp_frame_head_write(&head, bytes, 64);
    assert_true(len > 0);
    memset(bytes + len, 0x5a, 18);
    return (size_t)len + 18;
}

static void test_counter_used_twice(void **state)
{
    struct rig *rig = *state;
    uint8_t bytes[64];
    size_t len = control_frame(7, bytes);
    air(rig, bytes, len, 10000, 20000);
    len = control_frame(8, bytes);
    air(rig, bytes, len, 30000, 40000);
    assert_int_equal(rig->audit.violations, 0);
    air(rig, bytes, len, 50000, 60000);
    assert_broken(rig, SIM_RULE_NONCE);
}

/* A segment as it is sent: what was made, and a trailer. */
static size_t segment_frame(struct rig *rig, uint32_t seq, bool urgent, uint8_t *bytes)
{
    struct rp_frame_head head = {
        .kind = RP_FRAME_SEGMENT, .first = true, .last = true, .origin = ORIGIN, .counter = seq};
    int len = rp_frame_head_write(&head, bytes, 64);
    assert_true(len > 0);
    memset(bytes + len, (int)seq, 20);
    size_t sealed_len = (size_t)len + 20;
    struct rp_segment_row row = {ORIGIN, seq, true, true, {bytes, sealed_len}};
    struct rp_record_row record = {
        .origin = ORIGIN, .seq_first = seq, .seq_last = seq, .urgent = urgent};
    sim_audit_made(&rig->audit, &rig->world, 0, &row, &record);
    sim_truth_made(&rig->world.truth, 0, &row, &record, SIM_SORT_WORKLOAD, rig->world.now_us);
    rp_trailer_write(&(struct rp_trailer){.station = 1}, bytes + sealed_len);
    return sealed_len + RP_TRAILER_LEN;
}

static void test_segment_sent_with_other_bytes(void **state)
{
    struct rig *rig = *state;
    uint8_t bytes[64];
    size_t len = segment_frame(rig, 1, false, bytes);
    air(rig, bytes, len, 10000, 20000);
    assert_int_equal(rig->audit.violations, 0);
    bytes[len - RP_TRAILER_LEN - 1] ^= 1; /* the last byte of the seal */
    air(rig, bytes, len, 30000, 40000);
    assert_broken(rig, SIM_RULE_NONCE);
}

static void test_segment_sent_before_stored(void **state)
{
    struct rig *rig = *state;
    uint8_t bytes[64];
    size_t len = segment_frame(rig, 1, false, bytes);
    bytes[3] = 2; /* the sequence: nobody has made it */
    air(rig, bytes, len, 10000, 20000);
    assert_broken(rig, SIM_RULE_STORED);
}

/* 36 s of an hour are allowed. 30 s and 6 s are just that, and one more microsecond in the same
 * hour is too much. */
static void test_law(void **state)
{
    struct rig *rig = *state;
    uint8_t bytes[64];
    size_t len = control_frame(1, bytes);
    air(rig, bytes, len, 10000000, 40000000);
    len = control_frame(2, bytes);
    air(rig, bytes, len, 3594000000, 3600000000);
    assert_int_equal(rig->audit.violations, 0);
    len = control_frame(3, bytes);
    air(rig, bytes, len, 3600000000, 3600000001);
    assert_broken(rig, SIM_RULE_LAW);
}

/* A second later than the hour's end, a second of the first frame has left the hour. */
static void test_law_slides(void **state)
{
    struct rig *rig = *state;
    uint8_t bytes[64];
    size_t len = control_frame(1, bytes);
    air(rig, bytes, len, 10000000, 40000000);
    len = control_frame(2, bytes);
    air(rig, bytes, len, 3594000000, 3600000000);
    len = control_frame(3, bytes);
    air(rig, bytes, len, 3610000000, 3611000000);
    assert_int_equal(rig->audit.violations, 0);
    len = control_frame(4, bytes);
    air(rig, bytes, len, 7210000000, 7246000000); /* and a whole hour later all of it has */
    assert_int_equal(rig->audit.violations, 0);
}

static void test_urgent_behind(void **state)
{
    struct rig *rig = *state;
    uint8_t routine[64], urgent[64];
    size_t routine_len = segment_frame(rig, 1, false, routine);
    size_t urgent_len = segment_frame(rig, 2, true, urgent); /* in hand from now_us = 1000 on */
    air(rig, urgent, urgent_len, 10000, 20000);
    air(rig, routine, routine_len, 30000, 40000);
    assert_int_equal(rig->audit.violations, 0);
    urgent_len = segment_frame(rig, 3, true, urgent);
    air(rig, routine, routine_len, 50000, 60000);
    assert_broken(rig, SIM_RULE_URGENT);
}

/* Station 2 takes a frame in from its modem. */
static void hears(struct rig *rig, uint8_t *bytes, size_t len, uint8_t named, rp_time_us at_us)
{
    struct rp_frame_head head;
    struct sim_arrival arrival = {.kind = SIM_ARRIVAL_FRAME, .len = (uint16_t)len};
    rp_trailer_write(&(struct rp_trailer){.station = 1, .named = named},
                     bytes + len - RP_TRAILER_LEN);
    memcpy(arrival.bytes, bytes, len);
    assert_true(rp_frame_head_read((struct rp_view){bytes, len}, &head) > 0);
    struct rp_segment_row row = {ORIGIN, head.counter, true, true, {bytes, len - RP_TRAILER_LEN}};
    rig->world.now_us = at_us;
    sim_audit_arriving(&rig->audit, &rig->world, 1, &arrival);
    if (!sim_set_has(&sim_truth_find(&rig->world.truth, ORIGIN, head.counter)->holders, 1)) {
        sim_audit_held(&rig->audit, &rig->world, 1, &row);
        sim_truth_held(&rig->world.truth, 1, ORIGIN, head.counter, at_us);
    }
}

static void relays(struct rig *rig, const uint8_t *bytes, size_t len, rp_time_us at_us)
{
    struct sim_air_frame frame = {1, {bytes, len}, at_us, at_us + 1, at_us + 10000};
    rig->world.now_us = at_us;
    sim_audit_on_air(&rig->audit, &rig->world, &frame);
}

/* A relay that is named for an urgent segment sends it before anything else. What counts is what
 * the frame says that it takes in, also when others have reached it since: after a pause of its
 * process many wait. */
static void test_urgent_behind_at_a_relay(void **state)
{
    struct rig *rig = *state;
    /* Only the first is a fault. 255: the urgent one is not heard again. */
    static const struct {
        uint8_t named, named_again;
    } rows[] = {{2, 255}, {3, 255}, {0, 255}, {3, 2}, {2, 3}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        uint8_t routine[64], urgent[64];
        rp_time_us at_us = (rp_time_us)(i + 1) * 60 * SIM_SECOND_US;
        uint32_t seq = (uint32_t)(2 * i + 1);
        size_t routine_len = segment_frame(rig, seq, false, routine);
        size_t urgent_len = segment_frame(rig, seq + 1, true, urgent);
        hears(rig, urgent, urgent_len, rows[i].named, at_us);
        hears(rig, routine, routine_len, 0, at_us);
        if (rows[i].named_again != 255) {
            hears(rig, urgent, urgent_len, rows[i].named_again, at_us);
        }
        relays(rig, routine, routine_len, at_us + SIM_SECOND_US);
        assert_int_equal(rig->audit.violations, i > 0);
        relays(rig, urgent, urgent_len, at_us + 2 * SIM_SECOND_US);
        assert_int_equal(rig->audit.violations, 1);
        assert_int_equal(rig->audit.kept[0].rule, SIM_RULE_URGENT);
    }
}

/* Handed to the modem before the urgent record was entered: nobody could know. */
static void test_urgent_entered_meanwhile(void **state)
{
    struct rig *rig = *state;
    uint8_t routine[64], urgent[64];
    size_t len = segment_frame(rig, 1, false, routine);
    rig->world.now_us = 15000;
    segment_frame(rig, 2, true, urgent);
    struct sim_air_frame frame = {0, {routine, len}, 14000, 16000, 20000};
    sim_audit_on_air(&rig->audit, &rig->world, &frame);
    assert_int_equal(rig->audit.violations, 0);
}

static void test_spinning(void **state)
{
    struct rig *rig = *state;
    for (unsigned i = 0; i < 1999; i++) {
        sim_audit_woken(&rig->audit, &rig->world, 1);
    }
    assert_int_equal(rig->audit.violations, 0);
    sim_audit_woken(&rig->audit, &rig->world, 1);
    assert_broken(rig, SIM_RULE_BOUNDED);
}

static void test_bounds(void **state)
{
    struct rig *rig = *state;
    sim_audit_end(&rig->audit, &rig->world);
    assert_int_equal(rig->audit.violations, 0);
    rig->world.hosts[1].store->over = true;
    sim_audit_end(&rig->audit, &rig->world);
    assert_broken(rig, SIM_RULE_BOUNDED);
}

static void test_liveness(void **state)
{
    struct rig *rig = *state;
    make(rig, 1, false);
    sim_audit_liveness(&rig->audit, &rig->world);
    assert_broken(rig, SIM_RULE_LIVENESS);
}

static void test_liveness_kept(void **state)
{
    struct rig *rig = *state;
    make(rig, 1, false);
    sim_truth_held(&rig->world.truth, 1, ORIGIN, 1, 5000);
    sim_audit_liveness(&rig->audit, &rig->world);
    assert_int_equal(rig->audit.violations, 0);
}

/* The first segment that station 0 sends; returns its length. */
static size_t first_segment(struct rig *rig, uint8_t *bytes)
{
    const struct sim_modem *modem = &rig->world.hosts[0].modem;
    struct rp_frame_head head = {.kind = RP_FRAME_DIGEST};
    for (unsigned i = 0; i < 6000 && head.kind != RP_FRAME_SEGMENT; i++) {
        sim_world_run(&rig->world, rig->world.now_us + SIM_SECOND_US / 10);
        if (rp_frame_head_read((struct rp_view){modem->frame, modem->frame_len}, &head) < 0) {
            head.kind = RP_FRAME_DIGEST;
        }
    }
    assert_int_equal(head.kind, RP_FRAME_SEGMENT); /* its station card, within ten minutes */
    memcpy(bytes, modem->frame, modem->frame_len);
    return modem->frame_len;
}

/* A forged frame must raise the count of refused ones. A genuine one, called forged here, does not:
 * the audit must say so. */
static void test_forged_not_refused(void **state)
{
    struct rig *rig = *state;
    uint8_t frame[RP_FRAME_LEN_MAX];
    sim_world_run(&rig->world, 12 * SIM_SECOND_US); /* all start within 10 s */
    size_t len = first_segment(rig, frame);
    for (unsigned genuine = 0; genuine < 2; genuine++) {
        frame[8] ^= 1; /* in the seal: broken first, mended second */
        struct sim_arrival arrival = {.kind = SIM_ARRIVAL_FORGED, .len = (uint16_t)len};
        sim_audit_arriving(&rig->audit, &rig->world, 1, &arrival);
        rig->world.hosts[1].arrival_count = 0;
        sim_host_bring(&rig->world.hosts[1], SIM_ARRIVAL_FRAME, (struct rp_view){frame, len},
                       rig->world.now_us, 0);
        sim_host_arrive(&rig->world.hosts[1], rig->world.now_us);
        sim_audit_arrived(&rig->audit, &rig->world, 1, &arrival);
        assert_int_equal(rig->audit.violations, genuine);
    }
    assert_broken(rig, SIM_RULE_AUTHENTIC);
}

#define WITH_RIG(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_RIG(test_segment_made_twice),
        WITH_RIG(test_log_begun_again),
        WITH_RIG(test_log_begun_with_a_new_database),
        WITH_RIG(test_forged_segment_kept),
        WITH_RIG(test_changed_segment_kept),
        WITH_RIG(test_shown_at_base_too_early),
        WITH_RIG(test_acknowledged_and_not_stored),
        WITH_RIG(test_counter_used_twice),
        WITH_RIG(test_segment_sent_with_other_bytes),
        WITH_RIG(test_segment_sent_before_stored),
        WITH_RIG(test_law),
        WITH_RIG(test_law_slides),
        WITH_RIG(test_urgent_behind),
        WITH_RIG(test_urgent_behind_at_a_relay),
        WITH_RIG(test_urgent_entered_meanwhile),
        WITH_RIG(test_spinning),
        WITH_RIG(test_bounds),
        WITH_RIG(test_liveness),
        WITH_RIG(test_liveness_kept),
        WITH_RIG(test_forged_not_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
