/* The order of the sheet, its head and its end. */
#include "handover/model.h"

#include "handover/build.h"
#include "wire/frame.h"

/* "HANDOVER SHEET 3"; one that is only looked at has no number. */
static void build_sheet_number(struct rp_build *b, enum rp_text_id numbered, enum rp_text_id draft)
{
    if (b->in->sheet_number > 0) {
        rp_build_number(b, numbered, b->in->sheet_number, 0, RP_TX_NONE);
    } else {
        rp_build_word(b, draft);
    }
}

void rp_sheet_build_head(struct rp_build *b)
{
    b->section = RP_SECTION_HEAD;
    rp_build_row(b, RP_TX_NONE);
    build_sheet_number(b, RP_TX_SHEET, RP_TX_DRAFT_SHEET);
    rp_build_join(b, RP_JOIN_DASH);
    struct rp_sheet_item *episode = rp_build_item(b, RP_ITEM_EPISODE, RP_TX_EPISODE);
    episode->number = rp_origin_station(b->ep->ref.origin);
    episode->number_2 = b->ep->ref.number;
    rp_build_join(b, RP_JOIN_DASH);
    rp_build_item(b, RP_ITEM_DAY, RP_TX_PRINTED)->time_s = b->in->now_s;
    rp_build_time(b, RP_TX_NONE, b->in->now_s);
    rp_build_join(b, RP_JOIN_DASH);
    rp_build_entered(b, RP_TX_CHECK, b->facts->check);
    rp_build_end(b);
    rp_build_row(b, RP_TX_NONE);
    if (b->in->has_local) {
        rp_build_item(b, RP_ITEM_OFFSET, RP_TX_LEGEND_LOCAL)->number = b->in->utc_offset_s;
    } else {
        rp_build_word(b, RP_TX_LEGEND_UTC);
    }
    rp_build_join(b, RP_JOIN_STOP);
    rp_build_item(b, RP_ITEM_DAY, RP_TX_LEGEND_DAY)->time_s = b->in->now_s;
    if (b->ep->opened && b->ep->opening_from.by[0] != '\0') {
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_entered(b, RP_TX_BY, b->ep->opening_from.by);
    }
    rp_build_end(b);
}

static void build_banner(struct rp_build *b)
{
    if (b->ep->exercise) {
        rp_build_row(b, RP_TX_NONE);
        b->row.style = RP_ROW_BANNER;
        rp_build_loud(b, RP_TX_EXERCISE);
        rp_build_end(b);
    }
}

/* "MISSING 2 from Ridge Camp", for each log with holes; what a row cannot take is on the next. */
static void build_missing_parts(struct rp_build *b)
{
    for (size_t i = 0; i < b->in->holding_count; i++) {
        const struct rp_holding *holding = &b->in->holdings[i];
        if (holding->known <= holding->held) {
            continue;
        }
        rp_build_room(b, 2);
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_number(b, RP_TX_PARTS_MISSING, holding->known - holding->held, 0, RP_TX_NONE);
        rp_build_station(b, RP_TX_FROM_LOG, rp_origin_station(holding->origin));
    }
}

/* "41 of 43 log entries held, MISSING 2 from Ridge Camp". The log counts parts: a long record has
 * several. */
static void build_holdings(struct rp_build *b)
{
    uint32_t held = 0, known = 0;
    for (size_t i = 0; i < b->in->holding_count; i++) {
        held += b->in->holdings[i].held;
        known += b->in->holdings[i].known;
    }
    rp_build_row(b, RP_TX_L_RECORDS);
    if (b->in->holding_count == 0) {
        rp_build_loud(b, RP_TX_HOLDING_UNKNOWN);
    } else {
        rp_build_number(b, RP_TX_NONE, held, 0, RP_TX_NONE);
        rp_build_number(b, RP_TX_PARTS_OF, known, 0, RP_TX_PARTS_HELD);
        rp_build_join(b, RP_JOIN_COMMA);
        if (known > held) {
            build_missing_parts(b);
        } else {
            rp_build_word(b, RP_TX_ALL_HELD);
        }
    }
    rp_build_join(b, RP_JOIN_SEMICOLON);
    rp_build_number(b, RP_TX_NONE, b->ep->records, 0, RP_TX_OF_PATIENT);
    if (b->ep->undecodable > 0) {
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_number(b, RP_TX_NONE, b->ep->undecodable, 0, RP_TX_UNREADABLE);
    }
}

