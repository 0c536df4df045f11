/* ATMIST-AMBO without the treatment: A, T, M, I, S and A, M, B, O. */
#include <string.h>

#include "handover/build.h"

#define SETS_SHOWN 3

static void build_times(struct rp_build *b)
{
    const struct rp_rec_episode *opening = &b->ep->opening;
    b->section = RP_SECTION_TIME;
    rp_build_row(b, RP_TX_L_TIME);
    if (!b->ep->opened) {
        rp_build_word(b, RP_TX_TIMES_NOT_HELD);
        rp_build_end(b);
        return;
    }
    if (opening->has_onset) {
        rp_build_time(b, RP_TX_ONSET, opening->onset_s);
        rp_build_age(b, RP_TX_NONE, opening->onset_s);
        b->row.items[b->row.item_count - 1].word = RP_TX_AGO;
    } else {
        rp_build_word(b, RP_TX_ONSET_UNKNOWN);
    }
    rp_build_join(b, RP_JOIN_SEMICOLON);
    if (opening->has_reached) {
        rp_build_time(b, RP_TX_REACHED, opening->reached_s);
        rp_build_age(b, RP_TX_NONE, opening->reached_s);
        b->row.items[b->row.item_count - 1].word = RP_TX_AGO;
    } else {
        rp_build_word(b, RP_TX_REACHED_UNKNOWN);
    }
    rp_build_join(b, RP_JOIN_SEMICOLON);
    rp_build_time(b, RP_TX_OPENED, b->ep->opening_from.happened_s);
    rp_build_other_source(b, &b->ep->opening_from);
    rp_build_end(b);
}

static void build_criteria(struct rp_build *b, enum rp_finding finding, enum rp_text_id label,
                           enum rp_join join)
{
    bool first = true;
    for (int i = 0; i < RP_CRIT_COUNT; i++) {
        if (b->ep->opening.criteria[i] != finding) {
            continue;
        }
        rp_build_join(b, first ? join : RP_JOIN_COMMA);
        rp_build_labelled(b, first ? label : RP_TX_NONE,
                          rp_text_pick(RP_TX_CRIT_ALTITUDE_GAIN, RP_TX_CRIT_TACHYCARDIA, i));
        first = false;
    }
}

static bool any_criterion_asked(const struct rp_episode *ep)
{
    bool any = false;
    for (int i = 0; i < RP_CRIT_COUNT; i++) {
        any = any || ep->opening.criteria[i] != RP_FINDING_NOT_ASKED;
    }
    return any;
}

static void build_complaint(struct rp_build *b)
{
    b->section = RP_SECTION_COMPLAINT;
    rp_build_row(b, RP_TX_L_COMPLAINT);
    if (!b->ep->opened) {
        rp_build_word(b, RP_TX_CRITERIA_NOT_HELD);
        rp_build_end(b);
        return;
    }
    if (any_criterion_asked(b->ep)) {
        build_criteria(b, RP_FINDING_YES, RP_TX_YES_LIST, RP_JOIN_SPACE);
        if (b->row.item_count == 0) {
            rp_build_word(b, RP_TX_ASKED_NONE_YES);
        }
        build_criteria(b, RP_FINDING_NO, RP_TX_NO_LIST, RP_JOIN_STOP);
        build_criteria(b, RP_FINDING_NOT_ASKED, RP_TX_NOT_ASKED_LIST, RP_JOIN_STOP);
    } else {
        rp_build_word(b, RP_TX_NO_CRITERION_ASKED);
    }
    rp_build_join(b, RP_JOIN_STOP);
    if (b->ep->opening.first_sign[0] != '\0') {
        rp_build_entered(b, RP_TX_FIRST_SIGN, b->ep->opening.first_sign);
    } else {
        rp_build_word(b, RP_TX_FIRST_SIGN_UNKNOWN);
    }
    if (any_criterion_asked(b->ep)) {
        rp_build_join(b, RP_JOIN_STOP);
        rp_sheet_build_criteria_met(b);
    }
    rp_build_end(b);
}

