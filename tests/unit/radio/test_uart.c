#include "rp_test.h"

#include <string.h>

#include "bench.h"
#include "radio/crc.h"

/* Transparent modules. Sub-packet sizes, register blocks and commands: E22-400T22S user manual v1.5
 * and E32-433T20DT user manual v1.6. The pieces' form is ours; their checks were computed by a
 * bitwise routine of another language. */

static void start(struct bench *bench, const char *driver)
{
    bench_open(bench, driver);
    bench_pass_ms(bench, 1000);
    bench_event(bench, RP_RADIO_READY);
    bench_expect(bench, "");
}

/* "CRC-16/ARC" in the catalogue of parametrised CRC algorithms. */
static void the_check_is_the_published_one(void **state)
{
    (void)state;
    assert_int_equal(rp_radio_crc16((const uint8_t *)"123456789", 9), 0xbb3d);
}

/* 7 bytes at SF9, 125 kHz, 4/5, preamble 12: 34.25 symbols of 4.096 ms, 140.288 ms (SX1276 data
 * sheet 4.1.1.7), more than 36 bit times a byte at 2.4 kbit/s. The serial line takes 7.3 ms. */
static void a_frame_is_one_piece_and_timed(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "uart-e22");
    assert_int_equal(bench_send(&bench, "hi", 2), 0);
    assert_false(rp_radio_ready(&bench.radio));
    bench_expect_bytes(&bench, "\x5a\x10\x02hi\x12\xe3", 7);
    bench_pass_ms(&bench, 197);
    bench_no_event(&bench);
    bench_pass_ms(&bench, 1);
    bench_event(&bench, RP_RADIO_SENT);
    assert_true(rp_radio_ready(&bench.radio));
    assert_int_equal(bench_send(&bench, "hi", 2), 0);
    bench_expect_bytes(&bench, "\x5a\x20\x02hi\x1d\xe3", 7);
}

/* E22-T22S user manual: 100 bytes at 2.4 kbit/s take about 1.5 s. */
static void airtime_is_that_of_the_manual(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "uart-e22");
    assert_int_equal(rp_radio_airtime_us(&bench.radio, 95), 1500000);
}

/* E32: 58 bytes a packet. The second piece waits until the first one has gone. */
static void a_long_frame_goes_out_in_pieces(void **state)
{
    (void)state;
    struct bench bench;
    uint8_t frame[60];
    for (size_t i = 0; i < sizeof frame; i++) {
        frame[i] = (uint8_t)(i + 1);
    }
    start(&bench, "uart-e32");
    assert_int_equal(bench_send(&bench, frame, sizeof frame), 0);
    static const uint8_t first[] = {
        0x5a, 0x11, 0x35, 1,  2,  3,  4,  5,  6,  7,  8,  9,  10, 11, 12, 13,   14,   15,  16, 17,
        18,   19,   20,   21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 31, 32, 33,   34,   35,  36, 37,
        38,   39,   40,   41, 42, 43, 44, 45, 46, 47, 48, 49, 50, 51, 52, 0x35, 0xc4, 0x7b};
    assert_int_equal(sizeof first, 58);
    bench_expect_bytes(&bench, first, sizeof first);
    bench_pass_ms(&bench, 900); /* 58 bytes: 870 ms of air and 60.4 ms of serial line */
    bench_expect(&bench, "");
    bench_pass_ms(&bench, 100);
    static const uint8_t second[] = {0x5a, 0x15, 0x07, 54, 55, 56, 57, 58, 59, 60, 0x5c, 0x26};
    bench_expect_bytes(&bench, second, sizeof second);
    bench_no_event(&bench);
    bench_pass_ms(&bench, 400);
    bench_event(&bench, RP_RADIO_SENT);
    /* And back: byte by byte, the second piece after a pause. */
    for (size_t i = 0; i < sizeof first; i++) {
        bench_from_modem_bytes(&bench, first + i, 1);
    }
    bench_pass_ms(&bench, 700);
    bench_no_event(&bench);
    bench_from_modem_bytes(&bench, second, sizeof second);
    bench_expect_frame(&bench, frame, sizeof frame);
    assert_int_equal(bench.radio.counters.rx_bad, 0);
}