static void build_gaps(struct rp_build *b)
{
    const struct rp_sheet_facts *facts = b->facts;
    for (size_t i = 0; i < facts->gap_count && i < RP_SHEET_GAPS_MAX; i++) {
        rp_build_room(b, 2);
        rp_build_join(b, i == 0 ? RP_JOIN_STOP : RP_JOIN_COMMA);
        rp_build_time(b, i == 0 ? RP_TX_NO_REPORT : RP_TX_NONE, facts->gaps[i].from_s);
        if (facts->gaps[i].to_s >= b->in->now_s) {
            rp_build_loud(b, RP_TX_TO_NOW);
        } else {
            rp_build_time(b, RP_TX_RANGE, facts->gaps[i].to_s);
        }
    }
    if (facts->gap_count == 0 && b->ep->has_word) {
        rp_build_join(b, RP_JOIN_STOP);
        rp_build_word(b, RP_TX_NO_GAPS);
    }
    if (facts->gap_count > RP_SHEET_GAPS_MAX) {
        rp_build_join(b, RP_JOIN_SEMICOLON);
        rp_build_loud(b, RP_TX_MORE_GAPS);
    }
}

void rp_sheet_build_completeness(struct rp_build *b)
{
    b->section = RP_SECTION_COMPLETENESS;
    build_holdings(b);
    build_gaps(b);
    rp_build_end(b);
}

/* Corrections, whole: the struck rows above carry the newest correction each, this list has those
 * whose row is not on the sheet (a status report, an opening, background). */
void rp_sheet_build_corrections(struct rp_build *b)
{
    const struct rp_episode *ep = b->ep;
    b->section = RP_SECTION_CORRECTIONS;
    bool first = true;
    for (size_t i = 0; i < ep->corrections.count; i++) {
        const struct rp_correction_entry *entry = &ep->corrections.at[i];
        if (rp_sheet_shows_correction(ep, entry)) {
            continue;
        }
        rp_build_row(b, first ? RP_TX_L_CORRECTED : RP_TX_NONE);
        first = false;
        rp_build_from(b, &entry->from);
        rp_build_ref(b, RP_TX_CORRECTION_OF, entry->what.about);
        rp_build_join(b, RP_JOIN_COMMA);
        if (entry->what.replacement.origin != 0) {
            rp_build_ref(b, RP_TX_REPLACED_BY, entry->what.replacement);
        } else {
            rp_build_word(b, RP_TX_IN_ERROR);
        }
        rp_build_join(b, RP_JOIN_SEMICOLON);
        rp_build_entered(b, RP_TX_REASON, entry->what.reason);
        rp_build_source(b, &entry->from);
        rp_build_time(b, RP_TX_NONE, entry->from.happened_s);
        rp_build_end(b);
    }
    rp_build_dropped(b, ep->corrections.older_dropped);
}

struct unknown {
    bool unknown;
    enum rp_text_id word;
};

/* True while nothing of that kind was listed: the first carries the label. */
static bool build_unknown_list(struct rp_build *b, enum rp_text_id kind, const struct unknown *list,
                               size_t count)
{
    bool first = true;
    for (size_t i = 0; i < count; i++) {
        if (list[i].unknown) {
            rp_build_join(b, first ? RP_JOIN_STOP : RP_JOIN_COMMA);
            rp_build_labelled(b, first ? kind : RP_TX_NONE, list[i].word);
            first = false;
        }
    }
    return first;
}

/* Signs that were never taken (RP_NOT_MEASURED) or only tried without result (RP_UNABLE). */
static void build_unknown_signs(struct rp_build *b, enum rp_text_id kind, enum rp_measured state,
                                bool first)
{
    static const struct {
        size_t offset;
        enum rp_text_id word;
    } signs[] = {
        {offsetof(struct rp_obs, airway), RP_TX_F_AIRWAY},
        {offsetof(struct rp_obs, acvpu), RP_TX_F_CONSCIOUS},
        {offsetof(struct rp_obs, gcs_eye), RP_TX_GCS},
        {offsetof(struct rp_obs, spo2_pct), RP_TX_SPO2},
        {offsetof(struct rp_obs, pulse_bpm), RP_TX_PULSE},
        {offsetof(struct rp_obs, resp_rpm), RP_TX_RESP},
        {offsetof(struct rp_obs, systolic_mmhg), RP_TX_BP},
        {offsetof(struct rp_obs, temp_dc), RP_TX_F_TEMP},
        {offsetof(struct rp_obs, ataxia), RP_TX_F_ATAXIA},
        {offsetof(struct rp_obs, lls), RP_TX_F_LLS},
        {offsetof(struct rp_obs, pain), RP_TX_PAIN},
    };
    for (size_t i = 0; i < sizeof signs / sizeof signs[0]; i++) {
        const struct rp_obs *obs;
        bool scored = signs[i].word == RP_TX_F_LLS && rp_sheet_scored_at_opening(b->ep);
        if (rp_sheet_newest(b->ep, signs[i].offset, &obs).state == state && !scored) {
            rp_build_join(b, first ? RP_JOIN_STOP : RP_JOIN_COMMA);
            rp_build_labelled(b, first ? kind : RP_TX_NONE, signs[i].word);
            first = false;
        }
    }
}

