#include "rp_test.h"

#include "hextext_bench.h"

/* Commands and answers: Microchip RN2483 Command Reference DS40001784G, sections 2.3 (sys), 2.4
 * (mac) and 2.5 (radio), unless another source is named. The module is played by the test; nothing
 * was recorded. */

static void start_up_goes_by_the_reference(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    bench_expect(&bench, "");
    assert_int_equal(rp_radio_baud(&bench.radio), 57600);
    assert_int_equal(rp_radio_frame_len_max(&bench.radio), 222);
}

static void the_profile_reaches_the_module(void **state)
{
    (void)state;
    struct bench bench;
    struct rp_radio_profile profile = {.freq_hz = 902000000,
                                       .bandwidth_hz = 500000,
                                       .spreading_factor = 12,
                                       .coding_rate = 8,
                                       .sync_word = 0x05,
                                       .power_dbm = 20,
                                       .preamble_symbols = 65535};
    bench_init_with(&bench, "hextext", &profile);
    rp_radio_opened(&bench.radio, bench.now_us);
    bench_begin(&bench);
    bench_exchange(&bench, "sys get ver\r\n", "RN2903 1.0.5 Nov 06 2018 10:45:27\r\n");
    bench_exchange(&bench, "mac pause\r\n", "4294967245\r\n");
    bench_exchange(&bench, "radio rxstop\r\n", "ok\r\n");
    bench_exchange(&bench, "radio set mod lora\r\n", "ok\r\n");
    bench_exchange(&bench, "radio set freq 902000000\r\n", "ok\r\n");
    bench_exchange(&bench, "radio set pwr 20\r\n", "ok\r\n");
    bench_exchange(&bench, "radio set sf sf12\r\n", "ok\r\n");
    bench_exchange(&bench, "radio set bw 500\r\n", "ok\r\n");
    bench_exchange(&bench, "radio set cr 4/8\r\n", "ok\r\n");
    bench_exchange(&bench, "radio set crc on\r\n", "ok\r\n");
    bench_exchange(&bench, "radio set iqi off\r\n", "ok\r\n");
    bench_exchange(&bench, "radio set prlen 65535\r\n", "ok\r\n");
    bench_exchange(&bench, "radio set sync 05\r\n", "ok\r\n");
    bench_exchange(&bench, "radio set wdt 0\r\n", "ok\r\n");
    bench_exchange(&bench, "radio get freq\r\n", "902000000\r\n");
    bench_exchange(&bench, "radio get pwr\r\n", "20\r\n");
    bench_exchange(&bench, "radio get sf\r\n", "sf12\r\n");
    bench_exchange(&bench, "radio get bw\r\n", "500\r\n");
    bench_exchange(&bench, "radio get cr\r\n", "4/8\r\n");
    bench_exchange(&bench, "radio get prlen\r\n", "65535\r\n");
    bench_exchange(&bench, "radio get sync\r\n", "05\r\n");
    bench_exchange(&bench, "radio rx 0\r\n", "ok\r\n");
    bench_event(&bench, RP_RADIO_READY);
}

static void a_frame_is_sent_and_the_receiver_armed_again(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    assert_int_equal(bench_send(&bench, "\x00\xab\xff", 3), 0);
    assert_int_equal(bench_send(&bench, "x", 1), RP_E_BUSY);
    bench_exchange(&bench, "radio rxstop\r\n", "ok\r\n");
    bench_expect(&bench, "radio tx 00abff\r\n");
    bench_from_modem(&bench, "ok\r\n");
    bench_pass_ms(&bench, 120);
    bench_no_event(&bench);
    bench_from_modem(&bench, "radio_tx_ok\r\n");
    bench_event(&bench, RP_RADIO_SENT);
    bench_expect(&bench, "radio rx 0\r\n");
    /* The next frame may be given at once; it waits for the receiver's answer. */
    assert_true(rp_radio_ready(&bench.radio));
    assert_int_equal(bench_send(&bench, "z", 1), 0);
    bench_expect(&bench, "");
    bench_from_modem(&bench, "ok\r\n");
    bench_exchange(&bench, "radio rxstop\r\n", "ok\r\n");
    bench_expect(&bench, "radio tx 7a\r\n");
}

static void a_frame_comes_with_its_signal(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    bench_from_modem(&bench, "radio_rx  48656C6c6f\r\n"); /* two spaces, as real firmware writes */
    bench_exchange(&bench, "radio rx 0\r\n", "ok\r\n");   /* deaf no longer than this */
    bench_exchange(&bench, "radio get snr\r\n", "-7\r\n");
    bench_no_event(&bench);
    bench_exchange(&bench, "radio get rssi\r\n", "-110\r\n");
    struct rp_radio_event event = bench_event(&bench, RP_RADIO_FRAME);
    assert_int_equal(event.frame_len, 5);
    assert_memory_equal(event.frame, "Hello", 5);
    assert_true(event.has_snr && event.has_rssi);
    assert_int_equal(event.snr_db, -7);
    assert_int_equal(event.rssi_dbm, -110);
    bench_expect(&bench, "");
}

