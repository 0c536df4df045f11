#include "episode_kit.h"

static void an_empty_episode_knows_nothing(void **state)
{
    (void)state;
    kit_start();
    rp_episode_finish(&kit, 1000);
    assert_false(kit.opened);
    assert_false(kit.exercise);
    assert_false(kit.has_status);
    assert_false(kit.has_latest);
    assert_int_equal(kit.records, 0);
    assert_int_equal(kit.evac_state, RP_EVAC_NONE);
    assert_int_equal(kit.request_now, -1);
    assert_int_equal(kit.eta_answer, -1);
    assert_int_equal(kit.background.allergies.state, RP_NOT_ASKED);
    assert_null(rp_episode_last_obs(&kit, offsetof(struct rp_obs, spo2_pct), -1));
    struct rp_gap gap;
    assert_int_equal(rp_episode_gaps(&kit, 60, 1000, &gap, 1), 0);
}

static void records_of_other_episodes_are_refused(void **state)
{
    (void)state;
    kit_start();
    struct rp_record r = kit_record(RP_REC_NOTE, 100);
    r.episode.number = 2;
    assert_int_equal(rp_episode_add(&kit, &r, kit_ref(CAMP, 1)), RP_E_CONFLICT);
    r.episode = (struct rp_episode_ref){BASE, 1};
    assert_int_equal(rp_episode_add(&kit, &r, kit_ref(CAMP, 1)), RP_E_CONFLICT);
    r.episode = (struct rp_episode_ref){CAMP, 0};
    assert_int_equal(rp_episode_add(&kit, &r, kit_ref(CAMP, 1)), RP_E_CONFLICT);
    assert_int_equal(kit.records, 0);
}

static void a_source_keeps_when_who_and_how(void **state)
{
    (void)state;
    kit_start();
    struct rp_record r = kit_record(RP_REC_TREATMENT, 1000);
    r.ago_s = 300;
    r.unsynced = true;
    r.via = RP_VIA_VOICE;
    strcpy(r.by, "Ines Okafor");
    strcpy(r.as.treatment.name, "dexamethasone");
    kit_add(&r, BASE, 9);
    rp_episode_finish(&kit, 2000);
    assert_int_equal(kit.doses.count, 1);
    const struct rp_source *from = &kit.doses.at[0].from;
    assert_int_equal(from->ref.origin, BASE);
    assert_int_equal(from->ref.seq, 9);
    assert_int_equal(from->station, 2);
    assert_int_equal(from->happened_s, 700);
    assert_int_equal(from->recorded_s, 1000);
    assert_true(from->unsynced);
    assert_int_equal(from->via, RP_VIA_VOICE);
    assert_string_equal(from->by, "Ines Okafor");
    assert_string_equal(kit.doses.at[0].what.name, "dexamethasone");
    assert_false(from->voided);
    assert_int_equal(kit.latest_s, 700);
    /* Before the epoch there is no time. */
    r.time_s = 10;
    kit_add(&r, BASE, 10);
    assert_int_equal(kit.doses.at[0].from.happened_s, 0);
}

static void a_record_added_twice_counts_once(void **state)
{
    (void)state;
    kit_start();
    struct rp_record r = kit_record(RP_REC_NOTE, 100);
    strcpy(r.as.note.text, "snowing");
    kit_add(&r, CAMP, 1);
    kit_add(&r, CAMP, 1);
    kit_add(&r, CAMP, 2); /* another record with the same words */
    rp_episode_add_unreadable(&kit, kit_ref(CAMP, 3), 150, true);
    rp_episode_add_unreadable(&kit, kit_ref(CAMP, 3), 150, true);
    rp_episode_finish(&kit, 200);
    assert_int_equal(kit.records, 3);
    assert_int_equal(kit.undecodable, 1);
    assert_int_equal(kit.notes.count, 2);
    assert_string_equal(kit.notes.at[1].text, "snowing");
    assert_int_equal(kit.latest_s, 150);
    assert_int_equal(kit.latest_from.ref.seq, 3);
    assert_true(kit.exercise);
}

