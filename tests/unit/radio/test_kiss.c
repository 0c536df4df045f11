#include "rp_test.h"

#include "bench.h"

/* Byte values and rules: Chepponis and Karn, "The KISS TNC", ARRL 6th Computer Networking
 * Conference, 1987, unless another source is named. */

static void start(struct bench *bench, const char *driver)
{
    bench_open(bench, driver);
    assert_int_equal(bench_send(bench, "x", 1), RP_E_STATE);
    bench_expect_bytes(bench, "", 0);
    bench_pass_ms(bench, 1000);
    bench_event(bench, RP_RADIO_READY);
    uint8_t out[64];
    rp_radio_take_output(&bench->radio, out, sizeof out);
}

/* Commands 1 to 5: TXDELAY in 10 ms, P = 255, SlotTime in 10 ms, TXtail, FullDuplex off. */
static void start_up_writes_these_bytes(void **state)
{
    (void)state;
    struct bench bench;
    bench_open(&bench, "kiss");
    assert_int_equal(rp_radio_wake(&bench.radio), bench.now_us + 1000000);
    bench_pass_ms(&bench, 999);
    bench_no_event(&bench);
    assert_false(rp_radio_ready(&bench.radio));
    bench_pass_ms(&bench, 1);
    bench_expect_bytes(&bench,
                       "\xc0\xc0\xc0\x01\x01\xc0"
                       "\xc0\x02\xff\xc0\xc0\x03\x01\xc0\xc0\x04\x00\xc0\xc0\x05\x00\xc0",
                       22);
    bench_event(&bench, RP_RADIO_READY);
    bench_no_event(&bench);
    assert_true(rp_radio_ready(&bench.radio));
    assert_true(rp_radio_wake(&bench.radio) == RP_NEVER);
}

/* "TEST" and the two special bytes, as the paper's section on transparency has them escaped. */
static void a_frame_is_escaped_and_timed(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "kiss");
    assert_int_equal(bench_send(&bench,
                                "\xc0"
                                "A\xdb",
                                3),
                     0);
    bench_expect_bytes(&bench, "\xc0\x00\xdb\xdc\x41\xdb\xdd\xc0", 8);
    assert_false(rp_radio_ready(&bench.radio));
    assert_int_equal(bench_send(&bench, "y", 1), RP_E_BUSY);
    /* Eight bytes at 115200 baud (0.695 ms), TXDELAY 10 ms, SF9 and 3 bytes on air: 12 + 4.25 + 8 +
     * 5 (8*3 - 36 + 28 + 16 = 32 bits of 36) = 29.25 symbols of 4.096 ms = 119.808 ms, margin 50
     * ms. Worked by hand. */
    assert_int_equal(rp_radio_airtime_us(&bench.radio, 3), 119808);
    bench_pass_ms(&bench, 180);
    bench_no_event(&bench);
    bench_pass_ms(&bench, 1);
    bench_event(&bench, RP_RADIO_SENT);
    assert_true(rp_radio_ready(&bench.radio));
    assert_int_equal(bench.radio.counters.tx_sent, 1);
}

static void every_byte_value_comes_back(void **state)
{
    (void)state;
    for (unsigned half = 0; half < 2; half++) {
        struct bench bench;
        uint8_t frame[128], out[300];
        for (unsigned i = 0; i < 128; i++) {
            frame[i] = (uint8_t)(half * 128 + i);
        }
        start(&bench, "kiss");
        assert_int_equal(bench_send(&bench, frame, sizeof frame), 0);
        size_t len = rp_radio_take_output(&bench.radio, out, sizeof out);
        assert_int_equal(len, half == 0 ? 131 : 133); /* C0 and DB take two bytes each */
        bench_from_modem_bytes(&bench, out, len);
        bench_expect_frame(&bench, frame, sizeof frame);
    }
}

