/* Stations that hear each other: receipts, delivery, restarts, a restored database, twins. */
#include "rp_test.h"

#include <stdio.h>
#include <string.h>

#include "node_net.h"

#define MINUTE_US (60 * NODE_NET_SECOND_US)

/* Index 0: camp 7, 1: base 2, 2: a further base or station where a test adds one. Runs until the
 * camp's card is known to be at base. */
static void start_pair(struct node_net *net, uint64_t seed)
{
    print_message("seed %lu\n", (unsigned long)seed);
    node_net_start_row(net, seed, 0, 0);
    node_net_up_all(net);
    assert_true(node_net_run_until(net, node_net_nothing_queued, net, 10 * MINUTE_US) >= 0);
}

static struct rp_episode_ref open_episode(struct node_net *net, size_t index)
{
    return node_net_open(net, index, "M. Tarn");
}

static struct rp_record_ref note(struct node_net *net, size_t index, struct rp_episode_ref ref)
{
    return node_net_note(net, index, ref, "head end raised");
}

static struct rp_record_ref evacuate(struct node_net *net, size_t index, struct rp_episode_ref ref)
{
    struct rp_record record = {.kind = RP_REC_EVACUATION, .episode = ref};
    record.as.evacuation.urgency = RP_URG_E1_NOW;
    return node_net_enter(net, index, &record);
}

/* The port goes while a frame is on its way: nobody knows whether it was on air, so its airtime is
 * counted, and silence brings it again. */
static void a_frame_lost_with_the_port_is_sent_again(void **state)
{
    (void)state;
    struct node_net net;
    struct rp_node_status before, gone, after;
    start_pair(&net, 29);
    struct rp_episode_ref ref = open_episode(&net, 0);
    assert_true(node_net_run_until(&net, node_net_nothing_queued, &net, 10 * MINUTE_US) >= 0);
    struct rp_node *camp = net.at[0].node;
    before = node_net_status(&net, 0);
    note(&net, 0, ref);
    for (int i = 0; i < 6000 && !net.at[0].sending; i++) {
        node_net_run(&net, NODE_NET_SECOND_US / 100);
    }
    assert_true(net.at[0].sending);
    rp_node_line_closed(camp, node_net_moment(&net, 0));
    net.at[0].sending = false; /* the modem has lost its power */
    gone = node_net_status(&net, 0);
    assert_int_equal(gone.radio.tx_unknown - before.radio.tx_unknown, 1);
    assert_int_equal(gone.queued, 1);
    assert_true(gone.mesh.airtime_out_us > before.mesh.airtime_out_us);
    node_net_run(&net, MINUTE_US);
    rp_node_line_opened(camp, node_net_moment(&net, 0));
    assert_true(node_net_run_until(&net, node_net_nothing_queued, &net, 10 * MINUTE_US) >= 0);
    after = node_net_status(&net, 0);
    assert_true(after.mesh.frames_out > gone.mesh.frames_out);
    node_net_stop(&net);
}

struct search {
    struct node_net *net;
    size_t index;
    struct rp_record_ref ref;
    enum rp_delivery at_least;
    bool found;
    struct rp_delivery_row row;
};

static int match(void *arg, const struct rp_delivery_row *row)
{
    struct search *search = arg;
    if (row->ref.origin == search->ref.origin && row->ref.seq == search->ref.seq) {
        search->found = true;
        search->row = *row;
    }
    return 0;
}

static struct rp_delivery_row delivery(struct node_net *net, size_t index, struct rp_record_ref ref)
{
    struct search search = {.net = net, .index = index, .ref = ref};
    struct rp_episode_ref all = {0, 0};
    assert_int_equal(rp_node_each_delivery(net->at[index].node, all, match, &search), RP_OK);
    assert_true(search.found);
    return search.row;
}

static bool delivered(void *arg)
{
    const struct search *search = arg;
    return delivery(search->net, search->index, search->ref).state >= search->at_least;
}

static rp_time_us until_delivered(struct node_net *net, size_t index, struct rp_record_ref ref,
                                  enum rp_delivery at_least, rp_time_us limit_us)
{
    struct search search = {.net = net, .index = index, .ref = ref, .at_least = at_least};
    return node_net_run_until(net, delivered, &search, limit_us);
}

