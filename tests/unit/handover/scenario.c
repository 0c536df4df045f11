#include "scenario.h"

#include <assert.h>
#include <string.h>

#define TEXT(field, text) scenario_text(field, sizeof(field), text)

static const char *name_of(void *ctx, uint8_t station)
{
    (void)ctx;
    switch (station) {
    case RIDGE_CAMP:
        return "Ridge Camp";
    case LAKE_CAMP:
        return "Lake Camp";
    default:
        return NULL;
    }
}

void scenario_text(char *field, size_t size, const char *text)
{
    size_t len = strlen(text);
    assert(len < size);
    memcpy(field, text, len + 1);
}

static struct rp_value measured(int16_t value)
{
    return (struct rp_value){RP_MEASURED, value};
}

struct rp_source scenario_source(uint8_t station, uint32_t seq, uint32_t time_s, const char *by)
{
    struct rp_source from = {
        .ref = {(uint16_t)(station << 9 | 5), seq},
        .station = station,
        .happened_s = time_s,
        .recorded_s = time_s,
    };
    TEXT(from.by, by);
    return from;
}

static struct rp_source camp(uint32_t seq, uint32_t time_s)
{
    return scenario_source(RIDGE_CAMP, seq, time_s, "Ines Okafor");
}

static struct rp_source base(uint32_t seq, uint32_t time_s)
{
    return scenario_source(LAKE_CAMP, seq, time_s, "Pelle Aandal");
}

void scenario_empty(struct scenario *s)
{
    memset(s, 0, sizeof *s);
    s->episode.ref = (struct rp_episode_ref){RIDGE_CAMP << 9 | 5, 1};
    s->episode.request_now = -1;
    s->episode.eta_answer = -1;
    s->input = (struct rp_sheet_input){
        .episode = &s->episode,
        .now_s = NOW_S,
        .utc_offset_s = 5 * 3600 + 45 * 60,
        .has_local = true,
        .sheet_number = 3,
        .station = LAKE_CAMP,
        .station_name = "Lake Camp",
        .station_name_of = name_of,
    };
}

struct rp_dose *scenario_dose(struct scenario *s, struct rp_source from, const char *name,
                              uint32_t dose_mg, uint8_t route)
{
    assert(s->episode.doses.count < RP_EP_DOSES_MAX);
    struct rp_dose *dose = &s->episode.doses.at[s->episode.doses.count++];
    dose->from = from;
    TEXT(dose->what.name, name);
    dose->what.has_dose = dose_mg > 0;
    dose->what.dose_milli = dose_mg * 1000;
    dose->what.dose_unit = RP_DOSE_MG;
    dose->what.route = route;
    return dose;
}

struct rp_obs *scenario_obs(struct scenario *s, struct rp_source from, uint8_t mode, int16_t spo2,
                            int16_t pulse, int16_t resp, int16_t acvpu)
{
    assert(s->episode.obs.count < RP_EP_OBS_MAX);
    struct rp_obs *obs = &s->episode.obs.at[s->episode.obs.count++];
    obs->from = from;
    obs->taken_s = from.happened_s;
    obs->mode = mode;
    obs->spo2_pct = measured(spo2);
    obs->pulse_bpm = measured(pulse);
    obs->resp_rpm = measured(resp);
    obs->acvpu = measured(acvpu);
    return obs;
}

struct rp_note_entry *scenario_note(struct scenario *s, struct rp_source from, const char *text)
{
    assert(s->episode.notes.count < RP_EP_NOTES_MAX);
    struct rp_note_entry *note = &s->episode.notes.at[s->episode.notes.count++];
    note->from = from;
    TEXT(note->text, text);
    return note;
}

struct rp_answer_entry *scenario_answer(struct scenario *s, struct rp_source from, uint8_t kind,
                                        const char *whom)
{
    assert(s->episode.answers.count < RP_EP_ANSWERS_MAX);
    struct rp_answer_entry *answer = &s->episode.answers.at[s->episode.answers.count++];
    answer->from = from;
    answer->what.kind = kind;
    TEXT(answer->what.whom, whom);
    if (s->episode.request_now >= 0) {
        answer->what.about = s->episode.requests.at[s->episode.request_now].from.ref;
    }
    return answer;
}

