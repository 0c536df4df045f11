/* T: everything that was done, with its times. */
#include <string.h>

#include "handover/build.h"
#include "incident/assess/assess.h"
#include "incident/watch/course.h"
#include "incident/watch/drugs.h"

static void build_text(struct rp_build *b, const char *text)
{
    if (text[0] != '\0') {
        rp_build_join(b, RP_JOIN_SEMICOLON);
        rp_build_entered(b, RP_TX_NONE, text);
    }
}

/* What stood against a dose by the protocol table, and who stood for it. */
static void build_flags(struct rp_build *b, const struct rp_rec_treatment *what)
{
    if (what->confirmed[0] != '\0') {
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_entered(b, RP_TX_CONFIRMED_BY, what->confirmed);
    }
    bool first = true;
    for (int bit = 0; (RP_DOSE_ROUTE >> bit) != 0; bit++) {
        if ((what->flags >> bit & 1) != 0) {
            rp_build_join(b, first ? RP_JOIN_SPACE : RP_JOIN_COMMA);
            if (first) {
                rp_build_word(b, RP_TX_AGAINST);
            }
            rp_build_loud(b, rp_text_pick(RP_TX_FLAG_EARLY, RP_TX_FLAG_ROUTE, bit));
            first = false;
        }
    }
}

static void build_dose_row(struct rp_build *b, const struct rp_dose *dose)
{
    const struct rp_rec_treatment *what = &dose->what;
    rp_build_from(b, &dose->from);
    rp_build_time(b, RP_TX_NONE, dose->from.happened_s);
    if (what->refused) {
        rp_build_loud(b, RP_TX_REFUSED_BY_PATIENT);
    }
    if (what->kind != RP_TREAT_DRUG) {
        rp_build_word(b, rp_text_pick(RP_TX_TREAT_DRUG, RP_TX_TREAT_OTHER, what->kind));
    }
    rp_build_entered(b, RP_TX_NONE, what->name);
    if (what->has_dose) {
        rp_build_number(b, RP_TX_NONE, what->dose_milli, 3,
                        rp_text_pick(RP_TX_DOSE_NONE, RP_TX_DOSE_IU, what->dose_unit));
    } else if (what->kind != RP_TREAT_OTHER) {
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_loud(b, RP_TX_DOSE_UNKNOWN);
    }
    rp_build_join(b, what->route == RP_ROUTE_UNSAID ? RP_JOIN_COMMA : RP_JOIN_SPACE);
    if (what->route != RP_ROUTE_UNSAID || what->kind == RP_TREAT_DRUG) {
        rp_build_word(b, rp_text_pick(RP_TX_ROUTE_UNSAID, RP_TX_ROUTE_TOPICAL, what->route));
    }
    if (what->refused) {
        rp_build_other_source(b, &dose->from);
    } else {
        size_t by = b->row.item_count;
        rp_build_source(b, &dose->from);
        b->row.items[by].join = RP_JOIN_SPACE;
    }
    rp_build_join(b, RP_JOIN_COMMA);
    if (what->checker[0] != '\0') {
        rp_build_entered(b, RP_TX_CHECKED_BY, what->checker);
    } else if (what->kind != RP_TREAT_OTHER && !what->refused && what->confirmed[0] == '\0') {
        rp_build_word(b, RP_TX_NO_CHECKER);
    }
    build_flags(b, what);
    build_text(b, what->text);
    rp_build_end(b);
}

void rp_sheet_build_doses(struct rp_build *b)
{
    const struct rp_episode *ep = b->ep;
    if (ep->doses.count == 0) {
        rp_build_row(b, RP_TX_L_GIVEN);
        rp_build_loud(b, RP_TX_NO_DOSE);
        rp_build_end(b);
    }
    for (size_t i = 0; i < ep->doses.count; i++) {
        rp_build_row(b, i == 0 ? RP_TX_L_GIVEN : RP_TX_NONE);
        build_dose_row(b, &ep->doses.at[i]);
    }
    rp_build_dropped(b, ep->doses.older_dropped);
}

/* When the interval after the last dose of each drug is over. Another station may have another
 * table, so the check does not cover the row. */