static int count_one(void *arg, const struct rp_record_row *row)
{
    (void)row;
    ++*(uint32_t *)arg;
    return 0;
}

static uint32_t receipts_of(struct node_net *net, size_t index)
{
    uint32_t count = 0;
    struct rp_record_filter filter = {.origin = rp_node_origin(net->at[index].node),
                                      .kind = RP_REC_RECEIPT};
    rp_node_each_record(net->at[index].node, &filter, count_one, &count);
    return count;
}

/* Whoever owns the port may know that the channel is busy: then this station waits, but not for
 * ever, since a channel that is never free is no channel that is heard. */
static void a_station_that_hears_the_channel_lets_others_finish(void **state)
{
    (void)state;
    struct node_net net;
    start_pair(&net, 31);
    struct rp_episode_ref ref = open_episode(&net, 0);
    assert_true(node_net_run_until(&net, node_net_nothing_queued, &net, 10 * MINUTE_US) >= 0);
    node_net_run(&net, 10 * MINUTE_US);
    for (int told = 0; told < 2; told++) {
        uint32_t before = net.at[0].frames_sent;
        rp_node_channel(net.at[0].node, told != 0, node_net_moment(&net, 0));
        note(&net, 0, ref);
        node_net_run(&net, 4 * NODE_NET_SECOND_US);
        assert_int_equal(net.at[0].frames_sent > before, told == 0);
        node_net_run(&net, MINUTE_US);
        assert_true(net.at[0].frames_sent > before);
        assert_int_equal(node_net_status(&net, 0).queued, 0);
    }
    node_net_stop(&net);
}

static void delivery_goes_through_its_states_in_order(void **state)
{
    (void)state;
    struct node_net net;
    start_pair(&net, 1);
    struct rp_node_config config = node_net_config(4, RP_ROLE_RELAY);
    size_t relay = node_net_add(&net, &config);
    node_net_link(&net, 0, 1, NODE_NET_NO_LINK);
    node_net_link(&net, 0, relay, 0);
    struct rp_episode_ref ref = open_episode(&net, 0);
    struct rp_record_ref request = evacuate(&net, 0, ref);
    assert_int_equal(delivery(&net, 0, request).state, RP_DEL_QUEUED);
    assert_true(until_delivered(&net, 0, request, RP_DEL_ON_AIR, MINUTE_US) >= 0);
    assert_int_equal(delivery(&net, 0, request).state, RP_DEL_ON_AIR);
    assert_int_equal(node_net_status(&net, 0).queued, 2);
    node_net_link(&net, 1, relay, 0);
    node_net_up(&net, relay);
    /* That the relay has it may show only with the receipt; what is told of it must be right. */
    while (until_delivered(&net, 0, request, RP_DEL_AT_BASE, 0) < 0) {
        struct rp_delivery_row row = delivery(&net, 0, request);
        assert_true(row.state == RP_DEL_ON_AIR || (row.state == RP_DEL_HEARD && row.station == 4));
        assert_true(net.now_us < 30 * MINUTE_US);
    }
    assert_int_equal(delivery(&net, 0, request).state, RP_DEL_AT_BASE);
    struct rp_record answer = {.kind = RP_REC_ANSWER, .episode = ref};
    answer.as.answer.about = request;
    answer.as.answer.kind = RP_ANS_SEEN;
    strcpy(answer.by, "Pelle");
    struct rp_record_ref seen = node_net_enter(&net, 1, &answer);
    assert_int_equal(delivery(&net, 1, seen).state, RP_DEL_AT_BASE); /* entered there */
    assert_true(until_delivered(&net, 0, request, RP_DEL_SEEN, 10 * MINUTE_US) >= 0);
    assert_string_equal(delivery(&net, 0, request).seen_by, "Pelle");
    node_net_stop(&net);
}

