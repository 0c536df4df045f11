#include "cli/ask.h"

#include <stdlib.h>
#include <string.h>
#include <sysexits.h>
#include <time.h>

#include "control/control.h"
#include "port/client.h"

#define TIMEOUT_MS 10000

static json_t *make_request(const struct rp_options *options)
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
    bool handover = strcmp(options->words[0], "handover") == 0;
    const char *lang = handover ? rp_options_language(options) : options->lang;
    const struct {
        const char *word, *text;
    } pairs[] = {{"form", options->form}, {"lang", lang}, {"after", options->after}};
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
        if (pairs[i].text != NULL) {
            json_array_append_new(args, json_string(pairs[i].word));
            json_array_append_new(args, json_string(pairs[i].text));
        }
    }
    if (options->draft) {
        json_array_append_new(args, json_string("draft"));
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

int rp_ask_status(const json_t *reply)
{
    const json_t *problem = json_object_get(reply, "error");
    return exit_status(json_string_value(json_object_get(problem, "code")));
}

int rp_ask_refused(const json_t *reply)
{
    const json_t *problem = json_object_get(reply, "error");
    const char *text = json_string_value(json_object_get(problem, "text"));
    fprintf(stderr, "ridgepost: %s\n", text != NULL ? text : "?");
    return rp_ask_status(reply);
}

json_t *rp_ask_read(struct rp_view line)
{
    json_error_t error;
    json_t *reply = json_loadb((const char *)line.bytes, line.len, 0, &error);
    if (!json_is_object(reply)) {
        fprintf(stderr, "ridgepost: the daemon's answer cannot be read: %s\n", error.text);
        json_decref(reply);
        return NULL;
    }
    return reply;
}

const char *rp_ask_text(const json_t *object, const char *key)
{
    const char *text = json_string_value(json_object_get(object, key));
    return text != NULL ? text : "";
}

/* Numbers need no station: without its daemon they are computed here. */
static int compute_here(struct rp_view request, int (*on_reply)(void *ctx, struct rp_view line),
                        void *ctx)
{
    static struct rp_control control; /* large; no node */
    struct rp_moment moment = {.unix_s = time(NULL)};
    char *reply = rp_control_handle(&control, request, moment);
    if (reply == NULL) {
        fputs("ridgepost: out of memory\n", stderr);
        return EX_OSERR;
    }
    int status = on_reply(ctx, (struct rp_view){(const uint8_t *)reply, strlen(reply)});
    free(reply);
    return status;
}

int rp_ask(const struct rp_options *options, int (*on_reply)(void *ctx, struct rp_view line),
           void *ctx)
{
    struct rp_problem problem = {0};
    json_t *request = make_request(options);
    char *line = request != NULL ? json_dumps(request, JSON_COMPACT) : NULL;
    json_decref(request);
    if (line == NULL) {
        fputs("ridgepost: the words are not UTF-8 text\n", stderr);
        return EX_DATAERR;
    }
    struct rp_view view = {(const uint8_t *)line, strlen(line)};
    int code = rp_client_call(options->socket != NULL ? options->socket : RP_CLI_SOCKET_DEFAULT,
                              view, TIMEOUT_MS, on_reply, ctx, &problem);
    bool here = code == RP_E_NOT_FOUND && strcmp(options->words[0], "compute") == 0;
    code = here ? compute_here(view, on_reply, ctx) : code;
    free(line);
    if (code < 0) {
        fprintf(stderr, "ridgepost: %s\n", problem.text);
        return code == RP_E_PERMISSION ? EX_NOPERM : EX_UNAVAILABLE;
    }
    return code;
}

static int keep_reply(void *ctx, struct rp_view line)
{
    json_t **out_reply = ctx;
    json_t *reply = rp_ask_read(line);
    if (reply == NULL) {
        return EX_PROTOCOL;
    }
    if (!json_is_true(json_object_get(reply, "ok"))) {
        int status = rp_ask_refused(reply);
        json_decref(reply);
        return status;
    }
    *out_reply = reply;
    return EX_OK;
}

int rp_ask_data(const struct rp_options *options, json_t **out_reply)
{
    *out_reply = NULL;
    return rp_ask(options, keep_reply, out_reply);
}