static void build_intervals(struct rp_build *b)
{
    struct rp_drug_due due[RP_DRUGS_MAX];
    size_t count = rp_drugs_due(b->in->protocol, b->ep, due);
    if (count == 0 || b->ep->closed || b->facts->check == NULL) {
        return;
    }
    rp_build_row(b, RP_TX_NONE);
    for (size_t i = 0; i < count; i++) {
        rp_build_room(b, 2);
        rp_build_join(b, i == 0 ? RP_JOIN_SPACE : RP_JOIN_COMMA);
        rp_build_entered(b, i == 0 ? RP_TX_INTERVAL_OVER : RP_TX_NONE, due[i].drug->name);
        rp_build_time(b, RP_TX_NONE, due[i].due_s);
    }
    rp_build_open(b);
    rp_build_word(b, RP_TX_BY_TABLE);
    if (!rp_protocol_reviewed(b->in->protocol)) {
        rp_build_loud(b, RP_TX_TABLE_UNREVIEWED);
    }
    rp_build_close(b);
    rp_build_end(b);
}

static void build_oxygen(struct rp_build *b)
{
    const struct rp_episode *ep = b->ep;
    for (size_t i = 0; i < ep->oxygen.count; i++) {
        const struct rp_oxygen_entry *entry = &ep->oxygen.at[i];
        const struct rp_rec_oxygen *what = &entry->what;
        rp_build_row(b, i == 0 ? RP_TX_L_OXYGEN : RP_TX_NONE);
        rp_build_from(b, &entry->from);
        rp_build_time(b, RP_TX_NONE, entry->from.happened_s);
        rp_build_word(b, rp_text_pick(RP_TX_O2_START, RP_TX_O2_READING, what->action));
        if (what->flow_dlpm.state == RP_MEASURED) {
            rp_build_number(b, RP_TX_NONE, what->flow_dlpm.value, 1, RP_TX_U_LPM);
        } else if (what->action == RP_O2_START || what->action == RP_O2_CHANGE) {
            rp_build_word(b, RP_TX_FLOW_UNKNOWN);
        }
        if (what->device != RP_O2_UNSAID) {
            rp_build_word(b, rp_text_pick(RP_TX_O2_UNSAID, RP_TX_O2_RESERVOIR, what->device));
        }
        if (what->cylinder[0] != '\0') {
            rp_build_join(b, RP_JOIN_COMMA);
            rp_build_entered(b, RP_TX_CYLINDER, what->cylinder);
        }
        if (what->water_dl.state == RP_MEASURED) {
            rp_build_number(b, RP_TX_NONE, what->water_dl.value, 1, RP_TX_U_LITRE);
        }
        if (what->cylinder_bar.state == RP_MEASURED) {
            rp_build_number(b, RP_TX_NONE, what->cylinder_bar.value, 0, RP_TX_U_BAR);
        }
        rp_build_other_source(b, &entry->from);
        rp_build_end(b);
    }
    rp_build_dropped(b, ep->oxygen.older_dropped);
}

/* What went in and came out, besides what was given. */
static void build_fluids(struct rp_build *b)
{
    const struct rp_episode *ep = b->ep;
    for (size_t i = 0; i < ep->fluids.count; i++) {
        const struct rp_fluids_entry *entry = &ep->fluids.at[i];
        const struct rp_rec_fluids *what = &entry->what;
        rp_build_row(b, i == 0 ? RP_TX_L_FLUIDS : RP_TX_NONE);
        rp_build_from(b, &entry->from);
        rp_build_time(b, RP_TX_NONE, entry->from.happened_s);
        if (what->urine_ml.state != RP_NOT_MEASURED) {
            rp_build_value(b, RP_TX_URINE, what->urine_ml, 0, RP_TX_DOSE_ML, NULL);
            if (rp_urine_little(ep, what) == RP_TRUTH_YES) {
                rp_build_word(b, RP_TX_URINE_LITTLE);
            }
            rp_build_join(b, RP_JOIN_COMMA);
        }
        if (what->drunk_ml.state != RP_NOT_MEASURED) {
            rp_build_value(b, RP_TX_DRUNK, what->drunk_ml, 0, RP_TX_DOSE_ML, NULL);
            rp_build_join(b, what->has_span ? RP_JOIN_SPACE : RP_JOIN_COMMA);
        }
        if (what->has_span) {
            rp_build_span(b, RP_TX_IN_TIME, what->span_min * 60u, false);
        } else {
            rp_build_word(b, RP_TX_TIME_UNSAID);
        }
        rp_build_other_source(b, &entry->from);
        rp_build_end(b);
    }
    rp_build_dropped(b, ep->fluids.older_dropped);
}

