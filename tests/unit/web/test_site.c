/* What the site answers to whom. Status codes: RFC 9110 section 15. */
#include "rp_test.h"

#include <stdlib.h>
#include <string.h>

#include "ridgepost/error.h"
#include "web/site.h"

#define HOST "192.168.4.1:8080"

struct fake {
    char line[RP_WEB_BODY_LEN_MAX + 1]; /* the last control request */
    int calls;
    bool no_memory;
    const char *reply; /* NULL: a plain "ok" */
};

static char *act(void *ctx, struct rp_view line)
{
    struct fake *fake = ctx;
    fake->calls++;
    memcpy(fake->line, line.bytes, line.len);
    fake->line[line.len] = '\0';
    const char *reply = fake->reply != NULL ? fake->reply : "{\"v\":1,\"ok\":true}";
    return fake->no_memory ? NULL : strdup(reply);
}

static int64_t unix_s(void *ctx)
{
    (void)ctx;
    return 1795600000;
}

static int random_bytes(void *ctx, void *buf, size_t len)
{
    (void)ctx;
    memset(buf, 0x5a, len);
    return 0;
}

struct bench {
    struct fake fake;
    struct rp_web_site site;
    struct rp_web_response response;
    char cookie[160];
};

static void setup(struct bench *bench, enum rp_web_role role)
{
    memset(bench, 0, sizeof *bench);
    bench->site = (struct rp_web_site){.name = "ridge-camp.local",
                                       .ctx = &bench->fake,
                                       .act = act,
                                       .unix_s = unix_s,
                                       .random = random_bytes};
    if (role == RP_WEB_NOBODY) {
        return;
    }
    uint8_t token[RP_WEB_TOKEN_LEN] = {7};
    static const uint8_t zeros[8];
    const struct rp_web_session *session;
    char hex[RP_WEB_TOKEN_TEXT_LEN + 1];
    rp_web_code_make(&bench->site.sessions, role, 1795600000,
                     (struct rp_view){zeros, sizeof zeros});
    assert_int_equal(
        rp_web_pair(&bench->site.sessions, "000000", "", 1795600000, token, &session, NULL), RP_OK);
    rp_web_hex(token, sizeof token, hex);
    strcpy(bench->cookie, "theme=night; ridgepost=");
    strcat(bench->cookie, hex);
}

static struct rp_web_request get(const struct bench *bench, const char *path)
{
    return (struct rp_web_request){
        .method = "GET", .path = path, .host = HOST, .cookie = bench->cookie};
}

static struct rp_web_request post(const struct bench *bench, const char *path, const char *body)
{
    struct rp_web_request request = get(bench, path);
    request.method = "POST";
    request.origin = "http://" HOST;
    request.guard = "1";
    request.content_type = "application/json";
    request.body = (struct rp_view){(const uint8_t *)body, strlen(body)};
    return request;
}

static unsigned answer(struct bench *bench, const struct rp_web_request *request)
{
    rp_web_response_free(&bench->response);
    rp_web_site_answer(&bench->site, request, &bench->response);
    return bench->response.status;
}

static void teardown(struct bench *bench)
{
    rp_web_response_free(&bench->response);
}

static unsigned status_of(enum rp_web_role role, const char *method, const char *path)
{
    struct bench bench;
    setup(&bench, role);
    struct rp_web_request request = post(&bench, path, "{\"command\":\"note\"}");
    request.method = method;
    unsigned status = answer(&bench, &request);
    teardown(&bench);
    return status;
}

static void every_route_for_every_role(void **state)
{
    (void)state;
    static const struct {
        const char *method, *path;
        unsigned nobody, reader, bedside, base;
    } rows[] = {
        {"GET", "/", 303, 303, 303, 303},
        {"GET", "/pair", 200, 200, 200, 200},
        {"GET", "/file/common.css", 200, 200, 200, 200},
        {"GET", "/file/none.css", 404, 404, 404, 404},
        {"GET", "/file/../site.c", 404, 404, 404, 404},
        {"GET", "/file/", 404, 404, 404, 404},
        {"GET", "/bedside", 303, 303, 200, 200},
        {"GET", "/base", 303, 200, 200, 200},
        {"GET", "/me", 401, 200, 200, 200},
        {"GET", "/view", 401, 200, 200, 200},
        {"GET", "/log", 401, 200, 200, 200},
        {"GET", "/handover", 401, 200, 200, 200},
        {"POST", "/handover", 401, 200, 200, 200},
        {"POST", "/drawn", 401, 400, 400, 400}, /* of no episode */
        {"GET", "/drawn", 405, 405, 405, 405},
        {"HEAD", "/drawn", 405, 405, 405, 405},
        {"GET", "/events", 401, 200, 200, 200},
        {"HEAD", "/base", 303, 200, 200, 200},
        {"POST", "/entry", 401, 403, 200, 200},
        {"GET", "/entry", 405, 405, 405, 405},
        {"DELETE", "/view", 405, 405, 405, 405},
        {"GET", "/etc/passwd", 404, 404, 404, 404},
        {"GET", "/base/", 404, 404, 404, 404},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const unsigned wanted[] = {rows[i].nobody, rows[i].reader, rows[i].bedside, rows[i].base};
        for (int role = RP_WEB_NOBODY; role <= RP_WEB_BASE_DESK; role++) {
            assert_int_equal(status_of((enum rp_web_role)role, rows[i].method, rows[i].path),
                             wanted[role]);
        }
    }
}

