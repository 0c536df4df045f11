/* The control socket: both ends, and people who misuse it. */
#include "rp_test.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "port/clock.h"
#include "port/listener.h"
#include "port_support.h"

enum { SEEN_MAX = 64 };

struct scene {
    struct folder folder;
    char path[96];
    struct rp_loop *loop;
    struct rp_listener *listener;
    struct rp_problem problem;
    int lines, gone; /* counts */
    rp_client_id seen[SEEN_MAX], last_gone;
    char last[256];
    size_t last_len;
    bool echo;        /* answer each line with itself */
    size_t reply_len; /* answer each line with that many 'r' and a newline; 0: not */
    int reply_rc;
};

static void on_line(void *ctx, rp_client_id client, struct rp_view line)
{
    struct scene *s = ctx;
    s->seen[s->lines % SEEN_MAX] = client;
    s->lines++;
    s->last_len = line.len;
    memcpy(s->last, line.bytes, line.len < sizeof s->last ? line.len : sizeof s->last);
    if (s->echo) {
        s->reply_rc = rp_listener_send(s->listener, client, line);
        rp_listener_send(s->listener, client, (struct rp_view){(const uint8_t *)"\n", 1});
    }
    if (s->reply_len > 0) {
        uint8_t *reply = malloc(s->reply_len + 1);
        assert_non_null(reply);
        memset(reply, 'r', s->reply_len);
        reply[s->reply_len] = '\n';
        s->reply_rc =
            rp_listener_send(s->listener, client, (struct rp_view){reply, s->reply_len + 1});
        free(reply);
    }
}

static void on_gone(void *ctx, rp_client_id client)
{
    struct scene *s = ctx;
    s->gone++;
    s->last_gone = client;
}

static int try_listen(struct scene *s, const struct rp_listener_options *options,
                      struct rp_listener **out_listener)
{
    const struct rp_listener_events events = {s, on_line, on_gone};
    return rp_listener_new(s->loop, s->path, options, &events, out_listener, &s->problem);
}

static void listen_ok(struct scene *s, const struct rp_listener_options *options)
{
    if (try_listen(s, options, &s->listener) != 0) {
        fail_msg("%s", s->problem.text);
    }
}

static int set_up(void **state)
{
    static struct scene scene;
    scene = (struct scene){0};
    folder_make(&scene.folder);
    strcpy(scene.path, folder_file(&scene.folder, "control"));
    assert_int_equal(rp_loop_new(&scene.loop), 0);
    *state = &scene;
    return 0;
}

static int tear_down(void **state)
{
    struct scene *s = *state;
    rp_listener_free(s->listener);
    rp_loop_free(s->loop);
    folder_remove(&s->folder);
    return 0;
}

static void stop(void *ctx)
{
    rp_loop_stop(ctx);
}

/* Turns the loop until nothing has happened for a moment: everything sent so far is handled. */
static void settle(struct scene *s)
{
    uint64_t turns;
    rp_loop_on_deadline(s->loop, stop, s->loop);
    do {
        turns = rp_loop_turns(s->loop);
        rp_loop_set_deadline(s->loop, rp_clock_now_us() + 1000);
        rp_loop_run(s->loop);
    } while (rp_loop_turns(s->loop) > turns + 1);
}

static int dial(const struct scene *s)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    strcpy(address.sun_path, s->path);
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    assert_true(fd >= 0);
    assert_int_equal(connect(fd, (struct sockaddr *)&address, sizeof address), 0);
    return fd;
}

static void say(int fd, const char *text)
{
    assert_int_equal(send(fd, text, strlen(text), MSG_NOSIGNAL), strlen(text));
}

static void hear(int fd, const char *wanted)
{
    char got[256] = "";
    ssize_t len = recv(fd, got, sizeof got - 1, 0);
    assert_int_equal(len, strlen(wanted));
    assert_string_equal(got, wanted);
}

static void assert_closed(int fd)
{
    char byte;
    ssize_t got = recv(fd, &byte, 1, 0);
    assert_true(got == 0 || (got < 0 && errno == ECONNRESET));
}

static void two_clients_get_their_own_answers(void **state)
{
    struct scene *s = *state;
    s->echo = true;
    listen_ok(s, NULL);
    int a = dial(s), b = dial(s);
    settle(s);
    assert_int_equal(rp_listener_client_count(s->listener), 2);
    say(b, "from b\n");
    say(a, "from a\nand ag");
    settle(s);
    hear(a, "from a\n");
    hear(b, "from b\n");
    say(a, "ain\n\n");
    settle(s);
    hear(a, "and again\n\n");
    assert_int_equal(s->lines, 4);
    assert_true(s->seen[2] == s->seen[3]);
    close(a);
    settle(s);
    assert_int_equal(s->gone, 1);
    assert_int_equal(s->last_gone, s->seen[3]);
    assert_int_equal(rp_listener_client_count(s->listener), 1);
    close(b);
}

