#include "rp_test.h"

#include <stdio.h>

#include "at_bench.h"

/* Commands, answers and error numbers: REYAX RYLR998/RYLR498 AT command guide 56312E33 (2025),
 * unless another source is named. The module is played by the test; nothing was recorded. */

static void start_up_goes_by_the_guide(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    bench_expect(&bench, "");
    assert_int_equal(rp_radio_baud(&bench.radio), 115200);
}

static void stored_settings_are_written_only_when_they_differ(void **state)
{
    (void)state;
    struct bench bench;
    bench_open(&bench, "at");
    bench_begin(&bench);
    at_band(&bench);
    bench_exchange(&bench, "AT+ADDRESS?\r\n", "+ADDRESS=120\r\n");
    bench_exchange(&bench, "AT+ADDRESS=0\r\n", "+OK\r\n");
    bench_exchange(&bench, "AT+NETWORKID?\r\n", "+ERR=4\r\n"); /* it does not know the question */
    bench_exchange(&bench, "AT+NETWORKID=18\r\n", "+OK\r\n");
    bench_expect(&bench, "AT+PARAMETER=9,7,1,12\r\n");
}

/* Guide: AT+PARAMETER's 7, 8, 9 are 125, 250, 500 kHz; 1 to 4 are 4/5 to 4/8. */
static void the_profile_reaches_the_module(void **state)
{
    (void)state;
    struct bench bench;
    struct rp_radio_profile profile = bench_profile();
    profile.bandwidth_hz = 500000;
    profile.spreading_factor = 11;
    profile.coding_rate = 8;
    profile.preamble_symbols = 24;
    profile.text_armour = true;
    profile.power_dbm = 0;
    bench_init_with(&bench, "at", &profile);
    rp_radio_opened(&bench.radio, bench.now_us);
    bench_begin(&bench);
    at_band(&bench);
    bench_exchange(&bench, "AT+ADDRESS?\r\n", "+ADDRESS=0\r\n");
    bench_exchange(&bench, "AT+NETWORKID?\r\n", "+NETWORKID=18\r\n");
    bench_exchange(&bench, "AT+PARAMETER=11,9,4,24\r\n", "+OK\r\n");
    bench_exchange(&bench, "AT+CRFOP=0\r\n", "+OK\r\n");
    at_read_back(&bench, "+PARAMETER=11,9,4,24\r\n", "+CRFOP=0\r\n");
    bench_event(&bench, RP_RADIO_READY);
}

/* RFC 4648 section 10: "foobar" is Zm9vYmFy. */
static void a_frame_is_sent_as_base64_and_its_airtime_waited_for(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    assert_int_equal(bench_send(&bench, "foobar", 6), 0);
    bench_expect(&bench, "AT+SEND=0,8,Zm9vYmFy\r\n");
    assert_int_equal(bench_send(&bench, "x", 1), RP_E_BUSY);
    bench_from_modem(&bench, "+OK\r\n");
    bench_no_event(&bench);
    /* 8 characters and 8 bytes: SF9, 125 kHz, preamble 12: 24.25 symbols and 20 (8*16 - 36 + 28 +
     * 16 = 136 bits, 4 blocks of 36) of 4.096 ms: 181.248 ms. Worked by hand. Then 22 bytes at
     * 115200 baud, 1.910 ms, and a margin of 50 ms. */
    assert_int_equal(rp_radio_airtime_us(&bench.radio, 6), 181248);
    bench_pass_ms(&bench, 233);
    bench_no_event(&bench);
    bench_pass_ms(&bench, 1);
    bench_event(&bench, RP_RADIO_SENT);
    assert_true(rp_radio_ready(&bench.radio));
}

static void an_ok_that_comes_after_the_airtime_ends_it(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    assert_int_equal(bench_send(&bench, "foobar", 6), 0);
    bench_expect(&bench, "AT+SEND=0,8,Zm9vYmFy\r\n");
    bench_pass_ms(&bench, 400);
    bench_no_event(&bench);
    bench_from_modem(&bench, "+OK\r\n");
    bench_event(&bench, RP_RADIO_SENT);
}

/* The known values of this module: preamble 12, 8 bytes added, SF9, 125 kHz, for 40, 100 and 240
 * characters of data (30, 75 and 180 bytes as base64): 324.6, 611.3 and 1246.2 ms, by the chip
 * maker's formula. */
static void airtime_is_charged_for_text_and_extra_bytes(void **state)
{
    (void)state;
    struct bench bench;
    bench_init(&bench, "at");
    assert_int_equal(rp_radio_airtime_us(&bench.radio, 30) / 100, 3246);
    assert_int_equal((rp_radio_airtime_us(&bench.radio, 75) + 50) / 100, 6113);
    assert_int_equal((rp_radio_airtime_us(&bench.radio, 180) + 50) / 100, 12462);
    assert_int_equal(rp_radio_frame_len_max(&bench.radio), 180);
    /* Longer than any frame: the longest transmission, and no failure. */
    assert_true(rp_radio_airtime_us(&bench.radio, 100000) >=
                rp_radio_airtime_us(&bench.radio, 180));
}

