/* One station over its storage: starting, entering, numbering, failures, EXERCISE, the question
 * before each chamber session. */
#include "rp_test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "node_kit.h"

static void starts_are_refused_with_the_setting_named(void **state)
{
    (void)state;
    static const struct {
        uint8_t station;
        const char *modem;
        uint16_t frame_len_max;
        uint8_t spreading_factor;
        int code;
        const char *field, *text;
    } cases[] = {
        {0, "", 120, 9, RP_E_INVALID, "station", "station 0 is outside 1..99 (example: 7)"},
        {100, "", 120, 9, RP_E_INVALID, "station", "station 100 is outside 1..99 (example: 7)"},
        {7, "tin-can", 120, 9, RP_E_NOT_FOUND, "modem",
         "modem must be one of kiss, kiss-crc, kiss-ack, at, at-old, hextext, uart-e22, uart-e32, "
         "uart-e220, such as kiss; not 'tin-can'"},
        {7, "at", 200, 9, RP_E_INVALID, "frame_len_max",
         "the net's frames are 200 bytes, this modem carries 180: lower frame_len_max in the net "
         "file at every station"},
        {7, "kiss", 120, 6, RP_E_INVALID, "spreading_factor",
         "spreading_factor 6 is refused: chip families follow different rules for 5 and 6 and do "
         "not hear each other; 7..12 are left (example: 9)"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct kit kit = kit_new(7, RP_ROLE_CAMP);
        kit.config.station = cases[i].station;
        snprintf(kit.config.modem, sizeof kit.config.modem, "%s", cases[i].modem);
        kit.config.net.frame_len_max = cases[i].frame_len_max;
        kit.config.net.profile.spreading_factor = cases[i].spreading_factor;
        kit.config.net.profile.text_armour = strcmp(cases[i].modem, "at") == 0;
        struct rp_node *node = NULL;
        struct rp_problem problem = {0};
        assert_int_equal(rp_node_new(&kit.config, kit.moment, &node, &problem), cases[i].code);
        assert_null(node);
        assert_string_equal(problem.field, cases[i].field);
        assert_string_equal(problem.text, cases[i].text);
        assert_int_equal(memory_store_writes(kit.store), 0);
        kit_end(&kit);
    }
}

static void a_station_of_1_and_of_99_starts(void **state)
{
    (void)state;
    const uint8_t numbers[] = {1, 99};
    for (size_t i = 0; i < 2; i++) {
        struct kit kit = kit_new(numbers[i], RP_ROLE_CAMP);
        kit_start(&kit);
        assert_int_equal(rp_origin_station(rp_node_origin(kit.node)), numbers[i]);
        kit_end(&kit);
    }
}

static void storage_that_cannot_be_read_refuses_the_start(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    kit_stop(&kit);
    struct rp_node *node = NULL;
    struct rp_problem problem = {0};
    memory_store_fail_reads(kit.store, RP_E_IO);
    assert_int_equal(rp_node_new(&kit.config, kit.moment, &node, &problem), RP_E_IO);
    assert_null(node);
    assert_string_equal(problem.field, "database");
    assert_string_equal(problem.text, "a log for station 7 cannot be started");
    uint16_t origin = rp_origin_make(7, 100);
    assert_int_equal(memory_store_records(kit.store, origin), 1);
    memory_store_fail_reads(kit.store, 0);
    kit_start(&kit);
    assert_int_equal(rp_node_origin(kit.node), origin); /* and no other log was begun */
    assert_int_equal(rp_node_next_sheet(kit.node, (struct rp_episode_ref){origin, 1}), 1);
    memory_store_fail_reads(kit.store, RP_E_IO);
    assert_int_equal(rp_node_next_sheet(kit.node, (struct rp_episode_ref){origin, 1}), RP_E_IO);
    kit_end(&kit);
}

static void a_long_note_comes_back_whole_after_a_restart(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref ref = kit_open(&kit, "M. Tarn");
    struct rp_record note = {.kind = RP_REC_NOTE, .episode = ref};
    for (size_t i = 0; i < 1000; i++) {
        note.as.note.text[i] = (char)('a' + i % 26);
    }
    struct rp_record_ref at = kit_enter(&kit, &note);
    struct rp_record_ref after = kit_note(&kit, ref, "short");
    assert_true(after.seq - at.seq > 9); /* 1000 bytes in frames of 120 */
    kit_restart(&kit);
    const struct rp_episode *episode = kit_fold(&kit, ref);
    assert_int_equal(episode->notes.count, 2);
    assert_int_equal(strlen(episode->notes.at[0].text), 1000);
    assert_string_equal(episode->notes.at[0].text, note.as.note.text);
    assert_int_equal(kit_note(&kit, ref, "next").seq, after.seq + 1);
    kit_end(&kit);
}

static void a_new_frame_length_does_not_break_a_restart(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref ref = kit_open(&kit, "M. Tarn");
    struct rp_record note = {.kind = RP_REC_NOTE, .episode = ref};
    memset(note.as.note.text, 'x', 1000);
    kit_enter(&kit, &note);
    kit.config.net.frame_len_max = 222;
    kit_restart(&kit);
    assert_int_equal(strlen(kit_fold(&kit, ref)->notes.at[0].text), 1000);
    kit_note(&kit, ref, "after");
    kit.config.net.frame_len_max = 60;
    kit_restart(&kit);
    assert_int_equal(kit_fold(&kit, ref)->notes.count, 2);
    kit_end(&kit);
}

static void sequences_are_not_used_again_after_a_failed_write(void **state)
{
    (void)state;
    const struct {
        int code;
        bool written;
        const char *text;
    } cases[] = {
        {RP_E_NO_SPACE, false,
         "nothing was recorded: the database cannot be written (the disk is full); write it on "
         "paper and try again"},
        {RP_E_IO, false,
         "nothing was recorded: the database cannot be written (input or output failed); write it "
         "on paper and try again"},
        {RP_E_IO, true,
         "nothing was recorded: the database cannot be written (input or output failed); write it "
         "on paper and try again"},
    };
    for (size_t i = 0; i < 3; i++) {
        struct kit kit = kit_new(7, RP_ROLE_CAMP);
        kit_start(&kit);
        struct rp_episode_ref ref = kit_open(&kit, "M. Tarn");
        struct rp_record_ref before = kit_note(&kit, ref, "before"), out = {1, 1};
        memory_store_fail(kit.store, (struct memory_fault){0, 1, cases[i].code, cases[i].written});
        struct rp_record note = {.kind = RP_REC_NOTE, .episode = ref};
        struct rp_problem problem = {0};
        strcpy(note.as.note.text, "lost");
        assert_int_equal(rp_node_enter(kit.node, &note, kit.moment, &out, &problem), cases[i].code);
        assert_string_equal(problem.text, cases[i].text);
        assert_int_equal(out.origin, 1);
        uint32_t step = cases[i].written ? 2 : 1;
        assert_int_equal(kit_note(&kit, ref, "after").seq, before.seq + step);
        assert_int_equal(kit_fold(&kit, ref)->notes.count, cases[i].written ? 3 : 2);
        struct rp_node_status status;
        rp_node_status(kit.node, kit.moment, &status);
        assert_int_equal(status.store_failures, 1);
        kit_restart(&kit);
        assert_int_equal(kit_note(&kit, ref, "restarted").seq, before.seq + step + 1);
        kit_end(&kit);
    }
}

/* The opening reached the disk though it was reported as failed: its number is taken. */
static void an_episode_number_is_not_given_twice_after_a_failed_write(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    memory_store_fail(kit.store, (struct memory_fault){0, 1, RP_E_IO, true});
    struct rp_record opening = {.kind = RP_REC_EPISODE};
    struct rp_record_ref out;
    struct rp_problem problem;
    strcpy(opening.as.opened.patient, "A");
    assert_int_equal(rp_node_enter(kit.node, &opening, kit.moment, &out, &problem), RP_E_IO);
    assert_int_equal(kit_open(&kit, "B").number, 2);
    memory_store_fail(kit.store, (struct memory_fault){0, 1, RP_E_IO, false});
    assert_int_equal(rp_node_enter(kit.node, &opening, kit.moment, &out, &problem), RP_E_IO);
    assert_int_equal(kit_open(&kit, "C").number, 3);
    kit_end(&kit);
}

static void episodes_are_numbered_on_across_restarts(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    assert_int_equal(kit_open(&kit, "A").number, 1);
    assert_int_equal(kit_open(&kit, "B").number, 2);
    kit_restart(&kit);
    for (unsigned number = 3; number <= 255; number++) {
        assert_int_equal(kit_open(&kit, "C").number, number);
    }
    struct rp_record opening = {.kind = RP_REC_EPISODE};
    struct rp_record_ref out;
    struct rp_problem problem = {0};
    strcpy(opening.as.opened.patient, "D");
    assert_int_equal(rp_node_enter(kit.node, &opening, kit.moment, &out, &problem), RP_E_FULL);
    assert_string_equal(problem.text, "this station has opened 255 episodes: begin a new database");
    kit_end(&kit);
}

static void the_card_is_entered_once_and_again_when_it_changes(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    uint16_t origin = rp_node_origin(kit.node);
    assert_int_equal(memory_store_records(kit.store, origin), 1);
    kit_restart(&kit);
    assert_int_equal(memory_store_records(kit.store, origin), 1);
    strcpy(kit.config.name, "Upper Camp");
    kit.moment.unix_s -= 7200; /* the clock of the second start is behind */
    kit_restart(&kit);
    assert_int_equal(memory_store_records(kit.store, origin), 2);
    assert_string_equal(rp_node_station_name(kit.node, 7), "Upper Camp");
    assert_string_equal(rp_node_station_name(kit.node, 4), "station 4");
    kit_restart(&kit);
    assert_int_equal(memory_store_records(kit.store, origin), 2);
    kit.config.altitude = (struct rp_altitude){true, 5480, RP_ALT_GPS};
    kit_restart(&kit);
    assert_int_equal(memory_store_records(kit.store, origin), 3);
    kit_restart(&kit);
    assert_int_equal(memory_store_records(kit.store, origin), 3);
    kit_end(&kit);
}

static void another_station_number_begins_another_log(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    uint16_t old = rp_node_origin(kit.node);
    kit.config.station = 8;
    kit_restart(&kit);
    assert_int_equal(rp_origin_station(rp_node_origin(kit.node)), 8);
    assert_int_equal(memory_store_records(kit.store, old), 1);
    kit_end(&kit);
}

static int enter_note(struct kit *kit, struct rp_episode_ref ref, bool *out_exercise)
{
    struct rp_record note = {.kind = RP_REC_NOTE, .episode = ref};
    struct rp_record_ref out;
    strcpy(note.as.note.text, "x");
    kit->problem = (struct rp_problem){0};
    int code = rp_node_enter(kit->node, &note, kit->moment, &out, &kit->problem);
    *out_exercise = note.exercise;
    return code;
}

static void an_exercise_marks_everything_and_stays_one(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    bool marked = false;
    kit_start(&kit);
    struct rp_episode_ref real = kit_open(&kit, "Real");
    assert_int_equal(enter_note(&kit, real, &marked), RP_OK);
    assert_false(marked);

    kit.config.exercise = true;
    kit_restart(&kit);
    struct rp_episode_ref drill = kit_open(&kit, "Drill");
    assert_int_equal(enter_note(&kit, drill, &marked), RP_OK);
    assert_true(marked);
    assert_true(kit_fold(&kit, drill)->exercise);
    /* An exercise station may not touch a real episode. */
    assert_int_equal(enter_note(&kit, real, &marked), RP_E_CONFLICT);
    assert_string_equal(kit.problem.field, "exercise");
    assert_string_equal(kit.problem.text,
                        "this station is in EXERCISE mode and the episode is real: restart the "
                        "station without exercise to write to it");
    assert_false(kit_fold(&kit, real)->exercise);

    /* No way back: a real station that writes into the drill marks its record. */
    kit.config.exercise = false;
    kit_restart(&kit);
    assert_int_equal(enter_note(&kit, drill, &marked), RP_OK);
    assert_true(marked);
    assert_true(kit_fold(&kit, drill)->exercise);
    assert_int_equal(enter_note(&kit, real, &marked), RP_OK);
    assert_false(marked);
    kit_end(&kit);
}

static int chamber(struct kit *kit, struct rp_episode_ref ref, enum rp_phase phase, uint8_t session)
{
    struct rp_record event = {.kind = RP_REC_CHAMBER, .episode = ref};
    struct rp_record_ref out;
    event.as.chamber.phase = (uint8_t)phase;
    event.as.chamber.session = session;
    kit->problem = (struct rp_problem){0};
    return rp_node_enter(kit->node, &event, kit->moment, &out, &kit->problem);
}

static void answer_descent(struct kit *kit, struct rp_episode_ref ref)
{
    struct rp_record answer = {.kind = RP_REC_DESCENT, .episode = ref};
    answer.as.descent.why_not = RP_WHY_DARK;
    kit_enter(kit, &answer);
}

static const char why_not_down[] = "why not down? Descent is the treatment; answer first (example: "
                                   "descent no dark \"first light 05:40\")";

/* job: before each chamber session "why not down?" is answered anew. */
static void each_session_needs_an_answer_of_its_own(void **state)
{
    (void)state;
    const enum rp_phase begins[] = {RP_PHASE_CLOSED, RP_PHASE_PRESSURISING};
    for (size_t i = 0; i < 2; i++) {
        struct kit kit = kit_new(7, RP_ROLE_CAMP);
        kit_start(&kit);
        struct rp_episode_ref ref = kit_open(&kit, "M. Tarn");
        assert_int_equal(chamber(&kit, ref, begins[i], 1), RP_E_STATE);
        assert_string_equal(kit.problem.field, "chamber");
        assert_string_equal(kit.problem.text, why_not_down);
        /* All within one second: the order in the log decides. */
        answer_descent(&kit, ref);
        assert_int_equal(chamber(&kit, ref, begins[i], 1), RP_OK);
        assert_int_equal(chamber(&kit, ref, RP_PHASE_PRESSURISING, 1), RP_OK);
        assert_int_equal(chamber(&kit, ref, RP_PHASE_AT_PRESSURE, 1), RP_OK);
        assert_int_equal(chamber(&kit, ref, RP_PHASE_OUT, 1), RP_OK);
        assert_int_equal(chamber(&kit, ref, begins[i], 2), RP_E_STATE);
        kit_pass(&kit, 3600);
        assert_int_equal(chamber(&kit, ref, begins[i], 2), RP_E_STATE);
        answer_descent(&kit, ref);
        assert_int_equal(chamber(&kit, ref, begins[i], 2), RP_OK);
        kit_end(&kit);
    }
}

/* An answer given while the session before runs is about the next one. */
static void an_answer_during_a_session_counts_for_the_next(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref ref = kit_open(&kit, "M. Tarn");
    answer_descent(&kit, ref);
    assert_int_equal(chamber(&kit, ref, RP_PHASE_CLOSED, 1), RP_OK);
    kit_pass(&kit, 1800);
    answer_descent(&kit, ref);
    assert_int_equal(chamber(&kit, ref, RP_PHASE_OUT, 1), RP_OK);
    assert_int_equal(chamber(&kit, ref, RP_PHASE_CLOSED, 2), RP_OK);
    kit_end(&kit);
}

static void a_record_outside_its_bounds_is_refused_with_its_field(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref ref = kit_open(&kit, "M. Tarn");
    struct rp_record status = {.kind = RP_REC_STATUS, .episode = ref};
    struct rp_record_ref out;
    struct rp_problem problem = {0};
    uint32_t writes = memory_store_writes(kit.store);
    status.as.status.spo2_pct = (struct rp_value){RP_MEASURED, 101};
    assert_int_equal(rp_node_enter(kit.node, &status, kit.moment, &out, &problem), RP_E_INVALID);
    assert_string_equal(problem.field, "spo2_pct");
    assert_int_equal(memory_store_writes(kit.store), writes);
    kit_end(&kit);
}

static void sheets_are_counted_across_restarts(void **state)
{
    (void)state;
    struct kit kit = kit_new(7, RP_ROLE_CAMP);
    kit_start(&kit);
    struct rp_episode_ref ref = kit_open(&kit, "M. Tarn"), other = kit_open(&kit, "B");
    assert_int_equal(rp_node_next_sheet(kit.node, ref), 1);
    assert_int_equal(rp_node_next_sheet(kit.node, ref), 2);
    assert_int_equal(rp_node_next_sheet(kit.node, other), 1);
    kit_restart(&kit);
    assert_int_equal(rp_node_next_sheet(kit.node, ref), 3);
    memory_store_fail(kit.store, (struct memory_fault){0, 1, RP_E_NO_SPACE, false});
    assert_int_equal(rp_node_next_sheet(kit.node, ref), RP_E_NO_SPACE);
    assert_int_equal(rp_node_next_sheet(kit.node, ref), 4);
    kit_end(&kit);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(starts_are_refused_with_the_setting_named),
        cmocka_unit_test(a_station_of_1_and_of_99_starts),
        cmocka_unit_test(storage_that_cannot_be_read_refuses_the_start),
        cmocka_unit_test(a_long_note_comes_back_whole_after_a_restart),
        cmocka_unit_test(a_new_frame_length_does_not_break_a_restart),
        cmocka_unit_test(sequences_are_not_used_again_after_a_failed_write),
        cmocka_unit_test(an_episode_number_is_not_given_twice_after_a_failed_write),
        cmocka_unit_test(episodes_are_numbered_on_across_restarts),
        cmocka_unit_test(the_card_is_entered_once_and_again_when_it_changes),
        cmocka_unit_test(another_station_number_begins_another_log),
        cmocka_unit_test(an_exercise_marks_everything_and_stays_one),
        cmocka_unit_test(each_session_needs_an_answer_of_its_own),
        cmocka_unit_test(an_answer_during_a_session_counts_for_the_next),
        cmocka_unit_test(a_record_outside_its_bounds_is_refused_with_its_field),
        cmocka_unit_test(sheets_are_counted_across_restarts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
