#include "cli/radios.h"

#include <jansson.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sysexits.h>

#include "port/clock.h"
#include "port/files/netfile.h"
#include "port/line.h"
#include "port/pins/pin.h"
#include "port/ports/ports.h"
#include "radio/probe/probe.h"

static const char usage[] =
    "usage: ridgepost radios                  the serial ports, and who holds them\n"
    "       ridgepost radios try PORT [WORD VALUE]...\n"
    "Finds the modem's family, speed and settings. Nothing is transmitted: a transparent module\n"
    "(E22, E32, E220) would send whatever is written to it, so unless you say more, this only\n"
    "listens, for 2 s at each speed.\n"
    "  --sure        it is surely no transparent module: ask it\n"
    "  pin dtr       its mode pin is wired so (dtr, rts, gpiochip0:17; high is configuration): "
    "ask\n"
    "                a transparent module there, where it sends nothing\n"
    "  baud 9600     try this speed alone\n"
    "  listen 60s    listen so long at each speed; a KISS modem is known only by what it hears\n"
    "  net FILE      compare its settings with this net's\n";

static int fail(const struct rp_problem *problem)
{
    fprintf(stderr, "ridgepost: %s\n", problem->text);
    switch (problem->code) {
    case RP_E_PERMISSION:
        return EX_NOPERM;
    case RP_E_TAKEN:
        return EX_TEMPFAIL;
    case RP_E_INVALID:
    case RP_E_FORMAT:
    case RP_E_TOO_LONG:
        return EX_DATAERR;
    default:
        return EX_UNAVAILABLE;
    }
}

static int print_json(json_t *json)
{
    char *text = json_dumps(json, JSON_COMPACT);
    json_decref(json);
    if (text == NULL) {
        fputs("ridgepost: out of memory\n", stderr);
        return EX_OSERR;
    }
    puts(text);
    free(text);
    return EX_OK;
}

/* --- the list --- */

struct listing {
    json_t *ports; /* NULL: as text */
    size_t count;
};

static void show_port(const struct rp_port_info *port)
{
    printf("%s", port->device);
    if (port->has_usb) {
        printf("  USB %04x:%04x %s %s, %s%s", port->vendor, port->product, port->maker, port->model,
               port->serial[0] != '\0' ? "serial number " : "no serial number", port->serial);
    }
    printf("\n  port = %s\n", port->stable[0] != '\0' ? port->stable : port->device);
    if (rp_port_shares_name(port)) {
        puts("  another adapter of this kind has the same name by id: this one is told by its "
             "socket");
    }
    if (port->holder.pid != 0) {
        printf("  held by %s (process %d)%s\n", port->holder.name, port->holder.pid,
               strcmp(port->holder.name, "ridgepostd") == 0 ? ": a running station" : "");
    } else {
        printf("  %s\n", port->allowed ? "nobody is seen to hold it"
                                       : "this user may not open it: see the group of the device");
    }
}

static json_t *port_json(const struct rp_port_info *port)
{
    json_t *json = json_pack("{s:s,s:s,s:b}", "device", port->device, "stable", port->stable,
                             "allowed", port->allowed);
    if (port->has_usb) {
        char numbers[12];
        snprintf(numbers, sizeof numbers, "%04x:%04x", port->vendor, port->product);
        json_t *usb = json_pack("{s:s}", "numbers", numbers);
        /* An adapter may say anything: text that is not UTF-8 stays out. */
        json_object_set_new(usb, "serial", json_string(port->serial));
        json_object_set_new(usb, "maker", json_string(port->maker));
        json_object_set_new(usb, "model", json_string(port->model));
        json_object_set_new(json, "usb", usb);
    }
    if (port->holder.pid != 0) {
        json_object_set_new(json, "holder",
                            json_pack("{s:i,s:s,s:b}", "pid", port->holder.pid, "name",
                                      port->holder.name, "locked", port->holder.locked));
    }
    return json;
}

static void list_port(void *ctx, const struct rp_port_info *port)
{
    struct listing *listing = ctx;
    listing->count++;
    if (listing->ports != NULL) {
        json_array_append_new(listing->ports, port_json(port));
    } else {
        show_port(port);
    }
}

static int list(const struct rp_options *options)
{
    struct listing listing = {.ports = options->json ? json_array() : NULL};
    struct rp_problem problem = {0};
    if (rp_ports_list(list_port, &listing, &problem) < 0) {
        json_decref(listing.ports);
        return fail(&problem);
    }
    if (options->json) {
        return print_json(json_pack("{s:i,s:b,s:o}", "v", 1, "ok", 1, "ports", listing.ports));
    }
    if (listing.count == 0) {
        puts("no serial port is there: is the radio plugged in and powered?");
    }
    return EX_OK;
}

/* --- one port --- */

