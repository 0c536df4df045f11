#include "episode_kit.h"

static void expect(enum rp_evac_state evac_state, int request_seq)
{
    rp_episode_finish(&kit, 10000);
    assert_int_equal(kit.evac_state, evac_state);
    if (request_seq == 0) {
        assert_int_equal(kit.request_now, -1);
        return;
    }
    assert_true(kit.request_now >= 0);
    assert_int_equal(kit.requests.at[kit.request_now].from.ref.seq, request_seq);
}

static void answers_move_the_state_newest_wins(void **state)
{
    (void)state;
    kit_start();
    kit_request(1, 100, 0);
    expect(RP_EVAC_ASKED, 1);
    kit_answer(4, 400, RP_ANS_ACCEPTED, 1);
    expect(RP_EVAC_ACCEPTED, 1);
    kit_answer(2, 200, RP_ANS_SEEN, 1); /* older, arrives late */
    expect(RP_EVAC_ACCEPTED, 1);
    kit_answer(3, 300, RP_ANS_PASSED_ON, 1);
    expect(RP_EVAC_ACCEPTED, 1);
    kit_answer(5, 500, RP_ANS_ADVICE, 1); /* moves nothing */
    expect(RP_EVAC_ACCEPTED, 1);
    kit_answer(6, 600, RP_ANS_REFUSED, 1);
    expect(RP_EVAC_REFUSED, 1);
    kit_answer(7, 700, RP_ANS_PASSED_ON, 1);
    expect(RP_EVAC_PASSED_ON, 1);
    kit_answer(8, 800, RP_ANS_SEEN, 99); /* about something else */
    expect(RP_EVAC_PASSED_ON, 1);
    kit_correct(9, 900, kit_ref(BASE, 7), kit_ref(0, 0));
    expect(RP_EVAC_REFUSED, 1);
    kit_answer(10, 1000, RP_ANS_SEEN, 1); /* a second reader takes nothing back */
    expect(RP_EVAC_REFUSED, 1);
}

/* "Seen" twice, and an answer that tells no state between: still seen, by the newest. */
static void seen_is_the_newest_seen(void **state)
{
    (void)state;
    kit_start();
    kit_request(10, 1000, 0);
    kit_answer(20, 1100, RP_ANS_SEEN, 10);
    kit_answer(21, 1200, RP_ANS_ADVICE, 10);
    kit_answer(22, 1300, RP_ANS_SEEN, 10);
    kit_answer(23, 1400, RP_ANS_PLAN, 10);
    rp_episode_finish(&kit, 2000);
    expect(RP_EVAC_SEEN, 10);
}

static void a_revision_takes_over_with_the_answers_so_far(void **state)
{
    (void)state;
    kit_start();
    kit_request(1, 100, 0);
    kit_answer(2, 200, RP_ANS_ACCEPTED, 1);
    kit_request(3, 300, 1);
    expect(RP_EVAC_ACCEPTED, 3);
    kit_request(5, 500, 4); /* revision 4 is missing: what it revised is not known */
    expect(RP_EVAC_ASKED, 5);
    kit_request(4, 400, 3);
    expect(RP_EVAC_ACCEPTED, 5);
    kit_correct(6, 600, kit_ref(CAMP, 5), kit_ref(0, 0));
    expect(RP_EVAC_ACCEPTED, 4);
}

/* A request that repeats a conscious level goes with the report it was taken from. */
static void a_level_is_withdrawn_with_its_report(void **state)
{
    (void)state;
    kit_start();
    struct rp_record r = kit_record(RP_REC_EVACUATION, 200);
    r.as.evacuation.conscious = RP_FINDING_YES;
    kit_add(&r, CAMP, 2); /* typed, taken from no report */
    r.time_s = 300;
    r.as.evacuation.conscious_from = kit_ref(CAMP, 1);
    r.as.evacuation.revises = kit_ref(CAMP, 2);
    kit_add(&r, CAMP, 3);
    rp_episode_finish(&kit, 1000);
    assert_false(kit.requests.at[0].level_withdrawn);
    assert_false(kit.requests.at[1].level_withdrawn);
    kit_correct(5, 500, kit_ref(CAMP, 1), kit_ref(CAMP, 4)); /* the report need not be held */
    rp_episode_finish(&kit, 1000);
    assert_false(kit.requests.at[0].level_withdrawn);
    assert_true(kit.requests.at[1].level_withdrawn);
    kit_correct(6, 600, kit_ref(CAMP, 5), kit_ref(0, 0)); /* it was right after all */
    rp_episode_finish(&kit, 1000);
    assert_false(kit.requests.at[1].level_withdrawn);
}

