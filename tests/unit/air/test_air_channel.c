/* The shared air. Times on air are published values (see test_air_time.c): at SF7, 125 kHz, 4/5,
 * preamble 8, CRC on, 10 bytes take 41216 us. A symbol takes 1024 us, so with 8 preamble symbols
 * the lock point is 3072 us after the start. */
#include "rp_test.h"

#include "air/air.h"

#define AIRTIME_US 41216
#define LOCK_US    3072

static struct air_channel air;
static const struct air_settings plain = {.freq_hz = 869525000,
                                          .bandwidth_hz = 125000,
                                          .preamble_symbols = 8,
                                          .spreading_factor = 7,
                                          .coding_rate = 5,
                                          .sync_word = 0x12,
                                          .crc = true};
static const struct air_frame ten = {.len = 10, .bytes = {1, 2, 3, 4, 5, 6, 7, 8, 9, 10}};

enum { A, B, C, STATIONS };

/* A - B - C: A and C do not hear each other. Everybody listens since time 0. */
static int set_up(void **state)
{
    (void)state;
    air_channel_init(&air, STATIONS, 7);
    air_channel_set_link(&air, A, B, true, 0);
    air_channel_set_link(&air, B, A, true, 0);
    air_channel_set_link(&air, B, C, true, 0);
    air_channel_set_link(&air, C, B, true, 0);
    for (unsigned i = 0; i < STATIONS; i++) {
        air_channel_listen(&air, i, &plain, 0);
    }
    return 0;
}

static int64_t send_at(unsigned station, rp_time_us at_us)
{
    return air_channel_send(&air, station, &plain, &ten, at_us);
}

static struct air_report finish(rp_time_us now_us)
{
    struct air_report report;
    assert_true(air_channel_finish(&air, now_us, &report));
    return report;
}

static void a_frame_arrives_exactly_at_its_end(void **state)
{
    (void)state;
    struct air_report report;
    assert_int_equal(send_at(A, 1000), AIRTIME_US);
    assert_int_equal(air_channel_wake(&air), 1000 + AIRTIME_US);
    assert_false(air_channel_finish(&air, 1000 + AIRTIME_US - 1, &report));
    report = finish(1000 + AIRTIME_US);
    assert_int_equal(report.from, A);
    assert_int_equal(report.airtime_us, AIRTIME_US);
    assert_int_equal(report.fates[B], AIR_OK);
    assert_int_equal(report.fates[C], AIR_UNHEARABLE);
    assert_int_equal(report.fates[A], AIR_UNHEARABLE);
    assert_int_equal(report.frame->len, 10);
    assert_memory_equal(report.frame->bytes, ten.bytes, 10);
    assert_true(air_channel_wake(&air) == RP_NEVER);
}

/* REYAX guide item 5: 8 bytes more on air. 2 + 8 bytes cost what 10 do. */
static void extra_bytes_of_a_module_cost_airtime(void **state)
{
    (void)state;
    struct air_frame frame = {.len = 2, .extra_len = 8};
    assert_int_equal(air_channel_send(&air, A, &plain, &frame, 0), AIRTIME_US);
    frame.len = AIR_PAYLOAD_MAX;
    assert_int_equal(air_channel_send(&air, B, &plain, &frame, 0), RP_E_INVALID);
}

static void hidden_stations_spoil_each_other_at_the_one_between(void **state)
{
    (void)state;
    send_at(A, 1000);
    send_at(C, 1000 + AIRTIME_US - 1);
    assert_int_equal(finish(100000).fates[B], AIR_COLLISION);
    /* C's lock point comes after A has ended, so C's frame is whole: LoRaSim's preamble rule. */
    assert_int_equal(finish(100000).fates[B], AIR_OK);
}

static void a_long_overlap_spoils_both(void **state)
{
    (void)state;
    send_at(A, 1000);
    send_at(C, 1000 + AIRTIME_US / 2);
    assert_int_equal(finish(100000).fates[B], AIR_COLLISION);
    assert_int_equal(finish(100000).fates[B], AIR_COLLISION);
}

static void frames_one_after_the_other_do_not_collide(void **state)
{
    (void)state;
    send_at(A, 1000);
    assert_int_equal(finish(1000 + AIRTIME_US).fates[B], AIR_OK);
    send_at(C, 1000 + AIRTIME_US);
    assert_int_equal(finish(100000).fates[B], AIR_OK);
}

static void what_cannot_be_heard_does_not_disturb(void **state)
{
    (void)state;
    air_channel_set_link(&air, C, B, false, 0);
    send_at(A, 1000);
    send_at(C, 1500);
    assert_int_equal(finish(100000).fates[B], AIR_OK);
}

