#include "radio/plan/settings.h"

#include <stddef.h>

/* One setting after the other, as the hash takes them. */
struct setting {
    const char *name;
    unsigned bytes;
    uint32_t value;
};

static void list(const struct rp_radio_profile *profile, struct setting out[RP_SETTING_COUNT])
{
    const struct setting settings[RP_SETTING_COUNT] = {
        {"frequency_hz", 4, profile->freq_hz},
        {"bandwidth_hz", 4, profile->bandwidth_hz},
        {"spreading_factor", 1, profile->spreading_factor},
        {"coding_rate", 1, profile->coding_rate},
        {"sync_word", 1, profile->sync_word},
        {"power_dbm", 1, (uint8_t)profile->power_dbm},
        {"preamble_symbols", 2, profile->preamble_symbols},
        {"text_armour", 1, profile->text_armour ? 1 : 0},
    };
    for (size_t i = 0; i < RP_SETTING_COUNT; i++) {
        out[i] = settings[i];
    }
}

static uint16_t crc_byte(uint16_t crc, uint8_t byte)
{
    crc = (uint16_t)(crc ^ byte << 8);
    for (int bit = 0; bit < 8; bit++) {
        crc = (uint16_t)((crc & 0x8000) != 0 ? crc << 1 ^ 0x1021 : crc << 1);
    }
    return crc;
}

uint16_t rp_settings_hash(const struct rp_radio_profile *profile)
{
    struct setting settings[RP_SETTING_COUNT];
    uint16_t crc = 0xffff;
    list(profile, settings);
    for (size_t i = 0; i < RP_SETTING_COUNT; i++) {
        for (unsigned byte = settings[i].bytes; byte > 0; byte--) {
            crc = crc_byte(crc, (uint8_t)(settings[i].value >> 8 * (byte - 1)));
        }
    }
    return crc;
}

enum rp_setting rp_settings_said_difference(const struct rp_settings_said *said,
                                            const struct rp_radio_profile *wanted)
{
    struct setting of_said[RP_SETTING_COUNT], of_wanted[RP_SETTING_COUNT];
    list(&said->profile, of_said);
    list(wanted, of_wanted);
    unsigned i = 0;
    while (i < RP_SETTING_COUNT &&
           ((said->known >> i & 1) == 0 || of_said[i].value == of_wanted[i].value)) {
        i++;
    }
    return (enum rp_setting)i;
}

const char *rp_setting_name(enum rp_setting setting)
{
    static const struct rp_radio_profile none;
    struct setting settings[RP_SETTING_COUNT];
    list(&none, settings);
    return settings[setting].name;
}

int32_t rp_setting_value(const struct rp_radio_profile *profile, enum rp_setting setting)
{
    struct setting settings[RP_SETTING_COUNT];
    list(profile, settings);
    return setting == RP_SETTING_POWER ? profile->power_dbm : (int32_t)settings[setting].value;
}
