#include "radio/crc.h"

uint16_t rp_radio_crc16(const uint8_t *bytes, size_t len)
{
    uint16_t crc = 0;
    for (size_t i = 0; i < len; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++) {
            crc = (uint16_t)((crc & 1) != 0 ? (crc >> 1) ^ 0xa001 : crc >> 1);
        }
    }
    return crc;
}
