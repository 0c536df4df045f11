/* KISS modems (rows "kiss", "kiss-crc" and "kiss-ack").
 *
 * Sources: M. Chepponis KK and P. Karn KA9Q, "The KISS TNC", ARRL 6th Computer Networking
 * Conference, 1987 (framing, commands); the acknowledgement extension 0x0C as multi-drop hosts use
 * it (the modem returns the type byte and the two id bytes after sending; some answer with 0x0E);
 * SMACK, 1992 (data type byte with 0x80 set, CRC-16 appended). The decoder treats a wrong escape as
 * Linux mkiss does: the byte is kept and the next one is still read as escaped.
 *
 * Sending with the SMACK check: always on row "kiss-crc"; on row "kiss" from the first good SMACK
 * frame that the modem has sent, which shows that it knows the form. (SMACK's own automatic mode
 * sends one frame in the new form to find out; it would be lost in a modem that does not.)
 *
 * KISS cannot set a LoRa modem's frequency, spreading factor or power: they are set in the modem
 * by its own means, and the profile here must say the same, since airtime is reckoned from it. A
 * KISS modem says nothing at start and nothing about restarts, so READY only means that it was
 * given time to start.
 *
 * Frames in the FlexNet CRC form (type 0x20) are counted as ignored: a modem sends them only to a
 * host that used them first, and this one never does. */
#include <string.h>

#include "radio/crc.h"
#include "radio/driver.h"
#include "ridgepost/error.h"

enum {
    FEND = 0xc0,
    FESC = 0xdb,
    TFEND = 0xdc,
    TFESC = 0xdd,

    TYPE_DATA = 0x00,
    TYPE_ACK = 0x0c,     /* command 12 on port 0 */
    TYPE_ACK_ALT = 0x0e, /* what one implementation answers instead */
    TYPE_SMACK = 0x80,

    BOOT_MS = 1000, /* a board reset by opening its port starts in this time; common practice */
    TXDELAY_MS = 10,
    TIMER_MARGIN_MS = 50, /* the modem's own handling of a frame; common practice, no source */
    ACK_MARGIN_MS = 2000, /* as above, and waiting for a free channel */
    ACK_MISSES_MAX = 3,   /* in a row, of a modem that has acknowledged before */
    EXTENSIONS_MAX = 3,

    CHECKED_MAX = 3 + RP_FRAME_LEN_MAX, /* type, frame, and two bytes of check or of id */
    ENCODED_MAX = 2 * CHECKED_MAX + 2,
};

/* Noise and a half frame of an earlier host end at the first FEND; some need more than one. Then:
 * TXDELAY 10 ms, P 255 (send when the channel is free: random waits are made above this layer),
 * SlotTime 10 ms, TXtail 0, half duplex. */
static const uint8_t start_bytes[] = {FEND, FEND, FEND, 0x01, 0x01, FEND, FEND, 0x02,
                                      0xff, FEND, FEND, 0x03, 0x01, FEND, FEND, 0x04,
                                      0x00, FEND, FEND, 0x05, 0x00, FEND};

static size_t put_escaped(uint8_t *out, uint8_t byte)
{
    if (byte == FEND || byte == FESC) {
        out[0] = FESC;
        out[1] = byte == FEND ? TFEND : TFESC;
        return 2;
    }
    out[0] = byte;
    return 1;
}

/* out holds ENCODED_MAX bytes. The type byte is escaped like any other: data for port 12 would
 * otherwise begin with a FEND. */
static size_t encode(uint8_t *out, const uint8_t *bytes, size_t count)
{
    size_t len = 0;
    out[len++] = FEND;
    for (size_t i = 0; i < count; i++) {
        len += put_escaped(out + len, bytes[i]);
    }
    out[len++] = FEND;
    return len;
}

static void kiss_opened(struct rp_radio *radio, rp_time_us now_us)
{
    struct rp_kiss_state *kiss = &radio->state.kiss;
    kiss->phase = RP_KISS_BOOT;
    kiss->len = 0;
    kiss->escaped = kiss->overflow = kiss->checked = false;
    radio->deadline_us = now_us + rp_radio_ms(BOOT_MS);
}

static void kiss_crc_opened(struct rp_radio *radio, rp_time_us now_us)
{
    kiss_opened(radio, now_us);
    radio->state.kiss.checked = true;
}