static void another_factor_or_a_far_channel_does_not_disturb(void **state)
{
    (void)state;
    struct air_settings other = plain;
    other.spreading_factor = 8;
    send_at(A, 1000);
    air_channel_send(&air, C, &other, &ten, 1500);
    struct air_report report = finish(1000 + AIRTIME_US);
    assert_int_equal(report.fates[B], AIR_OK);
    finish(200000);
    /* LoRaSim: centres up to 30 kHz apart share a channel at 125 kHz, farther ones do not. */
    for (unsigned apart_hz = 30000; apart_hz <= 30001; apart_hz++) {
        other = plain;
        other.freq_hz += apart_hz;
        rp_time_us at_us = 300000 + (apart_hz - 30000) * 100000;
        send_at(A, at_us);
        air_channel_send(&air, C, &other, &ten, at_us + 1);
        report = finish(at_us + AIRTIME_US);
        assert_int_equal(report.fates[B], apart_hz == 30000 ? AIR_COLLISION : AIR_OK);
        assert_int_equal(finish(at_us + AIRTIME_US + 1).fates[B], AIR_UNTUNED);
    }
}

static void the_stronger_frame_survives_only_with_capture(void **state)
{
    (void)state;
    air.links[A][B].rssi_dbm = -80;
    air.links[C][B].rssi_dbm = -86;
    send_at(A, 1000);
    send_at(C, 2000);
    assert_int_equal(finish(100000).fates[B], AIR_COLLISION);
    assert_int_equal(finish(100000).fates[B], AIR_COLLISION);
    air.capture_db = 6; /* Bor et al. 2016 */
    send_at(A, 201000);
    send_at(C, 202000);
    assert_int_equal(finish(300000).fates[B], AIR_OK);
    assert_int_equal(finish(300000).fates[B], AIR_COLLISION);
}

static void a_transmitting_station_hears_nothing(void **state)
{
    (void)state;
    send_at(A, 1000);
    send_at(B, 1000 + AIRTIME_US - 1);
    assert_int_equal(finish(1000 + AIRTIME_US).fates[B], AIR_HALFDUPLEX);
    assert_int_equal(finish(100000).fates[A], AIR_OK); /* A had finished before B's lock point */
    /* B ends its own frame inside A's. */
    send_at(B, 200000);
    send_at(A, 200000 + AIRTIME_US / 2);
    finish(200000 + AIRTIME_US);
    assert_int_equal(finish(300000).fates[B], AIR_HALFDUPLEX);
    assert_int_equal(send_at(A, 400000), AIRTIME_US);
    assert_int_equal(send_at(A, 400001), RP_E_BUSY);
}

static void the_receiver_must_listen_from_the_lock_point_on(void **state)
{
    (void)state;
    air_channel_listen(&air, B, NULL, 500);
    send_at(A, 1000);
    air_channel_listen(&air, B, &plain, 1000 + LOCK_US);
    assert_int_equal(finish(100000).fates[B], AIR_OK);
    air_channel_listen(&air, B, NULL, 150000);
    send_at(A, 200000);
    air_channel_listen(&air, B, &plain, 200000 + LOCK_US + 1);
    assert_int_equal(finish(300000).fates[B], AIR_DEAF);
    send_at(A, 400000);
    air_channel_listen(&air, B, NULL, 410000);
    air_channel_listen(&air, B, &plain, 410000);
    assert_int_equal(finish(500000).fates[B], AIR_DEAF);
    air_channel_listen(&air, B, &plain, 550000); /* the same again is no break */
    send_at(A, 600000);
    air_channel_listen(&air, B, &plain, 610000);
    assert_int_equal(finish(700000).fates[B], AIR_OK);
}

static void the_receiver_must_be_tuned_alike(void **state)
{
    (void)state;
    struct air_settings variants[5] = {plain, plain, plain, plain, plain};
    variants[0].freq_hz += 1;
    variants[1].bandwidth_hz = 250000;
    variants[2].spreading_factor = 8;
    variants[3].sync_word = 0x34;
    variants[4].inverted_iq = true;
    for (unsigned i = 0; i < 5; i++) {
        rp_time_us at_us = 1000000 * (rp_time_us)(i + 1);
        air_channel_listen(&air, B, &variants[i], at_us);
        send_at(A, at_us);
        assert_int_equal(finish(at_us + AIRTIME_US).fates[B], AIR_UNTUNED);
    }
    /* The header tells the receiver coding rate and CRC; the preamble it finds by itself. */
    struct air_settings told = plain;
    told.coding_rate = 8;
    told.crc = false;
    told.preamble_symbols = 20;
    air_channel_listen(&air, B, &told, 7000000);
    send_at(A, 7000000);
    assert_int_equal(finish(8000000).fates[B], AIR_OK);
    air.sync_ignored = true;
    air_channel_listen(&air, B, &variants[3], 9000000);
    send_at(A, 9000000);
    assert_int_equal(finish(10000000).fates[B], AIR_OK);
}

