#include "port/process/find.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static bool is_program(const char *folder, size_t folder_len, const char *name,
                       char out_path[RP_PROGRAM_PATH_MAX])
{
    int len = snprintf(out_path, RP_PROGRAM_PATH_MAX, "%.*s/%s", (int)folder_len, folder, name);
    return len > 0 && len < RP_PROGRAM_PATH_MAX && access(out_path, X_OK) == 0;
}

bool rp_program_find(const char *self, const char *name, char out_path[RP_PROGRAM_PATH_MAX])
{
    const char *slash = self != NULL ? strrchr(self, '/') : NULL;
    if (slash != NULL && is_program(self, (size_t)(slash - self), name, out_path)) {
        return true;
    }
    const char *path = getenv("PATH");
    while (path != NULL && *path != '\0') {
        size_t len = strcspn(path, ":");
        if (len > 0 && is_program(path, len, name, out_path)) {
            return true;
        }
        path += len + (path[len] == ':');
    }
    return false;
}
