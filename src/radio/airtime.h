/* Exact LoRa time on air in integers. Source: Semtech SX1276/77/78/79 data sheet rev 4 (2015)
 * 4.1.1.7, the same for SF7..12 in SX126x (sx126x_driver). */
#ifndef RP_RADIO_AIRTIME_H
#define RP_RADIO_AIRTIME_H

#include <stdbool.h>
#include <stdint.h>

#include "ridgepost/radio.h"

struct rp_airtime {
    uint8_t spreading_factor;  /* 7..12 */
    uint32_t bandwidth_hz;     /* 7800..500000 */
    uint8_t coding_rate;       /* 5..8, denominator of 4/n */
    bool crc;                  /* 16-bit payload CRC on */
    bool implicit_header;      /* no header on air */
    uint16_t preamble_symbols; /* programmed, 6..65535 */
    bool low_data_rate;        /* low-data-rate optimisation on */
};

/* Time on air in microseconds of a payload of 0..255 bytes, rounded up to a whole microsecond.
 * RP_E_INVALID (as a negative value) when a setting is outside its range. */
int64_t rp_airtime_us(const struct rp_airtime *settings, unsigned payload_len);
/* The same for a net's settings as every family uses them: explicit header, payload CRC on, the
 * low-data-rate optimisation where it must be. */
int64_t rp_airtime_profile_us(const struct rp_radio_profile *profile, unsigned payload_len);
/* The same with the rule of a modem's firmware. */
int64_t rp_airtime_ruled_us(const struct rp_radio_profile *profile, enum rp_low_data_rate rule,
                            unsigned payload_len);
/* Whether a rule has the low-data-rate optimisation on. */
bool rp_airtime_low_data_rate_by(enum rp_low_data_rate rule, uint8_t spreading_factor,
                                 uint32_t bandwidth_hz);
/* Whether the low-data-rate optimisation must be on: a symbol lasts more than 16 ms (SX1276 data
 * sheet, "Low Data Rate Optimization"), so SF12 at 250 kHz counts (16.384 ms). */
bool rp_airtime_low_data_rate(uint8_t spreading_factor, uint32_t bandwidth_hz);

#endif