static void idle_clients_cost_no_wake_up(void **state)
{
    struct scene *s = *state;
    listen_ok(s, NULL);
    int a = dial(s), b = dial(s);
    say(a, "half a li");
    settle(s);
    uint64_t turns = rp_loop_turns(s->loop);
    rp_loop_set_deadline(s->loop, rp_clock_now_us() + 50000);
    rp_loop_run(s->loop);
    assert_int_equal(rp_loop_turns(s->loop), turns + 1);
    close(a);
    close(b);
}

static void a_line_may_be_64_kib_and_no_more(void **state)
{
    struct scene *s = *state;
    const struct rp_listener_options options = {.long_reply = "too long"};
    static char line[65536 + 2];
    memset(line, 'x', 65536);
    line[65536] = '\n';
    listen_ok(s, &options);
    int a = dial(s), b = dial(s);
    settle(s);
    for (size_t done = 0; done < 65537;) { /* the socket takes less at once */
        ssize_t put = send(a, line + done, 65537 - done, MSG_NOSIGNAL);
        done += put > 0 ? (size_t)put : 0;
        settle(s);
    }
    assert_int_equal(s->lines, 1);
    assert_int_equal(s->last_len, 65536);
    assert_int_equal(s->gone, 0);
    line[65536] = 'x';
    for (size_t done = 0; done < 65537;) {
        ssize_t put = send(b, line + done, 65537 - done, MSG_NOSIGNAL);
        done += put > 0 ? (size_t)put : 0;
        settle(s);
    }
    assert_int_equal(s->lines, 1);
    assert_int_equal(s->gone, 1);
    hear(b, "too long\n");
    assert_closed(b);
    say(a, "still here\n");
    settle(s);
    assert_int_equal(s->lines, 2);
    close(a);
    close(b);
}

static void a_client_that_asks_and_never_listens_is_held_up(void **state)
{
    struct scene *s = *state;
    s->reply_len = 100 * 1000;
    listen_ok(s, NULL);
    int a = dial(s), b = dial(s);
    say(a, "1\n2\n3\n4\n5\n6\n7\n8\n9\n10\n11\n12\n13\n14\n15\n16\n17\n18\n19\n20\n");
    settle(s);
    int held_at = s->lines;
    assert_true(held_at < 20); /* the socket's buffer is full: no more lines are taken */
    s->reply_len = 0;
    s->echo = true;
    say(b, "hello\n");
    settle(s);
    hear(b, "hello\n");
    s->echo = false;
    s->reply_len = 100 * 1000;
    size_t got = 0;
    static char sink[65536];
    for (int i = 0; i < 2000 && got < 20 * 100001; i++) {
        ssize_t len = recv(a, sink, sizeof sink, 0);
        got += len > 0 ? (size_t)len : 0;
        settle(s);
    }
    assert_int_equal(got, 20 * 100001);
    assert_int_equal(s->lines, 21);
    assert_int_equal(s->gone, 0);
    close(a);
    close(b);
}

static void a_slow_reader_of_pushed_news_is_dropped(void **state)
{
    struct scene *s = *state;
    const struct rp_listener_options options = {.out_len_max = 300000};
    static const uint8_t news[50000];
    listen_ok(s, &options);
    int a = dial(s);
    say(a, "subscribe\n");
    settle(s);
    int rc = 0, sent = 0;
    while (rc == 0 && sent < 100) {
        rc = rp_listener_send(s->listener, s->seen[0], (struct rp_view){news, sizeof news});
        sent++;
    }
    assert_int_equal(rc, RP_E_FULL);
    assert_true(sent >= 6); /* 300,000 bytes may wait, besides what the socket holds */
    assert_int_equal(rp_listener_client_count(s->listener), 0);
    assert_int_equal(s->gone, 0); /* the return value said it */
    assert_int_equal(rp_listener_send(s->listener, s->seen[0], (struct rp_view){news, sizeof news}),
                     RP_E_NOT_FOUND);
    close(a);
}

static void an_answer_too_large_ends_its_client(void **state)
{
    struct scene *s = *state;
    const struct rp_listener_options options = {.out_len_max = 1000};
    s->reply_len = 1000; /* 1001 with the newline */
    listen_ok(s, &options);
    int a = dial(s);
    say(a, "one\ntwo\n");
    settle(s);
    assert_int_equal(s->reply_rc, RP_E_FULL);
    assert_int_equal(s->lines, 1);
    assert_int_equal(rp_listener_client_count(s->listener), 0);
    assert_closed(a);
    close(a);
}