struct trial {
    const char *port;
    char device[RP_LINE_TARGET_CAP]; /* the port with links resolved */
    char stable[RP_LINE_TARGET_CAP]; /* its stable name; empty: none is known */
    char pin[32];
    struct rp_probe_options options;
    bool has_net;
    struct rp_net net;
    struct rp_line line;
    struct rp_pin mode_pin;
    struct rp_probe probe;
};

static bool read_number(const char *text, long min, long max, const char *unit, uint32_t *out)
{
    char *end;
    long value = strtol(text, &end, 10);
    if (end == text || (strcmp(end, unit) != 0 && *end != '\0') || value < min || value > max) {
        return false;
    }
    *out = (uint32_t)value;
    return true;
}

static int read_word(struct trial *trial, const char *word, const char *value,
                     struct rp_problem *problem)
{
    uint32_t seconds;
    if (strcmp(word, "pin") == 0 && strlen(value) < sizeof trial->pin) {
        strcpy(trial->pin, value);
        trial->options.has_mode_pin = true;
        return RP_OK;
    }
    if (strcmp(word, "baud") == 0 && read_number(value, 1200, 921600, "", &trial->options.baud)) {
        return rp_line_check(trial->port, trial->options.baud, problem);
    }
    if (strcmp(word, "listen") == 0 && read_number(value, 1, 3600, "s", &seconds)) {
        trial->options.listen_ms = seconds * 1000;
        return RP_OK;
    }
    if (strcmp(word, "net") == 0) {
        trial->has_net = true;
        return rp_netfile_read(value, &trial->net, problem);
    }
    return rp_problem_set(problem, RP_E_INVALID, word,
                          "\"%.40s %.40s\": what may follow the port is baud 9600, listen 60s "
                          "(1 to 3600), pin dtr, net FILE",
                          word, value);
}

static int read_words(const struct rp_options *options, struct trial *trial,
                      struct rp_problem *problem)
{
    trial->port = options->words[2];
    trial->options.may_ask = options->sure;
    for (size_t i = 3; i < options->count; i += 2) {
        if (i + 1 == options->count) {
            return rp_problem_set(problem, RP_E_FORMAT, options->words[i],
                                  "%.60s: a value is missing after it", options->words[i]);
        }
        int code = read_word(trial, options->words[i], options->words[i + 1], problem);
        if (code < 0) {
            return code;
        }
    }
    if (strncmp(trial->port, "tcp:", 4) == 0 && trial->options.baud == 0) {
        trial->options.baud = 115200; /* a connection has no speed: once is enough */
    }
    return RP_OK;
}

static void fulfil_wishes(struct trial *trial)
{
    enum rp_radio_wish wish;
    while ((wish = rp_probe_take_wish(&trial->probe)) != RP_RADIO_WISH_NONE) {
        rp_pin_set(&trial->mode_pin, &trial->line, wish == RP_RADIO_WISH_MODE_CONFIG);
    }
}

/* Writes what the probe asks; a port that takes nothing at once has no modem that answers. */
static int write_line(struct trial *trial)
{
    uint8_t bytes[64];
    size_t len = rp_probe_take_output(&trial->probe, bytes, sizeof bytes);
    size_t at = 0;
    while (at < len) {
        int put = rp_line_write(&trial->line, bytes + at, len - at);
        if (put < 0) {
            return put == RP_E_BUSY ? RP_OK : put;
        }
        at += (size_t)put;
    }
    return RP_OK;
}

static int read_line(struct trial *trial)
{
    uint8_t bytes[512];
    int got;
    while ((got = rp_line_read(&trial->line, bytes, sizeof bytes)) > 0) {
        struct rp_view view = {bytes, (size_t)got};
        rp_probe_receive(&trial->probe, view, rp_clock_now_us());
    }
    return got == RP_E_BUSY ? RP_OK : got;
}

/* Waits for bytes or for the probe's deadline. */
static int turn(struct trial *trial)
{
    int64_t wait_us = rp_probe_wake(&trial->probe) - rp_clock_now_us();
    bool connecting = rp_line_ready(&trial->line) == RP_E_BUSY;
    struct pollfd watched = {.fd = rp_line_fd(&trial->line),
                             .events = connecting ? POLLOUT : POLLIN};
    poll(&watched, 1, wait_us > 0 ? (int)(wait_us / 1000) + 1 : 0);
    int code = rp_line_ready(&trial->line);
    if (code == RP_OK) {
        code = read_line(trial);
    }
    if (code < 0 && code != RP_E_BUSY) {
        return code;
    }
    if (rp_clock_now_us() >= rp_probe_wake(&trial->probe)) {
        rp_probe_tick(&trial->probe, rp_clock_now_us());
    }
    return RP_OK;
}

