#include "rp_test.h"

#include <stdio.h>

#include "hextext_bench.h"

/* Restarts, silence and refusals. Commands and answers: Microchip RN2483 Command Reference
 * DS40001784G. */

#define BANNER "RN2483 1.0.5 Oct 31 2018 15:06:52\r\n"

static void a_banner_at_any_time_applies_every_setting_again(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    bench_from_modem(&bench, "\xff\xfc" BANNER);
    bench_event(&bench, RP_RADIO_RESTARTED);
    assert_false(rp_radio_ready(&bench.radio));
    bench_begin(&bench);
    hextext_settings(&bench);
    bench_event(&bench, RP_RADIO_READY);
    assert_int_equal(bench.radio.counters.restarts, 1);
}

static void a_restart_leaves_the_frame_unknown_once_it_was_written(void **state)
{
    (void)state;
    for (int written = 0; written < 2; written++) {
        struct bench bench;
        hextext_start(&bench);
        assert_int_equal(bench_send(&bench, "x", 1), 0);
        bench_expect(&bench, "radio rxstop\r\n");
        if (written == 1) {
            bench_from_modem(&bench, "ok\r\n");
            bench_exchange(&bench, "radio tx 78\r\n", "ok\r\n");
        }
        bench_from_modem(&bench, BANNER);
        bench_expect_unsent(&bench, RP_E_IO, written == 1);
        bench_event(&bench, RP_RADIO_RESTARTED);
        bench_begin(&bench);
        hextext_settings(&bench);
        bench_event(&bench, RP_RADIO_READY);
    }
}

static void a_restart_keeps_the_frame_that_was_heard(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    bench_from_modem(&bench, "radio_rx  41\r\n");
    bench_from_modem(&bench, BANNER);
    bench_event(&bench, RP_RADIO_RESTARTED);
    bench_expect_frame(&bench, "A", 1);
}

static void a_closed_port_keeps_the_frame_that_was_heard(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    bench_from_modem(&bench, "radio_rx  41\r\n");
    rp_radio_closed(&bench.radio, bench.now_us);
    bench_expect_frame(&bench, "A", 1);
    bench_no_event(&bench);
}

/* "radio_tx_ok" is waited for over the airtime and one second. */
static void a_missing_end_of_sending_may_have_been_on_air(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    assert_int_equal(bench_send(&bench, "x", 1), 0);
    bench_exchange(&bench, "radio rxstop\r\n", "ok\r\n");
    bench_exchange(&bench, "radio tx 78\r\n", "ok\r\n");
    /* 1 byte at SF9, 125 kHz, preamble 12: 16.25 + 8 + 5 symbols of 4.096 ms: 119.808 ms. */
    bench_pass_ms(&bench, 1119);
    bench_no_event(&bench);
    bench_pass_ms(&bench, 1);
    bench_expect_unsent(&bench, RP_E_TIMEOUT, true);
    bench_begin(&bench);
    hextext_settings(&bench);
    bench_event(&bench, RP_RADIO_READY);
}

static void a_module_that_never_ends_sending_becomes_a_fault(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    for (int i = 0; i < 3; i++) {
        assert_int_equal(bench_send(&bench, "x", 1), 0);
        bench_exchange(&bench, "radio rxstop\r\n", "ok\r\n");
        bench_exchange(&bench, "radio tx 78\r\n", "ok\r\n");
        bench_pass_ms(&bench, 1120);
        bench_expect_unsent(&bench, RP_E_TIMEOUT, true);
        if (i < 2) {
            bench_begin(&bench);
            if (i == 1) {
                bench_exchange(&bench, "sys reset\r\n", BANNER);
                bench_pass_ms(&bench, 200);
            }
            hextext_settings(&bench);
            bench_event(&bench, RP_RADIO_READY);
        }
    }
    struct rp_radio_event fault = bench_event(&bench, RP_RADIO_FAULT);
    assert_int_equal(fault.code, RP_E_TIMEOUT);
    assert_string_equal(fault.text,
                        "no answer to \"radio tx\": check power, cable and the speed (57600)");
    assert_int_equal(bench_send(&bench, "x", 1), RP_E_STATE);
}

static const char *const commands[] = {
    "sys get ver",
    "mac pause",
    "radio rxstop",
    "radio set mod lora",
    "radio set freq 869525000",
    "radio set pwr 14",
    "radio set sf sf9",
    "radio set bw 125",
    "radio set cr 4/5",
    "radio set crc on",
    "radio set iqi off",
    "radio set prlen 12",
    "radio set sync 12",
    "radio set wdt 0",
    "radio get freq",
    "radio get pwr",
    "radio get sf",
    "radio get bw",
    "radio get cr",
    "radio get prlen",
    "radio get sync",
    "radio rx 0",
};
enum { COMMANDS = sizeof commands / sizeof commands[0], READ = 14, READS = 7 };