void scenario_correct(struct scenario *s, struct rp_source from, struct rp_source *wrong,
                      const char *reason)
{
    assert(s->episode.corrections.count < RP_EP_CORRECTIONS_MAX);
    struct rp_correction_entry *entry = &s->episode.corrections.at[s->episode.corrections.count++];
    entry->from = from;
    entry->what.about = wrong->ref;
    TEXT(entry->what.reason, reason);
    wrong->voided = true;
}

/* Word from the camp, for the gaps. */
static void hear(struct scenario *s)
{
    static const uint32_t heard_s[] = {T25(12, 40), T25(12, 58), T25(13, 25),
                                       T25(13, 50), T25(14, 35), T25(14, 43)};
    s->episode.heard.count = sizeof heard_s / sizeof heard_s[0];
    for (size_t i = 0; i < s->episode.heard.count; i++) {
        s->episode.heard.at[i] =
            (struct rp_heard){heard_s[i], {RIDGE_CAMP << 9 | 5, (uint32_t)i + 1}, true};
    }
}

static void open_episode(struct scenario *s)
{
    static const enum rp_finding criteria[RP_CRIT_COUNT] = {
        [RP_CRIT_ALTITUDE_GAIN] = RP_FINDING_YES, [RP_CRIT_MENTAL_CHANGE] = RP_FINDING_YES,
        [RP_CRIT_ATAXIA] = RP_FINDING_YES,        [RP_CRIT_DYSPNOEA_REST] = RP_FINDING_YES,
        [RP_CRIT_COUGH] = RP_FINDING_YES,         [RP_CRIT_CRACKLES] = RP_FINDING_YES,
        [RP_CRIT_CYANOSIS] = RP_FINDING_NO,       [RP_CRIT_TACHYPNOEA] = RP_FINDING_YES,
        [RP_CRIT_TACHYCARDIA] = RP_FINDING_YES,
    };
    struct rp_rec_episode *o = &s->episode.opening;
    s->episode.opened = true;
    s->episode.opening_from = camp(1, T25(12, 40));
    TEXT(o->patient, "M. Tarn");
    o->sex = RP_SEX_MALE;
    o->has_age = o->has_weight = o->has_onset = o->has_reached = true;
    o->age_y = 34;
    o->weight_kg = 72;
    o->onset_s = T24(21, 10);
    o->reached_s = T24(8, 30);
    o->label = RP_LABEL_HACE | RP_LABEL_HAPE;
    memcpy(o->criteria, criteria, sizeof criteria);
    o->lls = (struct rp_lls_items){measured(2), measured(2), measured(2), measured(1)};
    TEXT(o->first_sign, "could not put his boots on, stumbled at the tent door");
    o->altitude = (struct rp_altitude){true, 5480, RP_ALT_GPS};
    o->position = (struct rp_position){true, 28123456, 86543217, true, 12};
    struct rp_rec_background *b = &s->episode.background;
    b->allergies = (struct rp_known){.state = RP_NONE_KNOWN};
    s->episode.known[RP_BG_ALLERGIES].count = 1;
    s->episode.known[RP_BG_ALLERGIES].at[0] =
        (struct rp_known_entry){camp(2, T25(12, 44)), b->allergies};
    b->medicines = (struct rp_known){RP_KNOWN, "acetazolamide 125 mg twice a day, last 24 Nov"};
    b->history = (struct rp_known){RP_KNOWN, "well, first time above 4000 m"};
    b->contact = (struct rp_known){RP_KNOWN, "sister, number in his passport"};
}

static void observe(struct scenario *s)
{
    struct rp_obs *o =
        scenario_obs(s, camp(2, T25(12, 42)), RP_MODE_AIR, 62, 128, 34, RP_ACVPU_CONFUSED);
    o->lls = measured(7);
    o->ataxia = measured(3);
    o->systolic_mmhg = measured(112);
    o->diastolic_mmhg = measured(70);
    o->gcs_eye = measured(4);
    o->gcs_verbal = measured(4);
    o->gcs_motor = measured(6);
    scenario_obs(s, camp(9, T25(13, 20)), RP_MODE_CHAMBER, 84, 118, 28, RP_ACVPU_CONFUSED);
    o = scenario_obs(s, camp(14, T25(13, 50)), RP_MODE_CHAMBER_OXYGEN, 91, 110, 26, RP_ACVPU_ALERT);
    o->temp_dc = measured(364);
    o->temp_site = RP_SITE_TYMPANIC;
    o->pain = measured(3);
    o = scenario_obs(s, camp(21, T25(14, 35)), RP_MODE_OXYGEN, 79, 120, 30, RP_ACVPU_CONFUSED);
    o->airway = measured(RP_AIRWAY_AT_RISK);
    o->ataxia = (struct rp_value){RP_UNABLE, 0};
    s->episode.has_status = true;
    s->episode.status_from = camp(21, T25(14, 35));
    s->episode.status.condition = RP_COND_WORSE;
    s->episode.status.phase = RP_PHASE_OUT;
    s->episode.status.oxygen_flow_dlpm = measured(20);
    s->episode.has_latest = true;
    s->episode.latest_s = T25(14, 43);
    s->episode.latest_from = camp(24, T25(14, 43));
    s->episode.has_word = true;
    s->episode.word_from = s->episode.latest_from;
    s->episode.records = 38;
}

