#include "watch_kit.h"

struct rp_watch_input watch_in;
struct rp_alarms watch_out;
struct rp_protocol watch_table = {
    .title = "for tests",
    .count = 4,
    .drugs = {{.name = "dexamethasone",
               .also = {"dexa"},
               .routes = 1u << RP_ROUTE_ORAL | 1u << RP_ROUTE_IM | 1u << RP_ROUTE_IV,
               .unit = RP_DOSE_MG,
               .dose_milli = 4000,
               .single_milli = 8000,
               .day_milli = 20000,
               .interval_s = 6 * 3600},
              {.name = "nifedipine",
               .routes = 1u << RP_ROUTE_ORAL,
               .unit = RP_DOSE_MG,
               .interval_s = 12 * 3600,
               .vasodilator = true},
              {.name = "sildenafil", .unit = RP_DOSE_MG, .vasodilator = true},
              {.name = "acetazolamide",
               .unit = RP_DOSE_MG,
               .interval_s = 12 * 3600,
               .allergy = {"sulfa"}}},
};

static uint32_t seq;
static uint8_t seen[256]; /* by rule: 1 fired, 2 quiet, 4 cleared */

void watch_start(void)
{
    kit_start();
    seq = 10;
    memset(&watch_in, 0, sizeof watch_in);
    watch_in.places = RP_WATCH_CAMP | RP_WATCH_BASE;
    struct rp_record r = kit_record(RP_REC_EPISODE, 100 * MIN);
    strcpy(r.as.opened.patient, "M. Tarn");
    r.as.opened.label = RP_LABEL_HACE;
    r.as.opened.altitude = (struct rp_altitude){true, 5480, RP_ALT_GPS};
    watch_add(&r);
    watch_descent(100, false, 0);
}

void watch_add_at(struct rp_record *record, uint16_t origin)
{
    kit_add(record, origin, ++seq);
}

void watch_add(struct rp_record *record)
{
    watch_add_at(record, CAMP);
}

struct rp_record_ref watch_last(void)
{
    return kit_ref(CAMP, seq);
}

static uint8_t number_of(const char *rule)
{
    for (size_t i = 0; i < rp_watch_rule_count; i++) {
        if (strcmp(rp_watch_rules[i].word, rule) == 0) {
            return rp_watch_rules[i].number;
        }
    }
    fail_msg("no rule %s", rule);
    return 0;
}

const struct rp_alarm *watch_at_s(const char *rule, uint32_t now_s)
{
    uint8_t number = number_of(rule);
    rp_episode_finish(&kit, now_s);
    watch_in.episode = &kit;
    watch_in.now_s = now_s;
    rp_watch_evaluate(&watch_in, &watch_out);
    for (size_t i = 0; i < watch_out.count; i++) {
        if (watch_out.at[i].rule->number == number) {
            return &watch_out.at[i];
        }
    }
    return NULL;
}

const struct rp_alarm *watch_at(const char *rule, uint32_t minute)
{
    return watch_at_s(rule, minute * MIN);
}

void watch_fires(const char *rule, uint32_t minute, enum rp_sound sound, const char *reason)
{
    const struct rp_alarm *alarm = watch_at(rule, minute);
    if (alarm == NULL) {
        fail_msg("%s does not fire at %u", rule, minute);
        return;
    }
    assert_string_equal(alarm->reason, reason);
    assert_int_equal(alarm->sound, sound);
    assert_true(alarm->since_s <= minute * MIN || strcmp(rule, "time") == 0);
    seen[alarm->rule->number] |= 1;
}

void watch_quiet(const char *rule, uint32_t minute)
{
    if (watch_at(rule, minute) != NULL) {
        fail_msg("%s fires at %u", rule, minute);
    }
    seen[number_of(rule)] |= 2;
}

void watch_clears(const char *rule, uint32_t minute)
{
    uint8_t number = number_of(rule);
    if ((seen[number] & 1) == 0 || watch_at(rule, minute) != NULL) {
        fail_msg("%s does not clear at %u", rule, minute);
    }
    seen[number] |= 4;
}

