/* Commands at run time, one a line; help.c explains each. */
#include <stdio.h>
#include <string.h>

#include "air/world.h"

#define RUBBISH_MAX 4096
#define FAIL_MAX    1000

struct call {
    struct air_world *world;
    unsigned station;
    uint32_t number;
    bool on;
    rp_time_us now_us;
};

static int do_restart(const struct call *c)
{
    air_world_restart(c->world, c->station, c->now_us);
    return 0;
}

static int do_plug(const struct call *c)
{
    return air_world_plug(c->world, c->station, true, c->now_us);
}

static int do_unplug(const struct call *c)
{
    return air_world_plug(c->world, c->station, false, c->now_us);
}

static int do_rubbish(const struct call *c)
{
    air_world_rubbish(c->world, c->station, c->number, c->now_us);
    return 0;
}

static int do_mute(const struct call *c)
{
    c->world->stations[c->station].muted = c->on;
    return 0;
}

static int do_hang(const struct call *c)
{
    air_world_hang(c->world, c->station, c->on, c->now_us);
    return 0;
}

static int do_stuck(const struct call *c)
{
    struct air_modem *modem = &c->world->stations[c->station].modem;
    air_modem_set_stuck(modem, c->on, c->now_us);
    return 0;
}

static int do_fail(const struct call *c)
{
    c->world->stations[c->station].modem.fail_sends = c->number;
    return 0;
}

static int do_drop(const struct call *c)
{
    c->world->stations[c->station].faults.drop_ppm = c->number;
    return 0;
}

static int do_add(const struct call *c)
{
    c->world->stations[c->station].faults.add_ppm = c->number;
    return 0;
}

static int do_echo(const struct call *c)
{
    c->world->stations[c->station].faults.echo = c->on;
    return 0;
}

static int do_cooked(const struct call *c)
{
    c->world->stations[c->station].faults.cooked = c->on;
    return 0;
}

static int do_noend(const struct call *c)
{
    c->world->stations[c->station].faults.lost_ends = c->number;
    return 0;
}

static int do_brownout(const struct call *c)
{
    c->world->stations[c->station].faults.brownouts = c->number;
    return 0;
}

static int do_first(const struct call *c)
{
    c->world->stations[c->station].faults.first_set = true;
    c->world->stations[c->station].faults.first_byte = (uint8_t)c->number;
    return 0;
}

/* Somebody set another speed, or the module forgot it. */
static int do_speed(const struct call *c)
{
    struct air_modem *modem = &c->world->stations[c->station].modem;
    modem->options.baud = modem->baud = c->number;
    modem->options.baud_check = true;
    if (modem->ops == &air_at_ops) {
        modem->as.at.flash.baud = c->number;
    }
    return 0;
}

static int do_offset(const struct call *c)
{
    c->world->air.offset_hz[c->station] = (int32_t)c->number;
    return 0;
}

static int do_mode(const struct call *c)
{
    return air_world_set_mode(c->world, c->station, c->on, c->now_us);
}

enum argument { NO_ARGUMENT, SWITCH, NUMBER };

static const struct verb {
    const char *word;
    enum argument argument;
    uint32_t max;
    int (*run)(const struct call *call);
} verbs[] = {
    {"restart", NO_ARGUMENT, 0, do_restart},
    {"plug", NO_ARGUMENT, 0, do_plug},
    {"unplug", NO_ARGUMENT, 0, do_unplug},
    {"rubbish", NUMBER, RUBBISH_MAX, do_rubbish},
    {"mute", SWITCH, 0, do_mute},
    {"hang", SWITCH, 0, do_hang},
    {"stuck", SWITCH, 0, do_stuck},
    {"fail", NUMBER, FAIL_MAX, do_fail},
    {"drop", NUMBER, 1000000, do_drop},
    {"add", NUMBER, 1000000, do_add},
    {"echo", SWITCH, 0, do_echo},
    {"cooked", SWITCH, 0, do_cooked},
    {"noend", NUMBER, FAIL_MAX, do_noend},
    {"brownout", NUMBER, FAIL_MAX, do_brownout},
    {"first", NUMBER, 255, do_first},
    {"speed", NUMBER, 4000000, do_speed},
    {"offset", NUMBER, 200000, do_offset},
    {"config", SWITCH, 0, do_mode},
};

