#include "air/modem/modem.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static const struct air_modem_ops *const families[AIR_FAMILY_COUNT] = {
    [AIR_KISS] = &air_kiss_ops,   [AIR_KISS_ACK] = &air_kiss_ack_ops, [AIR_AT] = &air_at_ops,
    [AIR_HEXTEXT] = &air_hex_ops, [AIR_UART] = &air_uart_ops,
};

enum air_family air_family_named(const char *name)
{
    unsigned i = 0;
    while (i < AIR_FAMILY_COUNT && strcmp(families[i]->name, name) != 0) {
        i++;
    }
    return (enum air_family)i;
}

const char *air_family_name(enum air_family family)
{
    return family < AIR_FAMILY_COUNT ? families[family]->name : "?";
}

struct air_options air_options_default(enum air_family family)
{
    return families[family]->defaults;
}

void air_modem_init(struct air_modem *modem, enum air_family family,
                    const struct air_options *options, const struct air_settings *start,
                    uint64_t seed)
{
    memset(modem, 0, sizeof *modem);
    modem->ops = families[family];
    modem->options = *options;
    modem->start = *start;
    modem->settings = *start;
    modem->rng = rp_rng_seeded(seed);
    modem->baud = options->baud;
    modem->wake_us = RP_NEVER;
}

void air_modem_power(struct air_modem *modem, rp_time_us now_us)
{
    modem->listening = false;
    modem->frame_ready = false;
    modem->transmitting = false;
    modem->abort = true;
    modem->stuck = false;
    modem->wake_us = RP_NEVER;
    modem->out_len = 0;
    modem->ops->power(modem, now_us);
}

void air_modem_host_byte(struct air_modem *modem, uint8_t byte, rp_time_us now_us)
{
    modem->ops->host_byte(modem, byte, now_us);
}

void air_modem_heard(struct air_modem *modem, const struct air_frame *frame, int16_t rssi_dbm,
                     int16_t snr_db, rp_time_us now_us)
{
    modem->ops->heard(modem, frame, rssi_dbm, snr_db, now_us);
}

void air_modem_garbled(struct air_modem *modem, rp_time_us now_us)
{
    if (modem->options.report_garbled && modem->ops->garbled != NULL) {
        modem->ops->garbled(modem, now_us);
    }
}

void air_modem_sent(struct air_modem *modem, rp_time_us now_us)
{
    modem->transmitting = false;
    modem->ops->sent(modem, now_us);
}

void air_modem_tick(struct air_modem *modem, rp_time_us now_us, bool carrier,
                    rp_time_us locked_until_us)
{
    if (modem->wake_us > now_us) {
        return;
    }
    modem->wake_us = RP_NEVER;
    modem->ops->tick(modem, now_us, carrier, locked_until_us);
}

bool air_modem_set_mode(struct air_modem *modem, bool configuring)
{
    if (modem->ops->mode == NULL) {
        return false;
    }
    modem->ops->mode(modem, configuring);
    return true;
}

void air_modem_set_stuck(struct air_modem *modem, bool stuck, rp_time_us now_us)
{
    modem->stuck = stuck;
    /* A KISS modem goes on with the frames it kept. */
    if (!stuck && modem->ops->wakes_unstuck && !modem->transmitting) {
        modem->wake_us = now_us;
    }
}

void air_modem_start_sending(struct air_modem *modem)
{
    modem->frame_ready = true;
    modem->transmitting = true;
}

void air_out_bytes(struct air_modem *modem, const void *bytes, size_t len)
{
    size_t room = AIR_OUT_CAP - modem->out_len;
    size_t taken = len < room ? len : room;
    memcpy(modem->out + modem->out_len, bytes, taken);
    modem->out_len += (unsigned)taken;
    modem->out_lost += (unsigned)(len - taken);
}

void air_out_format(struct air_modem *modem, const char *format, ...)
{
    char text[AIR_LINE_CAP];
    va_list args;
    va_start(args, format);
    int len = vsnprintf(text, sizeof text, format, args);
    va_end(args);
    if (len > 0) {
        air_out_bytes(modem, text, (size_t)len < sizeof text ? (size_t)len : sizeof text - 1);
    }
}

enum air_line_event air_line_feed(struct air_line *line, uint8_t byte)
{
    if (line->ended) {
        line->ended = false;
        line->over = false;
        line->len = 0;
    }
    if (byte != '\n') {
        if (line->len < AIR_LINE_CAP) {
            line->text[line->len++] = (char)byte;
        } else {
            line->over = true;
        }
        return AIR_LINE_NONE;
    }
    line->ended = true;
    bool cr = line->len > 0 && line->text[line->len - 1] == '\r';
    line->len = (uint16_t)(line->len - (cr ? 1 : 0));
    line->text[line->len] = '\0';
    if (line->over) {
        return AIR_LINE_TOO_LONG;
    }
    return cr ? AIR_LINE_WHOLE : AIR_LINE_NO_CR;
}

bool air_parse_decimal(const char *text, uint32_t max, uint32_t *out_value)
{
    uint64_t value = 0;
    size_t digits = 0;
    for (; text[digits] >= '0' && text[digits] <= '9' && digits < 10; digits++) {
        value = value * 10 + (uint64_t)(text[digits] - '0');
    }
    if (digits == 0 || text[digits] != '\0' || value > max) {
        return false;
    }
    *out_value = (uint32_t)value;
    return true;
}

int air_hex_digit(char c)
{
    static const char digits[] = "0123456789abcdef0123456789ABCDEF";
    const char *found = c == '\0' ? NULL : strchr(digits, c);
    return found == NULL ? -1 : (int)((found - digits) % 16);
}
