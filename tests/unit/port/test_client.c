/* The command line's end of the control socket, the line cutter, sd_notify, clocks. The peer of
 * the client is a forked child with plain socket calls, not our own listener. */
#include "rp_test.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "base/rng.h"
#include "port/client.h"
#include "port/clock.h"
#include "port/lines.h"
#include "port/notify.h"
#include "port_support.h"

/* --- client --- */

struct peer {
    struct folder folder;
    char path[96];
    int fd;
    pid_t child;
};

static void fill_address(struct sockaddr_un *out, const char *path)
{
    *out = (struct sockaddr_un){.sun_family = AF_UNIX};
    strcpy(out->sun_path, path);
}

static void peer_listen(struct peer *peer)
{
    struct sockaddr_un address;
    folder_make(&peer->folder);
    strcpy(peer->path, folder_file(&peer->folder, "control"));
    fill_address(&address, peer->path);
    peer->fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    assert_true(peer->fd >= 0);
    assert_int_equal(bind(peer->fd, (struct sockaddr *)&address, sizeof address), 0);
    assert_int_equal(listen(peer->fd, 4), 0);
}

/* In a child: takes one connection, reads a request up to its newline unless `deaf`, sends `len`
 * bytes of reply, and exits 0 when the request was `wanted`. */
static void peer_serve(struct peer *peer, const char *wanted, const char *reply, size_t len)
{
    peer->child = fork();
    assert_true(peer->child >= 0);
    if (peer->child != 0) {
        return;
    }
    alarm(10); /* never outlives the test */
    char got[256] = "";
    size_t at = 0;
    int fd = accept(peer->fd, NULL, NULL);
    while (wanted != NULL && at < sizeof got - 1 && recv(fd, got + at, 1, 0) == 1 &&
           got[at] != '\n') {
        at++;
    }
    for (size_t done = 0; done < len;) {
        ssize_t put = send(fd, reply + done, len - done, MSG_NOSIGNAL);
        if (put < 0) {
            break;
        }
        done += (size_t)put;
    }
    close(fd);
    _exit(wanted == NULL || strcmp(got, wanted) == 0 ? 0 : 1);
}

static void peer_end(struct peer *peer, bool served)
{
    int status = 1;
    if (served) {
        assert_int_equal(waitpid(peer->child, &status, 0), peer->child);
        assert_true(WIFEXITED(status));
        assert_int_equal(WEXITSTATUS(status), 0);
    }
    close(peer->fd);
    folder_remove(&peer->folder);
}

struct answer {
    size_t len;
    char start[32];
};

static int keep_answer(void *ctx, struct rp_view reply)
{
    struct answer *answer = ctx;
    answer->len = reply.len;
    memcpy(answer->start, reply.bytes,
           reply.len < sizeof answer->start ? reply.len : sizeof answer->start);
    return 42;
}

static int call(const char *path, const char *request, int timeout_ms, struct answer *answer,
                struct rp_problem *out_problem)
{
    struct rp_view view = {(const uint8_t *)request, strlen(request)};
    return rp_client_call(path, view, timeout_ms, keep_answer, answer, out_problem);
}

static void one_question_gets_one_answer(void **state)
{
    (void)state;
    struct peer peer;
    struct answer answer = {0};
    struct rp_problem problem;
    peer_listen(&peer);
    int before = descriptor_count();
    peer_serve(&peer, "status\n", "all well\nnot asked for\n", 23);
    assert_int_equal(call(peer.path, "status", 5000, &answer, &problem), 42);
    assert_int_equal(answer.len, 8);
    assert_memory_equal(answer.start, "all well", 8);
    assert_int_equal(descriptor_count(), before);
    peer_end(&peer, true);
}

static void an_answer_may_be_4_mib_and_no_more(void **state)
{
    (void)state;
    static char reply[RP_CLIENT_REPLY_LEN_MAX + 2];
    for (size_t extra = 0; extra <= 1; extra++) {
        struct peer peer;
        struct answer answer = {0};
        struct rp_problem problem;
        memset(reply, 'r', sizeof reply);
        reply[RP_CLIENT_REPLY_LEN_MAX + extra] = '\n';
        peer_listen(&peer);
        peer_serve(&peer, "long\n", reply, RP_CLIENT_REPLY_LEN_MAX + extra + 1);
        int rc = call(peer.path, "long", 5000, &answer, &problem);
        assert_int_equal(rc, extra == 0 ? 42 : RP_E_TOO_LONG);
        assert_int_equal(answer.len, extra == 0 ? RP_CLIENT_REPLY_LEN_MAX : 0);
        peer_end(&peer, true);
    }
}