static void kiss_ack_opened(struct rp_radio *radio, rp_time_us now_us)
{
    radio->state.kiss.ack_wanted = radio->counters.ack_fallbacks == 0;
    kiss_opened(radio, now_us);
}

/* Type byte, what belongs before and after the frame, and the frame; out holds CHECKED_MAX. */
static size_t compose(struct rp_radio *radio, uint8_t *out)
{
    struct rp_kiss_state *kiss = &radio->state.kiss;
    size_t len = 0;
    out[len++] = kiss->ack_wanted ? TYPE_ACK : kiss->checked ? TYPE_SMACK : TYPE_DATA;
    if (kiss->ack_wanted) {
        kiss->ack_id++;
        out[len++] = (uint8_t)(kiss->ack_id >> 8);
        out[len++] = (uint8_t)kiss->ack_id;
    }
    memcpy(out + len, radio->tx.frame, radio->tx.len);
    len += radio->tx.len;
    if (out[0] == TYPE_SMACK) {
        uint16_t crc = rp_radio_crc16(out, len);
        out[len++] = (uint8_t)crc;
        out[len++] = (uint8_t)(crc >> 8);
    }
    return len;
}

static void kiss_send(struct rp_radio *radio, rp_time_us now_us)
{
    struct rp_kiss_state *kiss = &radio->state.kiss;
    uint8_t plain[CHECKED_MAX], encoded[ENCODED_MAX];
    size_t len = encode(encoded, plain, compose(radio, plain));
    if (!rp_radio_out_bytes(radio, encoded, len)) {
        rp_radio_finish_unsent(radio, RP_E_BUSY, false);
        return;
    }
    radio->tx.on_wire = true;
    kiss->extensions = 0;
    kiss->phase = kiss->ack_wanted ? RP_KISS_ACK : RP_KISS_AIR;
    radio->deadline_us =
        now_us + rp_radio_serial_us(radio, len) + rp_radio_airtime_us(radio, radio->tx.len) +
        rp_radio_ms(TXDELAY_MS + (kiss->ack_wanted ? ACK_MARGIN_MS : 0) + TIMER_MARGIN_MS);
}

static void to_idle(struct rp_radio *radio)
{
    radio->state.kiss.phase = RP_KISS_IDLE;
    radio->deadline_us = RP_NEVER;
}

/* No acknowledgement. A modem that never gave one does not know the command and has not sent the
 * frame; one that did may have missed this one. Either way nobody can tell about this frame. */
static void ack_missed(struct rp_radio *radio)
{
    struct rp_kiss_state *kiss = &radio->state.kiss;
    radio->counters.timeouts++;
    kiss->ack_misses++;
    if (!kiss->ack_proven || kiss->ack_misses >= ACK_MISSES_MAX) {
        kiss->ack_wanted = false;
        radio->counters.ack_fallbacks++;
    }
    rp_radio_out_clear(radio); /* what the port has not taken by now must not go out later */
    to_idle(radio);
    rp_radio_finish_unsent(radio, RP_E_TIMEOUT, true);
}

/* The airtime counts from the moment the port has taken the bytes: while it has not, wait on. */
static void air_over(struct rp_radio *radio, rp_time_us now_us)
{
    struct rp_kiss_state *kiss = &radio->state.kiss;
    if (radio->out.len == 0) {
        to_idle(radio);
        rp_radio_finish_sent(radio);
    } else if (kiss->extensions < EXTENSIONS_MAX) {
        kiss->extensions++;
        radio->deadline_us = now_us + rp_radio_serial_us(radio, radio->out.len) +
                             rp_radio_airtime_us(radio, radio->tx.len) +
                             rp_radio_ms(TIMER_MARGIN_MS);
    } else {
        rp_radio_out_clear(radio);
        radio->counters.timeouts++;
        to_idle(radio);
        rp_radio_finish_unsent(radio, RP_E_IO, true);
        rp_radio_wish(radio, RP_RADIO_WISH_REOPEN);
    }
}

static void kiss_tick(struct rp_radio *radio, rp_time_us now_us)
{
    switch (radio->state.kiss.phase) {
    case RP_KISS_BOOT:
        rp_radio_out_bytes(radio, start_bytes, sizeof start_bytes);
        to_idle(radio);
        rp_radio_set_up(radio);
        break;
    case RP_KISS_AIR:
        air_over(radio, now_us);
        break;
    case RP_KISS_ACK:
        ack_missed(radio);
        break;
    case RP_KISS_CLOSED:
    case RP_KISS_IDLE:
        break;
    }
}