static void the_longest_frame_fits_even_when_every_byte_is_escaped(void **state)
{
    (void)state;
    struct bench bench;
    uint8_t frame[RP_FRAME_LEN_MAX + 1];
    memset(frame, 0xc0, sizeof frame);
    start(&bench, "kiss-ack");
    assert_int_equal(bench_send(&bench, frame, RP_FRAME_LEN_MAX + 1), RP_E_TOO_LONG);
    assert_int_equal(bench_send(&bench, frame, 0), RP_E_INVALID);
    assert_int_equal(bench_send(&bench, frame, RP_FRAME_LEN_MAX), 0);
    uint8_t out[600];
    assert_int_equal(rp_radio_take_output(&bench.radio, out, sizeof out), 2 + 3 + 2 * 222);
}

static void a_frame_is_received_whatever_the_split(void **state)
{
    (void)state;
    static const uint8_t stream[] = {0xc0, 0x00, 0x41, 0xdb, 0xdc, 0xdb, 0xdd,
                                     0x42, 0xc0, 0xc0, 0x00, 0x43, 0xc0};
    for (size_t split = 0; split <= sizeof stream; split++) {
        struct bench bench;
        start(&bench, "kiss");
        bench_from_modem_bytes(&bench, stream, split);
        bench_from_modem_bytes(&bench, stream + split, sizeof stream - split);
        bench_expect_frame(&bench,
                           "A\xc0\xdb"
                           "B",
                           4);
        bench_expect_frame(&bench, "C", 1);
        bench_no_event(&bench);
    }
}

/* Linux drivers/net/hamradio/mkiss.c, kiss_unesc(): a byte that is neither TFEND nor TFESC is kept,
 * and the escape stays in force until one of them or a FEND comes. */
static void a_wrong_escape_keeps_the_byte(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "kiss");
    bench_from_modem_bytes(&bench, "\xc0\x00\xdb\x41\xdc\x42\xdc\xc0", 8);
    bench_expect_frame(&bench,
                       "A\xc0"
                       "B\xdc",
                       4);
    bench_from_modem_bytes(&bench, "\xc0\x00\x44\xdb\xc0\x00\xdc\xc0", 8);
    bench_expect_frame(&bench, "D", 1); /* a FEND ends it, the escape with it */
    bench_expect_frame(&bench, "\xdc", 1);
}

static void noise_empty_frames_and_other_types_are_passed_over(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "kiss");
    bench_from_modem(&bench, "boot: modem 1.0\r\n");
    bench_from_modem_bytes(&bench, "\xc0\xc0\xc0\xc0\x00\xc0\x06zz\xc0\x10Q\xc0\x20Q12\xc0\xff\xc0",
                           20);
    bench_no_event(&bench);
    assert_int_equal(bench.radio.counters.rx_ignored, 6);
    bench_from_modem_bytes(&bench, "\xc0\x00OK\xc0", 5);
    bench_expect_frame(&bench, "OK", 2);
}

/* Data for port 12 begins with the type byte C0, which has to be escaped: so what the modem sends
 * for its port 12 is no FEND and no frame of ours. "From memory": the paper has no example. */
static void port_twelve_does_not_break_the_framing(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "kiss");
    bench_from_modem_bytes(&bench, "\xc0\xdb\xdc\x41\x42\xc0\xc0\x00Z\xc0", 10);
    bench_expect_frame(&bench, "Z", 1);
    bench_no_event(&bench);
    assert_int_equal(bench.radio.counters.rx_ignored, 1);
}

