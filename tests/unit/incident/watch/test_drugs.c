/* Doses against the protocol table. The figures are those of the clinical references 1.3:
 * dexamethasone 8 mg, then 4 mg each 6 h (Med J Armed Forces India; pararescue handbook);
 * nifedipine 30 mg each 12 h (CDC 2024 as quoted); never two pulmonary vasodilators (from memory);
 * acetazolamide and sulfa allergy (pararescue handbook). */
#include "watch_kit.h"

static struct rp_dose_check check;

static struct rp_rec_treatment dose(const char *name, uint32_t milli, enum rp_dose_unit unit)
{
    struct rp_rec_treatment t;
    memset(&t, 0, sizeof t);
    t.kind = milli > 0 ? RP_TREAT_DRUG : RP_TREAT_OTHER;
    strcpy(t.name, name);
    t.has_dose = milli > 0;
    t.dose_milli = milli;
    t.dose_unit = (uint8_t)unit;
    t.route = RP_ROUTE_ORAL;
    return t;
}

static uint8_t judge(const struct rp_protocol *table, const char *name, uint32_t milli,
                     uint32_t minute)
{
    struct rp_rec_treatment t = dose(name, milli, RP_DOSE_MG);
    rp_episode_finish(&kit, minute * MIN);
    rp_dose_judge(table, &kit, &t, minute * MIN, &check);
    return check.flags;
}

static void drugs_are_found_by_any_name(void **state)
{
    (void)state;
    assert_ptr_equal(rp_drug_find(&watch_table, "Dexamethasone"), &watch_table.drugs[0]);
    assert_ptr_equal(rp_drug_find(&watch_table, "DEXA"), &watch_table.drugs[0]);
    assert_null(rp_drug_find(&watch_table, "dex"));
    assert_null(rp_drug_find(&watch_table, ""));
    assert_null(rp_drug_find(NULL, "dexamethasone"));
}

/* A short or misspelt name is not left unchecked. */
static void names_that_are_near(void **state)
{
    (void)state;
    static const struct {
        const char *name, *near;
    } rows[] = {{"dexamethason", "dexamethasone"},
                {"DEXAmetasone", "dexamethasone"},
                {"nif", "nifedipine"},
                {"nife", "nifedipine"},
                {"nifx", NULL},
                {"ni", NULL},
                {"", NULL},
                {"dexa", NULL}, /* its other name */
                {"Nifedipine", NULL},
                {"ibuprofen", NULL}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct rp_drug *near = rp_drug_near(&watch_table, rows[i].name);
        if ((near == NULL) != (rows[i].near == NULL) ||
            (near != NULL && strcmp(near->name, rows[i].near) != 0)) {
            fail_msg("%s", rows[i].name);
        }
    }
    assert_null(rp_drug_near(NULL, "dexamethason"));
}

static void early_and_double(void **state)
{
    (void)state;
    watch_start();
    assert_int_equal(judge(&watch_table, "dexamethasone", 8000, 110), 0);
    assert_false(check.has_last);
    watch_dose(110, "dexamethasone", 8);
    assert_int_equal(judge(&watch_table, "dexa", 4000, 110 + 179), RP_DOSE_DOUBLE);
    assert_int_equal(check.last_s, 110 * MIN);
    assert_int_equal(check.due_s, 470 * MIN);
    assert_int_equal(judge(&watch_table, "dexa", 4000, 110 + 180), RP_DOSE_EARLY);
    assert_int_equal(judge(&watch_table, "dexa", 4000, 110 + 359), RP_DOSE_EARLY);
    assert_int_equal(judge(&watch_table, "dexa", 4000, 110 + 360), 0);
    /* A late entry is judged against the dose after it too. */
    watch_dose(800, "dexamethasone", 4);
    assert_int_equal(judge(&watch_table, "dexamethasone", 4000, 700), RP_DOSE_DOUBLE);
    assert_int_equal(check.last_s, 800 * MIN);
    assert_int_equal(judge(&watch_table, "dexamethasone", 4000, 120), RP_DOSE_DOUBLE);
    assert_int_equal(check.last_s, 110 * MIN);
    kit_correct(900, 801 * MIN, watch_last(), kit_ref(0, 0));
    assert_int_equal(judge(&watch_table, "dexamethasone", 4000, 700), 0);
}