static void silence_and_hanging_up_are_told_apart(void **state)
{
    (void)state;
    struct peer peer;
    struct answer answer = {0};
    struct rp_problem problem;
    peer_listen(&peer); /* connects, but nobody ever accepts */
    assert_int_equal(call(peer.path, "status", 20, &answer, &problem), RP_E_TIMEOUT);
    assert_string_equal(problem.text, "the daemon did not answer in time");
    peer_end(&peer, false);
    peer_listen(&peer);
    peer_serve(&peer, "status\n", "half an ans", 11);
    assert_int_equal(call(peer.path, "status", 5000, &answer, &problem), RP_E_GONE);
    assert_non_null(strstr(problem.text, "closed the connection without an answer"));
    peer_end(&peer, true);
}

static void a_refusal_is_heard_by_who_was_still_sending(void **state)
{
    (void)state;
    struct peer peer;
    struct rp_client client;
    struct rp_problem problem;
    struct rp_view reply;
    peer_listen(&peer);
    peer_serve(&peer, NULL, "full\n", 5);
    assert_int_equal(rp_client_open(&client, peer.path, &problem), 0);
    peer_end(&peer, true); /* it has spoken and closed: sending now meets EPIPE */
    struct rp_view request = {(const uint8_t *)"status", 6};
    assert_int_equal(rp_client_send(&client, request, 1000, &problem), 0);
    assert_int_equal(rp_client_next(&client, 1000, &reply, &problem), 0);
    assert_int_equal(reply.len, 4);
    assert_memory_equal(reply.bytes, "full", 4);
    assert_int_equal(rp_client_next(&client, 1000, &reply, &problem), RP_E_GONE);
    rp_client_close(&client);
}

static void requests_that_are_no_line_are_refused(void **state)
{
    (void)state;
    static uint8_t request[65536 + 1];
    struct rp_client client = {.fd = -1};
    memset(request, 'q', sizeof request);
    assert_int_equal(rp_client_send(&client, (struct rp_view){request, 65537}, 1, NULL),
                     RP_E_TOO_LONG);
    request[65535] = '\n';
    assert_int_equal(rp_client_send(&client, (struct rp_view){request, 65536}, 1, NULL),
                     RP_E_INVALID);
}

static int call_without_rights(const void *arg)
{
    struct answer answer;
    struct rp_problem problem = {0};
    int rc = call(arg, "status", 1000, &answer, &problem);
    return strstr(problem.text, "no permission to use") != NULL ? rc : -99;
}

static void what_is_wrong_with_the_socket_is_said(void **state)
{
    (void)state;
    struct peer peer;
    struct answer answer;
    struct rp_problem problem;
    char wanted[200];
    peer_listen(&peer);
    if (geteuid() == 0) {
        assert_int_equal(as_plain_user(call_without_rights, peer.path), RP_E_PERMISSION);
    }
    close(peer.fd); /* the daemon died */
    assert_int_equal(call(peer.path, "status", 1000, &answer, &problem), RP_E_NOT_FOUND);
    snprintf(wanted, sizeof wanted, "the daemon is not running: nothing answers at %s", peer.path);
    assert_string_equal(problem.text, wanted);
    assert_int_equal(unlink(peer.path), 0);
    assert_int_equal(call(peer.path, "status", 1000, &answer, &problem), RP_E_NOT_FOUND);
    assert_string_equal(problem.text, wanted);
    char long_path[200];
    memset(long_path, 'p', sizeof long_path);
    long_path[108] = '\0';
    assert_int_equal(call(long_path, "status", 1000, &answer, &problem), RP_E_TOO_LONG);
    peer.fd = -1;
    folder_remove(&peer.folder);
}

/* --- lines --- */

