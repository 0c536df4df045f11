/* A transparent module: what is written to one comes out of the others. E22-400T22S user manual
 * v1.5 and E22-T22S user manual (2024), E32-433T20DT user manual v1.6, E220 user manual.
 *
 * - A packet is what has come when the serial line is quiet for three byte times (E32; the E22
 * waits for one), or the longest sub-packet. What does not fit the buffer is lost.
 * - A packet that begins C0 C1 C2 C3 is taken for a command while REG1 bit 5 or 4 is set (E22); one
 *   that begins CF CF reconfigures the stations that hear it: here they become deaf.
 * - In fixed mode (REG3 bit 6) the first three bytes of each packet are an address.
 * - With REG3 bit 7 a byte of signal strength follows each packet: 256 plus the dBm.
 * - In configuration mode the serial line runs at 9600 and registers are read and written.
 * - The modulation is not published: spreading factor and bandwidth are those of the air line. The
 *   bytes the module adds on air are not known and not counted. */
#include <string.h>

#include "air/modem/modem.h"

#define BOOT_US      300000 /* self-test; "common practice, no source" */
#define CONFIG_BAUD  9600
#define QUIET_BYTES  3
#define QUIET_MIN_US 1000 /* where bytes are not paced */

enum { REG_NETWORK = 2, REG_SUB_PACKET = 4, REG_CHANNEL = 5, REG_OPTIONS = 6 };
enum { E32_CHANNEL = 3 };

static bool is_e32(const struct air_modem *modem)
{
    return modem->options.chip == AIR_CHIP_E32;
}

static uint32_t base_hz(const struct air_modem *modem)
{
    if (is_e32(modem)) {
        return 410000000;
    }
    return modem->start.freq_hz < 850125000 ? 410125000 : 850125000;
}

static unsigned block_len(const struct air_modem *modem)
{
    return is_e32(modem) ? 5 : 7;
}

static size_t sub_packet(const struct air_modem *modem)
{
    static const uint8_t sizes[] = {240, 128, 64, 32};
    if (is_e32(modem)) {
        return 58;
    }
    size_t size = sizes[modem->as.uart.block[REG_SUB_PACKET] >> 6];
    return modem->options.chip == AIR_CHIP_E220 && size == 240 ? 200 : size;
}

static size_t buffer_size(const struct air_modem *modem)
{
    static const uint16_t sizes[] = {
        [AIR_CHIP_E22] = 1000, [AIR_CHIP_E32] = 512, [AIR_CHIP_E220] = 400};
    return sizes[modem->options.chip];
}

static void apply(struct air_modem *modem)
{
    const struct air_uart *uart = &modem->as.uart;
    modem->settings = modem->start;
    unsigned channel = is_e32(modem) ? uart->block[E32_CHANNEL] : uart->block[REG_CHANNEL];
    modem->settings.freq_hz = base_hz(modem) + channel * 1000000;
    if (!is_e32(modem)) {
        modem->settings.sync_word = uart->block[REG_NETWORK];
    }
    modem->hearing = modem->settings;
    modem->listening = !uart->booting && !uart->configuring && !uart->deaf;
    bool paced = modem->options.baud != 0;
    modem->baud = paced && uart->configuring ? CONFIG_BAUD : modem->options.baud;
}

/* Registers of a module whose owner has set it for this net. */
static void fresh_block(struct air_modem *modem)
{
    struct air_uart *uart = &modem->as.uart;
    uint32_t channel = (modem->start.freq_hz - base_hz(modem)) / 1000000;
    if (is_e32(modem)) {
        const uint8_t block[] = {0, 0, 0x1a, (uint8_t)channel, 0x44};
        memcpy(uart->stored, block, sizeof block);
    } else {
        const uint8_t block[] = {0, 0, modem->start.sync_word, 0x62, 0, (uint8_t)channel, 0};
        memcpy(uart->stored, block, sizeof block);
        uart->stored[REG_OPTIONS] = modem->options.rssi_byte ? 0x80 : 0;
    }
    uart->fresh = true;
}

static void power(struct air_modem *modem, rp_time_us now_us)
{
    struct air_uart *uart = &modem->as.uart;
    if (!uart->fresh) {
        fresh_block(modem);
    }
    struct air_uart kept = {.booting = true, .fresh = true, .configuring = uart->configuring};
    memcpy(kept.stored, uart->stored, sizeof kept.stored);
    memcpy(kept.block, uart->stored, sizeof kept.block);
    *uart = kept;
    modem->wake_us = now_us + BOOT_US;
    apply(modem);
}

static bool begins(const struct air_uart *uart, const char *bytes, size_t len)
{
    return uart->len >= len && memcmp(uart->bytes, bytes, len) == 0;
}

/* --- configuration mode --- */

static void answer_block(struct air_modem *modem, unsigned at, unsigned count)
{
    struct air_uart *uart = &modem->as.uart;
    if (is_e32(modem)) {
        air_out_bytes(modem, "\xc0", 1);
        air_out_bytes(modem, uart->block, 5);
        return;
    }
    const uint8_t head[] = {0xc1, (uint8_t)at, (uint8_t)count};
    air_out_bytes(modem, head, sizeof head);
    air_out_bytes(modem, uart->block + at, count);
}

static void set_block(struct air_modem *modem, unsigned at, const uint8_t *bytes, unsigned count)
{
    struct air_uart *uart = &modem->as.uart;
    memcpy(uart->block + at, bytes, count);
    if (uart->bytes[0] == 0xc0) {
        memcpy(uart->stored, uart->block, sizeof uart->stored);
    }
    answer_block(modem, at, count);
}