static void an_overlong_frame_is_counted_and_the_next_one_is_good(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "kiss");
    uint8_t rubbish[1000];
    memset(rubbish, 0x55, sizeof rubbish);
    rubbish[0] = 0xc0;
    rubbish[1] = 0x00;
    bench_from_modem_bytes(&bench, rubbish, sizeof rubbish);
    bench_from_modem_bytes(&bench, "\xc0\x00ok\xc0", 5);
    bench_expect_frame(&bench, "ok", 2);
    assert_int_equal(bench.radio.counters.rx_bad, 1);
    /* One byte more than a frame may have, though it fits the buffer. */
    rubbish[2 + RP_FRAME_LEN_MAX + 1] = 0xc0;
    bench_from_modem_bytes(&bench, rubbish, 2 + RP_FRAME_LEN_MAX + 2);
    bench_no_event(&bench);
    assert_int_equal(bench.radio.counters.rx_bad, 2);
}

/* SMACK (1992): the CRC-16 with x^16 + x^15 + x^2 + 1, reflected, start 0, over type and data, low
 * byte first. Its check value over "123456789" is BB3D ("CRC-16/ARC" in the catalogue of
 * parametrised CRC algorithms); over 80 41 42 it is 89B1, computed by a bitwise routine of another
 * language. */
static void smack_frames_are_taken_when_their_crc_is_right(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "kiss");
    bench_from_modem_bytes(&bench, "\xc0\x80\x41\x42\xb1\x89\xc0", 7);
    bench_expect_frame(&bench, "AB", 2);
    bench_from_modem_bytes(&bench, "\xc0\x80\x43\x42\xb1\x89\xc0", 7);
    bench_no_event(&bench);
    assert_int_equal(bench.radio.counters.rx_bad, 1);
}

/* Type 80, "hi", CRC-16 06EE low byte first; computed as above. Row "kiss" goes over to it with the
 * first good SMACK frame it hears, and to the plain form again when the port is opened anew. */
static void smack_is_sent_always_or_once_the_modem_has(void **state)
{
    (void)state;
    static const uint8_t checked[] = {0xc0, 0x80, 'h', 'i', 0xee, 0x06, 0xc0};
    struct bench bench;
    start(&bench, "kiss-crc");
    assert_int_equal(bench_send(&bench, "hi", 2), 0);
    bench_expect_bytes(&bench, checked, sizeof checked);
    start(&bench, "kiss");
    assert_int_equal(bench_send(&bench, "hi", 2), 0);
    bench_expect_bytes(&bench, "\xc0\x00hi\xc0", 5);
    bench_pass_ms(&bench, 1000);
    bench_event(&bench, RP_RADIO_SENT);
    bench_from_modem_bytes(&bench, "\xc0\x80\x41\x42\xb1\x89\xc0", 7);
    assert_int_equal(bench_send(&bench, "hi", 2), 0);
    bench_expect_bytes(&bench, checked, sizeof checked);
    rp_radio_opened(&bench.radio, bench.now_us);
    bench_pass_ms(&bench, 1000);
    uint8_t start_up[64];
    rp_radio_take_output(&bench.radio, start_up, sizeof start_up);
    assert_int_equal(bench_send(&bench, "hi", 2), 0);
    bench_expect_bytes(&bench, "\xc0\x00hi\xc0", 5);
}

static void acknowledged_sending(uint8_t reply_type)
{
    struct bench bench;
    start(&bench, "kiss-ack");
    for (uint8_t id = 1; id <= 3; id++) {
        assert_int_equal(bench_send(&bench, "hi", 2), 0);
        uint8_t wanted[] = {0xc0, 0x0c, 0x00, id, 'h', 'i', 0xc0};
        bench_expect_bytes(&bench, wanted, sizeof wanted);
        uint8_t other[] = {0xc0, reply_type, 0x01, id, 0xc0};
        bench_from_modem_bytes(&bench, other, sizeof other);
        bench_no_event(&bench);
        uint8_t reply[] = {0xc0, reply_type, 0x00, id, 0xc0};
        bench_from_modem_bytes(&bench, reply, sizeof reply);
        bench_event(&bench, RP_RADIO_SENT);
        assert_true(rp_radio_ready(&bench.radio));
    }
}