static void build_session_times(struct rp_build *b, const struct rp_session *session)
{
    const struct {
        enum rp_text_id label;
        bool has;
        uint32_t time_s;
    } steps[] = {
        {RP_TX_CLOSED_AT, session->has_closed, session->closed_s},
        {RP_TX_PRESSURISING_AT, session->has_pressurising && !session->has_closed,
         session->pressurising_s},
        {RP_TX_PRESSURE_FROM, session->has_at_pressure, session->at_pressure_s},
        {RP_TX_DEFLATING_AT, session->has_deflating, session->deflating_s},
        {RP_TX_OUT_AT, session->has_out, session->out_s},
    };
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        if (steps[i].has) {
            rp_build_join(b, RP_JOIN_COMMA);
            rp_build_time(b, steps[i].label, steps[i].time_s);
        }
    }
}

/* A hold with nothing written beside it: it is listed with its session. */
static bool is_plain_hold(const struct rp_chamber_entry *event)
{
    return event->what.phase == RP_PHASE_HOLD && event->what.text[0] == '\0' && !event->from.voided;
}

/* The lowest altitude an altimeter inside showed during a session. */
static struct rp_value lowest_altimeter(const struct rp_episode *ep, uint8_t number)
{
    struct rp_value lowest = {RP_NOT_MEASURED, 0};
    for (size_t i = 0; i < ep->chamber.count; i++) {
        const struct rp_chamber_entry *event = &ep->chamber.at[i];
        struct rp_value here = event->what.altimeter_m;
        if (!event->from.voided && event->what.session == number && here.state == RP_MEASURED &&
            (lowest.state != RP_MEASURED || here.value < lowest.value)) {
            lowest = here;
        }
    }
    return lowest;
}

/* Holds of a session, with their reasons; those a row cannot take are on the next. */
static void build_holds(struct rp_build *b, const struct rp_session *session)
{
    const struct rp_episode *ep = b->ep;
    if (session->holds > 0) {
        rp_build_join(b, RP_JOIN_SEMICOLON);
        rp_build_number(b, RP_TX_HOLDS, session->holds, 0, RP_TX_NONE);
    }
    for (size_t i = 0; i < ep->chamber.count; i++) {
        const struct rp_chamber_entry *event = &ep->chamber.at[i];
        if (event->what.session != session->number || !is_plain_hold(event)) {
            continue;
        }
        rp_build_room(b, 7);
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_word(b,
                      rp_text_pick(RP_TX_HOLD_UNSAID, RP_TX_HOLD_OTHER, event->what.hold_reason));
        rp_build_time(b, RP_TX_NONE, event->from.happened_s);
        if (event->what.gauge_dhpa.state == RP_MEASURED) {
            rp_build_gauge(b, RP_TX_HOLD_AT, event->what.gauge_dhpa.value);
        }
        rp_build_quality(b, &event->from);
    }
}

/* Whether an event before this one came the same way, from the same person, in the same session. */
static bool told_already(const struct rp_episode *ep, size_t index)
{
    const struct rp_chamber_entry *event = &ep->chamber.at[index];
    for (size_t i = 0; i < index; i++) {
        const struct rp_chamber_entry *other = &ep->chamber.at[i];
        if (other->what.session == event->what.session && other->from.via == event->from.via &&
            !other->from.voided && !is_plain_hold(other) &&
            strcmp(other->from.by, event->from.by) == 0) {
            return true;
        }
    }
    return false;
}

/* Who brought what of it from paper or voice, once for each. */
static void build_session_sources(struct rp_build *b, const struct rp_session *session)
{
    const struct rp_episode *ep = b->ep;
    for (size_t i = 0; i < ep->chamber.count; i++) {
        const struct rp_chamber_entry *event = &ep->chamber.at[i];
        if (event->what.session == session->number && event->from.via != RP_VIA_ENTERED &&
            !event->from.voided && !is_plain_hold(event) && !told_already(ep, i)) {
            rp_build_room(b, 7);
            rp_build_source(b, &event->from);
        }
    }
}