static void lines_come_out_however_they_are_cut(void **state)
{
    (void)state;
    static const char stream[] = "one\n\ntwo two\nthree\r\nrest";
    static const char *const wanted[] = {"one", "", "two two", "three\r"};
    uint64_t seed = 20260704;
    struct rp_rng rng = rp_rng_seeded(seed);
    for (int round = 0; round < 500; round++) {
        struct rp_lines lines;
        rp_lines_init(&lines, 8);
        size_t at = 0, count = 0;
        while (at < sizeof stream - 1) {
            size_t part = 1 + (size_t)rp_rng_below(&rng, sizeof stream - 1 - at);
            assert_int_equal(
                rp_lines_push(&lines, (struct rp_view){(const uint8_t *)stream + at, part}), 0);
            at += part;
            struct rp_view line;
            while (rp_lines_next(&lines, &line) == 1) {
                if (count >= 4 || line.len != strlen(wanted[count]) ||
                    memcmp(line.bytes, wanted[count], line.len) != 0) {
                    fail_msg("seed %llu round %d", (unsigned long long)seed, round);
                }
                count++;
            }
        }
        assert_int_equal(count, 4);
        rp_lines_deinit(&lines);
    }
}

static void lines_have_a_bound(void **state)
{
    (void)state;
    struct rp_view line;
    struct rp_lines lines;
    rp_lines_init(&lines, 4);
    assert_int_equal(rp_lines_next(&lines, &line), 0);
    assert_int_equal(rp_lines_push(&lines, (struct rp_view){(const uint8_t *)"abcd", 4}), 0);
    assert_int_equal(rp_lines_next(&lines, &line), 0);
    assert_int_equal(rp_lines_push(&lines, (struct rp_view){(const uint8_t *)"\nabcde", 6}), 0);
    assert_int_equal(rp_lines_next(&lines, &line), 1);
    assert_int_equal(line.len, 4);
    assert_int_equal(rp_lines_next(&lines, &line), RP_E_TOO_LONG);
    rp_lines_deinit(&lines);
    rp_lines_init(&lines, 4);
    assert_int_equal(rp_lines_push(&lines, (struct rp_view){(const uint8_t *)"abcde", 5}),
                     RP_E_TOO_LONG);
    rp_lines_deinit(&lines);
    rp_lines_init(&lines, 4); /* too long though it has an end */
    assert_int_equal(rp_lines_push(&lines, (struct rp_view){(const uint8_t *)"ab\nabcde\n", 9}), 0);
    assert_int_equal(rp_lines_next(&lines, &line), 1);
    assert_int_equal(rp_lines_next(&lines, &line), RP_E_TOO_LONG);
    rp_lines_deinit(&lines);
}

/* --- sd_notify(3) --- */

/* A service manager's end: a datagram socket at a path or, with '@', an abstract one (unix(7)). */
static int manager(const char *name)
{
    struct sockaddr_un address;
    fill_address(&address, name);
    socklen_t len = (socklen_t)(offsetof(struct sockaddr_un, sun_path) + strlen(name));
    if (name[0] == '@') {
        address.sun_path[0] = '\0';
    } else {
        len++;
    }
    int fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_NONBLOCK, 0);
    assert_int_equal(bind(fd, (struct sockaddr *)&address, len), 0);
    return fd;
}

static void the_manager_is_notified(void **state)
{
    (void)state;
    struct folder folder;
    char names[2][96], got[64] = "";
    folder_make(&folder);
    unsetenv("NOTIFY_SOCKET");
    assert_int_equal(rp_notify("READY=1"), 0);
    snprintf(names[0], sizeof names[0], "%s", folder_file(&folder, "notify"));
    snprintf(names[1], sizeof names[1], "@rp-notify-%ld", (long)getpid());
    for (int i = 0; i < 2; i++) {
        int fd = manager(names[i]);
        setenv("NOTIFY_SOCKET", names[i], 1);
        int before = descriptor_count();
        assert_int_equal(rp_notify("READY=1\nSTATUS=listening"), 1);
        assert_int_equal(descriptor_count(), before);
        assert_int_equal(recv(fd, got, sizeof got, 0), 24);
        assert_memory_equal(got, "READY=1\nSTATUS=listening", 24);
        close(fd);
        assert_int_equal(rp_notify("WATCHDOG=1"), RP_E_IO);
    }
    setenv("NOTIFY_SOCKET", "relative", 1);
    assert_int_equal(rp_notify("READY=1"), RP_E_INVALID);
    char long_name[200] = "/";
    memset(long_name + 1, 'n', 120);
    setenv("NOTIFY_SOCKET", long_name, 1);
    assert_int_equal(rp_notify("READY=1"), RP_E_INVALID);
    unsetenv("NOTIFY_SOCKET");
    folder_remove(&folder);
}

