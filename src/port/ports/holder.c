/* Who holds a port: by the descriptors of other processes, and by the locks on the device's node,
 * which tell of other users' processes too. proc(5). */
#include <ctype.h>
#include <dirent.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <unistd.h>

#include "port/ports/ports.h"

static void name_of(int pid, char *out, size_t cap)
{
    char path[64];
    snprintf(path, sizeof path, "/proc/%d/comm", pid);
    FILE *file = fopen(path, "re");
    if (file == NULL || fgets(out, (int)cap, file) == NULL) {
        snprintf(out, cap, "?");
    }
    out[strcspn(out, "\n")] = '\0';
    if (file != NULL) {
        fclose(file);
    }
}

/* Whether a process has the terminal open under any name. */
static bool has_open(int pid, dev_t terminal)
{
    char folder[64];
    snprintf(folder, sizeof folder, "/proc/%d/fd", pid);
    DIR *dir = opendir(folder);
    struct dirent *entry;
    bool found = false;
    while (dir != NULL && !found && (entry = readdir(dir)) != NULL) {
        char path[PATH_MAX], name[8] = "";
        struct stat st;
        snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        /* Others may be on a file system that has gone, where stat waits for ever. */
        bool device = readlink(path, name, 5) == 5 && memcmp(name, "/dev/", 5) == 0;
        found = device && stat(path, &st) == 0 && S_ISCHR(st.st_mode) && st.st_rdev == terminal;
    }
    if (dir != NULL) {
        closedir(dir);
    }
    return found;
}

static int find_opener(dev_t terminal)
{
    DIR *dir = opendir("/proc");
    struct dirent *entry;
    int found = 0;
    while (dir != NULL && found == 0 && (entry = readdir(dir)) != NULL) {
        int pid = isdigit((unsigned char)entry->d_name[0]) ? atoi(entry->d_name) : 0;
        if (pid > 0 && pid != getpid() && has_open(pid, terminal)) {
            found = pid;
        }
    }
    if (dir != NULL) {
        closedir(dir);
    }
    return found;
}

/* "1: FLOCK  ADVISORY  WRITE 708 00:13:4 0 EOF": process, and the node's device and inode. */
static int find_locker(const struct stat *node)
{
    FILE *file = fopen("/proc/locks", "re");
    char line[160];
    int found = 0;
    while (file != NULL && found == 0 && fgets(line, sizeof line, file) != NULL) {
        int pid;
        unsigned major_number, minor_number;
        unsigned long inode;
        bool ours = sscanf(line, "%*d: FLOCK %*s %*s %d %x:%x:%lu", &pid, &major_number,
                           &minor_number, &inode) == 4 &&
                    inode == (unsigned long)node->st_ino &&
                    makedev(major_number, minor_number) == node->st_dev;
        found = ours && pid > 0 && pid != getpid() ? pid : 0;
    }
    if (file != NULL) {
        fclose(file);
    }
    return found;
}

void rp_port_find_holder(const char *device, struct rp_port_holder *out_holder)
{
    struct stat node;
    *out_holder = (struct rp_port_holder){0};
    if (stat(device, &node) != 0 || !S_ISCHR(node.st_mode)) {
        return;
    }
    int pid = find_locker(&node);
    out_holder->locked = pid != 0;
    out_holder->pid = pid != 0 ? pid : find_opener(node.st_rdev);
    if (out_holder->pid != 0) {
        name_of(out_holder->pid, out_holder->name, sizeof out_holder->name);
    }
}
