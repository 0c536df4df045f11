#include "port/files/battery.h"

#include <ctype.h>
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "ridgepost/error.h"

#define TEXT_LEN 32

/* The first bytes of a file, without the white space around; negative: it cannot be read. */
static int read_text(const char *path, char out_text[TEXT_LEN])
{
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (fd < 0) {
        return errno == ENOENT ? RP_E_NOT_FOUND : RP_E_IO;
    }
    ssize_t got = read(fd, out_text, TEXT_LEN - 1);
    close(fd);
    if (got < 0) {
        return RP_E_IO;
    }
    while (got > 0 && isspace((unsigned char)out_text[got - 1])) {
        got--;
    }
    out_text[got] = '\0';
    return RP_OK;
}

static bool says(const char *class_dir, const char *supply, const char *file, const char *word)
{
    char path[512], text[TEXT_LEN];
    snprintf(path, sizeof path, "%s/%s/%s", class_dir, supply, file);
    return read_text(path, text) == RP_OK && strcmp(text, word) == 0;
}

int rp_battery_find(const char *class_dir, char *out_path, size_t cap)
{
    char first[256] = "";
    DIR *dir = opendir(class_dir);
    const struct dirent *entry;
    while (dir != NULL && (entry = readdir(dir)) != NULL) {
        const char *name = entry->d_name;
        if (name[0] != '.' && strlen(name) < sizeof first &&
            says(class_dir, name, "type", "Battery") && !says(class_dir, name, "scope", "Device") &&
            (first[0] == '\0' || strcmp(name, first) < 0)) {
            memcpy(first, name, strlen(name) + 1);
        }
    }
    if (dir != NULL) {
        closedir(dir);
    }
    if (first[0] == '\0') {
        return RP_E_NOT_FOUND;
    }
    int len = snprintf(out_path, cap, "%s/%s/capacity", class_dir, first);
    return len >= 0 && (size_t)len < cap ? RP_OK : RP_E_TOO_LONG;
}

int rp_battery_read(const char *path)
{
    char text[TEXT_LEN], *end = NULL;
    int code = read_text(path, text);
    if (code < 0) {
        return code;
    }
    if (!isdigit((unsigned char)text[0])) {
        return RP_E_FORMAT;
    }
    long pct = strtol(text, &end, 10);
    if (*end == '.') {
        end += 1 + strspn(end + 1, "0123456789");
    }
    end += strspn(end, " %");
    return *end == '\0' && pct <= 100 ? (int)pct : RP_E_FORMAT;
}