/* The acknowledgement extension of multi-drop hosts (XKISS/BPQ): 0C id id; one modem answers 0E. */
static void an_acknowledgement_ends_sending(void **state)
{
    (void)state;
    acknowledged_sending(0x0c);
    acknowledged_sending(0x0e);
}

static void the_id_of_an_acknowledgement_is_escaped_too(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "kiss-ack");
    uint8_t out[16];
    for (unsigned i = 1; i <= 0xc0; i++) {
        assert_int_equal(bench_send(&bench, "x", 1), 0);
        size_t len = rp_radio_take_output(&bench.radio, out, sizeof out);
        if (i == 0xc0) {
            assert_int_equal(len, 7);
            assert_memory_equal(out, "\xc0\x0c\x00\xdb\xdcx\xc0", 7);
            bench_from_modem_bytes(&bench, "\xc0\x0c\x00\xdb\xdc\xc0", 6);
        } else {
            uint8_t reply[] = {0xc0, 0x0c, 0x00, (uint8_t)i, 0xc0};
            bench_from_modem_bytes(&bench, reply, sizeof reply);
        }
        bench_event(&bench, RP_RADIO_SENT);
    }
}

static void a_modem_that_never_acknowledges_is_used_as_plain_kiss(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "kiss-ack");
    assert_int_equal(bench_send(&bench, "one", 3), 0);
    bench_expect_bytes(&bench, "\xc0\x0c\x00\x01one\xc0", 8);
    bench_pass_ms(&bench, 4000);
    bench_expect_unsent(&bench, RP_E_TIMEOUT, true);
    assert_int_equal(bench.radio.counters.ack_fallbacks, 1);
    assert_int_equal(bench_send(&bench, "two", 3), 0);
    bench_expect_bytes(&bench, "\xc0\x00two\xc0", 6);
    bench_pass_ms(&bench, 1000);
    bench_event(&bench, RP_RADIO_SENT);
    /* For good, also after the port was opened again. */
    rp_radio_closed(&bench.radio, bench.now_us);
    rp_radio_opened(&bench.radio, bench.now_us);
    bench_pass_ms(&bench, 1000);
    bench_event(&bench, RP_RADIO_READY);
    uint8_t out[64];
    rp_radio_take_output(&bench.radio, out, sizeof out);
    assert_int_equal(bench_send(&bench, "three", 5), 0);
    bench_expect_bytes(&bench, "\xc0\x00three\xc0", 8);
}

static void a_modem_that_has_acknowledged_may_miss_two(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "kiss-ack");
    assert_int_equal(bench_send(&bench, "a", 1), 0);
    bench_from_modem_bytes(&bench, "\xc0\x0c\x00\x01\xc0", 5);
    bench_event(&bench, RP_RADIO_SENT);
    for (int i = 0; i < 3; i++) {
        assert_int_equal(bench.radio.counters.ack_fallbacks, 0);
        assert_int_equal(bench_send(&bench, "b", 1), 0);
        bench_pass_ms(&bench, 4000);
        bench_expect_unsent(&bench, RP_E_TIMEOUT, true);
    }
    assert_int_equal(bench.radio.counters.ack_fallbacks, 1);
    assert_int_equal(bench.radio.counters.timeouts, 3);
}

/* Waiting for a free channel: up to two seconds over the airtime. */
static void a_late_acknowledgement_counts(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "kiss-ack");
    assert_int_equal(bench_send(&bench, "x", 1), 0);
    bench_pass_ms(&bench, 2000);
    bench_no_event(&bench);
    bench_from_modem_bytes(&bench, "\xc0\x0c\x00\x01\xc0", 5);
    bench_event(&bench, RP_RADIO_SENT);
}

