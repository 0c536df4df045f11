/* ridgepostd: one station. Construction order, the loop, and a clean end. */
#include <getopt.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sysexits.h>

#include "base/error.h"
#include "control/control.h"
#include "daemon/bell.h"
#include "daemon/pages.h"
#include "daemon/power.h"
#include "daemon/settings.h"
#include "daemon/wishes.h"
#include "port/client.h"
#include "port/clock.h"
#include "port/line.h"
#include "port/listener.h"
#include "port/loop.h"
#include "port/notify.h"
#include "store/store.h"

/* Waits before the port is opened again, doubling: a re-plugged adapter is back within seconds,
 * one left at home must not keep the processor awake. */
#define REOPEN_FIRST_US 1000000
#define REOPEN_LAST_US  30000000
/* A port that goes so soon after it came is often taken by another program (a braille or modem
 * service claims the adapter about a second after it is plugged in); ours. */
#define VANISHED_US 5000000

struct daemon {
    struct rp_settings settings;
    struct rp_loop *loop;
    struct rp_store *store;
    struct rp_node *node;
    struct rp_listener *listener;
    struct rp_bell *bell;
    struct rp_control control;
    struct rp_daemon_pages pages;
    uint64_t shown_revision;
    struct rp_line line;
    struct rp_wishes wishes;
    struct rp_power power;
    struct rp_loop_watch *line_watch; /* NULL: the port is closed */
    bool connecting;                  /* a TCP connection is under way */
    bool line_wants_write;
    rp_time_us reopen_us, reopen_wait_us, watchdog_us;
    rp_time_us opened_us;
    int last_open_code; /* so that a missing port is told once, not every try */
    uint8_t out[1024];
    size_t out_at, out_len;
};

/* journald reads the <N> as a priority (sd-daemon(3)). */
enum priority { ERROR = 3, WARNING = 4, NOTICE = 5, INFO = 6 };