static void every_byte_value_and_the_longest_frame_come_back(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    for (unsigned first = 0; first < 256; first += 76) {
        uint8_t frame[180], out[400];
        for (unsigned i = 0; i < sizeof frame; i++) {
            frame[i] = (uint8_t)(first + i);
        }
        assert_int_equal(bench_send(&bench, frame, sizeof frame), 0);
        size_t len = rp_radio_take_output(&bench.radio, out, sizeof out);
        assert_int_equal(len, 14 + 240 + 2);
        assert_memory_equal(out, "AT+SEND=0,240,", 14);
        bench_from_modem(&bench, "+OK\r\n+RCV=0,240,");
        bench_from_modem_bytes(&bench, out + 14, 240);
        bench_from_modem(&bench, ",-99,-4\r\n");
        struct rp_radio_event event = bench_event(&bench, RP_RADIO_FRAME);
        assert_int_equal(event.frame_len, 180);
        assert_memory_equal(event.frame, frame, 180);
        assert_true(event.has_rssi && event.has_snr);
        assert_int_equal(event.rssi_dbm, -99);
        assert_int_equal(event.snr_db, -4);
        bench_pass_ms(&bench, 2000);
        bench_event(&bench, RP_RADIO_SENT);
    }
    uint8_t long_frame[181] = {0};
    assert_int_equal(bench_send(&bench, long_frame, 181), RP_E_TOO_LONG);
}

static void a_frame_is_received_whatever_the_split(void **state)
{
    (void)state;
    static const char stream[] = "+RCV=0,8,Zm9vYmFy,-99,40\r\n+RCV=50,4,Zg==,-120,-20\r\n";
    for (size_t split = 0; split < sizeof stream; split++) {
        struct bench bench;
        at_start(&bench);
        bench_from_modem_bytes(&bench, stream, split);
        bench_from_modem_bytes(&bench, stream + split, sizeof stream - 1 - split);
        bench_expect_frame(&bench, "foobar", 6);
        bench_expect_frame(&bench, "f", 1);
        bench_no_event(&bench);
    }
}

/* The length comes first, so commas and line ends in foreign data do not break what follows. */
static void data_is_taken_by_its_length(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    bench_from_modem(&bench, "+RCV=7,14,a,b\r\n+READY\r\n,-50,9\r\n");
    bench_no_event(&bench);
    assert_int_equal(bench.radio.counters.rx_bad, 1);
    assert_int_equal(bench.radio.counters.restarts, 0);
    bench_from_modem(&bench, "+RCV=7,5,\n\r\n,x,-50,9\r\n+RCV=0,4,Zm9v,-50,9\r\n");
    bench_expect_frame(&bench, "foo", 3);
    assert_int_equal(bench.radio.counters.rx_bad, 2);
}

static void a_receive_line_with_a_fault_is_counted(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "+RCV=0,8,Zm9vYmFy,-99\r\n",
        "+RCV=0,8,Zm9vYmFy\r\n",
        "+RCV=0,8,Zm9vYmFy,-99,40,1\r\n",
        "+RCV=0,8,Zm9vYmFy,,40\r\n",
        "+RCV=0,241,Zm9v,-99,40\r\n",
        "+RCV=65536,4,Zm9v,-99,40\r\n",
        "+RCV=0,0,,-99,40\r\n",
        "+RCV=,4,Zm9v,-99,40\r\n",
        "+RCV=0,4,Zm-v,-99,40\r\n",
        "+RCV=0\r\n",
        "+RCV=0,4,Zm9v,-99999,40\r\n",
        "+RCV=0,4,Zm9v\n",
        "+RCV=0,6,+READY\r\n",
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct bench bench;
        at_start(&bench);
        bench_from_modem(&bench, bad[i]);
        bench_no_event(&bench);
        assert_int_equal(bench.radio.counters.rx_bad, 1);
        assert_int_equal(bench.radio.counters.restarts, 0);
        bench_from_modem(&bench, "+RCV=0,4,Zm9v,-99,40\r\n");
        bench_expect_frame(&bench, "foo", 3);
    }
}

/* A +RCV line that lost bytes would eat the lines after it; half a second of silence ends it. */
static void a_cut_off_frame_does_not_eat_the_next_one(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    bench_from_modem(&bench, "+RCV=0,200,Zm9v");
    bench_pass_ms(&bench, 600);
    bench_from_modem(&bench, "+RCV=0,4,Zm9v,-99,40\r\n");
    bench_expect_frame(&bench, "foo", 3);
    assert_int_equal(bench.radio.counters.rx_bad, 1);
}