static void a_piece_that_does_not_follow_drops_the_frame(void **state)
{
    (void)state;
    struct bench bench;
    static const uint8_t second[] = {0x5a, 0x15, 0x07, 54, 55, 56, 57, 58, 59, 60, 0x5c, 0x26};
    start(&bench, "uart-e32");
    bench_from_modem_bytes(&bench, second, sizeof second);
    bench_no_event(&bench);
    assert_int_equal(bench.radio.counters.rx_bad, 1);
    bench_from_modem_bytes(&bench, "\x5a\x10\x02hi\x12\xe3", 7);
    bench_expect_frame(&bench, "hi", 2);
}

/* A mark that begins no piece hides none behind it; nor do half a piece, noise, or a wrong check.
 */
static void rubbish_between_pieces_is_stepped_over(void **state)
{
    (void)state;
    static const struct {
        const char *bytes;
        size_t len;
    } rubbish[] = {{"\x00\xff\xfc", 3},
                   {"\x5a", 1},
                   {"\x5a\x10", 2},
                   {"\x5a\x10\x02h", 4},
                   {"\x5a\x10\x02hi\x12\xe4", 7},
                   {"\x5a\x5a\x5a\x00", 4},
                   {"\x5a\x10\x00\x12", 4}};
    for (size_t i = 0; i < sizeof rubbish / sizeof rubbish[0]; i++) {
        struct bench bench;
        start(&bench, "uart-e22");
        bench_from_modem_bytes(&bench, rubbish[i].bytes, rubbish[i].len);
        bench_from_modem_bytes(&bench, "\x5a\x10\x02hi\x12\xe3", 7);
        bench_pass_ms(&bench, 300);
        bench_from_modem_bytes(&bench, "\x5a\x20\x02hi\x1d\xe3", 7);
        bench_expect_frame(&bench, "hi", 2);
        bench_expect_frame(&bench, "hi", 2);
        bench_no_event(&bench);
    }
}

/* A length that promises much more than comes is given up after a gap. */
static void a_torn_piece_is_given_up_after_a_gap(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "uart-e22");
    bench_from_modem_bytes(&bench, "\x5a\x10\xe0zzzzzz", 9);
    bench_pass_ms(&bench, 201);
    bench_from_modem_bytes(&bench, "\x5a\x10\x02hi\x12\xe3", 7);
    bench_expect_frame(&bench, "hi", 2);
    assert_true(bench.radio.counters.rx_bad > 0);
}

/* E22: with REG3 bit 7 a byte follows each packet; dBm = -(256 - byte) is the 2024 manual's formula
 * for noise, and from memory that of this byte. 0x9b is -101 dBm. After two
 * of them the frame waits for its own. */
static void a_signal_byte_is_found_and_waited_for(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "uart-e22");
    for (int i = 0; i < 2; i++) {
        bench_from_modem_bytes(&bench, "\x5a\x10\x02hi\x12\xe3\x9b", 8);
        assert_false(bench_event(&bench, RP_RADIO_FRAME).has_rssi);
    }
    bench_from_modem_bytes(&bench, "\x5a\x10\x02hi\x12\xe3", 7);
    bench_no_event(&bench);
    bench_from_modem_bytes(&bench, "\x9b", 1);
    struct rp_radio_event event = bench_event(&bench, RP_RADIO_FRAME);
    assert_true(event.has_rssi);
    assert_false(event.has_snr);
    assert_int_equal(event.rssi_dbm, -101);
    /* One that is missing delays its frame by 50 ms; the next piece is never taken for it. */
    bench_from_modem_bytes(&bench, "\x5a\x10\x02hi\x12\xe3", 7);
    bench_pass_ms(&bench, 49);
    bench_no_event(&bench);
    bench_pass_ms(&bench, 1);
    assert_false(bench_event(&bench, RP_RADIO_FRAME).has_rssi);
    bench_from_modem_bytes(&bench, "\x5a\x10\x02hi\x12\xe3\x5a\x20\x02hi\x1d\xe3\x9b", 15);
    assert_false(bench_event(&bench, RP_RADIO_FRAME).has_rssi);
    assert_true(bench_event(&bench, RP_RADIO_FRAME).has_rssi);
    assert_int_equal(bench.radio.counters.rx_ignored, 0);
}

static void a_held_frame_outlives_the_port(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "uart-e22");
    bench_from_modem_bytes(&bench, "\x5a\x10\x02hi\x12\xe3\x9b\x5a\x10\x02hi\x12\xe3\x9b", 16);
    bench_event(&bench, RP_RADIO_FRAME);
    bench_event(&bench, RP_RADIO_FRAME);
    bench_from_modem_bytes(&bench, "\x5a\x10\x02hi\x12\xe3", 7);
    rp_radio_closed(&bench.radio, bench.now_us);
    bench_expect_frame(&bench, "hi", 2);
    bench_no_event(&bench);
}

