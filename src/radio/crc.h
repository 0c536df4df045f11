/* The 16-bit check of serial framings. Private to src/radio. */
#ifndef RP_RADIO_CRC_H
#define RP_RADIO_CRC_H

#include <stddef.h>
#include <stdint.h>

/* Polynomial x^16 + x^15 + x^2 + 1, reflected, start value 0, as SMACK (1992) uses it; "CRC-16/ARC"
 * in the catalogue of parametrised CRC algorithms, check value BB3D. Over data with its own check
 * appended, low byte first, it is 0. */
uint16_t rp_radio_crc16(const uint8_t *bytes, size_t len);

#endif
