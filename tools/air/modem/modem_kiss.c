/* A KISS modem: Chepponis and Karn, "The KISS TNC", ARRL 6th Computer Networking Conference, 1987.
 * The acknowledged form adds the ACKMODE command 0x0C: two bytes of id before the payload, answered
 * with the id once the frame has been sent.
 *
 * Only port 0 exists. The 16-bit checks that some hosts add (SMACK, FlexNet) show up as other
 * ports and are ignored, as by a modem that does not know them. With the option smack it knows the
 * first (SMACK, 1992: bit 7 of the data type byte, CRC-16 with 8005 reflected, low byte first), and
 * sends it from the first such frame on. */
#include <string.h>

#include "air/modem/modem.h"

enum { FEND = 0xc0, FESC = 0xdb, TFEND = 0xdc, TFESC = 0xdd };

enum {
    CMD_DATA = 0,
    CMD_TX_DELAY = 1,
    CMD_PERSISTENCE = 2,
    CMD_SLOT_TIME = 3,
    CMD_TX_TAIL = 4,
    CMD_FULL_DUPLEX = 5,
    CMD_SET_HARDWARE = 6,
    CMD_ACK_DATA = 12,
    CMD_SMACK = 0x80,
    CMD_RETURN = 0xff,
};

#define UNIT_US 10000 /* TXDELAY, SlotTime and TXtail count 10 ms (KISS paper, section 4) */

static void power(struct air_modem *modem, rp_time_us now_us)
{
    (void)now_us;
    /* Start values of the KISS paper: TXDELAY 50 unless configured, P 63, SlotTime 10. */
    modem->as.kiss =
        (struct air_kiss){.tx_delay = modem->options.tx_delay, .persistence = 63, .slot_time = 10};
    modem->settings = modem->start;
    modem->hearing = modem->start;
    modem->listening = true;
}

static void put_escaped(struct air_modem *modem, const uint8_t *bytes, size_t len)
{
    for (size_t i = 0; i < len; i++) {
        if (bytes[i] == FEND) {
            air_out_bytes(modem, (uint8_t[]){FESC, TFEND}, 2);
        } else if (bytes[i] == FESC) {
            air_out_bytes(modem, (uint8_t[]){FESC, TFESC}, 2);
        } else {
            air_out_bytes(modem, &bytes[i], 1);
        }
    }
}

static void put_frame(struct air_modem *modem, uint8_t type, const uint8_t *bytes, size_t len)
{
    const uint8_t fend = FEND;
    air_out_bytes(modem, &fend, 1);
    put_escaped(modem, &type, 1);
    put_escaped(modem, bytes, len);
    air_out_bytes(modem, &fend, 1);
}

/* CRC-16 of SMACK, by the polynomial: shift in from the right, divide. */
static unsigned smack_crc(const uint8_t *bytes, size_t len)
{
    unsigned crc = 0;
    for (size_t i = 0; i < 8 * len; i++) {
        unsigned bit = (unsigned)bytes[i / 8] >> (i % 8) & 1;
        bool divides = ((crc ^ bit) & 1) != 0;
        crc = (crc >> 1) ^ (divides ? 0xa001u : 0u);
    }
    return crc;
}

static void put_checked(struct air_modem *modem, const uint8_t *bytes, size_t len)
{
    uint8_t whole[AIR_PAYLOAD_MAX + 3] = {CMD_SMACK};
    memcpy(whole + 1, bytes, len);
    unsigned crc = smack_crc(whole, len + 1);
    whole[len + 1] = (uint8_t)crc;
    whole[len + 2] = (uint8_t)(crc >> 8);
    put_frame(modem, CMD_SMACK, whole + 1, len + 2);
}

