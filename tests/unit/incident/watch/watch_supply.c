/* Rules of drugs, oxygen, the station and contradictions. Triggers: clinical references 6.4 H9,
 * H10, H15, B4, B7, B9 (ours). */
#include "watch_kit.h"

static void drug(void **state)
{
    (void)state;
    watch_start();
    watch_in.protocol = &watch_table;
    watch_quiet("drug", 110);
    watch_dose(110, "dexa", 8); /* under its other name; 6 h: due at 470 */
    watch_quiet("drug", 459);
    watch_fires("drug", 460, RP_SOUND_SOFT, "dexamethasone: given 01:50Z, interval over at 07:50Z");
    uint8_t subject = watch_at("drug", 460)->subject;
    assert_int_equal(watch_at("drug", 484)->sound, RP_SOUND_SOFT);
    watch_fires("drug", 485, RP_SOUND_LOUD,
                "dexamethasone: given 01:50Z, interval over since 07:50Z");
    assert_int_equal(watch_at("drug", 485)->subject, subject);
    watch_dose(486, "dexamethasone", 4);
    watch_clears("drug", 487);
    watch_dose(490, "sildenafil", 50); /* no interval in the table: never due */
    watch_quiet("drug", 800);
    watch_in.protocol = NULL;
    watch_quiet("drug", 2000);
    watch_in.protocol = &watch_table;
    watch_condition(2001, RP_COND_DEAD);
    watch_quiet("drug", 2002);
}

static void two_drugs_are_two_alarms(void **state)
{
    (void)state;
    watch_start();
    watch_in.protocol = &watch_table;
    watch_dose(110, "nifedipine", 30);
    watch_dose(110, "acetazolamide", 250);
    assert_non_null(watch_at("drug", 900));
    size_t count = 0, first = 0;
    for (size_t i = 0; i < watch_out.count; i++) {
        if (strcmp(watch_out.at[i].rule->word, "drug") == 0) {
            first = count++ == 0 ? i : first;
        }
    }
    assert_int_equal(count, 2);
    assert_int_equal(watch_out.at[first].since_s, watch_out.at[first + 1].since_s);
    assert_int_not_equal(watch_out.at[first].subject, watch_out.at[first + 1].subject);
}

static struct rp_record oxygen(uint32_t minute, enum rp_oxygen_action action, int flow_dlpm,
                               const char *cylinder, int bar, int water_dl)
{
    struct rp_record r = kit_record(RP_REC_OXYGEN, minute * MIN);
    r.as.oxygen.action = (uint8_t)action;
    strcpy(r.as.oxygen.cylinder, cylinder);
    if (flow_dlpm >= 0) {
        r.as.oxygen.flow_dlpm = kit_value(flow_dlpm);
    }
    if (bar >= 0) {
        r.as.oxygen.cylinder_bar = kit_value(bar);
    }
    if (water_dl >= 0) {
        r.as.oxygen.water_dl = kit_value(water_dl);
    }
    return r;
}

static void add_oxygen(uint32_t minute, enum rp_oxygen_action action, int flow_dlpm,
                       const char *cylinder, int bar, int water_dl)
{
    struct rp_record r = oxygen(minute, action, flow_dlpm, cylinder, bar, water_dl);
    watch_add(&r);
}

static uint32_t left_min(uint32_t minute)
{
    struct rp_oxygen_left left;
    rp_episode_finish(&kit, minute * MIN);
    rp_oxygen_left_of(&kit, minute * MIN, &left);
    return left.known ? left.left_s / 60 : UINT32_MAX;
}

/* 4 L at 210 and 160 bar, 10 bar reserve, 3 L/min: 466 min (worked example of the clinical
 * references 2.5). */