/* The same from what storage was told: each state outranks those before it, whatever came first. */
static void the_highest_state_reached_is_told(void **state)
{
    (void)state;
    const struct rp_store_ops *ops = memory_store_ops();
    struct node_net net;
    start_pair(&net, 10);
    node_net_link(&net, 0, 1, NODE_NET_NO_LINK);
    struct rp_record_ref ref = note(&net, 0, open_episode(&net, 0));
    struct memory_store *store = net.at[0].store;
    struct rp_delivery_row row = delivery(&net, 0, ref);
    assert_int_equal(row.state, RP_DEL_QUEUED);
    assert_int_equal(row.state_s, node_net_moment(&net, 0).unix_s);
    assert_int_equal(row.kind, RP_REC_NOTE);
    assert_false(row.urgent);
    assert_int_equal(ops->mark_heard(store, ref.origin, ref.seq, 1000, 4), RP_OK);
    assert_int_equal(ops->mark_aired(store, ref.origin, ref.seq, 2000), RP_OK);
    row = delivery(&net, 0, ref);
    assert_int_equal(row.state, RP_DEL_HEARD);
    assert_int_equal(row.state_s, 1000);
    assert_int_equal(row.station, 4);
    assert_int_equal(ops->mark_heard(store, ref.origin, ref.seq, 3000, 5), RP_OK);
    assert_int_equal(delivery(&net, 0, ref).station, 4); /* the first is kept */
    assert_int_equal(ops->mark_base(store, ref.origin, 1, ref.seq, 4000), 2); /* and the opening */
    row = delivery(&net, 0, ref);
    assert_int_equal(row.state, RP_DEL_AT_BASE);
    assert_int_equal(row.state_s, 4000);
    node_net_stop(&net);
}

static void base_gathers_receipts_but_not_for_urgent_records(void **state)
{
    (void)state;
    struct node_net net;
    start_pair(&net, 2);
    uint32_t before = receipts_of(&net, 1);
    struct rp_episode_ref ref = open_episode(&net, 0);
    struct rp_record_ref last = {0, 0};
    for (int i = 0; i < 4; i++) {
        last = note(&net, 0, ref);
        node_net_run(&net, 2 * NODE_NET_SECOND_US);
    }
    assert_true(until_delivered(&net, 0, last, RP_DEL_AT_BASE, 5 * MINUTE_US) >= 0);
    assert_in_range(receipts_of(&net, 1) - before, 0, 2); /* five records, perhaps told by a mark */
    uint32_t gathered = receipts_of(&net, 1);
    struct rp_record_ref request = evacuate(&net, 0, ref);
    /* Well before the 17 s or so that a routine receipt waits. */
    assert_true(until_delivered(&net, 0, request, RP_DEL_AT_BASE, 12 * NODE_NET_SECOND_US) >= 0);
    assert_int_equal(receipts_of(&net, 1), gathered + 1);
    node_net_stop(&net);
}

/* One note every ten minutes for a day, in a band of 1 %: the first few are receipted soon, then
 * one in six hours is written, since base's marks tell the camp; and for an urgent record at once,
 * whatever was written before. */
static void receipts_are_spaced_where_airtime_is_short(void **state)
{
    (void)state;
    struct node_net net;
    node_net_start_row(&net, 11, 0, 0);
    net.at[0].config.net.duty_permille = net.at[1].config.net.duty_permille = 10;
    node_net_up_all(&net);
    node_net_run(&net, 3 * 60 * MINUTE_US);
    struct rp_episode_ref ref = open_episode(&net, 0);
    assert_true(until_delivered(&net, 0, note(&net, 0, ref), RP_DEL_AT_BASE, 2 * MINUTE_US) >= 0);
    uint32_t before = receipts_of(&net, 1);
    struct rp_record_ref notes[24 * 6];
    for (int i = 0; i < 24 * 6; i++) {
        notes[i] = note(&net, 0, ref);
        node_net_run(&net, 10 * MINUTE_US);
        /* Base tells every half hour, and the next note but one brings it over. */
        if (i >= 6) {
            assert_int_equal(delivery(&net, 0, notes[i - 6]).state, RP_DEL_AT_BASE);
        }
    }
    assert_in_range(receipts_of(&net, 1) - before, 4, 8);
    struct rp_record_ref request = evacuate(&net, 0, ref);
    assert_true(until_delivered(&net, 0, request, RP_DEL_AT_BASE, 30 * NODE_NET_SECOND_US) >= 0);
    node_net_stop(&net);
}

