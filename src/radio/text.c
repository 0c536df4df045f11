#include "radio/text.h"

#include <string.h>

#include "ridgepost/error.h"

static const char base64_alphabet[] =
    "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
static const char hex_alphabet[] = "0123456789abcdef";

bool rp_text_is(struct rp_view text, const char *word)
{
    return text.len == strlen(word) && memcmp(text.bytes, word, text.len) == 0;
}

bool rp_text_starts(struct rp_view text, const char *prefix)
{
    size_t len = strlen(prefix);
    return text.len >= len && memcmp(text.bytes, prefix, len) == 0;
}

bool rp_text_contains(struct rp_view text, const char *word)
{
    size_t len = strlen(word);
    for (size_t at = 0; at + len <= text.len; at++) {
        if (memcmp(text.bytes + at, word, len) == 0) {
            return true;
        }
    }
    return false;
}

bool rp_text_take(struct rp_view *text, const char *prefix)
{
    if (!rp_text_starts(*text, prefix)) {
        return false;
    }
    size_t len = strlen(prefix);
    *text = (struct rp_view){text->bytes + len, text->len - len};
    return true;
}

bool rp_text_take_number(struct rp_view *text, int32_t min, int32_t max, int32_t *out_number)
{
    size_t at = text->len > 0 && text->bytes[0] == '-' ? 1 : 0;
    size_t first = at;
    int32_t value = 0;
    while (at < text->len && at - first < 9 && text->bytes[at] >= '0' && text->bytes[at] <= '9') {
        value = value * 10 + (text->bytes[at++] - '0');
    }
    bool more = at < text->len && text->bytes[at] >= '0' && text->bytes[at] <= '9';
    value = first == 1 ? -value : value;
    if (at == first || more || value < min || value > max) {
        return false;
    }
    *out_number = value;
    *text = (struct rp_view){text->bytes + at, text->len - at};
    return true;
}

size_t rp_base64_len(size_t len)
{
    return (len * 8 + 5) / 6;
}

void rp_base64_encode(struct rp_view bytes, char *out)
{
    uint32_t bits = 0;
    unsigned held = 0;
    for (size_t i = 0; i < bytes.len; i++) {
        bits = bits << 8 | bytes.bytes[i];
        held += 8;
        while (held >= 6) {
            held -= 6;
            *out++ = base64_alphabet[bits >> held & 63];
        }
    }
    if (held > 0) {
        *out = base64_alphabet[bits << (6 - held) & 63];
    }
}

static int base64_value(uint8_t character)
{
    const char *found =
        character == 0 ? NULL : memchr(base64_alphabet, character, sizeof base64_alphabet - 1);
    return found == NULL ? -1 : (int)(found - base64_alphabet);
}

int rp_base64_decode(struct rp_view text, uint8_t *out, size_t cap)
{
    if (text.len > 0 && text.len % 4 == 0) {
        for (int pad = 0; pad < 2 && text.bytes[text.len - 1] == '='; pad++) {
            text.len--;
        }
    }
    if (text.len % 4 == 1) {
        return RP_E_FORMAT;
    }
    if (text.len * 6 / 8 > cap) {
        return RP_E_TOO_LONG;
    }
    uint32_t bits = 0;
    unsigned held = 0;
    size_t len = 0;
    for (size_t i = 0; i < text.len; i++) {
        int value = base64_value(text.bytes[i]);
        if (value < 0) {
            return RP_E_FORMAT;
        }
        bits = bits << 6 | (uint32_t)value;
        held += 6;
        if (held >= 8) {
            held -= 8;
            out[len++] = (uint8_t)(bits >> held);
        }
    }
    return (bits & ((1u << held) - 1)) == 0 ? (int)len : RP_E_FORMAT;
}

void rp_hex_encode(struct rp_view bytes, char *out)
{
    for (size_t i = 0; i < bytes.len; i++) {
        *out++ = hex_alphabet[bytes.bytes[i] >> 4];
        *out++ = hex_alphabet[bytes.bytes[i] & 15];
    }
}

static int hex_value(uint8_t character)
{
    if (character >= '0' && character <= '9') {
        return character - '0';
    }
    uint8_t lower = character | 0x20;
    return lower >= 'a' && lower <= 'f' ? lower - 'a' + 10 : -1;
}

int rp_hex_decode(struct rp_view text, uint8_t *out, size_t cap)
{
    if (text.len % 2 != 0) {
        return RP_E_FORMAT;
    }
    if (text.len / 2 > cap) {
        return RP_E_TOO_LONG;
    }
    for (size_t i = 0; i < text.len / 2; i++) {
        int high = hex_value(text.bytes[2 * i]);
        int low = hex_value(text.bytes[2 * i + 1]);
        if (high < 0 || low < 0) {
            return RP_E_FORMAT;
        }
        out[i] = (uint8_t)(high << 4 | low);
    }
    return (int)(text.len / 2);
}
