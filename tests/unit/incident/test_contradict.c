/* Records that contradict each other: each kind, its edge, and what is none. Bounds: clinical
 * references 3.5 and 6.4 B7 (design judgement). */
#include "episode_kit.h"

#include "incident/assess/assess.h"

/* One contradiction of each kind, alone, and a case beside it that is none. `make` gets whether to
 * contradict. */
typedef void maker(bool contradict);

static struct rp_record opening(uint32_t time_s)
{
    struct rp_record o = kit_record(RP_REC_EPISODE, time_s);
    memcpy(o.as.opened.patient, "A", 2);
    o.as.opened.sex = RP_SEX_MALE;
    o.as.opened.has_age = true;
    o.as.opened.age_y = 34;
    o.as.opened.altitude = (struct rp_altitude){true, 5480, RP_ALT_GPS};
    o.as.opened.position = (struct rp_position){true, 28104100, 86752300, false, 0};
    return o;
}

static void two_openings(const struct rp_record *second)
{
    struct rp_record first = opening(900);
    kit_add(&first, CAMP, 1);
    kit_add(second, BASE, 2);
}

static void make_name(bool contradict)
{
    struct rp_record o = opening(1000);
    memcpy(o.as.opened.patient, contradict ? "B" : "a", 2); /* case does not matter */
    two_openings(&o);
}

static void make_sex(bool contradict)
{
    struct rp_record o = opening(1000);
    o.as.opened.sex = contradict ? RP_SEX_FEMALE : RP_SEX_UNSAID;
    two_openings(&o);
}

static void make_age(bool contradict)
{
    struct rp_record o = opening(1000);
    o.as.opened.age_y = contradict ? 36 : 35;
    two_openings(&o);
}

static void make_allergies(bool contradict)
{
    for (uint32_t i = 0; i < 2; i++) {
        struct rp_record b = kit_record(RP_REC_BACKGROUND, 1000 + i);
        bool none = i == 1 && contradict;
        b.as.background.allergies.state = none ? RP_NONE_KNOWN : RP_KNOWN;
        memcpy(b.as.background.allergies.text, none ? "" : "sulfa", none ? 1 : 6);
        kit_add(&b, CAMP, 3 + i);
    }
}

static void make_altitude(bool contradict)
{
    struct rp_record first = opening(900), q = kit_record(RP_REC_EVACUATION, 1000);
    q.as.evacuation.altitude = (struct rp_altitude){true, contradict ? 4979 : 4980, RP_ALT_GPS};
    kit_add(&first, CAMP, 1);
    kit_add(&q, CAMP, 4);
}

static void make_place(bool contradict)
{
    struct rp_record first = opening(900), q = kit_record(RP_REC_EVACUATION, 1000);
    /* 0.045 degrees of latitude are 5004 m, 0.0449 are 4993 m (6371 km). */
    q.as.evacuation.position =
        (struct rp_position){true, 28104100 - (contradict ? 45000 : 44900), 86752300, false, 0};
    kit_add(&first, CAMP, 1);
    kit_add(&q, CAMP, 4);
}

static void make_level(bool contradict)
{
    struct rp_record r = kit_record(RP_REC_STATUS, 1000);
    r.as.status.acvpu = kit_value(RP_ACVPU_ALERT);
    r.as.status.gcs_eye = kit_value(4);
    r.as.status.gcs_verbal = kit_value(contradict ? 3 : 4);
    r.as.status.gcs_motor = kit_value(6);
    kit_add(&r, CAMP, 2);
}

static void make_dead(bool contradict)
{
    struct rp_record dead = kit_record(RP_REC_STATUS, 1000), then = kit_record(RP_REC_STATUS, 2000);
    dead.as.status.condition = RP_COND_DEAD;
    then.as.status.pulse_bpm = kit_value(contradict ? 60 : 0);
    kit_add(&dead, CAMP, 2);
    kit_add(&then, CAMP, 3);
}

static void make_chamber(bool contradict)
{
    kit_chamber(2, 1000, RP_PHASE_CLOSED, 1);
    kit_chamber(3, 1100, RP_PHASE_PRESSURISING, 1);
    kit_chamber(4, 2000, RP_PHASE_OUT, 1);
    struct rp_record r = kit_status(contradict ? 1500 : 2500, 71, 0);
    kit_add(&r, CAMP, 5);
}

