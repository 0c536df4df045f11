#include "daemon/bell.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "port/process/command.h"

#define SECOND_US ((rp_time_us)1000000)
/* How often alarms are judged: a stopped pump is to be told within 60 to 70 s. */
#define LOOK_US (10 * SECOND_US)
#define SOON_US SECOND_US
/* Alarms remembered as told. When full, one that is no patient's gives way, else the one told
 * longest ago: it is then told once too often, never too seldom. */
#define TOLD_MAX 128

struct told {
    bool used, stands; /* stands: seen at this look */
    struct rp_episode_ref episode;
    uint8_t rule, subject;
    enum rp_sound sound;
    uint32_t since_s;
    bool clinical;
    rp_time_us told_us;
};

struct candidate {
    bool found, exercise;
    struct rp_alarm alarm;
    struct rp_episode_ref episode;
    rp_time_us told_us; /* RP_NEVER: not yet */
};

struct rp_bell {
    struct rp_node *node;
    const struct rp_bell_settings *settings;
    void (*say)(const char *text);
    struct rp_command *command; /* NULL: none */
    rp_time_us look_us;
    struct told told[TOLD_MAX];
    /* Of the look in progress: */
    struct rp_moment moment;
    struct candidate best;
    bool any_open, more;
    bool complained; /* about the command, once until it works */
};

static void on_end(void *ctx, enum rp_command_end end)
{
    struct rp_bell *bell = ctx;
    if (end == RP_COMMAND_WELL) {
        bell->complained = false;
    } else if (!bell->complained) {
        bell->complained = true;
        bell->say(end == RP_COMMAND_TOO_LONG ? "the alarm command took too long and was killed"
                                             : "the alarm command failed");
    }
}

int rp_bell_new(struct rp_loop *loop, struct rp_node *node, const struct rp_bell_settings *settings,
                void (*say)(const char *text), struct rp_bell **out_bell)
{
    struct rp_bell *bell = calloc(1, sizeof *bell);
    int code = bell != NULL ? RP_OK : RP_E_MEMORY;
    if (code == RP_OK && settings->command[0] != '\0') {
        code = rp_command_new(loop, settings->command, settings->timeout_s * SECOND_US, on_end,
                              bell, &bell->command);
    }
    if (code < 0) {
        free(bell);
        return code;
    }
    bell->node = node;
    bell->settings = settings;
    bell->say = say;
    bell->look_us = 0;
    *out_bell = bell;
    return RP_OK;
}

void rp_bell_free(struct rp_bell *bell)
{
    if (bell != NULL) {
        rp_command_free(bell->command);
        free(bell);
    }
}

/* How often a sounding alarm is told again: ours. */
static rp_time_us repeat_us(enum rp_sound sound)
{
    return sound == RP_SOUND_FAST   ? 15 * SECOND_US
           : sound == RP_SOUND_LOUD ? 60 * SECOND_US
                                    : 300 * SECOND_US;
}

static struct told *find_told(struct rp_bell *bell, struct rp_episode_ref episode,
                              const struct rp_alarm *alarm)
{
    for (size_t i = 0; i < TOLD_MAX; i++) {
        struct told *told = &bell->told[i];
        if (told->used && told->episode.origin == episode.origin &&
            told->episode.number == episode.number && told->rule == alarm->rule->number &&
            told->subject == alarm->subject && told->since_s == alarm->since_s &&
            told->sound == alarm->sound) {
            return told;
        }
    }
    return NULL;
}

/* True when a is to be told before b; both are due. */
static bool presses_more(const struct rp_alarm *a, rp_time_us a_us, const struct candidate *b)
{
    if (a->sound != b->alarm.sound) {
        return a->sound > b->alarm.sound;
    }
    if (a->rule->clinical != b->alarm.rule->clinical) {
        return a->rule->clinical;
    }
    return b->told_us != RP_NEVER && (a_us == RP_NEVER || a_us < b->told_us);
}

static void weigh(struct rp_bell *bell, struct rp_episode_ref ref, bool exercise,
                  const struct rp_alarm *alarm)
{
    struct told *told = find_told(bell, ref, alarm);
    rp_time_us told_us = told != NULL ? told->told_us : RP_NEVER;
    if (told != NULL) {
        told->stands = true;
    }
    if (!rp_alarm_sounds(alarm) ||
        (told_us != RP_NEVER && bell->moment.now_us - told_us < repeat_us(alarm->sound))) {
        return;
    }
    bell->more = bell->more || bell->best.found;
    if (!bell->best.found || presses_more(alarm, told_us, &bell->best)) {
        bell->best = (struct candidate){true, exercise, *alarm, ref, told_us};
    }
}

static int look_at(void *arg, struct rp_episode_ref ref)
{
    struct rp_bell *bell = arg;
    const struct rp_episode *episode;
    struct rp_alarms alarms;
    if (rp_node_watch_places(bell->node, ref) == 0 ||
        rp_node_watch(bell->node, ref, bell->moment, &episode, &alarms) < 0) {
        return 0;
    }
    bell->any_open = bell->any_open || !episode->closed || alarms.count > 0;
    for (size_t i = 0; i < alarms.count; i++) {
        weigh(bell, ref, episode->exercise, &alarms.at[i]);
    }
    return 0;
}

