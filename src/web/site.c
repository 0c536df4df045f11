#include "web/site.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "ridgepost/error.h"
#include "web/assets.h"

/* Which roles may send which commands. Base answers requests; the bedside enters what happens; a
 * report taken by voice is entered at base, so base may enter everything too. */
static const struct {
    const char *command;
    enum rp_web_role least;
} commands[] = {
    {"view", RP_WEB_READER},        {"board", RP_WEB_READER},     {"episode", RP_WEB_READER},
    {"delivery", RP_WEB_READER},    {"handover", RP_WEB_READER},  {"log", RP_WEB_READER},
    {"stations", RP_WEB_READER},    {"status", RP_WEB_READER},    {"open", RP_WEB_BEDSIDE},
    {"background", RP_WEB_BEDSIDE}, {"report", RP_WEB_BEDSIDE},   {"obs", RP_WEB_BEDSIDE},
    {"chamber", RP_WEB_BEDSIDE},    {"give", RP_WEB_BEDSIDE},     {"oxygen", RP_WEB_BEDSIDE},
    {"reassess", RP_WEB_BEDSIDE},   {"descent", RP_WEB_BEDSIDE},  {"note", RP_WEB_BEDSIDE},
    {"evacuate", RP_WEB_BEDSIDE},   {"readback", RP_WEB_BEDSIDE}, {"taken", RP_WEB_BEDSIDE},
    {"correct", RP_WEB_BEDSIDE},    {"close", RP_WEB_BEDSIDE},    {"alarms", RP_WEB_BEDSIDE},
    {"answer", RP_WEB_BASE_DESK},   {"stock", RP_WEB_BEDSIDE},    {"stroke", RP_WEB_BEDSIDE},
    {"fluids", RP_WEB_BEDSIDE},
};

bool rp_web_may(enum rp_web_role role, const char *command)
{
    for (size_t i = 0; i < sizeof commands / sizeof commands[0]; i++) {
        if (strcmp(commands[i].command, command) == 0) {
            return role >= commands[i].least;
        }
    }
    return false;
}

void rp_web_response_say(struct rp_web_response *response, unsigned status, const char *sentence)
{
    rp_web_response_free(response);
    response->drawn_as = NULL;
    response->file[0] = '\0';
    response->status = status;
    response->type = "text/plain; charset=utf-8";
    response->body = (struct rp_view){(const uint8_t *)sentence, strlen(sentence)};
}

static void say_owned(struct rp_web_response *response, unsigned status, const char *type,
                      char *text)
{
    if (text == NULL) {
        rp_web_response_say(response, 503, "out of memory; what was recorded is kept, try again\n");
        return;
    }
    response->status = status;
    response->type = type;
    response->owned = text;
    response->body = (struct rp_view){(const uint8_t *)text, strlen(text)};
}

/* Takes the reply over; NULL: no memory for it. */
static void say_json(struct rp_web_response *response, unsigned status, json_t *reply)
{
    char *line = reply != NULL ? json_dumps(reply, JSON_COMPACT) : NULL;
    json_decref(reply);
    say_owned(response, status, "application/json", line);
}

static void say_problem(struct rp_web_response *response, unsigned status, const char *code,
                        const char *field, const char *text)
{
    say_json(response, status,
             json_pack("{s:i,s:b,s:{s:s,s:s,s:s}}", "v", 1, "ok", 0, "error", "code", code, "field",
                       field, "text", text));
}

static void say_role(struct rp_web_response *response, enum rp_web_role role)
{
    say_json(response, 200,
             json_pack("{s:i,s:b,s:s}", "v", 1, "ok", 1, "role", rp_web_role_word(role)));
}

static void redirect(struct rp_web_response *response, const char *where)
{
    response->status = 303;
    snprintf(response->location, sizeof response->location, "%s", where);
}

/* --- what every request must pass --- */

static bool is_numeric_host(const char *host, size_t len)
{
    if (len > 2 && host[0] == '[' && host[len - 1] == ']') {
        return strspn(host + 1, "0123456789abcdefABCDEF:.") == len - 2;
    }
    return len > 0 && strspn(host, "0123456789.") >= len;
}

