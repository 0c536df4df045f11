/* ridgepost: what a medic and a base operator type. */
#include <fcntl.h>
#include <jansson.h>
#include <stdio.h>
#include <string.h>
#include <sysexits.h>
#include <unistd.h>

#include "cli/ask.h"
#include "cli/net.h"
#include "cli/options.h"
#include "cli/pair.h"
#include "cli/radios.h"
#include "cli/sheet.h"
#include "control/control.h"

static void print_usage(FILE *file)
{
    fputs(
        "usage: ridgepost [--socket PATH] [--by NAME] [--ago SPAN] [--via voice|paper] [--sure]\n"
        "                 [--json] COMMAND [WORD]...\n"
        "--by      who did it (or the environment's RIDGEPOST_BY)\n"
        "--ago     it happened that long ago: 20min, 1h30\n"
        "--via     it was written on paper or told by voice before it was entered here\n"
        "--sure    an unlikely value is confirmed\n"
        "--form    of a handover: text, roll42, csv, fhir ... (handover --form ? lists them), and\n"
        "          pdf, png, screen or qr: a page, and codes for a phone's camera\n"
        "--lang    of a handover or a blank form: en, fr ... (handover --lang ? lists them; or "
        "RIDGEPOST_LANG)\n"
        "--out     the handover or blank form to this file\n"
        "--print   to the printer: by lp or lpr, or by the command that RIDGEPOST_PRINT names\n"
        "--watch   again whenever something important changed, and says what (--every 10s)\n"
        "--json    answer for programs\n"
        "--socket  of the daemon (or RIDGEPOST_SOCKET; default " RP_CLI_SOCKET_DEFAULT ")\n\n"
        "Commands, by example; an episode is named station-number and may be left out when only\n"
        "one is known. Every number has its unit; times are UTC with Z, or spans.\n",
        file);
    const char *example;
    for (size_t i = 0; rp_control_usage(i, &example) != NULL; i++) {
        fprintf(file, "  %s\n", example);
    }
    fputs("  paper observations --print  (paper lists the blank forms)\n"
          "  radios                      which ports there are (radios --help)\n"
          "  radios try /dev/ttyUSB0     what modem is on one, without transmitting\n"
          "  net make FILE name NAME     (net --help)\n\n"
          "Not a medical device. A chamber is never a substitute for descent. Follow the treating\n"
          "clinician, local protocols and licensed practice. Radio use follows local law.\n",
          file);
}

struct call {
    const struct rp_options *options;
    char next[24]; /* where the next part begins; "": that was all */
};

/* A form that comes in parts, unless somebody asked for one part. */
static void remember_next(struct call *call, const json_t *reply)
{
    const struct rp_options *options = call->options;
    const char *next = rp_ask_text(json_object_get(reply, "data"), "next");
    bool chosen = options->json || options->form == NULL;
    for (size_t i = 1; i < options->count; i++) {
        chosen = chosen || strcmp(options->words[i], "count") == 0;
    }
    snprintf(call->next, sizeof call->next, "%s", chosen ? "" : next);
}

static int print_reply(void *ctx, struct rp_view line)
{
    struct call *call = ctx;
    const struct rp_options *options = call->options;
    json_t *reply = rp_ask_read(line);
    if (reply == NULL) {
        return EX_PROTOCOL;
    }
    bool ok = json_is_true(json_object_get(reply, "ok"));
    int status = EX_OK;
    if (options->json) {
        printf("%.*s\n", (int)line.len, (const char *)line.bytes);
        status = ok ? EX_OK : rp_ask_status(reply);
    } else if (ok) {
        const char *text = json_string_value(json_object_get(reply, "text"));
        fputs(text != NULL ? text : "?", stdout);
    } else {
        status = rp_ask_refused(reply);
        if (strcmp(rp_ask_text(json_object_get(reply, "error"), "field"), "form") == 0) {
            fputs("ridgepost: and pdf, png, screen, qr, which ridgepost-page draws\n", stderr);
        }
    }
    remember_next(call, reply);
    json_decref(reply);
    return status;
}

static int call(const struct rp_options *options)
{
    struct call calling = {.options = options};
    struct rp_options asking = *options;
    int status = rp_ask(&asking, print_reply, &calling);
    while (status == EX_OK && calling.next[0] != '\0') {
        char next[sizeof calling.next];
        memcpy(next, calling.next, sizeof next);
        asking.after = next;
        status = rp_ask(&asking, print_reply, &calling);
    }
    return fflush(stdout) == 0 ? status : EX_IOERR;
}

/* Told, not passed over: who asked for paper would wait for it. */
static bool is_misplaced(const struct rp_options *options)
{
    bool sheet = strcmp(options->words[0], "handover") == 0;
    bool paper = strcmp(options->words[0], "paper") == 0;
    bool delivers = options->out != NULL || options->print;
    bool misplaced = (delivers && !sheet && !paper) || (options->watch && !sheet);
    return misplaced || ((delivers || options->watch) && options->json);
}

/* No pipe or socket may take the place of a closed standard stream; writing to one still fails. */
static void fill_standard_streams(void)
{
    int fd;
    do {
        fd = open("/dev/null", O_RDONLY);
    } while (fd >= 0 && fd <= STDERR_FILENO);
    if (fd > STDERR_FILENO) {
        close(fd);
    }
}

int main(int argc, char **argv)
{
    struct rp_options options;
    fill_standard_streams();
    if (rp_options_read(argc, argv, &options) < 0) {
        return EX_USAGE;
    }
    if (options.version) {
        puts("ridgepost " RP_VERSION);
        return EX_OK;
    }
    if (options.count > 0 && is_misplaced(&options)) {
        fputs("ridgepost: --out and --print are for handover and paper, --watch for handover, none "
              "with --json (example: ridgepost handover 7-1 --print)\n",
              stderr);
        return EX_USAGE;
    }
    if (options.count > 0 && strcmp(options.words[0], "net") == 0) {
        return rp_cli_net(&options);
    }
    if (options.count > 0 && strcmp(options.words[0], "radios") == 0) {
        return rp_cli_radios(&options);
    }
    if (options.help || options.count == 0) {
        print_usage(options.help ? stdout : stderr);
        return options.help ? EX_OK : EX_USAGE;
    }
    if (strcmp(options.words[0], "paper") == 0) {
        return rp_cli_paper(&options);
    }
    if (rp_cli_pair_wanted(&options)) {
        return rp_cli_pair(&options);
    }
    return rp_cli_sheet_wanted(&options) ? rp_cli_sheet(&options) : call(&options);
}