static const struct verb *find_verb(const char *word)
{
    for (size_t i = 0; i < sizeof verbs / sizeof verbs[0]; i++) {
        if (strcmp(verbs[i].word, word) == 0) {
            return &verbs[i];
        }
    }
    return NULL;
}

static int parse_argument(const struct verb *verb, const struct air_words *w, struct call *call)
{
    if (w->count != (verb->argument == NO_ARGUMENT ? 2u : 3u)) {
        return RP_E_FORMAT;
    }
    if (verb->argument == NUMBER) {
        return air_parse_decimal(w->word[2], verb->max, &call->number) ? 0 : RP_E_INVALID;
    }
    if (verb->argument == SWITCH) {
        call->on = strcmp(w->word[2], "on") == 0;
        return call->on || strcmp(w->word[2], "off") == 0 ? 0 : RP_E_INVALID;
    }
    return 0;
}

static int run_verb(struct air_world *world, const struct air_words *w, rp_time_us now_us,
                    struct rp_problem *out_problem)
{
    const struct verb *verb = find_verb(w->word[0]);
    if (verb == NULL) {
        return rp_problem_set(out_problem, RP_E_NOT_FOUND, w->word[0], "no such command");
    }
    int station = w->count < 2 ? RP_E_NOT_FOUND : air_config_find(world->config, w->word[1]);
    if (station < 0) {
        return rp_problem_set(out_problem, RP_E_NOT_FOUND, w->word[0], "no such modem");
    }
    struct call call = {.world = world, .station = (unsigned)station, .now_us = now_us};
    int err = parse_argument(verb, w, &call);
    if (err != 0) {
        return rp_problem_set(out_problem, err, w->word[0], "argument missing or not possible");
    }
    err = verb->run(&call);
    if (err != 0) {
        return rp_problem_set(out_problem, err, w->word[0], "not possible now");
    }
    return 0;
}

static int run_change(struct air_world *world, const struct air_words *w,
                      struct rp_problem *out_problem)
{
    int err = air_config_change(world->config, w, out_problem);
    if (err == 0) {
        air_world_apply_links(world);
    }
    return err;
}

static size_t put_stats(const struct air_world *world, char reply[AIR_REPLY_CAP])
{
    size_t at = 0;
    for (unsigned i = 0; i < world->config->count; i++) {
        char text[AIR_REPLY_CAP / AIR_STATIONS_MAX];
        air_world_counts(world, i, text, sizeof text);
        at += (size_t)snprintf(reply + at, AIR_REPLY_CAP - at, "%s\n", text);
    }
    return at;
}

void air_command(struct air_world *world, char *line, char reply[AIR_REPLY_CAP], rp_time_us now_us)
{
    struct air_words w;
    struct rp_problem problem = {.code = 0};
    size_t at = 0;
    air_world_tick(world, now_us);
    if (strncmp(line, "stats", 5) != 0) {
        air_world_log(world, now_us, "command %s", line);
    }
    int err = air_words_split(line, &w);
    if (err != 0 || w.count == 0) {
        snprintf(reply, AIR_REPLY_CAP, "error: no command, or too many words\n");
        return;
    }
    if (strcmp(w.word[0], "stats") == 0 && w.count == 1) {
        at = put_stats(world, reply);
    } else {
        err = run_change(world, &w, &problem);
        if (err == RP_E_UNSUPPORTED) {
            err = run_verb(world, &w, now_us, &problem);
        }
    }
    if (err == 0) {
        snprintf(reply + at, AIR_REPLY_CAP - at, "ok\n");
    } else {
        snprintf(reply, AIR_REPLY_CAP, "error: %s: %s\n", problem.field, problem.text);
    }
}
