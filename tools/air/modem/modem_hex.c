/* A hex-text module: Microchip RN2483 LoRa module command reference DS40001784G and its RN2903
 * counterpart DS40001811. Only what a point-to-point link needs: the LoRaWAN stack answers nothing
 * but `mac pause` and `mac resume`.
 *
 * - Receiving is one-shot (2.5.1): after one packet, a time-out or the watchdog the module is deaf
 *   until the next `radio rx`. `radio tx` while receiving is busy (2.5.2); `radio rxstop` (2.5.4)
 *   ends receiving.
 * - `radio tx` and `radio rx` before `mac pause` answer busy (from memory).
 * - Received data is printed after two spaces, as real firmware does, in capitals (from memory).
 * - A line without CR before its LF is refused with invalid_param. The reference asks for CR LF and
 *   does not say what happens otherwise. */
#include <string.h>

#include "air/air_time.h"
#include "air/modem/modem_hex.h"

#define BOOT_US 120000 /* "common practice, no source" */
/* What `mac pause` answers when the stack is idle: the longest pause, in milliseconds. */
#define MAC_PAUSE_MS 4294967245u

static void boot(struct air_modem *modem, rp_time_us now_us)
{
    struct air_hex *hex = &modem->as.hex;
    *hex = (struct air_hex){
        .state = AIR_HEX_BOOTING, .window_end_us = RP_NEVER, .watchdog_end_us = RP_NEVER};
    hex_defaults(modem);
    modem->listening = false;
    modem->frame_ready = false;
    modem->transmitting = false;
    modem->abort = true;
    modem->wake_us = now_us + BOOT_US;
}

static void banner(struct air_modem *modem)
{
    /* Form as real firmware prints it: name, version, date and time of the build (from memory). */
    air_out_format(modem, "%s 1.0.5 Jan 01 2020 00:00:00\r\n",
                   modem->options.rn2903 ? "RN2903" : "RN2483");
}

static void answer(struct air_modem *modem, const char *text)
{
    air_out_format(modem, "%s\r\n", text);
}

/* To idle; frames on air stop, listening ends. */
static void rest(struct air_modem *modem)
{
    struct air_hex *hex = &modem->as.hex;
    hex->state = AIR_HEX_IDLE;
    hex->window_end_us = RP_NEVER;
    hex->watchdog_end_us = RP_NEVER;
    modem->listening = false;
    modem->wake_us = RP_NEVER;
}

static void start_watchdog(struct air_modem *modem, rp_time_us now_us)
{
    struct air_hex *hex = &modem->as.hex;
    hex->watchdog_end_us =
        hex->watchdog_ms == 0 ? RP_NEVER : now_us + (int64_t)hex->watchdog_ms * 1000;
    modem->wake_us =
        hex->watchdog_end_us < hex->window_end_us ? hex->watchdog_end_us : hex->window_end_us;
}

/* Fills the frame from hex text; false for an odd count, a strange digit, none or too many. */
static bool parse_payload(struct air_frame *frame, const char *text)
{
    size_t digits = strlen(text);
    if (digits == 0 || digits % 2 != 0 || digits > 2 * AIR_PAYLOAD_MAX) {
        return false;
    }
    *frame = (struct air_frame){.len = (uint16_t)(digits / 2)};
    for (size_t i = 0; i < digits; i += 2) {
        int high = air_hex_digit(text[i]);
        int low = air_hex_digit(text[i + 1]);
        if (high < 0 || low < 0) {
            return false;
        }
        frame->bytes[i / 2] = (uint8_t)(high * 16 + low);
    }
    return true;
}

static bool busy(const struct air_modem *modem)
{
    return modem->as.hex.state != AIR_HEX_IDLE || !modem->as.hex.mac_paused || modem->stuck;
}

static void radio_tx(struct air_modem *modem, char *args, rp_time_us now_us)
{
    struct air_frame frame;
    if (!parse_payload(&frame, args)) {
        answer(modem, "invalid_param");
        return;
    }
    if (busy(modem)) {
        answer(modem, "busy");
        return;
    }
    answer(modem, "ok");
    if (modem->fail_sends > 0) {
        modem->fail_sends--;
        answer(modem, "radio_err");
        return;
    }
    modem->frame = frame;
    modem->as.hex.state = AIR_HEX_SENDING;
    air_modem_start_sending(modem);
    start_watchdog(modem, now_us);
}

static void radio_rx(struct air_modem *modem, char *args, rp_time_us now_us)
{
    struct air_hex *hex = &modem->as.hex;
    uint32_t symbols;
    if (!air_parse_decimal(args, 65535, &symbols)) {
        answer(modem, "invalid_param");
        return;
    }
    if (busy(modem)) {
        answer(modem, "busy");
        return;
    }
    answer(modem, "ok");
    hex->state = AIR_HEX_RECEIVING;
    modem->listening = true;
    modem->hearing = modem->settings; /* later settings count from the next radio rx */
    int64_t symbol_us =
        air_time_symbol_us(modem->settings.spreading_factor, modem->settings.bandwidth_hz);
    hex->window_end_us = symbols == 0 ? RP_NEVER : now_us + (int64_t)symbols * symbol_us;
    start_watchdog(modem, now_us);
}

static void radio_rxstop(struct air_modem *modem, char *args, rp_time_us now_us)
{
    (void)args;
    (void)now_us;
    if (modem->as.hex.state == AIR_HEX_RECEIVING) {
        rest(modem);
    }
    answer(modem, "ok");
}

