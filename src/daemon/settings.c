#include "daemon/settings.h"

#include <string.h>

#include "geo/geo.h"
#include "port/files/config.h"
#include "port/files/netfile.h"
#include "port/files/protocol.h"
#include "web/server.h"

struct raw {
    int64_t number, altitude_m, baud, antenna_gain_cdbi;
    bool has_altitude, exercise, clock_trusted, no_limit_acknowledged;
    int role, dtr, rts, low_data_rate, reset;
    char mode_pin[RP_NAME_LEN + 1];
    char name[RP_NAME_LEN + 1], callsign[RP_NAME_LEN + 1], position[65], modem[RP_NAME_LEN + 1],
        group[RP_NAME_LEN + 1];
    char net_file[RP_PATH_LEN + 1], database[RP_PATH_LEN + 1], socket[RP_PATH_LEN + 1],
        port[RP_PATH_LEN + 1], listen[RP_PATH_LEN + 1], pages_name[RP_NAME_LEN + 1],
        battery[RP_PATH_LEN + 1], protocol[RP_PATH_LEN + 1], command[RP_PATH_LEN + 1],
        terminal[RP_PATH_LEN + 1];
    int64_t timeout_s, session_min, deflation_min, descent_min, report_min, report_unstable_min,
        gauge_target_dhpa, gauge_max_dhpa, volume_dl, stroke_dl, ams_least_min, ams_usual_min,
        hape_least_min, hape_usual_min, hace_least_min, hace_usual_min;
};

static const char *const roles[] = {"camp", "relay", "base", NULL};
/* In the order of enum rp_low_data_rate. */
static const char *const low_data_rates[] = {"usual", "symbol", "125khz", NULL};
static const char *const signals[] = {"keep", "on", "off", NULL};
static const char *const resets[] = {"none", "dtr", "rts", "break", NULL};

#define TEXT(section_, name_, field_, required_, example_)                                         \
    {                                                                                              \
        .section = section_, .name = name_, .type = RP_CONFIG_TEXT,                                \
        .offset = offsetof(struct raw, field_), .size = sizeof((struct raw *)0)->field_, .min = 1, \
        .max = sizeof((struct raw *)0)->field_ - 1, .required = required_, .example = example_     \
    }

/* A number with this many decimals, kept without its point. */
#define FIGURE(section_, name_, field_, min_, max_, decimals_, example_)                           \
    {                                                                                              \
        .section = section_, .name = name_, .type = RP_CONFIG_NUMBER,                              \
        .offset = offsetof(struct raw, field_), .min = min_, .max = max_, .decimals = decimals_,   \
        .example = example_                                                                        \
    }

#define SWITCH(section_, field_)                                                                   \
    {                                                                                              \
        .section = section_, .name = #field_, .type = RP_CONFIG_SWITCH,                            \
        .offset = offsetof(struct raw, field_), .example = "yes"                                   \
    }

#define CHOICE(section_, field_, choices_, required_, example_)                                    \
    {                                                                                              \
        .section = section_, .name = #field_, .type = RP_CONFIG_CHOICE,                            \
        .offset = offsetof(struct raw, field_), .choices = choices_, .required = required_,        \
        .example = example_                                                                        \
    }

