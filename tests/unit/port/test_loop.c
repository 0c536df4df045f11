/* The event loop. Real time is used, in deadlines of a few milliseconds: the loop is the thing
 * under test here. */
#include "rp_test.h"

#include <signal.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <unistd.h>

#include "port/clock.h"
#include "port/line.h"
#include "port/loop.h"
#include "port_support.h"

struct scene {
    struct rp_loop *loop;
    struct rp_loop_watch *watch;
    struct rp_line line;
    int fd; /* our end of what is watched */
    int deadlines, events, turns, signals;
    int last_signal;
    unsigned last_events;
    rp_time_us fired_us;
    char got[64];
    size_t got_len;
    int read_rc;
};

static int set_up(void **state)
{
    static struct scene scene;
    scene = (struct scene){.fd = -1};
    assert_int_equal(rp_loop_new(&scene.loop), 0);
    *state = &scene;
    return 0;
}

static int tear_down(void **state)
{
    struct scene *s = *state;
    rp_loop_watch_stop(s->watch);
    rp_line_close(&s->line);
    if (s->fd >= 0) {
        close(s->fd);
    }
    rp_loop_free(s->loop);
    return 0;
}

static void stop_at_deadline(void *ctx)
{
    struct scene *s = ctx;
    s->deadlines++;
    s->fired_us = rp_clock_now_us();
    rp_loop_stop(s->loop);
}

/* Opens a line and watches it; s->fd is its other end. */
static void watch_line(struct scene *s, unsigned events,
                       void (*on_event)(void *ctx, unsigned events))
{
    char slave[64];
    struct rp_problem problem;
    s->fd = pty_pair(slave, sizeof slave);
    assert_int_equal(rp_line_open(&s->line, slave, 9600, NULL, &problem), 0);
    assert_int_equal(
        rp_loop_watch_start(s->loop, rp_line_fd(&s->line), events, on_event, s, &s->watch), 0);
}

/* Runs the loop for wait_ms of quiet. */
static void run_for_ms(struct scene *s, int wait_ms)
{
    rp_loop_on_deadline(s->loop, stop_at_deadline, s);
    rp_loop_set_deadline(s->loop, rp_clock_now_us() + wait_ms * 1000);
    rp_loop_run(s->loop);
}

static long context_switches(void)
{
    struct rusage usage;
    assert_int_equal(getrusage(RUSAGE_SELF, &usage), 0);
    return usage.ru_nvcsw;
}

/* The loop sleeps once and wakes once, with a signal handler, a watched line and a deadline set:
 * the kernel's own count of voluntary context switches says the same as ours. */
static void ignore_events(void *ctx, unsigned events)
{
    (void)events;
    ((struct scene *)ctx)->events++;
}

static void note_signal(void *ctx, int signal_number)
{
    struct scene *s = ctx;
    s->signals++;
    s->last_signal = signal_number;
    if (s->signals == 3) {
        rp_loop_stop(s->loop);
    }
}

static void a_deadline_fires_once_and_nothing_else_wakes(void **state)
{
    struct scene *s = *state;
    watch_line(s, RP_LOOP_READABLE, ignore_events);
    assert_int_equal(rp_loop_on_signal(s->loop, note_signal, s), 0);
    rp_time_us wanted_us = rp_clock_now_us() + 60000;
    rp_loop_on_deadline(s->loop, stop_at_deadline, s);
    rp_loop_set_deadline(s->loop, wanted_us);
    long before = context_switches();
    rp_loop_run(s->loop);
    assert_int_equal(s->deadlines, 1);
    assert_int_equal(rp_loop_turns(s->loop), 1);
    assert_int_equal(s->events, 0);
    assert_true(s->fired_us >= wanted_us);
    assert_true(context_switches() - before <= 2);
}

static void note_deadline(void *ctx)
{
    ((struct scene *)ctx)->deadlines++;
}

static void stop_reading(void *ctx, unsigned events)
{
    struct scene *s = ctx;
    s->last_events = events;
    rp_loop_stop(s->loop);
}

static void a_cancelled_deadline_does_not_fire(void **state)
{
    struct scene *s = *state;
    int pair[2];
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, pair), 0);
    s->fd = pair[1];
    assert_int_equal(
        rp_loop_watch_start(s->loop, pair[0], RP_LOOP_READABLE, stop_reading, s, &s->watch), 0);
    rp_loop_on_deadline(s->loop, note_deadline, s);
    rp_loop_set_deadline(s->loop, 1); /* long past: due at once */
    rp_loop_set_deadline(s->loop, RP_NEVER);
    assert_int_equal(write(s->fd, "x", 1), 1);
    rp_loop_run(s->loop);
    assert_int_equal(s->deadlines, 0);
    assert_int_equal(s->last_events, RP_LOOP_READABLE);
    rp_loop_watch_stop(s->watch);
    s->watch = NULL;
    close(pair[0]);
}

