/* The probe that finds out what modem is on a port. The first byte says what it may do; then each
 * byte of the input is a byte from the modem, but FF lets the time of the next deadline come. */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "radio/probe/probe.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void check(bool condition)
{
    if (!condition) {
        abort();
    }
}

static void look(struct rp_probe *probe, bool may_write)
{
    uint8_t out[64];
    size_t len = rp_probe_take_output(probe, out, sizeof out);
    check(len == 0 || may_write);
    const struct rp_probe_found *found = rp_probe_found(probe);
    check(memchr(found->module, '\0', sizeof found->module) != NULL);
    check((found->said.known >> RP_SETTING_ARMOUR) == 0);
    check(rp_probe_wake(probe) != RP_NEVER || rp_probe_tried(probe, 0) != NULL ||
          found->driver != NULL);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct rp_probe probe;
    struct rp_probe_options options = {0};
    rp_time_us now_us = 1000000;
    if (size > 0) {
        options.may_ask = (data[0] & 1) != 0;
        options.has_mode_pin = (data[0] & 2) != 0;
        options.baud = (data[0] & 4) != 0 ? 9600 : 0;
    }
    bool may_write = options.may_ask || options.has_mode_pin;
    rp_probe_start(&probe, &options, now_us);
    for (size_t i = 1; i < size; i++) {
        if (data[i] == 0xff && rp_probe_wake(&probe) != RP_NEVER) {
            check(rp_probe_wake(&probe) > now_us);
            now_us = rp_probe_wake(&probe);
            rp_probe_tick(&probe, now_us);
        } else {
            rp_probe_receive(&probe, (struct rp_view){data + i, 1}, now_us);
        }
        look(&probe, may_write);
    }
    /* Whatever came, it ends: 5 speeds, each listened to and asked a bounded number of things. */
    for (int ticks = 0; rp_probe_wake(&probe) != RP_NEVER; ticks++) {
        check(ticks < 100);
        now_us = rp_probe_wake(&probe);
        rp_probe_tick(&probe, now_us);
        look(&probe, may_write);
    }
    return 0;
}