static void run_e32(struct air_modem *modem)
{
    const struct air_uart *uart = &modem->as.uart;
    if (uart->len == 3 && begins(uart, "\xc1\xc1\xc1", 3)) {
        answer_block(modem, 0, 5);
    } else if (uart->len == 6 && (uart->bytes[0] == 0xc0 || uart->bytes[0] == 0xc2)) {
        set_block(modem, 0, uart->bytes + 1, 5);
    } else {
        air_out_bytes(modem, "\xff\xff\xff", 3);
    }
}

static void run_command(struct air_modem *modem)
{
    struct air_uart *uart = &modem->as.uart;
    if (is_e32(modem)) {
        run_e32(modem);
    } else {
        unsigned at = uart->bytes[1], count = uart->bytes[2];
        bool inside = uart->len >= 3 && count >= 1 && at + count <= block_len(modem);
        bool writes = uart->bytes[0] == 0xc0 || uart->bytes[0] == 0xc2;
        if (inside && uart->len == 3 && uart->bytes[0] == 0xc1) {
            answer_block(modem, at, count);
        } else if (inside && writes && uart->len == 3 + count) {
            set_block(modem, at, uart->bytes + 3, count);
        } else {
            air_out_bytes(modem, "\xff\xff\xff", 3); /* "wrong format" */
        }
    }
    uart->len = 0;
}

/* --- normal mode --- */

static void drop_front(struct air_uart *uart, size_t count)
{
    uart->len = (uint16_t)(uart->len - count);
    memmove(uart->bytes, uart->bytes + count, uart->len);
}

/* Sends the next packet: at most a sub-packet of what has come. */
static void transmit(struct air_modem *modem)
{
    struct air_uart *uart = &modem->as.uart;
    size_t len = uart->len < sub_packet(modem) ? uart->len : sub_packet(modem);
    bool in_band = !is_e32(modem) && (uart->block[REG_SUB_PACKET] & 0x30) != 0;
    if (in_band && begins(uart, "\xc0\xc1\xc2\xc3", 4)) {
        modem->note = "took a packet for a command";
        drop_front(uart, len);
        return;
    }
    bool fixed = !is_e32(modem) && (uart->block[REG_OPTIONS] & 0x40) != 0;
    size_t eaten = fixed ? (len < 3 ? len : 3) : 0;
    modem->frame = (struct air_frame){.len = (uint16_t)(len - eaten)};
    memcpy(modem->frame.bytes, uart->bytes + eaten, len - eaten);
    drop_front(uart, len);
    if (modem->frame.len == 0) {
        return;
    }
    if (modem->fail_sends > 0) {
        modem->fail_sends--;
        modem->note = "lost a frame inside the modem, as told";
        return;
    }
    air_modem_start_sending(modem);
}

static void wait_for_quiet(struct air_modem *modem, rp_time_us now_us)
{
    int64_t byte_us = modem->baud == 0 ? 0 : 10000000 / modem->baud;
    int64_t quiet_us = QUIET_BYTES * byte_us;
    modem->wake_us = now_us + (quiet_us > QUIET_MIN_US ? quiet_us : QUIET_MIN_US);
}

static void host_byte(struct air_modem *modem, uint8_t byte, rp_time_us now_us)
{
    struct air_uart *uart = &modem->as.uart;
    if (uart->booting) {
        return;
    }
    size_t room = uart->configuring ? AIR_UART_BUFFER : buffer_size(modem);
    if (uart->len >= room) {
        modem->note = "lost bytes, its buffer is full";
        return;
    }
    uart->bytes[uart->len++] = byte;
    wait_for_quiet(modem, now_us);
    bool whole = !uart->configuring && uart->len >= sub_packet(modem);
    if (whole && !modem->transmitting && !modem->stuck) {
        transmit(modem);
    }
}

static void heard(struct air_modem *modem, const struct air_frame *frame, int16_t rssi_dbm,
                  int16_t snr_db, rp_time_us now_us)
{
    (void)snr_db;
    (void)now_us;
    struct air_uart *uart = &modem->as.uart;
    if (frame->len >= 2 && frame->bytes[0] == 0xcf && frame->bytes[1] == 0xcf) {
        modem->note = "was reconfigured over the air, and is deaf";
        uart->deaf = true;
        apply(modem);
        return;
    }
    air_out_bytes(modem, frame->bytes, frame->len);
    if (!is_e32(modem) && (uart->block[REG_OPTIONS] & 0x80) != 0) {
        uint8_t strength = (uint8_t)(256 + rssi_dbm);
        air_out_bytes(modem, &strength, 1);
    }
}

static void sent(struct air_modem *modem, rp_time_us now_us)
{
    if (modem->as.uart.len > 0) {
        wait_for_quiet(modem, now_us);
    }
}

static void tick(struct air_modem *modem, rp_time_us now_us, bool carrier,
                 rp_time_us locked_until_us)
{
    (void)now_us;
    (void)carrier;
    (void)locked_until_us;
    struct air_uart *uart = &modem->as.uart;
    if (uart->booting) {
        uart->booting = false;
        apply(modem);
    } else if (uart->configuring) {
        if (uart->len > 0 && !modem->stuck) {
            run_command(modem);
        }
    } else if (uart->len > 0 && !modem->transmitting && !modem->stuck) {
        transmit(modem);
    }
}

static void mode(struct air_modem *modem, bool configuring)
{
    struct air_uart *uart = &modem->as.uart;
    uart->configuring = configuring;
    uart->len = 0;
    apply(modem);
}

const struct air_modem_ops air_uart_ops = {
    .name = "uart",
    .defaults = {.baud = 9600, .chip = AIR_CHIP_E22},
    .wakes_unstuck = true,
    .power = power,
    .host_byte = host_byte,
    .heard = heard,
    .sent = sent,
    .tick = tick,
    .mode = mode,
};
