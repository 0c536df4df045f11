#include "handover/voice/spoken.h"

#include "handover/build.h"
#include "handover/voice/script.h"
#include "incident/assess/assess.h"

/* Ranks: what a crew asks first is said first (clinical references 4.1, the findings on what
 * handovers leave out). */
enum {
    RANK_ILLNESS = RP_SCRIPT_FIRST,
    RANK_DRUG,
    RANK_SIGNS,
    RANK_CHAMBER,
    RANK_ONSET,
    RANK_MEDICINES,
    RANK_SPELL,
    RANK_SHEET,
    RANK_GAP,
    RANK_OTHER
};

static void say_who(struct rp_script *s)
{
    const struct rp_rec_episode *o = &s->ep->opening;
    struct rp_voice *v = &s->voice;
    rp_script_part(s, 'A', RP_SCRIPT_MUST, false);
    if (!s->ep->opened) {
        rp_voice_word(v, RP_TX_SAY_NOT_OPENED);
        return;
    }
    rp_voice_word(v, RP_TX_SAY_PATIENT);
    if (o->patient[0] != '\0') {
        rp_voice_entered(v, o->patient);
    } else {
        rp_voice_word(v, RP_TX_SAY_NO_NAME);
    }
    if (o->sex == RP_SEX_FEMALE || o->sex == RP_SEX_MALE) {
        rp_voice_stop(v, ",");
        rp_voice_word(v, o->sex == RP_SEX_MALE ? RP_TX_SEX_MALE : RP_TX_SEX_FEMALE);
    }
    rp_voice_stop(v, ",");
    if (o->has_age) {
        rp_voice_number(v, o->age_y, 0);
        rp_voice_word(v, RP_TX_SAY_YEARS);
    } else {
        rp_voice_word(v, RP_TX_SAY_AGE_UNKNOWN);
    }
    rp_voice_stop(v, ".");
    if (rp_voice_spells(o->patient)) {
        rp_script_part(s, ' ', RANK_SPELL, false);
        rp_voice_word(v, RP_TX_SAY_I_SPELL);
        rp_voice_spell(v, o->patient);
        rp_voice_stop(v, ".");
    }
}

static void say_times(struct rp_script *s)
{
    const struct rp_rec_episode *o = &s->ep->opening;
    uint32_t now_s = s->facts->input->now_s;
    const struct rp_altitude *altitude = rp_episode_altitude(s->ep);
    struct rp_voice *v = &s->voice;
    if (altitude->present) {
        rp_script_part(s, 'T', RANK_ONSET, false);
        rp_script_topic(s, RP_TX_LEFT_ALTITUDE);
        rp_voice_height(v, altitude->metres);
        rp_voice_word(v, RP_TX_SAY_METRES);
        rp_voice_stop(v, ".");
    }
    if (s->ep->opened && o->has_onset) {
        rp_script_part(s, 'T', RANK_ONSET, false);
        rp_script_topic(s, RP_TX_LEFT_TIMES);
        rp_voice_word(v, RP_TX_SAY_ONSET);
        rp_voice_time(v, now_s, o->onset_s);
        rp_voice_stop(v, ".");
    }
    if (s->ep->opened && o->has_reached) {
        rp_script_part(s, 'T', RANK_OTHER, false);
        rp_script_topic(s, RP_TX_LEFT_TIMES);
        rp_voice_word(v, RP_TX_SAY_GAINED);
        rp_voice_time(v, now_s, o->reached_s);
        rp_voice_stop(v, ".");
    }
}

