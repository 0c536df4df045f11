/* Transparent modules: rows "uart-e22", "uart-e32" and "uart-e220".
 *
 * Sources: E22-400T22S user manual v1.5, E22-900T30S and E22-T22S user manuals (2024), E32-433T20DT
 * user manual v1.6, E220 user manual. Marked "from memory" where none was read for the point.
 *
 * What is written to such a module comes out of the others' serial ports, without boundaries,
 * lengths, checks or a report of its sending. So each sub-packet is one piece of ours, written at
 * once:
 *   5A | frame id (4 bits), piece (2), pieces - 1 (2) | length | data | CRC-16 of all before, low
 *   byte first
 * A frame takes one to four pieces. 5A begins no command of any of these modules (C0 to C4, CF),
 * and as the byte of signal strength it would mean -166 dBm, so it is never one.
 *
 * These modules hear only their own kind: their modulation is not published, so no other family can
 * be set to it. They carry bytes, so they need no text armour; in a net that has it, no byte of a
 * piece's data can be taken for a command even when the module tears the piece.
 *
 * Airtime: the manuals give one figure, 100 bytes at 2.4 kbit/s in about 1.5 s, which is 36 bit
 * times a byte and holds the module's own time. That is charged, or the LoRa formula over the
 * profile when it is more.
 *
 * Sending ends by that time: there is no proof, and nothing is ever "busy". Frequency, air rate and
 * what else the profile decides are checked and set only when a mode pin is configured; without one
 * the module stays in normal mode, and its owner has set it. Power is never changed: the codes
 * differ from module to module. The E220's block is left alone: its layout was not read. */
#include <string.h>

#include "radio/airtime.h"
#include "radio/crc.h"
#include "radio/driver.h"
#include "radio/drivers/uart_registers.h"
#include "ridgepost/error.h"

enum {
    MARK = 0x5a,
    HEAD_LEN = 3,
    OVERHEAD = HEAD_LEN + 2,
    PIECES_MAX = 4,
    BOOT_MS = 1000, /* common practice */
    MODE_MS = 100,  /* 2 ms after AUX is high (manuals); AUX is not read here */
    REPLY_MS = 500, /* common practice */
    MARGIN_MS = 50,
    EXTENSIONS_MAX = 3,
    IDLE_MS = 200,       /* a gap inside a piece: bytes were lost */
    TAIL_MS = 50,        /* the byte of signal strength follows at once; USB adapters add 16 ms */
    TAILS_SURE = 2,      /* seen so often, it is waited for */
    TAILS_MISSED = 3,    /* missing so often in a row, no more */
    RSSI_FLOOR = -150,   /* below what any bandwidth allows: not a strength */
    BITS_PER_BYTE = 36,  /* see above */
    ATTEMPTS_MAX = 3,    /* to read the registers */
    BACKOFF_FIRST_S = 5, /* as dialogue.c */
    BACKOFF_LAST_S = 60,
};

static const struct rp_uart_kind *kind_of(const struct rp_radio *radio)
{
    return radio->driver->uart;
}

static size_t piece_data_max(const struct rp_radio *radio)
{
    return (size_t)kind_of(radio)->sub_packet - OVERHEAD;
}

static unsigned pieces_of(const struct rp_radio *radio, size_t len)
{
    size_t max = piece_data_max(radio);
    return (unsigned)((len + max - 1) / max);
}

static int64_t uart_airtime_us(const struct rp_radio *radio, size_t air_len)
{
    size_t len = air_len + (size_t)OVERHEAD * pieces_of(radio, air_len > 0 ? air_len : 1);
    int64_t rate_us =
        (int64_t)len * BITS_PER_BYTE * 1000000 / rp_uart_air_rate_bps(&radio->profile);
    int64_t formula_us = rp_airtime_profile_us(&radio->profile, (unsigned)(len < 255 ? len : 255));
    return rate_us > formula_us ? rate_us : formula_us;
}

