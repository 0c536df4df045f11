#include "rp_test.h"

#include <string.h>

#include "at_bench.h"

/* The parts every family shares: the table, the limits of a profile, the event queue. */

static void the_table_has_these_rows(void **state)
{
    (void)state;
    static const char *const names[] = {"kiss",    "kiss-crc", "kiss-ack", "at",       "at-old",
                                        "hextext", "uart-e22", "uart-e32", "uart-e220"};
    for (size_t i = 0; i < 9; i++) {
        assert_string_equal(rp_radio_driver_name(i), names[i]);
        assert_true(strlen(rp_radio_driver_summary(i)) > 10);
    }
    assert_null(rp_radio_driver_name(9));
    assert_null(rp_radio_driver_summary(9));
    struct rp_radio radio;
    struct rp_radio_profile profile = bench_profile();
    const char *why = NULL;
    assert_int_equal(rp_radio_init(&radio, "none", &profile, &why), RP_E_NOT_FOUND);
    assert_string_equal(why, "there is no radio family \"none\"; an example is \"kiss\"");
    assert_int_equal(rp_radio_init(&radio, "none", &profile, NULL), RP_E_NOT_FOUND);
}

struct limit {
    const char *driver;
    struct rp_radio_profile profile;
    const char *why; /* NULL: accepted */
};

static struct rp_radio_profile with(uint32_t freq_hz, uint32_t bandwidth_hz, unsigned sf,
                                    unsigned rate, unsigned sync, int power_dbm, unsigned preamble)
{
    return (struct rp_radio_profile){.freq_hz = freq_hz,
                                     .bandwidth_hz = bandwidth_hz,
                                     .spreading_factor = (uint8_t)sf,
                                     .coding_rate = (uint8_t)rate,
                                     .sync_word = (uint8_t)sync,
                                     .power_dbm = (int8_t)power_dbm,
                                     .preamble_symbols = (uint16_t)preamble};
}

static void check_limits(const struct limit *limits, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        struct rp_radio radio;
        const char *why = NULL;
        struct rp_radio_profile profile = limits[i].profile;
        profile.text_armour = strncmp(limits[i].driver, "at", 2) == 0;
        int result = rp_radio_init(&radio, limits[i].driver, &profile, &why);
        if (limits[i].why == NULL) {
            if (result != 0) {
                fail_msg("row %zu refused: %s", i, why);
            }
        } else {
            assert_int_equal(result, RP_E_INVALID);
            assert_string_equal(why, limits[i].why);
        }
    }
}

/* SX1276/77/78/79 data sheet rev 4: 137 to 1020 MHz, SF7 to SF12, 4/5 to 4/8, preamble from 6. */
static void the_common_limits_are_kept(void **state)
{
    (void)state;
    const struct limit limits[] = {
        {"kiss", with(137000000, 125000, 7, 5, 0, -3, 6), NULL},
        {"kiss", with(1020000000, 500000, 12, 8, 0xff, 22, 65535), NULL},
        {"kiss", with(136999999, 125000, 9, 5, 0x12, 14, 8),
         "freq_hz 136999999 is outside 137000000 to 1020000000, for example 869525000"},
        {"kiss", with(1020000001, 125000, 9, 5, 0x12, 14, 8),
         "freq_hz 1020000001 is outside 137000000 to 1020000000, for example 869525000"},
        {"kiss", with(869525000, 125000, 6, 5, 0x12, 14, 8),
         "spreading_factor 6 is outside 7 to 12, for example 9"},
        {"kiss", with(869525000, 125000, 13, 5, 0x12, 14, 8),
         "spreading_factor 13 is outside 7 to 12, for example 9"},
        {"kiss", with(869525000, 62500, 9, 5, 0x12, 14, 8),
         "bandwidth_hz 62500 is not 125000, 250000 or 500000, for example 125000"},
        {"kiss", with(869525000, 125000, 9, 4, 0x12, 14, 8),
         "coding_rate 4 is outside 5 to 8, for example 5 for 4/5"},
        {"kiss", with(869525000, 125000, 9, 9, 0x12, 14, 8),
         "coding_rate 9 is outside 5 to 8, for example 5 for 4/5"},
        {"kiss", with(869525000, 125000, 9, 5, 0x12, 23, 8),
         "power_dbm 23 is outside -3 to 22, for example 14"},
        {"kiss", with(869525000, 125000, 9, 5, 0x12, -4, 8),
         "power_dbm -4 is outside -3 to 22, for example 14"},
        {"kiss", with(869525000, 125000, 9, 5, 0x12, 14, 5),
         "preamble_symbols 5 is below 6, for example 8"},
    };
    check_limits(limits, sizeof limits / sizeof limits[0]);
}

