#define _XOPEN_SOURCE 700 /* posix_openpt, grantpt, unlockpt, ptsname */
#include "air/pty.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/inotify.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

#include "ridgepost/error.h"

static int open_master(struct air_pty *pty)
{
    int master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (master < 0) {
        return RP_E_IO;
    }
    const char *name = NULL;
    if (grantpt(master) == 0 && unlockpt(master) == 0) {
        name = ptsname(master);
    }
    if (name == NULL || strlen(name) >= sizeof pty->slave_path ||
        fcntl(master, F_SETFL, O_NONBLOCK) != 0) {
        close(master);
        return RP_E_IO;
    }
    strcpy(pty->slave_path, name);
    return master;
}

static int open_raw_slave(const char *path)
{
    int slave = open(path, O_RDWR | O_NOCTTY | O_CLOEXEC);
    struct termios mode;
    if (slave < 0 || tcgetattr(slave, &mode) != 0) {
        if (slave >= 0) {
            close(slave);
        }
        return RP_E_IO;
    }
    cfmakeraw(&mode);
    cfsetispeed(&mode, B115200);
    cfsetospeed(&mode, B115200);
    if (tcsetattr(slave, TCSANOW, &mode) != 0) {
        close(slave);
        return RP_E_IO;
    }
    return slave;
}

static int point_link(const char *target, const char *link_path)
{
    struct stat found;
    if (lstat(link_path, &found) == 0) {
        if (!S_ISLNK(found.st_mode)) {
            return RP_E_TAKEN;
        }
        unlink(link_path);
    }
    return symlink(target, link_path) == 0 ? 0 : RP_E_IO;
}

int air_pty_open(struct air_pty *pty, const char *link_path, int inotify_fd)
{
    struct air_pty made = {.link_path = link_path, .watch = -1};
    made.master = open_master(&made);
    if (made.master < 0) {
        return made.master;
    }
    made.slave = open_raw_slave(made.slave_path);
    int err = made.slave < 0 ? made.slave : 0;
    if (err == 0 && inotify_fd >= 0) {
        made.watch = inotify_add_watch(inotify_fd, made.slave_path, IN_OPEN | IN_CLOSE);
    }
    if (err == 0) {
        err = point_link(made.slave_path, link_path);
    }
    if (err != 0) {
        close(made.master);
        if (made.slave >= 0) {
            close(made.slave);
        }
        return err;
    }
    *pty = made;
    return 0;
}

static void remove_own_link(const struct air_pty *pty)
{
    char target[sizeof pty->slave_path];
    ssize_t len = readlink(pty->link_path, target, sizeof target);
    if (len > 0 && (size_t)len == strlen(pty->slave_path) &&
        memcmp(target, pty->slave_path, (size_t)len) == 0) {
        unlink(pty->link_path);
    }
}

void air_pty_close(struct air_pty *pty, int inotify_fd)
{
    if (pty->master < 0) {
        return;
    }
    remove_own_link(pty);
    if (pty->watch >= 0) {
        inotify_rm_watch(inotify_fd, pty->watch);
    }
    close(pty->slave);
    close(pty->master);
    pty->watch = -1;
    pty->slave = -1;
    pty->master = -1;
    pty->hosts = 0;
}

bool air_pty_host_event(struct air_pty *pty, bool opened)
{
    if (opened) {
        pty->hosts++;
    } else if (pty->hosts > 0) {
        pty->hosts--;
        if (pty->hosts == 0) {
            tcflush(pty->slave, TCIFLUSH);
        }
    }
    return pty->hosts > 0;
}

uint32_t air_pty_baud(const struct air_pty *pty)
{
    static const struct {
        speed_t speed;
        uint32_t baud;
    } speeds[] = {{B300, 300},       {B1200, 1200},    {B2400, 2400},   {B4800, 4800},
                  {B9600, 9600},     {B19200, 19200},  {B38400, 38400}, {B57600, 57600},
                  {B115200, 115200}, {B230400, 230400}};
    struct termios mode;
    if (tcgetattr(pty->slave, &mode) != 0) {
        return 0;
    }
    for (size_t i = 0; i < sizeof speeds / sizeof speeds[0]; i++) {
        if (cfgetospeed(&mode) == speeds[i].speed) {
            return speeds[i].baud;
        }
    }
    return 0;
}