/* sd_watchdog_enabled(3): the interval counts only for the process named. */
static void the_watchdog_is_for_us_or_not(void **state)
{
    (void)state;
    char pid[24];
    snprintf(pid, sizeof pid, "%ld", (long)getpid());
    unsetenv("WATCHDOG_USEC");
    unsetenv("WATCHDOG_PID");
    assert_true(rp_notify_watchdog_us() == RP_NEVER);
    setenv("WATCHDOG_USEC", "30000000", 1);
    assert_true(rp_notify_watchdog_us() == 30000000);
    setenv("WATCHDOG_PID", pid, 1);
    assert_true(rp_notify_watchdog_us() == 30000000);
    setenv("WATCHDOG_PID", "1", 1);
    assert_true(rp_notify_watchdog_us() == RP_NEVER);
    unsetenv("WATCHDOG_PID");
    static const char *const bad[] = {"", "0", "-5", "12x", "99999999999999999999"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        setenv("WATCHDOG_USEC", bad[i], 1);
        assert_true(rp_notify_watchdog_us() == RP_NEVER);
    }
    unsetenv("WATCHDOG_USEC");
}

/* --- clocks --- */

static void clocks_agree_with_the_c_library(void **state)
{
    (void)state;
    struct timespec before, after;
    assert_int_equal(clock_gettime(CLOCK_BOOTTIME, &before), 0);
    rp_time_us now_us = rp_clock_now_us();
    assert_int_equal(clock_gettime(CLOCK_BOOTTIME, &after), 0);
    assert_true(now_us >= (int64_t)before.tv_sec * 1000000 + before.tv_nsec / 1000);
    assert_true(now_us <= (int64_t)after.tv_sec * 1000000 + after.tv_nsec / 1000);
    time_t early = time(NULL);
    int64_t unix_s = rp_clock_unix_s();
    assert_true(unix_s >= early - 1 && unix_s <= time(NULL) + 1);
}

/* random(4): boot_id is a UUID made once a boot. */
static void the_run_of_the_computer_has_one_number(void **state)
{
    (void)state;
    int64_t first = 0, second = 0;
    char text[40] = "", expected[17];
    assert_int_equal(rp_clock_boot(&first), 0);
    assert_int_equal(rp_clock_boot(&second), 0);
    assert_true(first > 0 && first == second);
    FILE *file = fopen("/proc/sys/kernel/random/boot_id", "r");
    assert_non_null(file);
    assert_non_null(fgets(text, sizeof text, file));
    fclose(file);
    snprintf(expected, sizeof expected, "%.8s%.8s", text, text + 28);
    assert_int_equal(first, (int64_t)(strtoull(expected, NULL, 16) & INT64_MAX));
}

static void random_bytes_differ_and_stay_inside(void **state)
{
    (void)state;
    uint8_t a[34] = {0}, b[34] = {0};
    assert_int_equal(rp_random_bytes(a + 1, 32), 0);
    assert_int_equal(rp_random_bytes(b + 1, 32), 0);
    assert_memory_not_equal(a, b, sizeof a); /* fails once in 2^256 runs */
    assert_int_equal(a[0] + a[33] + b[0] + b[33], 0);
    assert_int_equal(rp_random_bytes(a, 0), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_question_gets_one_answer),
        cmocka_unit_test(an_answer_may_be_4_mib_and_no_more),
        cmocka_unit_test(silence_and_hanging_up_are_told_apart),
        cmocka_unit_test(a_refusal_is_heard_by_who_was_still_sending),
        cmocka_unit_test(requests_that_are_no_line_are_refused),
        cmocka_unit_test(what_is_wrong_with_the_socket_is_said),
        cmocka_unit_test(lines_come_out_however_they_are_cut),
        cmocka_unit_test(lines_have_a_bound),
        cmocka_unit_test(the_manager_is_notified),
        cmocka_unit_test(the_watchdog_is_for_us_or_not),
        cmocka_unit_test(clocks_agree_with_the_c_library),
        cmocka_unit_test(the_run_of_the_computer_has_one_number),
        cmocka_unit_test(random_bytes_differ_and_stay_inside),
    };
    return cmocka_run_group_tests_name("port_client", tests, NULL, NULL);
}