static int run(struct trial *trial, struct rp_problem *problem)
{
    uint32_t baud = rp_probe_baud(&trial->probe);
    int code = RP_OK;
    fulfil_wishes(trial);
    while (code == RP_OK && rp_probe_wake(&trial->probe) != RP_NEVER) {
        if (rp_probe_baud(&trial->probe) != baud) {
            baud = rp_probe_baud(&trial->probe);
            code = rp_line_set_baud(&trial->line, baud);
        }
        code = code == RP_OK ? write_line(trial) : code;
        code = code == RP_OK ? turn(trial) : code;
        fulfil_wishes(trial);
    }
    if (code < 0) {
        *problem = *rp_line_fault(&trial->line);
        return problem->code < 0 ? code
                                 : rp_problem_set(problem, code, "port", "%s does not take %u baud",
                                                  trial->port, (unsigned)baud);
    }
    return RP_OK;
}

static int open_and_run(struct trial *trial, struct rp_problem *problem)
{
    int code = rp_pin_open(&trial->mode_pin, trial->pin, problem);
    if (code < 0) {
        return code;
    }
    rp_probe_start(&trial->probe, &trial->options, rp_clock_now_us());
    code = rp_line_open(&trial->line, trial->port, rp_probe_baud(&trial->probe), NULL, problem);
    if (code == RP_OK) {
        strcpy(trial->device, trial->line.device);
        code = run(trial, problem);
        rp_line_close(&trial->line);
    }
    rp_pin_close(&trial->mode_pin);
    return code;
}

/* --- what was found --- */

static const char *const whats[] = {
    [RP_PROBE_LISTENED] = "listened",
    [RP_PROBE_ASKED] = "asked AT and hexadecimal-text modules",
    [RP_PROBE_REGISTERS] = "asked for registers in configuration mode",
};

static void show_tries(const struct trial *trial, FILE *file)
{
    const struct rp_probe_try *tried;
    for (size_t i = 0; (tried = rp_probe_tried(&trial->probe, i)) != NULL; i++) {
        fprintf(file, "  %6u baud: %s%s%s, ", (unsigned)tried->baud, whats[tried->what],
                tried->driver != NULL ? " as " : "", tried->driver != NULL ? tried->driver : "");
        if (tried->bytes == 0) {
            fputs("nothing came\n", file);
        } else {
            fprintf(file, "%u bytes came\n", (unsigned)tried->bytes);
        }
    }
}

static int show_nothing(const struct trial *trial)
{
    const struct rp_probe_options *options = &trial->options;
    fprintf(stderr, "ridgepost: no modem was found on %s; tried without transmitting:\n",
            trial->port);
    show_tries(trial, stderr);
    if (options->has_mode_pin) {
        fputs("check the pin, power and cable; without the pin it is not tried as another family\n",
              stderr);
    } else if (!options->may_ask) {
        fputs("nothing was written, since a transparent module would send it. If it is surely "
              "none: --sure.\nIf it is one whose mode pin is wired: pin dtr (radios --help)\n",
              stderr);
    } else {
        fputs("a KISS modem answers nothing: it is known only by what it hears (listen 60s). Else "
              "check\npower, cable and whether another program set it to another speed\n",
              stderr);
    }
    return EX_UNAVAILABLE;
}

/* In the form that `net make` takes. */
static void print_value(enum rp_setting setting, int32_t value)
{
    if (setting == RP_SETTING_SYNC) {
        printf("0x%02x", (unsigned)value);
    } else {
        printf("%ld", (long)value);
    }
}

static void show_settings(const struct trial *trial)
{
    const struct rp_probe_found *found = rp_probe_found(&trial->probe);
    for (unsigned i = 0; i < RP_SETTING_COUNT; i++) {
        enum rp_setting setting = (enum rp_setting)i;
        if ((found->said.known >> i & 1) == 0) {
            continue;
        }
        int32_t said = rp_setting_value(&found->said.profile, setting);
        int32_t wanted = rp_setting_value(&trial->net.profile, setting);
        printf("  %s ", rp_setting_name(setting));
        print_value(setting, said);
        if (trial->has_net && wanted != said) {
            printf("   DIFFERS: the net has ");
            print_value(setting, wanted);
        }
        putchar('\n');
    }
}

static void show_registers(const struct rp_probe_found *found)
{
    printf("  channel %u", found->channel);
    for (size_t i = 0; i < 2; i++) {
        if (found->channel_hz[i] != 0) {
            printf(", %u.%03u MHz", (unsigned)(found->channel_hz[i] / 1000000),
                   (unsigned)(found->channel_hz[i] / 1000 % 1000));
        }
    }
    printf("%s, air rate %u bit/s\n",
           found->channel_hz[0] != 0 && found->channel_hz[1] != 0 ? " by the model" : "",
           (unsigned)found->air_bps);
    if (found->has_network) {
        printf("  network %u\n", found->network);
    }
    if (found->fixed) {
        puts("  fixed mode is on: the station switches it off at each start, with the mode pin");
    }
}

