/* A report that promises the next one, from the camp's entry to base's question. Codes of the
 * promise and the trailer's place: PROTOCOL.md, "Hop trailer". */
#include "rp_test.h"

#include <string.h>

#include "node_net.h"

#define MINUTE_US (60 * NODE_NET_SECOND_US)

/* Index 0: camp 7 with an episode, 1: base 2; everything so far is at base. */
static struct rp_episode_ref start_pair(struct node_net *net, uint64_t seed)
{
    print_message("seed %lu\n", (unsigned long)seed);
    node_net_start_row(net, seed, 0, 0);
    node_net_up_all(net);
    struct rp_episode_ref ref = node_net_open(net, 0, "M. Tarn");
    assert_true(node_net_run_until(net, node_net_nothing_queued, net, 10 * MINUTE_US) >= 0);
    node_net_run(net, 10 * MINUTE_US);
    return ref;
}

static void report(struct node_net *net, struct rp_episode_ref ref, uint8_t next_min)
{
    struct rp_record record = {.kind = RP_REC_STATUS, .episode = ref};
    record.as.status.condition = RP_COND_SAME;
    record.as.status.next_min = next_min;
    node_net_enter(net, 0, &record);
}

/* The promise in the trailer of the first segment that the camp now sends. */
static int promise_on_air(struct node_net *net)
{
    struct rp_frame_head head;
    uint32_t before = net->at[0].frames_sent;
    for (int step = 0; step < 6000; step++) {
        node_net_run(net, NODE_NET_SECOND_US / 100);
        struct rp_view frame = {net->at[0].frame, net->at[0].frame_len};
        if (net->at[0].frames_sent > before && rp_frame_head_read(frame, &head) > 0 &&
            head.kind == RP_FRAME_SEGMENT) {
            return frame.bytes[frame.len - 1] & 7;
        }
    }
    return -1;
}

static void a_report_carries_its_promise_and_a_note_none(void **state)
{
    (void)state;
    static const struct {
        uint8_t next_min;
        int code;
    } rows[] = {{0, 0}, {5, 1}, {6, 2}, {15, 3}, {60, 6}, {120, 7}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct node_net net;
        struct rp_episode_ref ref = start_pair(&net, 61 + i);
        report(&net, ref, rows[i].next_min);
        assert_int_equal(promise_on_air(&net), rows[i].code);
        node_net_run(&net, MINUTE_US);
        struct rp_record note = {.kind = RP_REC_NOTE, .episode = ref};
        strcpy(note.as.note.text, "head end raised");
        node_net_enter(&net, 0, &note);
        assert_int_equal(promise_on_air(&net), 0);
        node_net_stop(&net);
    }
}

/* How often base asked in the quarter of an hour after the report, the camp being gone. */
static uint32_t asked_after(uint64_t seed, uint8_t next_min, bool then_note)
{
    struct node_net net;
    struct rp_episode_ref ref = start_pair(&net, seed);
    report(&net, ref, next_min);
    if (then_note) {
        node_net_run(&net, MINUTE_US);
        struct rp_record note = {.kind = RP_REC_NOTE, .episode = ref};
        strcpy(note.as.note.text, "asleep");
        node_net_enter(&net, 0, &note);
    }
    assert_true(node_net_run_until(&net, node_net_nothing_queued, &net, 4 * MINUTE_US) >= 0);
    node_net_link(&net, 0, 1, NODE_NET_NO_LINK);
    uint32_t before = node_net_status(&net, 1).mesh.requests_out;
    node_net_run(&net, 15 * MINUTE_US);
    uint32_t asked = node_net_status(&net, 1).mesh.requests_out - before;
    node_net_stop(&net);
    return asked;
}

static void base_asks_for_what_was_promised_and_has_not_come(void **state)
{
    (void)state;
    assert_true(asked_after(71, 5, false) > 0);
    assert_int_equal(asked_after(71, 0, false), 0);
    assert_int_equal(asked_after(71, 60, false), 0); /* not yet due */
    assert_int_equal(asked_after(71, 5, true), 0);   /* the note has taken the promise back */
}

static void the_promise_is_told_after_a_restart_too(void **state)
{
    (void)state;
    struct node_net net;
    struct rp_episode_ref ref = start_pair(&net, 81);
    assert_int_equal(node_net_status(&net, 0).promised_s, 0);
    report(&net, ref, 10);
    uint32_t now_s = node_net_time(&net, 0);
    assert_int_equal(node_net_status(&net, 0).promised_s, now_s + 600);
    node_net_restart(&net, 0);
    assert_int_equal(node_net_status(&net, 0).promised_s, now_s + 600);
    report(&net, ref, 0);
    assert_int_equal(node_net_status(&net, 0).promised_s, 0);
    assert_int_equal(node_net_status(&net, 1).promised_s, 0); /* only one's own */
    node_net_stop(&net);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_report_carries_its_promise_and_a_note_none),
        cmocka_unit_test(base_asks_for_what_was_promised_and_has_not_come),
        cmocka_unit_test(the_promise_is_told_after_a_restart_too),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
