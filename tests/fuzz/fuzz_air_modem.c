/* Host bytes into the emulated modems of two stations. Each input byte below 0xe0 goes to the host
 * side of the current station; the rest steer: change the station, or let time pass. */
#include <stdint.h>
#include <stdlib.h>

#include "air_fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void set_up(struct air_world *world, struct air_config *config, uint8_t choice)
{
    air_config_init(config);
    config->mixed = (choice & 16) != 0;
    config->count = 2;
    for (unsigned i = 0; i < 2; i++) {
        struct air_config_modem *m = &config->modems[i];
        m->name[0] = (char)('a' + i);
        m->family = (enum air_family)(choice >> (2 * i) & 3);
        m->family = (choice >> (5 + i) & 1) != 0 ? AIR_UART : m->family;
        m->options = air_options_default(m->family);
        m->options.report_garbled = true;
        config->links[i][1 - i] = (struct air_config_link){.audible = true};
    }
    air_world_init(world, config, &air_no_ops, 0);
    air_world_host_open(world, 0, true, 0);
    air_world_host_open(world, 1, true, 0);
    air_world_tick(world, 1000000);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct air_world world;
    static struct air_config config;
    if (size == 0) {
        return 0;
    }
    set_up(&world, &config, data[0]);
    rp_time_us now_us = 1000000;
    unsigned station = 0;
    for (size_t i = 1; i < size; i++) {
        if (data[i] == 0xff) {
            station = 1 - station;
        } else if (data[i] >= 0xe0) {
            now_us += (rp_time_us)1 << (data[i] - 0xe0);
        } else {
            air_world_host_wrote(&world, station, (struct rp_view){&data[i], 1}, now_us);
        }
        if (now_us > 600000000) { /* ten minutes are enough for every wait there is */
            break;
        }
        air_world_tick(&world, now_us);
        uint8_t out[256];
        air_world_host_take(&world, station, out, sizeof out, now_us);
    }
    return 0;
}
