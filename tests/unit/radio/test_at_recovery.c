#include "rp_test.h"

#include "at_bench.h"

/* Restarts, silence and refusals. Commands and answers: REYAX RYLR998/RYLR498 AT command guide
 * 56312E33 (2025). */

static void three_refusals_in_a_row_start_the_module_up_again(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    for (int i = 0; i < 3; i++) {
        assert_true(rp_radio_ready(&bench.radio));
        assert_int_equal(bench_send(&bench, "foo", 3), 0);
        bench_expect(&bench, "AT+SEND=0,4,Zm9v\r\n");
        bench_from_modem(&bench, "+ERR=4\r\n");
        bench_expect_unsent(&bench, RP_E_INVALID, false);
    }
    assert_false(rp_radio_ready(&bench.radio));
    bench_begin(&bench);
    at_settings(&bench);
    bench_event(&bench, RP_RADIO_READY);
}

static void an_unanswered_send_may_have_been_on_air(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    assert_int_equal(bench_send(&bench, "foo", 3), 0);
    bench_expect(&bench, "AT+SEND=0,4,Zm9v\r\n");
    bench_pass_ms(&bench, 1200);
    bench_no_event(&bench);
    bench_pass_ms(&bench, 200);
    bench_expect_unsent(&bench, RP_E_TIMEOUT, true);
    bench_begin(&bench);
    at_settings(&bench);
    bench_event(&bench, RP_RADIO_READY);
    assert_int_equal(bench.radio.counters.timeouts, 1);
}

static void a_restart_applies_every_setting_again(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    bench_from_modem(&bench, "\xfc+READY\r\n"); /* a byte of noise, as after power-up */
    bench_event(&bench, RP_RADIO_RESTARTED);
    assert_int_equal(bench_send(&bench, "x", 1), RP_E_STATE);
    bench_begin(&bench);
    at_settings(&bench);
    bench_event(&bench, RP_RADIO_READY);
}

static void a_restart_during_sending_leaves_the_frame_unknown(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    assert_int_equal(bench_send(&bench, "foo", 3), 0);
    bench_expect(&bench, "AT+SEND=0,4,Zm9v\r\n");
    bench_from_modem(&bench, "+READY\r\n");
    bench_expect_unsent(&bench, RP_E_IO, true);
    bench_event(&bench, RP_RADIO_RESTARTED);
    bench_begin(&bench);
    at_settings(&bench);
    bench_event(&bench, RP_RADIO_READY);
}

static void a_module_that_restarts_at_each_sending_becomes_a_fault(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    for (int i = 0; i < 4; i++) {
        assert_int_equal(bench_send(&bench, "foo", 3), 0);
        bench_expect(&bench, "AT+SEND=0,4,Zm9v\r\n");
        bench_from_modem(&bench, "+READY\r\n");
        bench_expect_unsent(&bench, RP_E_IO, true);
        bench_event(&bench, RP_RADIO_RESTARTED);
        if (i < 3) {
            bench_begin(&bench);
            at_settings(&bench);
            bench_event(&bench, RP_RADIO_READY);
        }
    }
    struct rp_radio_event fault = bench_event(&bench, RP_RADIO_FAULT);
    assert_int_equal(fault.code, RP_E_IO);
    assert_string_equal(fault.text, "the module restarts again and again: check its supply and "
                                    "battery, lower power_dbm");
    /* A back-off of 5 s, then it is tried again. */
    bench_pass_ms(&bench, 4999);
    bench_expect(&bench, "");
    bench_pass_ms(&bench, 1);
    bench_expect(&bench, "\r\n");
}

static void a_restart_in_the_middle_of_start_up_begins_it_again(void **state)
{
    (void)state;
    struct bench bench;
    bench_open(&bench, "at");
    bench_from_modem(&bench, "noise\xff\r\n+READY\r\n"); /* opening the port reset the board */
    bench_begin(&bench);
    bench_exchange(&bench, "AT\r\n", "+OK\r\n");
    bench_expect(&bench, "AT+MODE=0\r\n");
    bench_from_modem(&bench, "+READY\r\n");
    bench_no_event(&bench); /* it was never ready, so nothing is taken back */
    bench_begin(&bench);
    at_settings(&bench);
    bench_event(&bench, RP_RADIO_READY);
}