/* A page of another site may point a name of its own at this address; such a name is not ours. */
static bool host_is_ours(const struct rp_web_site *site, const char *host)
{
    if (host == NULL) {
        return false;
    }
    const char *end = host[0] == '[' ? strchr(host, ']') : NULL;
    const char *colon = strchr(end != NULL ? end : host, ':');
    size_t len = colon != NULL ? (size_t)(colon - host) : strlen(host);
    const char *const names[] = {"localhost", site->name};
    for (size_t i = 0; i < 2; i++) {
        size_t name_len = strcspn(names[i], ":"); /* without the port */
        if (name_len > 0 && name_len == len && memcmp(names[i], host, len) == 0) {
            return true;
        }
    }
    return is_numeric_host(host, len);
}

/* Browsers send Origin with every POST. */
static bool origin_is_ours(const struct rp_web_request *request)
{
    static const char scheme[] = "http://";
    const char *origin = request->origin;
    return origin != NULL && strncmp(origin, scheme, sizeof scheme - 1) == 0 &&
           strcmp(origin + sizeof scheme - 1, request->host) == 0;
}

#define COOKIE_NAME "ridgepost"

static struct rp_view cookie_token(const char *cookie)
{
    static const char name[] = COOKIE_NAME "=";
    while (cookie != NULL && *cookie != '\0') {
        cookie += strspn(cookie, " ;");
        size_t len = strcspn(cookie, ";");
        if (strncmp(cookie, name, sizeof name - 1) == 0) {
            return (struct rp_view){(const uint8_t *)cookie + sizeof name - 1,
                                    len - (sizeof name - 1)};
        }
        cookie += len;
    }
    return (struct rp_view){NULL, 0};
}

/* One request on its way through the table of routes. */
struct visit {
    struct rp_web_site *site;
    const struct rp_web_request *request;
    struct rp_web_response *response;
    enum rp_web_role role;
};

/* --- pages and their files --- */

static void give_asset(const struct visit *visit, const char *name)
{
    const struct rp_web_asset *asset = rp_web_asset_find(name);
    struct rp_web_response *response = visit->response;
    if (asset == NULL) {
        rp_web_response_say(response, 404, "there is no such file\n");
        return;
    }
    response->etag = asset->etag;
    response->keeps = true;
    const char *held = visit->request->if_none_match;
    if (held != NULL && strcmp(held, asset->etag) == 0) {
        response->status = 304;
        return;
    }
    response->status = 200;
    response->type = asset->type;
    response->body = asset->bytes;
}

static void get_root(const struct visit *visit)
{
    redirect(visit->response, visit->role == RP_WEB_NOBODY    ? "/pair"
                              : visit->role == RP_WEB_BEDSIDE ? "/bedside"
                                                              : "/base");
}

static void get_pair(const struct visit *visit)
{
    give_asset(visit, "pair.html");
}

static void get_bedside(const struct visit *visit)
{
    give_asset(visit, "bedside.html");
}

static void get_base(const struct visit *visit)
{
    give_asset(visit, "base.html");
}

static void get_file(const struct visit *visit)
{
    give_asset(visit, visit->request->path + strlen("/file/"));
}

/* --- pairing --- */

static void post_pair(const struct visit *visit)
{
    struct rp_web_site *site = visit->site;
    struct rp_problem problem = {0};
    const struct rp_web_session *session;
    uint8_t token[RP_WEB_TOKEN_LEN];
    char token_text[RP_WEB_TOKEN_TEXT_LEN + 1];
    json_t *root = json_loadb((const char *)visit->request->body.bytes, visit->request->body.len,
                              JSON_REJECT_DUPLICATES, NULL);
    const char *digits = json_string_value(json_object_get(root, "code"));
    const char *device = json_string_value(json_object_get(root, "device"));
    int code;
    if (digits == NULL) {
        code = rp_problem_set(&problem, RP_E_FORMAT, "code",
                              "the request names no code (example: {\"code\":\"402913\"})");
    } else if (site->random(site->ctx, token, sizeof token) < 0) {
        code = rp_problem_set(&problem, RP_E_IO, "code", "the kernel gives no random bytes");
    } else {
        code = rp_web_pair(&site->sessions, digits, device != NULL ? device : "",
                           site->unix_s(site->ctx), token, &session, &problem);
    }
    json_decref(root);
    if (code < 0) {
        say_problem(visit->response, 403, "RP_E_PERMISSION", problem.field, problem.text);
        return;
    }
    rp_web_hex(token, sizeof token, token_text);
    /* Scripts never see it; it is sent to this site only. No "Secure": the camp's own network has
     * no names and so no certificates. */
    snprintf(visit->response->cookie, sizeof visit->response->cookie,
             COOKIE_NAME "=%s; Path=/; HttpOnly; SameSite=Strict; Max-Age=15552000", token_text);
    say_role(visit->response, session->role);
}

