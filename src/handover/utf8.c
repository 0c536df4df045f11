#include "handover/utf8.h"

struct range {
    uint32_t first, last;
};

/* Marks of no width: the blocks of combining marks, the non-spacing signs of the scripts in use
 * around high mountains, and joiners. General category Mn, Me and Cf of the Unicode Character
 * Database; marks of other scripts count 1, which is the safe side. */
static const struct range zero_width[] = {
    {0x0300, 0x036f}, {0x0483, 0x0489}, {0x0591, 0x05bd}, {0x0610, 0x061a}, {0x064b, 0x065f},
    {0x0670, 0x0670}, {0x06d6, 0x06dc}, {0x0900, 0x0902}, {0x093c, 0x093c}, {0x0941, 0x0948},
    {0x094d, 0x094d}, {0x0951, 0x0957}, {0x0962, 0x0963}, {0x0e31, 0x0e31}, {0x0e34, 0x0e3a},
    {0x0e47, 0x0e4e}, {0x0f71, 0x0f7e}, {0x0f80, 0x0f84}, {0x0f86, 0x0f87}, {0x0f8d, 0x0f97},
    {0x0f99, 0x0fbc}, {0x1ab0, 0x1abe}, {0x1dc0, 0x1df5}, {0x200b, 0x200d}, {0x20d0, 0x20f0},
    {0x302a, 0x302d}, {0x3099, 0x309a}, {0xfe00, 0xfe0f}, {0xfe20, 0xfe2f}, {0xe0100, 0xe01ef},
};

/* East Asian Width W and F (Unicode Standard Annex 11), joined into coarse blocks. */
static const struct range double_width[] = {
    {0x1100, 0x115f},   {0x231a, 0x231b},   {0x2329, 0x232a},   {0x23e9, 0x23f3},
    {0x25fd, 0x25fe},   {0x2600, 0x27bf},   {0x2b1b, 0x2b1c},   {0x2b50, 0x2b55},
    {0x2e80, 0x303e},   {0x3041, 0xa4cf},   {0xa960, 0xa97c},   {0xac00, 0xd7a3},
    {0xf900, 0xfaff},   {0xfe10, 0xfe19},   {0xfe30, 0xfe6f},   {0xff01, 0xff60},
    {0xffe0, 0xffe6},   {0x16fe0, 0x18fff}, {0x1aff0, 0x1b2ff}, {0x1d300, 0x1d37f},
    {0x1f000, 0x1faff}, {0x20000, 0x3fffd},
};

static const struct range hostile[] = {
    {0x0000, 0x001f}, {0x007f, 0x009f}, {0x061c, 0x061c},   {0x200e, 0x200f},
    {0x2028, 0x202e}, {0x2060, 0x206f}, {0xe000, 0xf8ff},   {0xfeff, 0xfeff},
    {0xfff0, 0xfffb}, {0xfffe, 0xffff}, {0xe0000, 0xe00ff}, {0xf0000, 0x10ffff},
};

static bool within(const struct range *ranges, size_t count, uint32_t code)
{
    for (size_t i = 0; i < count; i++) {
        if (code >= ranges[i].first && code <= ranges[i].last) {
            return true;
        }
    }
    return false;
}

/* Bytes of the sequence that starts with `lead`, by RFC 3629 section 4; 0: none starts so. */
static size_t sequence_len(uint8_t lead)
{
    if (lead < 0x80) {
        return 1;
    }
    if (lead >= 0xc2 && lead <= 0xdf) {
        return 2;
    }
    if (lead >= 0xe0 && lead <= 0xef) {
        return 3;
    }
    return lead >= 0xf0 && lead <= 0xf4 ? 4 : 0;
}