static void a_frame_cut_short_reaches_nobody_but_disturbs(void **state)
{
    (void)state;
    struct air_report report;
    send_at(A, 1000);
    send_at(C, 6000);
    assert_true(air_channel_abort(&air, A, 11000, &report));
    assert_int_equal(report.airtime_us, 10000);
    assert_int_equal(report.fates[B], AIR_CUT);
    assert_int_equal(report.fates[C], AIR_UNHEARABLE);
    assert_false(air_channel_abort(&air, A, 11000, &report));
    report = finish(100000);
    assert_int_equal(report.from, C);
    assert_int_equal(report.fates[B], AIR_COLLISION);
}

static void carrier_and_lock_are_what_a_receiver_could_know(void **state)
{
    (void)state;
    assert_false(air_channel_carrier(&air, B, &plain));
    send_at(A, 1000);
    assert_true(air_channel_carrier(&air, B, &plain));
    assert_false(air_channel_carrier(&air, C, &plain));
    assert_false(air_channel_carrier(&air, A, &plain));
    assert_true(air_channel_locked_until(&air, B, 1000 + LOCK_US - 1) == RP_NEVER);
    assert_true(air_channel_locked_until(&air, B, 1000 + LOCK_US) == 1000 + AIRTIME_US);
}

/* 10,000 frames on a link that loses 30 %: mean 3000, standard deviation of the binomial law
 * sqrt(10000 * 0.3 * 0.7) = 45.8; five of them either side. The way back loses nothing. */
static void a_link_loses_its_share(void **state)
{
    (void)state;
    const uint64_t seed = 20240117;
    print_message("seed %llu\n", (unsigned long long)seed);
    air_channel_init(&air, STATIONS, seed);
    air_channel_set_link(&air, A, B, true, 300000);
    air_channel_set_link(&air, B, A, true, 0);
    air_channel_listen(&air, A, &plain, 0);
    air_channel_listen(&air, B, &plain, 0);
    unsigned lost_there = 0, lost_back = 0;
    for (int i = 0; i < 10000; i++) {
        rp_time_us at_us = 100000 * (rp_time_us)(i + 1);
        send_at(A, at_us);
        enum air_fate there = finish(at_us + AIRTIME_US).fates[B];
        assert_true(there == AIR_OK || there == AIR_LOST);
        send_at(B, at_us + 50000);
        lost_there += there == AIR_LOST;
        lost_back += finish(at_us + 50000 + AIRTIME_US).fates[A] == AIR_LOST;
    }
    print_message("lost %u of 10000\n", lost_there);
    assert_in_range(lost_there, 3000 - 229, 3000 + 229);
    assert_int_equal(lost_back, 0);
}

static void the_same_seed_loses_the_same_frames(void **state)
{
    (void)state;
    bool lost[200];
    unsigned differ = 0;
    for (int round = 0; round < 3; round++) {
        air_channel_init(&air, STATIONS, round == 2 ? 12 : 11);
        air_channel_set_link(&air, A, B, true, 500000);
        air_channel_listen(&air, B, &plain, 0);
        for (int i = 0; i < 200; i++) {
            rp_time_us at_us = 100000 * (rp_time_us)(i + 1);
            send_at(A, at_us);
            bool gone = finish(at_us + AIRTIME_US).fates[B] == AIR_LOST;
            if (round == 0) {
                lost[i] = gone;
            } else if (round == 1) {
                assert_int_equal(gone, lost[i]);
            } else {
                differ += gone != lost[i];
            }
        }
    }
    assert_true(differ > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(a_frame_arrives_exactly_at_its_end, set_up),
        cmocka_unit_test_setup(extra_bytes_of_a_module_cost_airtime, set_up),
        cmocka_unit_test_setup(hidden_stations_spoil_each_other_at_the_one_between, set_up),
        cmocka_unit_test_setup(a_long_overlap_spoils_both, set_up),
        cmocka_unit_test_setup(frames_one_after_the_other_do_not_collide, set_up),
        cmocka_unit_test_setup(what_cannot_be_heard_does_not_disturb, set_up),
        cmocka_unit_test_setup(another_factor_or_a_far_channel_does_not_disturb, set_up),
        cmocka_unit_test_setup(the_stronger_frame_survives_only_with_capture, set_up),
        cmocka_unit_test_setup(a_transmitting_station_hears_nothing, set_up),
        cmocka_unit_test_setup(the_receiver_must_listen_from_the_lock_point_on, set_up),
        cmocka_unit_test_setup(the_receiver_must_be_tuned_alike, set_up),
        cmocka_unit_test_setup(a_frame_cut_short_reaches_nobody_but_disturbs, set_up),
        cmocka_unit_test_setup(carrier_and_lock_are_what_a_receiver_could_know, set_up),
        cmocka_unit_test_setup(a_link_loses_its_share, set_up),
        cmocka_unit_test_setup(the_same_seed_loses_the_same_frames, set_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