/* --- data --- */

/* {"command":WORD,"args":[EPISODE]} with the reply as it comes. */
static char *ask(const struct visit *visit, const char *command, const char *const *args)
{
    json_t *list = json_array();
    for (size_t i = 0; args[i] != NULL; i++) {
        json_array_append_new(list, json_string(args[i]));
    }
    json_t *root = json_pack("{s:s,s:o}", "command", command, "args", list);
    char *line = root != NULL ? json_dumps(root, JSON_COMPACT) : NULL;
    json_decref(root);
    if (line == NULL) {
        return NULL;
    }
    struct rp_view bytes = {(const uint8_t *)line, strlen(line)};
    char *reply = visit->site->act(visit->site->ctx, bytes);
    free(line);
    return reply;
}

static const char *query(const struct visit *visit, const char *name)
{
    return visit->request->query != NULL ? visit->request->query(visit->request->query_ctx, name)
                                         : NULL;
}

/* The words of the query that the command knows, each before its value. */
static void add_named(const struct visit *visit, const char *const *names, size_t names_count,
                      const char **args, size_t *count)
{
    for (size_t i = 0; i < names_count; i++) {
        const char *value = query(visit, names[i]);
        if (value != NULL) {
            args[(*count)++] = names[i];
            args[(*count)++] = value;
        }
    }
}

static void get_view(const struct visit *visit)
{
    const char *episode = query(visit, "episode");
    const char *const args[] = {episode, NULL};
    say_owned(visit->response, 200, "application/json", ask(visit, "view", args));
}

static void get_log(const struct visit *visit)
{
    static const char *const names[] = {"newest", "skip"};
    const char *args[2 + 2 * sizeof names / sizeof names[0]], *episode = query(visit, "episode");
    size_t count = 0;
    if (episode != NULL) {
        args[count++] = episode;
    }
    add_named(visit, names, sizeof names / sizeof names[0], args, &count);
    args[count] = NULL;
    say_owned(visit->response, 200, "application/json", ask(visit, "log", args));
}

/* What a GET shows is a draft: looking takes no number (RFC 9110 section 9.2.1, safe methods). */
static void say_handover(const struct visit *visit, bool draft)
{
    static const char *const names[] = {"form", "lang", "after"};
    const char *args[3 + 2 * sizeof names / sizeof names[0]], *episode = query(visit, "episode");
    size_t count = 0;
    if (episode != NULL) {
        args[count++] = episode;
    }
    add_named(visit, names, sizeof names / sizeof names[0], args, &count);
    if (draft) {
        args[count++] = "draft";
    }
    args[count] = NULL;
    say_owned(visit->response, 200, "application/json", ask(visit, "handover", args));
}

static void get_handover(const struct visit *visit)
{
    say_handover(visit, true);
}

static void post_handover(const struct visit *visit)
{
    say_handover(visit, false);
}

static const struct drawing {
    const char *word, *type, *suffix;
} drawings[] = {{"pdf", "application/pdf", "pdf"},
                {"png", "image/png", "png"},
                {"screen", "image/png", "png"}};

static const struct drawing *find_drawing(const char *word)
{
    for (size_t i = 0; word != NULL && i < sizeof drawings / sizeof drawings[0]; i++) {
        if (strcmp(drawings[i].word, word) == 0) {
            return &drawings[i];
        }
    }
    return NULL;
}

/* "EXERCISE-7-1-sheet3-K7QP.pdf": number and check. */
static void name_file(struct rp_web_response *response, const char *episode, const json_t *data,
                      const char *suffix)
{
    char name[16];
    size_t len = 0;
    for (; episode[len] != '\0' && len + 1 < sizeof name; len++) {
        bool plain = strchr("0123456789-", episode[len]) != NULL;
        name[len] = plain ? episode[len] : '_';
    }
    name[len] = '\0';
    const char *check = json_string_value(json_object_get(data, "check"));
    snprintf(response->file, sizeof response->file, "%s%s-sheet%lld-%.4s.%s",
             json_is_true(json_object_get(data, "exercise")) ? "EXERCISE-" : "", name,
             (long long)json_integer_value(json_object_get(data, "sheet")),
             check != NULL ? check : "", suffix);
}

