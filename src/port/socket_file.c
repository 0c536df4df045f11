/* Opening and closing the control socket's file. */
#include "port/socket_file.h"

#include <errno.h>
#include <fcntl.h>
#include <grp.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

static int path_failed(const char *path, int error, struct rp_problem *out_problem)
{
    switch (error) {
    case ENOENT:
    case ENOTDIR:
        return rp_problem_set(out_problem, RP_E_NOT_FOUND, "socket",
                              "the folder of the socket %.120s does not exist", path);
    case EACCES:
    case EPERM:
    case EROFS:
        return rp_problem_set(out_problem, RP_E_PERMISSION, "socket",
                              "no permission to make the socket %.120s", path);
    default:
        return rp_problem_set(out_problem, RP_E_IO, "socket", "the socket %.100s: %s", path,
                              strerror(error));
    }
}

static int taken(const char *path, struct rp_problem *out_problem)
{
    return rp_problem_set(out_problem, RP_E_TAKEN, "socket",
                          "another daemon already serves %.120s: stop it, or use another path",
                          path);
}

/* Two daemons that start together both find the old socket dead; the lock lets one of them on. */
static int take_lock(struct rp_socket_file *file, struct rp_problem *out_problem)
{
    char path[sizeof file->path + 8];
    snprintf(path, sizeof path, "%s.lock", file->path);
    file->lock_fd = open(path, O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0600);
    if (file->lock_fd < 0) {
        return path_failed(file->path, errno, out_problem);
    }
    if (flock(file->lock_fd, LOCK_EX | LOCK_NB) != 0) {
        return errno == EWOULDBLOCK ? taken(file->path, out_problem)
                                    : path_failed(file->path, errno, out_problem);
    }
    return 0;
}

static void fill_address(struct sockaddr_un *out_address, const char *path)
{
    memset(out_address, 0, sizeof *out_address);
    out_address->sun_family = AF_UNIX;
    strcpy(out_address->sun_path, path);
}

/* Removes a socket that nobody serves. */
static int clear_path(const char *path, struct rp_problem *out_problem)
{
    struct stat st;
    if (lstat(path, &st) != 0) {
        return errno == ENOENT ? 0 : path_failed(path, errno, out_problem);
    }
    if (!S_ISSOCK(st.st_mode)) {
        return rp_problem_set(out_problem, RP_E_INVALID, "socket",
                              "%.120s exists and is not a socket: remove it, or use another path",
                              path);
    }
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (fd < 0) {
        return path_failed(path, errno, out_problem);
    }
    struct sockaddr_un address;
    fill_address(&address, path);
    int rc = connect(fd, (const struct sockaddr *)&address, sizeof address);
    int error = rc == 0 ? 0 : errno;
    close(fd);
    if (error == 0 || error == EAGAIN) { /* EAGAIN: alive, with a full backlog */
        return taken(path, out_problem);
    }
    if (error != ECONNREFUSED && error != ENOENT) {
        return path_failed(path, error, out_problem);
    }
    return unlink(path) == 0 || errno == ENOENT ? 0 : path_failed(path, errno, out_problem);
}

static int find_group(const char *name, gid_t *out_gid, struct rp_problem *out_problem)
{
    struct group group, *found = NULL;
    char space[8192];
    if (getgrnam_r(name, &group, space, sizeof space, &found) != 0 || found == NULL) {
        return rp_problem_set(out_problem, RP_E_NOT_FOUND, "group", "there is no group '%.60s'",
                              name);
    }
    *out_gid = group.gr_gid;
    return 0;
}

/* The mode is set before bind(2) makes the file, so that it is never open to more people. */
static int bind_path(struct rp_socket_file *file, const char *group, struct rp_problem *out_problem)
{
    struct sockaddr_un address;
    fill_address(&address, file->path);
    if (fchmod(file->fd, 0600) != 0 ||
        bind(file->fd, (const struct sockaddr *)&address, sizeof address) != 0) {
        return path_failed(file->path, errno, out_problem);
    }
    file->bound = true;
    struct stat st;
    if (lstat(file->path, &st) != 0) {
        return path_failed(file->path, errno, out_problem);
    }
    file->device = st.st_dev;
    file->inode = st.st_ino;
    if (group != NULL) {
        gid_t gid = 0;
        int rc = find_group(group, &gid, out_problem);
        if (rc < 0) {
            return rc;
        }
        if (chown(file->path, (uid_t)-1, gid) != 0) {
            return path_failed(file->path, errno, out_problem);
        }
    }
    mode_t mode = group != NULL ? 0660 : 0600;
    return chmod(file->path, mode) == 0 ? 0 : path_failed(file->path, errno, out_problem);
}

static int open_locked(struct rp_socket_file *file, const char *group, int backlog,
                       struct rp_problem *out_problem)
{
    int rc = clear_path(file->path, out_problem);
    if (rc < 0) {
        return rc;
    }
    file->fd = socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (file->fd < 0) {
        return path_failed(file->path, errno, out_problem);
    }
    rc = bind_path(file, group, out_problem);
    if (rc < 0) {
        return rc;
    }
    return listen(file->fd, backlog) == 0 ? 0 : path_failed(file->path, errno, out_problem);
}

int rp_socket_file_open(struct rp_socket_file *file, const char *path, const char *group,
                        int backlog, struct rp_problem *out_problem)
{
    *file = (struct rp_socket_file){.fd = -1, .lock_fd = -1};
    if (strlen(path) >= sizeof file->path || path[0] == '\0') {
        return rp_problem_set(out_problem, RP_E_TOO_LONG, "socket",
                              "the path of the socket must have 1 to 107 bytes: '%.100s'", path);
    }
    strcpy(file->path, path);
    int rc = take_lock(file, out_problem);
    if (rc == 0) {
        rc = open_locked(file, group, backlog, out_problem);
    }
    if (rc < 0) {
        rp_socket_file_close(file);
    }
    return rc;
}

void rp_socket_file_close(struct rp_socket_file *file)
{
    struct stat st;
    if (file->bound && lstat(file->path, &st) == 0 && st.st_dev == file->device &&
        st.st_ino == file->inode) {
        unlink(file->path);
    }
    if (file->fd >= 0) {
        close(file->fd);
    }
    if (file->lock_fd >= 0) {
        close(file->lock_fd); /* last: until now nobody else may make the file */
    }
    *file = (struct rp_socket_file){.fd = -1, .lock_fd = -1};
}
