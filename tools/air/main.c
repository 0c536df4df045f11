/* ridgepost-air: see help.c. This file joins the pure world to ports, clock and signals: one poll()
 * with one timer; the process sleeps until a byte comes or an event is due. */
#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/inotify.h>
#include <sys/signalfd.h>
#include <sys/timerfd.h>
#include <time.h>
#include <unistd.h>

#include "air/control.h"
#include "air/help.h"
#include "air/pty.h"
#include "air/replay.h"
#include "air/world.h"
#include "base/error.h"

enum { SLOT_SIGNAL, SLOT_TIMER, SLOT_INOTIFY, SLOT_LISTENER, SLOT_CLIENTS };
#define SLOT_PORTS (SLOT_CLIENTS + AIR_CLIENTS_MAX)
#define SLOTS      (SLOT_PORTS + AIR_STATIONS_MAX)

struct app {
    struct air_config config;
    struct air_world world;
    struct air_pty ptys[AIR_STATIONS_MAX];
    struct air_control control;
    FILE *log; /* NULL: none */
    int signal_fd, timer_fd, inotify_fd;
    rp_time_us start_us; /* on the monotonic clock */
    bool stopping;
};

struct arguments {
    const char *config_path, *log_path, *replay_path;
    bool has_seed;
    uint32_t seed;
};