static void only_misses_in_a_row_count(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "kiss-ack");
    for (uint8_t id = 1; id <= 7; id++) {
        assert_int_equal(bench_send(&bench, "x", 1), 0);
        if (id % 3 == 1) {
            uint8_t reply[] = {0xc0, 0x0c, 0x00, id, 0xc0};
            bench_from_modem_bytes(&bench, reply, sizeof reply);
            bench_event(&bench, RP_RADIO_SENT);
        } else {
            bench_pass_ms(&bench, 4000);
            bench_expect_unsent(&bench, RP_E_TIMEOUT, true);
        }
    }
    assert_int_equal(bench.radio.counters.ack_fallbacks, 0);
}

/* A modem that loops frames back sends the whole of it: three bytes and no more acknowledge. */
static void an_echo_is_no_acknowledgement(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "kiss-ack");
    assert_int_equal(bench_send(&bench, "x", 1), 0);
    bench_from_modem_bytes(&bench, "\xc0\x0c\x00\x01x\xc0\x0c\x00\xc0", 9);
    bench_no_event(&bench);
    assert_int_equal(bench.radio.counters.rx_ignored, 2);
}

static void a_port_that_does_not_drain_ends_in_unsent(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "kiss");
    assert_int_equal(bench_send(&bench, "stuck", 5), 0);
    bench_pass_ms(&bench, 300);
    bench_no_event(&bench);
    bench_pass_ms(&bench, 2000);
    bench_expect_unsent(&bench, RP_E_IO, true);
    bench_expect_bytes(&bench, "", 0);
    assert_true(rp_radio_ready(&bench.radio));
}

static void an_unacknowledged_frame_does_not_go_out_later(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "kiss-ack");
    assert_int_equal(bench_send(&bench, "old", 3), 0);
    bench_pass_ms(&bench, 4000);
    bench_expect_unsent(&bench, RP_E_TIMEOUT, true);
    bench_expect_bytes(&bench, "", 0);
}

static void a_closed_port_leaves_the_frame_unknown(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench, "kiss");
    assert_int_equal(bench_send(&bench, "x", 1), 0);
    rp_radio_closed(&bench.radio, bench.now_us);
    bench_expect_unsent(&bench, RP_E_GONE, true);
    assert_true(rp_radio_wake(&bench.radio) == RP_NEVER);
    assert_false(rp_radio_ready(&bench.radio));
    bench_expect_bytes(&bench, "", 0);
    bench_from_modem_bytes(&bench, "\xc0\x00late\xc0", 7);
    bench_no_event(&bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(start_up_writes_these_bytes),
        cmocka_unit_test(a_frame_is_escaped_and_timed),
        cmocka_unit_test(every_byte_value_comes_back),
        cmocka_unit_test(the_longest_frame_fits_even_when_every_byte_is_escaped),
        cmocka_unit_test(a_frame_is_received_whatever_the_split),
        cmocka_unit_test(a_wrong_escape_keeps_the_byte),
        cmocka_unit_test(noise_empty_frames_and_other_types_are_passed_over),
        cmocka_unit_test(port_twelve_does_not_break_the_framing),
        cmocka_unit_test(an_overlong_frame_is_counted_and_the_next_one_is_good),
        cmocka_unit_test(smack_frames_are_taken_when_their_crc_is_right),
        cmocka_unit_test(smack_is_sent_always_or_once_the_modem_has),
        cmocka_unit_test(an_acknowledgement_ends_sending),
        cmocka_unit_test(the_id_of_an_acknowledgement_is_escaped_too),
        cmocka_unit_test(a_modem_that_never_acknowledges_is_used_as_plain_kiss),
        cmocka_unit_test(a_modem_that_has_acknowledged_may_miss_two),
        cmocka_unit_test(a_late_acknowledgement_counts),
        cmocka_unit_test(only_misses_in_a_row_count),
        cmocka_unit_test(an_echo_is_no_acknowledgement),
        cmocka_unit_test(a_port_that_does_not_drain_ends_in_unsent),
        cmocka_unit_test(an_unacknowledged_frame_does_not_go_out_later),
        cmocka_unit_test(a_closed_port_leaves_the_frame_unknown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
