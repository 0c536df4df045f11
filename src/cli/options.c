#include "cli/options.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct option_row {
    const char *name;
    size_t text; /* offset of the const char * it sets, or */
    size_t flag; /* offset of the bool it sets */
    bool takes_text;
    const char *example; /* of the text */
};

#define TEXT(name, example)                                                                        \
    {                                                                                              \
        "--" #name, offsetof(struct rp_options, name), 0, true, example                            \
    }
#define FLAG(name)                                                                                 \
    {                                                                                              \
        "--" #name, 0, offsetof(struct rp_options, name), false, ""                                \
    }

static const struct option_row rows[] = {TEXT(socket, "/run/ridgepost/control.sock"),
                                         TEXT(by, "Ines"),
                                         TEXT(via, "voice"),
                                         TEXT(ago, "20min"),
                                         TEXT(form, "csv"),
                                         TEXT(lang, "fr"),
                                         TEXT(out, "sheet.pdf"),
                                         TEXT(every, "10s"),
                                         FLAG(print),
                                         FLAG(watch),
                                         FLAG(json),
                                         FLAG(sure),
                                         FLAG(help),
                                         FLAG(version)};

static const struct option_row *find_row(const char *name)
{
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (strcmp(rows[i].name, name) == 0) {
            return &rows[i];
        }
    }
    return NULL;
}

int rp_options_read(int argc, char **argv, struct rp_options *out_options)
{
    struct rp_options options = {
        .self = argv[0], .socket = getenv("RIDGEPOST_SOCKET"), .by = getenv("RIDGEPOST_BY")};
    bool words_only = false;
    for (int i = 1; i < argc; i++) {
        const struct option_row *row = words_only ? NULL : find_row(argv[i]);
        if (row == NULL && !words_only && strcmp(argv[i], "--") == 0) {
            words_only = true;
        } else if (row != NULL && row->takes_text) {
            if (i + 1 == argc) {
                fprintf(stderr, "ridgepost: %s: something is missing after it (example: %s %s)\n",
                        argv[i], row->name, row->example);
                return -1;
            }
            const char *text = argv[++i];
            memcpy((char *)&options + row->text, &text, sizeof text);
        } else if (row != NULL) {
            *(bool *)((char *)&options + row->flag) = true;
        } else if (!words_only && strncmp(argv[i], "--", 2) == 0) {
            fprintf(stderr,
                    "ridgepost: %s is no option; --help lists them, and what follows -- is taken "
                    "as words\n",
                    argv[i]);
            return -1;
        } else if (options.count == RP_CLI_WORDS_MAX) {
            fprintf(stderr, "ridgepost: more than %d words\n", RP_CLI_WORDS_MAX);
            return -1;
        } else {
            options.words[options.count++] = argv[i];
        }
    }
    *out_options = options;
    return 0;
}

const char *rp_options_language(const struct rp_options *options)
{
    const char *own = getenv("RIDGEPOST_LANG");
    return options->lang != NULL ? options->lang : own != NULL && own[0] != '\0' ? own : NULL;
}