static void make_altimeter(bool contradict)
{
    struct rp_record first = opening(900), c = kit_record(RP_REC_CHAMBER, 1000);
    c.as.chamber.phase = RP_PHASE_CLOSED;
    c.as.chamber.session = 1;
    c.as.chamber.gauge_dhpa = kit_value(1379);
    /* 5480 m and 2 psi: an altimeter reads between 3425 (West outside) and 3657 m (ISA outside). */
    c.as.chamber.altimeter_m = kit_value(contradict ? 3200 : 3420);
    kit_add(&first, CAMP, 1);
    kit_add(&c, CAMP, 2);
}

static void make_cylinder(bool contradict)
{
    for (uint32_t i = 0; i < 2; i++) {
        struct rp_record r = kit_record(RP_REC_OXYGEN, 1000 + i);
        r.as.oxygen.action = RP_O2_READING;
        memcpy(r.as.oxygen.cylinder, "A", 2);
        r.as.oxygen.cylinder_bar = kit_value(i == 0 ? 100 : contradict ? 121 : 120);
        kit_add(&r, CAMP, 2 + i);
    }
}

static void make_dose(bool contradict)
{
    for (uint32_t i = 0; i < 2; i++) {
        struct rp_record r = kit_record(RP_REC_TREATMENT, 1000 + i * (contradict ? 1799 : 1800));
        r.as.treatment.kind = RP_TREAT_DRUG;
        memcpy(r.as.treatment.name, i == 0 ? "Dexa" : "dexa", 5);
        kit_add(&r, CAMP, 2 + i);
    }
}

static void make_ahead(bool contradict)
{
    struct rp_record r = kit_record(RP_REC_NOTE, 100000 + (contradict ? 121 : 120));
    kit_add(&r, CAMP, 2);
}

static void make_no_pulse(bool contradict)
{
    struct rp_record r = kit_record(RP_REC_STATUS, 1000);
    r.as.status.pulse_bpm = kit_value(0);
    r.as.status.acvpu = kit_value(contradict ? RP_ACVPU_PAIN : RP_ACVPU_UNRESPONSIVE);
    kit_add(&r, CAMP, 2);
}

static maker *const makers[RP_CONTRA_COUNT] = {
    make_name,     make_sex,   make_age,   make_allergies, make_altitude,
    make_place,    make_level, make_dead,  make_chamber,   make_altimeter,
    make_cylinder, make_dose,  make_ahead, make_no_pulse};

static size_t found_of(int kind, struct rp_contradiction *out)
{
    struct rp_contradiction found[RP_CONTRA_COUNT];
    rp_episode_finish(&kit, 100000);
    size_t count = rp_episode_contradictions(&kit, 100000, found);
    for (size_t i = 0; i < count; i++) {
        assert_int_equal(found[i].kind, kind);
        *out = found[i];
    }
    return count;
}

static void each_kind_is_found_alone_and_its_edge_is_not(void **state)
{
    (void)state;
    for (int kind = 0; kind < RP_CONTRA_COUNT; kind++) {
        struct rp_contradiction found;
        kit_start();
        makers[kind](true);
        if (found_of(kind, &found) != 1) {
            fail_msg("kind %d is not found", kind);
        }
        assert_true(rp_contradiction_sentence(found.kind)[0] != '\0');
        assert_true(found.earlier->happened_s <= found.later->happened_s);
        kit_start();
        makers[kind](false);
        if (found_of(kind, &found) != 0) {
            fail_msg("kind %d is found where there is none", kind);
        }
    }
}

/* A correction of either record mends it. */
static void corrected_records_contradict_nothing(void **state)
{
    (void)state;
    for (int kind = 0; kind < RP_CONTRA_COUNT; kind++) {
        struct rp_contradiction found;
        kit_start();
        makers[kind](true);
        assert_int_equal(found_of(kind, &found), 1);
        struct rp_record_ref later = found.later->ref, earlier = found.earlier->ref;
        kit_correct(90, 90000, later, kit_ref(0, 0));
        assert_int_equal(found_of(kind, &found), 0);
        kit_start();
        makers[kind](true);
        kit_correct(90, 90000, earlier, kit_ref(0, 0));
        assert_int_equal(found_of(kind, &found), 0);
    }
}