static void say_label(struct rp_script *s)
{
    const struct rp_rec_episode *o = &s->ep->opening;
    struct rp_voice *v = &s->voice;
    rp_script_part(s, 'M', RP_SCRIPT_MUST, false);
    if (s->ep->opened && rp_voice_illness(v, o->label)) {
        rp_voice_stop(v, ".");
    } else {
        rp_voice_word(v, RP_TX_SAY_NO_LABEL);
    }
    if (s->ep->opened && (o->label & RP_LABEL_OTHER) != 0 && o->label_text[0] != '\0') {
        rp_script_part(s, ' ', RANK_ILLNESS, false);
        rp_script_topic(s, RP_TX_LEFT_ILLNESS);
        rp_voice_word(v, RP_TX_SAY_OTHER);
        rp_voice_entered(v, o->label_text);
        rp_voice_stop(v, ".");
    }
}

static void say_value(struct rp_voice *v, enum rp_text_id what, struct rp_value value,
                      enum rp_text_id unit)
{
    rp_voice_word(v, what);
    if (value.state == RP_MEASURED) {
        rp_voice_number(v, value.value, 0);
        rp_voice_word(v, unit);
    } else {
        rp_voice_word(v, value.state == RP_UNABLE ? RP_TX_SAY_NO_RESULT : RP_TX_SAY_NOT_MEASURED);
    }
    rp_voice_stop(v, ",");
}

static void say_age(struct rp_voice *v, uint32_t now_s, uint32_t time_s)
{
    uint32_t minutes = now_s > time_s ? (now_s - time_s) / 60 : 0;
    bool hours = minutes >= 120;
    if (minutes == 0) {
        rp_voice_word(v, RP_TX_SAY_NOW);
        rp_voice_stop(v, ".");
        return;
    }
    rp_voice_before(v, RP_TX_SAY_AGE);
    rp_voice_number(v, hours ? minutes / 60 : minutes, 0);
    rp_voice_word(v, hours ? RP_TX_SAY_HOURS : RP_TX_SAY_MINUTES);
    rp_voice_after(v, RP_TX_SAY_AGE);
    rp_voice_stop(v, ".");
}

/* Whether the sheet has signs beside those that are said. */
static bool has_more_signs(const struct rp_episode *ep)
{
    unsigned sets = 0, more = ep->obs.older_dropped + ep->obs_dropped;
    for (size_t i = 0; i < ep->obs.count; i++) {
        const struct rp_obs *obs = &ep->obs.at[i];
        const struct rp_value others[] = {obs->gcs_eye,       obs->gcs_verbal,     obs->gcs_motor,
                                          obs->systolic_mmhg, obs->diastolic_mmhg, obs->temp_dc,
                                          obs->lls,           obs->ataxia,         obs->pain};
        sets += !obs->from.voided;
        for (size_t k = 0; !obs->from.voided && k < sizeof others / sizeof others[0]; k++) {
            more += others[k].state == RP_MEASURED;
        }
    }
    return sets > 1 || more > 0;
}

/* The newest set that holds one of the three, whole: values of one time and mode. */
static void say_signs(struct rp_script *s)
{
    struct rp_voice *v = &s->voice;
    const struct rp_obs *obs = NULL, *airway;
    for (size_t i = s->ep->obs.count; i > 0 && obs == NULL; i--) {
        obs = s->ep->obs.at[i - 1].from.voided ? NULL : &s->ep->obs.at[i - 1];
    }
    struct rp_value level = rp_sheet_newest(s->ep, offsetof(struct rp_obs, airway), &airway);
    rp_script_part(s, 'S', RP_SCRIPT_MUST, false);
    rp_voice_word(v, RP_TX_SAY_AIRWAY);
    rp_voice_word(v, level.state == RP_MEASURED
                         ? rp_text_pick(RP_TX_AIRWAY_CLEAR, RP_TX_AIRWAY_DEVICE, level.value)
                         : RP_TX_SAY_NOT_MEASURED);
    rp_voice_stop(v, ".");
    if (has_more_signs(s->ep)) {
        rp_script_left(s, RP_TX_LEFT_SIGNS);
    }
    if (obs == NULL) {
        return;
    }
    rp_script_part(s, 'S', RANK_SIGNS, false);
    rp_script_topic(s, RP_TX_LEFT_SIGNS);
    say_value(v, RP_TX_SAY_RESP, obs->resp_rpm, RP_TX_NONE);
    say_value(v, RP_TX_SAY_SPO2, obs->spo2_pct, RP_TX_SAY_PERCENT);
    say_value(v, RP_TX_SAY_PULSE, obs->pulse_bpm, RP_TX_NONE);
    if (obs->acvpu.state == RP_MEASURED) {
        rp_voice_word(v,
                      rp_text_pick(RP_TX_ACVPU_ALERT, RP_TX_ACVPU_UNRESPONSIVE, obs->acvpu.value));
        rp_voice_stop(v, ",");
    }
    rp_voice_word(v, rp_text_pick(RP_TX_MODE_UNSAID, RP_TX_MODE_CHAMBER_OXYGEN, obs->mode));
    rp_voice_stop(v, ",");
    say_age(v, s->facts->input->now_s, obs->taken_s);
}