static void take_ack(struct rp_radio *radio)
{
    struct rp_kiss_state *kiss = &radio->state.kiss;
    uint16_t id = (uint16_t)(kiss->bytes[1] << 8 | kiss->bytes[2]);
    if (kiss->phase != RP_KISS_ACK || id != kiss->ack_id) {
        radio->counters.rx_ignored++;
        return;
    }
    kiss->ack_proven = true;
    kiss->ack_misses = 0;
    to_idle(radio);
    rp_radio_finish_sent(radio);
}

static void take_smack(struct rp_radio *radio)
{
    const struct rp_kiss_state *kiss = &radio->state.kiss;
    /* Over type, data and the CRC itself the remainder is 0. */
    if (kiss->len < 4 || rp_radio_crc16(kiss->bytes, kiss->len) != 0) {
        radio->counters.rx_bad++;
        return;
    }
    radio->state.kiss.checked = true;
    rp_radio_push_bytes(radio, (struct rp_view){kiss->bytes + 1, kiss->len - 3});
}

/* A whole KISS frame lies in kiss->bytes. A modem acknowledges with three bytes and no more. */
static void take_frame(struct rp_radio *radio)
{
    const struct rp_kiss_state *kiss = &radio->state.kiss;
    if (kiss->overflow) {
        radio->counters.rx_bad++;
    } else if (kiss->bytes[0] == TYPE_DATA && kiss->len > 1) {
        rp_radio_push_bytes(radio, (struct rp_view){kiss->bytes + 1, kiss->len - 1});
    } else if ((kiss->bytes[0] == TYPE_ACK || kiss->bytes[0] == TYPE_ACK_ALT) && kiss->len == 3) {
        take_ack(radio);
    } else if (kiss->bytes[0] == TYPE_SMACK) {
        take_smack(radio);
    } else {
        radio->counters.rx_ignored++;
    }
}

static void take_byte(struct rp_radio *radio, uint8_t byte)
{
    struct rp_kiss_state *kiss = &radio->state.kiss;
    if (byte == FEND) {
        if (kiss->len > 0) {
            take_frame(radio);
        }
        kiss->len = 0;
        kiss->escaped = kiss->overflow = false;
        return;
    }
    if (byte == FESC) {
        kiss->escaped = true;
        return;
    }
    if (kiss->escaped && (byte == TFEND || byte == TFESC)) {
        byte = byte == TFEND ? FEND : FESC;
        kiss->escaped = false;
    }
    if (kiss->len < sizeof kiss->bytes) {
        kiss->bytes[kiss->len++] = byte;
    } else {
        kiss->overflow = true;
    }
}

static void kiss_receive(struct rp_radio *radio, struct rp_view bytes, rp_time_us now_us)
{
    (void)now_us;
    for (size_t i = 0; i < bytes.len; i++) {
        take_byte(radio, bytes.bytes[i]);
    }
}

const struct rp_radio_driver rp_radio_kiss = {
    .name = "kiss",
    .summary = "KISS modem; radio settings are made in the modem; the end of sending is timed",
    .baud = 115200,
    .frame_len_max = RP_FRAME_LEN_MAX,
    .sent_proof = RP_SENT_BY_TIMER,
    .opened = kiss_opened,
    .receive = kiss_receive,
    .send = kiss_send,
    .tick = kiss_tick,
};

const struct rp_radio_driver rp_radio_kiss_crc = {
    .name = "kiss-crc",
    .summary = "KISS modem that wants SMACK checksums; otherwise as \"kiss\"",
    .baud = 115200,
    .frame_len_max = RP_FRAME_LEN_MAX,
    .sent_proof = RP_SENT_BY_TIMER,
    .opened = kiss_crc_opened,
    .receive = kiss_receive,
    .send = kiss_send,
    .tick = kiss_tick,
};

const struct rp_radio_driver rp_radio_kiss_ack = {
    .name = "kiss-ack",
    .summary = "KISS modem that acknowledges what it has sent; falls back to \"kiss\" by itself",
    .baud = 115200,
    .frame_len_max = RP_FRAME_LEN_MAX,
    .sent_proof = RP_SENT_BY_REPLY,
    .opened = kiss_ack_opened,
    .receive = kiss_receive,
    .send = kiss_send,
    .tick = kiss_tick,
};