/* What is not known contradicts nothing; a descent explains another place. */
static void what_is_missing_is_no_contradiction(void **state)
{
    (void)state;
    struct rp_contradiction found;
    static const int ages[] = {32, 36};
    for (size_t i = 0; i < 2; i++) { /* older and younger */
        kit_start();
        struct rp_record o = opening(1000);
        o.as.opened.age_y = (uint8_t)ages[i];
        two_openings(&o);
        assert_int_equal(found_of(RP_CONTRA_AGE, &found), 1);
    }
    kit_start();
    struct rp_record o = opening(1000);
    o.as.opened.has_age = o.as.opened.altitude.present = o.as.opened.position.present = false;
    o.as.opened.age_y = 99;
    o.as.opened.altitude.metres = 100;
    o.as.opened.position.lat_e6 = 0;
    two_openings(&o);
    assert_int_equal(found_of(-1, &found), 0);
    kit_start();
    struct rp_record first = opening(900), later = opening(1000);
    first.as.opened.has_age = first.as.opened.altitude.present = first.as.opened.position.present =
        false;
    first.as.opened.sex = RP_SEX_UNSAID;
    later.as.opened.sex = RP_SEX_FEMALE;
    kit_add(&first, CAMP, 1);
    kit_add(&later, BASE, 2);
    assert_int_equal(found_of(-1, &found), 0);
    kit_start();
    struct rp_record high = opening(1000);
    high.as.opened.altitude.metres = 5981;
    two_openings(&high);
    assert_int_equal(found_of(RP_CONTRA_ALTITUDE, &found), 1);
    for (int descending = 0; descending < 2; descending++) {
        kit_start();
        make_altitude(true);
        struct rp_record d = kit_record(RP_REC_DESCENT, 950);
        d.as.descent.descending = descending;
        kit_add(&d, CAMP, 8);
        assert_int_equal(found_of(RP_CONTRA_ALTITUDE, &found), !descending);
        kit_correct(90, 90000, kit_ref(CAMP, 8), kit_ref(0, 0));
        assert_int_equal(found_of(RP_CONTRA_ALTITUDE, &found), 1);
    }
    kit_start();
    kit_request(4, 1000, 0); /* without an opening there is nothing to compare with */
    assert_int_equal(found_of(-1, &found), 0);
}

/* A rough map (Scand J Trauma 2024), one point let pass. */
static void level_against_coma_scale(void **state)
{
    (void)state;
    static const struct {
        int acvpu, verbal, motor, found; /* eye 4 */
    } rows[] = {{RP_ACVPU_CONFUSED, 3, 6, 0},
                {RP_ACVPU_CONFUSED, 2, 6, 1},
                {RP_ACVPU_VOICE, 4, 6, 0},
                {RP_ACVPU_VOICE, 5, 6, 1},
                {RP_ACVPU_PAIN, 1, 4, 0},
                {RP_ACVPU_PAIN, 1, 5, 1},
                {RP_ACVPU_UNRESPONSIVE, 5, 6, 1},
                {9, 5, 6, 0},
                {-1, 1, 1, 0}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rp_contradiction found[RP_CONTRA_COUNT];
        kit_start();
        make_level(false);
        rp_episode_finish(&kit, 100000);
        kit.obs.at[0].acvpu.value = (int16_t)rows[i].acvpu;
        kit.obs.at[0].gcs_verbal.value = (int16_t)rows[i].verbal;
        kit.obs.at[0].gcs_motor.value = (int16_t)rows[i].motor;
        assert_int_equal(rp_episode_contradictions(&kit, 100000, found), rows[i].found);
    }
}

/* A pulse that only repeats an older report is no sign of life; nor is a pulse not felt. */
static void a_repeated_pulse_is_no_contradiction(void **state)
{
    (void)state;
    for (int variant = 0; variant < 2; variant++) {
        struct rp_contradiction found;
        kit_start();
        make_dead(false);
        struct rp_record r = kit_record(RP_REC_STATUS, 3000);
        r.as.status.vitals_age_min = variant == 0 ? 60 : 0;
        r.as.status.pulse_bpm = kit_value(60);
        if (variant == 1) {
            r.as.status.pulse_bpm.state = RP_UNABLE;
        }
        kit_add(&r, CAMP, 9);
        assert_int_equal(found_of(-1, &found), 0);
    }
}

