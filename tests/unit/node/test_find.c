/* Finding episodes and records by what a person types. */
#include "rp_test.h"

#include <stdio.h>
#include <string.h>

#include "node_kit.h"
#include "wire/seal.h"

/* Puts a one-record log of another station, or of this station's other database, into storage. */
static void put_foreign(struct kit *kit, uint16_t origin, uint32_t seq, const char *patient)
{
    struct rp_seal seal;
    struct rp_record record = {.kind = RP_REC_EPISODE, .episode = {0, 1}, .time_s = 4800000};
    snprintf(record.as.opened.patient, sizeof record.as.opened.patient, "%s", patient);
    uint8_t body[RP_RECORD_LEN_MAX], sealed[RP_FRAME_LEN_MAX];
    int len = rp_record_encode(&record, body, sizeof body, NULL);
    assert_true(len > 0);
    rp_seal_init(&seal, kit->config.net.secret, 0);
    struct rp_frame_head head = {
        .kind = RP_FRAME_SEGMENT, .first = true, .last = true, .origin = origin, .counter = seq};
    int sealed_len =
        rp_frame_seal(&seal, &head, (struct rp_view){body, (size_t)len}, sealed, sizeof sealed);
    assert_true(sealed_len > 0);
    struct rp_segment_row segment = {origin, seq, true, true, {sealed, (size_t)sealed_len}};
    struct rp_record_row row = {.origin = origin,
                                .seq_first = seq,
                                .seq_last = seq,
                                .kind = RP_REC_EPISODE,
                                .episode = {origin, 1},
                                .time_s = 4800000,
                                .stored_s = kit->moment.unix_s,
                                .body = {body, (size_t)len}};
    assert_int_equal(memory_store_ops()->put_segment(kit->store, &segment, &row), RP_OK);
    rp_seal_deinit(&seal);
}

static void expect_episode(struct kit *kit, const char *text, uint16_t origin, uint8_t number)
{
    struct rp_episode_ref ref = {0, 0};
    struct rp_problem problem = {0};
    if (rp_node_find_episode(kit->node, text, &ref, &problem) != RP_OK) {
        fail_msg("\"%s\": %s", text, problem.text);
    }
    assert_int_equal(ref.origin, origin);
    assert_int_equal(ref.number, number);
}

static void expect_no_episode(struct kit *kit, const char *text, int code, const char *sentence)
{
    struct rp_episode_ref ref = {1, 2};
    struct rp_problem problem = {0};
    assert_int_equal(rp_node_find_episode(kit->node, text, &ref, &problem), code);
    assert_string_equal(problem.field, "episode");
    assert_string_equal(problem.text, sentence);
    assert_int_equal(ref.origin, 1);
}

static void episodes_are_found_by_each_form(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    uint16_t own = rp_node_origin(kit.node);
    expect_no_episode(&kit, "", RP_E_NOT_FOUND,
                      "no episode is known here (example: open hace patient \"A\")");
    struct rp_episode_ref first = kit_open(&kit, "A");
    expect_episode(&kit, "", own, 1);
    expect_episode(&kit, "1", own, 1);
    expect_episode(&kit, "7-1", own, 1);
    expect_episode(&kit, "7-1/100", own, 1);
    expect_episode(&kit, "1/100", own, 1);
    kit_open(&kit, "B");
    expect_episode(&kit, "7-2", own, 2);
    expect_no_episode(&kit, "", RP_E_AMBIGUOUS,
                      "2 of 2 episodes are open: say which (example: 7-1)");
    kit_close(&kit, first);
    expect_episode(&kit, "", own, 2); /* the only open one */
    kit_close(&kit, (struct rp_episode_ref){own, 2});
    expect_no_episode(&kit, "", RP_E_AMBIGUOUS,
                      "0 of 2 episodes are open: say which (example: 7-1)");
    kit_end(&kit);
}

static void what_is_no_episode_is_refused(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    kit_open(&kit, "A");
    expect_no_episode(&kit, "7-2", RP_E_NOT_FOUND,
                      "episode 7-2 is not known here; the board lists them");
    expect_no_episode(&kit, "4-1", RP_E_NOT_FOUND,
                      "episode 4-1 is not known here; the board lists them");
    expect_no_episode(&kit, "7-1/213", RP_E_NOT_FOUND,
                      "episode 7-1/213 is not known here; the board lists them");
    static const char *const garbage[] = {"7-",
                                          "-1",
                                          "7-0",
                                          "7-256",
                                          "100-1",
                                          "0-1",
                                          "7-1-1",
                                          "7:1",
                                          "7-1/",
                                          "7-1/512",
                                          "x",
                                          "7 -1",
                                          "7- 1",
                                          "+7-1",
                                          "7-1x",
                                          "99999999999999999999-1",
                                          "7-1/99999999999999999999"};
    for (size_t i = 0; i < sizeof garbage / sizeof garbage[0]; i++) {
        char sentence[120];
        snprintf(sentence, sizeof sentence,
                 "\"%.20s\" is not an episode (example: 7-1, station and number)", garbage[i]);
        expect_no_episode(&kit, garbage[i], RP_E_FORMAT, sentence);
    }
    kit_end(&kit);
}