static int uart_check(struct rp_radio *radio)
{
    const struct rp_radio_profile *p = &radio->profile;
    const struct rp_uart_kind *kind = kind_of(radio);
    if (rp_uart_channel(kind, p->freq_hz) < 0) {
        const struct rp_uart_band *band = &kind->bands[kind->bands[1].channels > 0 ? 1 : 0];
        return rp_radio_refuse(radio,
                               "freq_hz %lu is no channel of an %s: they are %lu and %u more in "
                               "steps of 1000000, for example %lu",
                               (unsigned long)p->freq_hz, kind->name, (unsigned long)band->base_hz,
                               band->channels - 1u, (unsigned long)band->base_hz + 18000000);
    }
    return 0;
}

/* The deadline is the earlier one of the phase and of the byte that a held frame waits for. */
static void set_deadline(struct rp_radio *radio)
{
    const struct rp_uart_state *uart = &radio->state.uart;
    radio->deadline_us = uart->tx_due_us;
    if (uart->held && uart->tail_end_us < radio->deadline_us) {
        radio->deadline_us = uart->tail_end_us;
    }
}

static void enter(struct rp_radio *radio, enum rp_uart_phase phase, rp_time_us due_us)
{
    radio->state.uart.phase = phase;
    radio->state.uart.tx_due_us = due_us;
    set_deadline(radio);
}

/* --- configuration mode --- */

static bool in_configuration(const struct rp_radio *radio)
{
    enum rp_uart_phase phase = radio->state.uart.phase;
    return phase >= RP_UART_ENTER && phase <= RP_UART_VERIFY;
}

static void enter_configuration(struct rp_radio *radio, rp_time_us now_us)
{
    rp_radio_wish(radio, RP_RADIO_WISH_MODE_CONFIG);
    enter(radio, RP_UART_ENTER, now_us + rp_radio_ms(MODE_MS));
}

static void ask_block(struct rp_radio *radio, enum rp_uart_phase phase, rp_time_us now_us)
{
    radio->state.uart.reply_len = 0;
    rp_radio_out_bytes(radio, kind_of(radio)->read, sizeof kind_of(radio)->read);
    enter(radio, phase, now_us + rp_radio_ms(REPLY_MS));
}

static void configuration_failed(struct rp_radio *radio, int code, const char *text,
                                 rp_time_us now_us)
{
    struct rp_uart_state *uart = &radio->state.uart;
    uart->attempt++;
    rp_radio_out_clear(radio);
    if (uart->attempt < ATTEMPTS_MAX) {
        enter_configuration(radio, now_us);
        return;
    }
    uart->attempt = 0;
    enter(radio, RP_UART_BACKOFF, now_us + rp_radio_ms(1000 * (int64_t)uart->backoff_s));
    uart->backoff_s = uart->backoff_s * 2 < BACKOFF_LAST_S ? uart->backoff_s * 2 : BACKOFF_LAST_S;
    rp_radio_push_fault(radio, code, text);
    rp_radio_wish(radio, RP_RADIO_WISH_LINE_RESET);
}

/* Power and air rate are not told in the terms of a profile. */
static void note_said(struct rp_radio *radio)
{
    struct rp_settings_said *said = &radio->said;
    said->profile.freq_hz = radio->profile.freq_hz;
    said->known = 1u << RP_SETTING_FREQUENCY;
    if (kind_of(radio)->registers == 7) { /* the E22 has a network id */
        said->profile.sync_word = radio->profile.sync_word;
        said->known |= 1u << RP_SETTING_SYNC;
    }
}

