#include "daemon/power.h"

#include <string.h>

#include "port/files/battery.h"

/* A charge changes slowly: ours. */
#define LOOK_US ((rp_time_us)60 * 1000000)

void rp_power_start(struct rp_power *power, const struct rp_settings *settings)
{
    const char *battery = settings->battery;
    power->path[0] = '\0';
    if (battery[0] == '/') {
        memcpy(power->path, battery, strlen(battery) + 1);
    } else if (strcmp(battery, "none") != 0 &&
               rp_battery_find(RP_BATTERY_CLASS, power->path, sizeof power->path) < 0) {
        power->path[0] = '\0';
    }
    power->look_us = power->path[0] != '\0' ? 0 : RP_NEVER;
}

rp_time_us rp_power_wake(const struct rp_power *power)
{
    return power->look_us;
}

void rp_power_tick(struct rp_power *power, struct rp_node *node, struct rp_moment moment)
{
    if (moment.now_us >= power->look_us) {
        rp_node_set_battery(node, rp_battery_read(power->path), moment);
        power->look_us = moment.now_us + LOOK_US;
    }
}
