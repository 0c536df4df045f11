#include "control_io.h"

#include <errno.h>
#include <poll.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

void io_fail(const char *format, ...)
{
    va_list args;
    va_start(args, format);
    fputs("FAILED: ", stdout);
    vprintf(format, args);
    putchar('\n');
    va_end(args);
    exit(1);
}

void io_open(struct io *io, const char *socket_path)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    if (strlen(socket_path) >= sizeof address.sun_path) {
        io_fail("the path of the socket is too long");
    }
    strcpy(address.sun_path, socket_path);
    for (int waited_ms = 0;; waited_ms += 2) {
        io->fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
        if (connect(io->fd, (const struct sockaddr *)&address, sizeof address) == 0) {
            break;
        }
        close(io->fd);
        if (waited_ms > IO_WAIT_MS) {
            io_fail("nothing answers at %s: %s", socket_path, strerror(errno));
        }
        poll(NULL, 0, 2);
    }
    io->len = 0;
    io->ended = false;
}

void io_close(struct io *io)
{
    close(io->fd);
    io->fd = -1;
}

void io_take_in(struct io *io, int wait_ms)
{
    struct pollfd slot = {.fd = io->fd, .events = POLLIN};
    if (io->ended || io->len == sizeof io->buf) {
        return;
    }
    int ready;
    do {
        ready = poll(&slot, 1, wait_ms);
    } while (ready < 0 && errno == EINTR);
    if (ready != 1) {
        return;
    }
    ssize_t got = recv(io->fd, io->buf + io->len, sizeof io->buf - io->len, MSG_DONTWAIT);
    if (got > 0) {
        io->len += (size_t)got;
    } else if (got == 0 || (errno != EAGAIN && errno != EINTR)) {
        io->ended = true;
    }
}

bool io_send(struct io *io, const void *bytes, size_t len)
{
    size_t done = 0;
    while (done < len) {
        ssize_t put =
            send(io->fd, (const char *)bytes + done, len - done, MSG_NOSIGNAL | MSG_DONTWAIT);
        if (put > 0) {
            done += (size_t)put;
            continue;
        }
        if (errno != EAGAIN && errno != EINTR) {
            return false;
        }
        struct pollfd slot = {.fd = io->fd, .events = POLLOUT};
        if (poll(&slot, 1, IO_WAIT_MS) == 0) {
            io_fail("the daemon takes no more bytes");
        }
    }
    return true;
}

const char *io_line(struct io *io)
{
    static char line[sizeof io->buf + 1];
    for (;;) {
        char *end = memchr(io->buf, '\n', io->len);
        if (end != NULL) {
            size_t taken = (size_t)(end - io->buf) + 1;
            memcpy(line, io->buf, taken - 1);
            line[taken - 1] = '\0';
            memmove(io->buf, end + 1, io->len - taken);
            io->len -= taken;
            return line;
        }
        if (io->ended) {
            return NULL;
        }
        size_t before = io->len;
        io_take_in(io, IO_WAIT_MS);
        if (io->len == before && !io->ended) {
            io_fail("no answer within %d ms", IO_WAIT_MS);
        }
    }
}

bool io_note(struct io *io, const char *episode, const char *text, char *out_name)
{
    char request[400];
    int len = snprintf(request, sizeof request,
                       "{\"v\":1,\"command\":\"note\",\"args\":[\"%s\",\"%s\"]}\n", episode, text);
    if (!io_send(io, request, (size_t)len)) {
        return false;
    }
    const char *answer = io_line(io);
    if (answer == NULL) {
        return false;
    }
    const char *records = strstr(answer, "\"records\":[\"");
    if (strstr(answer, "\"ok\":true") == NULL || records == NULL ||
        sscanf(records, "\"records\":[\"%23[0-9:]\"]", out_name) != 1) {
        io_fail("\"%s\" was not recorded: %s", text, answer);
    }
    return true;
}