static void take_block(struct rp_radio *radio, uint8_t *block, rp_time_us now_us)
{
    const struct rp_uart_kind *kind = kind_of(radio);
    bool verifying = radio->state.uart.phase == RP_UART_VERIFY;
    if (!rp_uart_fit_block(kind, &radio->profile, radio->baud, block)) {
        note_said(radio);
        rp_radio_wish(radio, RP_RADIO_WISH_MODE_NORMAL);
        enter(radio, RP_UART_LEAVE, now_us + rp_radio_ms(MODE_MS));
    } else if (verifying) {
        configuration_failed(radio, RP_E_INVALID,
                             "the module does not keep its registers: check its kind and supply",
                             now_us);
    } else {
        rp_radio_out_bytes(radio, kind->write, kind->head_len);
        rp_radio_out_bytes(radio, block, kind->registers);
        enter(radio, RP_UART_WRITE, now_us + rp_radio_ms(REPLY_MS));
    }
}

/* Keeps the newest bytes: what stands before a block is rubbish. */
static void receive_reply(struct rp_radio *radio, struct rp_view bytes, rp_time_us now_us)
{
    struct rp_uart_state *uart = &radio->state.uart;
    for (size_t i = 0; i < bytes.len; i++) {
        bool reading = uart->phase == RP_UART_READ || uart->phase == RP_UART_VERIFY;
        if (!reading) {
            radio->counters.rx_ignored++;
            continue;
        }
        if (uart->reply_len == sizeof uart->reply) {
            memmove(uart->reply, uart->reply + 1, sizeof uart->reply - 1);
            uart->reply_len--;
        }
        uart->reply[uart->reply_len++] = bytes.bytes[i];
        int at = rp_uart_find_block(kind_of(radio), (struct rp_view){uart->reply, uart->reply_len});
        if (at >= 0) {
            take_block(radio, uart->reply + at, now_us);
        }
    }
}

/* --- sending --- */

static rp_time_us piece_us(const struct rp_radio *radio, size_t len)
{
    int64_t rate_us =
        (int64_t)len * BITS_PER_BYTE * 1000000 / rp_uart_air_rate_bps(&radio->profile);
    int64_t formula_us = rp_airtime_profile_us(&radio->profile, (unsigned)len);
    return rp_radio_serial_us(radio, len) + (rate_us > formula_us ? rate_us : formula_us) +
           rp_radio_ms(MARGIN_MS);
}

/* Writes the next piece: one write of at most one sub-packet. */
static void send_piece(struct rp_radio *radio, rp_time_us now_us)
{
    struct rp_uart_state *uart = &radio->state.uart;
    size_t at = (size_t)uart->tx_piece * piece_data_max(radio);
    size_t len =
        radio->tx.len - at < piece_data_max(radio) ? radio->tx.len - at : piece_data_max(radio);
    uint8_t piece[RP_RADIO_UART_CAP];
    piece[0] = MARK;
    piece[1] = (uint8_t)((uart->tx_id & 15) << 4 | uart->tx_piece << 2 | (uart->tx_pieces - 1));
    piece[2] = (uint8_t)len;
    memcpy(piece + HEAD_LEN, radio->tx.frame + at, len);
    uint16_t crc = rp_radio_crc16(piece, HEAD_LEN + len);
    piece[HEAD_LEN + len] = (uint8_t)crc;
    piece[HEAD_LEN + len + 1] = (uint8_t)(crc >> 8);
    uart->extensions = 0;
    if (!rp_radio_out_bytes(radio, piece, OVERHEAD + len)) {
        rp_radio_finish_unsent(radio, RP_E_BUSY, radio->tx.on_wire);
        enter(radio, RP_UART_IDLE, RP_NEVER);
        return;
    }
    radio->tx.on_wire = true;
    enter(radio, RP_UART_PIECE, now_us + piece_us(radio, OVERHEAD + len));
}

static void uart_send(struct rp_radio *radio, rp_time_us now_us)
{
    struct rp_uart_state *uart = &radio->state.uart;
    uart->tx_id++;
    uart->tx_piece = 0;
    uart->tx_pieces = (uint8_t)pieces_of(radio, radio->tx.len);
    send_piece(radio, now_us);
}