/* REYAX guide 56312E33 (2025): SF7-9 at 125, 7-10 at 250, 7-11 at 500 kHz; network 3-15 and 18;
 * preamble 12, 4-24 with network 18 only; power 0-22. The older family: from memory. */
static void the_limits_of_at_modules_are_kept(void **state)
{
    (void)state;
    const struct limit limits[] = {
        {"at", with(869525000, 125000, 9, 5, 0x12, 22, 24), NULL},
        {"at", with(869525000, 250000, 10, 5, 0x03, 0, 12), NULL},
        {"at", with(869525000, 500000, 11, 5, 0x0f, 0, 12), NULL},
        {"at", with(869525000, 125000, 10, 5, 0x12, 14, 12),
         "spreading_factor 10 is above 9, the most this family does at bandwidth_hz 125000, for "
         "example 9 at 125000"},
        {"at", with(869525000, 250000, 11, 5, 0x12, 14, 12),
         "spreading_factor 11 is above 10, the most this family does at bandwidth_hz 250000, for "
         "example 9 at 125000"},
        {"at", with(869525000, 500000, 12, 5, 0x12, 14, 12),
         "spreading_factor 12 is above 11, the most this family does at bandwidth_hz 500000, for "
         "example 9 at 125000"},
        {"at", with(869525000, 125000, 9, 5, 0x10, 14, 12),
         "sync_word 0x10 is not 0x03 to 0x0f or 0x12; this family uses it as network id, for "
         "example 0x12"},
        {"at", with(869525000, 125000, 9, 5, 0x02, 14, 12),
         "sync_word 0x02 is not 0x03 to 0x0f or 0x12; this family uses it as network id, for "
         "example 0x12"},
        {"at", with(869525000, 125000, 9, 5, 0x05, 14, 8),
         "preamble_symbols 8 is not 12, or 6 to 24 with sync_word 0x12, for example 12"},
        {"at", with(869525000, 125000, 9, 5, 0x12, 14, 25),
         "preamble_symbols 25 is not 12, or 6 to 24 with sync_word 0x12, for example 12"},
        {"at", with(869525000, 125000, 9, 5, 0x12, -1, 12),
         "power_dbm -1 is outside 0 to 22, for example 14"},
        {"at-old", with(869525000, 125000, 12, 5, 0x10, 15, 7), NULL},
        {"at-old", with(869525000, 125000, 12, 5, 0x12, 15, 7),
         "sync_word 0x12 is not 0x00 to 0x10; this family uses it as network id, for example 0x06"},
        {"at-old", with(869525000, 125000, 12, 5, 0x06, 15, 8),
         "preamble_symbols 8 is not 6 or 7, for example 7"},
        {"at-old", with(869525000, 125000, 12, 5, 0x06, 16, 7),
         "power_dbm 16 is outside 0 to 15, for example 14"},
    };
    check_limits(limits, sizeof limits / sizeof limits[0]);
}