/* The ladder: twice without, once with a soft reset, then the fault; and again after 5, 10, 20 s.
 */
static void a_silent_module_climbs_the_ladder(void **state)
{
    (void)state;
    struct bench bench;
    bench_open(&bench, "at");
    static const int backoff_ms[] = {5000, 10000, 20000, 40000, 60000, 60000};
    for (size_t i = 0; i < 6; i++) {
        bench_begin(&bench);
        bench_expect(&bench, "AT\r\n");
        bench_pass_ms(&bench, 1000);
        bench_begin(&bench);
        bench_expect(&bench, "AT\r\n");
        bench_pass_ms(&bench, 1000);
        bench_begin(&bench);
        bench_expect(&bench, "AT+RESET\r\n");
        bench_pass_ms(&bench, 2000);
        bench_expect(&bench, "AT\r\n");
        bench_no_event(&bench);
        bench_pass_ms(&bench, 1000);
        struct rp_radio_event fault = bench_event(&bench, RP_RADIO_FAULT);
        assert_int_equal(fault.code, RP_E_TIMEOUT);
        assert_string_equal(fault.text,
                            "no answer to \"AT\": check power, cable and the speed (115200)");
        bench_pass_ms(&bench, backoff_ms[i]);
    }
    assert_int_equal(bench.radio.counters.resets, 6);
    bench_begin(&bench);
    at_settings(&bench);
    bench_event(&bench, RP_RADIO_READY);
}

/* Guide: AT+RESET answers +RESET, then +READY. */
static void a_soft_reset_is_not_reported_as_a_restart(void **state)
{
    (void)state;
    struct bench bench;
    bench_open(&bench, "at");
    bench_pass_ms(&bench, 2 * (300 + 1000) + 300);
    uint8_t out[64];
    rp_radio_take_output(&bench.radio, out, sizeof out);
    bench_from_modem(&bench, "+RESET\r\n+READY\r\n");
    bench_pass_ms(&bench, 200);
    at_settings(&bench);
    bench_event(&bench, RP_RADIO_READY);
    assert_int_equal(bench.radio.counters.restarts, 0);
}

static void a_refused_setting_is_named_in_the_fault(void **state)
{
    (void)state;
    struct bench bench;
    bench_open(&bench, "at");
    for (int attempt = 0; attempt < 3; attempt++) {
        bench_begin(&bench);
        if (attempt == 2) {
            bench_exchange(&bench, "AT+RESET\r\n", "+RESET\r\n+READY\r\n");
            bench_pass_ms(&bench, 200);
        }
        bench_exchange(&bench, "AT\r\n", "+OK\r\n");
        bench_exchange(&bench, "AT+MODE=0\r\n", "+OK\r\n");
        bench_exchange(&bench, "AT+BAND=869525000\r\n", "+ERR=4\r\n");
        bench_exchange(&bench, "AT+BAND=869525000\r\n", "+ERR=4\r\n"); /* asked once more */
    }
    struct rp_radio_event fault = bench_event(&bench, RP_RADIO_FAULT);
    assert_int_equal(fault.code, RP_E_INVALID);
    assert_string_equal(
        fault.text, "error 4: unknown command or value; check the radio family and the settings");
}

static void a_module_that_starts_during_a_back_off_is_not_kept_waiting(void **state)
{
    (void)state;
    struct bench bench;
    bench_open(&bench, "at");
    bench_pass_ms(&bench, 3 * 1300 + 2000 + 100);
    bench_event(&bench, RP_RADIO_FAULT);
    uint8_t out[64];
    rp_radio_take_output(&bench.radio, out, sizeof out);
    bench_from_modem(&bench, "+READY\r\n");
    bench_pass_ms(&bench, 2000);
    bench_expect(&bench, "\r\n");
}

