/* Pairing codes and sessions. The bounds are the header's own; SHA-256 of a token of 32 zero bytes
 * is the published digest (FIPS 180-4 algorithm, value computed with sha256sum). */
#include "rp_test.h"

#include <string.h>

#include "ridgepost/error.h"
#include "web/session.h"

#define NOW_S 1795600000

static const uint8_t token_zero[RP_WEB_TOKEN_LEN];

static struct rp_view random_of(const uint8_t bytes[8])
{
    return (struct rp_view){bytes, 8};
}

static void make_code(struct rp_web_sessions *sessions, enum rp_web_role role)
{
    static const uint8_t bytes[8] = {0, 0, 0, 0, 0, 6, 0x25, 0xE1}; /* 402913 */
    rp_web_code_make(sessions, role, NOW_S, random_of(bytes));
}

static struct rp_view text_view(const char *text)
{
    return (struct rp_view){(const uint8_t *)text, strlen(text)};
}

static void code_is_six_digits(void **state)
{
    (void)state;
    struct rp_web_sessions sessions = {0};
    make_code(&sessions, RP_WEB_BEDSIDE);
    assert_string_equal(sessions.code.digits, "402913");
    static const uint8_t small[8] = {0, 0, 0, 0, 0, 0, 0, 7};
    rp_web_code_make(&sessions, RP_WEB_READER, NOW_S, random_of(small));
    assert_string_equal(sessions.code.digits, "000007");
}

static void right_code_gives_a_session_once(void **state)
{
    (void)state;
    struct rp_web_sessions sessions = {0};
    const struct rp_web_session *session = NULL;
    struct rp_problem problem = {0};
    make_code(&sessions, RP_WEB_BASE_DESK);
    assert_int_equal(rp_web_pair(&sessions, "402913", "Pelle's laptop", NOW_S + 5, token_zero,
                                 &session, &problem),
                     RP_OK);
    assert_int_equal(session->role, RP_WEB_BASE_DESK);
    assert_int_equal(session->number, 1);
    assert_string_equal(session->device, "Pelle's laptop");
    assert_true(sessions.changed);
    char hash[65];
    rp_web_hex(session->token_hash, 32, hash);
    assert_string_equal(hash, "66687aadf862bd776c8fc18b8e9f8e20089714856ee233b3902a591d0d5f2925");
    assert_int_equal(
        rp_web_pair(&sessions, "402913", "", NOW_S + 6, token_zero, &session, &problem),
        RP_E_NOT_FOUND);
    const char *zeros = "0000000000000000000000000000000000000000000000000000000000000000";
    assert_ptr_equal(rp_web_session_find(&sessions, text_view(zeros), NOW_S), session);
    assert_null(rp_web_session_find(&sessions, text_view(zeros + 1), NOW_S));
    assert_null(rp_web_session_find(&sessions, text_view(""), NOW_S));
    const char *other = "0000000000000000000000000000000000000000000000000000000000000001";
    assert_null(rp_web_session_find(&sessions, text_view(other), NOW_S));
}

static void five_wrong_codes_kill_it(void **state)
{
    (void)state;
    struct rp_web_sessions sessions = {0};
    const struct rp_web_session *session = NULL;
    struct rp_problem problem = {0};
    make_code(&sessions, RP_WEB_BEDSIDE);
    for (int i = 0; i < 4; i++) {
        assert_int_equal(
            rp_web_pair(&sessions, "402912", "", NOW_S, token_zero, &session, &problem),
            RP_E_INVALID);
    }
    assert_int_equal(rp_web_pair(&sessions, "40291", "", NOW_S, token_zero, &session, &problem),
                     RP_E_PERMISSION);
    assert_int_equal(rp_web_pair(&sessions, "402913", "", NOW_S, token_zero, &session, &problem),
                     RP_E_NOT_FOUND);
    assert_null(session);
}

static void code_runs_out(void **state)
{
    (void)state;
    struct rp_problem problem = {0};
    static const struct {
        int64_t at_s;
        int code;
    } rows[] = {
        {NOW_S + 599, RP_OK},
        {NOW_S + 600, RP_E_NOT_FOUND},
        {NOW_S - 1, RP_E_NOT_FOUND}, /* the clock was set back: it cannot be told, so it is dead */
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rp_web_sessions sessions = {0};
        const struct rp_web_session *session = NULL;
        make_code(&sessions, RP_WEB_BEDSIDE);
        assert_int_equal(
            rp_web_pair(&sessions, "402913", "", rows[i].at_s, token_zero, &session, &problem),
            rows[i].code);
    }
}

