#include "port/loop.h"

#include <assert.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/timerfd.h>
#include <time.h>
#include <unistd.h>
#include <uv.h>

#include "ridgepost/error.h"

enum { SIGNAL_COUNT = 3 };
static const int signal_numbers[SIGNAL_COUNT] = {SIGTERM, SIGINT, SIGHUP};

struct rp_loop {
    uv_loop_t uv;
    /* A timerfd and not a uv_timer_t: libuv's timers run on CLOCK_MONOTONIC and in whole
     * milliseconds. This one counts time asleep and is exact. */
    int timer_fd;
    uv_poll_t timer;
    uv_check_t turn;
    uv_signal_t signals[SIGNAL_COUNT];
    bool has_signals;
    rp_time_us deadline_us;
    uint64_t turns;
    void (*on_deadline)(void *ctx);
    void *deadline_ctx;
    void (*on_turn)(void *ctx);
    void *turn_ctx;
    void (*on_signal)(void *ctx, int signal_number);
    void *signal_ctx;
};

struct rp_loop_watch {
    uv_poll_t poll; /* .data is the watch */
    bool gone;
    void (*on_event)(void *ctx, unsigned events);
    void *ctx;
};

/* --- deadline --- */

static void arm(struct rp_loop *loop, rp_time_us deadline_us)
{
    struct itimerspec when = {{0, 0}, {0, 0}};
    if (deadline_us != RP_NEVER) {
        /* All zero would disarm: a deadline in the past is the clock's first nanosecond. */
        rp_time_us at_us = deadline_us > 0 ? deadline_us : 0;
        when.it_value.tv_sec = (time_t)(at_us / 1000000);
        when.it_value.tv_nsec = at_us > 0 ? (long)(at_us % 1000000) * 1000 : 1;
    }
    int rc = timerfd_settime(loop->timer_fd, TFD_TIMER_ABSTIME, &when, NULL);
    assert(rc == 0);
    loop->deadline_us = deadline_us;
}

static void deadline_passed(uv_poll_t *handle, int status, int events)
{
    (void)status;
    (void)events;
    struct rp_loop *loop = handle->data;
    uint64_t expirations;
    if (read(loop->timer_fd, &expirations, sizeof expirations) != sizeof expirations) {
        return; /* was set anew since: it will fire again */
    }
    loop->deadline_us = RP_NEVER;
    if (loop->on_deadline != NULL) {
        loop->on_deadline(loop->deadline_ctx);
    }
}

void rp_loop_on_deadline(struct rp_loop *loop, void (*on_deadline)(void *ctx), void *ctx)
{
    loop->on_deadline = on_deadline;
    loop->deadline_ctx = ctx;
}

void rp_loop_set_deadline(struct rp_loop *loop, rp_time_us deadline_us)
{
    if (deadline_us != loop->deadline_us) {
        arm(loop, deadline_us);
    }
}

/* --- turns --- */

static void turn_made(uv_check_t *handle)
{
    struct rp_loop *loop = handle->data;
    loop->turns++;
    if (loop->on_turn != NULL) {
        loop->on_turn(loop->turn_ctx);
    }
}

void rp_loop_on_turn(struct rp_loop *loop, void (*on_turn)(void *ctx), void *ctx)
{
    loop->on_turn = on_turn;
    loop->turn_ctx = ctx;
}

uint64_t rp_loop_turns(const struct rp_loop *loop)
{
    return loop->turns;
}

/* --- signals --- */

static void signal_caught(uv_signal_t *handle, int signal_number)
{
    struct rp_loop *loop = handle->data;
    loop->on_signal(loop->signal_ctx, signal_number);
}

int rp_loop_on_signal(struct rp_loop *loop, void (*on_signal)(void *ctx, int signal_number),
                      void *ctx)
{
    if (loop->has_signals) {
        return RP_E_STATE;
    }
    loop->on_signal = on_signal;
    loop->signal_ctx = ctx;
    signal(SIGPIPE, SIG_IGN);
    signal(SIGXFSZ, SIG_IGN); /* a write past a size limit fails with EFBIG instead */
    for (int i = 0; i < SIGNAL_COUNT; i++) {
        if (uv_signal_start(&loop->signals[i], signal_caught, signal_numbers[i]) != 0) {
            return RP_E_IO;
        }
        uv_unref((uv_handle_t *)&loop->signals[i]);
    }
    loop->has_signals = true;
    return 0;
}

/* --- descriptors --- */