static void oxygen_left(void **state)
{
    (void)state;
    watch_start();
    assert_int_equal(left_min(100), UINT32_MAX);
    add_oxygen(100, RP_O2_READING, -1, "B", 160, 40);
    assert_int_equal(left_min(100), UINT32_MAX); /* nothing flows */
    add_oxygen(100, RP_O2_START, 30, "A", 210, 40);
    assert_int_equal(left_min(100), 466);
    assert_int_equal(left_min(200), 366);
    add_oxygen(200, RP_O2_CHANGE, 15, "a", -1, -1); /* half the flow, names aside of case */
    assert_int_equal(left_min(200), 733);
    add_oxygen(210, RP_O2_CHANGE, -1, "B", -1, -1); /* the other cylinder, the same flow */
    assert_int_equal(left_min(210), 723);
    add_oxygen(220, RP_O2_READING, -1, "B", 50, -1); /* it was emptier than thought */
    /* 8000 - 3000 - 150 left in A, 1600 in B, tenths of a litre, at 1.5 L/min */
    assert_int_equal(left_min(220), 430);
    add_oxygen(225, RP_O2_START, -1, "B", -1, -1); /* begun anew, and nobody said how much */
    assert_int_equal(left_min(225), UINT32_MAX);
    add_oxygen(230, RP_O2_STOP, -1, "", -1, -1);
    assert_int_equal(left_min(230), UINT32_MAX);
    add_oxygen(240, RP_O2_START, -1, "B", -1, -1); /* a flow that nobody said */
    assert_int_equal(left_min(240), UINT32_MAX);
    add_oxygen(241, RP_O2_CHANGE, -1, "B", -1, -1);
    assert_int_equal(left_min(241), UINT32_MAX);
    add_oxygen(242, RP_O2_CHANGE, 10, "C", -1, 40); /* a cylinder nobody read */
    assert_int_equal(left_min(242), UINT32_MAX);
    kit_correct(900, 243 * MIN, watch_last(), kit_ref(0, 0));
    add_oxygen(244, RP_O2_CHANGE, 10, "D", 100, -1); /* of unknown size */
    assert_int_equal(left_min(244), UINT32_MAX);
    add_oxygen(245, RP_O2_CHANGE, 0, "B", -1, -1);
    assert_int_equal(left_min(245), UINT32_MAX); /* no flow lasts for ever */
}

static void oxygen_of_one_nameless_cylinder(void **state)
{
    (void)state;
    watch_start();
    add_oxygen(100, RP_O2_START, 20, "", 110, 20); /* 100 bar x 2 L at 2 L/min: 100 min */
    assert_int_equal(left_min(100), 100);
    assert_int_equal(left_min(150), 50);
    assert_int_equal(left_min(300), 0);
    add_oxygen(300, RP_O2_READING, -1, "", 60, -1);
    assert_int_equal(left_min(300), 50);
}

static void many_cylinders(void **state)
{
    (void)state;
    watch_start();
    char name[] = "a";
    add_oxygen(100, RP_O2_READING, -1, "first", 210, 40);
    for (char c = 'a'; c < 'a' + 13; c++) { /* twelve are kept */
        name[0] = c;
        add_oxygen(101, RP_O2_READING, -1, name, 11, 10);
    }
    add_oxygen(102, RP_O2_START, 10, "m", -1, -1);
    assert_int_equal(left_min(102), 12); /* 1 L each */
    add_oxygen(103, RP_O2_READING, -1, "n", 11, 10);
    assert_int_equal(left_min(103), 11); /* m runs, another gave way */
}

static void oxygen_low(void **state)
{
    (void)state;
    watch_start();
    watch_quiet("oxygen", 100);
    add_oxygen(100, RP_O2_START, 20, "A", 110, 20); /* 100 min */
    watch_quiet("oxygen", 139);
    watch_fires("oxygen", 140, RP_SOUND_LOUD, "oxygen for 60 min at this flow, until 03:20Z");
    assert_int_equal(watch_at("oxygen", 150)->since_s, 140 * MIN);
    watch_fires("oxygen", 170, RP_SOUND_LOUD, "oxygen for 30 min at this flow, until 03:20Z");
    assert_int_equal(watch_at("oxygen", 170)->since_s, 170 * MIN);
    watch_fires("oxygen", 190, RP_SOUND_LOUD, "oxygen for 10 min at this flow, until 03:20Z");
    add_oxygen(191, RP_O2_CHANGE, 20, "B", 200, 40);
    watch_clears("oxygen", 192);
    add_oxygen(193, RP_O2_CHANGE, 250, "B", -1, -1);
    assert_non_null(watch_at("oxygen", 194));
    watch_condition(195, RP_COND_DEAD);
    watch_quiet("oxygen", 196);
}

