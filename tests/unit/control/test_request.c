/* The request's own form. */
#include "rp_test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ctl.h"

static void refused(struct ctl *ctl, const char *bytes, const char *code, const char *field,
                    const char *text)
{
    ctl_send_raw(ctl, (struct rp_view){(const uint8_t *)bytes, strlen(bytes)});
    assert_true(json_is_false(json_object_get(ctl->reply, "ok")));
    assert_string_equal(ctl_error(ctl, "code"), code);
    assert_string_equal(ctl_error(ctl, "field"), field);
    assert_string_equal(ctl_error(ctl, "text"), text);
}

static void requests_of_a_wrong_form_are_refused(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    refused(&ctl, "[1]", "RP_E_FORMAT", "request",
            "the request is not a JSON object: another type (example: {\"command\":\"board\"})");
    refused(&ctl, "7", "RP_E_FORMAT", "request",
            "the request is not a JSON object: '[' or '{' expected near '7' (example: "
            "{\"command\":\"board\"})");
    refused(&ctl, "", "RP_E_FORMAT", "request",
            "the request is not a JSON object: '[' or '{' expected near end of file (example: "
            "{\"command\":\"board\"})");
    refused(&ctl, "{\"command\":\"board\",\"command\":\"log\"}", "RP_E_FORMAT", "request",
            "the request is not a JSON object: duplicate object key near '\"command\"' (example: "
            "{\"command\":\"board\"})");
    refused(&ctl, "{}", "RP_E_FORMAT", "command",
            "the request names no command (example: {\"command\":\"board\"})");
    refused(&ctl, "{\"command\":5}", "RP_E_FORMAT", "command",
            "the request names no command (example: {\"command\":\"board\"})");
    static const char *const versions[] = {"2", "0", "\"1\"", "1.0", "null"};
    for (size_t i = 0; i < sizeof versions / sizeof versions[0]; i++) {
        char line[80];
        snprintf(line, sizeof line, "{\"v\":%s,\"command\":\"board\"}", versions[i]);
        refused(&ctl, line, "RP_E_VERSION", "v",
                "this daemon speaks version 1 of the control protocol (example: \"v\":1)");
    }
    refused(&ctl, "{\"command\":\"note\",\"args\":\"7-1\"}", "RP_E_FORMAT", "args",
            "args is not a list of at most 128 words (example: [\"7-1\",\"better\"])");
    refused(&ctl, "{\"command\":\"note\",\"args\":[\"7-1\",71]}", "RP_E_FORMAT", "args",
            "args: word 2 is not a text (example: \"71\", in quotes)");
    static const char *const options[] = {"by", "via", "ago"};
    for (size_t i = 0; i < 3; i++) {
        char line[80], text[160];
        snprintf(line, sizeof line, "{\"command\":\"note\",\"%s\":5}", options[i]);
        snprintf(text, sizeof text,
                 "%s is not a text (example: \"by\":\"Ines\", \"via\":\"voice\", "
                 "\"ago\":\"20min\")",
                 options[i]);
        refused(&ctl, line, "RP_E_FORMAT", options[i], text);
    }
    refused(&ctl, "{\"command\":\"board\",\"sure\":\"yes\"}", "RP_E_FORMAT", "sure",
            "sure is neither true nor false (example: \"sure\":true)");
    ctl_end(&ctl);
}

static void a_request_holds_at_most_128_words(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient A");
    for (size_t words = 128; words <= 129; words++) {
        char line[1024] = "{\"command\":\"note\",\"args\":[\"7-1\"";
        for (size_t i = 1; i < words; i++) {
            strcat(line, ",\"x\"");
        }
        strcat(line, "]}");
        ctl_send_raw(&ctl, (struct rp_view){(const uint8_t *)line, strlen(line)});
        assert_int_equal(json_is_true(json_object_get(ctl.reply, "ok")), words == 128);
    }
    assert_string_equal(ctl_error(&ctl, "text"),
                        "args is not a list of at most 128 words (example: [\"7-1\",\"better\"])");
    ctl_end(&ctl);
}

static void deep_nesting_and_broken_text_have_a_reply(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    char *deep = malloc(100001);
    assert_non_null(deep);
    memset(deep, '[', 100000);
    deep[100000] = '\0';
    ctl_send_raw(&ctl, (struct rp_view){(const uint8_t *)deep, 100000});
    assert_string_equal(ctl_error(&ctl, "code"), "RP_E_FORMAT");
    free(deep);
    static const char *const broken[] = {"{\"command\":\"note\",\"args\":[\"\xff\xfe\"]}",
                                         "{\"command\":\"\xc3\"}", "\xf8",
                                         "{\"command\":\"a\\u0000b\"}"};
    for (size_t i = 0; i < sizeof broken / sizeof broken[0]; i++) {
        ctl_send_raw(&ctl, (struct rp_view){(const uint8_t *)broken[i], strlen(broken[i])});
        assert_string_equal(ctl_error(&ctl, "code"), "RP_E_FORMAT");
        assert_string_equal(ctl_error(&ctl, "field"), "request");
    }
    ctl_end(&ctl);
}

