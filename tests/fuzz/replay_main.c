/* Runs a fuzz target over the files of a corpus folder, with any compiler: a found input stays
 * tested for ever. Fails when the folder is missing or empty. */
#include <dirent.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static int run_file(const char *path)
{
    static uint8_t data[1 << 16];
    FILE *file = fopen(path, "rb");
    if (file == NULL) {
        return -1;
    }
    size_t size = fread(data, 1, sizeof data, file);
    fclose(file);
    /* A copy of the exact size, so that a sanitizer sees one byte too many. */
    uint8_t *exact = malloc(size > 0 ? size : 1);
    if (exact == NULL) {
        return -1;
    }
    for (size_t i = 0; i < size; i++) {
        exact[i] = data[i];
    }
    LLVMFuzzerTestOneInput(exact, size);
    free(exact);
    return 0;
}

int main(int argc, char **argv)
{
    int files = 0;
    DIR *dir = argc == 2 ? opendir(argv[1]) : NULL;
    if (dir == NULL) {
        fprintf(stderr, "usage: %s CORPUS_FOLDER (which must exist)\n", argv[0]);
        return 1;
    }
    for (struct dirent *entry; (entry = readdir(dir)) != NULL;) {
        char path[4096];
        snprintf(path, sizeof path, "%s/%s", argv[1], entry->d_name);
        if (entry->d_name[0] != '.' && run_file(path) == 0) {
            files++;
        }
    }
    closedir(dir);
    printf("%d inputs replayed\n", files);
    return files > 0 ? 0 : 1;
}
