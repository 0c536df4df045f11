/* Any bytes as a person's text in JSON, CSV and XML: the text ends where the writer says, in valid
 * UTF-8, and nothing of it leaves its quotes. */
#include <assert.h>
#include <stdint.h>
#include <string.h>

#include "handover/data/cap.h"
#include "handover/data/csv.h"
#include "handover/data/json.h"
#include "handover/utf8.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define TEXT_MAX 2000

static char text[TEXT_MAX + 1], out_bytes[TEXT_MAX * 6 + 64];

static void check_utf8(const struct rp_textbuf *out)
{
    assert(!out->full);
    out_bytes[out->len] = '\0';
    assert(strlen(out_bytes) == out->len);
    for (size_t at = 0; at < out->len;) {
        uint32_t code;
        at += rp_utf8_next(out_bytes + at, &code);
        assert(code != UINT32_MAX && code >= 0x20);
    }
}

static void check_json(size_t size)
{
    struct rp_textbuf out = rp_textbuf_on(out_bytes, sizeof out_bytes - 1);
    struct rp_json json = rp_json_on(&out);
    rp_json_text_len(&json, NULL, text, size);
    check_utf8(&out);
    assert(out_bytes[0] == '"' && out_bytes[out.len - 1] == '"');
    for (size_t at = 1; at + 1 < out.len; at++) {
        assert(out_bytes[at] != '"'); /* every inner quote stands behind a backslash */
        at += out_bytes[at] == '\\';
        assert(at + 1 < out.len);
    }
}

static void check_csv(void)
{
    struct rp_textbuf out = rp_textbuf_on(out_bytes, sizeof out_bytes - 1);
    rp_csv_entered(&out, text);
    check_utf8(&out);
    assert(out_bytes[0] == '"' && out_bytes[out.len - 1] == '"' && out.len >= 2);
    assert(strchr("=+-@", out_bytes[1 + strspn(out_bytes + 1, " ")]) == NULL);
    for (size_t at = 1; at + 1 < out.len; at++) {
        if (out_bytes[at] == '"') { /* doubled, and the second is not the last */
            at++;
            assert(out_bytes[at] == '"' && at + 1 < out.len);
        }
    }
}

static void check_xml(void)
{
    struct rp_textbuf out = rp_textbuf_on(out_bytes, sizeof out_bytes - 1);
    rp_xml_text(&out, text);
    check_utf8(&out);
    assert(strpbrk(out_bytes, "<>\"") == NULL);
    for (const char *at = strchr(out_bytes, '&'); at != NULL; at = strchr(at + 1, '&')) {
        assert(strncmp(at, "&amp;", 5) == 0 || strncmp(at, "&lt;", 4) == 0 ||
               strncmp(at, "&gt;", 4) == 0 || strncmp(at, "&quot;", 6) == 0);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    size = size < TEXT_MAX ? size : TEXT_MAX;
    memcpy(text, data, size);
    text[size] = '\0';
    check_json(size);
    check_csv();
    check_xml();
    return 0;
}
