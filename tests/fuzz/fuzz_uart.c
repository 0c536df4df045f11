/* The driver of transparent modules, with and without a mode pin: the first byte chooses. */
#include <stdint.h>

#include "radio_fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* In configuration mode an E22 tells registers that fit; otherwise it says nothing. */
static size_t answer(const uint8_t *written, size_t len, uint8_t *out, size_t cap)
{
    static const uint8_t block[] = {0xc1, 0x00, 0x07, 0x00, 0x00, 0x12, 0x62, 0x00, 0x12, 0x80};
    if (len < 3 || memcmp(written + len - 3, block, 3) != 0) {
        return 0;
    }
    FUZZ_CHECK(cap >= sizeof block);
    memcpy(out, block, sizeof block);
    return sizeof block;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const struct fuzz_modem modems[] = {
        {"uart-e22", answer, "\x5a\x10\x03\x66oo\x40\xbe", 8, false},
        {"uart-e22", answer, "\x5a\x10\x03\x66oo\x40\xbe", 8, true},
        {"uart-e220", answer, "\x5a\x10\x03\x66oo\x40\xbe", 8, true},
    };
    if (size == 0) {
        return 0;
    }
    return fuzz_radio(&modems[data[0] % 3], data + 1, size - 1);
}