/* A later opening replaces the first; what the first said stays on the sheet. */
static void build_earlier_openings(struct rp_build *b)
{
    const struct rp_episode *ep = b->ep;
    for (size_t i = 0; i < ep->openings.count; i++) {
        const struct rp_opening_entry *entry = &ep->openings.at[i];
        if (ep->opened && rp_ref_equal(entry->from.ref, ep->opening_from.ref)) {
            continue;
        }
        rp_build_row(b, RP_TX_NONE);
        rp_build_from(b, &entry->from);
        rp_build_time(b, RP_TX_EARLIER_OPENING, entry->from.happened_s);
        rp_build_join(b, RP_JOIN_COMMA);
        rp_sheet_build_label(b, &entry->what);
        rp_build_join(b, RP_JOIN_COMMA);
        rp_sheet_build_identity(b, &entry->what);
        if (entry->what.first_sign[0] != '\0') {
            rp_build_join(b, RP_JOIN_COMMA);
            rp_build_entered(b, RP_TX_FIRST_SIGN, entry->what.first_sign);
        }
        rp_build_source(b, &entry->from);
        rp_build_end(b);
    }
    rp_build_dropped(b, ep->openings.older_dropped);
}

void rp_sheet_build_lls(struct rp_build *b, const struct rp_lls_items *lls)
{
    const struct {
        enum rp_text_id word;
        struct rp_value value;
    } items[] = {{RP_TX_HEADACHE, lls->headache},
                 {RP_TX_GUT, lls->gut},
                 {RP_TX_FATIGUE, lls->fatigue},
                 {RP_TX_DIZZINESS, lls->dizziness}};
    int total = 0;
    bool complete = true;
    for (size_t i = 0; i < 4; i++) {
        complete = complete && items[i].value.state == RP_MEASURED;
        total += items[i].value.state == RP_MEASURED ? items[i].value.value : 0;
    }
    for (size_t i = 0; i < 4; i++) {
        rp_build_value(b, items[i].word, items[i].value, 0, RP_TX_NONE, NULL);
        rp_build_join(b, i < 3 ? RP_JOIN_COMMA : RP_JOIN_SPACE);
    }
    if (complete) {
        rp_build_number(b, RP_TX_EQUALS, total, 0, RP_TX_U_OF_12);
    } else {
        rp_build_labelled(b, RP_TX_EQUALS, RP_TX_LLS_INCOMPLETE);
    }
}

bool rp_sheet_scored_at_opening(const struct rp_episode *ep)
{
    const struct rp_lls_items *lls = &ep->opening.lls;
    return ep->opened && lls->headache.state == RP_MEASURED && lls->gut.state == RP_MEASURED &&
           lls->fatigue.state == RP_MEASURED && lls->dizziness.state == RP_MEASURED;
}

/* A score of the newest set that holds it. */
static void build_score(struct rp_build *b, enum rp_text_id label, size_t offset,
                        enum rp_text_id unit)
{
    const struct rp_obs *obs;
    struct rp_value value = rp_sheet_newest(b->ep, offset, &obs);
    rp_build_value(b, label, value, 0, unit, obs);
}

static bool lls_was_asked(const struct rp_lls_items *lls)
{
    return lls->headache.state != RP_NOT_MEASURED || lls->gut.state != RP_NOT_MEASURED ||
           lls->fatigue.state != RP_NOT_MEASURED || lls->dizziness.state != RP_NOT_MEASURED;
}

static void build_investigations(struct rp_build *b)
{
    b->section = RP_SECTION_INVESTIGATIONS;
    rp_build_row(b, RP_TX_L_SCORES);
    const struct rp_obs *scored;
    bool later =
        rp_sheet_newest(b->ep, offsetof(struct rp_obs, lls), &scored).state != RP_NOT_MEASURED;
    bool at_opening = b->ep->opened && lls_was_asked(&b->ep->opening.lls);
    if (later || !at_opening) {
        build_score(b, RP_TX_LLS_2018, offsetof(struct rp_obs, lls), RP_TX_U_OF_12);
        rp_build_join(b, RP_JOIN_SEMICOLON);
    }
    build_score(b, RP_TX_ATAXIA_HEEL, offsetof(struct rp_obs, ataxia), RP_TX_U_OF_4);
    if (at_opening) {
        rp_build_join(b, RP_JOIN_STOP);
        rp_build_labelled(b, later ? RP_TX_NONE : RP_TX_LLS_2018, RP_TX_AT_OPENING);
        rp_build_join(b, RP_JOIN_SPACE);
        rp_sheet_build_lls(b, &b->ep->opening.lls);
    }
    rp_build_end(b);
}