static const char *good_answer(int step)
{
    static const char *const said[READS] = {"869525000\r\n", "14\r\n", "sf9\r\n", "125\r\n",
                                            "4/5\r\n",       "12\r\n", "12\r\n"};
    if (step >= READ && step < READ + READS) {
        return said[step - READ];
    }
    return step == 0 ? BANNER : step == 1 ? "4294967245\r\n" : "ok\r\n";
}

/* Goes through start-up to a step and gives it no answer, or a refusal; three times. */
static struct rp_radio_event fault_at_step(int step, const char *answer)
{
    struct bench bench;
    bench_open(&bench, "hextext");
    for (int attempt = 0; attempt < 3; attempt++) {
        bench_begin(&bench);
        if (attempt == 2) {
            bench_expect(&bench, "sys reset\r\n");
            bench_pass_ms(&bench, 2000);
        }
        for (int i = 0; i <= step; i++) {
            char line[64];
            snprintf(line, sizeof line, "%s\r\n", commands[i]);
            bench_exchange(&bench, line, i < step ? good_answer(i) : answer);
            if (i == step && step > 0) { /* asked once more: a byte may have been lost */
                bench_pass_ms(&bench, answer[0] == '\0' ? 1000 : 0);
                bench_exchange(&bench, line, answer);
            }
        }
        bench_pass_ms(&bench, answer[0] == '\0' ? 1000 : 0);
    }
    assert_false(rp_radio_ready(&bench.radio));
    return bench_event(&bench, RP_RADIO_FAULT);
}

static void silence_at_each_step_is_a_fault(void **state)
{
    (void)state;
    for (int step = 0; step < COMMANDS; step++) {
        if (step >= READ && step < READ + READS) {
            continue; /* a question may be unknown */
        }
        char text[96];
        snprintf(text, sizeof text, "no answer to \"%s\": check power, cable and the speed (57600)",
                 commands[step]);
        struct rp_radio_event fault = fault_at_step(step, "");
        assert_int_equal(fault.code, RP_E_TIMEOUT);
        assert_string_equal(fault.text, text);
    }
}

static void a_refusal_at_each_step_is_named(void **state)
{
    (void)state;
    for (int step = 0; step < COMMANDS; step++) {
        if (step == 2 || (step >= READ && step < READ + READS)) {
            continue; /* refused when nothing is being received; a question may be unknown */
        }
        char text[96];
        snprintf(text, sizeof text, "the module answers \"invalid_param\" to \"%s\"",
                 commands[step]);
        struct rp_radio_event fault = fault_at_step(step, "invalid_param\r\n");
        assert_int_equal(fault.code, RP_E_INVALID);
        assert_string_equal(fault.text, text);
    }
    struct rp_radio_event fault = fault_at_step(COMMANDS - 1, "busy\r\n");
    assert_int_equal(fault.code, RP_E_BUSY);
    assert_string_equal(fault.text, "the module answers \"busy\" to \"radio rx 0\"");
}

/* A lost byte can leave another valid setting behind, acknowledged with "ok". */
static void a_setting_that_reads_back_otherwise_is_named(void **state)
{
    (void)state;
    static const struct {
        const char *answer, *text;
    } cases[READS] = {
        {"868100000\r\n", "the module says frequency_hz 868100000 where the net has 869525000"},
        {"-3\r\n", "the module says power_dbm -3 where the net has 14"},
        {"sf12\r\n", "the module says spreading_factor 12 where the net has 9"},
        {"250\r\n", "the module says bandwidth_hz 250000 where the net has 125000"},
        {"4/8\r\n", "the module says coding_rate 8 where the net has 5"},
        {"8\r\n", "the module says preamble_symbols 8 where the net has 12"},
        {"34\r\n", "the module says sync_word 52 where the net has 18"},
    };
    for (int i = 0; i < READS; i++) {
        struct rp_radio_event fault = fault_at_step(READ + i, cases[i].answer);
        assert_int_equal(fault.code, RP_E_INVALID);
        assert_string_equal(fault.text, cases[i].text);
    }
}

/* What is asked may be unknown to a firmware, or answered in a form of its own. */
static void settings_that_cannot_be_read_back_are_left_unread(void **state)
{
    (void)state;
    static const char *const answers[] = {"invalid_param\r\n", "busy\r\n", "what\r\n", NULL};
    for (size_t a = 0; a < 4; a++) {
        struct bench bench;
        bench_open(&bench, "hextext");
        bench_begin(&bench);
        for (int step = 0; step < COMMANDS; step++) {
            char line[64];
            snprintf(line, sizeof line, "%s\r\n", commands[step]);
            bool reads = step >= READ && step < READ + READS && answers[a] != NULL;
            bench_exchange(&bench, line, reads ? answers[a] : good_answer(step));
        }
        bench_event(&bench, RP_RADIO_READY);
        const struct rp_settings_said *said = rp_radio_settings_said(&bench.radio);
        assert_int_equal(said->known, answers[a] == NULL ? 0x7f : 0); /* all but text_armour */
    }
}

