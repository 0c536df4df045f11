#include "daemon/pages.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "port/address.h"
#include "port/clock.h"

static int64_t unix_s(void *ctx)
{
    (void)ctx;
    return rp_clock_unix_s();
}

static int random_bytes(void *ctx, void *buf, size_t len)
{
    (void)ctx;
    return rp_random_bytes(buf, len);
}

static void on_readable(void *ctx, unsigned events)
{
    struct rp_daemon_pages *pages = ctx;
    (void)events;
    rp_web_run(pages->web, rp_clock_now_us());
}

/* --- the file of paired devices --- */

static size_t load(const struct rp_daemon_pages *pages, char *buf, size_t cap)
{
    int fd = open(pages->file, O_RDONLY | O_CLOEXEC);
    if (fd < 0) {
        return 0; /* the first start, or it was deleted so that all pair again */
    }
    ssize_t got = read(fd, buf, cap);
    close(fd);
    return got > 0 ? (size_t)got : 0;
}

static int write_whole(int fd, const char *text, size_t len)
{
    while (len > 0) {
        ssize_t put = write(fd, text, len);
        if (put < 0 && errno != EINTR) {
            return -1;
        }
        text += put > 0 ? put : 0;
        len -= put > 0 ? (size_t)put : 0;
    }
    return fsync(fd);
}

/* Written beside and renamed: a power cut leaves the old list or the new one. Failing costs a
 * pairing, never a record, and is told once each time. */
static void save(const struct rp_daemon_pages *pages)
{
    char text[RP_WEB_SESSIONS_TEXT_MAX], beside[sizeof pages->file + 4];
    struct rp_text out = rp_text_on(text, sizeof text);
    rp_web_sessions_write(rp_web_sessions(pages->web), &out);
    snprintf(beside, sizeof beside, "%s.new", pages->file);
    int fd = open(beside, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
    bool good = fd >= 0 && write_whole(fd, text, out.len) == 0;
    if (fd >= 0) {
        close(fd);
    }
    if (!good || rename(beside, pages->file) < 0) {
        fprintf(stderr,
                "<4>ridgepostd: %s cannot be written (%s): after a restart the devices "
                "must be paired again\n",
                pages->file, strerror(errno));
    }
}

/* --- for the control protocol --- */

/* Where another device finds the pages: by name, by the address that is listened at, or, where that
 * is all of them, by one of this computer's as it is now (an access point may come up later). */
static void find_where(struct rp_daemon_pages *pages)
{
    static const char any[] = "0.0.0.0:";
    const char *at = pages->settings->pages_listen;
    char own[RP_ADDRESS_LEN];
    if (pages->settings->pages_name[0] != '\0') {
        at = pages->settings->pages_name;
    } else if (strncmp(at, any, sizeof any - 1) == 0 && rp_address_own(own) == RP_OK) {
        snprintf(pages->where, sizeof pages->where, "http://%s:%s/", own, at + sizeof any - 1);
        return;
    }
    snprintf(pages->where, sizeof pages->where, "http://%s/", at);
}

static int make_code(void *ctx, const char *role, const char **out_digits,
                     struct rp_problem *out_problem)
{
    struct rp_daemon_pages *pages = ctx;
    enum rp_web_role found = rp_web_role_find(role);
    if (found == RP_WEB_NOBODY) {
        return rp_problem_set(out_problem, RP_E_INVALID, "pair",
                              "\"%.16s\" is none of bedside, base, reader (example: pair bedside)",
                              role);
    }
    find_where(pages);
    int code = rp_web_make_code(pages->web, found, out_digits);
    return code < 0 ? rp_problem_set(out_problem, code, "pair", "no random bytes for a code")
                    : code;
}

static void each_device(void *ctx, rp_pages_visit *visit, void *arg)
{
    struct rp_daemon_pages *pages = ctx;
    const struct rp_web_sessions *sessions = rp_web_sessions(pages->web);
    for (size_t i = 0; i < RP_WEB_SESSIONS_MAX; i++) {
        const struct rp_web_session *session = &sessions->at[i];
        if (session->role != RP_WEB_NOBODY) {
            struct rp_pages_device device = {session->number, rp_web_role_word(session->role),
                                             session->device, session->paired_s, session->seen_s};
            visit(arg, &device);
        }
    }
}

static int end_device(void *ctx, unsigned number)
{
    struct rp_daemon_pages *pages = ctx;
    return rp_web_session_stop(pages->web, number, rp_clock_now_us());
}

/* --- life --- */

int rp_daemon_pages_start(struct rp_daemon_pages *pages, const struct rp_settings *settings,
                          struct rp_loop *loop, char *(*act)(void *ctx, struct rp_view line),
                          void *ctx, struct rp_problem *out_problem)
{
    char saved[RP_WEB_SESSIONS_TEXT_MAX];
    if (settings->pages_listen[0] == '\0') {
        return RP_OK;
    }
    snprintf(pages->file, sizeof pages->file, "%s-pages", settings->database);
    pages->settings = settings;
    struct rp_web_options options = {
        .listen = settings->pages_listen,
        .name = settings->pages_name,
        .saved_sessions = {(const uint8_t *)saved, load(pages, saved, sizeof saved)},
        .ctx = ctx,
        .act = act,
        .unix_s = unix_s,
        .random = random_bytes,
        .draw = rp_daemon_draw,
        .draw_ctx = &pages->draw,
    };
    int code = rp_web_new(&options, rp_clock_now_us(), &pages->web, out_problem);
    if (code == RP_OK) {
        pages->draw.loop = loop;
        pages->draw.web = pages->web;
        code = rp_loop_watch_start(loop, rp_web_fd(pages->web), RP_LOOP_READABLE, on_readable,
                                   pages, &pages->watch);
        if (code < 0) {
            rp_problem_set(out_problem, code, "listen", "the pages' descriptor cannot be watched");
        }
    }
    pages->control = (struct rp_pages){pages, pages->where, make_code, each_device, end_device};
    return code;
}

void rp_daemon_pages_stop(struct rp_daemon_pages *pages)
{
    rp_loop_watch_stop(pages->watch);
    rp_daemon_draw_stop(&pages->draw);
    rp_web_free(pages->web);
    *pages = (struct rp_daemon_pages){.web = NULL};
}

rp_time_us rp_daemon_pages_turn(struct rp_daemon_pages *pages, bool changed)
{
    if (pages->web == NULL) {
        return RP_NEVER;
    }
    rp_time_us now_us = rp_clock_now_us();
    if (changed) {
        rp_web_changed(pages->web, now_us);
    }
    struct rp_web_sessions *sessions = rp_web_sessions(pages->web);
    if (sessions->changed) {
        sessions->changed = false;
        save(pages);
    }
    rp_time_us wake_us = rp_web_wake(pages->web, now_us);
    if (wake_us <= now_us) {
        rp_web_run(pages->web, now_us);
        wake_us = rp_web_wake(pages->web, now_us);
    }
    return rp_sooner_us(wake_us, rp_daemon_draw_turn(&pages->draw));
}