static void a_firmware_without_signal_values_is_asked_once(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    bench_from_modem(&bench, "radio_rx 41\r\n");
    bench_exchange(&bench, "radio rx 0\r\n", "ok\r\n");
    bench_exchange(&bench, "radio get snr\r\n", "9\r\n");
    bench_exchange(&bench, "radio get rssi\r\n", "invalid_param\r\n");
    struct rp_radio_event event = bench_event(&bench, RP_RADIO_FRAME);
    assert_true(event.has_snr);
    assert_false(event.has_rssi);
    bench_from_modem(&bench, "radio_rx 42\r\n");
    bench_exchange(&bench, "radio rx 0\r\n", "ok\r\n");
    bench_expect(&bench, "");
    bench_expect_frame(&bench, "B", 1);
}

static void missing_signal_values_delay_a_frame_by_a_tenth_of_a_second(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    bench_from_modem(&bench, "radio_rx 41\r\n");
    bench_exchange(&bench, "radio rx 0\r\n", "ok\r\n");
    bench_expect(&bench, "radio get snr\r\n");
    bench_pass_ms(&bench, 99);
    bench_no_event(&bench);
    bench_pass_ms(&bench, 1);
    struct rp_radio_event event = bench_event(&bench, RP_RADIO_FRAME);
    assert_false(event.has_snr || event.has_rssi);
    assert_true(rp_radio_ready(&bench.radio));
}

static void a_second_frame_does_not_take_the_first_ones_place(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    bench_from_modem(&bench, "radio_rx 41\r\n");
    bench_exchange(&bench, "radio rx 0\r\n", "ok\r\n");
    bench_expect(&bench, "radio get snr\r\n");
    bench_from_modem(&bench, "radio_rx 42\r\n");
    bench_expect_frame(&bench, "A", 1);
    bench_expect(&bench, "radio rx 0\r\n");
    bench_from_modem(&bench, "-3\r\nok\r\n"); /* the late answer is not the second frame's */
    bench_exchange(&bench, "radio get snr\r\n", "5\r\n");
    bench_exchange(&bench, "radio get rssi\r\n", "-90\r\n");
    struct rp_radio_event event = bench_event(&bench, RP_RADIO_FRAME);
    assert_memory_equal(event.frame, "B", 1);
    assert_int_equal(event.snr_db, 5);
}

static void every_byte_value_comes_back(void **state)
{
    (void)state;
    for (unsigned first = 0; first < 256; first += 34) {
        struct bench bench;
        uint8_t frame[222], out[600];
        for (unsigned i = 0; i < sizeof frame; i++) {
            frame[i] = (uint8_t)(first + i);
        }
        hextext_start(&bench);
        assert_int_equal(bench_send(&bench, frame, sizeof frame), 0);
        bench_exchange(&bench, "radio rxstop\r\n", "ok\r\n");
        size_t len = rp_radio_take_output(&bench.radio, out, sizeof out);
        assert_int_equal(len, 9 + 444 + 2);
        bench_from_modem(&bench, "ok\r\nradio_tx_ok\r\n");
        bench_event(&bench, RP_RADIO_SENT);
        bench_exchange(&bench, "radio rx 0\r\n", "ok\r\n");
        bench_from_modem(&bench, "radio_rx  ");
        bench_from_modem_bytes(&bench, out + 9, 444);
        bench_from_modem(&bench, "\r\n");
        bench_exchange(&bench, "radio rx 0\r\n", "ok\r\n");
        bench_exchange(&bench, "radio get snr\r\n", "0\r\n");
        bench_exchange(&bench, "radio get rssi\r\n", "0\r\n");
        bench_expect_frame(&bench, frame, sizeof frame);
    }
}

static void a_frame_is_received_whatever_the_split(void **state)
{
    (void)state;
    static const char stream[] = "radio_rx  48656c6c6f\r\n";
    for (size_t split = 0; split < sizeof stream; split++) {
        struct bench bench;
        hextext_start(&bench);
        bench_from_modem_bytes(&bench, stream, split);
        bench_from_modem_bytes(&bench, stream + split, sizeof stream - 1 - split);
        bench_exchange(&bench, "radio rx 0\r\n", "ok\r\n");
        bench_pass_ms(&bench, 100);
        bench_expect_frame(&bench, "Hello", 5);
    }
}

static void a_damaged_frame_is_counted_and_the_receiver_armed(void **state)
{
    (void)state;
    static const char *const bad[] = {"radio_rx  4\r\n", "radio_rx  4g\r\n", "radio_rx  \r\n",
                                      "radio_rx  41 42\r\n"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct bench bench;
        hextext_start(&bench);
        bench_from_modem(&bench, bad[i]);
        bench_exchange(&bench, "radio rx 0\r\n", "ok\r\n");
        bench_no_event(&bench);
        bench_expect(&bench, "");
        assert_int_equal(bench.radio.counters.rx_bad, 1);
    }
}