/* Two databases of station 7 opened an episode 1 each. */
static void twins_are_told_apart_by_their_generation(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    uint16_t own = rp_node_origin(kit.node), twin = rp_origin_make(7, 213);
    kit_open(&kit, "A");
    put_foreign(&kit, twin, 1, "B");
    kit_restart(&kit);
    assert_int_equal(rp_node_origin(kit.node), own);
    expect_no_episode(&kit, "7-1", RP_E_AMBIGUOUS,
                      "two databases opened 7-1: say 7-1/100 or 7-1/213");
    expect_episode(&kit, "7-1/213", twin, 1);
    expect_episode(&kit, "7-1/100", own, 1);
    kit_end(&kit);
}

static void expect_record(struct kit *kit, const char *text, uint16_t origin, uint32_t seq)
{
    struct rp_record_ref ref = {0, 0};
    struct rp_problem problem = {0};
    if (rp_node_find_record(kit->node, text, &ref, &problem) != RP_OK) {
        fail_msg("\"%s\": %s", text, problem.text);
    }
    assert_int_equal(ref.origin, origin);
    assert_int_equal(ref.seq, seq);
}

static void expect_no_record(struct kit *kit, const char *text, int code, const char *sentence)
{
    struct rp_record_ref ref = {1, 2};
    struct rp_problem problem = {0};
    assert_int_equal(rp_node_find_record(kit->node, text, &ref, &problem), code);
    assert_string_equal(problem.field, "record");
    assert_string_equal(problem.text, sentence);
    assert_int_equal(ref.seq, 2);
}

static void records_are_found_by_each_form(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    uint16_t own = rp_node_origin(kit.node), other = rp_origin_make(4, 9);
    struct rp_episode_ref ref = kit_open(&kit, "A"); /* 7:2, after the card */
    struct rp_record note = {.kind = RP_REC_NOTE, .episode = ref};
    memset(note.as.note.text, 'x', 300);
    kit_enter(&kit, &note); /* 7:3, several segments */
    put_foreign(&kit, other, 5, "B");
    kit_restart(&kit);
    expect_record(&kit, "2", own, 2);
    expect_record(&kit, "7:2", own, 2);
    expect_record(&kit, "7:2/100", own, 2);
    expect_record(&kit, "4:5", other, 5);
    expect_record(&kit, "4:5/9", other, 5);
    /* What is not held is never taken for a record of this station with the same sequence. */
    expect_no_record(&kit, "4:2", RP_E_NOT_FOUND,
                     "record 4:2 is not held here; the log lists them");
    expect_no_record(&kit, "9:2", RP_E_NOT_FOUND,
                     "record 9:2 is not held here; the log lists them");
    expect_no_record(&kit, "7:2/8", RP_E_NOT_FOUND,
                     "record 7:2/8 is not held here; the log lists them");
    expect_no_record(&kit, "7:99", RP_E_NOT_FOUND,
                     "record 7:99 is not held here; the log lists them");
    expect_no_record(&kit, "7:4", RP_E_NOT_FOUND,
                     "record 7:4 is not held here; the log lists them"); /* inside the note */
    static const char *const garbage[] = {"",          "7:",  ":2",    "7:0",
                                          "7:2097152", "7-2", "100:2", "a:b"};
    for (size_t i = 0; i < sizeof garbage / sizeof garbage[0]; i++) {
        char sentence[120];
        snprintf(sentence, sizeof sentence,
                 "\"%.20s\" is not a record (example: 7:42, station and sequence)", garbage[i]);
        expect_no_record(&kit, garbage[i], RP_E_FORMAT, sentence);
    }
    put_foreign(&kit, rp_origin_make(4, 10), 5, "C");
    expect_no_record(&kit, "4:5", RP_E_AMBIGUOUS,
                     "two logs of station 4 hold 4:5: add the generation, as the log shows it "
                     "(example: 4:5/10)");
    kit_end(&kit);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(episodes_are_found_by_each_form),
        cmocka_unit_test(what_is_no_episode_is_refused),
        cmocka_unit_test(twins_are_told_apart_by_their_generation),
        cmocka_unit_test(records_are_found_by_each_form),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