static const struct rp_config_key keys[] = {
    TEXT("treatment", "protocol", protocol, false, "/etc/ridgepost/protocol"),
    FIGURE("treatment", "session_min", session_min, 10, 240, 0, "60"),
    FIGURE("treatment", "deflation_min", deflation_min, 1, 30, 0, "3"),
    FIGURE("treatment", "descent_min", descent_min, 10, 1440, 0, "180"),
    FIGURE("treatment", "gauge_target_hpa", gauge_target_dhpa, 500, 3000, 1, "138"),
    FIGURE("treatment", "gauge_max_hpa", gauge_max_dhpa, 500, 3000, 1, "200"),
    FIGURE("treatment", "volume_l", volume_dl, 500, 20000, 1, "500"),
    FIGURE("treatment", "stroke_l", stroke_dl, 1, 160, 1, "2.0"),
    FIGURE("treatment", "ams_least_min", ams_least_min, 10, 1440, 0, "60"),
    FIGURE("treatment", "ams_usual_min", ams_usual_min, 10, 1440, 0, "60"),
    FIGURE("treatment", "hape_least_min", hape_least_min, 10, 1440, 0, "120"),
    FIGURE("treatment", "hape_usual_min", hape_usual_min, 10, 1440, 0, "240"),
    FIGURE("treatment", "hace_least_min", hace_least_min, 10, 1440, 0, "240"),
    FIGURE("treatment", "hace_usual_min", hace_usual_min, 10, 1440, 0, "360"),
    FIGURE("reports", "every_min", report_min, 5, 240, 0, "30"),
    FIGURE("reports", "unstable_min", report_unstable_min, 5, 240, 0, "15"),
    TEXT("alarm", "command", command, false, "/usr/local/bin/alarm"),
    FIGURE("alarm", "timeout_s", timeout_s, 1, 60, 0, "10"),
    TEXT("alarm", "terminal", terminal, false, "/dev/tty1"),
    {.section = "station",
     .name = "number",
     .type = RP_CONFIG_NUMBER,
     .offset = offsetof(struct raw, number),
     .min = RP_STATION_MIN,
     .max = RP_STATION_MAX,
     .required = true,
     .example = "7"},
    TEXT("station", "name", name, true, "Ridge Camp"),
    TEXT("station", "callsign", callsign, false, "RC7"),
    CHOICE("station", role, roles, true, "camp"),
    {.section = "station",
     .name = "altitude_m",
     .type = RP_CONFIG_NUMBER,
     .offset = offsetof(struct raw, altitude_m),
     .min = -450,
     .max = 8900,
     .has_flag = true,
     .flag_offset = offsetof(struct raw, has_altitude),
     .example = "5480"},
    TEXT("station", "position", position, false, "27.98800,86.92533"),
    SWITCH("station", exercise),
    SWITCH("station", clock_trusted),
    TEXT("station", "battery", battery, false, "/sys/class/power_supply/BAT0/capacity"),
    TEXT("net", "file", net_file, true, "/etc/ridgepost/karu-ri.net"),
    TEXT("store", "database", database, true, "/var/lib/ridgepost/log.db"),
    TEXT("control", "socket", socket, true, "/run/ridgepost/control.sock"),
    TEXT("control", "group", group, false, "ridgepost"),
    TEXT("pages", "listen", listen, false, "127.0.0.1:8080"),
    TEXT("pages", "name", pages_name, false, "ridge-camp.local:8080"),
    TEXT("radio", "modem", modem, false, "kiss"),
    TEXT("radio", "port", port, false, "/dev/serial/by-id/usb-..., or tcp:127.0.0.1:8001"),
    FIGURE("radio", "baud", baud, 0, 921600, 0, "57600"),
    FIGURE("radio", "antenna_gain_dbi", antenna_gain_cdbi, -3000, 3000, 2, "2.15"),
    CHOICE("radio", low_data_rate, low_data_rates, false, "usual"),
    SWITCH("radio", no_limit_acknowledged),
    CHOICE("radio", dtr, signals, false, "keep"),
    CHOICE("radio", rts, signals, false, "keep"),
    CHOICE("radio", reset, resets, false, "dtr"),
    TEXT("radio", "mode_pin", mode_pin, false, "gpiochip0:17"),
};

/* The plan's figures as they stand when the file says nothing. */
static void set_defaults(struct raw *raw)
{
    const struct rp_watch_plan *plan = &rp_watch_plan_default;
    raw->timeout_s = 10;
    memcpy(raw->battery, "auto", 5);
    raw->session_min = plan->session_s / 60;
    raw->deflation_min = plan->deflation_s / 60;
    raw->report_min = plan->report_s / 60;
    raw->report_unstable_min = plan->report_unstable_s / 60;
    raw->gauge_target_dhpa = plan->gauge_target_dhpa;
    raw->gauge_max_dhpa = plan->gauge_max_dhpa;
    raw->ams_least_min = plan->ams.least_s / 60;
    raw->ams_usual_min = plan->ams.usual_s / 60;
    raw->hape_least_min = plan->hape.least_s / 60;
    raw->hape_usual_min = plan->hape.usual_s / 60;
    raw->hace_least_min = plan->hace.least_s / 60;
    raw->hace_usual_min = plan->hace.usual_s / 60;
}