static void without_an_interval_only_double_is_judged(void **state)
{
    (void)state;
    watch_start();
    watch_dose(110, "ondansetron", 4);
    watch_dose(110, "sildenafil", 50);
    assert_int_equal(judge(&watch_table, "Ondansetron", 4000, 139), RP_DOSE_DOUBLE);
    assert_null(check.drug);
    assert_int_equal(check.due_s, 140 * MIN);
    assert_int_equal(judge(&watch_table, "ondansetron", 4000, 140), 0);
    assert_int_equal(judge(NULL, "ondansetron", 4000, 139), RP_DOSE_DOUBLE);
    assert_int_equal(judge(&watch_table, "sildenafil", 50000, 139), RP_DOSE_DOUBLE);
    assert_int_equal(judge(&watch_table, "sildenafil", 50000, 140), 0);
    struct rp_rec_treatment bottles = dose("hot bottles", 0, RP_DOSE_NONE);
    struct rp_record r = kit_record(RP_REC_TREATMENT, 111 * MIN);
    r.as.treatment = bottles;
    watch_add(&r);
    rp_episode_finish(&kit, 112 * MIN);
    rp_dose_judge(&watch_table, &kit, &bottles, 112 * MIN, &check);
    assert_int_equal(check.flags, 0);
    r.as.treatment = dose("dexamethasone", 4000, RP_DOSE_MG);
    r.as.treatment.refused = true;
    watch_add(&r);
    assert_int_equal(judge(&watch_table, "dexamethasone", 4000, 113), 0);
}

static void amounts(void **state)
{
    (void)state;
    watch_start();
    assert_int_equal(judge(&watch_table, "dexamethasone", 8000, 110), 0);
    assert_int_equal(judge(&watch_table, "dexamethasone", 8001, 110), RP_DOSE_OVER_SINGLE);
    struct rp_rec_treatment t = dose("dexamethasone", 8, RP_DOSE_G); /* 0.008 g */
    rp_dose_judge(&watch_table, &kit, &t, 110 * MIN, &check);
    assert_int_equal(check.flags, 0);
    assert_int_equal(check.day_milli, 8000);
    t = dose("dexamethasone", 8000001, RP_DOSE_MCG);
    rp_dose_judge(&watch_table, &kit, &t, 110 * MIN, &check);
    assert_int_equal(check.flags, RP_DOSE_OVER_SINGLE); /* rounded up */
    t = dose("dexamethasone", 2000, RP_DOSE_TABLET);
    rp_dose_judge(&watch_table, &kit, &t, 110 * MIN, &check);
    assert_true(check.amount_unknown);
    t = dose("dexamethasone", 2000, (enum rp_dose_unit)99); /* of a newer version */
    rp_dose_judge(&watch_table, &kit, &t, 110 * MIN, &check);
    assert_true(check.amount_unknown);
    t = dose("dexamethasone", 0, RP_DOSE_NONE);
    rp_dose_judge(&watch_table, &kit, &t, 110 * MIN, &check);
    assert_true(check.amount_unknown);
    /* 8 + 4 + 4 + 4 = 20 mg in 24 h is the most; a fifth within the day is above it. */
    watch_dose(0, "dexamethasone", 8);
    watch_dose(360, "dexamethasone", 4);
    watch_dose(720, "dexamethasone", 4);
    assert_int_equal(judge(&watch_table, "dexamethasone", 4000, 1080), 0);
    assert_int_equal(check.day_milli, 20000);
    watch_dose(1080, "dexa", 4);
    assert_int_equal(judge(&watch_table, "dexamethasone", 4000, 1439),
                     RP_DOSE_EARLY | RP_DOSE_OVER_DAY);
    assert_int_equal(judge(&watch_table, "dexamethasone", 4000, 1440),
                     0); /* the first is a day old */
    assert_int_equal(check.day_milli, 16000);
    assert_int_equal(judge(&watch_table, "dexamethasone", 8000, 1440), 0);
    watch_dose(5000, "dexamethasone", 4); /* days later */
    assert_int_equal(judge(&watch_table, "dexamethasone", 8000, 1440), 0);
    /* One that was entered as an unknown amount counts as nothing, not as safe. */
    struct rp_record r = kit_record(RP_REC_TREATMENT, 1500 * MIN);
    r.as.treatment = dose("dexamethasone", 0, RP_DOSE_NONE);
    watch_add(&r);
    assert_int_equal(judge(&watch_table, "dexamethasone", 4000, 1860), 0);
    assert_int_equal(check.day_milli, 4000 + 4000 + 4000);
    watch_start();
    watch_table.drugs[0].unit = RP_DOSE_MCG;
    t = dose("dexamethasone", 10000000, RP_DOSE_G); /* more than the count holds */
    rp_episode_finish(&kit, 110 * MIN);
    rp_dose_judge(&watch_table, &kit, &t, 110 * MIN, &check);
    assert_int_equal(check.day_milli, UINT32_MAX);
    watch_table.drugs[0].unit = RP_DOSE_TABLET; /* a table that counts in tablets */
    assert_int_equal(judge(&watch_table, "dexamethasone", 1000, 110), 0);
    assert_true(check.amount_unknown);
    watch_table.drugs[0].unit = RP_DOSE_MG;
}

