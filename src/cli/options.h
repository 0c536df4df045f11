/* The command line's options. */
#ifndef RP_CLI_OPTIONS_H
#define RP_CLI_OPTIONS_H

#include <stdbool.h>
#include <stddef.h>

#define RP_CLI_WORDS_MAX      128
#define RP_CLI_SOCKET_DEFAULT "/run/ridgepost/control.sock"

struct rp_options {
    const char *self;                                                /* argv[0] */
    const char *socket, *by, *via, *ago, *form, *lang, *out, *every; /* NULL: not given */
    bool json, sure, help, version, print, watch;
    /* Not options: a sheet that gets no number; where the part begins that is asked for, or NULL.
     */
    bool draft;
    const char *after;
    const char *words[RP_CLI_WORDS_MAX]; /* command and its words, borrowed from argv */
    size_t count;
};

/* Options may stand anywhere, as a gloved hand appends them; everything else is a word, also one
 * that begins with one minus ("temp -15C"), which is why getopt cannot be used; what follows "--"
 * is words only. An unknown "--option" is refused: it may be a mistyped one. Returns 0, or -1
 * after printing what is wrong. */
int rp_options_read(int argc, char **argv, struct rp_options *out_options);

/* The language of a form, by --lang or RIDGEPOST_LANG; NULL: none was asked for. */
const char *rp_options_language(const struct rp_options *options);

#endif
