/* An air for KISS over TCP: what one client sends as a data frame of port 0 reaches all others,
 * whole frames at a time. FEND 0xC0 frames them ("The KISS TNC", Chepponis and Karn, 1987); the
 * command byte 0x00 is data, all other commands are the TNC's own and stop here. Stays until it is
 * killed. Prints "ready PORT" when it listens.
 * usage: kiss_hub PORT       on 127.0.0.1; 0: a free port */
#include <arpa/inet.h>
#include <netinet/in.h>
#include <poll.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <unistd.h>

#define CLIENTS_MAX 4
#define FEND        0xC0

struct client {
    int fd;
    size_t len;
    uint8_t frame[2048]; /* since the last FEND, still escaped */
};

static struct client clients[CLIENTS_MAX];

static void pass_on(const struct client *from)
{
    static const uint8_t fend = FEND;
    if (from->len < 2 || from->frame[0] != 0x00) {
        return;
    }
    for (size_t i = 0; i < CLIENTS_MAX; i++) {
        if (clients[i].fd >= 0 && &clients[i] != from) {
            send(clients[i].fd, &fend, 1, MSG_NOSIGNAL | MSG_MORE);
            send(clients[i].fd, from->frame, from->len, MSG_NOSIGNAL | MSG_MORE);
            send(clients[i].fd, &fend, 1, MSG_NOSIGNAL);
        }
    }
}

static void take(struct client *client)
{
    uint8_t bytes[1024];
    ssize_t got = recv(client->fd, bytes, sizeof bytes, 0);
    if (got <= 0) {
        close(client->fd);
        client->fd = -1;
        return;
    }
    for (ssize_t i = 0; i < got; i++) {
        if (bytes[i] == FEND) {
            pass_on(client);
            client->len = 0;
        } else if (client->len < sizeof client->frame) {
            client->frame[client->len++] = bytes[i];
        }
    }
}

static int start_listening(uint16_t port)
{
    static const int on = 1;
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons(port)};
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t len = sizeof address;
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on);
    if (bind(fd, (const struct sockaddr *)&address, len) != 0 || listen(fd, CLIENTS_MAX) != 0 ||
        getsockname(fd, (struct sockaddr *)&address, &len) != 0) {
        perror("kiss_hub");
        exit(1);
    }
    printf("ready %u\n", ntohs(address.sin_port));
    fflush(stdout);
    return fd;
}

static void welcome(int listener)
{
    int fd = accept(listener, NULL, NULL);
    for (size_t i = 0; i < CLIENTS_MAX && fd >= 0; i++) {
        if (clients[i].fd < 0) {
            clients[i] = (struct client){.fd = fd};
            return;
        }
    }
    close(fd);
}

static void serve(int listener)
{
    struct pollfd slots[CLIENTS_MAX + 1];
    for (size_t i = 0; i < CLIENTS_MAX; i++) {
        slots[i] = (struct pollfd){.fd = clients[i].fd, .events = POLLIN};
    }
    slots[CLIENTS_MAX] = (struct pollfd){.fd = listener, .events = POLLIN};
    if (poll(slots, CLIENTS_MAX + 1, -1) < 0) {
        exit(1);
    }
    for (size_t i = 0; i < CLIENTS_MAX; i++) {
        if (slots[i].revents != 0) {
            take(&clients[i]);
        }
    }
    if (slots[CLIENTS_MAX].revents != 0) {
        welcome(listener);
    }
}

int main(int argc, char **argv)
{
    if (argc != 2) {
        return 64;
    }
    for (size_t i = 0; i < CLIENTS_MAX; i++) {
        clients[i].fd = -1;
    }
    int listener = start_listening((uint16_t)atoi(argv[1]));
    for (;;) {
        serve(listener);
    }
}