void watch_all_rules_seen(void **state)
{
    (void)state;
    assert_int_equal(rp_watch_rule_count, 54);
    for (size_t i = 0; i < rp_watch_rule_count; i++) {
        if (seen[rp_watch_rules[i].number] != 7) {
            fail_msg("%s: fired, quiet, cleared: %x", rp_watch_rules[i].word,
                     seen[rp_watch_rules[i].number]);
        }
    }
}

void watch_chamber(uint32_t minute, enum rp_phase phase, uint8_t session)
{
    kit_chamber(++seq, minute * MIN, phase, session);
}

void watch_gauge(uint32_t minute, enum rp_phase phase, uint8_t session, int gauge_dhpa)
{
    struct rp_record r = kit_record(RP_REC_CHAMBER, minute * MIN);
    r.as.chamber.phase = (uint8_t)phase;
    r.as.chamber.session = session;
    r.as.chamber.gauge_dhpa = kit_value(gauge_dhpa);
    watch_add(&r);
}

void watch_spo2(uint32_t minute, enum rp_mode mode, int spo2_pct)
{
    struct rp_record r = kit_status(minute * MIN, spo2_pct, 0);
    r.as.status.mode = (uint8_t)mode;
    watch_add(&r);
}

void watch_level(uint32_t minute, enum rp_acvpu level)
{
    struct rp_record r = kit_record(RP_REC_STATUS, minute * MIN);
    r.as.status.acvpu = kit_value((int)level);
    watch_add(&r);
}

void watch_condition(uint32_t minute, enum rp_condition condition)
{
    struct rp_record r = kit_record(RP_REC_STATUS, minute * MIN);
    r.as.status.condition = (uint8_t)condition;
    watch_add(&r);
}

void watch_descent(uint32_t minute, bool descending, uint16_t again_min)
{
    struct rp_record r = kit_record(RP_REC_DESCENT, minute * MIN);
    r.as.descent.descending = descending;
    r.as.descent.why_not = descending ? RP_WHY_UNSAID : RP_WHY_DARK;
    r.as.descent.has_ask_again = again_min > 0;
    r.as.descent.ask_again_min = again_min;
    watch_add(&r);
}

void watch_dose(uint32_t minute, const char *drug, uint32_t dose_mg)
{
    struct rp_record r = kit_record(RP_REC_TREATMENT, minute * MIN);
    r.as.treatment.kind = RP_TREAT_DRUG;
    strcpy(r.as.treatment.name, drug);
    r.as.treatment.has_dose = true;
    r.as.treatment.dose_milli = dose_mg * 1000;
    r.as.treatment.dose_unit = RP_DOSE_MG;
    r.as.treatment.route = RP_ROUTE_ORAL;
    watch_add(&r);
}

void watch_pumping(uint32_t minute, const char *pumper, uint16_t strokes, uint16_t spell_s)
{
    struct rp_record r = kit_record(RP_REC_PUMPING, minute * MIN);
    strcpy(r.as.pumping.pumper, pumper);
    r.as.pumping.strokes = strokes;
    r.as.pumping.spell_s = spell_s;
    watch_add(&r);
}

void watch_stock(uint32_t minute, const char *drug, uint32_t left_milli, enum rp_dose_unit unit)
{
    struct rp_record r = kit_record(RP_REC_STOCK, minute * MIN);
    strcpy(r.as.stock.name, drug);
    r.as.stock.left_milli = left_milli;
    r.as.stock.unit = (uint8_t)unit;
    watch_add(&r);
}

void watch_request(uint32_t minute)
{
    struct rp_record r = kit_record(RP_REC_EVACUATION, minute * MIN);
    watch_add(&r);
}

void watch_answer(uint32_t minute, enum rp_answer_kind kind, struct rp_record_ref about,
                  uint32_t eta_minute)
{
    struct rp_record r = kit_record(RP_REC_ANSWER, minute * MIN);
    r.as.answer.kind = (uint8_t)kind;
    r.as.answer.about = about;
    r.as.answer.has_eta = eta_minute > 0;
    r.as.answer.eta_s = eta_minute * MIN;
    watch_add_at(&r, BASE);
}
