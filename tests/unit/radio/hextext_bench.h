/* A hexadecimal-text module's start-up by the reference, played by the test. Included after
 * rp_test.h. */
#ifndef RP_TEST_RADIO_HEXTEXT_BENCH_H
#define RP_TEST_RADIO_HEXTEXT_BENCH_H

#include "bench.h"

static inline void hextext_settings(struct bench *bench)
{
    bench_exchange(bench, "sys get ver\r\n", "RN2483 1.0.5 Oct 31 2018 15:06:52\r\n");
    bench_exchange(bench, "mac pause\r\n", "4294967245\r\n");
    bench_exchange(bench, "radio rxstop\r\n", "ok\r\n");
    bench_exchange(bench, "radio set mod lora\r\n", "ok\r\n");
    bench_exchange(bench, "radio set freq 869525000\r\n", "ok\r\n");
    bench_exchange(bench, "radio set pwr 14\r\n", "ok\r\n");
    bench_exchange(bench, "radio set sf sf9\r\n", "ok\r\n");
    bench_exchange(bench, "radio set bw 125\r\n", "ok\r\n");
    bench_exchange(bench, "radio set cr 4/5\r\n", "ok\r\n");
    bench_exchange(bench, "radio set crc on\r\n", "ok\r\n");
    bench_exchange(bench, "radio set iqi off\r\n", "ok\r\n");
    bench_exchange(bench, "radio set prlen 12\r\n", "ok\r\n");
    bench_exchange(bench, "radio set sync 12\r\n", "ok\r\n");
    bench_exchange(bench, "radio set wdt 0\r\n", "ok\r\n");
    bench_exchange(bench, "radio get freq\r\n", "869525000\r\n");
    bench_exchange(bench, "radio get pwr\r\n", "14\r\n");
    bench_exchange(bench, "radio get sf\r\n", "sf9\r\n");
    bench_exchange(bench, "radio get bw\r\n", "125\r\n");
    bench_exchange(bench, "radio get cr\r\n", "4/5\r\n");
    bench_exchange(bench, "radio get prlen\r\n", "12\r\n");
    bench_exchange(bench, "radio get sync\r\n", "12\r\n");
    bench_exchange(bench, "radio rx 0\r\n", "ok\r\n");
}

/* A probe that is answered: reception ended and begun again. */
static inline void hextext_probed(struct bench *bench)
{
    bench_exchange(bench, "radio rxstop\r\n", "ok\r\n");
    bench_exchange(bench, "radio rx 0\r\n", "ok\r\n");
}

static inline void hextext_start(struct bench *bench)
{
    bench_open(bench, "hextext");
    bench_begin(bench);
    hextext_settings(bench);
    bench_event(bench, RP_RADIO_READY);
    bench_no_event(bench);
    assert_true(rp_radio_ready(&bench->radio));
}

#endif