/* Microchip DS40001784G 2.5.5 and DS40001811: bands, power -3 to 15 and 2 to 20. */
static void the_limits_of_hextext_modules_are_kept(void **state)
{
    (void)state;
    static const char outside[] =
        "freq_hz 862999999 is outside 433050000 to 434790000, 863000000 to 870000000 and 902000000 "
        "to 928000000, for example 869525000";
    const struct limit limits[] = {
        {"hextext", with(433050000, 125000, 12, 5, 0x12, -3, 8), NULL},
        {"hextext", with(434790000, 125000, 12, 5, 0x12, 15, 8), NULL},
        {"hextext", with(863000000, 125000, 12, 5, 0x12, 15, 8), NULL},
        {"hextext", with(870000000, 125000, 12, 5, 0x12, 15, 8), NULL},
        {"hextext", with(928000000, 125000, 12, 5, 0x12, 20, 8), NULL},
        {"hextext", with(862999999, 125000, 12, 5, 0x12, 14, 8), outside},
        {"hextext", with(868100000, 125000, 12, 5, 0x12, 16, 8),
         "power_dbm 16 is outside -3 to 15, for example 14"},
        {"hextext", with(915000000, 125000, 12, 5, 0x12, 1, 8),
         "power_dbm 1 is outside 2 to 20, for example 14"},
    };
    check_limits(limits, sizeof limits / sizeof limits[0]);
}

static void a_full_queue_drops_the_newest_frame_and_nothing_else(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    for (int i = 0; i < 20; i++) {
        char line[] = "+RCV=0,4,Zm9A,-99,40\r\n";
        line[12] = (char)('A' + i);
        line[11] = 'w';
        bench_from_modem(&bench, line);
    }
    assert_int_equal(bench.radio.counters.rx_frames, 16);
    assert_int_equal(bench.radio.counters.rx_dropped, 4);
    assert_int_equal(bench_send(&bench, "foo", 3), 0);
    bench_expect(&bench, "AT+SEND=0,4,Zm9v\r\n");
    bench_from_modem(&bench, "+READY\r\n");
    for (int i = 0; i < 16; i++) {
        struct rp_radio_event event = bench_event(&bench, RP_RADIO_FRAME);
        assert_int_equal(event.frame[2] & 0x3f, i); /* "A" is 0: the oldest came through */
    }
    bench_expect_unsent(&bench, RP_E_IO, true);
    bench_event(&bench, RP_RADIO_RESTARTED);
    bench_no_event(&bench);
}

static void unread_outcomes_stop_further_sending(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    for (int i = 0; i < 4; i++) {
        assert_int_equal(bench_send(&bench, "foo", 3), 0);
        bench_exchange(&bench, "AT+SEND=0,4,Zm9v\r\n", "+OK\r\n");
        bench_pass_ms(&bench, 1000);
    }
    assert_int_equal(bench_send(&bench, "foo", 3), RP_E_BUSY);
    bench_event(&bench, RP_RADIO_SENT);
    assert_int_equal(bench_send(&bench, "foo", 3), 0);
}

static void the_newest_state_is_always_there(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    bench_from_modem(&bench, "+RCV=0,4,Zm9v,-99,40\r\n");
    for (int i = 0; i < 3; i++) {
        bench_from_modem(&bench, "+READY\r\n");
        bench_begin(&bench);
        at_settings(&bench);
    }
    assert_int_equal(bench.radio.counters.state_dropped, 2);
    bench_expect_frame(&bench, "foo", 3);
    bench_event(&bench, RP_RADIO_RESTARTED);
    bench_event(&bench, RP_RADIO_READY);
    bench_event(&bench, RP_RADIO_RESTARTED);
    bench_event(&bench, RP_RADIO_READY);
    bench_no_event(&bench);
}

static void output_is_taken_in_any_portions(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    assert_int_equal(bench_send(&bench, "foo", 3), 0);
    uint8_t out[32];
    size_t len = 0, taken;
    while ((taken = rp_radio_take_output(&bench.radio, out + len, 5)) > 0) {
        assert_true(taken == 5 || len + taken == 18);
        len += taken;
    }
    assert_int_equal(len, 18);
    assert_memory_equal(out, "AT+SEND=0,4,Zm9v\r\n", 18);
    assert_int_equal(rp_radio_take_output(&bench.radio, out, 0), 0);
}

