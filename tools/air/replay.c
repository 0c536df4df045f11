#include "air/replay.h"

#include <string.h>

/* "SECONDS.MICROSECONDS " off the front. */
static bool take_time(char **line, rp_time_us *out_us)
{
    char *point = strchr(*line, '.');
    char *blank = point == NULL ? NULL : strchr(point, ' ');
    uint32_t seconds, micros;
    if (blank == NULL || blank - point != 7) {
        return false;
    }
    *point = '\0';
    *blank = '\0';
    if (!air_parse_decimal(*line, UINT32_MAX, &seconds) ||
        !air_parse_decimal(point + 1, 999999, &micros)) {
        return false;
    }
    *line = blank + 1;
    *out_us = (rp_time_us)seconds * 1000000 + micros;
    return true;
}

static void write_hex(struct air_world *world, unsigned station, const char *hex, rp_time_us at_us)
{
    uint8_t bytes[AIR_HOST_WRITE_MAX];
    size_t len = strlen(hex) / 2 < sizeof bytes ? strlen(hex) / 2 : sizeof bytes;
    for (size_t i = 0; i < len; i++) {
        bytes[i] = (uint8_t)(air_hex_digit(hex[2 * i]) * 16 + air_hex_digit(hex[2 * i + 1]));
    }
    air_world_host_wrote(world, station, (struct rp_view){bytes, len}, at_us);
}

/* "host NAME opens", "host NAME closes", "host NAME speed BAUD", "host NAME wrote HEX" */
static int host_line(struct air_world *world, char *line, rp_time_us at_us)
{
    struct air_words w;
    if (air_words_split(line, &w) != 0 || w.count < 3) {
        return RP_E_FORMAT;
    }
    int station = air_config_find(world->config, w.word[1]);
    uint32_t baud;
    if (station < 0) {
        return station;
    }
    if (strcmp(w.word[2], "opens") == 0 || strcmp(w.word[2], "closes") == 0) {
        air_world_host_open(world, (unsigned)station, w.word[2][0] == 'o', at_us);
    } else if (strcmp(w.word[2], "wrote") == 0 && w.count == 4) {
        write_hex(world, (unsigned)station, w.word[3], at_us);
    } else if (strcmp(w.word[2], "speed") == 0 && w.count == 4 &&
               air_parse_decimal(w.word[3], UINT32_MAX, &baud)) {
        air_world_host_speed(world, (unsigned)station, baud, at_us);
    } else {
        return RP_E_FORMAT;
    }
    return 0;
}

int air_replay_line(struct air_world *world, char *line)
{
    rp_time_us at_us;
    line[strcspn(line, "\r\n")] = '\0';
    if (!take_time(&line, &at_us)) {
        return RP_E_FORMAT;
    }
    air_world_tick(world, at_us);
    if (strncmp(line, "host ", 5) == 0) {
        return host_line(world, line, at_us);
    }
    if (strncmp(line, "command ", 8) == 0) {
        char reply[AIR_REPLY_CAP];
        air_command(world, line + 8, reply, at_us);
    }
    return 0;
}