/* A sheet as a page or as codes, with a number of its own: its rows are asked for here, and drawn
 * by another program. */
static void post_drawn(const struct visit *visit)
{
    const char *episode = query(visit, "episode"), *lang = query(visit, "lang");
    const struct drawing *drawing = find_drawing(query(visit, "form"));
    const char *const args[] = {episode, "form", "rows", "lang", lang != NULL ? lang : "en", NULL};
    if (drawing == NULL || episode == NULL) {
        rp_web_response_say(visit->response, 400,
                            "a drawn sheet needs an episode and a form, pdf, png or screen "
                            "(example: POST /drawn?episode=7-1&form=pdf)\n");
        return;
    }
    char *line = ask(visit, "handover", args);
    json_t *reply = line != NULL ? json_loads(line, 0, NULL) : NULL;
    free(line);
    const char *rows = json_string_value(json_object_get(reply, "text"));
    const char *problem =
        json_string_value(json_object_get(json_object_get(reply, "error"), "text"));
    if (json_is_true(json_object_get(reply, "ok")) && rows != NULL) {
        say_owned(visit->response, 200, drawing->type, strdup(rows));
        visit->response->drawn_as = visit->response->status == 200 ? drawing->word : NULL;
        name_file(visit->response, episode, json_object_get(reply, "data"), drawing->suffix);
    } else {
        say_owned(visit->response, 404, "text/plain; charset=utf-8",
                  problem != NULL ? strdup(problem) : NULL);
    }
    json_decref(reply);
}

static void get_me(const struct visit *visit)
{
    say_role(visit->response, visit->role);
}

static void get_events(const struct visit *visit)
{
    visit->response->status = 200;
    visit->response->type = "text/event-stream";
    visit->response->stream = true;
}

static void post_entry(const struct visit *visit)
{
    struct rp_view body = visit->request->body;
    json_error_t error;
    json_t *root = json_loadb((const char *)body.bytes, body.len, JSON_REJECT_DUPLICATES, &error);
    const char *command = json_string_value(json_object_get(root, "command"));
    char text[160];
    if (command == NULL) {
        snprintf(text, sizeof text,
                 "the request names no command: %.60s (example: {\"command\":"
                 "\"obs\",\"args\":[\"7-1\",\"spo2\",\"71\"]})",
                 root == NULL ? error.text : "no \"command\" in it");
        say_problem(visit->response, 400, "RP_E_FORMAT", "command", text);
    } else if (!rp_web_may(visit->role, command)) {
        snprintf(text, sizeof text,
                 "this device is paired as %s and may not send \"%.24s\" "
                 "(example: ridgepost pair base)",
                 rp_web_role_word(visit->role), command);
        say_problem(visit->response, 403, "RP_E_PERMISSION", "command", text);
    } else {
        say_owned(visit->response, 200, "application/json",
                  visit->site->act(visit->site->ctx, body));
    }
    json_decref(root);
}

/* --- routes --- */

struct route {
    const char *method, *path; /* a path that ends in "/" stands for all that begin with it */
    enum rp_web_role least;
    bool page; /* without a session: to the pairing page, not an error */
    void (*answer)(const struct visit *visit);
};

static const struct route routes[] = {
    {"GET", "/", RP_WEB_NOBODY, true, get_root},
    {"GET", "/pair", RP_WEB_NOBODY, true, get_pair},
    {"POST", "/pair", RP_WEB_NOBODY, false, post_pair},
    {"GET", "/file/", RP_WEB_NOBODY, false, get_file},
    {"GET", "/bedside", RP_WEB_BEDSIDE, true, get_bedside},
    {"GET", "/base", RP_WEB_READER, true, get_base},
    {"GET", "/me", RP_WEB_READER, false, get_me},
    {"GET", "/view", RP_WEB_READER, false, get_view},
    {"GET", "/log", RP_WEB_READER, false, get_log},
    {"GET", "/handover", RP_WEB_READER, false, get_handover},
    {"POST", "/handover", RP_WEB_READER, false, post_handover},
    {"POST", "/drawn", RP_WEB_READER, false, post_drawn},
    {"GET", "/events", RP_WEB_READER, false, get_events},
    {"POST", "/entry", RP_WEB_BEDSIDE, false, post_entry},
};
#define ROUTE_COUNT (sizeof routes / sizeof routes[0])