static void a_question_without_an_answer_is_passed_over(void **state)
{
    (void)state;
    struct bench bench;
    bench_open(&bench, "hextext");
    bench_begin(&bench);
    for (int step = 0; step < COMMANDS; step++) {
        char line[64];
        snprintf(line, sizeof line, "%s\r\n", commands[step]);
        bench_expect(&bench, line);
        if (step >= READ && step < READ + READS) {
            bench_pass_ms(&bench, 1000);
            bench_expect(&bench, line); /* asked once more */
            bench_pass_ms(&bench, 1000);
        } else {
            bench_from_modem(&bench, good_answer(step));
        }
    }
    bench_event(&bench, RP_RADIO_READY);
    assert_int_equal(rp_radio_settings_said(&bench.radio)->known, 0);
    assert_int_equal(bench.radio.counters.timeouts, 2 * READS);
}

/* Answer 0: from memory. */
static void a_stack_that_cannot_pause_is_a_fault(void **state)
{
    (void)state;
    struct rp_radio_event fault = fault_at_step(1, "0\r\n");
    assert_int_equal(fault.code, RP_E_BUSY);
}

static void chatter_during_start_up_is_passed_over(void **state)
{
    (void)state;
    struct bench bench;
    bench_open(&bench, "hextext");
    bench_from_modem(&bench, "invalid_param\r\n"); /* the answer to the empty line */
    bench_begin(&bench);
    bench_from_modem(&bench, "ok\r\nradio_err\r\nradio_rx  41\r\n\r\n\r\n");
    bench_expect_frame(&bench, "A", 1);
    hextext_settings(&bench);
    bench_event(&bench, RP_RADIO_READY);
}

static void a_module_busy_receiving_is_stopped_first(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    bench_from_modem(&bench, "radio_rx  41\r\n");
    bench_exchange(&bench, "radio rx 0\r\n", "busy\r\n");
    hextext_probed(&bench);
    bench_expect(&bench, "radio get snr\r\n");
}

static void a_module_busy_for_ever_climbs_the_ladder(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    bench_from_modem(&bench, "radio_err\r\n");
    for (int i = 0; i < 2; i++) {
        bench_exchange(&bench, "radio rx 0\r\n", "busy\r\n");
        bench_exchange(&bench, "radio rxstop\r\n", "busy\r\n");
    }
    bench_exchange(&bench, "radio rx 0\r\n", "busy\r\n");
    assert_false(rp_radio_ready(&bench.radio));
    bench_expect(&bench, "\r\n");
}

static void only_refusals_to_receive_in_a_row_count(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    for (int i = 0; i < 4; i++) {
        bench_from_modem(&bench, "radio_err\r\n");
        bench_exchange(&bench, "radio rx 0\r\n", "busy\r\n");
        hextext_probed(&bench);
        assert_true(rp_radio_ready(&bench.radio));
    }
    bench_expect(&bench, "");
}

/* Two failures days ago do not make the next one a fault: a probe was answered since. */
static void an_answered_probe_forgives_earlier_failures(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    for (int i = 0; i < 3; i++) {
        assert_int_equal(bench_send(&bench, "x", 1), 0);
        bench_expect(&bench, "radio rxstop\r\n");
        bench_pass_ms(&bench, 1000);
        bench_expect_unsent(&bench, RP_E_TIMEOUT, false);
        bench_begin(&bench);
        if (i == 1) {
            bench_exchange(&bench, "sys reset\r\n", BANNER);
            bench_pass_ms(&bench, 200);
        }
        hextext_settings(&bench);
        bench_event(&bench, RP_RADIO_READY);
        if (i == 1) {
            bench_pass_ms(&bench, 300000);
            hextext_probed(&bench);
        }
    }
    assert_int_equal(bench.radio.counters.faults, 0);
}

static void a_quiet_module_is_probed(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    bench_pass_ms(&bench, 299999);
    bench_expect(&bench, "");
    bench_pass_ms(&bench, 1);
    hextext_probed(&bench);
    bench_no_event(&bench);
    assert_true(rp_radio_ready(&bench.radio));
    bench_pass_ms(&bench, 300000);
    bench_expect(&bench, "radio rxstop\r\n");
    bench_pass_ms(&bench, 1000);
    assert_false(rp_radio_ready(&bench.radio));
    bench_expect(&bench, "\r\n");
}