static void radio_set(struct air_modem *modem, char *args, rp_time_us now_us)
{
    (void)now_us;
    hex_radio_set(modem, args);
}

static void radio_get(struct air_modem *modem, char *args, rp_time_us now_us)
{
    (void)now_us;
    hex_radio_get(modem, args);
}

static void mac_pause(struct air_modem *modem, char *args, rp_time_us now_us)
{
    (void)args;
    (void)now_us;
    modem->as.hex.mac_paused = true;
    air_out_format(modem, "%u\r\n", MAC_PAUSE_MS);
}

static void mac_resume(struct air_modem *modem, char *args, rp_time_us now_us)
{
    (void)args;
    (void)now_us;
    modem->as.hex.mac_paused = false;
    answer(modem, "ok");
}

static void sys_reset(struct air_modem *modem, char *args, rp_time_us now_us)
{
    (void)args;
    boot(modem, now_us);
}

static void sys_version(struct air_modem *modem, char *args, rp_time_us now_us)
{
    (void)args;
    (void)now_us;
    banner(modem);
}

static void sys_voltage(struct air_modem *modem, char *args, rp_time_us now_us)
{
    (void)args;
    (void)now_us;
    answer(modem, "3300");
}

static void run(struct air_modem *modem, char *text, rp_time_us now_us)
{
    static const struct {
        const char *words; /* with a space at the end: arguments follow */
        void (*run)(struct air_modem *modem, char *args, rp_time_us now_us);
    } commands[] = {
        {"radio tx ", radio_tx},      {"radio rx ", radio_rx},      {"radio rxstop", radio_rxstop},
        {"radio set ", radio_set},    {"radio get ", radio_get},    {"mac pause", mac_pause},
        {"mac resume", mac_resume},   {"sys reset", sys_reset},     {"sys factoryRESET", sys_reset},
        {"sys get ver", sys_version}, {"sys get vdd", sys_voltage},
    };
    for (size_t i = 0; i < sizeof commands / sizeof commands[0]; i++) {
        size_t len = strlen(commands[i].words);
        bool open = commands[i].words[len - 1] == ' ';
        if (strncmp(text, commands[i].words, len) == 0 && (open || text[len] == '\0')) {
            commands[i].run(modem, text + len, now_us);
            return;
        }
    }
    answer(modem, "invalid_param");
}

static void host_byte(struct air_modem *modem, uint8_t byte, rp_time_us now_us)
{
    struct air_hex *hex = &modem->as.hex;
    if (hex->state == AIR_HEX_BOOTING) {
        return;
    }
    switch (air_line_feed(&hex->line, byte)) {
    case AIR_LINE_NONE:
        break;
    case AIR_LINE_WHOLE:
        run(modem, hex->line.text, now_us);
        break;
    case AIR_LINE_NO_CR:
    case AIR_LINE_TOO_LONG:
        answer(modem, "invalid_param");
        break;
    }
}

static void heard(struct air_modem *modem, const struct air_frame *frame, int16_t rssi_dbm,
                  int16_t snr_db, rp_time_us now_us)
{
    (void)now_us;
    struct air_hex *hex = &modem->as.hex;
    if (hex->state != AIR_HEX_RECEIVING) {
        return;
    }
    rest(modem);
    hex->rssi_dbm = rssi_dbm;
    hex->snr_db = (int8_t)(snr_db < -128 ? -128 : snr_db > 127 ? 127 : snr_db);
    air_out_format(modem, "radio_rx  ");
    for (size_t i = 0; i < frame->len; i++) {
        air_out_format(modem, "%02X", frame->bytes[i]);
    }
    answer(modem, "");
}

static void garbled(struct air_modem *modem, rp_time_us now_us)
{
    (void)now_us;
    if (modem->as.hex.state == AIR_HEX_RECEIVING) {
        rest(modem);
        answer(modem, "radio_err");
    }
}

static void sent(struct air_modem *modem, rp_time_us now_us)
{
    (void)now_us;
    rest(modem);
    answer(modem, "radio_tx_ok");
}

static void tick(struct air_modem *modem, rp_time_us now_us, bool carrier,
                 rp_time_us locked_until_us)
{
    (void)carrier;
    struct air_hex *hex = &modem->as.hex;
    bool watchdog = now_us >= hex->watchdog_end_us;
    if (hex->state == AIR_HEX_BOOTING) {
        hex->state = AIR_HEX_IDLE;
        banner(modem);
    } else if (hex->state == AIR_HEX_SENDING && watchdog) {
        modem->abort = true;
        modem->transmitting = false;
        rest(modem);
        answer(modem, "radio_err");
    } else if (hex->state == AIR_HEX_RECEIVING && !watchdog && locked_until_us != RP_NEVER) {
        /* The window ends while a packet is coming in: it is taken to its end. */
        hex->window_end_us = locked_until_us + 1;
        modem->wake_us =
            hex->watchdog_end_us < hex->window_end_us ? hex->watchdog_end_us : hex->window_end_us;
    } else if (hex->state == AIR_HEX_RECEIVING) {
        rest(modem);
        answer(modem, "radio_err");
    }
}

const struct air_modem_ops air_hex_ops = {
    .name = "hextext",
    .defaults = {.baud = 57600},
    .power = boot,
    .host_byte = host_byte,
    .heard = heard,
    .garbled = garbled,
    .sent = sent,
    .tick = tick,
};
