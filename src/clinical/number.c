#include "clinical/number.h"

#include <assert.h>

#include "base/error.h"

#define DIGITS_MAX   12
#define DECIMALS_MAX 9

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

int rp_number_read(const char **cursor, bool allow_minus, struct rp_number *out_number)
{
    const char *p = *cursor;
    bool minus = allow_minus && *p == '-';
    p += minus;
    struct rp_number number = {0, 0};
    int digits = 0;
    bool point = false;
    for (; is_digit(*p) || (*p == '.' && !point && digits > 0 && is_digit(p[1])); p++) {
        if (*p == '.') {
            point = true;
            continue;
        }
        number.mantissa = number.mantissa * 10 + (*p - '0');
        number.decimals += point;
        if (++digits > DIGITS_MAX || number.decimals > DECIMALS_MAX) {
            return RP_E_FORMAT;
        }
    }
    if (digits == 0) {
        return RP_E_FORMAT;
    }
    number.mantissa = minus ? -number.mantissa : number.mantissa;
    *out_number = number;
    *cursor = p;
    return 0;
}

int64_t rp_number_power(int exponent)
{
    assert(exponent >= 0 && exponent <= 18);
    int64_t power = 1;
    for (int i = 0; i < exponent; i++) {
        power *= 10;
    }
    return power;
}

int64_t rp_number_divide(int64_t a, int64_t b)
{
    assert(b > 0);
    int64_t whole = a / b, rest = a % b;
    int64_t rest_size = rest < 0 ? -rest : rest;
    if (rest_size >= b - rest_size) {
        whole += a < 0 ? -1 : 1;
    }
    return whole;
}
