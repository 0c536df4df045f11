/* The radio settings of the hex-text modules: RN2483 LoRa module command reference DS40001784G
 * section 2.5, RN2903 DS40001811. Bounds are those given there. The FSK half of the modules is not
 * modelled: `radio set mod fsk` and the FSK settings answer invalid_param. */
#include <stdlib.h>
#include <string.h>

#include "air/modem/modem_hex.h"

void hex_defaults(struct air_modem *modem)
{
    /* The reference gives 15000 ms as its watchdog example; the other start values are from
     * memory. */
    modem->settings = (struct air_settings){
        .freq_hz = modem->options.rn2903 ? 923300000 : 868100000,
        .bandwidth_hz = 125000,
        .preamble_symbols = 8,
        .spreading_factor = 12,
        .coding_rate = 5,
        .sync_word = 0x34,
        .crc = true,
    };
    modem->as.hex.power_dbm = modem->options.rn2903 ? 2 : 1;
    modem->settings.power_dbm = modem->as.hex.power_dbm;
    modem->as.hex.watchdog_ms = 15000;
    modem->as.hex.snr_db = -128;
    modem->as.hex.rssi_dbm = -128;
}

static bool set_mod(struct air_modem *modem, const char *value)
{
    (void)modem;
    return strcmp(value, "lora") == 0;
}

static void get_mod(struct air_modem *modem)
{
    air_out_format(modem, "lora\r\n");
}

static bool set_freq(struct air_modem *modem, const char *value)
{
    uint32_t hz;
    if (!air_parse_decimal(value, UINT32_MAX, &hz)) {
        return false;
    }
    bool band = modem->options.rn2903
                    ? hz >= 902000000 && hz <= 928000000
                    : (hz >= 433050000 && hz <= 434790000) || (hz >= 863000000 && hz <= 870000000);
    if (band) {
        modem->settings.freq_hz = hz;
    }
    return band;
}

static void get_freq(struct air_modem *modem)
{
    air_out_format(modem, "%u\r\n", modem->settings.freq_hz);
}

static bool set_power(struct air_modem *modem, const char *value)
{
    bool negative = value[0] == '-';
    uint32_t size;
    if (!air_parse_decimal(value + (negative ? 1 : 0), 20, &size)) {
        return false;
    }
    int power_dbm = negative ? -(int)size : (int)size;
    int low = modem->options.rn2903 ? 2 : -3;
    int high = modem->options.rn2903 ? 20 : 15;
    if (power_dbm < low || power_dbm > high) {
        return false;
    }
    modem->as.hex.power_dbm = (int8_t)power_dbm;
    modem->settings.power_dbm = (int8_t)power_dbm;
    return true;
}

static void get_power(struct air_modem *modem)
{
    air_out_format(modem, "%d\r\n", modem->as.hex.power_dbm);
}

static bool set_sf(struct air_modem *modem, const char *value)
{
    uint32_t sf;
    if (strncmp(value, "sf", 2) != 0 || !air_parse_decimal(value + 2, 12, &sf) || sf < 7) {
        return false;
    }
    modem->settings.spreading_factor = (uint8_t)sf;
    return true;
}

static void get_sf(struct air_modem *modem)
{
    air_out_format(modem, "sf%u\r\n", modem->settings.spreading_factor);
}

static bool set_bw(struct air_modem *modem, const char *value)
{
    uint32_t khz;
    if (!air_parse_decimal(value, 500, &khz) || (khz != 125 && khz != 250 && khz != 500)) {
        return false;
    }
    modem->settings.bandwidth_hz = khz * 1000;
    return true;
}

static void get_bw(struct air_modem *modem)
{
    air_out_format(modem, "%u\r\n", modem->settings.bandwidth_hz / 1000);
}

static bool set_cr(struct air_modem *modem, const char *value)
{
    uint32_t cr;
    if (strncmp(value, "4/", 2) != 0 || !air_parse_decimal(value + 2, 8, &cr) || cr < 5) {
        return false;
    }
    modem->settings.coding_rate = (uint8_t)cr;
    return true;
}

static void get_cr(struct air_modem *modem)
{
    air_out_format(modem, "4/%u\r\n", modem->settings.coding_rate);
}

