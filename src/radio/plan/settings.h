/* Comparing the radio settings of a net: a short hash to say over a voice channel or in a digest,
 * and the name of the first setting that differs. */
#ifndef RP_RADIO_PLAN_SETTINGS_H
#define RP_RADIO_PLAN_SETTINGS_H

#include "ridgepost/radio.h"

/* CRC-16/IBM-3740 (polynomial 0x1021, start 0xffff; check value 0x29b1) of the profile in this
 * order, big endian: freq_hz (4), bandwidth_hz (4), spreading_factor, coding_rate, sync_word,
 * power_dbm, preamble_symbols (2), text_armour (0 or 1). Two nets with different settings have the
 * same hash once in 65536 times. */
uint16_t rp_settings_hash(const struct rp_radio_profile *profile);

/* The name of the first setting in which two profiles differ, as in the net file ("frequency_hz"),
 * or NULL. */
const char *rp_settings_difference(const struct rp_radio_profile *a,
                                   const struct rp_radio_profile *b);

#endif
