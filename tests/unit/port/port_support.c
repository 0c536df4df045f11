#define _GNU_SOURCE /* posix_openpt, ptsname_r */
#include "rp_test.h"

#include "port_support.h"

#include <dirent.h>
#include <fcntl.h>
#include <ftw.h>
#include <grp.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

int pty_pair(char *slave, size_t cap)
{
    int master = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    assert_true(master >= 0);
    assert_int_equal(grantpt(master), 0);
    assert_int_equal(unlockpt(master), 0);
    assert_int_equal(ptsname_r(master, slave, cap), 0);
    return master;
}

bool becomes_ready(int fd, short events)
{
    struct pollfd p = {.fd = fd, .events = events};
    return poll(&p, 1, 2000) == 1;
}

void read_exactly(int fd, void *buf, size_t wanted)
{
    for (size_t done = 0; done < wanted;) {
        assert_true(becomes_ready(fd, POLLIN));
        ssize_t got = read(fd, (char *)buf + done, wanted - done);
        assert_true(got > 0);
        done += (size_t)got;
    }
}

void folder_make(struct folder *folder)
{
    strcpy(folder->path, "/tmp/rp-port-XXXXXX");
    assert_non_null(mkdtemp(folder->path));
}

static int remove_one(const char *path, const struct stat *st, int type, struct FTW *ftw)
{
    (void)st;
    (void)type;
    (void)ftw;
    return remove(path);
}

void folder_remove(struct folder *folder)
{
    assert_int_equal(nftw(folder->path, remove_one, 8, FTW_DEPTH | FTW_PHYS), 0);
}

const char *folder_file(const struct folder *folder, const char *name)
{
    static char paths[8][256];
    static unsigned turn;
    char *path = paths[turn++ % 8];
    snprintf(path, sizeof paths[0], "%s/%s", folder->path, name);
    return path;
}

void file_write(const char *path, const char *text, mode_t mode)
{
    FILE *file = fopen(path, "we");
    assert_non_null(file);
    assert_true(fputs(text, file) >= 0);
    assert_int_equal(fclose(file), 0);
    assert_int_equal(chmod(path, mode), 0);
}

int descriptor_count(void)
{
    DIR *dir = opendir("/proc/self/fd");
    assert_non_null(dir);
    int count = 0;
    while (readdir(dir) != NULL) {
        count++;
    }
    closedir(dir);
    return count;
}

int as_plain_user(int (*check)(const void *arg), const void *arg)
{
    if (geteuid() != 0) {
        return check(arg);
    }
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        /* 65534 is "nobody" on Debian (base-passwd). */
        if (setgroups(0, NULL) != 0 || setgid(65534) != 0 || setuid(65534) != 0) {
            _exit(101);
        }
        _exit(-check(arg));
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status));
    return -WEXITSTATUS(status);
}
