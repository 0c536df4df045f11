/* What base's receipts tell, for whatever order a log arrives in: stations that do not hear each
 * other are handed single segments. */
#include "rp_test.h"

#include <string.h>

#include "node/node_state.h" /* rp_receipts_unit_us */
#include "node_net.h"
#include "wire/frame.h"

#define CAMP 0
#define BASE 1

static struct node_net net;

static void start(void)
{
    node_net_start_row(&net, 1, 0, NODE_NET_NO_LINK);
    node_net_up_all(&net);
    node_net_run(&net, 10 * NODE_NET_SECOND_US);
}

/* What a modem tells its host. */
struct line {
    uint8_t bytes[2000];
    size_t len;
};

/* One stored segment, as if the station that stores it had been heard with it. */
static void put(struct line *line, size_t from, uint16_t origin, uint32_t seq)
{
    enum { FEND = 0xc0, FESC = 0xdb, TFEND = 0xdc, TFESC = 0xdd }; /* The KISS TNC, 1987 */
    uint8_t frame[RP_FRAME_LEN_MAX];
    bool first, last;
    int len = memory_store_ops()->get_segment(net.at[from].store, origin, seq, &first, &last, frame,
                                              sizeof frame);
    assert_true(len > 0);
    struct rp_trailer trailer = {.station = net.at[from].config.station};
    rp_trailer_write(&trailer, frame + len);
    line->bytes[line->len++] = FEND;
    line->bytes[line->len++] = 0;
    for (int i = 0; i < len + RP_TRAILER_LEN; i++) {
        bool escape = frame[i] == FEND || frame[i] == FESC;
        if (escape) {
            line->bytes[line->len++] = FESC;
        }
        line->bytes[line->len++] = escape ? (frame[i] == FEND ? TFEND : TFESC) : frame[i];
    }
    line->bytes[line->len++] = FEND;
    assert_true(line->len + 2 * RP_FRAME_LEN_MAX < sizeof line->bytes);
}

/* All of it at once, as after a pause of the process. */
static void hand(const struct line *line, size_t to)
{
    rp_node_line_bytes(net.at[to].node, (struct rp_view){line->bytes, line->len},
                       node_net_moment(&net, to));
}

static struct rp_record_ref note(struct rp_episode_ref episode)
{
    return node_net_note(&net, CAMP, episode, "head end raised");
}

static struct rp_record_ref evacuate(struct rp_episode_ref episode)
{
    struct rp_record record = {.kind = RP_REC_EVACUATION, .episode = episode};
    record.as.evacuation.urgency = RP_URG_E1_NOW;
    return node_net_enter(&net, CAMP, &record);
}

static int count_receipt(void *arg, const struct rp_record_row *row)
{
    struct rp_record_row *newest = arg;
    newest->origin = row->origin;
    newest->seq_first = row->seq_first;
    newest->urgent = row->urgent;
    return 0;
}

/* The newest receipt of base goes to camp; false when there is none. */
static bool hand_receipt(void)
{
    struct rp_record_row newest = {0};
    struct rp_record_filter filter = {.kind = RP_REC_RECEIPT};
    memory_store_ops()->each_record(net.at[BASE].store, &filter, count_receipt, &newest);
    if (newest.seq_first == 0) {
        return false;
    }
    struct line line = {.len = 0};
    put(&line, BASE, newest.origin, newest.seq_first);
    hand(&line, CAMP);
    return true;
}

static int find_state(void *arg, const struct rp_record_row *row)
{
    *(int64_t *)arg = row->base_s;
    return 0;
}

static bool at_base(struct rp_record_ref ref)
{
    int64_t base_s = 0;
    assert_int_equal(memory_store_ops()->get_record(net.at[CAMP].store, ref, find_state, &base_s),
                     RP_OK);
    return base_s != 0;
}

/* Card 1, episode 2, then a gap, urgent requests and notes by turns, a gap, a note. */
struct log {
    struct rp_record_ref urgent[3], newest;
};

static struct log write_log(void)
{
    struct log log;
    struct rp_episode_ref episode = node_net_open(&net, CAMP, "M. Tarn");
    for (unsigned i = 0; i < 3; i++) {
        note(episode);
        log.urgent[i] = evacuate(episode);
    }
    note(episode);
    log.newest = note(episode);
    return log;
}

/* Seed 6434 of the simulator's storm: base had the request and newer records, and a gap before and
 * after it. Its receipts told of the newest run only, so that the request was repeated for a day.
 */