/* A set belongs in the table when someone tried to take a vital sign. */
static bool obs_has_vitals(const struct rp_obs *obs)
{
    return obs->spo2_pct.state != RP_NOT_MEASURED || obs->pulse_bpm.state != RP_NOT_MEASURED ||
           obs->resp_rpm.state != RP_NOT_MEASURED || obs->acvpu.state != RP_NOT_MEASURED;
}

static void build_table_head(struct rp_build *b)
{
    static const enum rp_text_id columns[] = {
        RP_TX_C_TIME, RP_TX_C_AGE,  RP_TX_C_MODE,  RP_TX_C_SPO2, RP_TX_C_PULSE,  RP_TX_C_RESP,
        RP_TX_C_BP,   RP_TX_C_TEMP, RP_TX_C_ACVPU, RP_TX_C_GCS,  RP_TX_C_ATAXIA, RP_TX_C_LLS};
    rp_build_row(b, RP_TX_NONE);
    b->row.style = RP_ROW_TABLE;
    for (size_t i = 0; i < sizeof columns / sizeof columns[0]; i++) {
        rp_build_word(b, columns[i]);
    }
    rp_build_end(b);
}

static void build_table_acvpu(struct rp_build *b, const struct rp_obs *obs)
{
    if (obs->acvpu.state == RP_MEASURED) {
        rp_build_word(b, rp_text_pick(RP_TX_ACVPU_SHORT_ALERT, RP_TX_ACVPU_SHORT_UNRESPONSIVE,
                                      obs->acvpu.value));
    } else {
        rp_build_value(b, RP_TX_NONE, obs->acvpu, 0, RP_TX_NONE, NULL);
    }
}

static void build_table_line(struct rp_build *b, const struct rp_obs *obs)
{
    rp_build_row(b, RP_TX_NONE);
    b->row.style = RP_ROW_TABLE;
    b->row.from = &obs->from;
    rp_build_time(b, RP_TX_NONE, obs->taken_s);
    rp_build_age(b, RP_TX_NONE, obs->taken_s);
    rp_build_word(
        b, rp_text_pick(RP_TX_MODE_SHORT_UNSAID, RP_TX_MODE_SHORT_CHAMBER_OXYGEN, obs->mode));
    rp_build_value(b, RP_TX_NONE, obs->spo2_pct, 0, RP_TX_NONE, NULL);
    rp_build_value(b, RP_TX_NONE, obs->pulse_bpm, 0, RP_TX_NONE, NULL);
    rp_build_value(b, RP_TX_NONE, obs->resp_rpm, 0, RP_TX_NONE, NULL);
    rp_build_blood_pressure(b, RP_TX_NONE, obs);
    rp_build_value(b, RP_TX_NONE, obs->temp_dc, 1, RP_TX_NONE, NULL);
    if (obs->temp_dc.state == RP_MEASURED) {
        b->row.items[b->row.item_count - 1].word =
            rp_text_pick(RP_TX_SITE_SHORT_UNSAID, RP_TX_SITE_SHORT_OESOPHAGEAL, obs->temp_site);
    }
    build_table_acvpu(b, obs);
    rp_build_gcs(b, RP_TX_NONE, obs);
    rp_build_value(b, RP_TX_NONE, obs->ataxia, 0, RP_TX_NONE, NULL);
    rp_build_value(b, RP_TX_NONE, obs->lls, 0, RP_TX_NONE, NULL);
    rp_build_end(b);
    const struct rp_source *from = &obs->from;
    bool named = from->by[0] != '\0' && strcmp(from->by, b->ep->opening_from.by) != 0;
    if (from->unsynced || from->via != RP_VIA_ENTERED || named) {
        rp_build_row(b, RP_TX_NONE);
        if (named) {
            rp_build_source(b, from);
        } else {
            rp_build_quality(b, from);
        }
        rp_build_end(b);
    }
}

/* Picks the newest sets to show; returns how many; *out_earlier counts the others with vitals. */
static size_t pick_sets(const struct rp_episode *ep, const struct rp_obs *shown[SETS_SHOWN],
                        size_t *out_earlier)
{
    size_t count = 0, earlier = 0;
    for (size_t i = ep->obs.count; i > 0; i--) {
        const struct rp_obs *obs = &ep->obs.at[i - 1];
        if (obs->from.voided || !obs_has_vitals(obs)) {
            continue;
        }
        if (count < SETS_SHOWN) {
            shown[count++] = obs;
        } else {
            earlier++;
        }
    }
    *out_earlier = earlier;
    return count;
}

