#include "rp_test.h"

#include <string.h>

#include "at_bench.h"

/* The rungs of the recovery ladder that need the port's owner, and the words that show it. The
 * speeds are those of the families' references; the order of trying them is ours. */

/* No answer at all: three attempts, 1.3, 1.3 and 3.3 s. */
static void fail_three_times(struct bench *bench)
{
    bench_pass_ms(bench, 5900);
    uint8_t out[RP_RADIO_OUT_CAP];
    rp_radio_take_output(&bench->radio, out, sizeof out);
    bench_event(bench, RP_RADIO_FAULT);
}

static void expect_wish(struct bench *bench, enum rp_radio_wish wish)
{
    assert_int_equal(rp_radio_take_wish(&bench->radio), wish);
}

static void reopen(struct bench *bench, uint32_t baud)
{
    expect_wish(bench, RP_RADIO_WISH_REOPEN);
    assert_int_equal(rp_radio_baud(&bench->radio), baud);
    rp_radio_closed(&bench->radio, bench->now_us);
    rp_radio_opened(&bench->radio, bench->now_us);
}

static void a_silent_module_is_reset_and_looked_for_at_other_speeds(void **state)
{
    (void)state;
    struct bench bench;
    bench_open(&bench, "at");
    static const struct {
        int backoff_ms;
        uint32_t baud;
    } rows[] = {{5000, 57600},  {10000, 9600},   {20000, 38400},
                {40000, 19200}, {60000, 115200}, {60000, 57600}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        expect_wish(&bench, RP_RADIO_WISH_NONE);
        fail_three_times(&bench);
        assert_string_equal(rp_radio_ladder(&bench.radio), "back-off");
        expect_wish(&bench, RP_RADIO_WISH_LINE_RESET);
        expect_wish(&bench, RP_RADIO_WISH_NONE);
        bench_pass_ms(&bench, rows[i].backoff_ms);
        reopen(&bench, rows[i].baud);
        assert_string_equal(rp_radio_ladder(&bench.radio), "resync");
    }
    assert_int_equal(bench.radio.counters.line_resets, 6);
    assert_int_equal(bench.radio.counters.reopens, 6);
}

/* A module that has answered is looked for at its own speed every other time. */
static void a_known_speed_is_tried_every_other_time(void **state)
{
    (void)state;
    struct bench bench;
    at_start(&bench);
    assert_string_equal(rp_radio_ladder(&bench.radio), "well");
    bench_pass_ms(&bench, 300000 + 1000); /* the probe has no answer */
    uint8_t out[RP_RADIO_OUT_CAP];
    rp_radio_take_output(&bench.radio, out, sizeof out);
    bench_pass_ms(&bench, 1300 + 3300);
    bench_event(&bench, RP_RADIO_FAULT);
    expect_wish(&bench, RP_RADIO_WISH_LINE_RESET);
    bench_pass_ms(&bench, 5000);
    static const uint32_t bauds[] = {57600, 115200, 9600, 115200, 38400, 115200};
    static const int backoffs_ms[] = {10000, 20000, 40000, 60000, 60000, 60000};
    for (size_t i = 0; i < 6; i++) {
        reopen(&bench, bauds[i]);
        fail_three_times(&bench);
        expect_wish(&bench, RP_RADIO_WISH_LINE_RESET);
        bench_pass_ms(&bench, backoffs_ms[i]);
    }
}

/* DS40001784G, and users of the module: after a break it waits for 0x55 at the new speed. */
static void a_hextext_module_gets_its_character_after_a_break(void **state)
{
    (void)state;
    struct bench bench;
    bench_open(&bench, "hextext");
    fail_three_times(&bench);
    expect_wish(&bench, RP_RADIO_WISH_LINE_RESET);
    bench_pass_ms(&bench, 5000);
    expect_wish(&bench, RP_RADIO_WISH_REOPEN);
    bench_expect(&bench, "U\r\n");
}

/* An owner that fulfils nothing, as a test or a TCP line: the ladder goes on without it. */
static void a_ladder_without_an_owner_goes_on(void **state)
{
    (void)state;
    struct bench bench;
    bench_open(&bench, "at");
    fail_three_times(&bench);
    bench_pass_ms(&bench, 5000);
    bench_begin(&bench);
    at_settings(&bench);
    bench_event(&bench, RP_RADIO_READY);
    assert_int_equal(bench.radio.counters.reopens, 0);
}

/* A lost byte may have left another valid setting behind. Three probes at five minutes each are
 * answered, but nothing was heard: all settings are made again. One frame puts that off. */
static void settings_are_made_again_after_a_long_silence(void **state)
{
    (void)state;
    for (int heard = 0; heard < 2; heard++) {
        struct bench bench;
        at_start(&bench);
        for (int i = 0; i < 3; i++) {
            bench_pass_ms(&bench, 300000);
            bench_exchange(&bench, "AT\r\n", "+OK\r\n");
            if (heard == 1 && i == 0) {
                bench_from_modem(&bench, "+RCV=0,4,Zm9v,-50,9\r\n");
                bench_expect_frame(&bench, "foo", 3);
            }
        }
        if (heard == 1) {
            bench_expect(&bench, "");
            assert_true(rp_radio_ready(&bench.radio));
            continue;
        }
        bench_begin(&bench);
        at_settings(&bench);
        bench_event(&bench, RP_RADIO_READY);
        assert_int_equal(bench.radio.counters.refreshes, 1);
    }
}

/* A port that closes takes open wishes with it. */
static void a_closed_port_has_no_wishes(void **state)
{
    (void)state;
    struct bench bench;
    bench_open(&bench, "at");
    fail_three_times(&bench);
    rp_radio_closed(&bench.radio, bench.now_us);
    expect_wish(&bench, RP_RADIO_WISH_NONE);
    assert_string_equal(rp_radio_ladder(&bench.radio), "closed");
}

static void the_operator_may_name_the_speed(void **state)
{
    (void)state;
    struct bench bench;
    bench_init(&bench, "at");
    assert_int_equal(rp_radio_baud(&bench.radio), 115200);
    rp_radio_set_baud(&bench.radio, 9600);
    assert_int_equal(rp_radio_baud(&bench.radio), 9600);
    rp_radio_set_baud(&bench.radio, 0);
    assert_int_equal(rp_radio_baud(&bench.radio), 115200);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_silent_module_is_reset_and_looked_for_at_other_speeds),
        cmocka_unit_test(a_known_speed_is_tried_every_other_time),
        cmocka_unit_test(a_hextext_module_gets_its_character_after_a_break),
        cmocka_unit_test(a_ladder_without_an_owner_goes_on),
        cmocka_unit_test(settings_are_made_again_after_a_long_silence),
        cmocka_unit_test(a_closed_port_has_no_wishes),
        cmocka_unit_test(the_operator_may_name_the_speed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
