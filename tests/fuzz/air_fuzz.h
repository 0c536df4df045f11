/* What a world of emulated modems asks of its program, when nobody looks. */
#ifndef RP_FUZZ_AIR_FUZZ_H
#define RP_FUZZ_AIR_FUZZ_H

#include "air/world.h"

static void air_no_log(void *ctx, rp_time_us at_us, const char *text)
{
    (void)ctx;
    (void)at_us;
    (void)text;
}

static int air_no_plug(void *ctx, unsigned station, bool plugged)
{
    (void)ctx;
    (void)station;
    (void)plugged;
    return 0;
}

static const struct air_world_ops air_no_ops = {.log = air_no_log, .plug = air_no_plug};

#endif