static void two_bases_do_not_answer_each_others_receipts(void **state)
{
    (void)state;
    struct node_net net;
    start_pair(&net, 3);
    struct rp_node_config other = node_net_config(3, RP_ROLE_BASE);
    size_t second = node_net_add(&net, &other);
    node_net_link(&net, 0, second, 0);
    node_net_link(&net, 1, second, 0);
    node_net_up(&net, second);
    struct rp_record_ref last = note(&net, 0, open_episode(&net, 0));
    assert_true(until_delivered(&net, 0, last, RP_DEL_AT_BASE, 5 * MINUTE_US) >= 0);
    node_net_run(&net, 10 * MINUTE_US);
    uint32_t first_count = receipts_of(&net, 1), second_count = receipts_of(&net, second);
    assert_in_range(first_count, 1, 6);
    assert_in_range(second_count, 1, 6);
    node_net_run(&net, 120 * MINUTE_US);
    assert_int_equal(receipts_of(&net, 1), first_count);
    assert_int_equal(receipts_of(&net, second), second_count);
    node_net_stop(&net);
}

/* Base had the record and was cut off before it wrote the receipt. */
static void base_still_owes_its_receipts_after_a_restart(void **state)
{
    (void)state;
    struct node_net net;
    start_pair(&net, 4);
    struct rp_record_ref last = note(&net, 0, open_episode(&net, 0));
    uint32_t had = memory_store_records(net.at[1].store, last.origin);
    while (memory_store_records(net.at[1].store, last.origin) < had + 2) {
        node_net_run(&net, NODE_NET_SECOND_US);
        assert_true(net.now_us < 10 * MINUTE_US);
    }
    uint32_t receipts = receipts_of(&net, 1);
    assert_int_not_equal(delivery(&net, 0, last).state, RP_DEL_AT_BASE);
    node_net_restart(&net, 1);
    assert_true(until_delivered(&net, 0, last, RP_DEL_AT_BASE, 5 * MINUTE_US) >= 0);
    node_net_run(&net, MINUTE_US); /* a mark may have been faster */
    assert_int_equal(receipts_of(&net, 1), receipts + 1);
    node_net_restart(&net, 1); /* and once told, not again */
    node_net_run(&net, 5 * MINUTE_US);
    assert_int_equal(receipts_of(&net, 1), receipts + 1);
    node_net_stop(&net);
}

static void a_restarted_camp_applies_receipts_and_sends_what_nobody_heard(void **state)
{
    (void)state;
    struct node_net net;
    start_pair(&net, 5);
    node_net_link(&net, 0, 1, NODE_NET_NO_LINK);
    struct rp_episode_ref ref = open_episode(&net, 0);
    struct rp_record_ref last = note(&net, 0, ref);
    node_net_run(&net, 2 * MINUTE_US);
    assert_int_equal(delivery(&net, 0, last).state, RP_DEL_ON_AIR);
    node_net_down(&net, 0);
    node_net_link(&net, 0, 1, 0);
    node_net_run(&net, 5 * NODE_NET_SECOND_US);
    node_net_up(&net, 0);
    assert_true(until_delivered(&net, 0, last, RP_DEL_AT_BASE, 5 * MINUTE_US) >= 0);
    /* The receipt is entered while the camp is down, and fetched when it is back. */
    struct rp_record_ref more = note(&net, 0, ref);
    while (memory_store_segments(net.at[1].store, more.origin) < more.seq) {
        node_net_run(&net, NODE_NET_SECOND_US);
        assert_true(net.now_us < 30 * MINUTE_US);
    }
    node_net_down(&net, 0);
    node_net_run(&net, 2 * MINUTE_US);
    node_net_up(&net, 0);
    assert_true(until_delivered(&net, 0, more, RP_DEL_AT_BASE, 10 * MINUTE_US) >= 0);
    assert_int_equal(node_net_status(&net, 0).queued, 0);
    node_net_stop(&net);
}

