/* The settings of the AT modules (RYLR998/498 command guide, 2025; RYLR896/406 guide, 2022). Which
 * of them flash keeps is said there too: BAND and CPIN with ",M", ADDRESS, NETWORKID and IPR
 * always, the others never. */
#include <stdio.h>
#include <string.h>

#include "air/modem/modem_at.h"

#define BAND_DEFAULT_HZ 915000000 /* from memory */
#define NETWORK_DEFAULT 18        /* guide, AT+NETWORKID */
#define POWER_DEFAULT   22        /* guide, AT+CRFOP */
#define BAUD_DEFAULT    115200    /* guide, AT+IPR */
#define ADDRESS_MAX     65535
/* The older module's bounds and start values: from memory. */
#define OLD_NETWORK_MAX     16
#define OLD_NETWORK_DEFAULT 0
#define OLD_POWER_MAX       15
#define OLD_PREAMBLE_MAX    7
#define CYCLE_MIN_MS        30 /* guide, AT+MODE=2 */
#define CYCLE_MAX_MS        60000
/* The chips these modules carry (SX126x family) tune 150 to 960 MHz; the guide gives no bounds. */
#define BAND_MIN_HZ 150000000
#define BAND_MAX_HZ 960000000

/* Guide, AT+PARAMETER: bandwidth codes and the largest spreading factor of each. */
static const struct {
    uint8_t code, sf_max;
    uint32_t hz;
} bandwidths[] = {{7, 9, 125000}, {8, 10, 250000}, {9, 11, 500000}};

void at_factory(struct air_modem *modem)
{
    modem->as.at.flash = (struct air_at_flash){
        .band_hz = BAND_DEFAULT_HZ,
        .baud = BAUD_DEFAULT,
        .network = modem->options.rylr896 ? OLD_NETWORK_DEFAULT : NETWORK_DEFAULT};
}

void at_load(struct air_modem *modem)
{
    struct air_at *at = &modem->as.at;
    at->address = at->flash.address;
    at->network = at->flash.network;
    memcpy(at->pin, at->flash.pin, sizeof at->pin);
    static const uint8_t usual[] = {9, 7, 1, 12}, old[] = {12, 7, 1, 4};
    memcpy(at->parameter, modem->options.rylr896 ? old : usual, sizeof at->parameter);
    at->mode = 0;
    at->power_dbm = modem->options.rylr896 ? OLD_POWER_MAX : POWER_DEFAULT;
    at->cycle_asleep = false;
    modem->settings.freq_hz = at->flash.band_hz;
    if (modem->options.baud != 0) {
        modem->baud = at->flash.baud;
    }
    at_apply(modem);
}

static size_t bandwidth_row(uint8_t code)
{
    size_t i = 0;
    while (i < 3 && bandwidths[i].code != code) {
        i++;
    }
    return i;
}

void at_apply(struct air_modem *modem)
{
    const struct air_at *at = &modem->as.at;
    modem->settings.spreading_factor = at->parameter[0];
    modem->settings.bandwidth_hz = bandwidths[bandwidth_row(at->parameter[1])].hz;
    modem->settings.coding_rate = (uint8_t)(4 + at->parameter[2]);
    modem->settings.preamble_symbols = at->parameter[3];
    /* A network id is the sync word of the same number: 18 is 0x12, the private-network word. */
    modem->settings.sync_word = at->network;
    modem->settings.power_dbm = (int8_t)at->power_dbm;
    modem->settings.crc = true;
    modem->settings.inverted_iq = false;
    modem->hearing = modem->settings;
    modem->listening = !at->booting && (at->mode == 0 || (at->mode == 2 && !at->cycle_asleep));
}

/* Splits at commas into at most `cap` decimal numbers; 0 when one is none, or there are more. */
static unsigned numbers(char *text, uint32_t *out_values, unsigned cap)
{
    unsigned count = 0;
    for (char *at = text; at != NULL; count++) {
        char *comma = strchr(at, ',');
        if (comma != NULL) {
            *comma = '\0';
        }
        if (count == cap || !air_parse_decimal(at, UINT32_MAX, &out_values[count])) {
            return 0;
        }
        at = comma == NULL ? NULL : comma + 1;
    }
    return count;
}

/* Takes ",M" off the end. */
static bool take_memory_flag(char *text)
{
    size_t len = strlen(text);
    if (len < 2 || strcmp(text + len - 2, ",M") != 0) {
        return false;
    }
    text[len - 2] = '\0';
    return true;
}