static void routes(void **state)
{
    (void)state;
    watch_start();
    rp_episode_finish(&kit, 110 * MIN);
    struct rp_rec_treatment t = dose("dexamethasone", 4000, RP_DOSE_MG);
    t.route = RP_ROUTE_RECTAL;
    rp_dose_judge(&watch_table, &kit, &t, 110 * MIN, &check);
    assert_int_equal(check.flags, RP_DOSE_ROUTE);
    t.route = RP_ROUTE_IM;
    rp_dose_judge(&watch_table, &kit, &t, 110 * MIN, &check);
    assert_int_equal(check.flags, 0);
    t.route = RP_ROUTE_UNSAID;
    rp_dose_judge(&watch_table, &kit, &t, 110 * MIN, &check);
    assert_int_equal(check.flags, 0);
    t = dose("sildenafil", 50000, RP_DOSE_MG); /* the table says no route */
    rp_dose_judge(&watch_table, &kit, &t, 110 * MIN, &check);
    assert_int_equal(check.flags, 0);
}

static void allergic_to(const char *text, enum rp_asked asked)
{
    watch_start();
    struct rp_record r = kit_record(RP_REC_BACKGROUND, 101 * MIN);
    r.as.background.allergies.state = asked;
    strcpy(r.as.background.allergies.text, text);
    watch_add(&r);
}

static void allergies(void **state)
{
    (void)state;
    allergic_to("Sulfa drugs: rash", RP_KNOWN);
    assert_int_equal(judge(&watch_table, "acetazolamide", 250000, 110), RP_DOSE_ALLERGY);
    assert_int_equal(judge(&watch_table, "dexamethasone", 4000, 110), 0);
    allergic_to("swollen by DEXA", RP_KNOWN);
    assert_int_equal(judge(&watch_table, "dexamethasone", 4000, 110), RP_DOSE_ALLERGY);
    allergic_to("dexamethasone", RP_KNOWN);
    assert_int_equal(judge(&watch_table, "dexa", 4000, 110), RP_DOSE_ALLERGY);
    strcpy(watch_table.drugs[3].also[0], "diuretic A");
    allergic_to("acetazolamide", RP_KNOWN); /* given under its other name */
    assert_int_equal(judge(&watch_table, "diuretic A", 250000, 110), RP_DOSE_ALLERGY);
    assert_int_equal(judge(&watch_table, "dexamethasone", 4000, 110), 0);
    watch_table.drugs[3].also[0][0] = '\0';
    allergic_to("penicillin", RP_KNOWN);
    assert_int_equal(judge(&watch_table, "Penicillin", 500000, 110), RP_DOSE_ALLERGY);
    assert_int_equal(judge(NULL, "penicillin", 500000, 110), RP_DOSE_ALLERGY);
    assert_int_equal(judge(NULL, "", 500000, 110), 0);
    allergic_to("", RP_NONE_KNOWN);
    assert_int_equal(judge(&watch_table, "acetazolamide", 250000, 110), 0);
    allergic_to("sulfa: rash", RP_KNOWN);
    struct rp_record later = kit_record(RP_REC_BACKGROUND, 102 * MIN);
    later.as.background.allergies.state = RP_NONE_KNOWN;
    struct rp_record_ref sulfa = watch_last();
    watch_add(&later); /* a conflict: the first answer counts until a correction takes it away */
    assert_int_equal(judge(&watch_table, "acetazolamide", 250000, 110), RP_DOSE_ALLERGY);
    kit_correct(900, 103 * MIN, sulfa, kit_ref(0, 0));
    assert_int_equal(judge(&watch_table, "acetazolamide", 250000, 110), 0);
}