static void any_exercise_mark_sticks(void **state)
{
    (void)state;
    kit_start();
    struct rp_record r = kit_record(RP_REC_NOTE, 100);
    r.exercise = true;
    kit_add(&r, CAMP, 1);
    r.exercise = false;
    kit_add(&r, CAMP, 2);
    rp_episode_finish(&kit, 200);
    assert_true(kit.exercise);
}

/* 24 notes are kept: of 30 the newest, whatever the order, and 6 are counted. */
static void a_full_table_keeps_the_newest(void **state)
{
    (void)state;
    for (int backwards = 0; backwards < 2; backwards++) {
        kit_start();
        for (uint32_t i = 0; i < 30; i++) {
            uint32_t seq = backwards ? 30 - i : i + 1;
            struct rp_record r = kit_record(RP_REC_NOTE, 100 * seq);
            kit_add(&r, CAMP, seq);
            kit_add(&r, CAMP, seq);
        }
        rp_episode_finish(&kit, 5000);
        assert_int_equal(kit.notes.count, 24);
        assert_int_equal(kit.notes.older_dropped, 6);
        assert_int_equal(kit.notes.at[0].from.ref.seq, 7);
        assert_int_equal(kit.notes.at[23].from.ref.seq, 30);
        assert_int_equal(kit.records, 30);
    }
}

/* 2048 records are remembered: a repeat of any of these is known, one of an older record is counted
 * again and never shown. */
static void repeats_are_known_among_the_newest_records(void **state)
{
    (void)state;
    kit_start();
    for (int twice = 0; twice < 2; twice++) {
        for (uint32_t seq = twice ? 53 : 1; seq <= 2100; seq++) {
            struct rp_record r = kit_record(RP_REC_NOTE, 100 * seq);
            kit_add(&r, CAMP, seq);
        }
        assert_int_equal(kit.records, 2100);
    }
    struct rp_record old = kit_record(RP_REC_NOTE, 100 * 52);
    kit_add(&old, CAMP, 52);
    rp_episode_finish(&kit, 300000);
    assert_int_equal(kit.records, 2101);
    assert_int_equal(kit.notes.count, 24);
    assert_int_equal(kit.notes.at[0].from.ref.seq, 2077);
}

static void entries_of_one_moment_are_in_log_order(void **state)
{
    (void)state;
    kit_start();
    struct rp_record r = kit_record(RP_REC_NOTE, 100);
    kit_add(&r, CAMP, 2);
    kit_add(&r, CAMP, 1);
    kit_add(&r, BASE, 7);
    rp_episode_finish(&kit, 5000);
    assert_int_equal(kit.notes.at[0].from.ref.origin, BASE); /* the lower number */
    assert_int_equal(kit.notes.at[1].from.ref.seq, 1);
    assert_int_equal(kit.notes.at[2].from.ref.seq, 2);
}

static void background_is_folded_by_field(void **state)
{
    (void)state;
    kit_start();
    struct rp_record r = kit_record(RP_REC_BACKGROUND, 100);
    r.as.background.allergies.state = RP_KNOWN;
    strcpy(r.as.background.allergies.text, "penicillin");
    r.as.background.history.state = RP_NONE_KNOWN;
    kit_add(&r, CAMP, 1);
    struct rp_record later = kit_record(RP_REC_BACKGROUND, 200);
    later.as.background.medicines.state = RP_NONE_KNOWN;
    later.as.background.history.state = RP_KNOWN;
    strcpy(later.as.background.history.text, "asthma");
    kit_add(&later, CAMP, 2);
    rp_episode_finish(&kit, 300);
    assert_int_equal(kit.background.allergies.state, RP_KNOWN);
    assert_string_equal(kit.background.allergies.text, "penicillin");
    assert_int_equal(kit.background.medicines.state, RP_NONE_KNOWN);
    assert_int_equal(kit.background.history.state, RP_KNOWN);
    assert_string_equal(kit.background.history.text, "asthma");
    assert_int_equal(kit.background.contact.state, RP_NOT_ASKED);
    /* Entered in error: the answer before it stands again. */
    kit_correct(3, 300, kit_ref(CAMP, 2), kit_ref(0, 0));
    rp_episode_finish(&kit, 400);
    assert_int_equal(kit.background.medicines.state, RP_NOT_ASKED);
    assert_int_equal(kit.background.history.state, RP_NONE_KNOWN);
    assert_string_equal(kit.background.history.text, "");
}

