/* The control socket: a Unix stream socket that takes commands, one a line, from a few clients. */
#ifndef AIR_CONTROL_H
#define AIR_CONTROL_H

#include <stdbool.h>
#include <stddef.h>

#include "air/config.h"

/* One for a test, one for a person, and some to spare; a further one waits. */
#define AIR_CLIENTS_MAX 4

struct air_client {
    int fd; /* -1 when free */
    size_t len;
    char line[AIR_CONFIG_CAP];
};

struct air_control {
    int listener; /* -1 when there is none */
    const char *path;
    struct air_client clients[AIR_CLIENTS_MAX];
};

/* Listens at path, where a socket nobody serves any more is replaced; "" for none. RP_E_TAKEN when
 * somebody listens there or it is another file, RP_E_IO. */
int air_control_open(struct air_control *control, const char *path);
void air_control_close(struct air_control *control);
void air_control_accept(struct air_control *control);
/* Whether one more client could be taken. */
bool air_control_has_room(const struct air_control *control);
/* Reads what a client sent and calls `run` for each whole line with its line end taken off; what
 * run leaves in `reply` is sent back. A client that left, sends too long a line or does not read
 * its answers is closed. */
void air_control_serve(struct air_client *client, void (*run)(void *ctx, char *line, char *reply),
                       void *ctx);
/* The other side: sends the words as one line, prints the answer. 0 when it ends with "ok". */
int air_control_tell(const char *path, char *const *words, int count);

#endif