static enum at_result set_mode(struct air_modem *modem, char *args, rp_time_us now_us)
{
    struct air_at *at = &modem->as.at;
    uint32_t v[3] = {0, 0, 0};
    unsigned count = numbers(args, v, 3);
    if (count == 0 || v[0] > 2 || (v[0] == 2) != (count == 3) || count == 2) {
        return AT_ERR_VALUE;
    }
    if (count == 3) {
        for (unsigned i = 1; i < 3; i++) {
            if (v[i] < CYCLE_MIN_MS || v[i] > CYCLE_MAX_MS) {
                return AT_ERR_CYCLE;
            }
        }
        at->cycle_ms[0] = v[1];
        at->cycle_ms[1] = v[2];
        modem->wake_us = now_us + (int64_t)v[1] * 1000;
    }
    at->mode = (uint8_t)v[0];
    at->cycle_asleep = false;
    at_apply(modem);
    return AT_OK;
}

static void query_mode(struct air_modem *modem)
{
    const struct air_at *at = &modem->as.at;
    if (at->mode == 2) {
        air_out_format(modem, "+MODE=2,%u,%u\r\n", at->cycle_ms[0], at->cycle_ms[1]);
    } else {
        air_out_format(modem, "+MODE=%u\r\n", at->mode);
    }
}

static enum at_result set_band(struct air_modem *modem, char *args, rp_time_us now_us)
{
    (void)now_us;
    bool keep = take_memory_flag(args);
    uint32_t hz;
    if (!air_parse_decimal(args, BAND_MAX_HZ, &hz) || hz < BAND_MIN_HZ) {
        return AT_ERR_VALUE;
    }
    modem->settings.freq_hz = hz;
    at_apply(modem);
    if (keep) {
        modem->as.at.flash.band_hz = hz;
    }
    return AT_OK;
}

static void query_band(struct air_modem *modem)
{
    air_out_format(modem, "+BAND=%u\r\n", modem->settings.freq_hz);
}

static bool preamble_allowed(const struct air_modem *modem, uint32_t symbols)
{
    if (modem->options.rylr896) {
        return symbols >= 4 && symbols <= OLD_PREAMBLE_MAX;
    }
    /* Guide: 12, and 4 to 24 only with NETWORKID 18. */
    return symbols == 12 ||
           (modem->as.at.network == NETWORK_DEFAULT && symbols >= 4 && symbols <= 24);
}

static enum at_result set_parameter(struct air_modem *modem, char *args, rp_time_us now_us)
{
    (void)now_us;
    struct air_at *at = &modem->as.at;
    uint32_t v[4];
    if (numbers(args, v, 4) != 4 || v[1] > 9 || v[2] < 1 || v[2] > 4) {
        return AT_ERR_VALUE;
    }
    size_t row = bandwidth_row((uint8_t)v[1]);
    /* Spreading factors 5 and 6 of the guide are refused: this air does not model them. */
    uint32_t sf_max = row == 3 ? 0 : modem->options.rylr896 ? 12 : bandwidths[row].sf_max;
    if (v[0] < 7 || v[0] > sf_max) {
        return AT_ERR_VALUE;
    }
    if (!preamble_allowed(modem, v[3])) {
        return AT_ERR_PREAMBLE;
    }
    for (unsigned i = 0; i < 4; i++) {
        at->parameter[i] = (uint8_t)v[i];
    }
    at_apply(modem);
    return AT_OK;
}

static void query_parameter(struct air_modem *modem)
{
    const uint8_t *p = modem->as.at.parameter;
    air_out_format(modem, "+PARAMETER=%u,%u,%u,%u\r\n", p[0], p[1], p[2], p[3]);
}

static enum at_result set_address(struct air_modem *modem, char *args, rp_time_us now_us)
{
    (void)now_us;
    uint32_t value;
    if (!air_parse_decimal(args, ADDRESS_MAX, &value)) {
        return AT_ERR_VALUE;
    }
    modem->as.at.address = (uint16_t)value;
    modem->as.at.flash.address = (uint16_t)value;
    return AT_OK;
}

static void query_address(struct air_modem *modem)
{
    air_out_format(modem, "+ADDRESS=%u\r\n", modem->as.at.address);
}

