/* The driver of modules that speak in hexadecimal text. */
#include <stdint.h>

#include "radio_fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static size_t answer(const uint8_t *written, size_t len, uint8_t *out, size_t cap)
{
    static const struct {
        const char *prefix, *answer;
    } rows[] = {
        {"sys get ver", "RN2483 1.0.5 Oct 31 2018 15:06:52\r\n"},
        {"sys reset", "RN2483 1.0.5 Oct 31 2018 15:06:52\r\n"},
        {"mac pause", "4294967245\r\n"},
        {"radio get", "-7\r\n"},
        {"radio tx ", "ok\r\nradio_tx_ok\r\n"},
        {"radio ", "ok\r\n"},
    };
    char line[32];
    fuzz_last_line(written, len, line, sizeof line);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (strncmp(line, rows[i].prefix, strlen(rows[i].prefix)) == 0) {
            return fuzz_say(out, cap, rows[i].answer);
        }
    }
    return len > 0 ? fuzz_say(out, cap, "invalid_param\r\n") : 0;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const struct fuzz_modem modem = {"hextext", answer, "radio_rx  666f6f\r\n", 18, false};
    return fuzz_radio(&modem, data, size);
}