static void enqueue(struct air_modem *modem, const uint8_t *id, const uint8_t *bytes, size_t len,
                    rp_time_us now_us)
{
    struct air_kiss *kiss = &modem->as.kiss;
    if (len == 0 || len > AIR_PAYLOAD_MAX) {
        modem->note = "dropped a frame of an impossible length";
        return;
    }
    if (kiss->count == AIR_KISS_QUEUE) {
        modem->note = "dropped a frame, the queue is full";
        return;
    }
    struct air_kiss_entry *e = &kiss->queue[(kiss->first + kiss->count) % AIR_KISS_QUEUE];
    kiss->count++;
    e->len = (uint16_t)len;
    e->wants_ack = id != NULL;
    if (id != NULL) {
        memcpy(e->id, id, 2);
    }
    memcpy(e->bytes, bytes, len);
    if (kiss->state == AIR_KISS_IDLE) {
        kiss->state = AIR_KISS_WAITING;
        modem->wake_us = now_us;
    }
}

static void set_parameter(struct air_kiss *kiss, uint8_t command, uint8_t value)
{
    switch (command) {
    case CMD_TX_DELAY:
        kiss->tx_delay = value;
        break;
    case CMD_PERSISTENCE:
        kiss->persistence = value;
        break;
    case CMD_SLOT_TIME:
        kiss->slot_time = value;
        break;
    case CMD_TX_TAIL:
        kiss->tx_tail = value;
        break;
    default:
        kiss->full_duplex = value != 0;
        break;
    }
}

static void on_frame(struct air_modem *modem, rp_time_us now_us)
{
    struct air_kiss *kiss = &modem->as.kiss;
    uint8_t type = kiss->frame[0];
    const uint8_t *rest = kiss->frame + 1;
    size_t len = (size_t)kiss->len - 1;
    if (type == CMD_RETURN) {
        modem->note = "asked to leave KISS, which is all it can do";
    } else if (type == CMD_DATA) {
        enqueue(modem, NULL, rest, len, now_us);
    } else if (type == CMD_SMACK && modem->options.smack && len >= 3) {
        if (smack_crc(kiss->frame, kiss->len) != 0) {
            modem->note = "dropped a frame whose check is wrong";
            return;
        }
        kiss->checked = true;
        enqueue(modem, NULL, rest, len - 2, now_us);
    } else if (type == CMD_ACK_DATA && modem->options.ack_type != 0 && len >= 2) {
        enqueue(modem, rest, rest + 2, len - 2, now_us);
    } else if (type >= CMD_TX_DELAY && type <= CMD_FULL_DUPLEX && len >= 1) {
        set_parameter(kiss, type, rest[0]);
    } else if (type == CMD_SET_HARDWARE) {
        modem->note = "SetHardware accepted, it means nothing here";
    } else {
        modem->note = "ignored an invalid KISS command";
    }
}

static void append(struct air_kiss *kiss, uint8_t byte)
{
    if (kiss->len < sizeof kiss->frame) {
        kiss->frame[kiss->len++] = byte;
    } else {
        kiss->overlong = true;
    }
}

static void end_frame(struct air_modem *modem, rp_time_us now_us)
{
    struct air_kiss *kiss = &modem->as.kiss;
    if (kiss->in_frame && kiss->overlong) {
        modem->note = "dropped a frame that is too long";
    } else if (kiss->in_frame && kiss->len > 0) {
        on_frame(modem, now_us);
    }
    /* A FEND also opens the next frame, so one between two frames is enough. */
    kiss->in_frame = true;
    kiss->escaped = false;
    kiss->overlong = false;
    kiss->len = 0;
}

static void host_byte(struct air_modem *modem, uint8_t byte, rp_time_us now_us)
{
    struct air_kiss *kiss = &modem->as.kiss;
    if (byte == FEND) {
        end_frame(modem, now_us);
        return;
    }
    if (!kiss->in_frame) {
        return;
    }
    if (kiss->escaped) {
        /* Any other byte after FESC is an error: no action, and assembly goes on (KISS paper). */
        kiss->escaped = false;
        if (byte == TFEND || byte == TFESC) {
            append(kiss, byte == TFEND ? FEND : FESC);
        }
    } else if (byte == FESC) {
        kiss->escaped = true;
    } else {
        append(kiss, byte);
    }
}

