/* The driver of modules with AT commands. */
#include <stdint.h>

#include "radio_fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static size_t answer(const uint8_t *written, size_t len, uint8_t *out, size_t cap)
{
    char line[32];
    fuzz_last_line(written, len, line, sizeof line);
    if (strcmp(line, "AT+ADDRESS?") == 0) {
        return fuzz_say(out, cap, "+ADDRESS=0\r\n");
    }
    if (strcmp(line, "AT+NETWORKID?") == 0) {
        return fuzz_say(out, cap, "+NETWORKID=18\r\n");
    }
    if (strcmp(line, "AT+RESET") == 0) {
        return fuzz_say(out, cap, "+RESET\r\n+READY\r\n");
    }
    return strncmp(line, "AT", 2) == 0 ? fuzz_say(out, cap, "+OK\r\n") : 0;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const struct fuzz_modem modem = {"at", answer, "+RCV=0,4,Zm9v,-50,9\r\n", 21, false};
    return fuzz_radio(&modem, data, size);
}