size_t rp_utf8_next(const char *text, uint32_t *out_code)
{
    static const uint32_t least[5] = {0, 0, 0x80, 0x800, 0x10000};
    static const uint8_t lead_mask[5] = {0, 0x7f, 0x1f, 0x0f, 0x07};
    uint8_t lead = (uint8_t)text[0];
    size_t len = sequence_len(lead);
    *out_code = UINT32_MAX;
    if (len == 0) {
        return 1;
    }
    uint32_t code = lead & lead_mask[len];
    for (size_t i = 1; i < len; i++) {
        uint8_t byte = (uint8_t)text[i]; /* a NUL is no continuation: the loop ends there */
        if ((byte & 0xc0) != 0x80) {
            return 1;
        }
        code = code << 6 | (byte & 0x3f);
    }
    if (code < least[len] || code > 0x10ffff || (code >= 0xd800 && code <= 0xdfff)) {
        return 1;
    }
    *out_code = code;
    return len;
}

unsigned rp_utf8_width(uint32_t code)
{
    if (code < 0x300) {
        return 1;
    }
    if (within(zero_width, sizeof zero_width / sizeof zero_width[0], code)) {
        return 0;
    }
    return within(double_width, sizeof double_width / sizeof double_width[0], code) ? 2 : 1;
}

unsigned rp_utf8_columns(const char *text, size_t len)
{
    unsigned columns = 0;
    for (size_t i = 0; i < len;) {
        uint32_t code;
        i += rp_utf8_next(text + i, &code);
        columns += rp_utf8_width(code);
    }
    return columns;
}

size_t rp_utf8_fit(const char *text, size_t len, unsigned columns)
{
    size_t at = 0;
    unsigned used = 0;
    while (at < len) {
        uint32_t code;
        size_t step = rp_utf8_next(text + at, &code);
        used += rp_utf8_width(code);
        if (used > columns && at > 0) {
            break;
        }
        at += step;
    }
    return at;
}

bool rp_utf8_hostile(uint32_t code)
{
    return code > 0x10ffff || within(hostile, sizeof hostile / sizeof hostile[0], code);
}

/* Runs of small letters: the capital is `down` below; with `pairs` only every second code from
 * `first` on is a small letter. */
static const struct {
    uint32_t first, last, down;
    bool pairs;
} small_letters[] = {
    {0x61, 0x7a, 32, false},   {0xe0, 0xf6, 32, false},   {0xf8, 0xfe, 32, false},
    {0x101, 0x12f, 1, true},   {0x133, 0x137, 1, true},   {0x13a, 0x148, 1, true},
    {0x14b, 0x177, 1, true},   {0x17a, 0x17e, 1, true},   {0x3ac, 0x3ac, 38, false},
    {0x3ad, 0x3af, 37, false}, {0x3b1, 0x3c1, 32, false}, {0x3c2, 0x3c2, 31, false},
    {0x3c3, 0x3cb, 32, false}, {0x3cc, 0x3cc, 64, false}, {0x3cd, 0x3ce, 63, false},
    {0x430, 0x44f, 32, false}, {0x450, 0x45f, 80, false},
};

uint32_t rp_utf8_capital(uint32_t code)
{
    for (size_t i = 0; i < sizeof small_letters / sizeof small_letters[0]; i++) {
        uint32_t first = small_letters[i].first;
        if (code >= first && code <= small_letters[i].last &&
            (!small_letters[i].pairs || (code - first) % 2 == 0)) {
            return code - small_letters[i].down;
        }
    }
    return code == 0xff ? 0x178 : code;
}

void rp_utf8_capitalise(char *text, size_t len)
{
    for (size_t i = 0; i < len;) {
        unsigned char first = (unsigned char)text[i];
        if (first < 0x80) {
            text[i++] = (char)rp_utf8_capital(first);
            continue;
        }
        bool pair = (first & 0xe0) == 0xc0 && i + 1 < len && (text[i + 1] & 0xc0) == 0x80;
        if (pair) { /* no longer sequence holds a letter that is known here */
            uint32_t code = rp_utf8_capital((uint32_t)(first & 0x1f) << 6 | (text[i + 1] & 0x3f));
            text[i] = (char)(0xc0 | code >> 6);
            text[i + 1] = (char)(0x80 | (code & 0x3f));
        }
        i += pair ? 2 : 1;
    }
}