static void post_must_come_from_our_page(void **state)
{
    (void)state;
    struct bench bench;
    setup(&bench, RP_WEB_BEDSIDE);
    static const char *const origins[] = {NULL,
                                          "null",
                                          "http://192.168.4.1",
                                          "http://evil.example",
                                          "https://" HOST,
                                          "http://" HOST ".evil.example"};
    for (size_t i = 0; i < sizeof origins / sizeof origins[0]; i++) {
        struct rp_web_request request = post(&bench, "/entry", "{\"command\":\"note\"}");
        request.origin = origins[i];
        assert_int_equal(answer(&bench, &request), 403);
    }
    struct rp_web_request request = post(&bench, "/entry", "{\"command\":\"note\"}");
    request.guard = NULL;
    assert_int_equal(answer(&bench, &request), 403);
    request = post(&bench, "/entry", "{\"command\":\"note\"}");
    request.content_type = "text/plain";
    assert_int_equal(answer(&bench, &request), 415);
    request.content_type = NULL;
    assert_int_equal(answer(&bench, &request), 415);
    assert_int_equal(bench.fake.calls, 0);
    teardown(&bench);
}

static void foreign_names_are_refused(void **state)
{
    (void)state;
    struct bench bench;
    setup(&bench, RP_WEB_BEDSIDE);
    static const struct {
        const char *host;
        unsigned status;
    } rows[] = {{NULL, 421},
                {"evil.example", 421},
                {"localhost:8080", 200},
                {"127.0.0.1", 200},
                {"[::1]:8080", 200},
                {"ridge-camp.local:80", 200},
                {"[::1].evil.example", 421},
                {"1.2.3.4.evil.example", 421},
                {"", 421},
                {":8080", 421}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rp_web_request request = get(&bench, "/me");
        request.host = rows[i].host;
        assert_int_equal(answer(&bench, &request), rows[i].status);
    }
    teardown(&bench);
}

static void entry_passes_the_request_on_as_it_is(void **state)
{
    (void)state;
    struct bench bench;
    setup(&bench, RP_WEB_BEDSIDE);
    static const char body[] = "{\"command\":\"obs\",\"args\":[\"7-1\",\"spo2\",\"71\"],"
                               "\"key\":\"abcdefgh\"}";
    struct rp_web_request request = post(&bench, "/entry", body);
    assert_int_equal(answer(&bench, &request), 200);
    assert_string_equal(bench.fake.line, body);
    bench.fake.no_memory = true;
    assert_int_equal(answer(&bench, &request), 503);
    teardown(&bench);
}

static void roles_and_commands(void **state)
{
    (void)state;
    struct bench bench;
    setup(&bench, RP_WEB_BEDSIDE);
    static const char *const refused[] = {"{\"command\":\"answer\"}", "{\"command\":\"pair\"}",
                                          "{\"command\":\"\"}", "{\"command\":\"no such\"}"};
    for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
        struct rp_web_request request = post(&bench, "/entry", refused[i]);
        assert_int_equal(answer(&bench, &request), 403);
    }
    static const char *const malformed[] = {"", "{", "[]", "{\"command\":7}",
                                            "{\"command\":\"note\",\"command\":\"answer\"}"};
    for (size_t i = 0; i < sizeof malformed / sizeof malformed[0]; i++) {
        struct rp_web_request request = post(&bench, "/entry", malformed[i]);
        assert_int_equal(answer(&bench, &request), 400);
    }
    assert_int_equal(bench.fake.calls, 0);
    teardown(&bench);
    assert_true(rp_web_may(RP_WEB_BASE_DESK, "answer"));
    assert_true(rp_web_may(RP_WEB_BEDSIDE, "stroke"));
    assert_false(rp_web_may(RP_WEB_READER, "stroke"));
    assert_false(rp_web_may(RP_WEB_READER, "note"));
    assert_false(rp_web_may(RP_WEB_BASE_DESK, "pair"));
}