/* Only a pulse of 0 that was felt for counts, and only in a set that stands. */
static void no_pulse_in_one_who_responds(void **state)
{
    (void)state;
    struct rp_contradiction found;
    kit_start();
    struct rp_record r = kit_record(RP_REC_STATUS, 1000);
    r.as.status.acvpu = kit_value(RP_ACVPU_ALERT);
    r.as.status.pulse_bpm.state = RP_UNABLE;
    kit_add(&r, CAMP, 2);
    r.as.status.pulse_bpm = kit_value(30);
    r.time_s = 2000;
    kit_add(&r, CAMP, 3);
    r.as.status.pulse_bpm = kit_value(0);
    r.as.status.acvpu.state = RP_NOT_MEASURED;
    r.time_s = 3000;
    kit_add(&r, CAMP, 4);
    assert_int_equal(found_of(-1, &found), 0);
    r.as.status.acvpu = kit_value(RP_ACVPU_ALERT);
    r.time_s = 4000;
    kit_add(&r, CAMP, 6);
    assert_int_equal(found_of(RP_CONTRA_NO_PULSE, &found), 1);
    assert_int_equal(found.later->ref.seq, 6);
    kit_correct(900, 5000, kit_ref(CAMP, 6), kit_ref(0, 0));
    assert_int_equal(found_of(-1, &found), 0);
}

static void add_bar(uint32_t seq, enum rp_oxygen_action action, const char *cylinder, int bar)
{
    struct rp_record r = kit_record(RP_REC_OXYGEN, 1000 + seq);
    r.as.oxygen.action = (uint8_t)action;
    memcpy(r.as.oxygen.cylinder, cylinder, strlen(cylinder) + 1);
    if (bar >= 0) {
        r.as.oxygen.cylinder_bar = kit_value(bar);
    }
    kit_add(&r, CAMP, seq);
}

/* A reading without a name is of the cylinder in use. */
static void readings_of_the_cylinder_in_use(void **state)
{
    (void)state;
    struct rp_contradiction found;
    kit_start();
    add_bar(2, RP_O2_START, "A", 100);
    add_bar(3, RP_O2_READING, "", 90);
    assert_int_equal(found_of(-1, &found), 0);
    add_bar(4, RP_O2_READING, "", 111);
    assert_int_equal(found_of(RP_CONTRA_CYLINDER, &found), 1);
    assert_int_equal(found.earlier->ref.seq, 3);
    kit_correct(900, 5000, kit_ref(CAMP, 4), kit_ref(0, 0));
    add_bar(5, RP_O2_CHANGE, "", 200); /* another one, which nobody named */
    add_bar(6, RP_O2_READING, "", 190);
    assert_int_equal(found_of(-1, &found), 0);
    add_bar(7, RP_O2_READING, "", 211);
    assert_int_equal(found_of(RP_CONTRA_CYLINDER, &found), 1);
    assert_int_equal(found.earlier->ref.seq, 6);
    kit_start(); /* a start that was an error */
    add_bar(2, RP_O2_START, "A", -1);
    add_bar(3, RP_O2_READING, "", 100);
    add_bar(4, RP_O2_START, "B", 150);
    kit_correct(900, 5000, kit_ref(CAMP, 4), kit_ref(0, 0));
    add_bar(5, RP_O2_READING, "", 121);
    assert_int_equal(found_of(RP_CONTRA_CYLINDER, &found), 1);
    kit_start(); /* readings of nothing that was started */
    add_bar(2, RP_O2_CHANGE, "", 150);
    kit_correct(900, 5000, kit_ref(CAMP, 2), kit_ref(0, 0));
    add_bar(3, RP_O2_READING, "", 100);
    add_bar(4, RP_O2_READING, "", 121);
    assert_int_equal(found_of(RP_CONTRA_CYLINDER, &found), 1);
}

/* Each sign of life by itself, and what is none. */