static void keep_stable(void *ctx, const struct rp_port_info *port)
{
    struct trial *trial = ctx;
    if (strcmp(port->device, trial->device) == 0) {
        strcpy(trial->stable, port->stable);
    }
}

/* What a station's configuration needs to say. */
static void show_section(struct trial *trial)
{
    const struct rp_probe_found *found = rp_probe_found(&trial->probe);
    bool named = strncmp(trial->port, "/dev/serial/", 12) == 0; /* a stable name already */
    if (!named) {
        rp_ports_list(keep_stable, trial, NULL);
    }
    printf("for its configuration:\n[radio]\nmodem = %s\nport = %s\n", found->driver,
           trial->stable[0] != '\0' ? trial->stable : trial->port);
    if (strncmp(trial->port, "tcp:", 4) != 0) {
        printf("baud = %u\n", (unsigned)found->baud);
    }
    if (trial->pin[0] != '\0') {
        printf("mode_pin = %s\n", trial->pin);
    }
}

static void show_found(const struct trial *trial)
{
    const struct rp_probe_found *found = rp_probe_found(&trial->probe);
    printf("%s: modem = %s, %u baud%s%s%s\n", trial->port, found->driver, (unsigned)found->baud,
           found->by_frame ? ", by what it gave unasked" : "", found->module[0] != '\0' ? ", " : "",
           found->module);
    if (found->has_registers) {
        show_registers(found);
    } else if (found->said.known != 0) {
        show_settings(trial);
    } else {
        puts("  its settings were not asked for, or it cannot tell them");
    }
    if (strcmp(found->driver, "kiss") == 0) {
        puts("  kiss-ack tells when a frame has left, if the modem can; it falls back by itself");
    }
}

static json_t *settings_json(const struct rp_probe_found *found)
{
    json_t *settings = json_object();
    for (unsigned i = 0; i < RP_SETTING_COUNT; i++) {
        if ((found->said.known >> i & 1) != 0) {
            int32_t value = rp_setting_value(&found->said.profile, (enum rp_setting)i);
            json_object_set_new(settings, rp_setting_name((enum rp_setting)i), json_integer(value));
        }
    }
    if (found->has_registers) {
        json_object_set_new(settings, "air_bps", json_integer(found->air_bps));
        json_object_set_new(settings, "channel", json_integer(found->channel));
        json_object_set_new(
            settings, "channel_hz",
            json_pack("[i,i]", (int)found->channel_hz[0], (int)found->channel_hz[1]));
    }
    return settings;
}

static int show_json(const struct trial *trial)
{
    const struct rp_probe_found *found = rp_probe_found(&trial->probe);
    const struct rp_probe_try *tried;
    json_t *tries = json_array();
    for (size_t i = 0; (tried = rp_probe_tried(&trial->probe, i)) != NULL; i++) {
        json_array_append_new(tries, json_pack("{s:i,s:s,s:i}", "baud", (int)tried->baud, "what",
                                               whats[tried->what], "bytes", (int)tried->bytes));
    }
    bool any = found->driver != NULL;
    json_t *json =
        json_pack("{s:i,s:b,s:s,s:o}", "v", 1, "ok", any, "port", trial->port, "tried", tries);
    if (any) {
        json_object_set_new(json, "modem", json_string(found->driver));
        json_object_set_new(json, "baud", json_integer(found->baud));
        json_object_set_new(json, "by_frame", json_boolean(found->by_frame));
        json_object_set_new(json, "module", json_string(found->module));
        json_object_set_new(json, "settings", settings_json(found));
    }
    int status = print_json(json);
    return status == EX_OK && !any ? EX_UNAVAILABLE : status;
}

static int try_port(const struct rp_options *options)
{
    static struct trial trial; /* large: the probe holds two radios */
    struct rp_problem problem = {0};
    int code = read_words(options, &trial, &problem);
    if (code == RP_OK) {
        code = open_and_run(&trial, &problem);
    }
    if (code < 0) {
        return fail(&problem);
    }
    if (options->json) {
        return show_json(&trial);
    }
    if (rp_probe_found(&trial.probe)->driver == NULL) {
        return show_nothing(&trial);
    }
    show_found(&trial);
    show_section(&trial);
    return EX_OK;
}

int rp_cli_radios(const struct rp_options *options)
{
    if (options->help) {
        fputs(usage, stdout);
        return EX_OK;
    }
    if (options->count == 1) {
        return list(options);
    }
    if (options->count >= 3 && strcmp(options->words[1], "try") == 0) {
        return try_port(options);
    }
    fputs(usage, stderr);
    return EX_USAGE;
}