static void past_deadlines_are_due_at_once(void **state)
{
    struct scene *s = *state;
    static const rp_time_us past[] = {1, 0, -5, 999999, 1000000, 1000000};
    for (int i = 0; i < 6; i++) {
        rp_loop_on_deadline(s->loop, stop_at_deadline, s);
        rp_loop_set_deadline(s->loop, past[i]);
        rp_loop_run(s->loop);
        assert_int_equal(s->deadlines, i + 1);
    }
    assert_int_equal(rp_loop_turns(s->loop), 6);
}

static void next_deadline(void *ctx)
{
    struct scene *s = ctx;
    s->deadlines++;
    if (s->deadlines < 4) {
        rp_loop_set_deadline(s->loop, rp_clock_now_us() + 2000);
    } else {
        rp_loop_stop(s->loop);
    }
}

static void count_turn(void *ctx)
{
    ((struct scene *)ctx)->turns++;
}

static void deadlines_follow_one_another(void **state)
{
    struct scene *s = *state;
    rp_loop_on_deadline(s->loop, next_deadline, s);
    rp_loop_on_turn(s->loop, count_turn, s);
    rp_loop_set_deadline(s->loop, rp_clock_now_us() + 2000);
    rp_loop_run(s->loop);
    assert_int_equal(s->deadlines, 4);
    assert_int_equal(s->turns, 4);
    assert_int_equal(rp_loop_turns(s->loop), 4);
}

static void signals_arrive_in_the_loop(void **state)
{
    struct scene *s = *state;
    assert_int_equal(rp_loop_on_signal(s->loop, note_signal, s), 0);
    assert_int_equal(rp_loop_on_signal(s->loop, note_signal, s), RP_E_STATE);
    assert_int_equal(raise(SIGHUP), 0);
    assert_int_equal(raise(SIGINT), 0);
    assert_int_equal(raise(SIGTERM), 0);
    rp_loop_run(s->loop);
    assert_int_equal(s->signals, 3);
    assert_int_equal(s->last_signal, SIGTERM);
    assert_int_equal(raise(SIGPIPE), 0); /* ignored: we are still here */
}

static void read_line(void *ctx, unsigned events)
{
    struct scene *s = ctx;
    s->events++;
    s->last_events = events;
    do {
        s->read_rc = rp_line_read(&s->line, (uint8_t *)s->got + s->got_len, 8);
        s->got_len += s->read_rc > 0 ? (size_t)s->read_rc : 0;
    } while (s->read_rc > 0);
    if (s->read_rc == RP_E_GONE) {
        rp_loop_watch_stop(s->watch);
        s->watch = NULL;
    }
    rp_loop_stop(s->loop);
}

static void a_line_is_read_then_hangs_up_once(void **state)
{
    struct scene *s = *state;
    watch_line(s, RP_LOOP_READABLE, read_line);
    assert_int_equal(write(s->fd, "twelve bytes", 12), 12);
    while (s->got_len < 12) {
        rp_loop_run(s->loop);
        assert_int_equal(s->last_events, RP_LOOP_READABLE);
        assert_int_equal(s->read_rc, RP_E_BUSY);
    }
    assert_memory_equal(s->got, "twelve bytes", 12);
    int events = s->events;
    close(s->fd);
    s->fd = -1;
    rp_loop_run(s->loop);
    assert_int_equal(s->events, events + 1);
    assert_int_equal(s->read_rc, RP_E_GONE);
    assert_null(s->watch);
}

/* A callback that does nothing about a hang-up must not make the loop spin. */
static void an_ignored_hang_up_does_not_spin(void **state)
{
    struct scene *s = *state;
    watch_line(s, 0, ignore_events);
    close(s->fd);
    s->fd = -1;
    run_for_ms(s, 20);
    assert_int_equal(s->events, 1);
    rp_loop_watch_set(s->watch, RP_LOOP_READABLE); /* no effect any more */
    run_for_ms(s, 5);
    assert_int_equal(s->events, 1);
    assert_true(rp_loop_turns(s->loop) <= 4);
}

