/* Comparing the radio settings of a net: a short hash to say over a voice channel or in a digest,
 * and the first setting that a modem says is another. */
#ifndef RP_RADIO_PLAN_SETTINGS_H
#define RP_RADIO_PLAN_SETTINGS_H

#include "ridgepost/radio.h"

/* The settings of a profile, in the order of the hash. */
enum rp_setting {
    RP_SETTING_FREQUENCY,
    RP_SETTING_BANDWIDTH,
    RP_SETTING_SPREADING,
    RP_SETTING_CODING,
    RP_SETTING_SYNC,
    RP_SETTING_POWER,
    RP_SETTING_PREAMBLE,
    RP_SETTING_ARMOUR, /* of the net alone: no modem knows it */
    RP_SETTING_COUNT,
};

/* What a modem says of its own settings: `known` has the bit 1 << enum rp_setting of each. */
struct rp_settings_said {
    uint32_t known;
    struct rp_radio_profile profile; /* the rest is 0 */
};

/* CRC-16/IBM-3740 (polynomial 0x1021, start 0xffff; check value 0x29b1) of the profile in this
 * order, big endian: freq_hz (4), bandwidth_hz (4), spreading_factor, coding_rate, sync_word,
 * power_dbm, preamble_symbols (2), text_armour (0 or 1). Two nets with different settings have the
 * same hash once in 65536 times. */
uint16_t rp_settings_hash(const struct rp_radio_profile *profile);

/* The first setting that a modem says is another than the profile's, or RP_SETTING_COUNT. */
enum rp_setting rp_settings_said_difference(const struct rp_settings_said *said,
                                            const struct rp_radio_profile *wanted);

/* One setting: its name and unit as in the net file, and its value. */
const char *rp_setting_name(enum rp_setting setting);
int32_t rp_setting_value(const struct rp_radio_profile *profile, enum rp_setting setting);

#endif