/* An unsynchronised clock puts the revision before what it revises. */
static void a_revision_wins_against_clocks(void **state)
{
    (void)state;
    kit_start();
    kit_request(1, 500, 0);
    kit_request(2, 100, 1);
    expect(RP_EVAC_ASKED, 2);
    /* Two that revise each other: bad data, but a request stands. */
    kit_start();
    kit_request(1, 500, 2);
    kit_request(2, 100, 1);
    expect(RP_EVAC_ASKED, 1);
    kit_start();
    kit_request(1, 500, 1);
    expect(RP_EVAC_ASKED, 1);
}

static void a_cancel_ends_a_request_and_what_it_revised(void **state)
{
    (void)state;
    kit_start();
    kit_cancel(4, 400, 2); /* arrives first */
    kit_request(1, 100, 0);
    kit_request(2, 200, 1);
    kit_answer(3, 300, RP_ANS_ACCEPTED, 1);
    expect(RP_EVAC_CANCELLED, 0);
    assert_true(kit.requests.at[0].cancelled);
    assert_int_equal(kit.requests.at[0].cancel_from.ref.seq, 4);
    assert_string_equal(kit.requests.at[1].cancel_reason, "walking down");
    kit_correct(5, 500, kit_ref(CAMP, 4), kit_ref(0, 0)); /* not cancelled after all */
    expect(RP_EVAC_ACCEPTED, 2);
    assert_false(kit.requests.at[0].cancelled);
    assert_string_equal(kit.requests.at[0].cancel_reason, "");
}

static void a_cancel_never_ends_a_later_revision_or_another_request(void **state)
{
    (void)state;
    kit_start();
    kit_request(1, 100, 0);
    kit_request(2, 200, 1);
    kit_cancel(3, 300, 1);
    expect(RP_EVAC_ASKED, 2);
    kit_start();
    kit_request(1, 100, 0);
    kit_cancel(2, 200, 1);
    kit_request(3, 300, 0); /* asked anew */
    expect(RP_EVAC_ASKED, 3);
    kit_cancel(4, 400, 3);
    expect(RP_EVAC_CANCELLED, 0);
    /* A revision entered in error and cancelled leaves the first request standing. */
    kit_start();
    kit_request(1, 100, 0);
    kit_request(2, 200, 1);
    kit_cancel(3, 300, 2);
    kit_correct(4, 400, kit_ref(CAMP, 2), kit_ref(0, 0));
    expect(RP_EVAC_ASKED, 1);
}

static void handing_over_ends_what_was_asked_before(void **state)
{
    (void)state;
    kit_start();
    kit_request(1, 100, 0);
    kit_answer(2, 200, RP_ANS_ACCEPTED, 1);
    struct rp_record r = kit_record(RP_REC_HANDOVER, 300);
    strcpy(r.as.handover.team, "Valley Air 3");
    kit_add(&r, CAMP, 3);
    expect(RP_EVAC_HANDED_OVER, 1);
    assert_int_equal(kit.eta_answer, -1);
    kit_request(4, 400, 0); /* asked again after it: stands */
    expect(RP_EVAC_ASKED, 4);
    kit_correct(5, 500, kit_ref(CAMP, 4), kit_ref(0, 0));
    kit_correct(6, 500, kit_ref(CAMP, 3), kit_ref(0, 0));
    expect(RP_EVAC_ACCEPTED, 1);
}