static bool is_shown(const struct rp_obs *obs, const struct rp_obs *const *shown, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (shown[i] == obs) {
            return true;
        }
    }
    return false;
}

static void build_struck_levels(struct rp_build *b, const struct rp_obs *obs)
{
    rp_build_join(b, RP_JOIN_COMMA);
    if (obs->acvpu.state == RP_MEASURED) {
        rp_build_word(b,
                      rp_text_pick(RP_TX_ACVPU_ALERT, RP_TX_ACVPU_UNRESPONSIVE, obs->acvpu.value));
        rp_build_join(b, RP_JOIN_COMMA);
    }
    if (obs->gcs_eye.state == RP_MEASURED) {
        rp_build_gcs(b, RP_TX_GCS, obs);
        b->row.items[b->row.item_count - 1].taken_from = NULL; /* the row says when */
        rp_build_join(b, RP_JOIN_COMMA);
    }
    if (obs->systolic_mmhg.state == RP_MEASURED) {
        rp_build_blood_pressure(b, RP_TX_BP, obs);
        b->row.items[b->row.item_count - 1].taken_from = NULL;
    }
}

/* Sets that were corrected: what they said, struck. */
static void build_struck_sets(struct rp_build *b)
{
    for (size_t i = 0; i < b->ep->obs.count; i++) {
        const struct rp_obs *obs = &b->ep->obs.at[i];
        const struct {
            enum rp_text_id label, unit;
            struct rp_value value;
            uint8_t decimals;
        } values[] = {
            {RP_TX_SPO2, RP_TX_U_PCT, obs->spo2_pct, 0},
            {RP_TX_PULSE, RP_TX_U_PER_MIN, obs->pulse_bpm, 0},
            {RP_TX_RESP, RP_TX_U_PER_MIN, obs->resp_rpm, 0},
            {RP_TX_TEMP, RP_TX_U_C, obs->temp_dc, 1},
            {RP_TX_ATAXIA_HEEL, RP_TX_U_OF_4, obs->ataxia, 0},
            {RP_TX_LLS_2018, RP_TX_U_OF_12, obs->lls, 0},
            {RP_TX_PAIN, RP_TX_U_OF_10, obs->pain, 0},
        };
        if (!obs->from.voided) {
            continue;
        }
        rp_build_row(b, RP_TX_NONE);
        rp_build_from(b, &obs->from);
        rp_build_time(b, RP_TX_NONE, obs->taken_s);
        rp_build_word(b, rp_text_pick(RP_TX_MODE_UNSAID, RP_TX_MODE_CHAMBER_OXYGEN, obs->mode));
        for (size_t k = 0; k < sizeof values / sizeof values[0]; k++) {
            if (values[k].value.state == RP_MEASURED) {
                rp_build_join(b, RP_JOIN_COMMA);
                rp_build_value(b, values[k].label, values[k].value, values[k].decimals,
                               values[k].unit, NULL);
            }
        }
        build_struck_levels(b, obs);
        rp_build_end(b);
    }
}

/* Blood pressure, temperature and coma scale are taken more seldom: the newest of each, when it
 * is not in the table. Pain is never in the table. */
static void build_other_latest(struct rp_build *b, const struct rp_obs *const *shown, size_t count)
{
    const struct rp_episode *ep = b->ep;
    const struct rp_obs *bp = rp_episode_last_obs(ep, offsetof(struct rp_obs, systolic_mmhg), -1);
    const struct rp_obs *temp = rp_episode_last_obs(ep, offsetof(struct rp_obs, temp_dc), -1);
    const struct rp_obs *gcs = rp_episode_last_obs(ep, offsetof(struct rp_obs, gcs_eye), -1);
    const struct rp_obs *pain = rp_episode_last_obs(ep, offsetof(struct rp_obs, pain), -1);
    rp_build_row(b, RP_TX_L_LATEST);
    if (bp != NULL && !is_shown(bp, shown, count)) {
        rp_build_blood_pressure(b, RP_TX_BP, bp);
        rp_build_join(b, RP_JOIN_SEMICOLON);
    }
    if (temp != NULL && !is_shown(temp, shown, count)) {
        rp_build_value(b, RP_TX_TEMP, temp->temp_dc, 1, RP_TX_U_C, temp);
        b->row.items[b->row.item_count - 1].number_2 = 1 + temp->temp_site;
        rp_build_join(b, RP_JOIN_SEMICOLON);
    }
    if (gcs != NULL && !is_shown(gcs, shown, count)) {
        rp_build_gcs(b, RP_TX_GCS, gcs);
        rp_build_join(b, RP_JOIN_SEMICOLON);
    }
    if (pain != NULL) {
        rp_build_value(b, RP_TX_PAIN, pain->pain, 0, RP_TX_U_OF_10, pain);
    }
    rp_build_end(b);
}

