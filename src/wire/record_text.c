#include "wire/record_row.h"

/* Well-formed UTF-8 by its first byte, Unicode 15 table 3-7: how many bytes follow and which
 * range the second one must have. */
static const struct {
    uint8_t low, high, more, second_low, second_high;
} forms[] = {
    {0x00, 0x7f, 0, 0x00, 0x00}, {0xc2, 0xdf, 1, 0x80, 0xbf}, {0xe0, 0xe0, 2, 0xa0, 0xbf},
    {0xe1, 0xec, 2, 0x80, 0xbf}, {0xed, 0xed, 2, 0x80, 0x9f}, {0xee, 0xef, 2, 0x80, 0xbf},
    {0xf0, 0xf0, 3, 0x90, 0xbf}, {0xf1, 0xf3, 3, 0x80, 0xbf}, {0xf4, 0xf4, 3, 0x80, 0x8f},
};

/* Length of the character at the start, 0 when it is malformed. */
static size_t character_len(const uint8_t *at, size_t left)
{
    for (size_t i = 0; i < sizeof forms / sizeof forms[0]; i++) {
        if (at[0] < forms[i].low || at[0] > forms[i].high) {
            continue;
        }
        size_t more = forms[i].more;
        if (left < 1 + more ||
            (more > 0 && (at[1] < forms[i].second_low || at[1] > forms[i].second_high))) {
            return 0;
        }
        for (size_t k = 2; k <= more; k++) {
            if (at[k] < 0x80 || at[k] > 0xbf) {
                return 0;
            }
        }
        return 1 + more;
    }
    return 0;
}

/* Control characters could steer a terminal or break a line of a report. */
static bool is_control(const uint8_t *at, bool lines)
{
    if (lines && (at[0] == '\n' || at[0] == '\t')) {
        return false;
    }
    return at[0] < 0x20 || at[0] == 0x7f || (at[0] == 0xc2 && at[1] < 0xa0);
}

bool rp_text_valid(const char *text, size_t len, bool lines)
{
    const uint8_t *bytes = (const uint8_t *)text;
    size_t at = 0;
    while (at < len) {
        size_t step = character_len(bytes + at, len - at);
        if (step == 0 || is_control(bytes + at, lines)) {
            return false;
        }
        at += step;
    }
    return true;
}