static void copy_illness(int64_t least_min, int64_t usual_min, struct rp_illness_plan *plan)
{
    plan->least_s = (uint32_t)least_min * 60;
    plan->usual_s = (uint32_t)(usual_min > least_min ? usual_min : least_min) * 60;
}

static void copy_plan(const struct raw *raw, struct rp_watch_plan *plan)
{
    *plan = rp_watch_plan_default; /* the field series and the watch for relapse are published */
    plan->session_s = (uint32_t)raw->session_min * 60;
    plan->deflation_s = (uint32_t)raw->deflation_min * 60;
    plan->descent_s = (uint32_t)raw->descent_min * 60;
    plan->report_s = (uint32_t)raw->report_min * 60;
    plan->report_unstable_s = (uint32_t)raw->report_unstable_min * 60;
    plan->gauge_target_dhpa = (int32_t)raw->gauge_target_dhpa;
    plan->gauge_max_dhpa = (int32_t)raw->gauge_max_dhpa;
    plan->volume_dl = (int32_t)raw->volume_dl;
    plan->stroke_dl = (int32_t)raw->stroke_dl;
    copy_illness(raw->ams_least_min, raw->ams_usual_min, &plan->ams);
    copy_illness(raw->hape_least_min, raw->hape_usual_min, &plan->hape);
    copy_illness(raw->hace_least_min, raw->hace_usual_min, &plan->hace);
}

/* What is shown and told of patients: the plan, the table of drugs, the bell. */
static int copy_watch(const struct raw *raw, struct rp_settings *settings,
                      struct rp_problem *out_problem)
{
    copy_plan(raw, &settings->plan);
    memcpy(settings->bell.command, raw->command, sizeof settings->bell.command);
    memcpy(settings->bell.terminal, raw->terminal, sizeof settings->bell.terminal);
    settings->bell.timeout_s = (uint32_t)raw->timeout_s;
    settings->has_protocol = raw->protocol[0] != '\0';
    if (settings->bell.command[0] != '\0' && settings->bell.command[0] != '/') {
        return rp_problem_set(out_problem, RP_E_INVALID, "command",
                              "[alarm] command = %.80s is no absolute path (example: command = "
                              "/usr/local/bin/alarm)",
                              settings->bell.command);
    }
    return settings->has_protocol
               ? rp_protocol_read(raw->protocol, &settings->protocol, out_problem)
               : RP_OK;
}

static void copy_station(const struct raw *raw, struct rp_node_config *node)
{
    node->station = (uint8_t)raw->number;
    node->role = (enum rp_role)raw->role;
    node->exercise = raw->exercise;
    node->antenna_gain_cdbd = (int16_t)(raw->antenna_gain_cdbi - RP_DIPOLE_GAIN_CDBI);
    node->low_data_rate = (enum rp_low_data_rate)raw->low_data_rate;
    node->no_limit_acknowledged = raw->no_limit_acknowledged;
    memcpy(node->name, raw->name, sizeof node->name);
    memcpy(node->callsign, raw->callsign, sizeof node->callsign);
    memcpy(node->modem, raw->modem, sizeof node->modem);
    node->altitude =
        (struct rp_altitude){raw->has_altitude, (int16_t)raw->altitude_m, RP_ALT_UNSAID};
}

static int copy_position(const struct raw *raw, struct rp_node_config *node,
                         struct rp_problem *out_problem)
{
    if (raw->position[0] == '\0') {
        return RP_OK;
    }
    struct rp_position position = {.present = true};
    uint16_t accuracy_m;
    int code =
        rp_geo_parse(raw->position, &position.lat_e6, &position.lon_e6, &accuracy_m, out_problem);
    if (code == RP_OK) {
        node->position = position;
    }
    return code;
}

