/* Pseudo-terminals and TCP streams behind the line interface. */
#define _GNU_SOURCE /* accept4 */
#include "rp_test.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

#include "port/line.h"
#include "port_support.h"

static void fill_all(uint8_t all[256])
{
    for (int i = 0; i < 256; i++) {
        all[i] = (uint8_t)i;
    }
}

/* Reads from a line until `wanted` bytes have come; waits at most 2 s for each part. */
static void line_read_exactly(struct rp_line *line, uint8_t *buf, size_t wanted)
{
    size_t done = 0;
    while (done < wanted) {
        assert_true(becomes_ready(rp_line_fd(line), POLLIN));
        int got = rp_line_read(line, buf + done, wanted - done);
        assert_true(got > 0);
        done += (size_t)got;
    }
}

/* --- pseudo-terminals --- */

static void pty_is_raw_and_passes_all_bytes(void **state)
{
    (void)state;
    char slave[64], text[300], wanted[300];
    uint8_t all[256], got[256];
    struct rp_problem problem;
    struct rp_line line = {0};
    fill_all(all);
    int before = descriptor_count();
    int master = pty_pair(slave, sizeof slave);
    assert_int_equal(rp_line_open(&line, slave, 57600, NULL, &problem), 0);
    assert_int_equal(rp_line_ready(&line), 0);
    snprintf(wanted, sizeof wanted, "%s, 57600 baud", slave);
    rp_line_describe(&line, text, sizeof text);
    assert_string_equal(text, wanted);
    struct termios t;
    assert_int_equal(tcgetattr(rp_line_fd(&line), &t), 0);
    assert_int_equal(t.c_lflag & (ICANON | ECHO | ISIG | IEXTEN), 0);
    assert_int_equal(t.c_iflag & (IXON | IXOFF | ICRNL), 0);
    assert_int_equal(t.c_oflag & OPOST, 0);
    assert_int_equal(cfgetospeed(&t), B57600);
    assert_int_equal(fcntl(rp_line_fd(&line), F_GETFD) & FD_CLOEXEC, FD_CLOEXEC);
    assert_int_equal(rp_line_read(&line, got, sizeof got), RP_E_BUSY);
    assert_int_equal(write(master, all, 256), 256);
    line_read_exactly(&line, got, 256);
    assert_memory_equal(got, all, 256);
    assert_int_equal(rp_line_write(&line, all, 256), 256);
    read_exactly(master, got, 256);
    assert_memory_equal(got, all, 256);
    rp_line_close(&line);
    close(master);
    assert_int_equal(descriptor_count(), before);
}

static void pty_hang_up_is_gone(void **state)
{
    (void)state;
    char slave[64];
    uint8_t got[8];
    struct rp_problem problem;
    struct rp_line line = {0};
    int master = pty_pair(slave, sizeof slave);
    assert_int_equal(rp_line_open(&line, slave, 9600, NULL, &problem), 0);
    close(master);
    assert_int_equal(rp_line_read(&line, got, sizeof got), RP_E_GONE);
    assert_int_equal(rp_line_write(&line, got, 1), RP_E_GONE);
    assert_non_null(strstr(rp_line_fault(&line)->text, "unplugged or hung up"));
    rp_line_close(&line);
    assert_int_equal(rp_line_open(&line, slave, 9600, NULL, &problem), RP_E_NOT_FOUND);
}

static void pty_is_locked_and_found_through_a_link(void **state)
{
    (void)state;
    char slave[64];
    struct rp_problem problem;
    struct rp_line line = {0}, second = {0};
    struct folder folder;
    folder_make(&folder);
    int master = pty_pair(slave, sizeof slave);
    const char *link = folder_file(&folder, "radio");
    assert_int_equal(symlink(slave, link), 0);
    assert_int_equal(rp_line_open(&line, link, 9600, NULL, &problem), 0);
    assert_int_equal(rp_line_open(&second, slave, 9600, NULL, &problem), RP_E_TAKEN);
    assert_non_null(strstr(problem.text, slave));
    rp_line_close(&line);
    assert_int_equal(rp_line_open(&second, slave, 9600, NULL, &problem), 0);
    rp_line_close(&second);
    close(master);
    folder_remove(&folder);
}