/* A word is shown up to some byte, which may be inside a character of several bytes. */
static void a_cut_text_is_still_a_text(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient A");
    ctl_refused(&ctl, "obs 7-1 €€€€€€€€€", "RP_E_FORMAT",
                "\"€€€€€€??\" is not known here; words: well/better/same/worse/critical/dead, "
                "spo2, air/oxygen/chamber/chamber+oxygen, pulse, resp, bp ... (example: spo2 71 "
                "air)");
    assert_string_equal(ctl_error(&ctl, "field"), "€€€€€€€€€");
    ctl_send(&ctl, "€€€€€€€€€€");
    assert_string_equal(ctl_error(&ctl, "code"), "RP_E_NOT_FOUND");
    ctl_end(&ctl);
}

static void every_command_has_an_example(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    const char *example = NULL, *word;
    size_t count = 0;
    for (; (word = rp_control_usage(count, &example)) != NULL; count++) {
        assert_int_equal(strncmp(example, word, strlen(word)), 0);
    }
    assert_true(count >= 23);
    ctl_end(&ctl);
}

static void send_keyed(struct ctl *ctl, const char *words, const char *key)
{
    char line[300];
    snprintf(line, sizeof line, "{%s,\"key\":\"%s\"}", words, key);
    ctl_send_raw(ctl, (struct rp_view){(const uint8_t *)line, strlen(line)});
}

static const char *first_record(const struct ctl *ctl)
{
    const json_t *data = json_object_get(ctl->reply, "data");
    assert_true(json_is_true(json_object_get(ctl->reply, "ok")));
    return json_string_value(json_array_get(json_object_get(data, "records"), 0));
}

static bool is_again(const struct ctl *ctl)
{
    return json_is_true(json_object_get(json_object_get(ctl->reply, "data"), "again"));
}

/* Whoever sent an entry and never saw the answer sends it again: one record, whatever happened in
 * between. */
static void keyed_entry_is_recorded_once(void **state)
{
    (void)state;
    static const char words[] = "\"command\":\"obs\",\"args\":[\"spo2\",\"71\",\"air\"]";
    char name[24];
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient A allergies none");
    send_keyed(&ctl, words, "phone-1-0001");
    snprintf(name, sizeof name, "%s", first_record(&ctl));
    assert_false(is_again(&ctl));
    send_keyed(&ctl, words, "phone-1-0001");
    assert_string_equal(first_record(&ctl), name);
    assert_true(is_again(&ctl));
    ctl_restart(&ctl);
    send_keyed(&ctl, words, "phone-1-0001");
    assert_string_equal(first_record(&ctl), name);
    send_keyed(&ctl, words, "phone-1-0002");
    assert_string_not_equal(first_record(&ctl), name);
    assert_false(is_again(&ctl));
    ctl_end(&ctl);
}

/* An opening of two records, then the same again: the same episode, not a second patient. */
static void keyed_opening_opens_once(void **state)
{
    (void)state;
    static const char words[] = "\"command\":\"open\",\"args\":[\"hace\",\"patient\",\"A\","
                                "\"allergies\",\"none\"]";
    struct ctl ctl = ctl_new();
    for (int i = 0; i < 3; i++) {
        send_keyed(&ctl, words, "phone-1-0009");
        const json_t *data = json_object_get(ctl.reply, "data");
        assert_string_equal(json_string_value(json_object_get(data, "episode")), "7-1");
        assert_int_equal(json_array_size(json_object_get(data, "records")), 2);
    }
    ctl_end(&ctl);
}

/* Refused the second time (two episodes are open now, and it names none), but it was recorded the
 * first time: that is what the answer says. */
static void keyed_entry_tells_what_was_recorded(void **state)
{
    (void)state;
    static const char words[] = "\"command\":\"close\",\"args\":[\"recovered\"]";
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient A allergies none");
    send_keyed(&ctl, words, "phone-1-0003");
    char name[24];
    snprintf(name, sizeof name, "%s", first_record(&ctl));
    ctl_ok(&ctl, "open hape patient B allergies none");
    ctl_ok(&ctl, "open hape patient C allergies none");
    send_keyed(&ctl, words, "phone-1-0003");
    assert_string_equal(first_record(&ctl), name);
    assert_true(is_again(&ctl));
    ctl_end(&ctl);
}

