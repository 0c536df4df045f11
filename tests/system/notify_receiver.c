/* The other end of sd_notify(3): binds a datagram socket and prints each message as one line.
 * Ends after the number of messages asked for, or with status 1 when none comes for 20 s.
 * usage: notify_receiver SOCKET COUNT */
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>

int main(int argc, char **argv)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    if (argc != 3 || strlen(argv[1]) >= sizeof address.sun_path) {
        return 64;
    }
    strcpy(address.sun_path, argv[1]);
    int fd = socket(AF_UNIX, SOCK_DGRAM, 0);
    if (fd < 0 || bind(fd, (const struct sockaddr *)&address, sizeof address) != 0) {
        perror(argv[1]);
        return 1;
    }
    for (int left = atoi(argv[2]); left > 0; left--) {
        char text[256];
        struct pollfd slot = {.fd = fd, .events = POLLIN};
        if (poll(&slot, 1, 20000) != 1) {
            return 1;
        }
        ssize_t got = recv(fd, text, sizeof text - 1, 0);
        if (got < 0) {
            return 1;
        }
        text[got] = '\0';
        puts(text);
        fflush(stdout);
    }
    return 0;
}