static void build_session(struct rp_build *b, const struct rp_session *session, bool first,
                          bool last)
{
    struct rp_value altimeter = lowest_altimeter(b->ep, session->number);
    bool running = session->phase >= RP_PHASE_CLOSED && session->phase <= RP_PHASE_DEFLATING;
    rp_build_row(b, first ? RP_TX_L_CHAMBER : RP_TX_NONE);
    rp_build_number(b, RP_TX_SESSION, session->number, 0, RP_TX_NONE);
    rp_build_span(b, RP_TX_NONE, session->at_pressure_total_s, running);
    rp_build_word(b, RP_TX_MINUTES_AT_PRESSURE);
    rp_build_join(b, RP_JOIN_COMMA);
    if (session->gauge_dhpa.state == RP_MEASURED) {
        rp_build_gauge(b, RP_TX_GAUGE_MAX, session->gauge_dhpa.value);
        if (!running || !last || rp_sheet_chamber_by_report(b->ep)) {
            rp_build_equivalent(b, session->gauge_dhpa.value); /* else the headline says it */
        }
    } else {
        rp_build_word(b, RP_TX_GAUGE_UNKNOWN);
    }
    if (altimeter.state == RP_MEASURED) {
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_number(b, RP_TX_ALTIMETER, altimeter.value, 0, RP_TX_U_M);
    }
    if (running) {
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_loud(b, last ? RP_TX_STILL_IN : RP_TX_END_UNKNOWN);
    }
    build_session_times(b, session);
    build_holds(b, session);
    build_session_sources(b, session);
    rp_build_end(b);
}

/* Holds, and whatever was written beside an event or was corrected. */
static void build_chamber_event(struct rp_build *b, const struct rp_chamber_entry *event)
{
    const struct rp_rec_chamber *what = &event->what;
    rp_build_row(b, RP_TX_NONE);
    rp_build_from(b, &event->from);
    rp_build_word(b, RP_TX_INDENT);
    rp_build_number(b, RP_TX_SESSION, what->session, 0, RP_TX_NONE);
    rp_build_time(b, RP_TX_NONE, event->from.happened_s);
    rp_build_word(b, rp_text_pick(RP_TX_PHASE_NONE, RP_TX_PHASE_OUT, what->phase));
    if (what->phase == RP_PHASE_HOLD) {
        rp_build_open(b);
        rp_build_word(b, rp_text_pick(RP_TX_HOLD_UNSAID, RP_TX_HOLD_OTHER, what->hold_reason));
        rp_build_close(b);
    }
    if (what->gauge_dhpa.state == RP_MEASURED) {
        rp_build_gauge(b, RP_TX_NONE, what->gauge_dhpa.value);
    }
    build_text(b, what->text);
    rp_build_other_source(b, &event->from);
    rp_build_end(b);
}

static bool event_has_row(const struct rp_episode *ep, const struct rp_chamber_entry *event)
{
    if (event->what.text[0] != '\0' || event->from.voided) {
        return true;
    }
    for (size_t i = 0; i < ep->sessions.count; i++) {
        if (ep->sessions.at[i].number == event->what.session) {
            return false; /* its session says it */
        }
    }
    return true;
}

/* All sessions together, and until when a relapse is watched for after the last one. */
static void build_course(struct rp_build *b)
{
    struct rp_course course;
    rp_course_of(b->ep, NULL, b->in->now_s, &course);
    rp_build_row(b, RP_TX_NONE);
    if (course.sessions > 1) {
        rp_build_span(b, RP_TX_IN_ALL, course.total_s, course.inside);
        rp_build_word(b, RP_TX_MINUTES_AT_PRESSURE);
    }
    if (course.rebound_until_s != 0) {
        rp_build_join(b, course.sessions > 1 ? RP_JOIN_SEMICOLON : RP_JOIN_SPACE);
        rp_build_time(b, RP_TX_REBOUND_UNTIL, course.rebound_until_s);
    }
    rp_build_end(b);
}

static void build_chamber(struct rp_build *b)
{
    const struct rp_episode *ep = b->ep;
    for (size_t i = 0; i < ep->sessions.count; i++) {
        build_session(b, &ep->sessions.at[i], i == 0, i + 1u == ep->sessions.count);
    }
    build_course(b);
    rp_build_dropped(b, ep->sessions.older_dropped);
    for (size_t i = 0; i < ep->chamber.count; i++) {
        if (event_has_row(ep, &ep->chamber.at[i])) {
            build_chamber_event(b, &ep->chamber.at[i]);
        }
    }
    rp_build_dropped(b, ep->chamber.older_dropped);
}