static void bad_targets_are_refused_with_an_example(void **state)
{
    (void)state;
    static char long_path[400] = "/dev/";
    memset(long_path + 5, 'a', sizeof long_path - 6);
    static const struct {
        const char *target;
        int code;
        const char *words;
    } cases[] = {
        {"ttyUSB0", RP_E_INVALID, "/dev/ttyUSB0"},
        {"", RP_E_INVALID, "/dev/ttyUSB0"},
        {"/dev/ttyNone9", RP_E_NOT_FOUND, "/dev/ttyNone9 is not there"},
        {"/etc/passwd", RP_E_INVALID, "not a device"},
        {"/dev/null", RP_E_INVALID, "not a serial port"},
        {"tcp:", RP_E_INVALID, "tcp:127.0.0.1:8001"},
        {"tcp:127.0.0.1", RP_E_INVALID, "tcp:127.0.0.1:8001"},
        {"tcp:127.0.0.1:", RP_E_INVALID, "PORT 1-65535"},
        {"tcp:127.0.0.1:0", RP_E_INVALID, "PORT 1-65535"},
        {"tcp:127.0.0.1:65536", RP_E_INVALID, "PORT 1-65535"},
        {"tcp:127.0.0.1:80x", RP_E_INVALID, "PORT 1-65535"},
        {"tcp:127.0.0.1:-1", RP_E_INVALID, "PORT 1-65535"},
        {"tcp:radio.example:8001", RP_E_INVALID, "numeric"},
        {"tcp:[::1:8001", RP_E_INVALID, "[::1]:8001"},
        {long_path, RP_E_TOO_LONG, "255 bytes"},
    };
    int before = descriptor_count();
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct rp_line line = {0};
        struct rp_problem problem = {0};
        assert_int_equal(rp_line_open(&line, cases[i].target, 9600, NULL, &problem), cases[i].code);
        assert_non_null(strstr(problem.text, cases[i].words));
        assert_int_equal(rp_line_fd(&line), -1);
        assert_int_equal(rp_line_open(&line, cases[i].target, 9600, NULL, NULL), cases[i].code);
    }
    assert_int_equal(descriptor_count(), before);
}

/* What shows without opening: the form of the target and the rate. */
static void a_target_is_checked_by_its_form(void **state)
{
    (void)state;
    static const struct {
        const char *target;
        uint32_t baud;
        int code;
        const char *field;
    } cases[] = {
        {"/dev/ttyNone9", 9600, 0, ""},
        {"tcp:127.0.0.1:8001", 0, 0, ""},
        {"tcp:[::1]:8001", 0, 0, ""},
        {"ttyUSB0", 9600, RP_E_INVALID, "port"},
        {"tcp:radio.example:8001", 0, RP_E_INVALID, "port"},
        {"/dev/ttyUSB0", 12345, RP_E_INVALID, "baud"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct rp_problem problem = {0};
        assert_int_equal(rp_line_check(cases[i].target, cases[i].baud, &problem), cases[i].code);
        assert_string_equal(problem.field, cases[i].field);
    }
}

static void unusual_rates_are_refused(void **state)
{
    (void)state;
    char slave[64];
    struct rp_problem problem;
    struct rp_line line = {0};
    int master = pty_pair(slave, sizeof slave);
    static const uint32_t rates[] = {0, 1, 300, 57601, 250000, 4000000000u};
    for (size_t i = 0; i < sizeof rates / sizeof rates[0]; i++) {
        assert_int_equal(rp_line_open(&line, slave, rates[i], NULL, &problem), RP_E_INVALID);
        assert_string_equal(problem.field, "baud");
    }
    close(master);
}

static int open_without_rights(const void *arg)
{
    struct rp_line line = {0};
    struct rp_problem problem = {0};
    int rc = rp_line_open(&line, arg, 9600, NULL, &problem);
    return strstr(problem.text, "must be in the group dialout") != NULL ? rc : -99;
}

static void a_port_of_another_user_names_the_group(void **state)
{
    (void)state;
    char slave[64];
    if (geteuid() != 0) {
        skip(); /* nobody else's port can be made */
    }
    int master = pty_pair(slave, sizeof slave);
    /* Group dialout has number 20 on every Debian system (base-passwd). */
    assert_int_equal(chown(slave, 0, 20), 0);
    assert_int_equal(chmod(slave, 0660), 0);
    assert_int_equal(as_plain_user(open_without_rights, slave), RP_E_PERMISSION);
    close(master);
}

/* --- TCP --- */

struct server {
    int fd;
    uint16_t port;
    char target[64];
};

static void server_start(struct server *server, uint16_t port)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons(port)};
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t len = sizeof address;
    int yes = 1;
    server->fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    assert_true(server->fd >= 0);
    assert_int_equal(setsockopt(server->fd, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes), 0);
    assert_int_equal(bind(server->fd, (struct sockaddr *)&address, len), 0);
    assert_int_equal(listen(server->fd, 4), 0);
    assert_int_equal(getsockname(server->fd, (struct sockaddr *)&address, &len), 0);
    server->port = ntohs(address.sin_port);
    snprintf(server->target, sizeof server->target, "tcp:127.0.0.1:%u", server->port);
}

