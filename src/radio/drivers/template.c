/* A driver to copy: an imaginary modem, in no table and in no program, built and run by its test.
 * Say here, as every driver does, which documents were read, and mark what is from memory.
 *
 *   frame to or from the modem   7e | length | bytes
 *   06                           the frame has left the antenna
 *   15                           busy: it was not sent
 *
 * What a driver must answer (DEVELOPERS.md, "Modem drivers"): its longest frame (222 bytes here),
 * whether it reports signal values (no), how the end of sending is known (the modem says so), what
 * "busy" means (a frame is on the air). A modem that speaks in lines copies at.c or hextext.c and
 * gets start-up, time-outs and the recovery ladder from dialogue.h instead.
 *
 * Rules: every wait has a deadline in radio->deadline_us; a frame in flight ends in exactly one
 * rp_radio_finish_sent or rp_radio_finish_unsent; no byte is trusted. */
#include <string.h>

#include "radio/driver.h"
#include "ridgepost/error.h"

enum {
    MARK = 0x7e,
    SENT = 0x06,
    BUSY = 0x15,
    BOOT_MS = 500,
    MARGIN_MS = 500,  /* over the airtime, for the modem's word */
    RETRY_MS = 10000, /* from a fault to the next attempt */
};

extern const struct rp_radio_driver rp_radio_template;

static void template_opened(struct rp_radio *radio, rp_time_us now_us)
{
    rp_radio_out_clear(radio);
    radio->line.len =
        0; /* bytes of a frame that is arriving; a family may have a state of its own */
    radio->deadline_us = now_us + rp_radio_ms(BOOT_MS);
}

static void template_send(struct rp_radio *radio, rp_time_us now_us)
{
    uint8_t bytes[2 + RP_FRAME_LEN_MAX] = {MARK, (uint8_t)radio->tx.len};
    size_t len = 2 + (size_t)radio->tx.len;
    memcpy(bytes + 2, radio->tx.frame, radio->tx.len);
    if (!rp_radio_out_bytes(radio, bytes, len)) {
        rp_radio_finish_unsent(radio, RP_E_BUSY, false); /* surely not on air */
        return;
    }
    radio->tx.on_wire = true;
    radio->deadline_us = now_us + rp_radio_serial_us(radio, len) +
                         rp_radio_airtime_us(radio, radio->tx.len) + rp_radio_ms(MARGIN_MS);
}

/* No word in time: perhaps it was on air. Told, counted, and tried again from the beginning. */
static void no_word(struct rp_radio *radio, rp_time_us now_us)
{
    radio->counters.timeouts++;
    rp_radio_finish_unsent(radio, RP_E_TIMEOUT, true);
    radio->up = false;
    rp_radio_push_fault(radio, RP_E_TIMEOUT, "the modem does not say that it has sent");
    rp_radio_wish(radio, RP_RADIO_WISH_LINE_RESET);
    radio->deadline_us = now_us + rp_radio_ms(RETRY_MS);
}

static void template_tick(struct rp_radio *radio, rp_time_us now_us)
{
    if (radio->tx.pending) {
        no_word(radio, now_us);
    } else if (!radio->up) {
        rp_radio_set_up(radio);
    }
}

static void take_word(struct rp_radio *radio, uint8_t word)
{
    if (word != SENT && word != BUSY) {
        radio->counters.rx_ignored++;
        return;
    }
    radio->deadline_us = RP_NEVER;
    if (word == SENT) {
        rp_radio_finish_sent(radio);
    } else {
        rp_radio_finish_unsent(radio, RP_E_BUSY, false);
    }
}

static void template_receive(struct rp_radio *radio, struct rp_view bytes, rp_time_us now_us)
{
    struct rp_radio_line *line = &radio->line;
    (void)now_us;
    for (size_t i = 0; i < bytes.len; i++) {
        uint8_t byte = bytes.bytes[i];
        if (line->len == 0 && byte != MARK) {
            if (radio->tx.pending) {
                take_word(radio, byte);
            } else {
                radio->counters.rx_ignored++;
            }
            continue;
        }
        line->bytes[line->len++] = byte; /* at most 2 + 255, which fits */
        if (line->len >= 2 && line->len == 2 + (size_t)line->bytes[1]) {
            rp_radio_push_bytes(radio, (struct rp_view){line->bytes + 2, line->len - 2});
            line->len = 0;
        }
    }
}

const struct rp_radio_driver rp_radio_template = {
    .name = "template",
    .summary = "an imaginary modem, to be copied",
    .baud = 115200,
    .frame_len_max = RP_FRAME_LEN_MAX,
    .reports_signal = false,
    .sent_proof = RP_SENT_BY_REPLY,
    .opened = template_opened,
    .receive = template_receive,
    .send = template_send,
    .tick = template_tick,
};
