/* Helps the port tests: pseudo-terminal pairs, a folder for one test, waiting for a descriptor. */
#ifndef PORT_SUPPORT_H
#define PORT_SUPPORT_H

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

/* A pseudo-terminal pair: returns the master (non-blocking) and the slave's name. */
int pty_pair(char *slave, size_t cap);
/* True once fd is ready for `events` of poll(2); gives up after 2 s. Every use is followed by a
 * check of what arrived, so that a slow machine cannot turn a failure into a pass. */
bool becomes_ready(int fd, short events);

/* Reads exactly `wanted` bytes, however the kernel cuts them. */
void read_exactly(int fd, void *buf, size_t wanted);

/* Makes a folder whose name is in .path; folder_remove deletes it and the files in it. */
struct folder {
    char path[64];
};
void folder_make(struct folder *folder);
void folder_remove(struct folder *folder);
/* "FOLDER/name" in a static buffer, one of eight in turn. */
const char *folder_file(const struct folder *folder, const char *name);
void file_write(const char *path, const char *text, mode_t mode);

/* The descriptors open in this process, to prove that none leaks. */
int descriptor_count(void);

/* Runs check(arg) as a user without rights, in a child when we are root; returns its result. */
int as_plain_user(int (*check)(const void *arg), const void *arg);

#endif