static void opening_again_without_closing_starts_over(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    assert_int_equal(bench_send(&bench, "foo", 3), 0);
    rp_radio_opened(&bench.radio, bench.now_us);
    bench_expect_unsent(&bench, RP_E_GONE, true);
    bench_begin(&bench);
    at_settings(&bench);
    bench_event(&bench, RP_RADIO_READY);
}

static void a_tick_before_its_time_does_nothing(void **state)
{
    (void)state;
    struct bench bench;
    bench_init(&bench, "at");
    assert_true(rp_radio_wake(&bench.radio) == RP_NEVER);
    rp_radio_tick(&bench.radio, bench.now_us);
    assert_int_equal(bench_send(&bench, "foo", 3), RP_E_STATE);
    bench_from_modem(&bench, "+READY\r\n");
    bench_expect(&bench, "");
    bench_no_event(&bench);
    rp_radio_opened(&bench.radio, bench.now_us);
    rp_radio_tick(&bench.radio, bench.now_us + 299999);
    bench_expect(&bench, "\r\n");
    rp_radio_tick(&bench.radio, bench.now_us + 300000);
    bench_expect(&bench, "AT\r\n");
}

/* RFC 4648 section 10: "foobar" is "Zm9vYmFy"; a KISS modem of a text net sends and takes that. */
static void a_text_net_armours_what_a_binary_modem_carries(void **state)
{
    (void)state;
    struct rp_radio radio;
    struct rp_radio_profile profile = with(869525000, 125000, 9, 5, 0x12, 14, 8);
    profile.text_armour = true;
    assert_int_equal(rp_radio_init(&radio, "kiss", &profile, NULL), 0);
    assert_int_equal(rp_radio_frame_len_max(&radio), 166);
    /* Charged as the 8 characters that go on air. */
    uint32_t armoured_us = rp_radio_airtime_us(&radio, 6);
    profile.text_armour = false;
    assert_int_equal(rp_radio_init(&radio, "kiss", &profile, NULL), 0);
    assert_int_equal(rp_radio_airtime_us(&radio, 8), armoured_us);
    const char *why = NULL;
    assert_int_equal(rp_radio_init(&radio, "at", &profile, &why), RP_E_INVALID);
    assert_string_equal(why, "this modem carries text only: set text_armour = 1 in the net file, "
                             "at every station");
    profile.text_armour = true;
    assert_int_equal(rp_radio_init(&radio, "kiss", &profile, NULL), 0);
    rp_radio_opened(&radio, 0);
    static const char heard[] = "\xc0\x00Zm9vYmFy\xc0\xc0\x00no text!\xc0";
    rp_radio_receive(&radio, (struct rp_view){(const uint8_t *)heard, sizeof heard - 1}, 1);
    struct rp_radio_event event;
    bool got = false;
    while (rp_radio_next_event(&radio, &event)) {
        if (event.kind == RP_RADIO_FRAME) {
            assert_false(got);
            got = true;
            assert_int_equal(event.frame_len, 6);
            assert_memory_equal(event.frame, "foobar", 6);
        }
    }
    assert_true(got);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_text_net_armours_what_a_binary_modem_carries),
        cmocka_unit_test(the_table_has_these_rows),
        cmocka_unit_test(the_common_limits_are_kept),
        cmocka_unit_test(the_limits_of_at_modules_are_kept),
        cmocka_unit_test(the_limits_of_hextext_modules_are_kept),
        cmocka_unit_test(a_full_queue_drops_the_newest_frame_and_nothing_else),
        cmocka_unit_test(unread_outcomes_stop_further_sending),
        cmocka_unit_test(the_newest_state_is_always_there),
        cmocka_unit_test(output_is_taken_in_any_portions),
        cmocka_unit_test(opening_again_without_closing_starts_over),
        cmocka_unit_test(a_tick_before_its_time_does_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