static void oxygen_until_arrival(void **state)
{
    (void)state;
    static const char *const rules[] = {"oxygen-eta", "oxygen-eta-base"};
    for (size_t i = 0; i < 2; i++) {
        watch_start();
        add_oxygen(100, RP_O2_START, 20, "A", 110, 20); /* until 200 */
        watch_request(101);
        struct rp_record_ref request = watch_last();
        watch_quiet(rules[i], 102);
        watch_answer(103, RP_ANS_ETA, request, 200);
        watch_quiet(rules[i], 104);
        watch_answer(105, RP_ANS_ETA, request, 201);
        watch_fires(rules[i], 106, RP_SOUND_LOUD,
                    "oxygen until 03:20Z at this flow, arrival expected 03:21Z");
        assert_int_equal(watch_at(rules[i], 106)->since_s, 105 * MIN);
        add_oxygen(110, RP_O2_CHANGE, 10, "", -1, -1);
        watch_clears(rules[i], 111);
        add_oxygen(112, RP_O2_CHANGE, 50, "A", 110, -1);
        assert_int_equal(watch_at(rules[i], 113)->since_s, 112 * MIN); /* a newer reading */
        assert_null(watch_at(rules[i], 202)); /* the time has passed: another rule's business */
        watch_condition(114, RP_COND_DEAD);
        watch_quiet(rules[i], 115);
    }
}

static void station(void **state)
{
    (void)state;
    watch_start();
    watch_quiet("clock", 110);
    watch_quiet("disk", 110);
    watch_in.station.clock_unsynced = watch_in.station.store_failing = true;
    watch_fires("clock", 111, RP_SOUND_SOFT, "this clock is not synchronised: times may be wrong");
    watch_fires("disk", 111, RP_SOUND_LOUD, "entries could not be written to the database");
    watch_condition(112, RP_COND_DEAD);
    watch_quiet("clock", 113);
    assert_non_null(watch_at("disk", 113));
    watch_in.station.clock_unsynced = watch_in.station.store_failing = false;
    watch_clears("clock", 114);
    watch_clears("disk", 114);
}

static void radio(void **state)
{
    (void)state;
    static const char *const rules[] = {"radio", "radio-base"};
    for (size_t i = 0; i < 2; i++) {
        watch_start();
        watch_quiet(rules[i], 110);
        watch_in.station.has_radio_lost = true;
        watch_in.station.radio_lost_s = 110 * MIN;
        watch_quiet(rules[i], 114);
        watch_fires(rules[i], 115, RP_SOUND_SOFT, "the modem has not answered for 5 min");
        watch_in.station.has_radio_lost = false;
        watch_clears(rules[i], 116);
        watch_in.station.has_radio_lost = true;
        watch_condition(117, RP_COND_DEAD);
        watch_quiet(rules[i], 118);
    }
}