static void an_ended_stream_is_gone_unless_half_open(void **state)
{
    struct scene *s = *state;
    int pair[2];
    char byte;
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, pair), 0);
    s->fd = pair[1];
    assert_int_equal(shutdown(s->fd, SHUT_WR), 0);
    assert_int_equal(rp_loop_watch_start(s->loop, pair[0], RP_LOOP_READABLE | RP_LOOP_HALF_OPEN,
                                         stop_reading, s, &s->watch),
                     0);
    rp_loop_run(s->loop);
    assert_int_equal(s->last_events, RP_LOOP_READABLE);
    assert_int_equal(read(pair[0], &byte, 1), 0);
    rp_loop_watch_set(s->watch, RP_LOOP_READABLE);
    rp_loop_run(s->loop);
    assert_int_equal(s->last_events & RP_LOOP_GONE, RP_LOOP_GONE);
    rp_loop_watch_stop(s->watch);
    s->watch = NULL;
    close(pair[0]);
}

static void an_ignored_end_of_stream_does_not_spin(void **state)
{
    struct scene *s = *state;
    int pair[2];
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, pair), 0);
    s->fd = pair[1];
    assert_int_equal(shutdown(s->fd, SHUT_WR), 0);
    assert_int_equal(rp_loop_watch_start(s->loop, pair[0], 0, ignore_events, s, &s->watch), 0);
    run_for_ms(s, 10);
    assert_int_equal(s->events, 1);
    assert_int_equal(rp_loop_turns(s->loop), 2);
    rp_loop_watch_stop(s->watch);
    s->watch = NULL;
    close(pair[0]);
}

static void writable_is_told_only_when_asked(void **state)
{
    struct scene *s = *state;
    int pair[2];
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, pair), 0);
    s->fd = pair[1];
    assert_int_equal(
        rp_loop_watch_start(s->loop, pair[0], RP_LOOP_READABLE, stop_reading, s, &s->watch), 0);
    run_for_ms(s, 5);
    assert_int_equal(s->last_events, 0);
    rp_loop_watch_set(s->watch, RP_LOOP_READABLE | RP_LOOP_WRITABLE);
    rp_loop_run(s->loop);
    assert_int_equal(s->last_events, RP_LOOP_WRITABLE);
    rp_loop_watch_stop(s->watch);
    s->watch = NULL;
    close(pair[0]);
}

static void bad_descriptors_are_refused(void **state)
{
    struct scene *s = *state;
    struct folder folder;
    folder_make(&folder);
    const char *path = folder_file(&folder, "plain");
    file_write(path, "x", 0600);
    int pair[2];
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, pair), 0);
    s->fd = pair[1];
    struct rp_loop_watch *second = NULL;
    assert_int_equal(rp_loop_watch_start(s->loop, 9999, RP_LOOP_READABLE, stop_reading, s, &second),
                     RP_E_INVALID);
    assert_int_equal(
        rp_loop_watch_start(s->loop, pair[0], RP_LOOP_READABLE, stop_reading, s, &s->watch), 0);
    assert_int_equal(
        rp_loop_watch_start(s->loop, pair[0], RP_LOOP_READABLE, stop_reading, s, &second),
        RP_E_INVALID);
    assert_null(second);
    rp_loop_watch_stop(s->watch);
    s->watch = NULL;
    close(pair[0]);
    folder_remove(&folder);
}

static void nothing_leaks(void **state)
{
    (void)state;
    /* libuv keeps a pipe for signals as long as the process lives: made by the first loop. */
    int before = descriptor_count();
    for (int i = 0; i < 3; i++) {
        struct rp_loop *loop = NULL;
        assert_int_equal(rp_loop_new(&loop), 0);
        rp_loop_free(loop);
    }
    rp_loop_free(NULL);
    assert_int_equal(descriptor_count(), before);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        TEST(a_deadline_fires_once_and_nothing_else_wakes),
        TEST(a_cancelled_deadline_does_not_fire),
        TEST(past_deadlines_are_due_at_once),
        TEST(deadlines_follow_one_another),
        TEST(signals_arrive_in_the_loop),
        TEST(a_line_is_read_then_hangs_up_once),
        TEST(an_ignored_hang_up_does_not_spin),
        TEST(an_ended_stream_is_gone_unless_half_open),
        TEST(an_ignored_end_of_stream_does_not_spin),
        TEST(writable_is_told_only_when_asked),
        TEST(bad_descriptors_are_refused),
        TEST(nothing_leaks),
    };
    return cmocka_run_group_tests_name("port_loop", tests, NULL, NULL);
}
