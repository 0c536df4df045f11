/* Text as configuration, then as commands. */
#include <stdint.h>
#include <string.h>

#include "air_fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* Copies the next line; false at the end. */
static bool next_line(const uint8_t **data, size_t *size, char line[AIR_CONFIG_CAP])
{
    if (*size == 0) {
        return false;
    }
    size_t len = 0;
    while (*size > 0 && len < AIR_CONFIG_CAP - 1) {
        char c = (char)**data;
        (*data)++;
        (*size)--;
        if (c == '\n') {
            break;
        }
        line[len++] = c;
    }
    line[len] = '\0';
    return true;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct air_world world;
    static struct air_config config;
    char line[AIR_CONFIG_CAP], reply[AIR_REPLY_CAP];
    const uint8_t *at = data;
    size_t left = size;
    air_config_init(&config);
    while (next_line(&at, &left, line)) {
        struct rp_problem problem;
        air_config_line(&config, line, &problem);
    }
    if (config.count == 0) {
        return 0;
    }
    air_world_init(&world, &config, &air_no_ops, 0);
    rp_time_us now_us = 0;
    for (at = data, left = size; next_line(&at, &left, line); now_us += 10000) {
        air_command(&world, line, reply, now_us);
        air_world_tick(&world, now_us);
    }
    return 0;
}
