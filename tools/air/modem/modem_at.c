/* An AT module in the manner of the REYAX RYLR998/498: AT command guide 56312E33 (2025).
 *
 * - Every command ends CR LF. The guide does not say what ends a command without CR; here a bare LF
 *   ends it with error 1.
 * - The text is a C string inside: a NUL cuts it, so payload with NUL fails with error 5, and CR LF
 *   in the payload ends the command early. Every other byte passes unchanged.
 * - 8 bytes are added to each payload on air (guide, item 5).
 * - +OK of AT+SEND means "taken"; the frame is then still on air, and a second AT+SEND gets error
 * 17 until it has left. With the option late-ok, +OK comes when it has left. */
#include <stdlib.h>
#include <string.h>

#include "air/modem/modem_at.h"

#define EXTRA_LEN   8      /* guide, item 5 */
#define DATA_MAX    240    /* guide, AT+SEND */
#define BOOT_US     150000 /* "common practice, no source" */
#define ADDRESS_ALL 0      /* guide, AT+SEND: 0 is broadcast */

static void boot(struct air_modem *modem, rp_time_us now_us)
{
    modem->as.at.booting = true;
    modem->as.at.ok_owed = false;
    modem->as.at.line = (struct air_line){.len = 0};
    modem->wake_us = now_us + BOOT_US;
    at_load(modem);
}

static void power(struct air_modem *modem, rp_time_us now_us)
{
    if (modem->as.at.flash.band_hz == 0) { /* the very first time: fresh from the factory */
        at_factory(modem);
    }
    boot(modem, now_us);
}

static void answer(struct air_modem *modem, enum at_result result)
{
    if (result == AT_OK) {
        air_out_format(modem, "+OK\r\n");
    } else if (result != AT_ANSWERED) {
        air_out_format(modem, "+ERR=%d\r\n", (int)result);
    }
}

static enum at_result reset(struct air_modem *modem, rp_time_us now_us)
{
    air_out_format(modem, "+RESET\r\n");
    modem->abort = true;
    modem->transmitting = false;
    modem->frame_ready = false;
    boot(modem, now_us);
    return AT_ANSWERED;
}

static enum at_result factory(struct air_modem *modem)
{
    at_factory(modem);
    at_load(modem);
    air_out_format(modem, "+FACTORY\r\n");
    return AT_ANSWERED;
}

/* address,length,data: data may hold commas. */
static enum at_result send(struct air_modem *modem, char *args)
{
    struct air_at *at = &modem->as.at;
    char *comma = strchr(args, ',');
    char *second = comma == NULL ? NULL : strchr(comma + 1, ',');
    if (second == NULL) {
        return AT_ERR_LENGTH;
    }
    *comma = '\0';
    *second = '\0';
    const char *data = second + 1;
    size_t data_len = strlen(data);
    uint32_t to, len;
    if (!air_parse_decimal(args, 65535, &to) || !air_parse_decimal(comma + 1, UINT32_MAX, &len)) {
        return AT_ERR_VALUE;
    }
    if (len > DATA_MAX) {
        return AT_ERR_TOO_LONG;
    }
    if (len == 0 || len != data_len) {
        return AT_ERR_LENGTH;
    }
    if (modem->transmitting || modem->stuck) {
        return AT_ERR_BUSY;
    }
    if (modem->fail_sends > 0) {
        modem->fail_sends--;
        return AT_ERR_TX_TIME;
    }
    modem->frame = (struct air_frame){.len = (uint16_t)len,
                                      .extra_len = EXTRA_LEN,
                                      .addressed = true,
                                      .from = at->address,
                                      .to = (uint16_t)to};
    memcpy(modem->frame.pin, at->pin, sizeof at->pin);
    memcpy(modem->frame.bytes, data, len);
    at->last_to = (uint16_t)to;
    at->last_len = (uint16_t)len;
    memcpy(at->last_data, data, len + 1);
    air_modem_start_sending(modem);
    at->ok_owed = modem->options.late_ok;
    return at->ok_owed ? AT_ANSWERED : AT_OK;
}