static void garbage_is_passed_on_and_harms_nobody(void **state)
{
    struct scene *s = *state;
    listen_ok(s, NULL);
    int a = dial(s);
    static const char garbage[] = "\0\xff\xfe{[\r\n\0\0\n\n\x80";
    assert_int_equal(send(a, garbage, sizeof garbage - 1, MSG_NOSIGNAL), 12);
    settle(s);
    assert_int_equal(s->lines, 3);
    assert_int_equal(s->last_len, 0);
    close(a);
    settle(s);
    assert_int_equal(s->lines, 3); /* a line that was never ended is none */
    assert_int_equal(s->gone, 1);
}

static void the_first_garbage_line_is_exact(void **state)
{
    struct scene *s = *state;
    listen_ok(s, NULL);
    int a = dial(s);
    assert_int_equal(send(a, "\0\xff\r\n", 4, MSG_NOSIGNAL), 4);
    settle(s);
    assert_int_equal(s->last_len, 3);
    assert_memory_equal(s->last, "\0\xff\r", 3);
    close(a);
}

static void a_client_may_stop_sending_and_still_hear(void **state)
{
    struct scene *s = *state;
    s->reply_len = 300 * 1000;
    listen_ok(s, NULL);
    int a = dial(s);
    say(a, "ask\n");
    assert_int_equal(shutdown(a, SHUT_WR), 0);
    static char sink[65536];
    size_t got = 0;
    for (int i = 0; i < 100 && s->gone == 0; i++) {
        settle(s);
        ssize_t len = recv(a, sink, sizeof sink, 0);
        got += len > 0 ? (size_t)len : 0;
    }
    ssize_t len;
    while ((len = recv(a, sink, sizeof sink, 0)) > 0) {
        got += (size_t)len;
    }
    assert_int_equal(got, 300001);
    assert_int_equal(s->gone, 1);
    close(a);
}

static void one_client_too_many_is_told(void **state)
{
    struct scene *s = *state;
    const struct rp_listener_options options = {.full_reply = "full"};
    int fds[RP_LISTENER_CLIENTS_MAX];
    listen_ok(s, &options);
    for (int i = 0; i < RP_LISTENER_CLIENTS_MAX; i++) {
        fds[i] = dial(s);
        settle(s);
    }
    assert_int_equal(rp_listener_client_count(s->listener), 16);
    int extra = dial(s);
    settle(s);
    hear(extra, "full\n");
    assert_closed(extra);
    close(extra);
    close(fds[3]);
    settle(s);
    extra = dial(s);
    say(extra, "now\n");
    settle(s);
    assert_int_equal(s->lines, 1);
    for (int i = 0; i < RP_LISTENER_CLIENTS_MAX; i++) {
        if (i != 3) {
            close(fds[i]);
        }
    }
    close(extra);
}

static void running_out_of_descriptors_does_not_spin(void **state)
{
    struct scene *s = *state;
    listen_ok(s, NULL);
    settle(s);
    int a = dial(s);
    struct rlimit old, tight;
    assert_int_equal(getrlimit(RLIMIT_NOFILE, &old), 0);
    tight = old;
    tight.rlim_cur = (rlim_t)a + 1; /* every number up to a is in use: accept finds none */
    int hole = open("/dev/null", O_RDONLY);
    assert_int_equal(hole, a + 1);
    close(hole);
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &tight), 0);
    uint64_t turns = rp_loop_turns(s->loop);
    settle(s);
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &old), 0);
    assert_true(rp_loop_turns(s->loop) - turns <= 4);
    assert_int_equal(rp_listener_client_count(s->listener), 0);
    assert_closed(a);
    close(a);
    a = dial(s);
    say(a, "again\n");
    settle(s);
    assert_int_equal(s->lines, 1);
    close(a);
}

/* --- the socket file --- */

static mode_t mode_of(const char *path)
{
    struct stat st;
    assert_int_equal(lstat(path, &st), 0);
    assert_true(S_ISSOCK(st.st_mode));
    return st.st_mode & 07777;
}