/* A module may receive 255 bytes; a frame of ours has at most 222. */
static void a_frame_longer_than_ours_is_counted(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    bench_from_modem(&bench, "radio_rx  ");
    for (int i = 0; i < 255; i++) {
        bench_from_modem(&bench, "5a");
    }
    bench_from_modem(&bench, "\r\n");
    bench_exchange(&bench, "radio rx 0\r\n", "ok\r\n");
    assert_int_equal(bench.radio.counters.rx_bad, 1);
    bench_from_modem(&bench, "radio_rx  ");
    for (int i = 0; i < 2000; i++) {
        bench_from_modem(&bench, "5a");
    }
    bench_from_modem(&bench, "\r\nradio_err\r\n");
    bench_exchange(&bench, "radio rx 0\r\n", "ok\r\n");
    assert_int_equal(bench.radio.counters.lines_skipped, 1);
    bench_no_event(&bench);
}

static void a_receive_error_arms_the_receiver(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    bench_from_modem(&bench, "radio_err\r\n");
    bench_exchange(&bench, "radio rx 0\r\n", "ok\r\n");
    bench_no_event(&bench);
    assert_true(rp_radio_ready(&bench.radio));
}

static void a_frame_that_crosses_the_stop_is_not_lost(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    assert_int_equal(bench_send(&bench, "x", 1), 0);
    bench_expect(&bench, "radio rxstop\r\n");
    bench_from_modem(&bench, "radio_rx  41\r\n");
    bench_expect_frame(&bench, "A", 1);
    bench_from_modem(&bench, "ok\r\n");
    bench_exchange(&bench, "radio tx 78\r\n", "ok\r\nradio_tx_ok\r\n");
    bench_event(&bench, RP_RADIO_SENT);
}

/* The two answers of "radio tx", section 2.5.2, each kind of the first and of the second. */
static void each_answer_to_sending_has_its_outcome(void **state)
{
    (void)state;
    static const struct {
        const char *answer;
        int code;
        bool maybe_aired;
    } rows[] = {
        {"busy\r\n", RP_E_BUSY, false},
        {"invalid_param\r\n", RP_E_IO, false},
        {"ok\r\nradio_err\r\n", RP_E_IO, true},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct bench bench;
        hextext_start(&bench);
        for (int repeat = 0; repeat < 3; repeat++) {
            assert_int_equal(bench_send(&bench, "x", 1), 0);
            bench_exchange(&bench, "radio rxstop\r\n", "ok\r\n");
            bench_exchange(&bench, "radio tx 78\r\n", rows[i].answer);
            bench_expect_unsent(&bench, rows[i].code, rows[i].maybe_aired);
            if (repeat < 2) {
                bench_exchange(&bench, "radio rx 0\r\n", "ok\r\n");
                assert_true(rp_radio_ready(&bench.radio));
            }
        }
        /* The third in a row: all settings again. */
        assert_false(rp_radio_ready(&bench.radio));
        bench_begin(&bench);
        hextext_settings(&bench);
        bench_event(&bench, RP_RADIO_READY);
    }
}

static void a_missing_first_answer_is_made_up_for_by_the_second(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    assert_int_equal(bench_send(&bench, "x", 1), 0);
    bench_exchange(&bench, "radio rxstop\r\n", "ok\r\n");
    bench_expect(&bench, "radio tx 78\r\n");
    bench_from_modem(&bench, "\x01k\r\nradio_tx_ok\r\n");
    bench_event(&bench, RP_RADIO_SENT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(start_up_goes_by_the_reference),
        cmocka_unit_test(the_profile_reaches_the_module),
        cmocka_unit_test(a_frame_is_sent_and_the_receiver_armed_again),
        cmocka_unit_test(a_frame_comes_with_its_signal),
        cmocka_unit_test(a_firmware_without_signal_values_is_asked_once),
        cmocka_unit_test(missing_signal_values_delay_a_frame_by_a_tenth_of_a_second),
        cmocka_unit_test(a_second_frame_does_not_take_the_first_ones_place),
        cmocka_unit_test(every_byte_value_comes_back),
        cmocka_unit_test(a_frame_is_received_whatever_the_split),
        cmocka_unit_test(a_damaged_frame_is_counted_and_the_receiver_armed),
        cmocka_unit_test(a_frame_longer_than_ours_is_counted),
        cmocka_unit_test(a_receive_error_arms_the_receiver),
        cmocka_unit_test(a_frame_that_crosses_the_stop_is_not_lost),
        cmocka_unit_test(each_answer_to_sending_has_its_outcome),
        cmocka_unit_test(a_missing_first_answer_is_made_up_for_by_the_second),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