static void dose_twice(void **state)
{
    (void)state;
    watch_start();
    watch_quiet("dose-twice", 101);
    watch_dose(110, "dexamethasone", 8);
    watch_dose(141, "Dexamethasone", 4); /* without a table: half an hour */
    watch_quiet("dose-twice", 142);
    watch_dose(150, "DEXAMETHASONE", 4);
    watch_fires("dose-twice", 151, RP_SOUND_LOUD, "DEXAMETHASONE given 02:21Z and 02:30Z");
    kit_correct(900, 151 * MIN, watch_last(), kit_ref(0, 0));
    watch_clears("dose-twice", 152);
    watch_in.protocol = &watch_table; /* with it: half of 6 h, 01:50 and 02:21 */
    watch_fires("dose-twice", 153, RP_SOUND_LOUD, "Dexamethasone given 01:50Z and 02:21Z");
    watch_start();
    watch_in.protocol = &watch_table;
    watch_dose(110, "sildenafil", 50); /* in the table without an interval */
    watch_dose(139, "sildenafil", 50);
    assert_non_null(watch_at("dose-twice", 140));
    watch_start();
    watch_dose(110, "ondansetron", 4);
    struct rp_record r = kit_record(RP_REC_TREATMENT, 112 * MIN);
    r.as.treatment.kind = RP_TREAT_DRUG;
    strcpy(r.as.treatment.name, "ondansetron");
    r.as.treatment.refused = true; /* the patient did not take it */
    watch_add(&r);
    watch_quiet("dose-twice", 113);
    r.as.treatment.refused = false;
    strcpy(r.as.treatment.confirmed, "Jory"); /* a second person stood for it */
    watch_add(&r);
    watch_quiet("dose-twice", 114);
    r.as.treatment.confirmed[0] = '\0';
    r.as.treatment.kind = RP_TREAT_OTHER; /* hot bottles may come often */
    watch_add(&r);
    watch_quiet("dose-twice", 115);
    watch_dose(116, "ibuprofen", 400);
    watch_quiet("dose-twice", 117);
    watch_dose(118, "ondansetron", 4);
    assert_non_null(watch_at("dose-twice", 119));
    watch_condition(120, RP_COND_DEAD);
    watch_quiet("dose-twice", 121);
}

/* The camp is told too: base may have entered the other one, taken by voice. */
static void dose_too_soon(void **state)
{
    (void)state;
    watch_start();
    watch_dose(110, "nifedipine", 20);
    watch_quiet("dose-soon", 111);
    struct rp_record r = kit_record(RP_REC_TREATMENT, 115 * MIN);
    r.as.treatment.kind = RP_TREAT_DRUG;
    strcpy(r.as.treatment.name, "nifedipine");
    watch_add_at(&r, BASE);
    watch_fires("dose-soon", 116, RP_SOUND_LOUD, "nifedipine given 01:50Z and 01:55Z");
    kit_correct(900, 117 * MIN, kit_ref(BASE, watch_last().seq), kit_ref(0, 0));
    watch_clears("dose-soon", 118);
}

static void altitude(void **state)
{
    (void)state;
    watch_start(); /* 5480 m */
    watch_quiet("altitude", 101);
    struct rp_record r = kit_record(RP_REC_EVACUATION, 110 * MIN);
    watch_add(&r);
    watch_quiet("altitude", 111); /* no height said */
    r.as.evacuation.altitude = (struct rp_altitude){true, 4980, RP_ALT_MAP};
    r.time_s = 112 * MIN;
    watch_add(&r);
    watch_quiet("altitude", 113);
    r.as.evacuation.altitude.metres = 4979;
    r.time_s = 114 * MIN;
    watch_add(&r);
    watch_fires("altitude", 115, RP_SOUND_LOUD, "opened at 5480 m, request says 4979 m");
    r.as.evacuation.altitude.metres = 5981;
    r.time_s = 116 * MIN;
    watch_add(&r);
    watch_fires("altitude", 117, RP_SOUND_LOUD, "opened at 5480 m, request says 5981 m");
    struct rp_record opening = kit_record(RP_REC_EPISODE, 118 * MIN);
    watch_add(&opening); /* the opening's height is taken back */
    watch_clears("altitude", 119);
    opening.time_s = 120 * MIN;
    opening.as.opened.altitude = (struct rp_altitude){true, 5480, RP_ALT_GPS};
    watch_add(&opening);
    assert_non_null(watch_at("altitude", 121));
    watch_condition(122, RP_COND_DEAD);
    watch_quiet("altitude", 123);
}