static void alive_after_dead(void **state)
{
    (void)state;
    static const struct {
        int condition, pulse, resp, acvpu, age_min, found;
    } rows[] = {{RP_COND_SAME, -1, -1, -1, 0, 1},
                {RP_COND_CRITICAL, -1, -1, -1, 30, 1},
                {RP_COND_DEAD, -1, -1, -1, 0, 0},
                {RP_COND_UNSAID, -1, -1, -1, 0, 0},
                {RP_COND_UNSAID, 40, -1, -1, 0, 1},
                {RP_COND_UNSAID, 0, -1, -1, 0, 0},
                {RP_COND_UNSAID, -1, 6, -1, 0, 1},
                {RP_COND_UNSAID, -1, 0, -1, 0, 0},
                {RP_COND_UNSAID, -1, 6, -1, 15, 0},
                {RP_COND_UNSAID, -1, -1, RP_ACVPU_PAIN, 0, 1},
                {RP_COND_UNSAID, -1, -1, RP_ACVPU_UNRESPONSIVE, 0, 0},
                {RP_COND_DEAD, 40, -1, -1, 0, 1}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rp_contradiction found;
        kit_start();
        make_dead(false);
        struct rp_record r = kit_record(RP_REC_STATUS, 3000);
        r.as.status.condition = (uint8_t)rows[i].condition;
        r.as.status.vitals_age_min = (uint16_t)rows[i].age_min;
        r.as.status.pulse_bpm = kit_value(rows[i].pulse);
        r.as.status.resp_rpm = kit_value(rows[i].resp);
        r.as.status.acvpu = kit_value(rows[i].acvpu);
        r.as.status.pulse_bpm.state = rows[i].pulse < 0 ? RP_NOT_MEASURED : RP_MEASURED;
        r.as.status.resp_rpm.state = rows[i].resp < 0 ? RP_NOT_MEASURED : RP_MEASURED;
        r.as.status.acvpu.state = rows[i].acvpu < 0 ? RP_NOT_MEASURED : RP_MEASURED;
        kit_add(&r, CAMP, 9);
        if (found_of(RP_CONTRA_DEAD, &found) != (size_t)rows[i].found) {
            fail_msg("row %zu", i);
        }
    }
}

/* The same after the episode was closed by a death, and by anything else. */
static void alive_after_closed_by_death(void **state)
{
    (void)state;
    static const struct {
        int outcome, condition;
        uint32_t time_s;
        int corrected, found;
    } rows[] = {
        {RP_OUT_DIED, RP_COND_BETTER, 3000, 0, 1}, {RP_OUT_DIED, RP_COND_DEAD, 3000, 0, 0},
        {RP_OUT_DIED, RP_COND_BETTER, 3000, 1, 0}, {RP_OUT_DIED, RP_COND_BETTER, 1000, 0, 0},
        {RP_OUT_DIED, RP_COND_BETTER, 2000, 0, 0}, {RP_OUT_RECOVERED, RP_COND_BETTER, 3000, 0, 0}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rp_contradiction found;
        kit_start();
        struct rp_record r = kit_record(RP_REC_CLOSE, 2000);
        r.as.close.outcome = (uint8_t)rows[i].outcome;
        kit_add(&r, CAMP, 8);
        r = kit_record(RP_REC_STATUS, rows[i].time_s);
        r.as.status.condition = (uint8_t)rows[i].condition;
        kit_add(&r, CAMP, 9);
        if (rows[i].corrected) {
            kit_correct(900, 5000, kit_ref(CAMP, 9), kit_ref(0, 0));
        }
        if (found_of(RP_CONTRA_DEAD, &found) != (size_t)rows[i].found) {
            fail_msg("row %zu", i);
        }
    }
}

/* What may stand inside: chamber readings, levels without SpO2, readings before the pressure. */
static void readings_beside_the_chamber(void **state)
{
    (void)state;
    static const struct {
        uint32_t time_s;
        int spo2, mode, found;
    } rows[] = {{900, 71, RP_MODE_AIR, 0},     {1050, 71, RP_MODE_AIR, 0},
                {1500, 71, RP_MODE_OXYGEN, 1}, {1500, 71, RP_MODE_CHAMBER, 0},
                {1160, 71, RP_MODE_AIR, 0},    {1161, 71, RP_MODE_AIR, 1},
                {1940, 71, RP_MODE_AIR, 1},    {1941, 71, RP_MODE_AIR, 0},
                {2000, 71, RP_MODE_AIR, 0},    {1500, 71, RP_MODE_UNSAID, 0},
                {1500, -1, RP_MODE_AIR, 0},    {1500, 71, RP_MODE_CHAMBER_OXYGEN, 0}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct rp_contradiction found[RP_CONTRA_COUNT];
        kit_start();
        kit_chamber(2, 1000, RP_PHASE_CLOSED, 1);
        kit_chamber(3, 1100, RP_PHASE_PRESSURISING, 1);
        kit_chamber(4, 2000, RP_PHASE_OUT, 1);
        struct rp_record r = kit_status(rows[i].time_s, rows[i].spo2, 0);
        r.as.status.mode = (uint8_t)rows[i].mode;
        r.as.status.acvpu = kit_value(0);
        kit_add(&r, CAMP, 5);
        rp_episode_finish(&kit, 100000);
        assert_int_equal(rp_episode_contradictions(&kit, 100000, found), rows[i].found);
    }
}