static void build_descent(struct rp_build *b)
{
    const struct rp_episode *ep = b->ep;
    for (size_t i = 0; i < ep->descent.count; i++) {
        const struct rp_descent_entry *entry = &ep->descent.at[i];
        rp_build_row(b, i == 0 ? RP_TX_L_DESCENT : RP_TX_NONE);
        rp_build_from(b, &entry->from);
        rp_build_time(b, RP_TX_NONE, entry->from.happened_s);
        if (entry->what.descending) {
            rp_build_loud(b, RP_TX_DESCENDING);
        } else {
            rp_build_labelled(b, RP_TX_NOT_DESCENDING,
                              rp_text_pick(RP_TX_WHY_UNSAID, RP_TX_WHY_OTHER, entry->what.why_not));
        }
        if (entry->what.has_ask_again) {
            rp_build_join(b, RP_JOIN_COMMA);
            rp_build_number(b, RP_TX_ASK_AGAIN, entry->what.ask_again_min, 0, RP_TX_U_MIN);
        }
        build_text(b, entry->what.text);
        rp_build_other_source(b, &entry->from);
        rp_build_end(b);
    }
    rp_build_dropped(b, ep->descent.older_dropped);
}

/* The score; in two words when none of its items was asked. */
static void build_lls(struct rp_build *b, const struct rp_lls_items *lls)
{
    bool any = lls->headache.state != RP_NOT_MEASURED || lls->gut.state != RP_NOT_MEASURED ||
               lls->fatigue.state != RP_NOT_MEASURED || lls->dizziness.state != RP_NOT_MEASURED;
    if (any) {
        rp_build_word(b, RP_TX_LLS_ITEMS);
        rp_sheet_build_lls(b, lls);
    } else {
        rp_build_labelled(b, RP_TX_LLS_ITEMS, RP_TX_NOT_MEASURED);
    }
}

static void build_reassessment(struct rp_build *b, const struct rp_rec_reassess *what)
{
    rp_build_loud(b, rp_text_pick(RP_TX_COND_UNSAID, RP_TX_COND_DEAD, what->condition));
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_labelled(b, RP_TX_NEXT, rp_text_pick(RP_TX_NEXT_UNSAID, RP_TX_NEXT_WATCH, what->next));
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_finding(b, RP_TX_MENTAL_CHANGE, what->mental_change);
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_finding(b, RP_TX_CAN_WALK, what->can_walk);
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_value(b, RP_TX_ATAXIA_HEEL, what->ataxia, 0, RP_TX_U_OF_4, NULL);
    rp_build_join(b, RP_JOIN_COMMA);
    build_lls(b, &what->lls);
    if (what->functional.state == RP_MEASURED) {
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_value(b, RP_TX_FUNCTIONAL, what->functional, 0, RP_TX_U_OF_3, NULL);
    }
}

static void build_reassessments(struct rp_build *b)
{
    const struct rp_episode *ep = b->ep;
    for (size_t i = 0; i < ep->reassess.count; i++) {
        const struct rp_reassess_entry *entry = &ep->reassess.at[i];
        rp_build_row(b, i == 0 ? RP_TX_L_REASSESS : RP_TX_NONE);
        rp_build_from(b, &entry->from);
        rp_build_time(b, RP_TX_NONE, entry->from.happened_s);
        build_reassessment(b, &entry->what);
        build_text(b, entry->what.text);
        rp_build_other_source(b, &entry->from);
        rp_build_end(b);
    }
    rp_build_dropped(b, ep->reassess.older_dropped);
}

/* One line for all that is missing, so that an empty place is never taken for "none". */
static void build_not_recorded(struct rp_build *b)
{
    const struct rp_episode *ep = b->ep;
    const struct {
        size_t count;
        enum rp_text_id word;
    } groups[] = {{ep->oxygen.count, RP_TX_W_OXYGEN},
                  {ep->fluids.count, RP_TX_W_FLUIDS},
                  {(size_t)ep->sessions.count + ep->chamber.count, RP_TX_W_CHAMBER},
                  {ep->descent.count, RP_TX_W_DESCENT},
                  {ep->reassess.count, RP_TX_W_REASSESS}};
    rp_build_row(b, RP_TX_NONE);
    for (size_t i = 0; i < sizeof groups / sizeof groups[0]; i++) {
        if (groups[i].count == 0) {
            bool first = b->row.item_count == 0;
            rp_build_join(b, first ? RP_JOIN_SPACE : RP_JOIN_COMMA);
            rp_build_labelled(b, first ? RP_TX_NOT_RECORDED_LIST : RP_TX_NONE, groups[i].word);
        }
    }
    rp_build_end(b);
}

void rp_sheet_build_treatment(struct rp_build *b)
{
    b->section = RP_SECTION_TREATMENT;
    rp_sheet_build_doses(b);
    build_intervals(b);
    build_oxygen(b);
    rp_sheet_build_oxygen_left(b);
    build_fluids(b);
    build_chamber(b);
    build_descent(b);
    build_reassessments(b);
    build_not_recorded(b);
}