static void bad_keys_are_refused(void **state)
{
    (void)state;
    static const char *const keys[] = {"", "1234567", "with space", "under_score",
                                       "12345678901234567890123456789012345678901"};
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient A allergies none");
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        send_keyed(&ctl, "\"command\":\"note\",\"args\":[\"two words\"]", keys[i]);
        assert_string_equal(ctl_error(&ctl, "code"), "RP_E_INVALID");
        assert_string_equal(ctl_error(&ctl, "field"), "key");
    }
    ctl_end(&ctl);
}

static bool level_withdrawn(struct ctl *ctl)
{
    ctl_ok(ctl, "view 7-1");
    json_t *row = json_object_get(json_object_get(ctl->reply, "data"), "episode");
    json_t *request = json_object_get(row, "request");
    assert_non_null(request);
    return json_is_true(json_object_get(request, "level_withdrawn"));
}

/* The level of a request is that of a report. When the report was wrong, nobody may read the level
 * as the present one: not rescuers on the sheet, not base; and a revision does not repeat it. */
static void a_request_tells_that_its_level_was_withdrawn(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient A");   /* 7:2 */
    ctl_ok(&ctl, "obs alert spo2 71 air"); /* 7:3 */
    ctl_ok(&ctl, "evacuate e1 stretcher"); /* 7:4 */
    assert_int_equal(ctl_last(&ctl).as.evacuation.conscious_from.seq, 3);
    ctl_ok(&ctl, "evacuate revise wind 20km/h"); /* 7:5 */
    assert_int_equal(ctl_last(&ctl).as.evacuation.conscious_from.seq, 3);
    assert_non_null(strstr(ctl_ok(&ctl, "handover 7-1"), "conscious yes"));
    assert_null(strstr(ctl_ok(&ctl, "handover 7-1"), "WITHDRAWN"));
    assert_false(level_withdrawn(&ctl));
    ctl_ok(&ctl, "obs unresponsive spo2 71 air"); /* 7:6 */
    ctl_ok(&ctl, "correct 7:3 with 7:6 \"was another patient\"");
    assert_non_null(strstr(ctl_ok(&ctl, "handover 7-1"), "conscious yes - WITHDRAWN"));
    assert_true(level_withdrawn(&ctl));
    assert_non_null(
        strstr(ctl_ok(&ctl, "board"), "THE CONSCIOUS LEVEL IN THE REQUEST WAS WITHDRAWN"));
    ctl_ok(&ctl, "evacuate revise wind 30km/h"); /* 7:8 tells the level of now */
    assert_int_equal(ctl_last(&ctl).as.evacuation.conscious, RP_FINDING_NO);
    assert_int_equal(ctl_last(&ctl).as.evacuation.conscious_from.seq, 6);
    assert_false(level_withdrawn(&ctl));
    kit_pass(&ctl.kit, 601); /* what is older than ten minutes is asked for anew */
    ctl_ok(&ctl, "correct 7:6 void \"was not looked at\"");
    assert_true(level_withdrawn(&ctl));
    assert_non_null(strstr(ctl_ok(&ctl, "evacuate revise wind 20km/h"),
                           "its conscious level was withdrawn with the report: say it anew"));
    assert_int_equal(ctl_last(&ctl).as.evacuation.conscious, RP_FINDING_NOT_ASKED);
    assert_int_equal(ctl_last(&ctl).as.evacuation.conscious_from.seq, 0);
    assert_false(level_withdrawn(&ctl));
    assert_null(strstr(ctl_ok(&ctl, "evacuate revise conscious no"), "withdrawn"));
    assert_int_equal(ctl_last(&ctl).as.evacuation.conscious, RP_FINDING_NO);
    assert_int_equal(ctl_last(&ctl).as.evacuation.conscious_from.seq, 0);
    ctl_end(&ctl);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(requests_of_a_wrong_form_are_refused),
        cmocka_unit_test(a_request_holds_at_most_128_words),
        cmocka_unit_test(deep_nesting_and_broken_text_have_a_reply),
        cmocka_unit_test(a_cut_text_is_still_a_text),
        cmocka_unit_test(every_command_has_an_example),
        cmocka_unit_test(keyed_entry_is_recorded_once),
        cmocka_unit_test(keyed_opening_opens_once),
        cmocka_unit_test(keyed_entry_tells_what_was_recorded),
        cmocka_unit_test(bad_keys_are_refused),
        cmocka_unit_test(a_request_tells_that_its_level_was_withdrawn),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
