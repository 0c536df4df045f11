/* Time on air of one LoRa frame, for the emulator.
 *
 * A second implementation on purpose: the drivers and the engine have their own in src/radio/, and
 * the two are held against the same published values, so one checks the other. */
#ifndef AIR_AIR_TIME_H
#define AIR_AIR_TIME_H

#include <stdbool.h>
#include <stdint.h>

struct air_time_input {
    uint32_t bandwidth_hz;     /* 7800..500000 */
    uint16_t preamble_symbols; /* programmed length N, 0..65535; the chip adds 4.25 */
    uint8_t spreading_factor;  /* 7..12 */
    uint8_t coding_rate;       /* denominator of 4/n: 5..8 */
    bool crc;                  /* 16-bit payload CRC on air */
    bool implicit_header;      /* no header on air */
    bool low_data_rate;        /* low-data-rate optimisation */
    uint16_t payload_len;      /* 0..255 bytes */
};

/* Microseconds on air, rounded up to a whole one; RP_E_INVALID for a setting outside its range. */
int64_t air_time_us(const struct air_time_input *in);
/* One symbol in microseconds, rounded up. The settings must be in range. */
int64_t air_time_symbol_us(uint8_t spreading_factor, uint32_t bandwidth_hz);
/* True when one symbol lasts more than 16 ms (SX1276 data sheet, "Low Data Rate Optimization"). */
bool air_time_low_data_rate(uint8_t spreading_factor, uint32_t bandwidth_hz);

#endif
