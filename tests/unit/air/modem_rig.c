#include "rp_test.h"

#include <string.h>

#include "modem_rig.h"

const struct air_settings rig_start = {.freq_hz = 869525000,
                                       .bandwidth_hz = 125000,
                                       .preamble_symbols = 8,
                                       .spreading_factor = 7,
                                       .coding_rate = 5,
                                       .sync_word = 0x12,
                                       .crc = true};

void rig_boot(struct air_modem *modem, enum air_family family, const struct air_options *options)
{
    struct air_options defaults = air_options_default(family);
    air_modem_init(modem, family, options == NULL ? &defaults : options, &rig_start, 5);
    air_modem_power(modem, 0);
    if (modem->wake_us != RP_NEVER) {
        air_modem_tick(modem, modem->wake_us, false, RP_NEVER);
    }
    modem->out_len = 0;
    modem->abort = false;
}

void rig_write(struct air_modem *modem, const void *bytes, size_t len, rp_time_us now_us)
{
    const uint8_t *at = bytes;
    for (size_t i = 0; i < len; i++) {
        air_modem_host_byte(modem, at[i], now_us);
    }
}

void rig_expect(struct air_modem *modem, const void *bytes, size_t len)
{
    if (modem->out_len != len || memcmp(modem->out, bytes, len) != 0) {
        print_error("got %u bytes: %.*s\n", modem->out_len, (int)modem->out_len,
                    (const char *)modem->out);
    }
    assert_int_equal(modem->out_len, len);
    assert_memory_equal(modem->out, bytes, len);
    modem->out_len = 0;
}

void rig_ask(struct air_modem *modem, const char *line, const char *answer, rp_time_us now_us)
{
    rig_write(modem, line, strlen(line), now_us);
    rig_write(modem, "\r\n", 2, now_us);
    rig_expect(modem, answer, strlen(answer));
}

void rig_expect_sending(struct air_modem *modem, const void *bytes, size_t len)
{
    assert_true(modem->frame_ready);
    assert_true(modem->transmitting);
    assert_int_equal(modem->frame.len, len);
    assert_memory_equal(modem->frame.bytes, bytes, len);
    modem->frame_ready = false;
}