static rp_time_us monotonic_us(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (rp_time_us)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

static rp_time_us now_us(const struct app *app)
{
    return monotonic_us() - app->start_us;
}

static void write_log(void *ctx, rp_time_us at_us, const char *text)
{
    struct app *app = ctx;
    if (app->log != NULL) {
        fprintf(app->log, "%lld.%06lld %s\n", (long long)(at_us / 1000000),
                (long long)(at_us % 1000000), text);
    }
}

static int plug(void *ctx, unsigned station, bool plugged)
{
    struct app *app = ctx;
    if (!plugged) {
        air_pty_close(&app->ptys[station], app->inotify_fd);
        return 0;
    }
    return air_pty_open(&app->ptys[station], app->config.modems[station].path, app->inotify_fd);
}

static int read_config(struct air_config *config, const char *path)
{
    FILE *file = fopen(path, "r");
    if (file == NULL) {
        fprintf(stderr, "ridgepost-air: cannot read %s: %s\n", path, strerror(errno));
        return RP_E_NOT_FOUND;
    }
    int err = 0;
    char line[AIR_CONFIG_CAP];
    for (int number = 1; err == 0 && fgets(line, sizeof line, file) != NULL; number++) {
        struct rp_problem problem = {.code = 0};
        bool whole = strlen(line) + 1 < sizeof line;
        err = whole ? air_config_line(config, line, &problem)
                    : rp_problem_set(&problem, RP_E_TOO_LONG, "line", "too long");
        if (err != 0) {
            fprintf(stderr, "ridgepost-air: %s line %d: %s: %s\n", path, number, problem.field,
                    problem.text);
        }
    }
    fclose(file);
    if (err == 0 && config->count == 0) {
        fprintf(stderr, "ridgepost-air: %s names no modem\n", path);
        err = RP_E_INVALID;
    }
    return err;
}

static int open_descriptors(struct app *app)
{
    sigset_t signals;
    sigemptyset(&signals);
    sigaddset(&signals, SIGTERM);
    sigaddset(&signals, SIGINT);
    sigaddset(&signals, SIGUSR1);
    sigprocmask(SIG_BLOCK, &signals, NULL);
    app->signal_fd = signalfd(-1, &signals, SFD_CLOEXEC | SFD_NONBLOCK);
    app->timer_fd = timerfd_create(CLOCK_MONOTONIC, TFD_CLOEXEC | TFD_NONBLOCK);
    app->inotify_fd = inotify_init1(IN_CLOEXEC | IN_NONBLOCK);
    return app->signal_fd < 0 || app->timer_fd < 0 ? RP_E_IO : 0;
}

static int open_ports(struct app *app)
{
    for (unsigned i = 0; i < app->config.count; i++) {
        const char *path = app->config.modems[i].path;
        int err = air_pty_open(&app->ptys[i], path, app->inotify_fd);
        if (err != 0) {
            fprintf(stderr, "ridgepost-air: %s: %s\n", path, rp_error_sentence(err));
            return err;
        }
    }
    int err = air_control_open(&app->control, app->config.control);
    if (err != 0) {
        fprintf(stderr, "ridgepost-air: %s: %s\n", app->config.control, rp_error_sentence(err));
    }
    return err;
}

static void close_all(struct app *app)
{
    for (unsigned i = 0; i < app->config.count; i++) {
        air_pty_close(&app->ptys[i], app->inotify_fd);
    }
    air_control_close(&app->control);
    if (app->log != NULL) {
        fclose(app->log);
        app->log = NULL;
    }
}

static void print_counts(struct app *app)
{
    for (unsigned i = 0; i < app->config.count; i++) {
        char text[512];
        air_world_counts(&app->world, i, text, sizeof text);
        printf("%s\n", text);
        air_world_log(&app->world, now_us(app), "summary %s", text);
    }
    fflush(stdout);
}

static void on_signal(struct app *app)
{
    struct signalfd_siginfo info;
    while (read(app->signal_fd, &info, sizeof info) == (ssize_t)sizeof info) {
        if (info.ssi_signo == SIGUSR1) {
            print_counts(app);
        } else {
            app->stopping = true;
        }
    }
}

/* Hosts that opened or closed a port. The kernel joins equal events in a row, so the count is only
 * a good guess; a host that writes corrects it (see on_port). */
static void on_inotify(struct app *app)
{
    _Alignas(struct inotify_event) char buf[4096];
    ssize_t len = read(app->inotify_fd, buf, sizeof buf);
    for (ssize_t at = 0; at < len;) {
        struct inotify_event event;
        memcpy(&event, buf + at, sizeof event);
        at += (ssize_t)(sizeof event + event.len);
        for (unsigned i = 0; i < app->config.count; i++) {
            struct air_pty *pty = &app->ptys[i];
            if (pty->master >= 0 && pty->watch == event.wd &&
                (event.mask & (IN_OPEN | IN_CLOSE)) != 0) {
                bool open = air_pty_host_event(pty, (event.mask & IN_OPEN) != 0);
                air_world_host_open(&app->world, i, open, now_us(app));
            }
        }
    }
}

static void on_port(struct app *app, unsigned station)
{
    struct air_pty *pty = &app->ptys[station];
    uint8_t bytes[1024];
    ssize_t len = read(pty->master, bytes, sizeof bytes);
    if (len <= 0) {
        return;
    }
    if (pty->hosts == 0 && pty->watch >= 0) {
        air_world_host_open(&app->world, station, air_pty_host_event(pty, true), now_us(app));
    }
    air_world_host_speed(&app->world, station, air_pty_baud(pty), now_us(app));
    air_world_host_wrote(&app->world, station, (struct rp_view){bytes, (size_t)len}, now_us(app));
}

/* What the terminal does not take is lost: a serial line without flow control waits for nobody. */
static void write_ports(struct app *app)
{
    for (unsigned i = 0; i < app->config.count; i++) {
        uint8_t bytes[1024];
        size_t len;
        while ((len = air_world_host_take(&app->world, i, bytes, sizeof bytes, now_us(app))) > 0) {
            ssize_t done = app->ptys[i].master < 0 ? 0 : write(app->ptys[i].master, bytes, len);
            app->world.stations[i].counts.serial_lost += len - (done > 0 ? (size_t)done : 0);
        }
    }
}

static void run_command(void *ctx, char *line, char *reply)
{
    struct app *app = ctx;
    air_command(&app->world, line, reply, now_us(app));
}

static void set_timer(const struct app *app)
{
    rp_time_us wake_us = air_world_wake(&app->world);
    struct itimerspec spec = {.it_value = {0, 0}};
    if (wake_us != RP_NEVER) {
        rp_time_us at_us = app->start_us + (wake_us > 0 ? wake_us : 1);
        spec.it_value.tv_sec = at_us / 1000000;
        spec.it_value.tv_nsec = at_us % 1000000 * 1000;
    }
    timerfd_settime(app->timer_fd, TFD_TIMER_ABSTIME, &spec, NULL);
}

static void fill_slots(const struct app *app, struct pollfd slots[SLOTS])
{
    for (int i = 0; i < SLOTS; i++) {
        slots[i] = (struct pollfd){.fd = -1, .events = POLLIN};
    }
    slots[SLOT_SIGNAL].fd = app->signal_fd;
    slots[SLOT_TIMER].fd = app->timer_fd;
    slots[SLOT_INOTIFY].fd = app->inotify_fd;
    if (air_control_has_room(&app->control)) {
        slots[SLOT_LISTENER].fd = app->control.listener;
    }
    for (int i = 0; i < AIR_CLIENTS_MAX; i++) {
        slots[SLOT_CLIENTS + i].fd = app->control.clients[i].fd;
    }
    for (unsigned i = 0; i < app->config.count; i++) {
        slots[SLOT_PORTS + i].fd = app->ptys[i].master;
    }
}

static void serve_slots(struct app *app, const struct pollfd slots[SLOTS])
{
    if (slots[SLOT_SIGNAL].revents != 0) {
        on_signal(app);
    }
    if (slots[SLOT_TIMER].revents != 0) {
        uint64_t count;
        (void)!read(app->timer_fd, &count, sizeof count);
    }
    if (slots[SLOT_INOTIFY].revents != 0) {
        on_inotify(app);
    }
    for (unsigned i = 0; i < app->config.count; i++) {
        if (slots[SLOT_PORTS + i].revents != 0 && app->ptys[i].master >= 0) {
            on_port(app, i);
        }
    }
    for (int i = 0; i < AIR_CLIENTS_MAX; i++) {
        if (slots[SLOT_CLIENTS + i].revents != 0) {
            air_control_serve(&app->control.clients[i], run_command, app);
        }
    }
    if (slots[SLOT_LISTENER].revents != 0) {
        air_control_accept(&app->control);
    }
}

static int run(struct app *app)
{
    while (!app->stopping) {
        struct pollfd slots[SLOTS];
        set_timer(app);
        fill_slots(app, slots);
        if (poll(slots, SLOTS, -1) < 0 && errno != EINTR) {
            return RP_E_IO;
        }
        air_world_tick(&app->world, now_us(app));
        serve_slots(app, slots);
        air_world_tick(&app->world, now_us(app));
        write_ports(app);
    }
    return 0;
}

static int parse_arguments(int argc, char **argv, struct arguments *out)
{
    struct arguments a = {.config_path = NULL};
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--log") == 0 && i + 1 < argc) {
            a.log_path = argv[++i];
        } else if (strcmp(argv[i], "--replay") == 0 && i + 1 < argc) {
            a.replay_path = argv[++i];
        } else if (strcmp(argv[i], "--seed") == 0 && i + 1 < argc) {
            a.has_seed = air_parse_decimal(argv[++i], UINT32_MAX, &a.seed);
            if (!a.has_seed) {
                return RP_E_INVALID;
            }
        } else if (argv[i][0] != '-' && a.config_path == NULL) {
            a.config_path = argv[i];
        } else {
            return RP_E_INVALID;
        }
    }
    *out = a;
    return a.config_path == NULL ? RP_E_INVALID : 0;
}

