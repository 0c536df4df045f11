/* One emulated serial port: a pseudo-terminal with a symbolic link to its slave side. */
#ifndef AIR_PTY_H
#define AIR_PTY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct air_pty {
    const char *link_path; /* borrowed */
    char slave_path[64];
    int master;     /* -1 when unplugged */
    int slave;      /* held open, so that the port outlives a host that closes it */
    int watch;      /* of inotify on the slave; -1 when there is none */
    unsigned hosts; /* how often a host has it open, as far as can be told */
};

/* Opens a pair in raw mode, points the link to it (an old link is replaced, another file is not)
 * and watches the slave through inotify_fd. RP_E_TAKEN, RP_E_IO. */
int air_pty_open(struct air_pty *pty, const char *link_path, int inotify_fd);
/* Hangs up on the host and removes the link. Nothing happens on a closed one. */
void air_pty_close(struct air_pty *pty, int inotify_fd);
/* A host opened or closed the slave. True when the port is open now. Unread bytes are thrown away
 * when the last host closes. */
bool air_pty_host_event(struct air_pty *pty, bool opened);
/* Bits per second the host has set; 0 unknown. */
uint32_t air_pty_baud(const struct air_pty *pty);

#endif