static void a_frame_between_a_command_and_its_answer_is_taken(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    assert_int_equal(bench_send(&bench, "foo", 3), 0);
    bench_expect(&bench, "AT+SEND=0,4,Zm9v\r\n");
    bench_from_modem(&bench, "+RCV=0,4,Zm9v,-99,40\r\n+ERR=12\r\n+ERR=19\r\n");
    bench_expect_frame(&bench, "foo", 3);
    bench_no_event(&bench);
    assert_int_equal(bench.radio.counters.rx_bad, 2);
    bench_from_modem(&bench, "+OK\r\n");
    bench_pass_ms(&bench, 1000);
    bench_event(&bench, RP_RADIO_SENT);
}

static void each_error_answer_has_its_outcome(void **state)
{
    (void)state;
    static const struct {
        int number, code;
        bool maybe_aired;
    } rows[] = {
        {1, RP_E_IO, false},        {2, RP_E_IO, false},       {3, RP_E_IO, false},
        {4, RP_E_INVALID, false},   {5, RP_E_IO, false},       {10, RP_E_TIMEOUT, true},
        {13, RP_E_TOO_LONG, false}, {14, RP_E_IO, false},      {15, RP_E_IO, true},
        {17, RP_E_BUSY, false},     {18, RP_E_INVALID, false}, {20, RP_E_INVALID, false},
        {77, RP_E_IO, true},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct bench bench;
        char answer[16];
        at_start(&bench);
        assert_int_equal(bench_send(&bench, "foo", 3), 0);
        bench_expect(&bench, "AT+SEND=0,4,Zm9v\r\n");
        snprintf(answer, sizeof answer, "+ERR=%d\r\n", rows[i].number);
        bench_from_modem(&bench, answer);
        if (rows[i].number == 17) { /* the last transmission goes on: it is given 250 ms */
            bench_no_event(&bench);
            bench_pass_ms(&bench, 250);
        }
        bench_expect_unsent(&bench, rows[i].code, rows[i].maybe_aired);
        assert_true(rp_radio_ready(&bench.radio));
        bench_no_event(&bench);
    }
}

/* Guide 56322E33 for RYLR896/RYLR406: its own advice is 10,7,1,7 and 12,4,1,7 (from memory: network
 * 0 to 16, power to 15 dBm). */
static void the_older_family_has_its_own_limits(void **state)
{
    (void)state;
    struct bench bench;
    struct rp_radio_profile profile = bench_profile();
    profile.spreading_factor = 12;
    profile.preamble_symbols = 7;
    profile.text_armour = true;
    profile.sync_word = 6;
    bench_init_with(&bench, "at-old", &profile);
    rp_radio_opened(&bench.radio, bench.now_us);
    bench_begin(&bench);
    at_band(&bench);
    bench_exchange(&bench, "AT+ADDRESS?\r\n", "+ADDRESS=0\r\n");
    bench_exchange(&bench, "AT+NETWORKID?\r\n", "+NETWORKID=0\r\n");
    bench_exchange(&bench, "AT+NETWORKID=6\r\n", "+OK\r\n");
    bench_exchange(&bench, "AT+PARAMETER=12,7,1,7\r\n", "+OK\r\n");
    bench_exchange(&bench, "AT+CRFOP=14\r\n", "+OK\r\n");
    bench_exchange(&bench, "AT+BAND?\r\n", "+BAND=869525000\r\n");
    bench_exchange(&bench, "AT+PARAMETER?\r\n", "+PARAMETER=12,7,1,7\r\n");
    bench_exchange(&bench, "AT+NETWORKID?\r\n", "+NETWORKID=6\r\n");
    bench_exchange(&bench, "AT+CRFOP?\r\n", "+CRFOP=14\r\n");
    bench_event(&bench, RP_RADIO_READY);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(start_up_goes_by_the_guide),
        cmocka_unit_test(stored_settings_are_written_only_when_they_differ),
        cmocka_unit_test(the_profile_reaches_the_module),
        cmocka_unit_test(a_frame_is_sent_as_base64_and_its_airtime_waited_for),
        cmocka_unit_test(an_ok_that_comes_after_the_airtime_ends_it),
        cmocka_unit_test(airtime_is_charged_for_text_and_extra_bytes),
        cmocka_unit_test(every_byte_value_and_the_longest_frame_come_back),
        cmocka_unit_test(a_frame_is_received_whatever_the_split),
        cmocka_unit_test(data_is_taken_by_its_length),
        cmocka_unit_test(a_receive_line_with_a_fault_is_counted),
        cmocka_unit_test(a_cut_off_frame_does_not_eat_the_next_one),
        cmocka_unit_test(a_frame_between_a_command_and_its_answer_is_taken),
        cmocka_unit_test(each_error_answer_has_its_outcome),
        cmocka_unit_test(the_older_family_has_its_own_limits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