/* Noise may stand before a frame's line, or may have eaten a part of it: then the module is deaf,
 * and is asked after a second instead of five minutes. */
static void noise_around_a_frame_does_not_leave_the_module_deaf(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    bench_from_modem(&bench, "\xff~zradio_rx  41\r\n");
    bench_exchange(&bench, "radio rx 0\r\n", "ok\r\n");
    bench_exchange(&bench, "radio get snr\r\n", "8\r\n");
    bench_exchange(&bench, "radio get rssi\r\n", "-97\r\n");
    bench_expect_frame(&bench, "A", 1);
    static const char *const rests[] = {"adio_rx  4142\r\n", "radio_rx  41", "o"};
    for (size_t i = 0; i < 3; i++) {
        bench_from_modem(&bench, rests[i]);
        bench_pass_ms(&bench, 999);
        bench_expect(&bench, "");
        bench_pass_ms(&bench, 1);
        hextext_probed(&bench);
        assert_true(rp_radio_ready(&bench.radio));
    }
    bench_no_event(&bench);
}

static void chatter_is_passed_over_while_up(void **state)
{
    (void)state;
    static const char chatter[] = "radio_rx\r\nokay\r\n42\r\nradio_tx_err\r\n";
    struct bench bench;
    hextext_start(&bench);
    bench_from_modem(&bench, chatter);
    assert_int_equal(bench_send(&bench, "x", 1), 0);
    bench_expect(&bench, "radio rxstop\r\n");
    bench_from_modem(&bench, chatter);
    bench_from_modem(&bench, "ok\r\n");
    bench_expect(&bench, "radio tx 78\r\n");
    bench_from_modem(&bench, chatter);
    bench_from_modem(&bench, "radio_err\r\n"); /* of the receiver that was stopped */
    bench_from_modem(&bench, "ok\r\n");
    bench_from_modem(&bench, chatter);
    bench_from_modem(&bench, "radio_tx_ok\r\n");
    bench_event(&bench, RP_RADIO_SENT);
    bench_expect(&bench, "radio rx 0\r\n");
    bench_from_modem(&bench, chatter);
    bench_from_modem(&bench, "ok\r\n");
    bench_expect(&bench, "");
    bench_no_event(&bench);
    assert_int_equal(bench.radio.counters.rx_ignored, 5 * 4 + 1);
    assert_true(rp_radio_ready(&bench.radio));
}

static void a_receiver_that_is_not_armed_climbs_the_ladder(void **state)
{
    (void)state;
    struct bench bench;
    hextext_start(&bench);
    bench_from_modem(&bench, "radio_rx  41\r\n");
    bench_exchange(&bench, "radio rx 0\r\n", "ok\r\n");
    bench_exchange(&bench, "radio get snr\r\n", "radio_err\r\n");
    bench_expect(&bench, "radio rx 0\r\n");
    bench_pass_ms(&bench, 1000);
    bench_expect_frame(&bench, "A", 1); /* what was heard is kept */
    assert_false(rp_radio_ready(&bench.radio));
    bench_begin(&bench);
    bench_expect(&bench, "sys get ver\r\n");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_banner_at_any_time_applies_every_setting_again),
        cmocka_unit_test(a_restart_leaves_the_frame_unknown_once_it_was_written),
        cmocka_unit_test(a_restart_keeps_the_frame_that_was_heard),
        cmocka_unit_test(a_closed_port_keeps_the_frame_that_was_heard),
        cmocka_unit_test(a_missing_end_of_sending_may_have_been_on_air),
        cmocka_unit_test(a_module_that_never_ends_sending_becomes_a_fault),
        cmocka_unit_test(silence_at_each_step_is_a_fault),
        cmocka_unit_test(a_refusal_at_each_step_is_named),
        cmocka_unit_test(a_setting_that_reads_back_otherwise_is_named),
        cmocka_unit_test(settings_that_cannot_be_read_back_are_left_unread),
        cmocka_unit_test(a_question_without_an_answer_is_passed_over),
        cmocka_unit_test(a_stack_that_cannot_pause_is_a_fault),
        cmocka_unit_test(chatter_during_start_up_is_passed_over),
        cmocka_unit_test(a_module_busy_receiving_is_stopped_first),
        cmocka_unit_test(a_module_busy_for_ever_climbs_the_ladder),
        cmocka_unit_test(noise_around_a_frame_does_not_leave_the_module_deaf),
        cmocka_unit_test(chatter_is_passed_over_while_up),
        cmocka_unit_test(a_receiver_that_is_not_armed_climbs_the_ladder),
        cmocka_unit_test(only_refusals_to_receive_in_a_row_count),
        cmocka_unit_test(an_answered_probe_forgives_earlier_failures),
        cmocka_unit_test(a_quiet_module_is_probed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