static void event_seen(uv_poll_t *handle, int status, int events)
{
    struct rp_loop_watch *watch = handle->data;
    unsigned seen = 0;
    seen |= (events & UV_READABLE) != 0 ? RP_LOOP_READABLE : 0;
    seen |= (events & UV_WRITABLE) != 0 ? RP_LOOP_WRITABLE : 0;
    /* libuv gives an error status, and stops the handle, on POLLERR. */
    if (status < 0 || (events & UV_DISCONNECT) != 0) {
        seen |= RP_LOOP_GONE;
        watch->gone = true;
        uv_poll_stop(handle);
    }
    watch->on_event(watch->ctx, seen);
}

void rp_loop_watch_set(struct rp_loop_watch *watch, unsigned events)
{
    assert((events & RP_LOOP_GONE) == 0);
    if (watch->gone) {
        return;
    }
    int wanted = (events & RP_LOOP_HALF_OPEN) != 0 ? 0 : UV_DISCONNECT;
    wanted |= (events & RP_LOOP_READABLE) != 0 ? UV_READABLE : 0;
    wanted |= (events & RP_LOOP_WRITABLE) != 0 ? UV_WRITABLE : 0;
    int rc = uv_poll_start(&watch->poll, wanted, event_seen);
    assert(rc == 0); /* fails only on a handle that is closing, which is a dead pointer here */
}

int rp_loop_watch_start(struct rp_loop *loop, int fd, unsigned events,
                        void (*on_event)(void *ctx, unsigned events), void *ctx,
                        struct rp_loop_watch **out_watch)
{
    struct rp_loop_watch *watch = calloc(1, sizeof *watch);
    if (watch == NULL) {
        return RP_E_MEMORY;
    }
    if (uv_poll_init(&loop->uv, &watch->poll, fd) != 0) {
        free(watch);
        return RP_E_INVALID;
    }
    watch->poll.data = watch;
    watch->on_event = on_event;
    watch->ctx = ctx;
    rp_loop_watch_set(watch, events);
    *out_watch = watch;
    return 0;
}

static void watch_closed(uv_handle_t *handle)
{
    free(handle->data);
}

void rp_loop_watch_stop(struct rp_loop_watch *watch)
{
    if (watch != NULL) {
        uv_close((uv_handle_t *)&watch->poll, watch_closed);
    }
}

/* --- life --- */

void rp_loop_run(struct rp_loop *loop)
{
    uv_run(&loop->uv, UV_RUN_DEFAULT);
}

void rp_loop_stop(struct rp_loop *loop)
{
    uv_stop(&loop->uv);
}

static int start_handles(struct rp_loop *loop)
{
    int rc = uv_poll_init(&loop->uv, &loop->timer, loop->timer_fd);
    if (rc != 0) {
        return rc;
    }
    loop->timer.data = loop;
    rc = uv_poll_start(&loop->timer, UV_READABLE, deadline_passed);
    uv_check_init(&loop->uv, &loop->turn);
    loop->turn.data = loop;
    uv_check_start(&loop->turn, turn_made);
    uv_unref((uv_handle_t *)&loop->turn);
    for (int i = 0; i < SIGNAL_COUNT && rc == 0; i++) {
        rc = uv_signal_init(&loop->uv, &loop->signals[i]);
        loop->signals[i].data = loop;
    }
    return rc;
}

static void close_handle(uv_handle_t *handle, void *arg)
{
    (void)arg;
    if (!uv_is_closing(handle)) {
        uv_close(handle, NULL);
    }
}

void rp_loop_free(struct rp_loop *loop)
{
    if (loop == NULL) {
        return;
    }
    uv_walk(&loop->uv, close_handle, NULL);
    uv_run(&loop->uv, UV_RUN_DEFAULT); /* only runs the closing callbacks: nothing is active */
    int rc = uv_loop_close(&loop->uv);
    assert(rc == 0);
    close(loop->timer_fd);
    free(loop);
}

int rp_loop_new(struct rp_loop **out_loop)
{
    struct rp_loop *loop = calloc(1, sizeof *loop);
    if (loop == NULL) {
        return RP_E_MEMORY;
    }
    loop->deadline_us = RP_NEVER;
    loop->timer_fd = timerfd_create(CLOCK_BOOTTIME, TFD_NONBLOCK | TFD_CLOEXEC);
    if (loop->timer_fd < 0) {
        free(loop);
        return RP_E_IO;
    }
    if (uv_loop_init(&loop->uv) != 0) {
        close(loop->timer_fd);
        free(loop);
        return RP_E_IO;
    }
    if (start_handles(loop) != 0) {
        rp_loop_free(loop);
        return RP_E_IO;
    }
    *out_loop = loop;
    return 0;
}