static enum at_result set_network(struct air_modem *modem, char *args, rp_time_us now_us)
{
    (void)now_us;
    uint32_t value = 0;
    bool number = air_parse_decimal(args, NETWORK_DEFAULT, &value);
    bool allowed = modem->options.rylr896 ? value <= OLD_NETWORK_MAX
                                          : value >= 3 && (value <= 15 || value == NETWORK_DEFAULT);
    if (!number || !allowed) {
        return AT_ERR_VALUE;
    }
    modem->as.at.network = (uint8_t)value;
    modem->as.at.flash.network = (uint8_t)value;
    at_apply(modem);
    return AT_OK;
}

static void query_network(struct air_modem *modem)
{
    air_out_format(modem, "+NETWORKID=%u\r\n", modem->as.at.network);
}

static enum at_result set_pin(struct air_modem *modem, char *args, rp_time_us now_us)
{
    (void)now_us;
    struct air_at *at = &modem->as.at;
    bool keep = take_memory_flag(args);
    if (strlen(args) != 8) {
        return AT_ERR_VALUE;
    }
    for (size_t i = 0; i < 8; i++) {
        if (air_hex_digit(args[i]) < 0) {
            return AT_ERR_VALUE;
        }
    }
    memcpy(at->pin, args, 9);
    if (keep) {
        memcpy(at->flash.pin, args, 9);
    }
    return AT_OK;
}

static void query_pin(struct air_modem *modem)
{
    const char *pin = modem->as.at.pin;
    /* The words for none are from memory. */
    air_out_format(modem, "+CPIN=%s\r\n", pin[0] == '\0' ? "No Password!" : pin);
}

static enum at_result set_power(struct air_modem *modem, char *args, rp_time_us now_us)
{
    (void)now_us;
    uint32_t value;
    if (!air_parse_decimal(args, modem->options.rylr896 ? OLD_POWER_MAX : 22, &value)) {
        return AT_ERR_VALUE;
    }
    modem->as.at.power_dbm = (uint8_t)value;
    modem->settings.power_dbm = (int8_t)value;
    return AT_OK;
}

static void query_power(struct air_modem *modem)
{
    air_out_format(modem, "+CRFOP=%u\r\n", modem->as.at.power_dbm);
}

static enum at_result set_baud(struct air_modem *modem, char *args, rp_time_us now_us)
{
    (void)now_us;
    /* Guide: 300 to 115200; the steps are from memory. */
    static const uint32_t steps[] = {300, 1200, 4800, 9600, 19200, 28800, 38400, 57600, 115200};
    uint32_t value = 0;
    bool valid = false;
    if (air_parse_decimal(args, BAUD_DEFAULT, &value)) {
        for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
            valid = valid || steps[i] == value;
        }
    }
    if (!valid) {
        return AT_ERR_VALUE;
    }
    modem->as.at.flash.baud = value;
    if (modem->options.baud != 0) {
        modem->baud = value;
    }
    /* This one answers with its value instead of +OK (from memory). */
    air_out_format(modem, "+IPR=%u\r\n", value);
    return AT_ANSWERED;
}

static void query_baud(struct air_modem *modem)
{
    air_out_format(modem, "+IPR=%u\r\n", modem->as.at.flash.baud);
}

static void query_uid(struct air_modem *modem)
{
    air_out_format(modem, "+UID=104737333437353600170029\r\n");
}

static void query_version(struct air_modem *modem)
{
    air_out_format(modem, "+VER=%s_EMULATED_V1.0.0\r\n",
                   modem->options.rylr896 ? "RYLR89C" : "RYLR998");
}

static void query_sent(struct air_modem *modem)
{
    const struct air_at *at = &modem->as.at;
    air_out_format(modem, "+SEND=%u,%u,%s\r\n", at->last_to, at->last_len, at->last_data);
}

const struct at_setting *at_setting_find(const char *name)
{
    static const struct at_setting settings[] = {
        {"MODE", set_mode, query_mode},
        {"BAND", set_band, query_band},
        {"PARAMETER", set_parameter, query_parameter},
        {"ADDRESS", set_address, query_address},
        {"NETWORKID", set_network, query_network},
        {"CPIN", set_pin, query_pin},
        {"CRFOP", set_power, query_power},
        {"IPR", set_baud, query_baud},
        {"UID", NULL, query_uid},
        {"VER", NULL, query_version},
        {"SEND", NULL, query_sent},
    };
    for (size_t i = 0; i < sizeof settings / sizeof settings[0]; i++) {
        if (strcmp(settings[i].name, name) == 0) {
            return &settings[i];
        }
    }
    return NULL;
}
