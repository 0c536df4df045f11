/* Decimal numbers as people type them, kept as integers: no rounding before a unit is known.
 * Private to this room. */
#ifndef RP_CLINICAL_NUMBER_H
#define RP_CLINICAL_NUMBER_H

#include <stdbool.h>
#include <stdint.h>

/* The value is mantissa / 10^decimals. */
struct rp_number {
    int64_t mantissa; /* at most 12 digits */
    int decimals;     /* 0..9 */
};

/* Reads digits, at most one point with digits on both sides, and one leading minus when
 * `allow_minus`, from *cursor, which moves past them. No exponent, comma, plus, "nan" or "inf".
 * RP_E_FORMAT when no number stands there or it has more than 12 digits or 9 decimals; the cursor
 * then stays. */
int rp_number_read(const char **cursor, bool allow_minus, struct rp_number *out_number);

/* 10^exponent, exponent 0..18. */
int64_t rp_number_power(int exponent);

/* a / b rounded to the nearest whole number, halves away from zero; b > 0. */
int64_t rp_number_divide(int64_t a, int64_t b);

#endif