/* As with KISS, the time counts from when the port has taken the bytes. */
static void piece_over(struct rp_radio *radio, rp_time_us now_us)
{
    struct rp_uart_state *uart = &radio->state.uart;
    if (radio->out.len > 0 && uart->extensions < EXTENSIONS_MAX) {
        uart->extensions++;
        enter(radio, RP_UART_PIECE, now_us + piece_us(radio, radio->out.len));
    } else if (radio->out.len > 0) {
        rp_radio_out_clear(radio);
        radio->counters.timeouts++;
        enter(radio, RP_UART_IDLE, RP_NEVER);
        rp_radio_finish_unsent(radio, RP_E_IO, true);
        rp_radio_wish(radio, RP_RADIO_WISH_REOPEN);
    } else if (uart->tx_piece + 1 < uart->tx_pieces) {
        uart->tx_piece++;
        send_piece(radio, now_us);
    } else {
        enter(radio, RP_UART_IDLE, RP_NEVER);
        rp_radio_finish_sent(radio);
    }
}

/* --- receiving --- */

static void release_held(struct rp_radio *radio)
{
    struct rp_uart_state *uart = &radio->state.uart;
    if (uart->held) {
        uart->held = false;
        rp_radio_push_frame(radio, &uart->frame);
        set_deadline(radio);
    }
}

static void tail_missed(struct rp_radio *radio)
{
    struct rp_uart_state *uart = &radio->state.uart;
    uart->tail_awaited = false;
    if (uart->tails >= TAILS_SURE && ++uart->tails_miss >= TAILS_MISSED) {
        uart->tails = 0;
    }
    release_held(radio);
}

/* -(256 - byte) dBm: the formula of the E22-T22S user manual (2024) for noise; that it holds for
 * this byte is from memory. */
static void take_tail(struct rp_radio *radio, uint8_t byte)
{
    struct rp_uart_state *uart = &radio->state.uart;
    int rssi_dbm = (int)byte - 256;
    uart->tail_awaited = false;
    uart->tails = uart->tails < TAILS_SURE ? (uint8_t)(uart->tails + 1) : uart->tails;
    uart->tails_miss = 0;
    if (uart->held && rssi_dbm >= RSSI_FLOOR) {
        uart->frame.has_rssi = true;
        uart->frame.rssi_dbm = (int16_t)rssi_dbm;
    }
    release_held(radio);
}

static void frame_whole(struct rp_radio *radio)
{
    struct rp_uart_state *uart = &radio->state.uart;
    uart->rx_open = false;
    uart->frame.kind = RP_RADIO_FRAME;
    uart->frame.frame_len = uart->rx_len;
    uart->frame.has_rssi = false;
    uart->held = true;
    if (uart->tails < TAILS_SURE) {
        release_held(radio);
    }
}

/* A good piece of one frame. A piece that does not follow drops what there was of another. */
static void take_piece(struct rp_radio *radio, const uint8_t *piece, rp_time_us now_us)
{
    struct rp_uart_state *uart = &radio->state.uart;
    uint8_t id = piece[1] >> 4, index = piece[1] >> 2 & 3, pieces = (piece[1] & 3) + 1,
            len = piece[2];
    release_held(radio);
    uart->tail_awaited = true;
    uart->tail_end_us = now_us + rp_radio_ms(TAIL_MS);
    bool follows =
        uart->rx_open && uart->rx_id == id && uart->rx_next == index && uart->rx_pieces == pieces;
    radio->counters.rx_bad += uart->rx_open && !follows;
    if (!follows) {
        uart->rx_open = index == 0;
        uart->rx_id = id;
        uart->rx_next = 0;
        uart->rx_pieces = pieces;
        uart->rx_len = 0;
    }
    if (!uart->rx_open || index >= pieces || uart->rx_len + len > RP_FRAME_LEN_MAX) {
        uart->rx_open = false;
        radio->counters.rx_bad++;
        return;
    }
    memcpy(uart->frame.frame + uart->rx_len, piece + HEAD_LEN, len);
    uart->rx_len = (uint16_t)(uart->rx_len + len);
    uart->rx_next++;
    if (uart->rx_next == pieces) {
        frame_whole(radio);
        set_deadline(radio);
    }
}