static void say_dose(struct rp_script *s, const struct rp_dose *dose)
{
    struct rp_voice *v = &s->voice;
    rp_voice_entered(v, dose->what.name);
    if (dose->what.refused) {
        rp_voice_word(v, RP_TX_SAY_REFUSED);
    } else if (dose->what.has_dose) {
        rp_voice_number(v, dose->what.dose_milli, 3);
        rp_voice_word(v,
                      rp_text_pick(RP_TX_SAY_DOSE_NONE, RP_TX_SAY_DOSE_IU, dose->what.dose_unit));
        if (dose->what.route != RP_ROUTE_UNSAID) {
            rp_voice_word(v,
                          rp_text_pick(RP_TX_ROUTE_UNSAID, RP_TX_ROUTE_TOPICAL, dose->what.route));
        }
    } else {
        rp_voice_word(v, RP_TX_SAY_DOSE_UNKNOWN);
    }
    rp_voice_time(v, s->facts->input->now_s, dose->from.happened_s);
    rp_voice_stop(v, ".");
}

/* More than these do not fit in any case: a dose takes about ten words. */
#define DOSES_SAID 8

static void say_drugs(struct rp_script *s)
{
    struct rp_voice *v = &s->voice;
    uint32_t count = s->ep->doses.older_dropped;
    for (size_t i = 0; i < s->ep->doses.count; i++) {
        count += !s->ep->doses.at[i].from.voided;
    }
    rp_script_part(s, 'T', RP_SCRIPT_MUST, count > 0);
    if (count == 0) {
        rp_voice_word(v, RP_TX_SAY_NO_DRUGS);
        return;
    }
    rp_voice_word(v, RP_TX_SAY_DRUGS);
    rp_voice_number(v, count, 0);
    rp_voice_stop(v, ".");
    unsigned said = 0;
    for (size_t i = s->ep->doses.count; i > 0 && said < DOSES_SAID; i--) {
        if (!s->ep->doses.at[i - 1].from.voided) { /* newest first: what still works */
            rp_script_part(s, ' ', RANK_DRUG, false);
            rp_script_topic(s, RP_TX_LEFT_DRUGS);
            say_dose(s, &s->ep->doses.at[i - 1]);
            said++;
        }
    }
    if (said < count) {
        rp_script_left(s, RP_TX_LEFT_DRUGS);
    }
}