static void two_vasodilators(void **state)
{
    (void)state;
    watch_start();
    watch_dose(110, "nifedipine", 30);
    watch_dose(110, "ondansetron", 4);
    watch_dose(111, "dexamethasone", 8);
    assert_int_equal(judge(&watch_table, "sildenafil", 50000, 111), RP_DOSE_VASODILATORS);
    assert_string_equal(check.other, "nifedipine");
    assert_int_equal(judge(&watch_table, "nifedipine", 30000, 830), 0); /* itself is no pair */
    assert_int_equal(judge(&watch_table, "sildenafil", 50000, 110 + 1439), RP_DOSE_VASODILATORS);
    assert_int_equal(judge(&watch_table, "sildenafil", 50000, 110 + 1440), 0);
    kit_correct(900, 120 * MIN, kit_ref(CAMP, 13), kit_ref(0, 0));
    assert_int_equal(judge(&watch_table, "sildenafil", 50000, 130), 0);
}

static void due(void **state)
{
    (void)state;
    struct rp_drug_due rows[RP_DRUGS_MAX];
    watch_start();
    assert_int_equal(rp_drugs_due(&watch_table, &kit, rows), 0);
    watch_dose(110, "dexa", 8);
    watch_dose(120, "sildenafil", 50);
    watch_dose(130, "nifedipine", 30);
    watch_dose(140, "dexamethasone", 4);
    rp_episode_finish(&kit, 200 * MIN);
    assert_int_equal(rp_drugs_due(NULL, &kit, rows), 0);
    assert_int_equal(rp_drugs_due(&watch_table, &kit, rows), 2);
    assert_string_equal(rows[0].drug->name, "dexamethasone");
    assert_int_equal(rows[0].due_s, (140 + 360) * MIN);
    assert_int_equal(rows[1].due_s, (130 + 720) * MIN);
    assert_int_not_equal(rows[0].subject, rows[1].subject);
    assert_true(rows[0].subject > 0);
}

static void flags_have_words(void **state)
{
    (void)state;
    static const char *const words[] = {"too early",
                                        "perhaps given twice",
                                        "above the largest single dose",
                                        "above the most in 24 h",
                                        "allergy",
                                        "second pulmonary vasodilator",
                                        "not a route of the table",
                                        "?"};
    for (int i = 0; i < 8; i++) {
        assert_string_equal(rp_dose_flag_word((uint8_t)(1 << i)), words[i]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(drugs_are_found_by_any_name),
        cmocka_unit_test(names_that_are_near),
        cmocka_unit_test(early_and_double),
        cmocka_unit_test(without_an_interval_only_double_is_judged),
        cmocka_unit_test(amounts),
        cmocka_unit_test(routes),
        cmocka_unit_test(allergies),
        cmocka_unit_test(two_vasodilators),
        cmocka_unit_test(due),
        cmocka_unit_test(flags_have_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