static int start(struct app *app, const struct arguments *arguments)
{
    air_config_init(&app->config);
    int err = read_config(&app->config, arguments->config_path);
    if (err == 0 && arguments->has_seed) {
        app->config.seed = arguments->seed;
    }
    if (err == 0 && arguments->log_path != NULL) {
        app->log = fopen(arguments->log_path, "w");
        if (app->log == NULL) {
            fprintf(stderr, "ridgepost-air: cannot write %s: %s\n", arguments->log_path,
                    strerror(errno));
            return RP_E_IO;
        }
        setvbuf(app->log, NULL, _IOLBF, 0);
    }
    if (err == 0) {
        err = open_descriptors(app);
    }
    if (err == 0) {
        err = open_ports(app);
    }
    return err;
}

static void print_log(void *ctx, rp_time_us at_us, const char *text)
{
    (void)ctx;
    printf("%lld.%06lld %s\n", (long long)(at_us / 1000000), (long long)(at_us % 1000000), text);
}

static int plug_nothing(void *ctx, unsigned station, bool plugged)
{
    (void)ctx;
    (void)station;
    (void)plugged;
    return 0;
}

/* Makes the log again, in no time; nothing is opened. */
static int replay(const struct arguments *arguments)
{
    struct app *app = calloc(1, sizeof *app);
    if (app == NULL) {
        return RP_E_MEMORY;
    }
    air_config_init(&app->config);
    int err = read_config(&app->config, arguments->config_path);
    app->config.seed = arguments->has_seed ? arguments->seed : app->config.seed;
    FILE *log = err == 0 ? fopen(arguments->replay_path, "r") : NULL;
    if (log != NULL) {
        struct air_world_ops ops = {.ctx = app, .log = print_log, .plug = plug_nothing};
        air_world_init(&app->world, &app->config, &ops, 0);
        static char line[2 * AIR_HOST_WRITE_MAX + 200];
        while (err == 0 && fgets(line, sizeof line, log) != NULL) {
            err = air_replay_line(&app->world, line);
        }
        fclose(log);
    } else if (err == 0) {
        err = RP_E_NOT_FOUND;
    }
    if (err != 0) {
        fprintf(stderr, "ridgepost-air: %s: %s\n", arguments->replay_path, rp_error_sentence(err));
    }
    free(app);
    return err;
}

