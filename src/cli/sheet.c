#include "cli/sheet.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sysexits.h>
#include <time.h>
#include <unistd.h>

#include "cli/ask.h"
#include "cli/changes.h"
#include "cli/program.h"
#include "handover/data/rows.h"
#include "port/process/find.h"

#define EVERY_DEFAULT_S 10
#define EVERY_MAX_S     3600
/* A burst of entries is one sheet: wait for a poll without news, or so many. */
#define SETTLE_POLLS 3

/* Forms that the page program draws from the rows; the daemon knows the others. */
static const char *const drawn[] = {"pdf", "png", "screen", "qr"};

static bool is_drawn(const char *form)
{
    for (size_t i = 0; form != NULL && i < sizeof drawn / sizeof drawn[0]; i++) {
        if (strcmp(form, drawn[i]) == 0) {
            return true;
        }
    }
    return false;
}

/* "--form pdf", or "form pdf" among the words, which are taken out then. */
static const char *take_form(struct rp_options *options)
{
    for (size_t i = 1; i + 1 < options->count; i++) {
        if (options->form == NULL && strcmp(options->words[i], "form") == 0) {
            options->form = options->words[i + 1];
            options->count -= 2;
            memmove(&options->words[i], &options->words[i + 2],
                    (options->count - i) * sizeof options->words[0]);
        }
    }
    return options->form;
}

bool rp_cli_sheet_wanted(const struct rp_options *options)
{
    struct rp_options copy = *options;
    return strcmp(options->words[0], "handover") == 0 && !options->json &&
           (is_drawn(take_form(&copy)) || options->out != NULL || options->print || options->watch);
}

/* A finished form on its way out. */
struct product {
    char *bytes; /* owned */
    size_t len;
};

static int draw_page(const struct rp_options *options, const char *const *args, const char *input,
                     struct product *out)
{
    char path[RP_PROGRAM_PATH_MAX];
    const char *words[6] = {path, args[0], args[1], args[2], args[3], NULL};
    if (!rp_program_find(options->self, RP_PAGE_PROGRAM, path)) {
        fputs("ridgepost: " RP_PAGE_PROGRAM
              " draws this form, and it is neither beside ridgepost nor "
              "on PATH: build with -DRP_PAGE=ON and install it, or take --form text\n",
              stderr);
        return EX_UNAVAILABLE;
    }
    int status = rp_program_run(words, input, strlen(input), &out->bytes, &out->len);
    if (status != 0) {
        free(out->bytes); /* what is wrong, it said itself */
        out->bytes = NULL;
        if (status < 0) {
            fprintf(stderr, "ridgepost: %s cannot be run, or it crashed\n", path);
        }
        return status > 0 ? status : EX_SOFTWARE;
    }
    return EX_OK;
}

/* A printer's device or a pipe: written to, never replaced by a file. */
static bool is_special(const char *path)
{
    struct stat found;
    return stat(path, &found) == 0 && !S_ISREG(found.st_mode);
}

/* The file appears whole or not at all. */
static int write_file(const char *path, const struct product *product)
{
    char part[RP_PROGRAM_PATH_MAX];
    bool special = is_special(path);
    int len = snprintf(part, sizeof part, "%s%s", path, special ? "" : ".part");
    FILE *file = len > 0 && len < (int)sizeof part ? fopen(part, "wb") : NULL;
    bool good = file != NULL && fwrite(product->bytes, 1, product->len, file) == product->len;
    good = file != NULL && fclose(file) == 0 && good;
    if (!good || (!special && rename(part, path) != 0)) {
        perror(path);
        if (!special) {
            remove(part);
        }
        return EX_CANTCREAT;
    }
    return EX_OK;
}

/* lp and lpr read what they print from standard input. RIDGEPOST_PRINT names another command. */
static int print(const struct product *product)
{
    char path[RP_PROGRAM_PATH_MAX], buf[1024];
    const char *words[RP_PROGRAM_WORDS] = {NULL};
    const char *own = getenv("RIDGEPOST_PRINT");
    if (own != NULL && own[0] != '\0') {
        rp_program_words(own, buf, sizeof buf, words);
    } else if (rp_program_find(NULL, "lp", path) || rp_program_find(NULL, "lpr", path)) {
        words[0] = path;
    }
    if (words[0] == NULL) {
        fputs("ridgepost: no print command is here: neither lp nor lpr is on PATH; install a "
              "printing system (Debian: cups-client), name a command (RIDGEPOST_PRINT=\"lp -d "
              "camp\"), or write a file: --out sheet.pdf\n",
              stderr);
        return EX_UNAVAILABLE;
    }
    int status = rp_program_run(words, product->bytes, product->len, NULL, NULL);
    if (status != 0) {
        fprintf(stderr, "ridgepost: %s did not print it (exit %d)\n", words[0], status);
        return EX_TEMPFAIL;
    }
    return EX_OK;
}