static void long_bodies_are_refused(void **state)
{
    (void)state;
    struct bench bench;
    static uint8_t body[RP_WEB_BODY_LEN_MAX + 1];
    setup(&bench, RP_WEB_BEDSIDE);
    memset(body, ' ', sizeof body);
    memcpy(body, "{\"command\":\"note\"}", 18);
    struct rp_web_request request = post(&bench, "/entry", "");
    request.body = (struct rp_view){body, RP_WEB_BODY_LEN_MAX};
    assert_int_equal(answer(&bench, &request), 200);
    request.body = (struct rp_view){body, RP_WEB_BODY_LEN_MAX + 1};
    assert_int_equal(answer(&bench, &request), 413);
    assert_int_equal(bench.fake.calls, 1);
    teardown(&bench);
}

static const char *one_episode(const void *ctx, const char *name)
{
    return strcmp(name, "episode") == 0 ? ctx : NULL;
}

static void views_ask_the_control_protocol(void **state)
{
    (void)state;
    struct bench bench;
    setup(&bench, RP_WEB_READER);
    struct rp_web_request request = get(&bench, "/view");
    assert_int_equal(answer(&bench, &request), 200);
    assert_string_equal(bench.fake.line, "{\"command\":\"view\",\"args\":[]}");
    request.query = one_episode;
    request.query_ctx = "7-1\"x";
    assert_int_equal(answer(&bench, &request), 200);
    assert_string_equal(bench.fake.line, "{\"command\":\"view\",\"args\":[\"7-1\\\"x\"]}");
    teardown(&bench);
}

static const char *a_part(const void *ctx, const char *name)
{
    return strcmp(name, "newest") == 0 ? "300" : strcmp(name, "skip") == 0 ? "600" : ctx;
}

static void a_long_log_is_asked_for_in_parts(void **state)
{
    (void)state;
    struct bench bench;
    setup(&bench, RP_WEB_READER);
    struct rp_web_request request = get(&bench, "/log");
    request.query = a_part;
    assert_int_equal(answer(&bench, &request), 200);
    assert_string_equal(bench.fake.line,
                        "{\"command\":\"log\",\"args\":[\"newest\",\"300\",\"skip\",\"600\"]}");
    request.query_ctx = "7-1";
    assert_int_equal(answer(&bench, &request), 200);
    assert_string_equal(bench.fake.line,
                        "{\"command\":\"log\",\"args\":[\"7-1\",\"newest\",\"300\","
                        "\"skip\",\"600\"]}");
    teardown(&bench);
}

static const char *a_french_script(const void *ctx, const char *name)
{
    return strcmp(name, "form") == 0   ? "spoken"
           : strcmp(name, "lang") == 0 ? "fr"
                                       : one_episode(ctx, name);
}

static void a_handover_is_asked_for_by_form_and_language(void **state)
{
    (void)state;
    struct bench bench;
    setup(&bench, RP_WEB_READER);
    struct rp_web_request request = post(&bench, "/handover", "{}");
    request.query = one_episode;
    request.query_ctx = "7-1";
    assert_int_equal(answer(&bench, &request), 200);
    assert_string_equal(bench.fake.line, "{\"command\":\"handover\",\"args\":[\"7-1\"]}");
    request.query = a_french_script;
    assert_int_equal(answer(&bench, &request), 200);
    assert_string_equal(bench.fake.line, "{\"command\":\"handover\",\"args\":[\"7-1\",\"form\","
                                         "\"spoken\",\"lang\",\"fr\"]}");
    request.query_ctx = NULL; /* the only episode */
    assert_int_equal(answer(&bench, &request), 200);
    assert_string_equal(bench.fake.line, "{\"command\":\"handover\",\"args\":[\"form\","
                                         "\"spoken\",\"lang\",\"fr\"]}");
    teardown(&bench);
}

/* Safe methods change nothing (RFC 9110 section 9.2.1): no sheet number is taken. */
static void a_handover_that_is_looked_at_is_a_draft(void **state)
{
    (void)state;
    struct bench bench;
    setup(&bench, RP_WEB_READER);
    struct rp_web_request request = get(&bench, "/handover");
    request.query = one_episode;
    request.query_ctx = "7-1";
    static const char *const safe[] = {"GET", "HEAD"};
    for (size_t i = 0; i < sizeof safe / sizeof safe[0]; i++) {
        request.method = safe[i];
        bench.fake.line[0] = '\0';
        assert_int_equal(answer(&bench, &request), 200);
        assert_string_equal(bench.fake.line,
                            "{\"command\":\"handover\",\"args\":[\"7-1\",\"draft\"]}");
    }
    teardown(&bench);
}

