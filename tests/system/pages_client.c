/* A client that misbehaves, for the test of the pages.
 *   pages_client ADDRESS PORT send [S]
 *     standard input as it is; prints the reply, until nothing has come for S seconds (5)
 *   pages_client ADDRESS PORT watch
 *     the same for as long as the server likes; then prints a line "ended"
 *   pages_client ADDRESS PORT idle N S
 *     N connections that say nothing for S seconds; prints how many the server still held then
 *   pages_client ADDRESS PORT slow S
 *     one byte a second; prints after how many seconds the server ended it (S: it did not) */
#define _GNU_SOURCE
#include <arpa/inet.h>
#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#define REPLY_WAIT_MS 5000
#define IDLE_MAX      512

static int reach(const char *address, const char *port)
{
    struct sockaddr_in to = {.sin_family = AF_INET, .sin_port = htons((uint16_t)atoi(port))};
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (fd < 0 || inet_pton(AF_INET, address, &to.sin_addr) != 1 ||
        connect(fd, (struct sockaddr *)&to, sizeof to) < 0) {
        if (fd >= 0) {
            close(fd);
        }
        return -1;
    }
    return fd;
}

/* True when the other side has ended it. */
static int is_over(int fd)
{
    char byte;
    ssize_t got = recv(fd, &byte, 1, MSG_DONTWAIT | MSG_PEEK);
    return got == 0 || (got < 0 && recv(fd, &byte, 1, MSG_DONTWAIT) < 0 && poll(NULL, 0, 0) == 0 &&
                        send(fd, "", 0, MSG_NOSIGNAL) < 0);
}

static int send_input(int fd, int wait_ms)
{
    char buf[8192];
    ssize_t got;
    while ((got = read(STDIN_FILENO, buf, sizeof buf)) > 0) {
        for (ssize_t at = 0; at < got;) {
            ssize_t put = send(fd, buf + at, (size_t)(got - at), MSG_NOSIGNAL);
            if (put <= 0) {
                got = 0; /* refused half-way: the reply tells why */
                break;
            }
            at += put;
        }
        if (got == 0) {
            break;
        }
    }
    struct pollfd wait = {.fd = fd, .events = POLLIN};
    while (poll(&wait, 1, wait_ms) > 0 && (got = recv(fd, buf, sizeof buf, 0)) > 0) {
        fwrite(buf, 1, (size_t)got, stdout);
        fflush(stdout);
    }
    return 0;
}

static int hold_idle(const char *address, const char *port, int count, unsigned seconds)
{
    static int fds[IDLE_MAX];
    int held = 0;
    for (int i = 0; i < count && i < IDLE_MAX; i++) {
        fds[i] = reach(address, port);
    }
    sleep(seconds);
    for (int i = 0; i < count && i < IDLE_MAX; i++) {
        held += fds[i] >= 0 && !is_over(fds[i]);
    }
    printf("%d\n", held);
    return 0;
}

static int drip(int fd, int seconds)
{
    static const char request[] = "GET /base HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Long: ";
    for (int i = 0; i < seconds; i++) {
        char byte = i < (int)sizeof request - 1 ? request[i] : 'x';
        if (is_over(fd) || send(fd, &byte, 1, MSG_NOSIGNAL) < 1) {
            printf("%d\n", i);
            return 0;
        }
        sleep(1);
    }
    printf("%d\n", seconds);
    return 0;
}

int main(int argc, char **argv)
{
    if (argc < 4) {
        return 64;
    }
    if (strcmp(argv[3], "idle") == 0 && argc == 6) {
        return hold_idle(argv[1], argv[2], atoi(argv[4]), (unsigned)atoi(argv[5]));
    }
    int fd = reach(argv[1], argv[2]);
    if (fd < 0) {
        puts("no connection");
        return 1;
    }
    if (strcmp(argv[3], "slow") == 0 && argc == 5) {
        return drip(fd, atoi(argv[4]));
    }
    bool watches = strcmp(argv[3], "watch") == 0;
    send_input(fd, watches ? -1 : argc == 5 ? atoi(argv[4]) * 1000 : REPLY_WAIT_MS);
    if (watches) {
        puts("\nended");
    }
    return 0;
}