static void the_file_is_private_or_for_a_group(void **state)
{
    struct scene *s = *state;
    mode_t old = umask(0);
    listen_ok(s, NULL);
    assert_int_equal(mode_of(s->path), 0600);
    rp_listener_free(s->listener);
    s->listener = NULL;
    struct stat st;
    assert_int_equal(lstat(s->path, &st), -1);
    umask(0077); /* as the service has it: the group must still get in */
    if (geteuid() == 0) {
        const struct rp_listener_options options = {.group = "dialout"};
        listen_ok(s, &options);
        assert_int_equal(mode_of(s->path), 0660);
        assert_int_equal(lstat(s->path, &st), 0);
        assert_int_equal(st.st_gid, 20); /* base-passwd */
    }
    umask(old);
    struct rp_listener *other = NULL;
    const struct rp_listener_options nobody = {.group = "no-such-group"};
    strcpy(s->path, folder_file(&s->folder, "other"));
    assert_int_equal(try_listen(s, &nobody, &other), RP_E_NOT_FOUND);
    assert_non_null(strstr(s->problem.text, "no-such-group"));
    assert_int_equal(lstat(s->path, &st), -1);
}

static void a_live_daemon_is_not_pushed_out(void **state)
{
    struct scene *s = *state;
    listen_ok(s, NULL);
    struct rp_listener *second = NULL;
    int before = descriptor_count();
    assert_int_equal(try_listen(s, NULL, &second), RP_E_TAKEN);
    assert_null(second);
    assert_int_equal(descriptor_count(), before);
    assert_non_null(strstr(s->problem.text, s->path));
    int a = dial(s);
    say(a, "alive\n");
    settle(s);
    assert_int_equal(s->lines, 1);
    close(a);
    /* One that holds no lock but answers is alive too. */
    unlink(folder_file(&s->folder, "control.lock"));
    assert_int_equal(try_listen(s, NULL, &second), RP_E_TAKEN);
    assert_int_equal(mode_of(s->path), 0600);
}

static void a_dead_daemons_socket_is_replaced(void **state)
{
    struct scene *s = *state;
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    strcpy(address.sun_path, s->path);
    int fd = socket(AF_UNIX, SOCK_STREAM, 0);
    assert_int_equal(bind(fd, (struct sockaddr *)&address, sizeof address), 0);
    assert_int_equal(listen(fd, 1), 0);
    close(fd); /* the file stays */
    assert_true(mode_of(s->path) != 0);
    listen_ok(s, NULL);
    int a = dial(s);
    say(a, "alive\n");
    settle(s);
    assert_int_equal(s->lines, 1);
    close(a);
}

static void what_is_no_socket_is_left_alone(void **state)
{
    struct scene *s = *state;
    struct rp_listener *listener = NULL;
    struct stat st;
    file_write(s->path, "precious", 0600);
    assert_int_equal(try_listen(s, NULL, &listener), RP_E_INVALID);
    assert_non_null(strstr(s->problem.text, "is not a socket"));
    assert_int_equal(lstat(s->path, &st), 0);
    assert_int_equal(st.st_size, 8);
    strcpy(s->path, folder_file(&s->folder, "none/control"));
    assert_int_equal(try_listen(s, NULL, &listener), RP_E_NOT_FOUND);
    memset(s->path, 'p', sizeof s->path - 1);
    static char long_path[120];
    memset(long_path, 'p', sizeof long_path - 1);
    const struct rp_listener_events events = {s, on_line, on_gone};
    assert_int_equal(rp_listener_new(s->loop, long_path, NULL, &events, &listener, &s->problem),
                     RP_E_TOO_LONG);
    assert_int_equal(rp_listener_new(s->loop, "", NULL, &events, &listener, &s->problem),
                     RP_E_TOO_LONG);
}

static void anothers_socket_is_not_removed_at_the_end(void **state)
{
    struct scene *s = *state;
    listen_ok(s, NULL);
    assert_int_equal(unlink(s->path), 0);
    file_write(s->path, "someone else's", 0600);
    rp_listener_free(s->listener);
    s->listener = NULL;
    struct stat st;
    assert_int_equal(lstat(s->path, &st), 0);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        TEST(two_clients_get_their_own_answers),
        TEST(idle_clients_cost_no_wake_up),
        TEST(a_line_may_be_64_kib_and_no_more),
        TEST(a_client_that_asks_and_never_listens_is_held_up),
        TEST(a_slow_reader_of_pushed_news_is_dropped),
        TEST(an_answer_too_large_ends_its_client),
        TEST(garbage_is_passed_on_and_harms_nobody),
        TEST(the_first_garbage_line_is_exact),
        TEST(a_client_may_stop_sending_and_still_hear),
        TEST(one_client_too_many_is_told),
        TEST(running_out_of_descriptors_does_not_spin),
        TEST(the_file_is_private_or_for_a_group),
        TEST(a_live_daemon_is_not_pushed_out),
        TEST(a_dead_daemons_socket_is_replaced),
        TEST(what_is_no_socket_is_left_alone),
        TEST(anothers_socket_is_not_removed_at_the_end),
    };
    return cmocka_run_group_tests_name("port_listener", tests, NULL, NULL);
}