static void treat(struct scenario *s)
{
    struct rp_dose *dose = scenario_dose(s, camp(3, T25(12, 50)), "dexamethasone", 8, RP_ROUTE_IM);
    TEXT(dose->what.checker, "Jory");
    dose = scenario_dose(s, camp(4, T25(12, 55)), "nifedipine ER", 30, RP_ROUTE_ORAL);
    TEXT(dose->what.checker, "Sabe");
    dose = scenario_dose(s, camp(17, T25(14, 20)), "ondansetron", 4, RP_ROUTE_SUBLINGUAL);
    dose->what.refused = true;
    struct rp_oxygen_entry *oxygen = &s->episode.oxygen.at[0];
    s->episode.oxygen.count = 2;
    oxygen->from = camp(5, T25(12, 45));
    oxygen->what.device = RP_O2_MASK;
    oxygen->what.flow_dlpm = measured(40);
    TEXT(oxygen->what.cylinder, "A2");
    oxygen->what.cylinder_bar = measured(210);
    oxygen->what.water_dl = measured(40);
    oxygen++;
    oxygen->from = camp(16, T25(14, 15));
    oxygen->what.action = RP_O2_CHANGE;
    oxygen->what.flow_dlpm = measured(20);
    oxygen->what.cylinder_bar = measured(95);
}

static void pressurise(struct scenario *s)
{
    struct rp_session *session = &s->episode.sessions.at[0];
    s->episode.sessions.count = 1;
    session->number = 1;
    session->has_closed = session->has_at_pressure = true;
    session->has_deflating = session->has_out = true;
    session->closed_s = T25(13, 2);
    session->at_pressure_s = T25(13, 12);
    session->deflating_s = T25(14, 5);
    session->out_s = T25(14, 11);
    session->at_pressure_total_s = 53 * 60;
    session->holds = 1;
    session->gauge_dhpa = measured(1379);
    session->phase = RP_PHASE_OUT;
    struct rp_chamber_entry *hold = &s->episode.chamber.at[0];
    s->episode.chamber.count = 2;
    hold->from = camp(7, T25(13, 6));
    hold->what.phase = RP_PHASE_HOLD;
    hold->what.session = 1;
    hold->what.hold_reason = RP_HOLD_EARS;
    hold->what.gauge_dhpa = measured(620);
    hold[1].from = camp(15, T25(14, 11));
    hold[1].what.phase = RP_PHASE_OUT;
    hold[1].what.session = 1;
    struct rp_descent_entry *descent = &s->episode.descent.at[0];
    s->episode.descent.count = 1;
    descent->from = camp(6, T25(12, 58));
    descent->what.why_not = RP_WHY_NO_CARRIERS;
    TEXT(descent->what.text, "four carriers leave Moraine Cache at first light");
    struct rp_reassess_entry *again = &s->episode.reassess.at[0];
    s->episode.reassess.count = 1;
    again->from = camp(18, T25(14, 25));
    again->what.condition = RP_COND_SAME;
    again->what.next = RP_NEXT_EVACUATE;
    again->what.lls = (struct rp_lls_items){measured(2), measured(1), measured(3), measured(2)};
    again->what.mental_change = RP_FINDING_YES;
    again->what.can_walk = RP_FINDING_NO;
    again->what.ataxia = measured(3);
}

