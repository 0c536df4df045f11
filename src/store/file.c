#include "store/file.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdbool.h>
#include <stdio.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "store/fault.h"

#define OWNER_ONLY 0600

static int fail_with_errno(struct rp_problem *out_problem, const char *path)
{
    int number = errno;
    return rp_store_explain(out_problem, path, rp_store_code_of_errno(number), number);
}

int rp_store_file_lock(const char *path, int *out_fd, struct rp_problem *out_problem)
{
    char lock[PATH_MAX];
    snprintf(lock, sizeof lock, "%s-lock", path);
    int fd = open(lock, O_RDWR | O_CREAT | O_CLOEXEC | O_NOCTTY, OWNER_ONLY);
    if (fd < 0) {
        return fail_with_errno(out_problem, path);
    }
    if (flock(fd, LOCK_EX | LOCK_NB) != 0) {
        int code = errno == EWOULDBLOCK ? rp_store_explain(out_problem, path, RP_E_TAKEN, 0)
                                        : fail_with_errno(out_problem, path);
        close(fd);
        return code;
    }
    *out_fd = fd;
    return 0;
}

void rp_store_file_unlock(int fd)
{
    close(fd);
}

static bool wal_holds_data(const char *path)
{
    char wal[PATH_MAX];
    struct stat info;
    snprintf(wal, sizeof wal, "%s-wal", path);
    return stat(wal, &info) == 0 && info.st_size > 0;
}

static int check_new_file(int fd, const char *path, struct rp_problem *out_problem)
{
    struct stat info;
    if (fstat(fd, &info) != 0) {
        return fail_with_errno(out_problem, path);
    }
    if (!S_ISREG(info.st_mode)) {
        return rp_problem_set(out_problem, RP_E_INVALID, "path", "%.90s is not a plain file", path);
    }
    if (info.st_size > 0) {
        return 0;
    }
    if (wal_holds_data(path)) {
        return rp_problem_set(out_problem, RP_E_CORRUPT, "path",
                              "%.90s is missing or empty but its -wal file holds records: bring "
                              "back the file that belongs to it, or move both away",
                              path);
    }
    /* A new log, perhaps made beforehand by a person with a wider mode. */
    return fchmod(fd, OWNER_ONLY) == 0 ? 0 : fail_with_errno(out_problem, path);
}

int rp_store_file_create(const char *path, struct rp_problem *out_problem)
{
    int fd = open(path, O_RDWR | O_CREAT | O_CLOEXEC | O_NOCTTY | O_NONBLOCK, OWNER_ONLY);
    if (fd < 0) {
        if (errno == EISDIR) {
            return rp_problem_set(out_problem, RP_E_INVALID, "path",
                                  "%.90s is a folder: give a file in it, for example log.db", path);
        }
        return fail_with_errno(out_problem, path);
    }
    int code = check_new_file(fd, path, out_problem);
    close(fd);
    return code;
}
