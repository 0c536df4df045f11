/* A radio on the bench: the test plays the modem, and the clock. Included after rp_test.h. */
#ifndef RP_TEST_RADIO_BENCH_H
#define RP_TEST_RADIO_BENCH_H

#include <stdbool.h>
#include <string.h>

#include "base/bytes.h"
#include "radio/radio.h"
#include "ridgepost/error.h"

struct bench {
    struct rp_radio radio;
    rp_time_us now_us;
};

/* SF9, 125 kHz, 4/5, preamble 12, 14 dBm: one that every family takes. */
static inline struct rp_radio_profile bench_profile(void)
{
    return (struct rp_radio_profile){.freq_hz = 869525000,
                                     .bandwidth_hz = 125000,
                                     .spreading_factor = 9,
                                     .coding_rate = 5,
                                     .sync_word = 0x12,
                                     .power_dbm = 14,
                                     .preamble_symbols = 12};
}

static inline void bench_init_with(struct bench *bench, const char *driver,
                                   const struct rp_radio_profile *profile)
{
    bench->now_us = 5000000;
    assert_int_equal(rp_radio_init(&bench->radio, driver, profile, NULL), 0);
}

static inline void bench_init(struct bench *bench, const char *driver)
{
    struct rp_radio_profile profile = bench_profile();
    /* Modems that carry text only need a net that does. */
    profile.text_armour = strncmp(driver, "at", 2) == 0;
    /* Transparent modules have channels only. */
    if (strncmp(driver, "uart", 4) == 0) {
        profile.freq_hz = strcmp(driver, "uart-e32") == 0 ? 433000000 : 868125000;
    }
    bench_init_with(bench, driver, &profile);
}

static inline void bench_open(struct bench *bench, const char *driver)
{
    bench_init(bench, driver);
    rp_radio_opened(&bench->radio, bench->now_us);
}

/* Lets time pass; ticks whenever the radio asked for it. */
static inline void bench_pass_ms(struct bench *bench, int64_t ms)
{
    rp_time_us end_us = bench->now_us + ms * 1000;
    while (rp_radio_wake(&bench->radio) <= end_us) {
        rp_time_us wake_us = rp_radio_wake(&bench->radio);
        bench->now_us = wake_us > bench->now_us ? wake_us : bench->now_us;
        rp_radio_tick(&bench->radio, bench->now_us);
    }
    bench->now_us = end_us;
}

static inline void bench_from_modem_bytes(struct bench *bench, const void *bytes, size_t len)
{
    rp_radio_receive(&bench->radio, rp_view_of(bytes, len), bench->now_us);
}

static inline void bench_from_modem(struct bench *bench, const char *text)
{
    bench_from_modem_bytes(bench, text, strlen(text));
}

/* Everything that waits for the port is exactly these bytes. */
static inline void bench_expect_bytes(struct bench *bench, const void *bytes, size_t len)
{
    uint8_t out[RP_RADIO_OUT_CAP + 1];
    size_t taken = rp_radio_take_output(&bench->radio, out, sizeof out - 1);
    out[taken] = '\0';
    if (taken != len || memcmp(out, bytes, len) != 0) {
        fail_msg("the radio wrote %zu bytes \"%s\", expected %zu bytes \"%.*s\"", taken,
                 (char *)out, len, (int)len, (const char *)bytes);
    }
}

static inline void bench_expect(struct bench *bench, const char *text)
{
    bench_expect_bytes(bench, text, strlen(text));
}

/* The radio writes `command`, the modem answers. */
static inline void bench_exchange(struct bench *bench, const char *command, const char *answer)
{
    bench_expect(bench, command);
    bench_from_modem(bench, answer);
}

/* What a dialogue begins with: a line end, and a pause in which an old answer may come. */
static inline void bench_begin(struct bench *bench)
{
    bench_expect(bench, "\r\n");
    bench_pass_ms(bench, 300);
}

static inline struct rp_radio_event bench_event(struct bench *bench, enum rp_radio_event_kind kind)
{
    struct rp_radio_event event;
    if (!rp_radio_next_event(&bench->radio, &event)) {
        fail_msg("no event, expected kind %d", (int)kind);
    }
    assert_int_equal(event.kind, kind);
    return event;
}

static inline void bench_no_event(struct bench *bench)
{
    struct rp_radio_event event;
    if (rp_radio_next_event(&bench->radio, &event)) {
        fail_msg("unexpected event of kind %d: %s", (int)event.kind, event.text);
    }
}

static inline void bench_expect_unsent(struct bench *bench, int code, bool maybe_aired)
{
    struct rp_radio_event event = bench_event(bench, RP_RADIO_UNSENT);
    assert_int_equal(event.code, code);
    assert_int_equal(event.maybe_aired, maybe_aired);
}

static inline void bench_expect_frame(struct bench *bench, const void *bytes, size_t len)
{
    struct rp_radio_event event = bench_event(bench, RP_RADIO_FRAME);
    assert_int_equal(event.frame_len, len);
    assert_memory_equal(event.frame, bytes, len);
}

static inline int bench_send(struct bench *bench, const void *bytes, size_t len)
{
    return rp_radio_send(&bench->radio, rp_view_of(bytes, len), bench->now_us);
}

#endif
