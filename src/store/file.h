/* The log as a file: who may hold it, who may read it. The only part of the room that speaks to
 * the system itself; all else goes through SQLite. Internal to src/store. */
#ifndef RP_STORE_FILE_H
#define RP_STORE_FILE_H

#include "base/problem.h"

/* Takes "PATH-lock" (made with mode 0600, never removed: removing it would let two programs hold
 * one lock each) for as long as *out_fd is open. SQLite's own locks stay free, so that another
 * program can read the log meanwhile. RP_E_TAKEN, RP_E_PERMISSION, RP_E_NOT_FOUND (the folder),
 * RP_E_NO_SPACE, RP_E_IO. */
int rp_store_file_lock(const char *path, int *out_fd, struct rp_problem *out_problem);
void rp_store_file_unlock(int fd);

/* Makes an empty file with mode 0600 where there is none; SQLite gives its side files the same
 * mode. RP_E_INVALID when the path is a folder or a device; RP_E_CORRUPT when the log is missing
 * or empty but its "-wal" side file holds data, which SQLite would throw away; and as above. */
int rp_store_file_create(const char *path, struct rp_problem *out_problem);

#endif