static void say_chamber(struct rp_script *s)
{
    struct rp_voice *v = &s->voice;
    const struct rp_session *session = rp_sheet_last_session(s->ep);
    const struct rp_oxygen_entry *oxygen = rp_sheet_last_oxygen(s->ep);
    if (session != NULL) {
        rp_script_part(s, ' ', RANK_CHAMBER, false);
        rp_script_topic(s, RP_TX_LEFT_CHAMBER);
        bool inside = session->phase >= RP_PHASE_CLOSED && session->phase <= RP_PHASE_DEFLATING;
        rp_voice_word(v, inside ? RP_TX_SAY_IN_CHAMBER : RP_TX_SAY_CHAMBER_DONE);
        if (!inside) {
            rp_voice_number(v, s->ep->sessions.count, 0);
            rp_voice_stop(v, ",");
        }
        rp_voice_number(v, session->at_pressure_total_s / 60, 0);
        rp_voice_word(v, RP_TX_SAY_AT_PRESSURE);
        rp_voice_stop(v, ".");
    }
    const struct rp_rec_status *status = &s->ep->status;
    bool reported = s->ep->has_status && status->oxygen_flow_dlpm.state == RP_MEASURED &&
                    (oxygen == NULL || s->ep->status_from.happened_s > oxygen->from.happened_s);
    if (oxygen == NULL && !reported) {
        return;
    }
    struct rp_value flow = reported ? status->oxygen_flow_dlpm : oxygen->what.flow_dlpm;
    bool stopped = !reported && oxygen->what.action == RP_O2_STOP;
    rp_script_part(s, ' ', RANK_CHAMBER, false);
    rp_script_topic(s, RP_TX_LEFT_OXYGEN);
    if (stopped || (flow.state == RP_MEASURED && flow.value == 0)) {
        rp_voice_word(v, RP_TX_SAY_OXYGEN_OFF);
    } else if (flow.state == RP_MEASURED) {
        rp_voice_word(v, RP_TX_SAY_OXYGEN);
        rp_voice_number(v, flow.value, 1);
        rp_voice_word(v, RP_TX_SAY_LITRES);
        rp_voice_stop(v, ".");
    } else {
        rp_voice_word(v, RP_TX_SAY_OXYGEN);
        rp_voice_word(v, RP_TX_FLOW_UNKNOWN);
        rp_voice_stop(v, ".");
    }
}

static void say_known(struct rp_voice *v, const struct rp_known *known)
{
    if (known->state == RP_KNOWN) {
        rp_voice_entered(v, known->text);
    } else {
        rp_voice_word(v,
                      known->state == RP_NONE_KNOWN ? RP_TX_SAY_NONE_KNOWN : RP_TX_SAY_NOT_ASKED);
    }
    rp_voice_stop(v, ".");
}

static void say_allergies(struct rp_script *s)
{
    const struct rp_rec_background *background = &s->ep->background;
    struct rp_voice *v = &s->voice;
    rp_script_part(s, 'A', RP_SCRIPT_MUST, true);
    rp_voice_word(v, background->allergies.state == RP_KNOWN ? RP_TX_SAY_ALLERGIC
                                                             : RP_TX_SAY_ALLERGIES);
    say_known(v, &background->allergies);
    rp_script_part(s, 'M', RANK_MEDICINES, false);
    rp_script_topic(s, RP_TX_LEFT_MEDICINES);
    rp_voice_word(v, RP_TX_SAY_MEDICINES);
    say_known(v, &background->medicines);
}

/* What the team that took the patient may not have heard. */
static void say_late(struct rp_script *s)
{
    uint32_t count = rp_episode_late_count(s->ep);
    if (count > 0) {
        rp_script_part(s, ' ', RP_SCRIPT_MUST, true);
        rp_voice_word(&s->voice, RP_TX_SAY_LATE);
        rp_voice_number(&s->voice, count, 0);
        rp_voice_stop(&s->voice, ".");
    }
}

#define GAPS_SAID 4