static void opening_and_close_are_the_newest_not_voided(void **state)
{
    (void)state;
    kit_start();
    struct rp_record r = kit_record(RP_REC_EPISODE, 100);
    r.as.opened.label = RP_LABEL_AMS;
    kit_add(&r, CAMP, 1);
    r.time_s = 200;
    r.as.opened.label = RP_LABEL_HACE;
    kit_add(&r, CAMP, 5);
    struct rp_record close = kit_record(RP_REC_CLOSE, 300);
    close.as.close.outcome = RP_OUT_DESCENDED;
    kit_add(&close, CAMP, 6);
    rp_episode_finish(&kit, 400);
    assert_true(kit.opened);
    assert_int_equal(kit.opening.label, RP_LABEL_HACE);
    assert_int_equal(kit.opening_from.happened_s, 200);
    assert_true(kit.closed);
    assert_int_equal(kit.close.outcome, RP_OUT_DESCENDED);
    kit_correct(7, 350, kit_ref(CAMP, 6), kit_ref(0, 0));
    kit_correct(8, 350, kit_ref(CAMP, 5), kit_ref(0, 0));
    rp_episode_finish(&kit, 400);
    assert_int_equal(kit.opening.label, RP_LABEL_AMS);
    assert_false(kit.closed);
    assert_int_equal(kit.close.outcome, 0);
    kit_correct(9, 350, kit_ref(CAMP, 1), kit_ref(0, 0));
    rp_episode_finish(&kit, 400);
    assert_false(kit.opened);
    assert_int_equal(kit.records, 6);
}

static void a_correction_voids_and_names_what_replaces(void **state)
{
    (void)state;
    for (int before = 0; before < 2; before++) {
        kit_start();
        struct rp_record wrong = kit_record(RP_REC_TREATMENT, 100);
        struct rp_record right = kit_record(RP_REC_TREATMENT, 100);
        if (before) {
            kit_correct(3, 200, kit_ref(CAMP, 1), kit_ref(CAMP, 2));
            rp_episode_finish(&kit, 300);
        }
        kit_add(&wrong, CAMP, 1);
        kit_add(&right, CAMP, 2);
        if (!before) {
            rp_episode_finish(&kit, 300);
            kit_correct(3, 200, kit_ref(CAMP, 1), kit_ref(CAMP, 2));
        }
        rp_episode_finish(&kit, 300);
        assert_int_equal(kit.doses.count, 2);
        assert_true(kit.doses.at[0].from.voided);
        assert_int_equal(kit.doses.at[0].from.replaced_by.origin, CAMP);
        assert_int_equal(kit.doses.at[0].from.replaced_by.seq, 2);
        assert_false(kit.doses.at[1].from.voided);
        assert_int_equal(kit.corrections.count, 1);
        assert_int_equal(kit.records, 3);
    }
}

static void a_correction_is_undone_by_a_newer_one_only(void **state)
{
    (void)state;
    kit_start();
    struct rp_record r = kit_record(RP_REC_TREATMENT, 100);
    kit_add(&r, CAMP, 1);
    kit_correct(2, 200, kit_ref(CAMP, 1), kit_ref(0, 0));
    kit_correct(3, 300, kit_ref(CAMP, 2), kit_ref(0, 0));
    rp_episode_finish(&kit, 400);
    assert_false(kit.doses.at[0].from.voided);
    assert_true(kit.corrections.at[0].from.voided);
    assert_false(kit.corrections.at[1].from.voided);
    /* Two that void each other: the newer one holds. */
    kit_start();
    kit_add(&r, CAMP, 1);
    kit_correct(2, 200, kit_ref(CAMP, 3), kit_ref(0, 0));
    kit_correct(3, 300, kit_ref(CAMP, 2), kit_ref(0, 0));
    rp_episode_finish(&kit, 400);
    assert_true(kit.corrections.at[0].from.voided);
    assert_false(kit.corrections.at[1].from.voided);
    /* Of two about one record the newest says what replaces it. */
    kit_start();
    kit_add(&r, CAMP, 1);
    kit_correct(4, 300, kit_ref(CAMP, 1), kit_ref(CAMP, 9));
    kit_correct(3, 200, kit_ref(CAMP, 1), kit_ref(CAMP, 8));
    rp_episode_finish(&kit, 400);
    assert_int_equal(kit.doses.at[0].from.replaced_by.seq, 9);
}