static void remember(struct rp_bell *bell)
{
    struct told *slot = find_told(bell, bell->best.episode, &bell->best.alarm);
    for (size_t i = 0; slot == NULL && i < TOLD_MAX; i++) {
        slot = !bell->told[i].used ? &bell->told[i] : NULL;
    }
    if (slot == NULL) {
        slot = &bell->told[0];
        for (size_t i = 1; i < TOLD_MAX; i++) {
            const struct told *told = &bell->told[i];
            bool gives_way =
                told->clinical != slot->clinical ? !told->clinical : told->told_us < slot->told_us;
            slot = gives_way ? &bell->told[i] : slot;
        }
    }
    const struct rp_alarm *alarm = &bell->best.alarm;
    *slot = (struct told){
        .used = true,
        .episode = bell->best.episode,
        .rule = alarm->rule->number,
        .subject = alarm->subject,
        .sound = alarm->sound,
        .since_s = alarm->since_s,
        .clinical = alarm->rule->clinical,
        .told_us = bell->moment.now_us,
    };
}

/* Line and bell; a terminal that cannot take it now is passed over. */
static void ring_terminal(const struct rp_bell *bell, const char *episode)
{
    char line[300];
    const struct rp_alarm *alarm = &bell->best.alarm;
    if (bell->settings->terminal[0] == '\0') {
        return;
    }
    int fd =
        open(bell->settings->terminal, O_WRONLY | O_APPEND | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (fd < 0) {
        return;
    }
    int len = snprintf(line, sizeof line, "\a\r\n%sALARM %s %s: %s\r\n  next: %s\r\n",
                       bell->best.exercise ? "EXERCISE " : "", episode, alarm->rule->word,
                       alarm->reason, alarm->rule->next);
    size_t put = len < (int)sizeof line ? (size_t)len : sizeof line - 1;
    for (size_t i = 0; i < put; i++) { /* drug names are typed by people */
        unsigned char c = (unsigned char)line[i];
        line[i] = (c < 0x20 && c != '\a' && c != '\r' && c != '\n') || c == 0x7f ? '?' : line[i];
    }
    ssize_t wrote = write(fd, line, put);
    (void)wrote;
    close(fd);
}

static int run_command(struct rp_bell *bell, const char *episode)
{
    char since[24], station[8];
    const struct rp_alarm *alarm = &bell->best.alarm;
    snprintf(since, sizeof since, "%lld",
             (long long)alarm->since_s + (long long)RP_NET_EPOCH_UNIX_S);
    snprintf(station, sizeof station, "%u", rp_node_config(bell->node)->station);
    const struct rp_command_var vars[] = {
        {"RIDGEPOST_STATION", station},
        {"RIDGEPOST_EPISODE", episode},
        {"RIDGEPOST_RULE", alarm->rule->word},
        {"RIDGEPOST_SOUND", rp_sound_word(alarm->sound)},
        {"RIDGEPOST_SINCE", since}, /* Unix seconds */
        {"RIDGEPOST_REASON", alarm->reason},
        {"RIDGEPOST_NEXT", alarm->rule->next},
        {"RIDGEPOST_EXERCISE", bell->best.exercise ? "yes" : "no"},
    };
    return rp_command_run(bell->command, vars, sizeof vars / sizeof vars[0]);
}

/* While the command still speaks of another alarm this one waits; it stands, so it is not lost. */
static void tell(struct rp_bell *bell)
{
    char episode[24];
    if (bell->command != NULL && rp_command_running(bell->command)) {
        bell->more = true;
        return;
    }
    snprintf(episode, sizeof episode, "%u-%u", rp_origin_station(bell->best.episode.origin),
             bell->best.episode.number);
    ring_terminal(bell, episode);
    if (bell->command != NULL && run_command(bell, episode) < 0 && !bell->complained) {
        bell->complained = true;
        bell->say("the alarm command cannot be started");
    }
    remember(bell);
}

static void forget_cleared(struct rp_bell *bell)
{
    for (size_t i = 0; i < TOLD_MAX; i++) {
        bell->told[i].used = bell->told[i].used && bell->told[i].stands;
        bell->told[i].stands = false;
    }
}

rp_time_us rp_bell_wake(const struct rp_bell *bell)
{
    rp_time_us command_us = bell->command != NULL ? rp_command_wake(bell->command) : RP_NEVER;
    return rp_sooner_us(command_us, bell->look_us);
}

void rp_bell_stir(struct rp_bell *bell, struct rp_moment moment)
{
    if (moment.now_us + SOON_US < bell->look_us) {
        bell->look_us = moment.now_us + SOON_US;
    }
}

void rp_bell_tick(struct rp_bell *bell, struct rp_moment moment)
{
    if (bell->command != NULL) {
        rp_command_tick(bell->command);
    }
    if (moment.now_us < bell->look_us) {
        return;
    }
    bell->moment = moment;
    bell->best.found = bell->any_open = bell->more = false;
    rp_node_each_episode(bell->node, look_at, bell);
    forget_cleared(bell);
    if (bell->best.found) {
        tell(bell);
    }
    bell->look_us = bell->more       ? moment.now_us + SOON_US
                    : bell->any_open ? moment.now_us + LOOK_US
                                     : RP_NEVER;
}