static void drop_bytes(struct rp_uart_state *uart, size_t count)
{
    uart->len = (uint16_t)(uart->len - count);
    memmove(uart->bytes, uart->bytes + count, uart->len);
}

/* Cuts pieces off the front. A mark that begins no good piece is stepped over alone, so that it
 * cannot hide a real one behind it. at_rest: nothing more belongs to what is there. */
static void cut(struct rp_radio *radio, bool at_rest, rp_time_us now_us)
{
    struct rp_uart_state *uart = &radio->state.uart;
    while (uart->len > 0) {
        size_t len = uart->len > 2 ? (size_t)OVERHEAD + uart->bytes[2] : OVERHEAD;
        bool possible = uart->bytes[0] == MARK &&
                        (uart->len < 3 || (uart->bytes[2] > 0 && len <= sizeof uart->bytes));
        if (possible && uart->len < len && !at_rest) {
            return;
        }
        if (possible && uart->len >= len && rp_radio_crc16(uart->bytes, len) == 0) {
            take_piece(radio, uart->bytes, now_us);
            drop_bytes(uart, len);
            continue;
        }
        bool tail = uart->tail_awaited && uart->bytes[0] != MARK && now_us <= uart->tail_end_us;
        if (tail) {
            take_tail(radio, uart->bytes[0]);
        } else if (uart->bytes[0] == MARK) {
            radio->counters.rx_bad++;
        } else {
            radio->counters.rx_ignored++;
        }
        drop_bytes(uart, 1);
        if (!tail && uart->tail_awaited) {
            tail_missed(radio);
        }
    }
}

static void uart_receive(struct rp_radio *radio, struct rp_view bytes, rp_time_us now_us)
{
    struct rp_uart_state *uart = &radio->state.uart;
    if (now_us - uart->last_byte_us > rp_radio_ms(IDLE_MS)) {
        cut(radio, true, now_us);
    }
    uart->last_byte_us = now_us;
    if (in_configuration(radio)) {
        receive_reply(radio, bytes, now_us);
        return;
    }
    for (size_t i = 0; i < bytes.len; i++) {
        /* cut() leaves room: a piece never needs more than there is. */
        uart->bytes[uart->len++] = bytes.bytes[i];
        cut(radio, false, now_us);
    }
}

/* --- the life of the module --- */

static void uart_opened(struct rp_radio *radio, rp_time_us now_us)
{
    struct rp_uart_state *uart = &radio->state.uart;
    uint32_t backoff_s = radio->dialogue.reopening ? uart->backoff_s : 0;
    uint8_t tx_id = uart->tx_id;
    radio->dialogue.reopening = false;
    *uart = (struct rp_uart_state){.tx_id = tx_id,
                                   .backoff_s = backoff_s != 0 ? backoff_s : BACKOFF_FIRST_S};
    uart->last_byte_us = now_us;
    enter(radio, RP_UART_BOOT, now_us + rp_radio_ms(BOOT_MS));
}

static void uart_closed(struct rp_radio *radio)
{
    struct rp_uart_state *uart = &radio->state.uart;
    release_held(radio);
    uart->tx_due_us = RP_NEVER;
    uart->phase = RP_UART_CLOSED;
}

static void begin(struct rp_radio *radio, rp_time_us now_us)
{
    if (radio->has_mode_pin && rp_radio_uses_mode_pin(radio)) {
        enter_configuration(radio, now_us);
    } else {
        enter(radio, RP_UART_IDLE, RP_NEVER);
        rp_radio_set_up(radio);
    }
}