static void a_quiet_module_is_probed(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    bench_pass_ms(&bench, 200000);
    bench_from_modem(&bench, "+RCV=0,4,Zm9v,-99,40\r\n"); /* heard: the probe moves */
    bench_expect_frame(&bench, "foo", 3);
    bench_pass_ms(&bench, 299999);
    bench_expect(&bench, "");
    bench_pass_ms(&bench, 1);
    bench_expect(&bench, "AT\r\n");
    /* A frame to be sent waits for the answer. */
    assert_int_equal(bench_send(&bench, "foo", 3), 0);
    bench_expect(&bench, "");
    bench_from_modem(&bench, "+OK\r\n");
    bench_expect(&bench, "AT+SEND=0,4,Zm9v\r\n");
    bench_from_modem(&bench, "+OK\r\n");
    bench_pass_ms(&bench, 1000);
    bench_event(&bench, RP_RADIO_SENT);
}

static void a_probe_without_answer_starts_the_module_up_again(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    bench_pass_ms(&bench, 300000);
    bench_expect(&bench, "AT\r\n");
    assert_int_equal(bench_send(&bench, "foo", 3), 0);
    bench_pass_ms(&bench, 1000);
    bench_expect_unsent(&bench, RP_E_TIMEOUT, false); /* its command was never written */
    bench_begin(&bench);
    at_settings(&bench);
    bench_event(&bench, RP_RADIO_READY);
}

static void an_overlong_line_is_skipped(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    bench_from_modem(&bench, "+");
    for (int i = 0; i < 2000; i++) {
        bench_from_modem(&bench, "zz");
    }
    bench_from_modem(&bench, "\r\n+RCV=0,4,Zm9v,-99,40\r\n");
    bench_expect_frame(&bench, "foo", 3);
    assert_int_equal(bench.radio.counters.lines_skipped, 1);
}

/* Guide: AT+PARAMETER has no place in flash, so a module that lost its supply has its own again.
 * The form of the answers: from memory. */