/* What a rescuer will ask and nobody has answered, in one place. */
void rp_sheet_build_unknowns(struct rp_build *b)
{
    const struct rp_episode *ep = b->ep;
    const struct rp_rec_background *background = &ep->background;
    const struct rp_rec_episode *opening = &ep->opening;
    bool opened = ep->opened;
    bool has_request = ep->request_now >= 0 && ep->request_now < ep->requests.count;
    const struct rp_rec_evacuation *request =
        has_request ? &ep->requests.at[ep->request_now].what : NULL;
    const struct unknown not_asked[] = {
        {background->allergies.state == RP_NOT_ASKED, RP_TX_F_ALLERGIES},
        {background->medicines.state == RP_NOT_ASKED, RP_TX_F_MEDICINES},
        {background->history.state == RP_NOT_ASKED, RP_TX_F_HISTORY},
        {background->last_meal.state == RP_NOT_ASKED, RP_TX_F_LAST_MEAL},
        {background->contact.state == RP_NOT_ASKED, RP_TX_F_NEXT_OF_KIN},
        {opened && opening->sex == RP_SEX_UNSAID, RP_TX_F_SEX},
        {opened && !opening->has_age, RP_TX_F_AGE},
        {opened && !opening->has_weight, RP_TX_F_PATIENT_WEIGHT},
        {opened && !opening->has_onset, RP_TX_F_ONSET},
        {opened && !opening->has_reached, RP_TX_F_REACHED},
    };
    const struct unknown not_held[] = {
        {!opened, RP_TX_F_SEX},   {!opened, RP_TX_F_AGE},     {!opened, RP_TX_F_PATIENT_WEIGHT},
        {!opened, RP_TX_F_ONSET}, {!opened, RP_TX_F_REACHED},
    };
    const struct unknown not_recorded[] = {
        {!opening->position.present && (request == NULL || !request->position.present),
         RP_TX_F_POSITION},
        {!opening->altitude.present && (request == NULL || !request->altitude.present),
         RP_TX_F_ALTITUDE},
    };
    b->section = RP_SECTION_UNKNOWNS;
    rp_sheet_build_conflicts(b);
    rp_build_row(b, RP_TX_L_UNKNOWN);
    build_unknown_list(b, RP_TX_NOT_ASKED_LIST, not_asked, sizeof not_asked / sizeof not_asked[0]);
    build_unknown_list(b, RP_TX_NOT_HELD_LIST, not_held, sizeof not_held / sizeof not_held[0]);
    bool first = build_unknown_list(b, RP_TX_NOT_RECORDED_LIST, not_recorded,
                                    sizeof not_recorded / sizeof not_recorded[0]);
    build_unknown_signs(b, RP_TX_NOT_RECORDED_LIST, RP_NOT_MEASURED, first);
    build_unknown_signs(b, RP_TX_TRIED_LIST, RP_UNABLE, true);
    rp_build_end(b);
}

void rp_sheet_build_cautions(struct rp_build *b)
{
    b->section = RP_SECTION_CAUTIONS;
    rp_build_row(b, RP_TX_NONE);
    rp_build_labelled(b, RP_TX_L_CAUTION, RP_TX_CAUTIONS);
    rp_build_word(b, RP_TX_TRANSLATION_NOTE);
    rp_build_end(b);
}

void rp_sheet_build_foot(struct rp_build *b)
{
    b->section = RP_SECTION_FOOT;
    rp_build_row(b, RP_TX_NONE);
    build_sheet_number(b, RP_TX_END_OF_SHEET, RP_TX_DRAFT_END);
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_entered(b, RP_TX_CHECK, b->facts->check);
    rp_build_join(b, RP_JOIN_COMMA);
    struct rp_sheet_item *station = rp_build_item(b, RP_ITEM_STATION, RP_TX_NONE);
    station->number = b->in->station;
    station->entered = b->in->station_name;
    rp_build_time(b, RP_TX_NONE, b->in->now_s);
    rp_build_join(b, RP_JOIN_STOP);
    rp_build_word(b, RP_TX_SUPERSEDES);
    rp_build_end(b);
}

void rp_sheet_model(const struct rp_sheet_facts *facts, rp_sheet_visit *visit, void *arg)
{
    struct rp_build b = {
        .facts = facts,
        .in = facts->input,
        .ep = facts->input->episode,
        .visit = visit,
        .arg = arg,
    };
    bool whole = facts->check != NULL;
    b.section = RP_SECTION_HEAD;
    build_banner(&b);
    if (whole) {
        rp_sheet_build_head(&b);
    }
    rp_sheet_build_headline(&b);
    rp_sheet_build_complaint(&b);
    rp_sheet_build_signs(&b);
    rp_sheet_build_treatment(&b);
    rp_sheet_build_background(&b);
    rp_sheet_build_evacuation(&b);
    rp_sheet_build_corrections(&b);
    if (whole) {
        rp_sheet_build_completeness(&b);
    }
    rp_sheet_build_unknowns(&b);
    if (whole) {
        rp_sheet_build_cautions(&b);
        rp_sheet_build_foot(&b);
        build_banner(&b);
    }
}