static void pair_one(struct rp_web_sessions *sessions, uint8_t first_byte, int64_t now_s)
{
    uint8_t token[RP_WEB_TOKEN_LEN] = {first_byte};
    static const uint8_t bytes[8] = {0, 0, 0, 0, 0, 6, 0x25, 0xE1};
    const struct rp_web_session *session;
    rp_web_code_make(sessions, RP_WEB_READER, now_s, random_of(bytes));
    assert_int_equal(rp_web_pair(sessions, "402913", "", now_s, token, &session, NULL), RP_OK);
}

static void oldest_gives_way_when_full(void **state)
{
    (void)state;
    struct rp_web_sessions sessions = {0};
    for (int i = 0; i < RP_WEB_SESSIONS_MAX; i++) {
        pair_one(&sessions, (uint8_t)i, NOW_S + (i == 9 ? -1 : i));
    }
    pair_one(&sessions, 200, NOW_S + 100);
    int found_tenth = 0;
    for (int i = 0; i < RP_WEB_SESSIONS_MAX; i++) {
        found_tenth += sessions.at[i].number == 10;
    }
    assert_int_equal(found_tenth, 0);
    assert_int_equal(sessions.at[9].number, 33);
}

static void sessions_survive_the_file(void **state)
{
    (void)state;
    struct rp_web_sessions sessions = {0}, again = {0};
    char text[RP_WEB_SESSIONS_TEXT_MAX];
    pair_one(&sessions, 1, NOW_S);
    pair_one(&sessions, 2, NOW_S + 1);
    struct rp_text out = rp_text_on(text, sizeof text);
    rp_web_sessions_write(&sessions, &out);
    assert_false(out.cut);
    rp_web_sessions_read(&again, text_view(text));
    assert_memory_equal(again.at, sessions.at, sizeof sessions.at);
    assert_int_equal(rp_web_session_end(&again, 2), RP_OK);
    assert_int_equal(rp_web_session_end(&again, 2), RP_E_NOT_FOUND);
}

static void full_table_fits_its_text(void **state)
{
    (void)state;
    struct rp_web_sessions sessions = {0};
    char text[RP_WEB_SESSIONS_TEXT_MAX];
    for (int i = 0; i < RP_WEB_SESSIONS_MAX; i++) {
        pair_one(&sessions, (uint8_t)i, INT64_MAX / 1024);
        memset(sessions.at[i].device, 'W', RP_WEB_DEVICE_LEN);
    }
    struct rp_text out = rp_text_on(text, sizeof text);
    rp_web_sessions_write(&sessions, &out);
    assert_false(out.cut);
}

static void damaged_lines_are_left_out(void **state)
{
    (void)state;
    struct rp_web_sessions sessions = {0};
    static const char text[] =
        "1 bedside 66687aadf862bd776c8fc18b8e9f8e20089714856ee233b3902a591d0d5f2925 1 1 a\n"
        "1 bedside 66687aadf862bd776c8fc18b8e9f8e20089714856ee233b3902a591d0d5f2925 1 1 twice\n"
        "2 chief 66687aadf862bd776c8fc18b8e9f8e20089714856ee233b3902a591d0d5f2925 1 1 b\n"
        "3 base 6668 1 1 c\n"
        "0 base 66687aadf862bd776c8fc18b8e9f8e20089714856ee233b3902a591d0d5f2925 1 1 d\n"
        "rubbish\n"
        "4 base 66687aadf862bd776c8fc18b8e9f8e20089714856ee233b3902a591d0d5f2925 1 1 \x1b[2J";
    rp_web_sessions_read(&sessions, text_view(text));
    assert_int_equal(sessions.at[0].number, 1);
    assert_string_equal(sessions.at[0].device, "a");
    assert_int_equal(sessions.at[1].number, 4);
    assert_string_equal(sessions.at[1].device, "?[2J");
    assert_int_equal(sessions.at[2].role, RP_WEB_NOBODY);
}

static void words_of_roles(void **state)
{
    (void)state;
    assert_int_equal(rp_web_role_find("bedside"), RP_WEB_BEDSIDE);
    assert_int_equal(rp_web_role_find("base"), RP_WEB_BASE_DESK);
    assert_int_equal(rp_web_role_find("reader"), RP_WEB_READER);
    assert_int_equal(rp_web_role_find(""), RP_WEB_NOBODY);
    assert_int_equal(rp_web_role_find("root"), RP_WEB_NOBODY);
    assert_string_equal(rp_web_role_word(RP_WEB_BASE_DESK), "base");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(code_is_six_digits),
        cmocka_unit_test(right_code_gives_a_session_once),
        cmocka_unit_test(five_wrong_codes_kill_it),
        cmocka_unit_test(code_runs_out),
        cmocka_unit_test(oldest_gives_way_when_full),
        cmocka_unit_test(sessions_survive_the_file),
        cmocka_unit_test(full_table_fits_its_text),
        cmocka_unit_test(damaged_lines_are_left_out),
        cmocka_unit_test(words_of_roles),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
