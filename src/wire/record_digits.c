#include "wire/record_row.h"

#include <assert.h>

bool rp_digits_push(struct rp_digits *digits, uint16_t radix, uint16_t digit)
{
    assert(digit < radix);
    uint32_t carry = digit;
    for (size_t i = 0; i < RP_DIGITS_LEN; i++) {
        carry += (uint32_t)digits->bytes[i] * radix;
        digits->bytes[i] = (uint8_t)carry;
        carry >>= 8;
    }
    return carry == 0;
}

uint16_t rp_digits_pop(struct rp_digits *digits, uint16_t radix)
{
    assert(radix >= 1);
    uint32_t rest = 0;
    for (size_t i = rp_digits_len(digits); i-- > 0;) {
        rest = rest << 8 | digits->bytes[i];
        digits->bytes[i] = (uint8_t)(rest / radix);
        rest %= radix;
    }
    return (uint16_t)rest;
}

size_t rp_digits_len(const struct rp_digits *digits)
{
    size_t len = RP_DIGITS_LEN;
    while (len > 0 && digits->bytes[len - 1] == 0) {
        len--;
    }
    return len;
}