static void a_receipt_tells_of_the_urgent_record_between_two_gaps(void **state)
{
    (void)state;
    start();
    struct log log = write_log();
    struct line line = {.len = 0};
    put(&line, CAMP, log.newest.origin, 1);
    put(&line, CAMP, log.newest.origin, 2);
    put(&line, CAMP, log.newest.origin, log.newest.seq);
    put(&line, CAMP, log.urgent[1].origin, log.urgent[1].seq);
    hand(&line, BASE);
    assert_true(hand_receipt());
    assert_true(at_base(log.urgent[1]));
    assert_true(at_base(log.newest));
    assert_false(at_base(log.urgent[0]));
    node_net_stop(&net);
}

static void a_receipt_tells_of_all_urgent_records_that_came_at_once(void **state)
{
    (void)state;
    start();
    struct log log = write_log();
    struct line line = {.len = 0};
    put(&line, CAMP, log.newest.origin, 1);
    for (unsigned i = 0; i < 3; i++) {
        put(&line, CAMP, log.urgent[i].origin, log.urgent[i].seq);
    }
    hand(&line, BASE);
    assert_true(hand_receipt());
    for (unsigned i = 0; i < 3; i++) {
        assert_true(at_base(log.urgent[i]));
    }
    assert_false(at_base(log.newest));
    node_net_stop(&net);
}

/* Base stores the urgent record and fails before it writes the receipt; camp stores two receipts
 * and fails before it applies the first. */
static void nothing_that_was_owed_or_told_is_forgotten_in_a_restart(void **state)
{
    (void)state;
    start();
    struct log log = write_log();
    struct line line = {.len = 0};
    put(&line, CAMP, log.newest.origin, 1);
    put(&line, CAMP, log.urgent[0].origin, log.urgent[0].seq);
    put(&line, CAMP, log.newest.origin, log.newest.seq);
    memory_store_fail(net.at[BASE].store, (struct memory_fault){3, 1, RP_E_NO_SPACE, false});
    hand(&line, BASE);
    assert_false(hand_receipt());
    node_net_restart(&net, BASE);
    node_net_run(&net, NODE_NET_SECOND_US);
    memory_store_fail(net.at[CAMP].store, (struct memory_fault){1, 9, RP_E_NO_SPACE, false});
    assert_true(hand_receipt());
    assert_false(at_base(log.urgent[0]));
    memory_store_fail(net.at[CAMP].store, (struct memory_fault){0, 0, 0, false});
    node_net_run(&net, 5 * 60 * NODE_NET_SECOND_US); /* base tells of the newest */
    node_net_restart(&net, CAMP);
    node_net_run(&net, 10 * NODE_NET_SECOND_US);
    assert_true(hand_receipt());
    assert_true(at_base(log.newest));
    assert_true(at_base(log.urgent[0]));
    node_net_stop(&net);
}

static int count_one(void *arg, const struct rp_record_row *row)
{
    (void)row;
    ++*(unsigned *)arg;
    return 0;
}

static unsigned receipts(void)
{
    unsigned count = 0;
    struct rp_record_filter filter = {.kind = RP_REC_RECEIPT};
    memory_store_ops()->each_record(net.at[BASE].store, &filter, count_one, &count);
    return count;
}

static void hand_record(struct rp_record_ref ref, rp_time_us pause_us)
{
    struct line line = {.len = 0};
    put(&line, CAMP, ref.origin, ref.seq);
    hand(&line, BASE);
    node_net_run(&net, pause_us);
}

/* Six units, six hours in a band of 1 %: PROTOCOL.md, "Receipt". Also after many at once. */
static void many_urgent_records_put_off_no_routine_receipt(void **state)
{
    (void)state;
    start();
    rp_time_us unit_us = rp_receipts_unit_us(net.at[BASE].node);
    struct rp_record opened = {.kind = RP_REC_EPISODE};
    strcpy(opened.as.opened.patient, "M. Tarn");
    hand_record(node_net_enter(&net, CAMP, &opened), NODE_NET_SECOND_US);
    for (unsigned i = 0; i < 10; i++) {
        hand_record(evacuate(opened.episode), unit_us / 12);
        hand_record(note(opened.episode), unit_us / 12);
    }
    unsigned before = receipts();
    assert_true(before >= 10);
    for (unsigned i = 0; i < 5 * 6; i++) {
        hand_record(note(opened.episode), unit_us / 6);
    }
    assert_int_equal(receipts(), before);
    for (unsigned i = 0; i < 2 * 6; i++) {
        hand_record(note(opened.episode), unit_us / 6);
    }
    assert_int_equal(receipts(), before + 1);
    node_net_stop(&net);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_receipt_tells_of_the_urgent_record_between_two_gaps),
        cmocka_unit_test(a_receipt_tells_of_all_urgent_records_that_came_at_once),
        cmocka_unit_test(many_urgent_records_put_off_no_routine_receipt),
        cmocka_unit_test(nothing_that_was_owed_or_told_is_forgotten_in_a_restart),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