static void a_port_that_does_not_drain_is_opened_again(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "uart-e22");
    assert_int_equal(bench_send(&bench, "hi", 2), 0);
    bench_pass_ms(&bench, 60000);
    bench_expect_unsent(&bench, RP_E_IO, true);
    assert_int_equal(rp_radio_take_wish(&bench.radio), RP_RADIO_WISH_REOPEN);
    assert_int_equal(rp_radio_take_wish(&bench.radio), RP_RADIO_WISH_NONE);
    assert_int_equal(rp_radio_baud(&bench.radio), 9600);
}

static void start_with_pin(struct bench *bench, const char *driver)
{
    bench_init(bench, driver);
    rp_radio_set_mode_pin(&bench->radio, true);
    rp_radio_opened(&bench->radio, bench->now_us);
    bench_pass_ms(bench, 1000);
    assert_int_equal(rp_radio_take_wish(&bench->radio), RP_RADIO_WISH_MODE_CONFIG);
    bench_expect(bench, "");
    bench_pass_ms(bench, 100);
}

static void leave(struct bench *bench)
{
    assert_int_equal(rp_radio_take_wish(&bench->radio), RP_RADIO_WISH_MODE_NORMAL);
    bench_no_event(bench);
    bench_pass_ms(bench, 100);
    bench_event(bench, RP_RADIO_READY);
}

/* Channel 18 is 868.125 MHz, network 18, 9600 8N1, 2.4 kbit/s, 240 bytes, signal byte on. */
static void a_module_that_fits_is_left_alone(void **state)
{
    (void)state;
    struct bench bench;
    start_with_pin(&bench, "uart-e22");
    bench_expect_bytes(&bench, "\xc1\x00\x07", 3);
    bench_from_modem_bytes(&bench, "\xfc\xc1\x00\x07\x00\x00\x12\x62\x00\x12\x80", 11);
    leave(&bench);
    bench_expect(&bench, "");
}

/* Another channel, fixed mode, noise reading on, 32-byte packets, 19200; power (REG1 bits 1-0) and
 * LBT (REG3 bit 4) stay. */
static void registers_that_differ_are_set_until_power_off(void **state)
{
    (void)state;
    struct bench bench;
    start_with_pin(&bench, "uart-e22");
    bench_expect_bytes(&bench, "\xc1\x00\x07", 3);
    bench_from_modem_bytes(&bench, "\xc1\x00\x07\x01\x02\x00\x82\xe1\x17\x70", 10);
    bench_expect_bytes(&bench, "\xc2\x00\x07\x00\x00\x12\x62\x01\x12\x90", 10);
    bench_from_modem_bytes(&bench, "\xc1\x00\x07\x00\x00\x12\x62\x01\x12\x90", 10);
    bench_pass_ms(&bench, 500);
    bench_expect_bytes(&bench, "\xc1\x00\x07", 3);
    bench_from_modem_bytes(&bench, "\xc1\x00\x07\x00\x00\x12\x62\x01\x12\x90", 10);
    leave(&bench);
}

/* E32 factory block C0 00 00 1A 17 44 (manual): 433 MHz, 9600, 2.4 kbit/s: it fits as it is. With
 * fixed mode on, bit 7 of the last byte, and channel 5 it does not. */
static void the_e32_has_its_own_block(void **state)
{
    (void)state;
    struct bench bench;
    start_with_pin(&bench, "uart-e32");
    bench_expect_bytes(&bench, "\xc1\xc1\xc1", 3);
    bench_from_modem_bytes(&bench, "\xc0\x00\x00\x1a\x17\x44", 6);
    leave(&bench);
    start_with_pin(&bench, "uart-e32");
    bench_expect_bytes(&bench, "\xc1\xc1\xc1", 3);
    bench_from_modem_bytes(&bench, "\xc0\x00\x00\x1a\x05\xc4", 6);
    bench_expect_bytes(&bench, "\xc2\x00\x00\x1a\x17\x44", 6);
}

