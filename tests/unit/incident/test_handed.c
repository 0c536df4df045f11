/* Who took the patient, and what that team may not know: ours. */
#include "episode_kit.h"

static void hand_over(uint32_t seq, uint32_t time_s, uint32_t ago_s)
{
    struct rp_record r = kit_record(RP_REC_HANDOVER, time_s);
    strcpy(r.as.handover.team, "Valley Air 3");
    r.ago_s = ago_s;
    kit_add(&r, BASE, seq);
}

static void dose(uint32_t seq, uint32_t time_s, uint32_t ago_s)
{
    struct rp_record r = kit_record(RP_REC_TREATMENT, time_s);
    strcpy(r.as.treatment.name, "dexamethasone");
    r.ago_s = ago_s;
    kit_add(&r, CAMP, seq);
}

static uint32_t late(void)
{
    rp_episode_finish(&kit, 100 * MIN);
    return rp_episode_late_count(&kit);
}

static void the_newest_handover_that_stands(void **state)
{
    (void)state;
    kit_start();
    dose(1, 10 * MIN, 0);
    assert_int_equal(late(), 0);
    assert_null(rp_episode_handed(&kit));
    assert_false(rp_episode_is_late(&kit, &kit.doses.at[0].from));
    hand_over(2, 20 * MIN, 0);
    hand_over(3, 30 * MIN, 0);
    rp_episode_finish(&kit, 100 * MIN);
    assert_int_equal(rp_episode_handed(&kit)->from.ref.seq, 3);
    kit_correct(4, 31 * MIN, kit_ref(BASE, 3), kit_ref(0, 0));
    rp_episode_finish(&kit, 100 * MIN);
    assert_int_equal(rp_episode_handed(&kit)->from.ref.seq, 2);
    kit_correct(5, 32 * MIN, kit_ref(BASE, 2), kit_ref(0, 0));
    rp_episode_finish(&kit, 100 * MIN);
    assert_null(rp_episode_handed(&kit));
}

static void what_the_team_may_not_know(void **state)
{
    (void)state;
    kit_start();
    dose(1, 10 * MIN, 0);
    hand_over(2, 20 * MIN, 5 * MIN); /* happened at 15, entered at 20 */
    assert_int_equal(late(), 0);
    assert_false(rp_episode_is_late(&kit, &kit.doses.at[0].from));
    assert_false(rp_episode_is_late(&kit, &kit.handovers.at[0].from)); /* itself */
    dose(3, 18 * MIN, 0); /* entered before the receipt, given after the patient had left */
    assert_int_equal(late(), 1);
    dose(4, 30 * MIN, 25 * MIN); /* given at 5, entered when they were gone */
    assert_int_equal(late(), 2);
    assert_true(rp_episode_is_late(&kit, &kit.doses.at[0].from));
    dose(5, 31 * MIN, 16 * MIN); /* given in the minute of the handover */
    assert_int_equal(late(), 3);
    dose(6, 40 * MIN, 0); /* entered and given later: counted once */
    assert_int_equal(late(), 4);
    struct rp_record fluids = kit_record(RP_REC_FLUIDS, 41 * MIN);
    fluids.ago_s = 30 * MIN; /* passed at 11, entered when they were gone */
    kit_add(&fluids, CAMP, 7);
    assert_int_equal(late(), 5);
    struct rp_record r = kit_record(RP_REC_HANDOVER, 19 * MIN); /* of the same sequence elsewhere */
    r.ago_s = 6 * MIN;
    kit_add(&r, CAMP, 2);
    rp_episode_finish(&kit, 100 * MIN);
    assert_false(rp_episode_is_late(&kit, &kit.handovers.at[0].from));
    r = kit_record(RP_REC_HANDOVER, 20 * MIN); /* another of the same log */
    r.ago_s = 7 * MIN;
    kit_add(&r, BASE, 1);
    rp_episode_finish(&kit, 100 * MIN);
    assert_false(rp_episode_is_late(&kit, &kit.handovers.at[0].from));
}

/* Within a log the sequence tells, even in the same second or by a clock that was set back; another
 * station's entry of the same second is one the team was not told. */
static void the_same_second(void **state)
{
    (void)state;
    static const struct {
        uint16_t origin;
        uint32_t seq, time_s;
        int late;
    } rows[] = {{BASE, 4, 20 * MIN, 0},     {BASE, 6, 20 * MIN, 1}, {BASE, 6, 19 * MIN, 1},
                {BASE, 4, 19 * MIN, 0},     {CAMP, 4, 20 * MIN, 1}, {CAMP, 6, 20 * MIN, 1},
                {CAMP, 6, 20 * MIN - 1, 0}, {CAMP, 4, 19 * MIN, 0}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        kit_start();
        hand_over(5, 20 * MIN, 0);
        struct rp_record r = kit_record(RP_REC_NOTE, rows[i].time_s);
        strcpy(r.as.note.text, "x");
        kit_add(&r, rows[i].origin, rows[i].seq);
        uint32_t count = late();
        if (count != (uint32_t)rows[i].late ||
            rp_episode_is_late(&kit, &kit.notes.at[0].from) != rows[i].late) {
            fail_msg("row %zu: %u late", i, count);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_newest_handover_that_stands),
        cmocka_unit_test(what_the_team_may_not_know),
        cmocka_unit_test(the_same_second),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