static enum at_result run_named(struct air_modem *modem, char *name, rp_time_us now_us)
{
    char *equals = strchr(name, '=');
    if (equals != NULL) {
        *equals = '\0';
        if (strcmp(name, "SEND") == 0) {
            return send(modem, equals + 1);
        }
        const struct at_setting *setting = at_setting_find(name);
        return setting == NULL || setting->set == NULL ? AT_ERR_UNKNOWN
                                                       : setting->set(modem, equals + 1, now_us);
    }
    size_t len = strlen(name);
    if (len > 0 && name[len - 1] == '?') {
        name[len - 1] = '\0';
        const struct at_setting *setting = at_setting_find(name);
        if (setting == NULL || setting->query == NULL) {
            return AT_ERR_UNKNOWN;
        }
        setting->query(modem);
        return AT_ANSWERED;
    }
    if (strcmp(name, "RESET") == 0) {
        return reset(modem, now_us);
    }
    return strcmp(name, "FACTORY") == 0 ? factory(modem) : AT_ERR_UNKNOWN;
}

static enum at_result run(struct air_modem *modem, char *text, rp_time_us now_us)
{
    if (strncmp(text, "AT", 2) != 0) {
        return AT_ERR_NO_AT;
    }
    if (text[2] == '\0') {
        return AT_OK;
    }
    return text[2] == '+' ? run_named(modem, text + 3, now_us) : AT_ERR_UNKNOWN;
}

static void host_byte(struct air_modem *modem, uint8_t byte, rp_time_us now_us)
{
    struct air_at *at = &modem->as.at;
    if (at->booting) {
        return;
    }
    switch (air_line_feed(&at->line, byte)) {
    case AIR_LINE_NONE:
        break;
    case AIR_LINE_WHOLE:
        answer(modem, run(modem, at->line.text, now_us));
        break;
    case AIR_LINE_NO_CR:
    case AIR_LINE_TOO_LONG:
        answer(modem, AT_ERR_NO_LINE_END);
        break;
    }
}

static void heard(struct air_modem *modem, const struct air_frame *frame, int16_t rssi_dbm,
                  int16_t snr_db, rp_time_us now_us)
{
    (void)now_us;
    const struct air_at *at = &modem->as.at;
    bool for_me = !frame->addressed || frame->to == ADDRESS_ALL || frame->to == at->address;
    bool same_pin = !frame->addressed || strcmp(frame->pin, at->pin) == 0;
    if (!for_me || !same_pin) {
        modem->note = for_me ? "dropped a frame with another password"
                             : "dropped a frame for another address";
        return;
    }
    /* The data is printed as a C string, so a NUL from another family cuts it. */
    size_t shown = strnlen((const char *)frame->bytes, frame->len);
    air_out_format(modem, "+RCV=%u,%u,", frame->addressed ? frame->from : 0, frame->len);
    air_out_bytes(modem, frame->bytes, shown);
    air_out_format(modem, ",%d,%d\r\n", rssi_dbm, snr_db);
}

static void garbled(struct air_modem *modem, rp_time_us now_us)
{
    (void)now_us;
    answer(modem, AT_ERR_CRC);
}

static void sent(struct air_modem *modem, rp_time_us now_us)
{
    (void)now_us;
    if (modem->as.at.ok_owed) {
        modem->as.at.ok_owed = false;
        answer(modem, AT_OK);
    }
}

static void tick(struct air_modem *modem, rp_time_us now_us, bool carrier,
                 rp_time_us locked_until_us)
{
    (void)carrier;
    (void)locked_until_us;
    struct air_at *at = &modem->as.at;
    if (at->booting) {
        at->booting = false;
        air_out_format(modem, "+READY\r\n");
        at_apply(modem);
    } else if (at->mode == 2) {
        at->cycle_asleep = !at->cycle_asleep;
        modem->wake_us = now_us + (int64_t)at->cycle_ms[at->cycle_asleep ? 1 : 0] * 1000;
        at_apply(modem);
    }
}

const struct air_modem_ops air_at_ops = {
    .name = "at",
    .defaults = {.baud = 115200},
    .power = power,
    .host_byte = host_byte,
    .heard = heard,
    .garbled = garbled,
    .sent = sent,
    .tick = tick,
};