static void the_newest_status_counts_unless_voided(void **state)
{
    (void)state;
    kit_start();
    struct rp_record first = kit_status(100, 71, 0), second = kit_status(200, 17, 0);
    kit_add(&second, CAMP, 2);
    kit_add(&first, CAMP, 1);
    rp_episode_finish(&kit, 400);
    assert_true(kit.has_status);
    assert_int_equal(kit.status.spo2_pct.value, 17);
    kit_correct(3, 300, kit_ref(CAMP, 2), kit_ref(0, 0));
    rp_episode_finish(&kit, 400);
    assert_int_equal(kit.status.spo2_pct.value, 71);
    assert_int_equal(kit.status_from.ref.seq, 1);
    const struct rp_obs *last = rp_episode_last_obs(&kit, offsetof(struct rp_obs, spo2_pct), -1);
    assert_non_null(last);
    assert_int_equal(last->spo2_pct.value, 71);
    assert_int_equal(kit.obs.count, 2);
    assert_true(kit.obs.at[1].from.voided);
}

static void gaps_are_silences_of_the_camp(void **state)
{
    (void)state;
    kit_start();
    struct rp_record note = kit_record(RP_REC_NOTE, 10 * MIN);
    kit_add(&note, CAMP, 1);
    note.time_s = 20 * MIN;
    kit_add(&note, CAMP, 2);
    note.time_s = 50 * MIN; /* base talks: not word from the camp */
    kit_add(&note, BASE, 1);
    note.time_s = 75 * MIN;
    kit_add(&note, CAMP, 3);
    struct rp_record voice = kit_status(95 * MIN, 80, 0); /* a report taken by voice at base is */
    kit_add(&voice, BASE, 2);
    rp_episode_finish(&kit, 200 * MIN);
    struct rp_gap gaps[4];
    assert_int_equal(rp_episode_gaps(&kit, 20 * MIN, 200 * MIN, gaps, 4), 2);
    assert_int_equal(gaps[0].from_s, 20 * MIN);
    assert_int_equal(gaps[0].to_s, 75 * MIN);
    assert_int_equal(gaps[1].from_s, 95 * MIN);
    assert_int_equal(gaps[1].to_s, 200 * MIN);
    assert_int_equal(rp_episode_gaps(&kit, 20 * MIN, 200 * MIN, gaps, 1), 1);
    assert_int_equal(rp_episode_gaps(&kit, 105 * MIN, 200 * MIN, gaps, 4), 0);
    assert_int_equal(rp_episode_gaps(&kit, 105 * MIN - 1, 200 * MIN, gaps, 4), 1);
    assert_int_equal(rp_episode_gaps(&kit, 20 * MIN, 90 * MIN, gaps, 4), 1); /* a clock behind */
    struct rp_record close = kit_record(RP_REC_CLOSE, 96 * MIN);
    kit_add(&close, CAMP, 4);
    rp_episode_finish(&kit, 200 * MIN);
    assert_int_equal(rp_episode_gaps(&kit, 20 * MIN, 200 * MIN, gaps, 4), 1);
}