static void build_table(struct rp_build *b)
{
    const struct rp_obs *shown[SETS_SHOWN];
    size_t earlier, count = pick_sets(b->ep, shown, &earlier);
    rp_build_row(b, RP_TX_L_SIGNS);
    if (count == 0) {
        rp_build_loud(b, RP_TX_NO_SETS);
        rp_build_end(b);
    } else {
        rp_build_number(b, RP_TX_LAST, (int64_t)count, 0, RP_TX_NONE);
        rp_build_number(b, RP_TX_LAST_SETS,
                        (int64_t)(count + earlier) + b->ep->obs.older_dropped + b->ep->obs_dropped,
                        0, RP_TX_NONE);
        rp_build_join(b, RP_JOIN_SEMICOLON);
        rp_build_word(b, RP_TX_TABLE_KEY);
        rp_build_end(b);
        build_table_head(b);
        for (size_t i = count; i > 0; i--) {
            build_table_line(b, shown[i - 1]);
        }
    }
    build_other_latest(b, shown, count);
    build_struck_sets(b);
}

/* Fixed lines: asked first at every handover, missing in most (clinical reference 4.1). */
static void build_airway(struct rp_build *b)
{
    const struct rp_obs *obs;
    struct rp_value airway = rp_sheet_newest(b->ep, offsetof(struct rp_obs, airway), &obs);
    rp_build_row(b, RP_TX_L_AIRWAY);
    if (airway.state == RP_MEASURED) {
        rp_build_loud(b, rp_text_pick(RP_TX_AIRWAY_CLEAR, RP_TX_AIRWAY_DEVICE, airway.value));
        b->row.items[b->row.item_count - 1].taken_from = obs;
    } else {
        rp_build_loud(b, airway.state == RP_UNABLE ? RP_TX_UNABLE : RP_TX_NOT_RECORDED);
    }
    rp_build_join(b, RP_JOIN_STOP);
    build_score(b, RP_TX_BREATHING_RATE, offsetof(struct rp_obs, resp_rpm), RP_TX_U_PER_MIN);
    rp_build_end(b);
}

void rp_sheet_build_complaint(struct rp_build *b)
{
    b->section = RP_SECTION_PATIENT;
    rp_build_row(b, RP_TX_L_PATIENT);
    rp_sheet_build_identity(b, b->ep->opened ? &b->ep->opening : NULL);
    rp_build_end(b);
    build_times(b);
    build_complaint(b);
    build_earlier_openings(b);
    build_investigations(b);
}

void rp_sheet_build_signs(struct rp_build *b)
{
    b->section = RP_SECTION_SIGNS;
    build_table(b);
    build_airway(b);
    rp_sheet_build_scores(b);
}

static void build_known(struct rp_build *b, enum rp_text_id label, const struct rp_known *known)
{
    if (known->state == RP_KNOWN) {
        rp_build_entered(b, label, known->text);
    } else if (known->state == RP_NONE_KNOWN) {
        rp_build_labelled(b, label, RP_TX_NONE_KNOWN);
    } else {
        rp_build_labelled(b, label, RP_TX_NOT_ASKED);
    }
}

static bool same_answer(const struct rp_known *a, const struct rp_known *b)
{
    return a->state == b->state && (a->state != RP_KNOWN || strcmp(a->text, b->text) == 0);
}

/* Answers that a newer one replaced, and corrected ones: two answers to one question is what a
 * receiving doctor must see. */
static void build_earlier_answers(struct rp_build *b, enum rp_background_field field,
                                  const struct rp_known *now)
{
    for (size_t i = b->ep->known[field].count; i > 0; i--) {
        const struct rp_known_entry *entry = &b->ep->known[field].at[i - 1];
        if (!entry->from.voided && same_answer(&entry->what, now)) {
            continue;
        }
        rp_build_row(b, RP_TX_NONE);
        rp_build_from(b, &entry->from);
        rp_build_time(b, RP_TX_EARLIER_ANSWER, entry->from.happened_s);
        build_known(b, RP_TX_NONE, &entry->what);
        rp_build_source(b, &entry->from);
        rp_build_end(b);
    }
    rp_build_dropped(b, b->ep->known[field].older_dropped);
}