static void heard(struct air_modem *modem, const struct air_frame *frame, int16_t rssi_dbm,
                  int16_t snr_db, rp_time_us now_us)
{
    (void)rssi_dbm;
    (void)snr_db;
    (void)now_us;
    if (modem->as.kiss.checked) {
        put_checked(modem, frame->bytes, frame->len);
    } else {
        put_frame(modem, CMD_DATA, frame->bytes, frame->len);
    }
}

static void next_frame(struct air_modem *modem, rp_time_us now_us)
{
    struct air_kiss *kiss = &modem->as.kiss;
    kiss->first = (kiss->first + 1) % AIR_KISS_QUEUE;
    kiss->count--;
    kiss->state = kiss->count > 0 ? AIR_KISS_WAITING : AIR_KISS_IDLE;
    if (kiss->count > 0) {
        modem->wake_us = now_us + (int64_t)kiss->tx_tail * UNIT_US;
    }
}

static void sent(struct air_modem *modem, rp_time_us now_us)
{
    struct air_kiss *kiss = &modem->as.kiss;
    const struct air_kiss_entry *e = &kiss->queue[kiss->first];
    if (e->wants_ack) {
        put_frame(modem, modem->options.ack_type, e->id, 2);
    }
    next_frame(modem, now_us);
}

static void transmit(struct air_modem *modem, rp_time_us now_us)
{
    struct air_kiss *kiss = &modem->as.kiss;
    const struct air_kiss_entry *e = &kiss->queue[kiss->first];
    if (modem->fail_sends > 0) {
        modem->fail_sends--;
        modem->note = "lost a frame inside the modem, as told";
        next_frame(modem, now_us);
        return;
    }
    modem->frame = (struct air_frame){.len = e->len};
    memcpy(modem->frame.bytes, e->bytes, e->len);
    kiss->state = AIR_KISS_SENDING;
    air_modem_start_sending(modem);
}

static void tick(struct air_modem *modem, rp_time_us now_us, bool carrier,
                 rp_time_us locked_until_us)
{
    (void)locked_until_us;
    struct air_kiss *kiss = &modem->as.kiss;
    if (modem->stuck) {
        modem->note = "stuck, keeps its frames";
    } else if (kiss->state == AIR_KISS_KEYED) {
        transmit(modem, now_us);
    } else if (kiss->state == AIR_KISS_WAITING) {
        /* KISS paper, section 6: wait for a clear channel, draw a byte, send when it is at most P,
         * else wait a slot and try again. A slot of 0 still takes 1 ms here. */
        bool direct = kiss->full_duplex || !modem->options.csma;
        if (direct || (!carrier && rp_rng_below(&modem->rng, 256) <= kiss->persistence)) {
            kiss->state = AIR_KISS_KEYED;
            modem->wake_us = now_us + (int64_t)kiss->tx_delay * UNIT_US;
        } else {
            modem->wake_us = now_us + (kiss->slot_time > 0 ? kiss->slot_time * UNIT_US : 1000);
        }
    }
}

#define KISS_OPS(family_name, ack)                                                                 \
    {                                                                                              \
        .name = family_name,                                                                       \
        .defaults = {.baud = 115200, .csma = true, .ack_type = ack, .tx_delay = 50},               \
        .wakes_unstuck = true, .power = power, .host_byte = host_byte, .heard = heard,             \
        .sent = sent, .tick = tick,                                                                \
    }

const struct air_modem_ops air_kiss_ops = KISS_OPS("kiss", 0);
const struct air_modem_ops air_kiss_ack_ops = KISS_OPS("kiss-ack", CMD_ACK_DATA);
