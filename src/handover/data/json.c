#include "handover/data/json.h"

#include <assert.h>
#include <string.h>

#include "handover/utf8.h"

struct rp_json rp_json_on(struct rp_textbuf *out)
{
    return (struct rp_json){.out = out};
}

/* Two digits are enough: only control characters are written so (RFC 8259 section 7). */
static void put_escape(struct rp_textbuf *out, unsigned char c)
{
    static const char digits[] = "0123456789abcdef";
    char escape[] = {'\\', 'u', '0', '0', digits[c >> 4], digits[c & 15]};
    rp_textbuf_put(out, escape, sizeof escape);
}

static void put_character(struct rp_textbuf *out, const char *at, size_t len)
{
    if (len == 1 && (*at == '"' || *at == '\\')) {
        rp_textbuf_put(out, "\\", 1);
        rp_textbuf_put(out, at, 1);
    } else if (len == 1 && *at == '\n') {
        rp_textbuf_put(out, "\\n", 2);
    } else if (len == 1 && ((unsigned char)*at < 0x20 || *at == 0x7f)) {
        put_escape(out, (unsigned char)*at);
    } else if (len == 1 && (unsigned char)*at >= 0x80) {
        rp_textbuf_put(out, "?", 1); /* no UTF-8 */
    } else {
        rp_textbuf_put(out, at, len);
    }
}

/* The spaces of Unicode (general category Zs) beyond the plain one. */
static bool is_space(uint32_t code)
{
    return code == 0xa0 || code == 0x1680 || (code >= 0x2000 && code <= 0x200a) || code == 0x202f ||
           code == 0x205f || code == 0x3000;
}

static void put_string(struct rp_textbuf *out, const char *text, size_t len, bool plain)
{
    size_t at = 0;
    rp_textbuf_put(out, "\"", 1);
    while (at < len) {
        uint32_t code;
        size_t step = rp_utf8_next(text + at, &code);
        step = step > len - at ? 1 : step;
        if (plain && is_space(code)) {
            rp_textbuf_put(out, " ", 1);
        } else {
            put_character(out, text + at, step);
        }
        at += step;
    }
    rp_textbuf_put(out, "\"", 1);
}

static void begin(struct rp_json *json, const char *key)
{
    if (json->begun[json->depth]) {
        rp_textbuf_put(json->out, ",", 1);
    }
    json->begun[json->depth] = true;
    if (key != NULL) {
        put_string(json->out, key, strlen(key), false);
        rp_textbuf_put(json->out, ":", 1);
    }
}

static void open(struct rp_json *json, const char *key, const char *bracket)
{
    assert(json->depth < RP_JSON_DEPTH_MAX);
    begin(json, key);
    rp_textbuf_put(json->out, bracket, 1);
    json->begun[++json->depth] = false;
}

static void close(struct rp_json *json, const char *bracket)
{
    assert(json->depth > 0);
    json->depth--;
    rp_textbuf_put(json->out, bracket, 1);
}

void rp_json_object(struct rp_json *json, const char *key)
{
    open(json, key, "{");
}

void rp_json_list(struct rp_json *json, const char *key)
{
    open(json, key, "[");
}

void rp_json_end_object(struct rp_json *json)
{
    close(json, "}");
}

void rp_json_end_list(struct rp_json *json)
{
    close(json, "]");
}

void rp_json_text_len(struct rp_json *json, const char *key, const char *text, size_t len)
{
    begin(json, key);
    put_string(json->out, text, len, json->plain_spaces);
}

void rp_json_text(struct rp_json *json, const char *key, const char *text)
{
    rp_json_text_len(json, key, text, strlen(text));
}

void rp_json_number(struct rp_json *json, const char *key, int64_t value, unsigned decimals)
{
    begin(json, key);
    rp_textbuf_number(json->out, value, decimals);
}

void rp_json_bool(struct rp_json *json, const char *key, bool value)
{
    begin(json, key);
    rp_textbuf_str(json->out, value ? "true" : "false");
}