static int emulate(const struct arguments *arguments)
{
    struct app *app = calloc(1, sizeof *app);
    if (app == NULL) {
        return RP_E_MEMORY;
    }
    app->control.listener = -1;
    for (unsigned i = 0; i < AIR_STATIONS_MAX; i++) {
        app->ptys[i].master = -1;
    }
    int err = start(app, arguments);
    if (err == 0) {
        app->start_us = monotonic_us();
        struct air_world_ops ops = {.ctx = app, .log = write_log, .plug = plug};
        air_world_init(&app->world, &app->config, &ops, 0);
        for (unsigned i = 0; i < app->config.count && app->inotify_fd < 0; i++) {
            air_world_host_open(&app->world, i, true, 0);
        }
        printf("ready, seed %llu\n", (unsigned long long)app->config.seed);
        fflush(stdout);
        err = run(app);
        print_counts(app);
    }
    close_all(app);
    free(app);
    return err;
}

int main(int argc, char **argv)
{
    if (argc == 2 && strcmp(argv[1], "--help") == 0) {
        fputs(air_help, stdout);
        fputs(air_help_commands, stdout);
        return 0;
    }
    if (argc >= 4 && strcmp(argv[1], "--tell") == 0) {
        return air_control_tell(argv[2], argv + 3, argc - 3) == 0 ? 0 : 1;
    }
    struct arguments arguments;
    if (parse_arguments(argc, argv, &arguments) != 0) {
        fputs(
            "usage: ridgepost-air CONFIG [--log FILE] [--seed N] [--replay LOG]; --help explains\n",
            stderr);
        return 2;
    }
    int err = arguments.replay_path != NULL ? replay(&arguments) : emulate(&arguments);
    return err == 0 ? 0 : 1;
}