static void say(enum priority priority, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

static void say(enum priority priority, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    fprintf(stderr, "<%d>ridgepostd: ", (int)priority);
    vfprintf(stderr, format, args);
    fputc('\n', stderr);
    va_end(args);
}

static struct rp_moment moment_now(const struct daemon *daemon)
{
    return (struct rp_moment){rp_clock_now_us(), rp_clock_unix_s(),
                              daemon->settings.clock_trusted || rp_clock_synced()};
}

static void close_line(struct daemon *daemon)
{
    rp_loop_watch_stop(daemon->line_watch);
    daemon->line_watch = NULL;
    rp_line_close(&daemon->line);
    daemon->out_at = daemon->out_len = 0;
    if (!daemon->connecting) {
        rp_node_line_closed(daemon->node, moment_now(daemon));
    }
    daemon->connecting = false;
    daemon->reopen_us = rp_clock_now_us() + daemon->reopen_wait_us;
    daemon->reopen_wait_us *= 2;
    if (daemon->reopen_wait_us > REOPEN_LAST_US) {
        daemon->reopen_wait_us = REOPEN_LAST_US;
    }
}

/* A reason that repeats itself is told once, however often the port is tried. */
static void tell_line_fault(struct daemon *daemon, const struct rp_problem *problem)
{
    if (problem->code != daemon->last_open_code) {
        say(WARNING, "%s; recording goes on, the radio is tried again", problem->text);
    }
    daemon->last_open_code = problem->code;
}

static void lose_line(struct daemon *daemon)
{
    tell_line_fault(daemon, rp_line_fault(&daemon->line));
    if (!daemon->connecting && rp_clock_now_us() - daemon->opened_us < VANISHED_US) {
        say(WARNING,
            "the port vanished as soon as it was there: if that repeats itself, another program "
            "takes it (a braille or modem service), or its power is too weak");
    }
    close_line(daemon);
}

static void line_is_open(struct daemon *daemon)
{
    char description[200];
    rp_line_describe(&daemon->line, description, sizeof description);
    say(INFO, "radio on %s", description);
    daemon->connecting = false;
    daemon->opened_us = rp_clock_now_us();
    daemon->last_open_code = 0;
    rp_wishes_opened(&daemon->wishes, &daemon->line);
    rp_node_line_opened(daemon->node, moment_now(daemon));
}

static void read_line(struct daemon *daemon)
{
    uint8_t buf[1024];
    /* Bounded, so that a port that never stops talking cannot starve the rest. */
    for (int reads = 0; reads < 16; reads++) {
        int got = rp_line_read(&daemon->line, buf, sizeof buf);
        if (got == RP_E_BUSY) {
            return;
        }
        if (got < 0) {
            lose_line(daemon);
            return;
        }
        daemon->reopen_wait_us = REOPEN_FIRST_US;
        rp_node_line_bytes(daemon->node, (struct rp_view){buf, (size_t)got}, moment_now(daemon));
        rp_bell_stir(daemon->bell, moment_now(daemon));
    }
}

/* A connection may be refused at once or later; a port is ready from the start. */
static void take_ready(struct daemon *daemon)
{
    int code = rp_line_ready(&daemon->line);
    if (code == RP_OK) {
        line_is_open(daemon);
    } else if (code != RP_E_BUSY) {
        lose_line(daemon);
    }
}

static void on_line_event(void *ctx, unsigned events)
{
    struct daemon *daemon = ctx;
    if (daemon->connecting) {
        take_ready(daemon);
        return;
    }
    if (events & (RP_LOOP_READABLE | RP_LOOP_GONE)) {
        read_line(daemon);
    }
    if ((events & RP_LOOP_GONE) && daemon->line_watch != NULL) {
        lose_line(daemon);
    }
}

static void open_line(struct daemon *daemon)
{
    struct rp_problem problem = {0};
    const struct rp_settings *settings = &daemon->settings;
    uint32_t baud = rp_node_line_baud(daemon->node);
    daemon->reopen_us = RP_NEVER;
    int code = rp_line_open(&daemon->line, settings->port, baud, &settings->line, &problem);
    if (code == RP_OK) {
        code = rp_loop_watch_start(daemon->loop, rp_line_fd(&daemon->line), RP_LOOP_READABLE,
                                   on_line_event, daemon, &daemon->line_watch);
        if (code < 0) {
            rp_problem_set(&problem, code, "port", "%s cannot be watched", settings->port);
        }
    }
    if (code < 0) {
        tell_line_fault(daemon, &problem);
        daemon->connecting = true; /* the node was never told it is open */
        close_line(daemon);
        return;
    }
    daemon->connecting = true;
    take_ready(daemon);
}

/* Moves the node's bytes to the line until either has no more. */
static void write_line(struct daemon *daemon)
{
    bool full = false;
    while (daemon->line_watch != NULL && !daemon->connecting && !full) {
        if (daemon->out_at == daemon->out_len) {
            daemon->out_at = 0;
            daemon->out_len = rp_node_line_output(daemon->node, daemon->out, sizeof daemon->out);
            if (daemon->out_len == 0) {
                break;
            }
        }
        int put = rp_line_write(&daemon->line, daemon->out + daemon->out_at,
                                daemon->out_len - daemon->out_at);
        if (put == RP_E_BUSY) {
            full = true;
        } else if (put < 0) {
            lose_line(daemon);
        } else {
            daemon->out_at += (size_t)put;
        }
    }
    bool wants_write = full || daemon->connecting;
    if (daemon->line_watch != NULL && wants_write != daemon->line_wants_write) {
        rp_loop_watch_set(daemon->line_watch,
                          RP_LOOP_READABLE | (wants_write ? RP_LOOP_WRITABLE : 0));
    }
    daemon->line_wants_write = daemon->line_watch != NULL && wants_write;
}

/* The rungs of the radio's recovery ladder that need its port. */
static void fulfil_wishes(struct daemon *daemon)
{
    enum rp_radio_wish wish;
    while (daemon->line_watch != NULL && !daemon->connecting &&
           (wish = rp_node_take_wish(daemon->node)) != RP_RADIO_WISH_NONE) {
        uint32_t baud = rp_node_line_baud(daemon->node);
        if (rp_wishes_fulfil(&daemon->wishes, wish, &daemon->line, baud, rp_clock_now_us())) {
            say(NOTICE, "the modem does not come back: its port is opened again at %u baud",
                (unsigned)baud);
            close_line(daemon);
            daemon->reopen_us = rp_clock_now_us() + REOPEN_FIRST_US;
        }
    }
}

static void on_deadline(void *ctx)
{
    struct daemon *daemon = ctx;
    rp_time_us now_us = rp_clock_now_us();
    if (now_us >= daemon->reopen_us) {
        open_line(daemon);
    }
    if (now_us >= daemon->watchdog_us) {
        rp_notify("WATCHDOG=1");
        daemon->watchdog_us = now_us + rp_notify_watchdog_us() / 2;
    }
    rp_wishes_tick(&daemon->wishes, &daemon->line, now_us);
    rp_power_tick(&daemon->power, daemon->node, moment_now(daemon));
    rp_node_tick(daemon->node, moment_now(daemon));
    rp_bell_tick(daemon->bell, moment_now(daemon));
}

static void on_turn(void *ctx)
{
    struct daemon *daemon = ctx;
    fulfil_wishes(daemon);
    write_line(daemon);
    uint64_t revision = rp_node_revision(daemon->node);
    bool changed = revision != daemon->shown_revision;
    daemon->shown_revision = revision;
    rp_time_us wake_us = rp_daemon_pages_turn(&daemon->pages, changed);
    wake_us = rp_sooner_us(wake_us, rp_node_wake(daemon->node));
    wake_us = rp_sooner_us(wake_us, daemon->wishes.reset_end_us);
    wake_us = rp_sooner_us(wake_us, daemon->reopen_us);
    wake_us = rp_sooner_us(wake_us, daemon->watchdog_us);
    wake_us = rp_sooner_us(wake_us, rp_power_wake(&daemon->power));
    wake_us = rp_sooner_us(wake_us, rp_bell_wake(daemon->bell));
    rp_loop_set_deadline(daemon->loop, wake_us);
}

static void on_signal(void *ctx, int number)
{
    struct daemon *daemon = ctx;
    if (number != SIGHUP) {
        rp_loop_stop(daemon->loop);
    }
}

/* A control request and its reply, to be freed; NULL: no memory. */
static char *act(void *ctx, struct rp_view line)
{
    struct daemon *daemon = ctx;
    char *reply = rp_control_handle(&daemon->control, line, moment_now(daemon));
    rp_node_tick(daemon->node, moment_now(daemon)); /* what was entered goes out now */
    rp_bell_stir(daemon->bell, moment_now(daemon));
    return reply;
}

static void on_request(void *ctx, rp_client_id client, struct rp_view line)
{
    static const char no_memory[] =
        "{\"v\":1,\"ok\":false,\"error\":{\"code\":\"RP_E_MEMORY\",\"field\":\"\",\"text\":"
        "\"out of memory\"}}";
    static const char too_long[] =
        "{\"v\":1,\"ok\":false,\"error\":{\"code\":\"RP_E_TOO_LONG\",\"field\":\"\",\"text\":"
        "\"the answer is too long to be sent at once: name an episode (example: log 7-1)\"}}";
    struct daemon *daemon = ctx;
    char *reply = act(daemon, line);
    const char *text = reply != NULL ? reply : no_memory;
    if (strlen(text) >= RP_CLIENT_REPLY_LEN_MAX) {
        text = too_long;
    }
    struct rp_view bytes = {(const uint8_t *)text, strlen(text)};
    struct rp_view end = {(const uint8_t *)"\n", 1};
    if (rp_listener_send(daemon->listener, client, bytes) == RP_OK) {
        rp_listener_send(daemon->listener, client, end);
    }
    free(reply);
}

static int start_node(struct daemon *daemon, struct rp_problem *problem)
{
    struct rp_node_config config = daemon->settings.node;
    config.plan = &daemon->settings.plan;
    config.protocol = daemon->settings.has_protocol ? &daemon->settings.protocol : NULL;
    int code = rp_store_open(daemon->settings.database, &daemon->store, problem);
    if (code < 0) {
        return code;
    }
    if (rp_random_bytes(&config.seed, sizeof config.seed) < 0 ||
        rp_random_bytes(&config.generation_seed, sizeof config.generation_seed) < 0) {
        return rp_problem_set(problem, RP_E_IO, "", "the kernel gives no random bytes");
    }
    if (rp_clock_boot(&config.boot) < 0) { /* then every start counts as another run */
        config.boot = (int64_t)(config.seed >> 1);
    }
    config.store = rp_store_ops();
    config.store_ctx = daemon->store;
    return rp_node_new(&config, moment_now(daemon), &daemon->node, problem);
}

static int start_listener(struct daemon *daemon, struct rp_problem *problem)
{
    const char *group = daemon->settings.socket_group;
    struct rp_listener_options options = {
        .group = group[0] != '\0' ? group : NULL,
        .full_reply = "{\"v\":1,\"ok\":false,\"error\":{\"code\":\"RP_E_FULL\",\"field\":\"\","
                      "\"text\":\"too many programs are connected to the daemon\"}}",
        .long_reply = "{\"v\":1,\"ok\":false,\"error\":{\"code\":\"RP_E_TOO_LONG\",\"field\":"
                      "\"request\",\"text\":\"the request is too long\"}}",
    };
    struct rp_listener_events events = {.ctx = daemon, .on_line = on_request};
    return rp_listener_new(daemon->loop, daemon->settings.socket, &options, &events,
                           &daemon->listener, problem);
}

static void say_warning(const char *text)
{
    say(WARNING, "%s", text);
}

static int start(struct daemon *daemon, struct rp_problem *problem)
{
    int code = rp_wishes_init(&daemon->wishes, &daemon->settings, problem);
    if (code < 0) {
        return code;
    }
    code = rp_loop_new(&daemon->loop);
    if (code == RP_OK) {
        code = rp_loop_on_signal(daemon->loop, on_signal, daemon);
    }
    if (code < 0) {
        return rp_problem_set(problem, code, "", "the event loop cannot be started");
    }
    code = start_node(daemon, problem);
    if (code == RP_OK) {
        daemon->control.node = daemon->node;
        code = start_listener(daemon, problem);
    }
    if (code == RP_OK) {
        code = rp_daemon_pages_start(&daemon->pages, &daemon->settings, daemon->loop, act, daemon,
                                     problem);
    }
    if (code == RP_OK) {
        code = rp_bell_new(daemon->loop, daemon->node, &daemon->settings.bell, say_warning,
                           &daemon->bell);
    }
    if (code < 0) {
        return code;
    }
    daemon->control.pages = daemon->pages.web != NULL ? &daemon->pages.control : NULL;
    rp_loop_on_deadline(daemon->loop, on_deadline, daemon);
    rp_loop_on_turn(daemon->loop, on_turn, daemon);
    rp_power_start(&daemon->power, &daemon->settings);
    daemon->reopen_wait_us = REOPEN_FIRST_US;
    daemon->reopen_us = daemon->settings.port[0] != '\0' ? rp_clock_now_us() : RP_NEVER;
    rp_time_us watchdog_us = rp_notify_watchdog_us();
    daemon->watchdog_us = watchdog_us == RP_NEVER ? RP_NEVER : rp_clock_now_us() + watchdog_us / 2;
    rp_loop_set_deadline(daemon->loop, rp_clock_now_us());
    return RP_OK;
}

static void stop(struct daemon *daemon)
{
    rp_daemon_pages_stop(&daemon->pages);
    rp_listener_free(daemon->listener);
    rp_bell_free(daemon->bell);
    if (daemon->line_watch != NULL) {
        rp_loop_watch_stop(daemon->line_watch);
        daemon->line_watch = NULL;
        rp_line_close(&daemon->line);
    }
    if (daemon->node != NULL) {
        rp_node_settle(daemon->node);
    }
    rp_node_free(daemon->node);
    rp_store_close(daemon->store);
    rp_loop_free(daemon->loop);
    rp_wishes_deinit(&daemon->wishes);
}

/* sysexits.h, as the unit file's RestartPreventExitStatus expects. */
static int exit_status(int code)
{
    switch (code) {
    case RP_OK:
        return EX_OK;
    case RP_E_PERMISSION:
        return EX_NOPERM;
    case RP_E_INVALID:
    case RP_E_FORMAT:
    case RP_E_NOT_FOUND:
    case RP_E_TOO_LONG:
    case RP_E_VERSION:
        return EX_CONFIG;
    case RP_E_TAKEN:
    case RP_E_BUSY:
        return EX_TEMPFAIL;
    case RP_E_IO:
    case RP_E_NO_SPACE:
    case RP_E_CORRUPT:
        return EX_IOERR;
    default:
        return EX_SOFTWARE;
    }
}

static const char usage[] =
    "usage: ridgepostd [--config FILE] [--check]\n"
    "Runs one Ridgepost station: keeps its log, speaks to its radio modem, serves ridgepost(1).\n"
    "  --config FILE  configuration (default /etc/ridgepost/ridgepost.conf)\n"
    "  --check        check configuration and database, start nothing\n"
    "  --version, --help\n"
    "Not a medical device. A chamber is never a substitute for descent. Follow the treating\n"
    "clinician, local protocols and licensed practice. Radio use follows local law.\n";

/* Which law the settings were found to keep. */
static void print_band(const struct rp_settings *settings)
{
    const struct rp_band *band = rp_band_find(settings->node.net.band);
    if (settings->node.modem[0] == '\0' || band == NULL) {
        puts("no radio: nothing is sent");
        return;
    }
    printf("band %s: %s%s%s%s%s%s%s\n", band->word, band->title, band->no_limit ? "" : ", ",
           band->law, band->no_limit ? "" : " ", band->clause,
           band->unsure[0] != '\0' ? "\nunsure: " : "", band->unsure);
}

static int check_only(struct daemon *daemon, const char *path, struct rp_problem *problem)
{
    int code = rp_store_open(daemon->settings.database, &daemon->store, problem);
    if (code == RP_OK) {
        code = rp_store_check(daemon->store, problem);
    }
    if (code == RP_OK) {
        printf("%s: configuration and database are in order\n", path);
        print_band(&daemon->settings);
    }
    return code;
}

static int serve(struct daemon *daemon, struct rp_problem *problem)
{
    const struct rp_node_config *node = &daemon->settings.node;
    int code = start(daemon, problem);
    if (code == RP_OK) {
        say(INFO, "station %u %s is up%s", node->station, node->name,
            node->exercise ? " in EXERCISE mode" : "");
        rp_notify("READY=1");
        rp_loop_run(daemon->loop);
        rp_notify("STOPPING=1");
    }
    return code;
}

static int run(struct daemon *daemon, const char *path, bool check)
{
    struct rp_problem problem = {0};
    int code = rp_settings_read(path, &daemon->settings, &problem);
    if (code == RP_OK) {
        code = check ? check_only(daemon, path, &problem) : serve(daemon, &problem);
    }
    if (code < 0) {
        say(ERROR, "%s", problem.text[0] != '\0' ? problem.text : rp_error_sentence(code));
    }
    stop(daemon);
    return exit_status(code);
}

int main(int argc, char **argv)
{
    static const struct option options[] = {{"config", required_argument, NULL, 'c'},
                                            {"check", no_argument, NULL, 'k'},
                                            {"version", no_argument, NULL, 'v'},
                                            {"help", no_argument, NULL, 'h'},
                                            {NULL, 0, NULL, 0}};
    const char *path = "/etc/ridgepost/ridgepost.conf";
    bool check = false;
    int option;
    while ((option = getopt_long(argc, argv, "", options, NULL)) != -1) {
        switch (option) {
        case 'c':
            path = optarg;
            break;
        case 'k':
            check = true;
            break;
        case 'v':
            puts("ridgepostd " RP_VERSION);
            return EX_OK;
        case 'h':
            fputs(usage, stdout);
            return EX_OK;
        default:
            return EX_USAGE;
        }
    }
    if (optind < argc) {
        fprintf(stderr, "ridgepostd: \"%s\" is one word too many; --help lists the options\n",
                argv[optind]);
        return EX_USAGE;
    }
    struct daemon *daemon = calloc(1, sizeof *daemon);
    if (daemon == NULL) {
        return EX_OSERR;
    }
    daemon->pages.draw.self = argv[0];
    int status = run(daemon, path, check);
    free(daemon);
    return status;
}
