#define _GNU_SOURCE /* accept4 */
#include "air/control.h"

#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "air/world.h"

static struct sockaddr_un address_of(const char *path)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    snprintf(address.sun_path, sizeof address.sun_path, "%s", path);
    return address;
}

static int connect_to(const char *path)
{
    struct sockaddr_un address = address_of(path);
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (fd >= 0 && connect(fd, (const struct sockaddr *)&address, sizeof address) != 0) {
        close(fd);
        fd = -1;
    }
    return fd;
}

/* Removes a socket that nobody serves. */
static int clear_path(const char *path)
{
    struct stat found;
    if (lstat(path, &found) != 0) {
        return 0;
    }
    int served = connect_to(path);
    if (served >= 0) {
        close(served);
        return RP_E_TAKEN;
    }
    return S_ISSOCK(found.st_mode) && unlink(path) == 0 ? 0 : RP_E_TAKEN;
}

int air_control_open(struct air_control *control, const char *path)
{
    struct air_control made = {.listener = -1, .path = path};
    for (int i = 0; i < AIR_CLIENTS_MAX; i++) {
        made.clients[i].fd = -1;
    }
    if (path[0] != '\0') {
        int err = clear_path(path);
        if (err != 0) {
            return err;
        }
        struct sockaddr_un address = address_of(path);
        made.listener = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
        if (made.listener < 0) {
            return RP_E_IO;
        }
        if (bind(made.listener, (const struct sockaddr *)&address, sizeof address) != 0 ||
            listen(made.listener, AIR_CLIENTS_MAX) != 0) {
            close(made.listener);
            return RP_E_IO;
        }
    }
    *control = made;
    return 0;
}

static void drop(struct air_client *client)
{
    if (client->fd >= 0) {
        close(client->fd);
        client->fd = -1;
    }
}

void air_control_close(struct air_control *control)
{
    for (int i = 0; i < AIR_CLIENTS_MAX; i++) {
        drop(&control->clients[i]);
    }
    if (control->listener >= 0) {
        close(control->listener);
        unlink(control->path);
        control->listener = -1;
    }
}

bool air_control_has_room(const struct air_control *control)
{
    for (int i = 0; i < AIR_CLIENTS_MAX; i++) {
        if (control->clients[i].fd < 0) {
            return true;
        }
    }
    return false;
}

void air_control_accept(struct air_control *control)
{
    for (int i = 0; i < AIR_CLIENTS_MAX; i++) {
        struct air_client *client = &control->clients[i];
        if (client->fd < 0) {
            client->fd = accept4(control->listener, NULL, NULL, SOCK_CLOEXEC | SOCK_NONBLOCK);
            client->len = 0;
            return;
        }
    }
}

static bool send_whole(int fd, const char *text)
{
    size_t len = strlen(text);
    return send(fd, text, len, MSG_NOSIGNAL) == (ssize_t)len;
}

static void run_lines(struct air_client *client, void (*run)(void *ctx, char *line, char *reply),
                      void *ctx)
{
    char *start = client->line;
    char *end;
    while ((end = memchr(start, '\n', client->len)) != NULL) {
        *end = '\0';
        char reply[AIR_REPLY_CAP];
        run(ctx, start, reply);
        if (!send_whole(client->fd, reply)) {
            drop(client);
            return;
        }
        client->len -= (size_t)(end + 1 - start);
        start = end + 1;
    }
    memmove(client->line, start, client->len);
}

void air_control_serve(struct air_client *client, void (*run)(void *ctx, char *line, char *reply),
                       void *ctx)
{
    size_t room = sizeof client->line - client->len;
    ssize_t got = room == 0 ? 0 : recv(client->fd, client->line + client->len, room, 0);
    if (got <= 0) {
        drop(client);
        return;
    }
    client->len += (size_t)got;
    run_lines(client, run, ctx);
}

static int print_answer(int fd)
{
    char answer[AIR_REPLY_CAP];
    size_t len = 0;
    for (ssize_t got; len < sizeof answer - 1; len += (size_t)got) {
        got = recv(fd, answer + len, sizeof answer - 1 - len, 0);
        if (got <= 0) {
            break;
        }
    }
    answer[len] = '\0';
    fputs(answer, stdout);
    return len >= 3 && strcmp(answer + len - 3, "ok\n") == 0 ? 0 : RP_E_INVALID;
}

int air_control_tell(const char *path, char *const *words, int count)
{
    char line[AIR_CONFIG_CAP];
    size_t len = 0;
    for (int i = 0; i < count && len < sizeof line; i++) {
        len += (size_t)snprintf(line + len, sizeof line - len, "%s%s", words[i],
                                i + 1 < count ? " " : "\n");
    }
    if (len >= sizeof line) {
        return RP_E_TOO_LONG;
    }
    int fd = strlen(path) < AIR_PATH_CAP ? connect_to(path) : -1;
    if (fd < 0) {
        fprintf(stderr, "ridgepost-air: nobody listens at %s\n", path);
        return RP_E_NOT_FOUND;
    }
    int result = RP_E_IO;
    if (send_whole(fd, line) && shutdown(fd, SHUT_WR) == 0) {
        result = print_answer(fd);
    }
    close(fd);
    return result;
}
