/* What the fuzz targets of the modem drivers share.
 *
 * The input is a list of operations, each an operation byte and an argument byte; see operate().
 * After each of them the bounds are checked. Then a well-behaved modem takes over: whatever came
 * before, the driver must become ready, send a frame and receive one, within bounded time. */
#ifndef RP_FUZZ_RADIO_FUZZ_H
#define RP_FUZZ_RADIO_FUZZ_H

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/bytes.h"
#include "radio/radio.h"

#define FUZZ_CHECK(condition)                                                                      \
    do {                                                                                           \
        if (!(condition)) {                                                                        \
            fprintf(stderr, "%s:%d: not true: %s\n", __FILE__, __LINE__, #condition);              \
            abort();                                                                               \
        }                                                                                          \
    } while (0)

/* The well-behaved modem: given what the driver wrote, writes what the modem answers. */
struct fuzz_modem {
    const char *driver;
    size_t (*answer)(const uint8_t *written, size_t len, uint8_t *out, size_t cap);
    const char *good_frame; /* bytes from the modem that hold the frame "foo" */
    size_t good_frame_len;
    bool mode_pin; /* the driver may ask for configuration mode */
};

struct fuzz_run {
    struct rp_radio radio;
    rp_time_us now_us;
    unsigned accepted, sent, unsent, frames;
};

enum { FUZZ_SECOND_US = 1000000 };

static inline void fuzz_check(const struct fuzz_run *run)
{
    const struct rp_radio *radio = &run->radio;
    FUZZ_CHECK(radio->out.len <= RP_RADIO_OUT_CAP);
    FUZZ_CHECK(radio->line.len <= RP_RADIO_LINE_CAP);
    FUZZ_CHECK(radio->events.count <= RP_RADIO_EVENTS_CAP);
    FUZZ_CHECK(radio->events.count ==
               radio->events.frames + radio->events.outcomes + radio->events.states);
    FUZZ_CHECK(radio->events.outcomes <= RP_RADIO_OUTCOME_EVENTS_MAX);
    FUZZ_CHECK(!rp_radio_ready(radio) || radio->opened);
    /* Something is always awaited while a frame is in flight. */
    FUZZ_CHECK(!radio->tx.pending || rp_radio_wake(radio) != RP_NEVER);
    /* No wait is longer than the probe interval and the longest back-off. */
    FUZZ_CHECK(rp_radio_wake(radio) == RP_NEVER ||
               rp_radio_wake(radio) <= run->now_us + (rp_time_us)301 * FUZZ_SECOND_US);
}

static inline void fuzz_read_events(struct fuzz_run *run)
{
    struct rp_radio_event event;
    while (rp_radio_next_event(&run->radio, &event)) {
        FUZZ_CHECK(event.kind != RP_RADIO_FRAME ||
                   (event.frame_len >= 1 && event.frame_len <= RP_FRAME_LEN_MAX));
        FUZZ_CHECK(event.kind != RP_RADIO_FAULT ||
                   (event.code < 0 && memchr(event.text, '\0', sizeof event.text) != NULL));
        run->sent += event.kind == RP_RADIO_SENT;
        run->unsent += event.kind == RP_RADIO_UNSENT;
        run->frames += event.kind == RP_RADIO_FRAME;
    }
}

static inline void fuzz_tick(struct fuzz_run *run)
{
    rp_radio_tick(&run->radio, run->now_us);
    FUZZ_CHECK(rp_radio_wake(&run->radio) > run->now_us);
}

static inline void fuzz_send(struct fuzz_run *run, size_t len)
{
    uint8_t frame[256];
    memset(frame, 0xc0, sizeof frame);
    if (rp_radio_send(&run->radio, rp_view_of(frame, len), run->now_us) == 0) {
        run->accepted++;
    }
}

/* Returns how many bytes of data the operation used beyond its two. */
static inline size_t fuzz_operate(struct fuzz_run *run, uint8_t operation, uint8_t argument,
                                  const uint8_t *data, size_t size)
{
    uint8_t out[256];
    size_t len = argument < size ? argument : size;
    switch (operation % 8) {
    case 0:
        run->now_us += (rp_time_us)argument * 10000;
        fuzz_tick(run);
        return 0;
    case 1:
        fuzz_send(run, argument);
        return 0;
    case 2:
        rp_radio_take_output(&run->radio, out, argument);
        return 0;
    case 3:
        if (argument < 8) {
            rp_radio_closed(&run->radio, run->now_us);
        } else if (argument < 64) {
            rp_radio_opened(&run->radio, run->now_us);
        } else if (argument < 72) {
            rp_radio_take_wish(&run->radio);
        } else {
            fuzz_read_events(run);
        }
        return 0;
    case 4: /* to the next deadline */
        if (rp_radio_wake(&run->radio) != RP_NEVER && rp_radio_wake(&run->radio) > run->now_us) {
            run->now_us = rp_radio_wake(&run->radio);
        }
        fuzz_tick(run);
        return 0;
    default:
        rp_radio_receive(&run->radio, rp_view_of(data, len), run->now_us);
        return len;
    }
}

/* One exchange with the well-behaved modem, or time to the next deadline. */
static inline void fuzz_converse(struct fuzz_run *run, const struct fuzz_modem *modem)
{
    uint8_t written[RP_RADIO_OUT_CAP], answer[256];
    size_t len = rp_radio_take_output(&run->radio, written, sizeof written);
    size_t answer_len = modem->answer(written, len, answer, sizeof answer);
    if (answer_len > 0) {
        rp_radio_receive(&run->radio, rp_view_of(answer, answer_len), run->now_us);
    } else if (rp_radio_wake(&run->radio) != RP_NEVER) {
        if (rp_radio_wake(&run->radio) > run->now_us) {
            run->now_us = rp_radio_wake(&run->radio);
        }
        fuzz_tick(run);
    }
    fuzz_check(run);
    fuzz_read_events(run);
}

/* Three sendings may end badly because of what the input left behind; the fourth may not. */
static inline void fuzz_recover(struct fuzz_run *run, const struct fuzz_modem *modem)
{
    if (!run->radio.opened) {
        rp_radio_opened(&run->radio, run->now_us);
    }
    unsigned sent = run->sent;
    rp_time_us end_us = run->now_us + (rp_time_us)400 * FUZZ_SECOND_US;
    for (int tries = 0; tries < 4 && run->sent == sent; tries++) {
        for (int i = 0; i < 400 && !rp_radio_ready(&run->radio); i++) {
            fuzz_converse(run, modem);
        }
        FUZZ_CHECK(rp_radio_ready(&run->radio));
        fuzz_send(run, 9);
        for (int i = 0; i < 40 && run->radio.tx.pending; i++) {
            fuzz_converse(run, modem);
        }
    }
    FUZZ_CHECK(run->sent > sent);
    FUZZ_CHECK(run->now_us < end_us);
    unsigned frames = run->frames;
    for (int tries = 0; tries < 2 && run->frames == frames; tries++) {
        run->now_us += FUZZ_SECOND_US;
        rp_radio_receive(&run->radio, rp_view_of(modem->good_frame, modem->good_frame_len),
                         run->now_us);
        for (int i = 0; i < 4; i++) {
            fuzz_converse(run, modem);
        }
    }
    FUZZ_CHECK(run->frames > frames);
}

static inline int fuzz_radio(const struct fuzz_modem *modem, const uint8_t *data, size_t size)
{
    static struct fuzz_run run;
    bool transparent = strncmp(modem->driver, "uart", 4) == 0;
    const struct rp_radio_profile profile = {.freq_hz = transparent ? 868125000 : 869525000,
                                             .bandwidth_hz = 125000,
                                             .spreading_factor = 9,
                                             .coding_rate = 5,
                                             .sync_word = 0x12,
                                             .power_dbm = 14,
                                             .preamble_symbols = 12,
                                             .text_armour = strncmp(modem->driver, "at", 2) == 0};
    memset(&run, 0, sizeof run);
    FUZZ_CHECK(rp_radio_init(&run.radio, modem->driver, &profile, NULL) == 0);
    rp_radio_set_mode_pin(&run.radio, modem->mode_pin);
    run.now_us = FUZZ_SECOND_US;
    rp_radio_opened(&run.radio, run.now_us);
    for (size_t at = 0; at + 2 <= size;) {
        at += 2;
        at += fuzz_operate(&run, data[at - 2], data[at - 1], data + at, size - at);
        fuzz_check(&run);
    }
    fuzz_read_events(&run);
    fuzz_recover(&run, modem);
    rp_radio_closed(&run.radio, run.now_us);
    fuzz_read_events(&run);
    FUZZ_CHECK(run.accepted == run.sent + run.unsent);
    return 0;
}

/* Copies a text answer to a modem's output. */
static inline size_t fuzz_say(uint8_t *out, size_t cap, const char *text)
{
    size_t len = strlen(text);
    FUZZ_CHECK(len <= cap);
    memcpy(out, text, len);
    return len;
}

/* The last line that was written, without its line end; a copy, with NUL. */
static inline void fuzz_last_line(const uint8_t *written, size_t len, char *out, size_t cap)
{
    size_t end = len;
    while (end > 0 && (written[end - 1] == '\r' || written[end - 1] == '\n')) {
        end--;
    }
    size_t start = end;
    while (start > 0 && written[start - 1] != '\n') {
        start--;
    }
    size_t line_len = end - start < cap - 1 ? end - start : cap - 1;
    memcpy(out, written + start, line_len);
    out[line_len] = '\0';
}

#endif