/* A write that reached the disk though it failed travels with the next one. */
static void a_record_of_a_doubtful_write_is_not_lost(void **state)
{
    (void)state;
    struct node_net net;
    start_pair(&net, 6);
    struct rp_episode_ref ref = open_episode(&net, 0);
    struct rp_record lost = {.kind = RP_REC_NOTE, .episode = ref};
    struct rp_record_ref out;
    struct rp_problem problem;
    memset(lost.as.note.text, 'x', 200);
    memory_store_fail(net.at[0].store, (struct memory_fault){0, 1, RP_E_IO, true});
    assert_int_equal(rp_node_enter(net.at[0].node, &lost, node_net_moment(&net, 0), &out, &problem),
                     RP_E_IO);
    struct rp_record_ref next = note(&net, 0, ref);
    assert_true(until_delivered(&net, 0, next, RP_DEL_AT_BASE, 5 * MINUTE_US) >= 0);
    node_net_run(&net, 5 * MINUTE_US);
    assert_int_equal(memory_store_records(net.at[1].store, next.origin),
                     memory_store_records(net.at[0].store, next.origin));
    node_net_stop(&net);
}

/* Kind 31 is none of this version's: a newer program of the same net would send it. */
static void enter_newer_kind(struct node_net *net, size_t index)
{
    struct node_net_station *station = &net->at[index];
    uint16_t origin = rp_node_origin(station->node);
    const uint8_t body[] = {31, 0x08, 0x01};
    uint8_t sealed[RP_FRAME_LEN_MAX];
    uint32_t seq = (uint32_t)memory_store_ops()->last_seq(station->store, origin) + 1;
    struct rp_seal seal;
    rp_seal_init(&seal, station->config.net.secret, 0);
    struct rp_frame_head head = {
        .kind = RP_FRAME_SEGMENT, .first = true, .last = true, .origin = origin, .counter = seq};
    int len =
        rp_frame_seal(&seal, &head, (struct rp_view){body, sizeof body}, sealed, sizeof sealed);
    rp_seal_deinit(&seal);
    assert_true(len > 0);
    struct rp_segment_row segment = {origin, seq, true, true, {sealed, (size_t)len}};
    struct rp_record_row row = {.origin = origin,
                                .seq_first = seq,
                                .seq_last = seq,
                                .kind = 31,
                                .stored_s = 1,
                                .body = {body, sizeof body}};
    assert_int_equal(memory_store_ops()->append_own(station->store, &segment, 1, &row), RP_OK);
}

static void a_record_of_a_newer_kind_is_kept_counted_and_relayed(void **state)
{
    (void)state;
    struct node_net net;
    start_pair(&net, 7);
    struct rp_node_config far = node_net_config(4, RP_ROLE_RELAY);
    size_t third = node_net_add(&net, &far); /* hears base only */
    node_net_link(&net, 1, third, 0);
    node_net_up(&net, third);
    uint16_t origin = rp_node_origin(net.at[0].node);
    enter_newer_kind(&net, 0);
    node_net_restart(&net, 0); /* publishes it */
    node_net_run(&net, 15 * MINUTE_US);
    uint32_t held = memory_store_records(net.at[0].store, origin);
    assert_int_equal(memory_store_records(net.at[1].store, origin), held);
    assert_int_equal(memory_store_records(net.at[third].store, origin), held);
    assert_int_equal(node_net_status(&net, 1).unreadable, 1);
    assert_int_equal(node_net_status(&net, third).unreadable, 1);
    node_net_restart(&net, 1);
    assert_int_equal(node_net_status(&net, 1).unreadable, 1);
    node_net_stop(&net);
}