static void a_setting_that_reads_back_otherwise_is_named(void **state)
{
    (void)state;
    static const struct {
        const char *answer, *text;
    } cases[] = {
        {"+PARAMETER=7,7,1,12\r\n", "the module says spreading_factor 7 where the net has 9"},
        {"+PARAMETER=9,8,1,12\r\n", "the module says bandwidth_hz 250000 where the net has 125000"},
        {"+PARAMETER=9,6,1,12\r\n", "the module says bandwidth_hz 62500 where the net has 125000"},
        {"+PARAMETER=9,7,4,12\r\n", "the module says coding_rate 8 where the net has 5"},
        {"+PARAMETER=9,7,1,8\r\n", "the module says preamble_symbols 8 where the net has 12"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct bench bench;
        bench_open(&bench, "at");
        bench_expect(&bench, "\r\n");
        for (int attempt = 0; attempt < 3; attempt++) {
            bench_pass_ms(&bench, 300);
            if (attempt == 2) {
                bench_exchange(&bench, "AT+RESET\r\n", "+RESET\r\n");
                bench_pass_ms(&bench, 2000);
            }
            at_set(&bench);
            bench_exchange(&bench, "AT+BAND?\r\n", "+BAND=869525000\r\n");
            bench_exchange(&bench, "AT+PARAMETER?\r\n", cases[i].answer);
            bench_exchange(&bench, "AT+PARAMETER?\r\n", cases[i].answer); /* asked once more */
            if (attempt < 2) {
                bench_expect(&bench, "\r\n");
            }
        }
        struct rp_radio_event fault = bench_event(&bench, RP_RADIO_FAULT);
        assert_int_equal(fault.code, RP_E_INVALID);
        assert_string_equal(fault.text, cases[i].text);
    }
}

/* "+ERR=4": the guide's "unknown command". */
static void settings_that_cannot_be_read_back_are_left_unread(void **state)
{
    (void)state;
    struct bench bench;
    bench_open(&bench, "at");
    bench_begin(&bench);
    at_set(&bench);
    bench_exchange(&bench, "AT+BAND?\r\n", "+ERR=4\r\n");
    bench_exchange(&bench, "AT+PARAMETER?\r\n", "+PARAMETER=SF9\r\n");
    bench_exchange(&bench, "AT+NETWORKID?\r\n", "+NETWORKID=18\r\n");
    bench_exchange(&bench, "AT+CRFOP?\r\n", "+ERR=4\r\n");
    bench_event(&bench, RP_RADIO_READY);
    assert_int_equal(rp_radio_settings_said(&bench.radio)->known, 1u << RP_SETTING_SYNC);
}

static void chatter_is_passed_over_in_every_phase(void **state)
{
    (void)state;
    static const char chatter[] = "+IPR=115200\r\n+OK?\r\n+\r\nhello\r\n\r\n+ADDRESS=x\r\n";
    struct bench bench;
    bench_open(&bench, "at");
    bench_from_modem(&bench, chatter);
    bench_begin(&bench);
    bench_from_modem(&bench, chatter);
    at_band(&bench);
    bench_expect(&bench, "AT+ADDRESS?\r\n");
    bench_from_modem(&bench, chatter);
    bench_from_modem(&bench, "+ADDRESS=0\r\n");
    bench_exchange(&bench, "AT+NETWORKID?\r\n", "+NETWORKID=18\r\n");
    bench_exchange(&bench, "AT+PARAMETER=9,7,1,12\r\n", "+OK\r\n");
    bench_exchange(&bench, "AT+CRFOP=14\r\n", "+OK\r\n");
    at_read_back(&bench, "+PARAMETER=9,7,1,12\r\n", "+CRFOP=14\r\n");
    bench_event(&bench, RP_RADIO_READY);
    bench_from_modem(&bench, chatter);
    bench_from_modem(&bench, "+OK\r\n+ERR=4\r\n"); /* answers that nobody asked for */
    bench_no_event(&bench);
    assert_true(rp_radio_ready(&bench.radio));
    assert_int_equal(bench.radio.counters.rx_ignored, 4 * 4 + 2);
    bench_expect(&bench, "");
}

/* The module answers, but nobody takes what is written: 18 bytes a frame, 1200 in all. */
static void a_command_without_room_is_not_sent(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    for (int i = 0; i < 66; i++) {
        assert_int_equal(bench_send(&bench, "foo", 3), 0);
        bench_from_modem(&bench, "+OK\r\n");
        bench_pass_ms(&bench, 1000);
        bench_event(&bench, RP_RADIO_SENT);
    }
    assert_int_equal(bench_send(&bench, "foo", 3), 0);
    bench_expect_unsent(&bench, RP_E_BUSY, false);
    assert_int_equal(bench.radio.counters.out_dropped, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(three_refusals_in_a_row_start_the_module_up_again),
        cmocka_unit_test(an_unanswered_send_may_have_been_on_air),
        cmocka_unit_test(a_restart_applies_every_setting_again),
        cmocka_unit_test(a_restart_during_sending_leaves_the_frame_unknown),
        cmocka_unit_test(a_module_that_restarts_at_each_sending_becomes_a_fault),
        cmocka_unit_test(a_restart_in_the_middle_of_start_up_begins_it_again),
        cmocka_unit_test(a_silent_module_climbs_the_ladder),
        cmocka_unit_test(a_soft_reset_is_not_reported_as_a_restart),
        cmocka_unit_test(a_refused_setting_is_named_in_the_fault),
        cmocka_unit_test(a_module_that_starts_during_a_back_off_is_not_kept_waiting),
        cmocka_unit_test(a_quiet_module_is_probed),
        cmocka_unit_test(a_probe_without_answer_starts_the_module_up_again),
        cmocka_unit_test(a_setting_that_reads_back_otherwise_is_named),
        cmocka_unit_test(settings_that_cannot_be_read_back_are_left_unread),
        cmocka_unit_test(chatter_is_passed_over_in_every_phase),
        cmocka_unit_test(a_command_without_room_is_not_sent),
        cmocka_unit_test(an_overlong_line_is_skipped),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