static const char *a_french_page(const void *ctx, const char *name)
{
    return strcmp(name, "form") == 0   ? "pdf"
           : strcmp(name, "lang") == 0 ? "fr"
                                       : one_episode(ctx, name);
}

/* The rows go to the server, to be drawn; the file is named by the number they got. */
static void a_drawn_sheet_is_made_of_its_rows(void **state)
{
    (void)state;
    struct bench bench;
    setup(&bench, RP_WEB_READER);
    bench.fake.reply = "{\"v\":1,\"ok\":true,\"text\":\"{rows}\",\"data\":{\"sheet\":12,"
                       "\"check\":\"K7QP\",\"exercise\":true}}";
    struct rp_web_request request = post(&bench, "/drawn", "{}");
    request.query = a_french_page;
    request.query_ctx = "7-1";
    assert_int_equal(answer(&bench, &request), 200);
    assert_string_equal(bench.fake.line, "{\"command\":\"handover\",\"args\":[\"7-1\",\"form\","
                                         "\"rows\",\"lang\",\"fr\"]}");
    assert_string_equal(bench.response.drawn_as, "pdf");
    assert_string_equal(bench.response.type, "application/pdf");
    assert_string_equal(bench.response.file, "EXERCISE-7-1-sheet12-K7QP.pdf");
    assert_int_equal(bench.response.body.len, 6);
    assert_memory_equal(bench.response.body.bytes, "{rows}", 6);
    assert_int_equal(bench.response.session, 1);
    request.query_ctx = "7\"\r\n-1; and a long tail"; /* nothing of it gets into a header */
    assert_int_equal(answer(&bench, &request), 200);
    assert_string_equal(bench.response.file, "EXERCISE-7___-1_________-sheet12-K7QP.pdf");
    bench.fake.reply = "{\"v\":1,\"ok\":false,\"error\":{\"text\":\"no such\"}}";
    assert_int_equal(answer(&bench, &request), 404);
    assert_null(bench.response.drawn_as);
    assert_string_equal(bench.response.file, "");
    assert_int_equal(bench.response.body.len, 7);
    bench.fake.no_memory = true;
    assert_int_equal(answer(&bench, &request), 503);
    teardown(&bench);
}

static void pairing_over_the_site(void **state)
{
    (void)state;
    struct bench bench;
    setup(&bench, RP_WEB_NOBODY);
    static const uint8_t zeros[8];
    struct rp_web_request request = post(&bench, "/pair", "{\"code\":\"000000\"}");
    assert_int_equal(answer(&bench, &request), 403); /* none waits */
    rp_web_code_make(&bench.site.sessions, RP_WEB_BEDSIDE, 1795600000,
                     (struct rp_view){zeros, sizeof zeros});
    request = post(&bench, "/pair", "{\"device\":\"x\"}");
    assert_int_equal(answer(&bench, &request), 403);
    request = post(&bench, "/pair", "{\"code\":\"000000\"}");
    assert_int_equal(answer(&bench, &request), 200);
    assert_non_null(strstr(bench.response.cookie, "HttpOnly; SameSite=Strict"));
    memcpy(bench.cookie, bench.response.cookie, 74);
    bench.cookie[74] = '\0';
    request = get(&bench, "/me");
    assert_int_equal(answer(&bench, &request), 200);
    assert_non_null(strstr((const char *)bench.response.body.bytes, "\"role\":\"bedside\""));
    teardown(&bench);
}

static void files_are_kept_by_their_tag(void **state)
{
    (void)state;
    struct bench bench;
    char etag[32];
    setup(&bench, RP_WEB_NOBODY);
    struct rp_web_request request = get(&bench, "/file/common.css");
    assert_int_equal(answer(&bench, &request), 200);
    assert_true(bench.response.keeps);
    strcpy(etag, bench.response.etag);
    request.if_none_match = etag;
    assert_int_equal(answer(&bench, &request), 304);
    assert_int_equal(bench.response.body.len, 0);
    teardown(&bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_route_for_every_role),
        cmocka_unit_test(post_must_come_from_our_page),
        cmocka_unit_test(foreign_names_are_refused),
        cmocka_unit_test(entry_passes_the_request_on_as_it_is),
        cmocka_unit_test(roles_and_commands),
        cmocka_unit_test(long_bodies_are_refused),
        cmocka_unit_test(views_ask_the_control_protocol),
        cmocka_unit_test(a_long_log_is_asked_for_in_parts),
        cmocka_unit_test(a_handover_is_asked_for_by_form_and_language),
        cmocka_unit_test(a_handover_that_is_looked_at_is_a_draft),
        cmocka_unit_test(a_drawn_sheet_is_made_of_its_rows),
        cmocka_unit_test(pairing_over_the_site),
        cmocka_unit_test(files_are_kept_by_their_tag),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