static bool parse_switch(const char *value, bool *out_on)
{
    if (strcmp(value, "on") != 0 && strcmp(value, "off") != 0) {
        return false;
    }
    *out_on = strcmp(value, "on") == 0;
    return true;
}

static bool set_crc(struct air_modem *modem, const char *value)
{
    return parse_switch(value, &modem->settings.crc);
}

static void get_crc(struct air_modem *modem)
{
    air_out_format(modem, "%s\r\n", modem->settings.crc ? "on" : "off");
}

static bool set_iqi(struct air_modem *modem, const char *value)
{
    return parse_switch(value, &modem->settings.inverted_iq);
}

static void get_iqi(struct air_modem *modem)
{
    air_out_format(modem, "%s\r\n", modem->settings.inverted_iq ? "on" : "off");
}

static bool set_prlen(struct air_modem *modem, const char *value)
{
    uint32_t symbols;
    if (!air_parse_decimal(value, 65535, &symbols)) {
        return false;
    }
    modem->settings.preamble_symbols = (uint16_t)symbols;
    return true;
}

static void get_prlen(struct air_modem *modem)
{
    air_out_format(modem, "%u\r\n", modem->settings.preamble_symbols);
}

/* One byte with LoRa modulation; the eight bytes the reference also allows are for FSK. */
static bool set_sync(struct air_modem *modem, const char *value)
{
    size_t len = strlen(value);
    if (len < 1 || len > 2) {
        return false;
    }
    unsigned word = 0;
    for (size_t i = 0; i < len; i++) {
        int digit = air_hex_digit(value[i]);
        if (digit < 0) {
            return false;
        }
        word = word * 16 + (unsigned)digit;
    }
    modem->settings.sync_word = (uint8_t)word;
    return true;
}

static void get_sync(struct air_modem *modem)
{
    air_out_format(modem, "%02X\r\n", modem->settings.sync_word);
}

static bool set_wdt(struct air_modem *modem, const char *value)
{
    return air_parse_decimal(value, UINT32_MAX, &modem->as.hex.watchdog_ms);
}

static void get_wdt(struct air_modem *modem)
{
    air_out_format(modem, "%u\r\n", modem->as.hex.watchdog_ms);
}

static void get_snr(struct air_modem *modem)
{
    air_out_format(modem, "%d\r\n", modem->as.hex.snr_db);
}

static void get_rssi(struct air_modem *modem)
{
    air_out_format(modem, "%d\r\n", modem->as.hex.rssi_dbm);
}

struct hex_setting {
    const char *name;
    bool (*set)(struct air_modem *modem, const char *value);
    void (*get)(struct air_modem *modem);
};

static const struct hex_setting *find(const char *name)
{
    static const struct hex_setting settings[] = {
        {"mod", set_mod, get_mod},    {"freq", set_freq, get_freq}, {"pwr", set_power, get_power},
        {"sf", set_sf, get_sf},       {"bw", set_bw, get_bw},       {"cr", set_cr, get_cr},
        {"crc", set_crc, get_crc},    {"iqi", set_iqi, get_iqi},    {"prlen", set_prlen, get_prlen},
        {"sync", set_sync, get_sync}, {"wdt", set_wdt, get_wdt},    {"snr", NULL, get_snr},
        {"rssi", NULL, get_rssi},
    };
    for (size_t i = 0; i < sizeof settings / sizeof settings[0]; i++) {
        if (strcmp(settings[i].name, name) == 0) {
            return &settings[i];
        }
    }
    return NULL;
}

void hex_radio_set(struct air_modem *modem, char *args)
{
    char *space = strchr(args, ' ');
    bool done = false;
    if (space != NULL) {
        *space = '\0';
        const struct hex_setting *setting = find(args);
        done = setting != NULL && setting->set != NULL && setting->set(modem, space + 1);
    }
    air_out_format(modem, done ? "ok\r\n" : "invalid_param\r\n");
}

void hex_radio_get(struct air_modem *modem, const char *name)
{
    const struct hex_setting *setting = find(name);
    if (setting == NULL) {
        air_out_format(modem, "invalid_param\r\n");
    } else {
        setting->get(modem);
    }
}
