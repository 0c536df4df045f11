/* An AT module's start-up by the guide, played by the test. Included after rp_test.h. */
#ifndef RP_TEST_RADIO_AT_BENCH_H
#define RP_TEST_RADIO_AT_BENCH_H

#include "bench.h"

/* What is read back from 869525000, 12 symbols, network 18. */
static inline void at_read_back(struct bench *bench, const char *parameter, const char *power)
{
    bench_exchange(bench, "AT+BAND?\r\n", "+BAND=869525000\r\n");
    bench_exchange(bench, "AT+PARAMETER?\r\n", parameter);
    bench_exchange(bench, "AT+NETWORKID?\r\n", "+NETWORKID=18\r\n");
    bench_exchange(bench, "AT+CRFOP?\r\n", power);
}

/* The settings up to the first that a profile may change. */
static inline void at_band(struct bench *bench)
{
    bench_exchange(bench, "AT\r\n", "+OK\r\n");
    bench_exchange(bench, "AT+MODE=0\r\n", "+OK\r\n");
    bench_exchange(bench, "AT+BAND=869525000\r\n", "+OK\r\n");
}

static inline void at_set(struct bench *bench)
{
    at_band(bench);
    bench_exchange(bench, "AT+ADDRESS?\r\n", "+ADDRESS=0\r\n");
    bench_exchange(bench, "AT+NETWORKID?\r\n", "+NETWORKID=18\r\n");
    bench_exchange(bench, "AT+PARAMETER=9,7,1,12\r\n", "+OK\r\n");
    bench_exchange(bench, "AT+CRFOP=14\r\n", "+OK\r\n");
}

static inline void at_settings(struct bench *bench)
{
    at_set(bench);
    at_read_back(bench, "+PARAMETER=9,7,1,12\r\n", "+CRFOP=14\r\n");
}

static inline void at_start(struct bench *bench)
{
    bench_open(bench, "at");
    bench_begin(bench);
    at_settings(bench);
    bench_event(bench, RP_RADIO_READY);
    bench_no_event(bench);
    assert_true(rp_radio_ready(&bench->radio));
}

#endif