static int deliver(const struct rp_options *options, const struct product *product)
{
    int status = EX_OK;
    if (options->out != NULL) {
        status = write_file(options->out, product);
    }
    if (status == EX_OK && options->print) {
        status = print(product);
    }
    if (options->out == NULL && !options->print) {
        bool good = fwrite(product->bytes, 1, product->len, stdout) == product->len;
        status = fflush(stdout) == 0 && good ? EX_OK : EX_IOERR;
    }
    return status;
}

static int ask_form(const struct rp_options *options, const char *form, bool draft,
                    json_t **out_reply)
{
    struct rp_options asking = *options;
    asking.form = form;
    asking.draft = draft;
    return rp_ask_data(&asking, out_reply);
}

static int ask_rows(const struct rp_options *options, bool draft, json_t **out_rows)
{
    json_t *reply;
    int status = ask_form(options, "rows", draft, &reply);
    *out_rows = status == EX_OK ? json_loads(rp_ask_text(reply, "text"), 0, NULL) : NULL;
    json_decref(reply);
    if (status == EX_OK && *out_rows == NULL) {
        fputs("ridgepost: the daemon's rows cannot be read\n", stderr);
        return EX_PROTOCOL;
    }
    return status;
}

/* Columns of the paper that a form is for. */
static size_t columns_of(const char *form)
{
    return strcmp(form, "roll42") == 0 ? 42 : strcmp(form, "roll32") == 0 ? 32 : 80;
}

/* Writes a line in pieces of at most so many characters, cut at spaces where there are any. */
static void fold(const char *line, size_t columns, FILE *out)
{
    while (*line != '\0') {
        size_t len = 0, space = 0;
        for (size_t count = 0; line[len] != '\0' && count < columns; count++) {
            do {
                len++;
            } while (((unsigned char)line[len] & 0xc0) == 0x80);
            space = line[len] == ' ' ? len : space;
        }
        size_t piece = line[len] == '\0' || space == 0 ? len : space;
        fprintf(out, "%.*s\n", (int)piece, line);
        line += piece + (line[piece] == ' ');
    }
}

/* A word that comes with the rows, in their language. */
static const char *word_of(const json_t *rows, const char *key)
{
    const char *word = rp_ask_text(json_object_get(rows, "words"), key);
    return word[0] != '\0' ? word : rp_rows_word(&rp_texts_english, key);
}

/* What changed, as words: before a text, and on standard error. */
static void say_changes(const json_t *rows, size_t columns, FILE *out)
{
    const json_t *since = json_object_get(rows, "since"),
                 *changes = json_object_get(rows, "changes");
    if (since == NULL) {
        return;
    }
    fprintf(out, "%s %ld (%s):\n", word_of(rows, "since"),
            (long)json_integer_value(json_object_get(since, "sheet")), rp_ask_text(since, "check"));
    for (size_t i = 0; i < json_array_size(changes); i++) {
        const json_t *change = json_array_get(changes, i);
        bool gone = json_is_true(json_object_get(change, "gone"));
        char line[8192];
        snprintf(line, sizeof line, "* %s%s%s%s%s", gone ? word_of(rows, "gone") : "",
                 gone ? " " : "", rp_ask_text(change, "label"),
                 rp_ask_text(change, "label")[0] != '\0' ? " " : "", rp_ask_text(change, "text"));
        fold(line, columns, out);
    }
}

/* Draws the rows, which are numbered already. */
static int make_drawn(const struct rp_options *options, const json_t *rows, struct product *out)
{
    const char *args[4] = {options->form, NULL, NULL, NULL};
    char *text = json_dumps(rows, JSON_COMPACT);
    int status = text != NULL ? draw_page(options, args, text, out) : EX_OSERR;
    free(text);
    return status;
}

/* The daemon's text, all parts of it; the rows get its number. */
static int add_text(const struct rp_options *options, json_t *rows, FILE *memory)
{
    struct rp_options asking = *options;
    char next[24] = "";
    int status;
    do {
        json_t *reply;
        asking.after = next[0] != '\0' ? next : NULL;
        status = rp_ask_data(&asking, &reply);
        fputs(rp_ask_text(reply, "text"), memory);
        const json_t *data = json_object_get(reply, "data");
        json_object_set(rows, "sheet", json_object_get(data, "sheet"));
        snprintf(next, sizeof next, "%s", rp_ask_text(data, "next"));
        json_decref(reply);
    } while (status == EX_OK && next[0] != '\0');
    return status;
}

static int make_text(const struct rp_options *options, json_t *rows, struct product *out)
{
    FILE *memory = open_memstream(&out->bytes, &out->len);
    if (memory == NULL) {
        return EX_OSERR;
    }
    say_changes(rows, columns_of(options->form), memory);
    int status = add_text(options, rows, memory);
    return fclose(memory) == 0 ? status : EX_OSERR;
}

/* Makes the form with a number of its own and sends it out. `before`: the last one that was, or
 * NULL; *out_rows: this one's rows. */
static int make_and_deliver(const struct rp_options *options, const json_t *before,
                            json_t **out_rows)
{
    struct product product = {NULL, 0};
    bool draws = is_drawn(options->form);
    int status = ask_rows(options, !draws, out_rows);
    if (status == EX_OK && before != NULL) {
        rp_changes_add(before, *out_rows);
    }
    if (status == EX_OK) {
        status = draws ? make_drawn(options, *out_rows, &product)
                       : make_text(options, *out_rows, &product);
    }
    if (status == EX_OK) {
        status = deliver(options, &product);
    }
    free(product.bytes);
    return status;
}

