/* The KISS driver, plain, with acknowledgements and with checks: the first byte chooses. */
#include <stdint.h>

#include "radio_fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static size_t say_nothing(const uint8_t *written, size_t len, uint8_t *out, size_t cap)
{
    (void)written, (void)len, (void)out, (void)cap;
    return 0;
}

/* C0 0C id id ...: the type byte and the id come back, still escaped as they were. */
static size_t acknowledge(const uint8_t *written, size_t len, uint8_t *out, size_t cap)
{
    for (size_t i = 0; i + 4 < len; i++) {
        if (written[i] != 0xc0 || written[i + 1] != 0x0c) {
            continue;
        }
        size_t at = i + 2, id_bytes = 0, out_len = 0;
        out[out_len++] = 0xc0;
        out[out_len++] = 0x0c;
        while (at < len && id_bytes < 2 && out_len < cap - 1) {
            id_bytes += written[at] != 0xdb;
            out[out_len++] = written[at++];
        }
        out[out_len++] = 0xc0;
        return out_len;
    }
    return 0;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const struct fuzz_modem modems[] = {
        {"kiss", say_nothing, "\xc0\x00\x66oo\xc0", 6, false},
        {"kiss-ack", acknowledge, "\xc0\x00\x66oo\xc0", 6, false},
        {"kiss-crc", say_nothing, "\xc0\x80\x66oo\xa4\x03\xc0", 8, false},
    };
    if (size == 0) {
        return 0;
    }
    return fuzz_radio(&modems[data[0] % 3], data + 1, size - 1);
}
