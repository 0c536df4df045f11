/* ridgepost: what a medic and a base operator type. */
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sysexits.h>
#include <time.h>

#include "cli/net.h"
#include "cli/options.h"
#include "control/control.h"
#include "port/client.h"

#define TIMEOUT_MS     10000
#define SOCKET_DEFAULT "/run/ridgepost/control.sock"

static void print_usage(FILE *file)
{
    fputs("usage: ridgepost [--socket PATH] [--by NAME] [--ago SPAN] [--via voice|paper] [--sure]\n"
          "                 [--json] COMMAND [WORD]...\n"
          "--by      who did it (or the environment's RIDGEPOST_BY)\n"
          "--ago     it happened that long ago: 20min, 1h30\n"
          "--via     it was written on paper or told by voice before it was entered here\n"
          "--sure    an unlikely value is confirmed\n"
          "--form    of a handover: text, roll42, csv, fhir ... (handover --form ? lists them)\n"
          "--lang    of a handover: en, fr ... (handover --lang ? lists them)\n"
          "--json    answer for programs\n"
          "--socket  of the daemon (or RIDGEPOST_SOCKET; default " SOCKET_DEFAULT ")\n\n"
          "Commands, by example; an episode is named station-number and may be left out when only\n"
          "one is known. Every number has its unit; times are UTC with Z, or spans.\n",
          file);
    const char *example;
    for (size_t i = 0; rp_control_usage(i, &example) != NULL; i++) {
        fprintf(file, "  %s\n", example);
    }
    fputs("  net make FILE name NAME     (net --help)\n\n"
          "Not a medical device. A chamber is never a substitute for descent. Follow the treating\n"
          "clinician, local protocols and licensed practice. Radio use follows local law.\n",
          file);
}

/* next: where the part begins that is asked for; NULL: the first, or the only one. */
static json_t *make_request(const struct rp_options *options, const char *next)
{
    json_t *args = json_array();
    for (size_t i = 1; i < options->count; i++) {
        json_t *word = json_string(options->words[i]);
        if (word == NULL) { /* not UTF-8 */
            json_decref(args);
            return NULL;
        }
        json_array_append_new(args, word);
    }
    const struct {
        const char *word, *text;
    } pairs[] = {{"form", options->form}, {"lang", options->lang}, {"after", next}};
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
        if (pairs[i].text != NULL) {
            json_array_append_new(args, json_string(pairs[i].word));
            json_array_append_new(args, json_string(pairs[i].text));
        }
    }
    json_t *request = json_pack("{s:i,s:s,s:o,s:b}", "v", 1, "command", options->words[0], "args",
                                args, "sure", options->sure);
    const struct {
        const char *key, *text;
    } texts[] = {{"by", options->by}, {"via", options->via}, {"ago", options->ago}};
    for (size_t i = 0; request != NULL && i < sizeof texts / sizeof texts[0]; i++) {
        if (texts[i].text != NULL) {
            json_object_set_new(request, texts[i].key, json_string(texts[i].text));
        }
    }
    return request;
}

/* sysexits.h by the daemon's error name. */
static int exit_status(const char *code)
{
    static const struct {
        const char *code;
        int status;
    } rows[] = {
        {"RP_E_IO", EX_IOERR},          {"RP_E_NO_SPACE", EX_IOERR},   {"RP_E_CORRUPT", EX_IOERR},
        {"RP_E_PERMISSION", EX_NOPERM}, {"RP_E_MEMORY", EX_OSERR},     {"RP_E_FULL", EX_TEMPFAIL},
        {"RP_E_BUSY", EX_TEMPFAIL},     {"RP_E_VERSION", EX_PROTOCOL},
    };
    for (size_t i = 0; code != NULL && i < sizeof rows / sizeof rows[0]; i++) {
        if (strcmp(rows[i].code, code) == 0) {
            return rows[i].status;
        }
    }
    return EX_DATAERR;
}

struct call {
    const struct rp_options *options;
    char next[24]; /* where the next part begins; "": that was all */
};