/* When and by whom the answer in force was given. */
static void build_answered(struct rp_build *b, enum rp_background_field field,
                           const struct rp_known *now)
{
    for (size_t i = b->ep->known[field].count; i > 0; i--) {
        const struct rp_known_entry *entry = &b->ep->known[field].at[i - 1];
        if (!entry->from.voided && same_answer(&entry->what, now)) {
            rp_build_join(b, RP_JOIN_COMMA);
            rp_build_time(b, RP_TX_NONE, entry->from.happened_s);
            rp_build_other_source(b, &entry->from);
            return;
        }
    }
}

/* Whether an answer may exist that is not held here. */
static bool may_miss_records(const struct rp_build *b)
{
    bool missing = !b->ep->opened || b->ep->undecodable > 0 || b->in->holding_count == 0;
    for (size_t i = 0; i < b->in->holding_count; i++) {
        missing = missing || b->in->holdings[i].known > b->in->holdings[i].held;
    }
    return missing;
}

static void build_allergies(struct rp_build *b)
{
    const struct rp_known *allergies = &b->ep->background.allergies;
    b->section = RP_SECTION_ALLERGIES;
    rp_build_row(b, RP_TX_L_ALLERGIES);
    if (allergies->state == RP_NOT_ASKED) {
        rp_build_loud(b, RP_TX_NOT_ASKED_LOUD);
        if (may_miss_records(b)) {
            rp_build_loud(b, RP_TX_OR_NOT_RECEIVED);
            /* It depends on the station that prints, as the count of entries held does. */
            b->row.items[b->row.item_count - 1].live = true;
        }
    } else {
        build_known(b, allergies->state == RP_KNOWN ? RP_TX_ALLERGIC : RP_TX_NONE, allergies);
        build_answered(b, RP_BG_ALLERGIES, allergies);
    }
    rp_build_end(b);
    build_earlier_answers(b, RP_BG_ALLERGIES, allergies);
}

static void build_notes(struct rp_build *b)
{
    rp_build_row(b, RP_TX_L_NOTES);
    if (b->ep->notes.count == 0) {
        rp_build_word(b, RP_TX_NO_NOTES);
        rp_build_end(b);
    }
    for (size_t i = 0; i < b->ep->notes.count; i++) {
        const struct rp_note_entry *note = &b->ep->notes.at[i];
        rp_build_row(b, i == 0 ? RP_TX_L_NOTES : RP_TX_NONE);
        rp_build_from(b, &note->from);
        rp_build_time(b, RP_TX_NONE, note->from.happened_s);
        rp_build_entered(b, RP_TX_NONE, note->text);
        rp_build_other_source(b, &note->from);
        rp_build_end(b);
    }
    rp_build_dropped(b, b->ep->notes.older_dropped);
}

void rp_sheet_build_background(struct rp_build *b)
{
    const struct rp_rec_background *background = &b->ep->background;
    build_allergies(b);
    b->section = RP_SECTION_MEDICINES;
    rp_build_row(b, RP_TX_L_MEDICINES);
    build_known(b, RP_TX_NONE, &background->medicines);
    rp_build_end(b);
    build_earlier_answers(b, RP_BG_MEDICINES, &background->medicines);
    b->section = RP_SECTION_BACKGROUND;
    rp_build_row(b, RP_TX_L_HISTORY);
    build_known(b, RP_TX_HISTORY, &background->history);
    rp_build_join(b, RP_JOIN_STOP);
    build_known(b, RP_TX_LAST_MEAL, &background->last_meal);
    rp_build_end(b);
    build_earlier_answers(b, RP_BG_HISTORY, &background->history);
    build_earlier_answers(b, RP_BG_LAST_MEAL, &background->last_meal);
    b->section = RP_SECTION_OTHER;
    rp_build_row(b, RP_TX_L_CONTACT);
    build_known(b, RP_TX_NONE, &background->contact);
    rp_build_end(b);
    build_earlier_answers(b, RP_BG_CONTACT, &background->contact);
    build_notes(b);
}