static void time_ahead(void **state)
{
    (void)state;
    kit_start();
    memset(&watch_in, 0, sizeof watch_in);
    watch_in.places = RP_WATCH_BASE;
    watch_quiet("time", 100); /* nothing heard */
    watch_condition(110, RP_COND_SAME);
    watch_quiet("time", 108);
    assert_null(watch_at_s("time", 108 * MIN));
    assert_non_null(watch_at_s("time", 108 * MIN - 1));
    watch_fires("time", 100, RP_SOUND_LOUD,
                "record of station 7 from 01:50Z, 10 min ahead of "
                "this clock");
    watch_clears("time", 109);
    watch_condition(300, RP_COND_DEAD);
    watch_quiet("time", 200);
}

static void opening_again(uint32_t minute, enum rp_sex sex, uint8_t age_y)
{
    struct rp_record r = kit_record(RP_REC_EPISODE, minute * MIN);
    strcpy(r.as.opened.patient, "M. Tarn");
    r.as.opened.label = RP_LABEL_HACE;
    r.as.opened.sex = (uint8_t)sex;
    r.as.opened.has_age = true;
    r.as.opened.age_y = age_y;
    watch_add(&r);
}

static void contradiction(void **state)
{
    (void)state;
    watch_start();
    opening_again(101, RP_SEX_MALE, 34);
    watch_quiet("contradiction", 102);
    opening_again(103, RP_SEX_FEMALE, 34);
    struct rp_record_ref wrong = watch_last();
    watch_fires("contradiction", 104, RP_SOUND_LOUD, "two sexes of the patient");
    opening_again(105, RP_SEX_FEMALE, 43); /* the newest is told */
    watch_fires("contradiction", 106, RP_SOUND_LOUD, "two ages of the patient");
    opening_again(106, RP_SEX_MALE, 43); /* of two as new the first of the list */
    watch_fires("contradiction", 106, RP_SOUND_LOUD, "two sexes of the patient");
    kit_correct(902, 107 * MIN, watch_last(), kit_ref(0, 0));
    kit_correct(903, 107 * MIN, kit_ref(CAMP, watch_last().seq - 1), kit_ref(0, 0));
    kit_correct(900, 107 * MIN, watch_last(), kit_ref(0, 0));
    kit_correct(901, 107 * MIN, wrong, kit_ref(0, 0));
    watch_clears("contradiction", 108);
    watch_dose(109, "dexamethasone", 8); /* what has a rule of its own is not told twice */
    watch_dose(110, "dexamethasone", 8);
    struct rp_record r = kit_record(RP_REC_EVACUATION, 111 * MIN);
    r.as.evacuation.altitude = (struct rp_altitude){true, 3000, RP_ALT_MAP};
    watch_add(&r);
    watch_condition(300, RP_COND_SAME);
    watch_quiet("contradiction", 112);
    assert_non_null(watch_at("dose-twice", 112));
    opening_again(301, RP_SEX_FEMALE, 34);
    assert_non_null(watch_at("contradiction", 302));
    watch_condition(303, RP_COND_DEAD);
    watch_quiet("contradiction", 304);
}

const struct CMUnitTest watch_supply_tests[] = {
    cmocka_unit_test(contradiction),
    cmocka_unit_test(drug),
    cmocka_unit_test(two_drugs_are_two_alarms),
    cmocka_unit_test(oxygen_left),
    cmocka_unit_test(oxygen_of_one_nameless_cylinder),
    cmocka_unit_test(many_cylinders),
    cmocka_unit_test(oxygen_low),
    cmocka_unit_test(oxygen_until_arrival),
    cmocka_unit_test(station),
    cmocka_unit_test(radio),
    cmocka_unit_test(dose_twice),
    cmocka_unit_test(dose_too_soon),
    cmocka_unit_test(altitude),
    cmocka_unit_test(time_ahead),
};
const size_t watch_supply_count = sizeof watch_supply_tests / sizeof watch_supply_tests[0];