static bool path_matches(const struct route *route, const char *path)
{
    size_t len = strlen(route->path);
    if (len > 1 && route->path[len - 1] == '/') {
        return strncmp(path, route->path, len) == 0;
    }
    return strcmp(path, route->path) == 0;
}

static const struct route *find_route(const struct rp_web_request *request, bool *out_path_known)
{
    /* HEAD is GET without the body, which the server leaves away (RFC 9110 section 9.3.2). */
    const char *method = strcmp(request->method, "HEAD") == 0 ? "GET" : request->method;
    *out_path_known = false;
    for (size_t i = 0; i < ROUTE_COUNT; i++) {
        if (path_matches(&routes[i], request->path)) {
            *out_path_known = true;
            if (strcmp(method, routes[i].method) == 0) {
                return &routes[i];
            }
        }
    }
    return NULL;
}

/* A POST must come from our own page: its Origin is ours, it carries the header that a foreign
 * page cannot send without asking first (Fetch standard, CORS-safelisted headers), and JSON. */
static bool check_post(const struct visit *visit)
{
    const struct rp_web_request *request = visit->request;
    if (request->body.len > RP_WEB_BODY_LEN_MAX) {
        say_problem(visit->response, 413, "RP_E_TOO_LONG", "body",
                    "the request is longer than 16384 bytes (example: split the note in two)");
        return false;
    }
    if (!origin_is_ours(request) || request->guard == NULL) {
        say_problem(visit->response, 403, "RP_E_PERMISSION", "origin",
                    "the request does not come from this station's own page");
        return false;
    }
    if (request->content_type == NULL ||
        strncmp(request->content_type, "application/json", 16) != 0) {
        say_problem(visit->response, 415, "RP_E_FORMAT", "content-type",
                    "the request is not JSON (example: Content-Type: application/json)");
        return false;
    }
    return true;
}

static void answer_route(struct visit *visit, const struct route *route)
{
    if (visit->role < route->least) {
        if (route->page) {
            redirect(visit->response, visit->role == RP_WEB_NOBODY ? "/pair" : "/base");
        } else {
            say_problem(visit->response, visit->role == RP_WEB_NOBODY ? 401 : 403,
                        "RP_E_PERMISSION", "session",
                        visit->role == RP_WEB_NOBODY
                            ? "this device is not paired (example: ridgepost pair bedside)"
                            : "this device may look and not enter (example: ridgepost pair "
                              "bedside)");
        }
        return;
    }
    if (strcmp(route->method, "POST") == 0 && !check_post(visit)) {
        return;
    }
    route->answer(visit);
}

void rp_web_site_answer(struct rp_web_site *site, const struct rp_web_request *request,
                        struct rp_web_response *out_response)
{
    struct visit visit = {site, request, out_response, RP_WEB_NOBODY};
    *out_response = (struct rp_web_response){.status = 500};
    if (!host_is_ours(site, request->host)) {
        rp_web_response_say(out_response, 421,
                            "this station answers to its address only "
                            "(example: http://192.168.4.1:8080/)\n");
        return;
    }
    const struct rp_web_session *session = rp_web_session_find(
        &site->sessions, cookie_token(request->cookie), site->unix_s(site->ctx));
    visit.role = session != NULL ? session->role : RP_WEB_NOBODY;
    out_response->session = session != NULL ? session->number : 0;
    bool path_known;
    const struct route *route = find_route(request, &path_known);
    if (route != NULL) {
        answer_route(&visit, route);
    } else if (path_known) {
        rp_web_response_say(out_response, 405, "this address does not take that method\n");
    } else {
        rp_web_response_say(out_response, 404, "there is no such page\n");
    }
}

void rp_web_response_free(struct rp_web_response *response)
{
    free(response->owned);
    response->owned = NULL;
    response->body = (struct rp_view){NULL, 0};
}
