/* Inside src/port: a listening Unix socket, its file, and the lock that keeps it ours. */
#ifndef RP_PORT_SOCKET_FILE_H
#define RP_PORT_SOCKET_FILE_H

#include <stdbool.h>
#include <sys/types.h>

#include "base/problem.h"

/* sizeof sun_path, see unix(7). */
#define RP_SOCKET_PATH_CAP 108

struct rp_socket_file {
    char path[RP_SOCKET_PATH_CAP];
    int fd;      /* listening, non-blocking; -1 when closed */
    int lock_fd; /* of PATH.lock */
    bool bound;
    dev_t device; /* of the socket file, so that only ours is removed */
    ino_t inode;
};

/* See rp_listener_new for the errors. Leaves nothing open on failure. group may be NULL. backlog:
 * connections that the kernel keeps until they are accepted. */
int rp_socket_file_open(struct rp_socket_file *file, const char *path, const char *group,
                        int backlog, struct rp_problem *out_problem);
/* Removes the file and unlocks. Harmless on a closed one. */
void rp_socket_file_close(struct rp_socket_file *file);

#endif