static int server_accept(const struct server *server)
{
    assert_true(becomes_ready(server->fd, POLLIN));
    int fd = accept4(server->fd, NULL, NULL, SOCK_CLOEXEC);
    assert_true(fd >= 0);
    return fd;
}

static void connect_ok(struct rp_line *line, const char *target)
{
    struct rp_problem problem;
    if (rp_line_open(line, target, 0, NULL, &problem) != 0) {
        fail_msg("%s", problem.text);
    }
    assert_true(becomes_ready(rp_line_fd(line), POLLOUT));
    assert_int_equal(rp_line_ready(line), 0);
}

static int option_of(int fd, int level, int name)
{
    int value = -1;
    socklen_t len = sizeof value;
    assert_int_equal(getsockopt(fd, level, name, &value, &len), 0);
    return value;
}

static void tcp_passes_all_bytes(void **state)
{
    (void)state;
    struct server server;
    struct rp_line line = {0};
    uint8_t all[256], got[256];
    char text[100];
    fill_all(all);
    server_start(&server, 0);
    connect_ok(&line, server.target);
    int peer = server_accept(&server);
    int fd = rp_line_fd(&line);
    assert_int_equal(option_of(fd, IPPROTO_TCP, TCP_NODELAY), 1);
    assert_int_equal(option_of(fd, SOL_SOCKET, SO_KEEPALIVE), 1);
    assert_int_equal(option_of(fd, IPPROTO_TCP, TCP_USER_TIMEOUT), 30000);
    assert_int_equal(fcntl(fd, F_GETFD) & FD_CLOEXEC, FD_CLOEXEC);
    assert_int_equal(fcntl(fd, F_GETFL) & O_NONBLOCK, O_NONBLOCK);
    rp_line_describe(&line, text, sizeof text);
    assert_string_equal(text, server.target);
    assert_int_equal(rp_line_read(&line, got, sizeof got), RP_E_BUSY);
    assert_int_equal(send(peer, all, 256, 0), 256);
    line_read_exactly(&line, got, 256);
    assert_memory_equal(got, all, 256);
    assert_int_equal(rp_line_write(&line, all, 256), 256);
    assert_int_equal(recv(peer, got, 256, MSG_WAITALL), 256);
    assert_memory_equal(got, all, 256);
    rp_line_close(&line);
    assert_int_equal(recv(peer, got, 1, 0), 0);
    close(peer);
    close(server.fd);
}