/* A form that comes in parts, unless somebody asked for one part. */
static void remember_next(struct call *call, const json_t *reply)
{
    const struct rp_options *options = call->options;
    const char *next = json_string_value(json_object_get(json_object_get(reply, "data"), "next"));
    bool chosen = options->json || options->form == NULL;
    for (size_t i = 1; i < options->count; i++) {
        chosen = chosen || strcmp(options->words[i], "count") == 0;
    }
    snprintf(call->next, sizeof call->next, "%s", next != NULL && !chosen ? next : "");
}

static int print_reply(void *ctx, struct rp_view line)
{
    struct call *call = ctx;
    const struct rp_options *options = call->options;
    json_error_t error;
    json_t *reply = json_loadb((const char *)line.bytes, line.len, 0, &error);
    if (!json_is_object(reply)) {
        fprintf(stderr, "ridgepost: the daemon's answer cannot be read: %s\n", error.text);
        json_decref(reply);
        return EX_PROTOCOL;
    }
    bool ok = json_is_true(json_object_get(reply, "ok"));
    const json_t *problem = json_object_get(reply, "error");
    const char *text = json_string_value(json_object_get(ok ? reply : problem, "text"));
    int status = ok ? EX_OK : exit_status(json_string_value(json_object_get(problem, "code")));
    if (options->json) {
        printf("%.*s\n", (int)line.len, (const char *)line.bytes);
    } else {
        fprintf(ok ? stdout : stderr, "%s%s%s", ok ? "" : "ridgepost: ", text ? text : "?",
                ok ? "" : "\n");
    }
    remember_next(call, reply);
    json_decref(reply);
    return status;
}

/* Numbers need no station: without its daemon they are computed here. */
static int compute_here(struct call *calling, struct rp_view request)
{
    static struct rp_control control; /* large; no node */
    struct rp_moment moment = {.unix_s = time(NULL)};
    char *reply = rp_control_handle(&control, request, moment);
    if (reply == NULL) {
        fputs("ridgepost: out of memory\n", stderr);
        return EX_OSERR;
    }
    int status = print_reply(calling, (struct rp_view){(const uint8_t *)reply, strlen(reply)});
    free(reply);
    return status;
}

static int call_once(struct call *calling)
{
    const struct rp_options *options = calling->options;
    struct rp_problem problem = {0};
    json_t *request = make_request(options, calling->next[0] != '\0' ? calling->next : NULL);
    char *line = request != NULL ? json_dumps(request, JSON_COMPACT) : NULL;
    json_decref(request);
    calling->next[0] = '\0';
    if (line == NULL) {
        fputs("ridgepost: the words are not UTF-8 text\n", stderr);
        return EX_DATAERR;
    }
    struct rp_view view = {(const uint8_t *)line, strlen(line)};
    int code = rp_client_call(options->socket != NULL ? options->socket : SOCKET_DEFAULT, view,
                              TIMEOUT_MS, print_reply, calling, &problem);
    bool here = code == RP_E_NOT_FOUND && strcmp(options->words[0], "compute") == 0;
    code = here ? compute_here(calling, view) : code;
    free(line);
    if (code < 0) {
        fprintf(stderr, "ridgepost: %s\n", problem.text);
        return code == RP_E_PERMISSION ? EX_NOPERM : EX_UNAVAILABLE;
    }
    return fflush(stdout) == 0 ? code : EX_IOERR;
}

static int call(const struct rp_options *options)
{
    struct call calling = {.options = options};
    int status = call_once(&calling);
    while (status == EX_OK && calling.next[0] != '\0') {
        status = call_once(&calling);
    }
    return status;
}

int main(int argc, char **argv)
{
    struct rp_options options;
    if (rp_options_read(argc, argv, &options) < 0) {
        return EX_USAGE;
    }
    if (options.version) {
        puts("ridgepost " RP_VERSION);
        return EX_OK;
    }
    if (options.count > 0 && strcmp(options.words[0], "net") == 0) {
        return rp_cli_net(&options);
    }
    if (options.help || options.count == 0) {
        print_usage(options.help ? stdout : stderr);
        return options.help ? EX_OK : EX_USAGE;
    }
    return call(&options);
}