static void a_missing_request_shows_through_the_status(void **state)
{
    (void)state;
    kit_start();
    struct rp_record r = kit_status(100, 71, 0);
    r.as.status.evac_state = RP_EVAC_ASKED;
    kit_add(&r, CAMP, 2);
    expect(RP_EVAC_ASKED, 0);
    kit_request(1, 50, 0);
    kit_cancel(3, 150, 1);
    expect(RP_EVAC_CANCELLED, 0);
}

static void add_eta(uint32_t seq, uint32_t time_s, uint32_t about_seq, uint32_t eta_s)
{
    struct rp_record r = kit_record(RP_REC_ANSWER, time_s);
    r.as.answer.kind = RP_ANS_ETA;
    r.as.answer.about = kit_ref(CAMP, about_seq);
    r.as.answer.has_eta = true;
    r.as.answer.eta_s = eta_s;
    kit_add(&r, BASE, seq);
}

static void expect_eta(uint32_t eta_s)
{
    rp_episode_finish(&kit, 10000);
    assert_true(kit.eta_answer >= 0);
    assert_int_equal(kit.answers.at[kit.eta_answer].what.eta_s, eta_s);
}

static void the_newest_eta_of_the_request_in_force(void **state)
{
    (void)state;
    kit_start();
    kit_request(1, 100, 0);
    add_eta(12, 250, 1, 9100);
    add_eta(11, 200, 1, 9000);
    expect_eta(9100);
    kit_request(2, 300, 1); /* a revision keeps the ETA */
    expect_eta(9100);
    kit_answer(13, 400, RP_ANS_REFUSED, 2);
    expect(RP_EVAC_REFUSED, 2);
    assert_int_equal(kit.eta_answer, -1);
    add_eta(14, 500, 2, 9500); /* another crew after the refusal */
    expect_eta(9500);
    kit_correct(3, 600, kit_ref(BASE, 14), kit_ref(0, 0));
    rp_episode_finish(&kit, 10000);
    assert_int_equal(kit.eta_answer, -1);
    kit_start();
    kit_request(1, 100, 0);
    add_eta(11, 200, 1, 9000);
    kit_cancel(2, 300, 1);
    kit_request(3, 400, 0);
    expect(RP_EVAC_ASKED, 3);
    assert_int_equal(kit.eta_answer, -1); /* it was for the cancelled one */
    add_eta(12, 500, 99, 9200);           /* about a status report: still a time to expect */
    expect_eta(9200);
}

static void an_answer_is_agreed_when_read_back(void **state)
{
    (void)state;
    kit_start();
    kit_request(1, 100, 0);
    kit_answer(1, 200, RP_ANS_PLAN, 1);
    kit_answer(2, 250, RP_ANS_ADVICE, 1);
    struct rp_record r = kit_record(RP_REC_READBACK, 300);
    r.as.readback.about = kit_ref(BASE, 1);
    kit_add(&r, CAMP, 2);
    rp_episode_finish(&kit, 10000);
    assert_true(kit.answers.at[0].read_back);
    assert_false(kit.answers.at[1].read_back);
    kit_correct(3, 400, kit_ref(CAMP, 2), kit_ref(0, 0));
    rp_episode_finish(&kit, 10000);
    assert_false(kit.answers.at[0].read_back);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(answers_move_the_state_newest_wins),
        cmocka_unit_test(seen_is_the_newest_seen),
        cmocka_unit_test(a_revision_takes_over_with_the_answers_so_far),
        cmocka_unit_test(a_level_is_withdrawn_with_its_report),
        cmocka_unit_test(a_revision_wins_against_clocks),
        cmocka_unit_test(a_cancel_ends_a_request_and_what_it_revised),
        cmocka_unit_test(a_cancel_never_ends_a_later_revision_or_another_request),
        cmocka_unit_test(handing_over_ends_what_was_asked_before),
        cmocka_unit_test(a_missing_request_shows_through_the_status),
        cmocka_unit_test(the_newest_eta_of_the_request_in_force),
        cmocka_unit_test(an_answer_is_agreed_when_read_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
