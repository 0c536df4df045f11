/* "Nothing heard": told when settings or secrets differ, not told of a net that is only quiet. The
 * spans are ours: 10 minutes for who never heard anybody, 12 hours for who did. */
#include "rp_test.h"

#include "node_net.h"

#define MINUTE_US (60 * NODE_NET_SECOND_US)

static uint32_t silent_s(const struct node_net *net, size_t index)
{
    return node_net_status(net, index).silent_s;
}

static void start(struct node_net *net, uint64_t seed, uint8_t other_secret)
{
    print_message("seed %lu\n", (unsigned long)seed);
    node_net_start_row(net, seed, 0, NODE_NET_NO_LINK);
    net->at[1].config.net.secret[0] ^= other_secret;
    node_net_up_all(net);
}

/* Stations on other settings do not hear each other at all. */
static void stations_that_hear_nothing_say_so_after_ten_minutes(void **state)
{
    (void)state;
    struct node_net net;
    start(&net, 31, 0);
    node_net_run(&net, 9 * MINUTE_US);
    assert_int_equal(silent_s(&net, 0), 0);
    node_net_run(&net, 2 * MINUTE_US);
    assert_in_range(silent_s(&net, 0), 600, 660);
    assert_in_range(silent_s(&net, 1), 600, 660);
    node_net_down(&net, 0);
    node_net_up(&net, 0); /* a modem that has just become ready has not been silent yet */
    node_net_run(&net, MINUTE_US);
    assert_int_equal(silent_s(&net, 0), 0);
    node_net_stop(&net);
}

static void another_secret_is_silence_with_frames(void **state)
{
    (void)state;
    struct node_net net;
    start(&net, 32, 0x55);
    node_net_link(&net, 0, 1, 0);
    node_net_run(&net, 11 * MINUTE_US);
    struct rp_node_status status = node_net_status(&net, 0);
    assert_in_range(status.silent_s, 600, 660);
    assert_false(status.heard_any);
    assert_true(status.mesh.refused_auth > 0);
    node_net_stop(&net);
}

static void a_quiet_net_is_not_silent(void **state)
{
    (void)state;
    struct node_net net;
    start(&net, 33, 0);
    node_net_link(&net, 0, 1, 0);
    node_net_run(&net, 2 * MINUTE_US);
    for (int i = 0; i < 24 * 6; i++) { /* a day */
        node_net_run(&net, 10 * MINUTE_US);
        assert_int_equal(silent_s(&net, 0), 0);
        assert_int_equal(silent_s(&net, 1), 0);
    }
    node_net_down(&net, 1);
    node_net_run(&net, 5 * 60 * MINUTE_US);
    assert_int_equal(silent_s(&net, 0), 0);
    node_net_run(&net, 8 * 60 * MINUTE_US);
    assert_in_range(silent_s(&net, 0), 12 * 3600, 20 * 3600);
    node_net_stop(&net);
}

static int keep_neighbour(void *arg, const struct rp_station_row *row)
{
    if (row->is_neighbour) {
        *(struct rp_mesh_neighbour *)arg = row->neighbour;
    }
    return 0;
}

/* Digests carry the hash of the settings: a net file with another power is noticed while the two
 * still hear each other. */
static void settings_of_a_neighbour_are_known(void **state)
{
    (void)state;
    struct node_net net;
    struct rp_node_status status[2];
    struct rp_mesh_neighbour heard = {.has_settings = false};
    start(&net, 34, 0);
    node_net_down(&net, 1);
    net.at[1].config.net.profile.power_dbm = 10;
    node_net_up(&net, 1);
    node_net_link(&net, 0, 1, 0);
    node_net_run(&net, 30 * MINUTE_US);
    for (size_t i = 0; i < 2; i++) {
        status[i] = node_net_status(&net, i);
    }
    assert_int_equal(rp_node_each_station(net.at[0].node, keep_neighbour, &heard), RP_OK);
    assert_true(heard.has_settings);
    assert_int_equal(heard.settings_hash, status[1].settings_hash);
    assert_int_not_equal(status[0].settings_hash, status[1].settings_hash);
    node_net_stop(&net);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stations_that_hear_nothing_say_so_after_ten_minutes),
        cmocka_unit_test(another_secret_is_silence_with_frames),
        cmocka_unit_test(a_quiet_net_is_not_silent),
        cmocka_unit_test(settings_of_a_neighbour_are_known),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