static int check_battery(const char *battery, struct rp_problem *out_problem)
{
    if (battery[0] == '/' || strcmp(battery, "auto") == 0 || strcmp(battery, "none") == 0) {
        return RP_OK;
    }
    return rp_problem_set(out_problem, RP_E_INVALID, "battery",
                          "[station] battery = %.60s is none of auto, none and an absolute path "
                          "(example: battery = /sys/class/power_supply/BAT0/capacity)",
                          battery);
}

/* All that can be said about the radio before its port is opened, so that --check says it too. */
static int check_radio(const struct rp_settings *settings, struct rp_problem *out_problem)
{
    uint32_t baud = 0;
    if (settings->node.modem[0] == '\0') {
        return RP_OK;
    }
    int code = rp_node_check_radio(&settings->node, &baud, out_problem);
    if (code < 0) {
        return code;
    }
    baud = settings->baud != 0 ? settings->baud : baud;
    return rp_line_check(settings->port, baud, out_problem);
}

/* What is taken as it stands. */
static void copy_rest(const struct raw *raw, struct rp_settings *settings)
{
    memcpy(settings->net_file, raw->net_file, sizeof settings->net_file);
    memcpy(settings->database, raw->database, sizeof settings->database);
    memcpy(settings->socket, raw->socket, sizeof settings->socket);
    memcpy(settings->socket_group, raw->group, sizeof settings->socket_group);
    memcpy(settings->port, raw->port, sizeof settings->port);
    memcpy(settings->pages_listen, raw->listen, sizeof settings->pages_listen);
    memcpy(settings->pages_name, raw->pages_name, sizeof settings->pages_name);
    settings->baud = (uint32_t)raw->baud;
    settings->line =
        (struct rp_line_options){(enum rp_line_signal)raw->dtr, (enum rp_line_signal)raw->rts};
    settings->reset = (enum rp_reset)raw->reset;
    memcpy(settings->mode_pin, raw->mode_pin, sizeof settings->mode_pin);
    settings->node.baud = settings->baud;
    settings->node.has_mode_pin = raw->mode_pin[0] != '\0';
    settings->clock_trusted = raw->clock_trusted;
    memcpy(settings->battery, raw->battery, sizeof settings->battery);
}

int rp_settings_read(const char *path, struct rp_settings *out_settings,
                     struct rp_problem *out_problem)
{
    struct raw raw = {.antenna_gain_cdbi = RP_DIPOLE_GAIN_CDBI};
    struct rp_settings settings = {0};
    set_defaults(&raw);
    int code =
        rp_config_read(path, keys, sizeof keys / sizeof keys[0], &raw, sizeof raw, out_problem);
    if (code == RP_OK && (raw.port[0] == '\0') != (raw.modem[0] == '\0')) {
        code = rp_problem_set(out_problem, RP_E_INVALID, "radio",
                              "%s: [radio] needs both modem and port, or neither (example: "
                              "modem = kiss, port = /dev/ttyUSB0)",
                              path);
    }
    if (code == RP_OK) {
        copy_station(&raw, &settings.node);
        code = copy_position(&raw, &settings.node, out_problem);
    }
    if (code == RP_OK && raw.listen[0] != '\0') {
        code = rp_web_check_listen(raw.listen, out_problem);
    }
    if (code == RP_OK) {
        code = copy_watch(&raw, &settings, out_problem);
    }
    if (code == RP_OK) {
        code = check_battery(raw.battery, out_problem);
    }
    if (code == RP_OK) {
        code = rp_netfile_read(raw.net_file, &settings.node.net, out_problem);
    }
    if (code < 0) {
        return code;
    }
    copy_rest(&raw, &settings);
    code = check_radio(&settings, out_problem);
    if (code == RP_OK) {
        *out_settings = settings;
    }
    return code;
}