static void a_restored_database_begins_a_new_log_and_loses_nothing(void **state)
{
    (void)state;
    struct node_net net;
    start_pair(&net, 8);
    struct rp_episode_ref ref = open_episode(&net, 0);
    struct rp_record_ref kept = note(&net, 0, ref);
    assert_true(until_delivered(&net, 0, kept, RP_DEL_AT_BASE, 5 * MINUTE_US) >= 0);
    struct memory_store *backup = memory_store_copy(net.at[0].store);
    struct rp_record_ref after = {0, 0};
    for (int i = 0; i < 3; i++) {
        after = note(&net, 0, ref);
        node_net_run(&net, 20 * NODE_NET_SECOND_US);
    }
    assert_true(until_delivered(&net, 0, after, RP_DEL_AT_BASE, 5 * MINUTE_US) >= 0);
    uint16_t old = after.origin;
    uint32_t whole = memory_store_records(net.at[0].store, old);
    node_net_down(&net, 0);
    node_net_restore(&net, 0, backup);
    node_net_run(&net, MINUTE_US);
    node_net_up(&net, 0);
    node_net_run(&net, 15 * MINUTE_US);
    assert_true(node_net_status(&net, 0).restarted_log);
    uint16_t fresh = rp_node_origin(net.at[0].node);
    assert_int_not_equal(fresh, old);
    assert_int_equal(rp_origin_station(fresh), 7);
    assert_int_equal(memory_store_records(net.at[0].store, old), whole); /* back over the air */
    assert_int_equal(delivery(&net, 0, after).state, RP_DEL_AT_BASE);
    struct rp_record_ref next = note(&net, 0, ref);
    assert_int_equal(next.origin, fresh);
    assert_true(until_delivered(&net, 0, next, RP_DEL_AT_BASE, 5 * MINUTE_US) >= 0);
    const struct rp_episode *episode;
    const struct rp_holding *holdings;
    size_t count;
    assert_int_equal(
        rp_node_episode(net.at[1].node, ref, node_net_moment(&net, 1), &episode, &holdings, &count),
        RP_OK);
    assert_int_equal(episode->notes.count, 5);
    assert_int_equal(count, 2); /* it draws on both logs */
    assert_false(node_net_status(&net, 0).same_station);
    node_net_restart(&net, 0);
    assert_int_equal(rp_node_origin(net.at[0].node), fresh);
    node_net_stop(&net);
}

static void two_stations_of_one_number_are_told_and_lose_nothing(void **state)
{
    (void)state;
    struct node_net net;
    start_pair(&net, 9);
    struct rp_node_config twin = node_net_config(7, RP_ROLE_CAMP);
    twin.generation_seed = 300;
    size_t second = node_net_add(&net, &twin);
    node_net_link(&net, 0, second, 0);
    node_net_link(&net, 1, second, 0);
    node_net_up(&net, second);
    assert_false(node_net_status(&net, 0).same_station);
    node_net_run(&net, 10 * MINUTE_US);
    assert_true(node_net_status(&net, 0).same_station);
    assert_true(node_net_status(&net, second).same_station);
    struct rp_record_ref one = note(&net, 0, open_episode(&net, 0)),
                         two = note(&net, second, open_episode(&net, second));
    node_net_run(&net, 15 * MINUTE_US);
    for (size_t i = 0; i < net.count; i++) {
        assert_int_equal(memory_store_records(net.at[i].store, one.origin), 3);
        assert_int_equal(memory_store_records(net.at[i].store, two.origin), 3);
    }
    /* Once the other is gone the warning ends. */
    node_net_down(&net, second);
    node_net_run(&net, 60 * MINUTE_US);
    assert_false(node_net_status(&net, 0).same_station);
    node_net_stop(&net);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_frame_lost_with_the_port_is_sent_again),
        cmocka_unit_test(a_station_that_hears_the_channel_lets_others_finish),
        cmocka_unit_test(delivery_goes_through_its_states_in_order),
        cmocka_unit_test(the_highest_state_reached_is_told),
        cmocka_unit_test(base_gathers_receipts_but_not_for_urgent_records),
        cmocka_unit_test(receipts_are_spaced_where_airtime_is_short),
        cmocka_unit_test(two_bases_do_not_answer_each_others_receipts),
        cmocka_unit_test(base_still_owes_its_receipts_after_a_restart),
        cmocka_unit_test(a_restarted_camp_applies_receipts_and_sends_what_nobody_heard),
        cmocka_unit_test(a_record_of_a_doubtful_write_is_not_lost),
        cmocka_unit_test(a_record_of_a_newer_kind_is_kept_counted_and_relayed),
        cmocka_unit_test(a_restored_database_begins_a_new_log_and_loses_nothing),
        cmocka_unit_test(two_stations_of_one_number_are_told_and_lose_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