static void pump_and_pass(struct scenario *s)
{
    static const struct {
        const char *pumper;
        uint32_t last_s;
        uint16_t spell_s;
    } stretches[] = {
        {"Jory", T25(13, 20), 840}, {"Sabe", T25(13, 35), 870}, {"Jory", T25(14, 5), 1740}};
    s->episode.pumping.count = sizeof stretches / sizeof stretches[0];
    for (size_t i = 0; i < s->episode.pumping.count; i++) {
        struct rp_pumping_entry *entry = &s->episode.pumping.at[i];
        entry->from = camp(40 + (uint32_t)i, stretches[i].last_s);
        TEXT(entry->what.pumper, stretches[i].pumper);
        entry->what.strokes = (uint16_t)(stretches[i].spell_s / 5 * 2);
        entry->what.spell_s = stretches[i].spell_s;
    }
    struct rp_fluids_entry *fluids = &s->episode.fluids.at[0];
    s->episode.fluids.count = 1;
    fluids->from = camp(43, T25(14, 20));
    fluids->what = (struct rp_rec_fluids){measured(120), measured(500), true, 300};
}

static void request(struct scenario *s)
{
    struct rp_request_entry *entry = &s->episode.requests.at[0];
    struct rp_rec_evacuation *what = &entry->what;
    s->episode.requests.count = 1;
    s->episode.request_now = 0;
    entry->from = camp(10, T25(13, 25));
    what->urgency = RP_URG_E1_NOW;
    what->has_patients = what->has_weight = what->has_wind = what->has_wind_dir = true;
    what->has_temp = what->has_visibility = what->has_site_size = what->has_slope = true;
    what->has_party = what->has_daylight = what->has_needs = true;
    what->patients = 1;
    what->weight_kg = 85;
    what->mobility = RP_MOB_STRETCHER;
    what->conscious = RP_FINDING_YES;
    what->oxygen_needed = RP_FINDING_YES;
    what->site_marked = RP_FINDING_YES;
    what->position = (struct rp_position){true, 28123456, 86543217, true, 12};
    what->altitude = (struct rp_altitude){true, 5480, RP_ALT_GPS};
    what->site = (struct rp_position){true, 28124012, 86544020, false, 0};
    what->site_length_m = 40;
    what->site_width_m = 35;
    what->surface = RP_SURF_SNOW;
    what->slope_deg = 4;
    TEXT(what->obstacles, "prayer flags on the north edge");
    what->wind_kmh = 15;
    what->wind_from_deg = 290;
    what->temp_c = -14;
    what->visibility_m = 5000;
    TEXT(what->weather, "clear, cloud building from the west");
    TEXT(what->hazards, "serac above the east side");
    TEXT(what->ground_contact, "Sabe, 145.500 MHz, red headlamp");
    what->needs = RP_NEED_DOCTOR | RP_NEED_OXYGEN;
    what->party = 4;
    what->daylight_end_s = T25(11, 58) + 86400;
    TEXT(what->fallback, "carry down to Moraine Cache from 00:15Z");
}

static void answer(struct scenario *s)
{
    scenario_answer(s, base(30, T25(13, 28)), RP_ANS_SEEN, "");
    scenario_answer(s, base(31, T25(13, 41)), RP_ANS_ACCEPTED, "Valley Air 3")->read_back = true;
    struct rp_answer_entry *eta =
        scenario_answer(s, base(33, T25(14, 30)), RP_ANS_ETA, "Valley Air 3");
    eta->what.has_eta = true;
    eta->what.eta_s = T25(15, 40);
    TEXT(eta->what.text, "winch crew, Dr Lindqvist aboard");
    struct rp_readback_entry *readback = &s->episode.readbacks.at[0];
    s->episode.readbacks.count = 1;
    readback->from = camp(13, T25(13, 44));
    readback->what.about = s->episode.answers.at[1].from.ref;
    TEXT(readback->what.text, "Valley Air 3 accepts");
    s->episode.evac_state = RP_EVAC_ACCEPTED;
    s->episode.eta_answer = 2;
}

void scenario_full(struct scenario *s)
{
    scenario_empty(s);
    open_episode(s);
    hear(s);
    observe(s);
    treat(s);
    pump_and_pass(s);
    pressurise(s);
    request(s);
    answer(s);
    struct rp_note_entry *note =
        scenario_note(s, camp(24, T25(14, 0)), "Vomited once in the chamber, airway kept clear.");
    note->from.via = RP_VIA_PAPER;
    note->from.recorded_s = T25(14, 43);
    s->holdings[0] = (struct rp_holding){RIDGE_CAMP << 9 | 5, 24, 26};
    s->holdings[1] = (struct rp_holding){LAKE_CAMP << 9 | 1, 17, 17};
    s->input.holdings = s->holdings;
    s->input.holding_count = 2;
}