static void phase_over(struct rp_radio *radio, rp_time_us now_us)
{
    struct rp_uart_state *uart = &radio->state.uart;
    uart->tx_due_us = RP_NEVER;
    switch (uart->phase) {
    case RP_UART_BOOT:
        begin(radio, now_us);
        break;
    case RP_UART_BACKOFF:
        rp_radio_wish(radio, RP_RADIO_WISH_REOPEN);
        begin(radio, now_us);
        break;
    case RP_UART_ENTER:
        ask_block(radio, RP_UART_READ, now_us);
        break;
    case RP_UART_READ:
    case RP_UART_VERIFY:
        radio->counters.timeouts++;
        configuration_failed(radio, RP_E_TIMEOUT,
                             "no answer in configuration mode: check the mode pin, power and cable",
                             now_us);
        break;
    case RP_UART_WRITE: /* what it answers differs from kind to kind: look instead */
        ask_block(radio, RP_UART_VERIFY, now_us);
        break;
    case RP_UART_LEAVE:
        uart->attempt = 0;
        uart->backoff_s = BACKOFF_FIRST_S;
        enter(radio, RP_UART_IDLE, RP_NEVER);
        rp_radio_set_up(radio);
        break;
    case RP_UART_PIECE:
        piece_over(radio, now_us);
        break;
    case RP_UART_CLOSED:
    case RP_UART_IDLE:
        break;
    }
}

static void uart_tick(struct rp_radio *radio, rp_time_us now_us)
{
    struct rp_uart_state *uart = &radio->state.uart;
    if (uart->held && now_us >= uart->tail_end_us) {
        tail_missed(radio);
    }
    if (now_us >= uart->tx_due_us) {
        phase_over(radio, now_us);
    }
    set_deadline(radio);
}

static const struct rp_uart_kind e22 = {
    .name = "E22",
    .sub_packet = 240,
    .read = {0xc1, 0x00, 0x07},
    .head = {0xc1, 0x00, 0x07},
    .head_len = 3,
    .write = {0xc2, 0x00, 0x07}, /* until power-off: what the owner stored stays stored */
    .registers = 7,
    .rate_at = 3,
    .rate_baud_shift = 5,
    .channel_at = 5,
    .bands = {{410125000, 84}, {850125000, 81}},
};

static const struct rp_uart_kind e32 = {
    .name = "E32",
    .sub_packet = 58,
    .read = {0xc1, 0xc1, 0xc1},
    .head = {0xc0},
    .head_len = 1,
    .write = {0xc2},
    .registers = 5,
    .rate_at = 2,
    .rate_baud_shift = 3,
    .channel_at = 3,
    .bands = {{410000000, 32}},
};

/* Sub-packet of 200 bytes and bands as the E22: from memory. */
static const struct rp_uart_kind e220 = {
    .name = "E220",
    .sub_packet = 200,
    .bands = {{410125000, 84}, {850125000, 81}},
};

#define UART_DRIVER(name_, summary_, kind_, frame_len_max_)                                        \
    {                                                                                              \
        .name = name_, .summary = summary_, .baud = 9600, .frame_len_max = frame_len_max_,         \
        .sent_proof = RP_SENT_BY_TIMER, .airtime_us = uart_airtime_us, .check = uart_check,        \
        .opened = uart_opened, .closed = uart_closed, .receive = uart_receive, .send = uart_send,  \
        .tick = uart_tick, .uart = kind_                                                           \
    }

const struct rp_radio_driver rp_radio_uart_e22 = UART_DRIVER(
    "uart-e22", "transparent modules E22; they hear only their own kind", &e22, RP_FRAME_LEN_MAX);
const struct rp_radio_driver rp_radio_uart_e32 =
    UART_DRIVER("uart-e32", "transparent modules E32; they hear only their own kind", &e32,
                PIECES_MAX *(58 - OVERHEAD));
const struct rp_radio_driver rp_radio_uart_e220 =
    UART_DRIVER("uart-e220", "transparent modules E220; they hear only their own kind", &e220,
                RP_FRAME_LEN_MAX);