/* No answer three times, or registers that are not kept: a fault, and a longer and longer wait. */
static void a_module_that_cannot_be_configured_is_a_fault(void **state)
{
    (void)state;
    struct bench bench;
    start_with_pin(&bench, "uart-e22");
    bench_pass_ms(&bench, 2000);
    struct rp_radio_event fault = bench_event(&bench, RP_RADIO_FAULT);
    assert_int_equal(fault.code, RP_E_TIMEOUT);
    assert_string_equal(fault.text,
                        "no answer in configuration mode: check the mode pin, power and cable");
    assert_string_equal(rp_radio_ladder(&bench.radio), "back-off");
    assert_int_equal(rp_radio_take_wish(&bench.radio), RP_RADIO_WISH_LINE_RESET);
    bench_pass_ms(&bench, 5000);
    assert_int_equal(rp_radio_take_wish(&bench.radio), RP_RADIO_WISH_REOPEN);
    assert_int_equal(bench.radio.counters.reopens, 1);
    assert_int_equal(bench_send(&bench, "x", 1), RP_E_STATE);
}

/* E22: 410.125 or 850.125 MHz and up in steps of 1 MHz; E32: 410 MHz and up. */
static void frequencies_are_channels(void **state)
{
    (void)state;
    static const struct {
        const char *driver;
        uint32_t freq_hz;
        bool valid;
    } rows[] = {{"uart-e22", 868125000, true},  {"uart-e22", 869525000, false},
                {"uart-e22", 433125000, true},  {"uart-e22", 433000000, false},
                {"uart-e22", 930125000, true},  {"uart-e22", 931125000, false},
                {"uart-e22", 493125000, true},  {"uart-e22", 494125000, false},
                {"uart-e32", 433000000, true},  {"uart-e32", 441000000, true},
                {"uart-e32", 442000000, false}, {"uart-e220", 868125000, true}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rp_radio radio;
        struct rp_radio_profile profile = bench_profile();
        const char *why = "";
        profile.freq_hz = rows[i].freq_hz;
        int result = rp_radio_init(&radio, rows[i].driver, &profile, &why);
        assert_int_equal(result, rows[i].valid ? 0 : RP_E_INVALID);
    }
    struct rp_radio radio;
    struct rp_radio_profile profile = bench_profile();
    const char *why = "";
    rp_radio_init(&radio, "uart-e22", &profile, &why);
    assert_string_equal(why, "freq_hz 869525000 is no channel of an E22: they are 850125000 and 80 "
                             "more in steps of 1000000, for example 868125000");
}

/* Users report that an E220 fails above 9600; 9600 is every module's own speed (manuals). */
static void the_speed_of_transparent_modules_is_9600(void **state)
{
    (void)state;
    static const char *const drivers[] = {"uart-e22", "uart-e32", "uart-e220"};
    for (size_t i = 0; i < 3; i++) {
        struct bench bench;
        bench_init(&bench, drivers[i]);
        assert_int_equal(rp_radio_baud(&bench.radio), 9600);
    }
}

/* With text armour 222 characters of base64 hold 166 bytes; an E32's 212 bytes hold 159. */
static void armour_leaves_room_for_fewer_bytes(void **state)
{
    (void)state;
    static const struct {
        const char *driver;
        uint16_t plain, armoured;
    } rows[] = {{"uart-e22", 222, 166}, {"uart-e32", 212, 159}};
    for (size_t i = 0; i < 2; i++) {
        struct bench bench;
        bench_init(&bench, rows[i].driver);
        assert_int_equal(rp_radio_frame_len_max(&bench.radio), rows[i].plain);
        bench.radio.profile.text_armour = true;
        assert_int_equal(rp_radio_frame_len_max(&bench.radio), rows[i].armoured);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_check_is_the_published_one),
        cmocka_unit_test(a_frame_is_one_piece_and_timed),
        cmocka_unit_test(airtime_is_that_of_the_manual),
        cmocka_unit_test(a_long_frame_goes_out_in_pieces),
        cmocka_unit_test(a_piece_that_does_not_follow_drops_the_frame),
        cmocka_unit_test(rubbish_between_pieces_is_stepped_over),
        cmocka_unit_test(a_torn_piece_is_given_up_after_a_gap),
        cmocka_unit_test(a_signal_byte_is_found_and_waited_for),
        cmocka_unit_test(a_held_frame_outlives_the_port),
        cmocka_unit_test(a_port_that_does_not_drain_is_opened_again),
        cmocka_unit_test(a_module_that_fits_is_left_alone),
        cmocka_unit_test(registers_that_differ_are_set_until_power_off),
        cmocka_unit_test(the_e32_has_its_own_block),
        cmocka_unit_test(a_module_that_cannot_be_configured_is_a_fault),
        cmocka_unit_test(frequencies_are_channels),
        cmocka_unit_test(the_speed_of_transparent_modules_is_9600),
        cmocka_unit_test(armour_leaves_room_for_fewer_bytes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