/* The newest word from the camp, and until when the next report is promised. */
static void the_next_word(void **state)
{
    (void)state;
    kit_start();
    assert_int_equal(rp_episode_word_s(&kit), 0);
    struct rp_record note = kit_record(RP_REC_NOTE, 50 * MIN);
    kit_add(&note, BASE, 1); /* base's own is none */
    assert_int_equal(rp_episode_word_s(&kit), 0);
    note.time_s = 20 * MIN;
    kit_add(&note, CAMP, 1);
    struct rp_record strokes = kit_record(RP_REC_PUMPING, 60 * MIN); /* nor is a pedal */
    strokes.as.pumping.strokes = 1;
    kit_add(&strokes, CAMP, 2);
    note.time_s = 10 * MIN;
    kit_add(&note, CAMP, 3);
    assert_int_equal(rp_episode_word_s(&kit), 20 * MIN);
    assert_int_equal(kit.latest_s, 50 * MIN); /* nor are strokes news of the patient */
    rp_episode_finish(&kit, 100 * MIN);
    assert_int_equal(rp_episode_next_report_s(&kit), 0); /* no report at all */
    struct rp_record report = kit_record(RP_REC_STATUS, 30 * MIN);
    kit_add(&report, CAMP, 4);
    rp_episode_finish(&kit, 100 * MIN);
    assert_int_equal(rp_episode_next_report_s(&kit), 0); /* one without a promise */
    report.time_s = 40 * MIN;
    report.as.status.next_min = 25;
    kit_add(&report, CAMP, 5);
    rp_episode_finish(&kit, 100 * MIN);
    assert_int_equal(rp_episode_next_report_s(&kit), 65 * MIN);
    struct rp_record handover = kit_record(RP_REC_HANDOVER, 60 * MIN);
    kit_add(&handover, BASE, 6);
    rp_episode_finish(&kit, 100 * MIN);
    assert_int_equal(rp_episode_next_report_s(&kit), 0);
    kit_correct(900, 61 * MIN, kit_ref(BASE, 6), kit_ref(0, 0));
    rp_episode_finish(&kit, 100 * MIN);
    assert_int_equal(rp_episode_next_report_s(&kit), 65 * MIN);
    struct rp_record close = kit_record(RP_REC_CLOSE, 62 * MIN);
    kit_add(&close, CAMP, 7);
    rp_episode_finish(&kit, 100 * MIN);
    assert_int_equal(rp_episode_next_report_s(&kit), 0);
}

/* A report so old that its repeat is no longer known for one, while the table of reports is full:
 * it is held already, so nothing gives way. */
static void a_repeat_beyond_memory_drops_nothing(void **state)
{
    (void)state;
    kit_start();
    for (uint32_t i = 0; i < RP_EP_REPORTS_MAX; i++) {
        struct rp_record r = kit_status(1000 + i, 70, 0);
        kit_add(&r, CAMP, 1 + i);
    }
    for (uint32_t i = 0; i < RP_EP_HEARD_MAX; i++) {
        struct rp_record r = kit_record(RP_REC_NOTE, 5000 + i);
        kit_add(&r, CAMP, 1000 + i);
    }
    struct rp_record again = kit_status(1100, 70, 0);
    kit_add(&again, CAMP, 101);
    assert_int_equal(kit.reports.count, RP_EP_REPORTS_MAX);
    assert_int_equal(kit.reports.older_dropped, 0);
    assert_int_equal(kit.obs_dropped, 0);
}

/* A kind of a newer version that came as far as here is counted and not folded. */
static void an_unknown_kind_is_only_counted(void **state)
{
    (void)state;
    kit_start();
    struct rp_record r = kit_record((enum rp_record_kind)200, 1000);
    kit_add(&r, CAMP, 1);
    assert_int_equal(kit.records, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_empty_episode_knows_nothing),
        cmocka_unit_test(records_of_other_episodes_are_refused),
        cmocka_unit_test(a_source_keeps_when_who_and_how),
        cmocka_unit_test(a_record_added_twice_counts_once),
        cmocka_unit_test(any_exercise_mark_sticks),
        cmocka_unit_test(a_full_table_keeps_the_newest),
        cmocka_unit_test(repeats_are_known_among_the_newest_records),
        cmocka_unit_test(entries_of_one_moment_are_in_log_order),
        cmocka_unit_test(background_is_folded_by_field),
        cmocka_unit_test(opening_and_close_are_the_newest_not_voided),
        cmocka_unit_test(a_correction_voids_and_names_what_replaces),
        cmocka_unit_test(a_correction_is_undone_by_a_newer_one_only),
        cmocka_unit_test(the_newest_status_counts_unless_voided),
        cmocka_unit_test(gaps_are_silences_of_the_camp),
        cmocka_unit_test(the_next_word),
        cmocka_unit_test(a_repeat_beyond_memory_drops_nothing),
        cmocka_unit_test(an_unknown_kind_is_only_counted),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