/* The altimeter needs gauge, reading and altitude. */
static void altimeter_needs_all_three(void **state)
{
    (void)state;
    struct rp_rec_chamber event = {.gauge_dhpa = kit_value(1379), .altimeter_m = kit_value(4100)};
    kit_start();
    rp_episode_finish(&kit, 1);
    assert_false(rp_chamber_altimeter_off(&kit, &event));
    struct rp_record o = opening(900);
    kit_add(&o, CAMP, 1);
    rp_episode_finish(&kit, 1);
    assert_true(rp_chamber_altimeter_off(&kit, &event));
    struct rp_rec_chamber no_gauge = {.altimeter_m = kit_value(4100)},
                          no_reading = {.gauge_dhpa = kit_value(1379)};
    assert_false(rp_chamber_altimeter_off(&kit, &no_gauge));
    assert_false(rp_chamber_altimeter_off(&kit, &no_reading));
    event.gauge_dhpa = kit_value(3001); /* no record holds it */
    assert_false(rp_chamber_altimeter_off(&kit, &event));
}

/* Cylinders: another name, no name, no pressure between. Doses: refused, no drug, confirmed,
 * another drug. */
static void cylinders_and_doses_that_are_no_contradiction(void **state)
{
    (void)state;
    struct rp_contradiction found;
    static const char *const names[] = {"B", ""};
    for (size_t i = 0; i < 2; i++) {
        kit_start();
        make_cylinder(false);
        struct rp_record r = kit_record(RP_REC_OXYGEN, 3000);
        memcpy(r.as.oxygen.cylinder, names[i], strlen(names[i]) + 1);
        r.as.oxygen.cylinder_bar = kit_value(300);
        kit_add(&r, CAMP, 9);
        assert_int_equal(found_of(-1, &found), 0);
    }
    kit_start();
    make_cylinder(false);
    struct rp_record silent = kit_record(RP_REC_OXYGEN, 2000), full = silent;
    memcpy(silent.as.oxygen.cylinder, "a", 2);
    kit_add(&silent, CAMP, 8);
    memcpy(full.as.oxygen.cylinder, "A", 2);
    full.time_s = 3000;
    full.as.oxygen.cylinder_bar = kit_value(300);
    kit_add(&full, CAMP, 9);
    assert_int_equal(found_of(RP_CONTRA_CYLINDER, &found), 1); /* against the reading before it */
    for (int variant = 0; variant < 5; variant++) {
        kit_start();
        make_dose(false);
        struct rp_record r = kit_record(RP_REC_TREATMENT, 2801);
        r.as.treatment.kind = variant == 1 ? RP_TREAT_OTHER : RP_TREAT_DRUG;
        r.as.treatment.refused = variant == 0;
        memcpy(r.as.treatment.name, variant == 2 ? "iron" : "dexa", 5);
        r.as.treatment.confirmed[0] = variant == 3 ? 'J' : '\0';
        kit_add(&r, CAMP, 9);
        assert_int_equal(found_of(variant == 4 ? RP_CONTRA_DOSE : -1, &found), variant == 4);
    }
    kit_start();
    struct rp_record offered = kit_record(RP_REC_TREATMENT, 1000);
    memcpy(offered.as.treatment.name, "dexa", 5);
    offered.as.treatment.refused = true;
    kit_add(&offered, CAMP, 2);
    struct rp_record taken = offered;
    taken.time_s = 1100;
    taken.as.treatment.refused = false;
    kit_add(&taken, CAMP, 3);
    assert_int_equal(found_of(-1, &found), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_kind_is_found_alone_and_its_edge_is_not),
        cmocka_unit_test(corrected_records_contradict_nothing),
        cmocka_unit_test(what_is_missing_is_no_contradiction),
        cmocka_unit_test(level_against_coma_scale),
        cmocka_unit_test(a_repeated_pulse_is_no_contradiction),
        cmocka_unit_test(alive_after_dead),
        cmocka_unit_test(alive_after_closed_by_death),
        cmocka_unit_test(no_pulse_in_one_who_responds),
        cmocka_unit_test(readings_of_the_cylinder_in_use),
        cmocka_unit_test(readings_beside_the_chamber),
        cmocka_unit_test(altimeter_needs_all_three),
        cmocka_unit_test(cylinders_and_doses_that_are_no_contradiction),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