static void say_gaps(struct rp_script *s)
{
    const struct rp_sheet_facts *facts = s->facts;
    struct rp_voice *v = &s->voice;
    bool more = facts->gap_count > RP_SHEET_GAPS_MAX;
    rp_script_part(s, 'O', RP_SCRIPT_MUST, false);
    rp_voice_word(v, RP_TX_SAY_SILENCES);
    if (facts->gap_count == 0) {
        rp_voice_word(v, RP_TX_SAY_NONE);
    } else {
        rp_voice_word(v, more ? RP_TX_SAY_MORE_THAN : RP_TX_NONE);
        rp_voice_number(v, more ? RP_SHEET_GAPS_MAX : (int64_t)facts->gap_count, 0);
    }
    rp_voice_stop(v, ".");
    if (facts->gap_count > GAPS_SAID) {
        rp_script_left(s, RP_TX_LEFT_SILENCES);
    }
    for (size_t i = 0; i < facts->gap_count && i < GAPS_SAID; i++) {
        rp_script_part(s, ' ', RANK_GAP, false);
        rp_script_topic(s, RP_TX_LEFT_SILENCES);
        rp_voice_word(v, RP_TX_SAY_FROM);
        rp_voice_time(v, facts->input->now_s, facts->gaps[i].from_s);
        rp_voice_word(v, RP_TX_SAY_TO);
        rp_voice_time(v, facts->input->now_s, facts->gaps[i].to_s);
        rp_voice_stop(v, ".");
    }
}

static bool any_dose_flagged(const struct rp_episode *ep)
{
    bool any = false;
    for (size_t i = 0; i < ep->doses.count; i++) {
        any = any || (ep->doses.at[i].what.flags != 0 && !ep->doses.at[i].from.voided);
    }
    return any;
}

static bool has_findings(const struct rp_episode *ep)
{
    bool any = ep->opening.first_sign[0] != '\0' || ep->reassess.count > 0;
    for (size_t i = 0; i < RP_CRIT_COUNT; i++) {
        any = any || ep->opening.criteria[i] != RP_FINDING_NOT_ASKED;
    }
    return any;
}

/* What is never said, for want of time, and is named. */
static void name_the_rest(struct rp_script *s)
{
    const struct rp_episode *ep = s->ep;
    const struct rp_rec_background *background = &ep->background;
    const struct {
        enum rp_text_id topic;
        bool held;
    } rest[] = {
        {RP_TX_LEFT_HISTORY,
         background->history.state != RP_NOT_ASKED || background->last_meal.state != RP_NOT_ASKED},
        {RP_TX_LEFT_FINDINGS, has_findings(ep)},
        {RP_TX_LEFT_DESCENT, ep->descent.count > 0},
        {RP_TX_LEFT_NOTES, ep->notes.count > 0},
        {RP_TX_LEFT_WARNINGS, any_dose_flagged(ep)},
        {RP_TX_LEFT_CORRECTIONS, ep->corrections.count > 0},
    };
    for (size_t i = 0; i < sizeof rest / sizeof rest[0]; i++) {
        if (rest[i].held) {
            rp_script_left(s, rest[i].topic);
        }
    }
}

int rp_spoken_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                     size_t cap)
{
    struct rp_script s;
    rp_script_begin(&s, facts, texts);
    say_who(&s);
    say_times(&s);
    say_label(&s);
    say_signs(&s);
    say_drugs(&s);
    say_chamber(&s);
    say_allergies(&s);
    say_gaps(&s);
    name_the_rest(&s);
    say_late(&s);
    if (facts->check != NULL) {
        rp_script_part(&s, ' ', RANK_SHEET, false);
        rp_voice_word(&s.voice, RP_TX_SAY_SHEET);
        if (facts->input->sheet_number > 0) {
            rp_voice_number(&s.voice, facts->input->sheet_number, 0);
        } else {
            rp_voice_word(&s.voice, RP_TX_DRAFT);
        }
        rp_voice_word(&s.voice, RP_TX_SAY_CHECK);
        rp_voice_spell(&s.voice, facts->check);
        rp_voice_stop(&s.voice, ".");
    }
    rp_script_part(&s, ' ', RP_SCRIPT_POINTER, false);
    rp_script_part(&s, ' ', RP_SCRIPT_MUST, true);
    rp_voice_word(&s.voice, RP_TX_SAY_READ_BACK);
    return rp_script_end(&s, RP_TX_SPOKEN_TITLE, RP_SPOKEN_WORDS_MAX, buf, cap);
}
