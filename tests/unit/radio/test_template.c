/* The driver that is there to be copied works: its imaginary modem is described in template.c. */
#include "rp_test.h"

#include "bench.h"
#include "radio/driver.h"

extern const struct rp_radio_driver rp_radio_template;

static void start(struct bench *bench)
{
    bench_init(bench, "kiss");
    bench->radio.driver = &rp_radio_template;
    rp_radio_opened(&bench->radio, bench->now_us);
    bench_pass_ms(bench, 500);
    bench_event(bench, RP_RADIO_READY);
}

static void frames_go_both_ways(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench);
    assert_int_equal(bench_send(&bench, "hi", 2), 0);
    bench_expect_bytes(&bench, "\x7e\x02hi", 4);
    bench_from_modem_bytes(&bench, "\x06", 1);
    bench_event(&bench, RP_RADIO_SENT);
    bench_from_modem_bytes(&bench, "zz\x7e\x03", 4);
    bench_from_modem_bytes(&bench, "foo", 3);
    bench_expect_frame(&bench, "foo", 3);
    assert_int_equal(bench.radio.counters.rx_ignored, 2);
}

static void a_refusal_and_a_missing_word_end_the_frame(void **state)
{
    (void)state;
    struct bench bench;
    start(&bench);
    assert_int_equal(bench_send(&bench, "hi", 2), 0);
    bench_from_modem_bytes(&bench, "\x15", 1);
    bench_expect_unsent(&bench, RP_E_BUSY, false);
    assert_int_equal(bench_send(&bench, "hi", 2), 0);
    bench_pass_ms(&bench, 1000);
    bench_expect_unsent(&bench, RP_E_TIMEOUT, true);
    assert_int_equal(bench_event(&bench, RP_RADIO_FAULT).code, RP_E_TIMEOUT);
    assert_int_equal(rp_radio_take_wish(&bench.radio), RP_RADIO_WISH_LINE_RESET);
    bench_pass_ms(&bench, 10000);
    bench_event(&bench, RP_RADIO_READY);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(frames_go_both_ways),
        cmocka_unit_test(a_refusal_and_a_missing_word_end_the_frame),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