static void tcp_refused_then_back(void **state)
{
    (void)state;
    struct server server;
    struct rp_problem problem = {0};
    struct rp_line line = {0};
    server_start(&server, 0);
    uint16_t port = server.port;
    close(server.fd); /* nobody listens there now */
    int rc = rp_line_open(&line, server.target, 0, NULL, &problem);
    if (rc == 0) { /* the refusal may come at once or a moment later */
        assert_true(becomes_ready(rp_line_fd(&line), POLLOUT));
        rc = rp_line_ready(&line);
        problem = *rp_line_fault(&line);
        assert_int_equal(rp_line_write(&line, (const uint8_t *)"x", 1), RP_E_GONE);
        rp_line_close(&line);
    }
    assert_int_equal(rc, RP_E_GONE);
    assert_non_null(strstr(problem.text, "connection refused: nothing listens there"));
    assert_non_null(strstr(problem.text, server.target));
    server_start(&server, port);
    connect_ok(&line, server.target);
    int peer = server_accept(&server);
    assert_int_equal(send(peer, "ok", 2, 0), 2);
    close(peer);
    uint8_t got[8];
    line_read_exactly(&line, got, 2); /* what arrived before the end is not lost */
    assert_memory_equal(got, "ok", 2);
    assert_true(becomes_ready(rp_line_fd(&line), POLLIN));
    assert_int_equal(rp_line_read(&line, got, sizeof got), RP_E_GONE);
    assert_non_null(strstr(rp_line_fault(&line)->text, "the other end closed the connection"));
    rp_line_close(&line);
    connect_ok(&line, server.target);
    rp_line_close(&line);
    close(server.fd);
}

static void tcp_reset_is_gone_without_a_signal(void **state)
{
    (void)state;
    struct server server;
    struct rp_line line = {0};
    server_start(&server, 0);
    connect_ok(&line, server.target);
    int peer = server_accept(&server);
    struct linger hard = {1, 0};
    assert_int_equal(setsockopt(peer, SOL_SOCKET, SO_LINGER, &hard, sizeof hard), 0);
    close(peer); /* sends a reset */
    assert_true(becomes_ready(rp_line_fd(&line), POLLIN));
    assert_int_equal(rp_line_write(&line, (const uint8_t *)"x", 1), RP_E_GONE);
    assert_int_equal(rp_line_write(&line, (const uint8_t *)"x", 1), RP_E_GONE);
    rp_line_close(&line);
    close(server.fd);
}

static void tcp_slow_peer_is_busy(void **state)
{
    (void)state;
    static const uint8_t block[65536];
    struct server server;
    struct rp_line line = {0};
    server_start(&server, 0);
    connect_ok(&line, server.target);
    int rc = 1;
    for (int i = 0; i < 10000 && rc > 0; i++) {
        rc = rp_line_write(&line, block, sizeof block);
    }
    assert_int_equal(rc, RP_E_BUSY);
    rp_line_close(&line);
    close(server.fd);
}

static void tcp_over_ipv6_and_localhost(void **state)
{
    (void)state;
    struct server server;
    struct rp_line line = {0};
    char target[64];
    server_start(&server, 0);
    snprintf(target, sizeof target, "tcp:localhost:%u", server.port);
    connect_ok(&line, target);
    rp_line_close(&line);
    close(server.fd);
    struct sockaddr_in6 address = {.sin6_family = AF_INET6, .sin6_addr = IN6ADDR_LOOPBACK_INIT};
    socklen_t len = sizeof address;
    int fd = socket(AF_INET6, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (fd < 0 || bind(fd, (struct sockaddr *)&address, len) != 0) {
        skip(); /* this computer has no IPv6 */
    }
    assert_int_equal(listen(fd, 1), 0);
    assert_int_equal(getsockname(fd, (struct sockaddr *)&address, &len), 0);
    snprintf(target, sizeof target, "tcp:[::1]:%u", ntohs(address.sin6_port));
    connect_ok(&line, target);
    rp_line_close(&line);
    close(fd);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pty_is_raw_and_passes_all_bytes),
        cmocka_unit_test(pty_hang_up_is_gone),
        cmocka_unit_test(pty_is_locked_and_found_through_a_link),
        cmocka_unit_test(bad_targets_are_refused_with_an_example),
        cmocka_unit_test(a_target_is_checked_by_its_form),
        cmocka_unit_test(unusual_rates_are_refused),
        cmocka_unit_test(a_port_of_another_user_names_the_group),
        cmocka_unit_test(tcp_passes_all_bytes),
        cmocka_unit_test(tcp_refused_then_back),
        cmocka_unit_test(tcp_reset_is_gone_without_a_signal),
        cmocka_unit_test(tcp_slow_peer_is_busy),
        cmocka_unit_test(tcp_over_ipv6_and_localhost),
    };
    return cmocka_run_group_tests_name("port_line", tests, NULL, NULL);
}