static int read_every(const char *text, unsigned *out_s)
{
    char *end;
    unsigned long value = text != NULL ? strtoul(text, &end, 10) : EVERY_DEFAULT_S;
    bool good = text == NULL || (end != text && (strcmp(end, "s") == 0 || *end == '\0'));
    if (!good || value < 1 || value > EVERY_MAX_S) {
        fprintf(stderr, "ridgepost: every: \"%s\" is not 1 to %d seconds (example: --every 10s)\n",
                text, EVERY_MAX_S);
        return -1;
    }
    *out_s = (unsigned)value;
    return 0;
}

/* Waits until the sheet stands still or was awaited long enough. */
static bool is_settled(const json_t *rows, char last_check[8], int *polls)
{
    bool still = strcmp(rp_ask_text(rows, "check"), last_check) == 0;
    snprintf(last_check, 8, "%.7s", rp_ask_text(rows, "check"));
    *polls += 1;
    return still || *polls >= SETTLE_POLLS;
}

static void tell_printed(const json_t *rows)
{
    time_t now = time(NULL);
    struct tm utc;
    char clock[16];
    gmtime_r(&now, &utc);
    strftime(clock, sizeof clock, "%H:%MZ", &utc);
    fprintf(stderr, "%s check %s\n", clock, rp_ask_text(rows, "check"));
    say_changes(rows, 80, stderr);
    fflush(stderr);
}

/* "7-1" for what was left out: another patient may be entered while this one is watched. */
static void fix_episode(struct rp_options *options, const json_t *rows, char name[32])
{
    bool named = options->count > 1 && options->words[1][0] >= '0' && options->words[1][0] <= '9';
    if (named || options->count == RP_CLI_WORDS_MAX) {
        return;
    }
    snprintf(name, 32, "%d-%d", (int)json_integer_value(json_object_get(rows, "opened_at")),
             (int)json_integer_value(json_object_get(rows, "episode")));
    memmove(&options->words[2], &options->words[1],
            (options->count - 1) * sizeof options->words[0]);
    options->words[1] = name;
    options->count++;
}

static int watch(struct rp_options *options)
{
    char name[32];
    unsigned every_s;
    json_t *last = NULL;
    char check[8] = "";
    int polls = 0;
    if (read_every(options->every, &every_s) < 0) {
        return EX_USAGE;
    }
    int status = make_and_deliver(options, NULL, &last);
    if (status != EX_OK) {
        json_decref(last);
        return status;
    }
    tell_printed(last);
    fix_episode(options, last, name);
    for (;;) {
        json_t *now;
        sleep(every_s);
        if (ask_rows(options, true, &now) != EX_OK) {
            continue; /* said already; the daemon may come back */
        }
        bool due = rp_changes_any(last, now);
        polls = due ? polls : 0;
        due = due && is_settled(now, check, &polls);
        json_decref(now);
        if (due && make_and_deliver(options, last, &now) == EX_OK) {
            tell_printed(now);
            json_decref(last);
            last = now;
            polls = 0;
        } else if (due) {
            json_decref(now); /* said already; tried again at the next poll */
        }
    }
}

int rp_cli_sheet(const struct rp_options *given)
{
    struct rp_options options = *given;
    json_t *rows = NULL;
    take_form(&options);
    if (options.form == NULL) {
        options.form = options.print ? "pdf" : "text";
    }
    bool binary = is_drawn(options.form) && strcmp(options.form, "qr") != 0;
    if (binary && options.out == NULL && !options.print && isatty(STDOUT_FILENO)) {
        fprintf(stderr,
                "ridgepost: %s is not for a terminal (example: ridgepost handover 7-1 --form %s "
                "--out sheet.%s)\n",
                options.form, options.form, options.form);
        return EX_USAGE;
    }
    if (options.watch) {
        return watch(&options);
    }
    int status = make_and_deliver(&options, NULL, &rows);
    json_decref(rows);
    return status;
}

int rp_cli_paper(const struct rp_options *given)
{
    struct rp_options options = *given;
    struct product product = {NULL, 0};
    const char *args[4] = {"paper", options.count > 1 ? options.words[1] : "list", NULL, NULL};
    bool list = options.count < 2;
    size_t count = 2;
    if (options.count > 2) {
        args[count++] = options.words[2];
    }
    args[count] = rp_options_language(&options);
    if (!list && options.out == NULL && !options.print && isatty(STDOUT_FILENO)) {
        fprintf(stderr,
                "ridgepost: a form is not for a terminal (example: ridgepost paper %s --out "
                "form.pdf, or --print)\n",
                options.words[1]);
        return EX_USAGE;
    }
    int status = draw_page(&options, args, "", &product);
    if (status == EX_OK) {
        status = deliver(&options, &product);
    }
    free(product.bytes);
    return status;
}
