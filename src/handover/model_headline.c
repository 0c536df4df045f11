/* What must be read in the first seconds: who, where, how, what is being done, who comes. */
#include "handover/build.h"

void rp_sheet_build_label(struct rp_build *b, const struct rp_rec_episode *opening)
{
    static const struct {
        uint8_t bit;
        enum rp_text_id word;
    } labels[] = {
        {RP_LABEL_HACE, RP_TX_HACE}, {RP_LABEL_HAPE, RP_TX_HAPE}, {RP_LABEL_AMS, RP_TX_AMS}};
    if (opening->label == 0) {
        rp_build_loud(b, RP_TX_NO_LABEL);
        return;
    }
    rp_build_loud(b, RP_TX_SUSPECTED);
    bool first = true;
    for (size_t i = 0; i < sizeof labels / sizeof labels[0]; i++) {
        if ((opening->label & labels[i].bit) != 0) {
            rp_build_labelled(b, first ? RP_TX_NONE : RP_TX_PLUS, labels[i].word);
            first = false;
        }
    }
    if ((opening->label & RP_LABEL_OTHER) != 0) {
        rp_build_join(b, first ? RP_JOIN_SPACE : RP_JOIN_COMMA);
        rp_build_entered(b, RP_TX_OTHER_ILLNESS, opening->label_text);
    }
}

void rp_sheet_build_identity(struct rp_build *b, const struct rp_rec_episode *opening)
{
    if (opening == NULL) {
        rp_build_word(b, RP_TX_IDENTITY_NOT_HELD);
        return;
    }
    if (opening->patient[0] != '\0') {
        rp_build_entered(b, RP_TX_NONE, opening->patient);
    } else {
        rp_build_word(b, RP_TX_NAME_NOT_SAID);
    }
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_word(b, rp_text_pick(RP_TX_SEX_UNSAID, RP_TX_SEX_OTHER, opening->sex));
    rp_build_join(b, RP_JOIN_COMMA);
    if (opening->has_age) {
        rp_build_number(b, RP_TX_NONE, opening->age_y, 0, RP_TX_U_YEARS);
    } else {
        rp_build_word(b, RP_TX_AGE_NOT_ASKED);
    }
    rp_build_join(b, RP_JOIN_COMMA);
    if (opening->has_weight) {
        rp_build_number(b, RP_TX_NONE, opening->weight_kg, 0, RP_TX_U_KG);
    } else {
        rp_build_word(b, RP_TX_WEIGHT_NOT_ASKED);
    }
}

/* Where the patient was at the opening, when that differs from where they are now. */
static void build_first_place(struct rp_build *b, const struct rp_position *position,
                              const struct rp_altitude *altitude)
{
    const struct rp_rec_episode *opening = &b->ep->opening;
    bool moved = opening->position.present && (opening->position.lat_e6 != position->lat_e6 ||
                                               opening->position.lon_e6 != position->lon_e6);
    bool climbed = opening->altitude.present && opening->altitude.metres != altitude->metres;
    if (!moved && !climbed) {
        return;
    }
    rp_build_join(b, RP_JOIN_SEMICOLON);
    rp_build_word(b, RP_TX_OPENED_AT);
    if (moved) {
        rp_build_position(b, &opening->position);
    }
    if (climbed) {
        rp_build_altitude(b, &opening->altitude);
    }
}

/* The newest position that was entered: the request's or the opening's. */
static void build_where(struct rp_build *b)
{
    const struct rp_request_entry *request = rp_sheet_request_now(b->ep);
    const struct rp_position *position = &b->ep->opening.position;
    const struct rp_altitude *altitude = rp_episode_altitude(b->ep);
    const struct rp_source *place_from = &b->ep->opening_from, *height_from = place_from;
    if (request != NULL && (request->what.position.present)) {
        position = &request->what.position;
        place_from = &request->from;
    }
    if (request != NULL && request->what.altitude.present) {
        height_from = &request->from;
    }
    rp_build_row(b, RP_TX_L_WHERE);
    if (rp_sheet_home(b->ep) != 0) {
        rp_build_station(b, RP_TX_NONE, rp_sheet_home(b->ep));
        rp_build_join(b, RP_JOIN_COMMA);
    }
    if (altitude->present) {
        rp_build_altitude(b, altitude);
        if (height_from != place_from || !position->present) {
            rp_build_time(b, RP_TX_POSITION_OF, height_from->happened_s);
        }
    } else {
        rp_build_loud(b, RP_TX_ALTITUDE_UNKNOWN);
    }
    rp_build_join(b, RP_JOIN_COMMA);
    if (position->present) {
        rp_build_position(b, position);
        rp_build_degrees(b, position);
        rp_build_word(b, RP_TX_DATUM);
        rp_build_time(b, RP_TX_POSITION_OF, place_from->happened_s);
    } else {
        rp_build_loud(b, RP_TX_POSITION_UNKNOWN);
    }
    build_first_place(b, position, altitude);
    rp_build_end(b);
    if (position->present) {
        rp_build_row(b, RP_TX_L_GRID);
        rp_build_grid(b, position);
        rp_build_end(b);
    }
}

/* One value of the newest set that holds it. */
static void build_vital(struct rp_build *b, enum rp_text_id label, size_t offset,
                        enum rp_text_id unit)
{
    const struct rp_obs *obs;
    struct rp_value value = rp_sheet_newest(b->ep, offset, &obs);
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_value(b, label, value, 0, unit, obs);
}

static void build_condition(struct rp_build *b)
{
    const struct rp_episode *ep = b->ep;
    const struct rp_obs *mind = rp_episode_last_obs(ep, offsetof(struct rp_obs, acvpu), -1);
    rp_build_row(b, RP_TX_L_CONDITION);
    if (ep->has_status && ep->status.condition != RP_COND_UNSAID) {
        rp_build_loud(b, rp_text_pick(RP_TX_COND_UNSAID, RP_TX_COND_DEAD, ep->status.condition));
        if (mind == NULL || mind->taken_s != ep->status_from.happened_s) {
            rp_build_open(b);
            rp_build_age(b, RP_TX_NONE, ep->status_from.happened_s);
            rp_build_close(b);
        }
    } else {
        rp_build_word(b, RP_TX_CONDITION_UNSAID);
    }
    rp_build_join(b, RP_JOIN_SEMICOLON);
    if (mind != NULL) {
        rp_build_loud(b,
                      rp_text_pick(RP_TX_ACVPU_ALERT, RP_TX_ACVPU_UNRESPONSIVE, mind->acvpu.value));
        b->row.items[b->row.item_count - 1].taken_from = mind;
    } else {
        struct rp_value level = rp_sheet_newest(ep, offsetof(struct rp_obs, acvpu), &mind);
        rp_build_value(b, RP_TX_CONSCIOUS_LEVEL, level, 0, RP_TX_NONE, mind);
    }
    build_vital(b, RP_TX_SPO2, offsetof(struct rp_obs, spo2_pct), RP_TX_U_PCT);
    build_vital(b, RP_TX_PULSE, offsetof(struct rp_obs, pulse_bpm), RP_TX_U_PER_MIN);
    build_vital(b, RP_TX_RESP, offsetof(struct rp_obs, resp_rpm), RP_TX_U_PER_MIN);
    rp_build_end(b);
}

static bool phase_is_inside(int phase)
{
    return phase >= RP_PHASE_CLOSED && phase <= RP_PHASE_DEFLATING;
}

static const struct rp_chamber_entry *last_chamber_event(const struct rp_episode *ep)
{
    for (size_t i = ep->chamber.count; i > 0; i--) {
        if (!ep->chamber.at[i - 1].from.voided) {
            return &ep->chamber.at[i - 1];
        }
    }
    return NULL;
}

/* From the chamber events: the session is known exactly. */
static void build_chamber_session(struct rp_build *b, const struct rp_session *session)
{
    if (!phase_is_inside(session->phase)) {
        if (session->has_out) {
            rp_build_word(b, RP_TX_OUT_OF_CHAMBER);
            rp_build_time(b, RP_TX_SINCE, session->out_s);
        } else {
            rp_build_word(b, RP_TX_NOT_IN_CHAMBER);
        }
        return;
    }
    rp_build_loud(b, RP_TX_IN_CHAMBER);
    rp_build_span(b, RP_TX_NONE, session->at_pressure_total_s, true);
    rp_build_word(b, RP_TX_MINUTES_AT_PRESSURE);
    if (session->gauge_dhpa.state == RP_MEASURED) {
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_gauge(b, RP_TX_GAUGE_MAX, session->gauge_dhpa.value);
        rp_build_equivalent(b, session->gauge_dhpa.value);
    }
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_number(b, RP_TX_SESSION, session->number, 0, RP_TX_NONE);
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_loud(b, rp_text_pick(RP_TX_PHASE_NONE, RP_TX_PHASE_OUT, session->phase));
}

/* From a status report that is newer than any chamber event held here. */
static void build_chamber_reported(struct rp_build *b)
{
    const struct rp_rec_status *status = &b->ep->status;
    if (!phase_is_inside(status->phase)) {
        rp_build_word(b,
                      status->phase == RP_PHASE_OUT ? RP_TX_OUT_OF_CHAMBER : RP_TX_NOT_IN_CHAMBER);
    } else {
        rp_build_loud(b, RP_TX_IN_CHAMBER);
        rp_build_number(b, RP_TX_SESSION, status->cycle, 0, RP_TX_NONE);
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_loud(b, rp_text_pick(RP_TX_PHASE_NONE, RP_TX_PHASE_OUT, status->phase));
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_span(b, RP_TX_REPORTED_ELAPSED, status->elapsed_min * 60u, false);
    }
    rp_build_time(b, RP_TX_AS_REPORTED, b->ep->status_from.happened_s);
}

bool rp_sheet_chamber_by_report(const struct rp_episode *ep)
{
    const struct rp_chamber_entry *event = last_chamber_event(ep);
    const struct rp_session *session = rp_sheet_last_session(ep);
    return ep->has_status &&
           (event == NULL || ep->status_from.happened_s > event->from.happened_s) &&
           (session == NULL || session->phase != ep->status.phase);
}

static void build_chamber_now(struct rp_build *b)
{
    const struct rp_session *session = rp_sheet_last_session(b->ep);
    if (rp_sheet_chamber_by_report(b->ep)) {
        build_chamber_reported(b);
    } else if (session != NULL) {
        build_chamber_session(b, session);
    } else {
        rp_build_word(b, RP_TX_CHAMBER_UNKNOWN);
    }
}

static void build_oxygen_now(struct rp_build *b)
{
    const struct rp_episode *ep = b->ep;
    const struct rp_oxygen_entry *entry = rp_sheet_last_oxygen(ep);
    bool status_newer = ep->has_status && ep->status.oxygen_flow_dlpm.state == RP_MEASURED &&
                        (entry == NULL || ep->status_from.happened_s > entry->from.happened_s);
    rp_build_join(b, RP_JOIN_SEMICOLON);
    if (entry == NULL && !status_newer) {
        rp_build_word(b, RP_TX_OXYGEN_UNKNOWN);
        return;
    }
    struct rp_value flow = status_newer ? ep->status.oxygen_flow_dlpm : entry->what.flow_dlpm;
    bool off = status_newer ? flow.value == 0
                            : entry->what.action == RP_O2_STOP ||
                                  (flow.state == RP_MEASURED && flow.value == 0);
    if (off) {
        rp_build_word(b, RP_TX_OFF_OXYGEN);
    } else if (flow.state == RP_MEASURED) {
        rp_build_loud(b, RP_TX_ON_OXYGEN);
        rp_build_number(b, RP_TX_NONE, flow.value, 1, RP_TX_U_LPM);
    } else {
        rp_build_loud(b, RP_TX_ON_OXYGEN);
        rp_build_word(b, RP_TX_FLOW_UNKNOWN);
    }
    rp_build_time(b, RP_TX_REPORTED_AT,
                  status_newer ? ep->status_from.happened_s : entry->from.happened_s);
}

static void build_now(struct rp_build *b)
{
    rp_build_row(b, RP_TX_L_NOW);
    build_chamber_now(b);
    build_oxygen_now(b);
    rp_build_end(b);
}

/* The time of arrival, and how far it is from now. */
static void build_eta(struct rp_build *b)
{
    const struct rp_episode *ep = b->ep;
    rp_build_join(b, RP_JOIN_SEMICOLON);
    if (ep->eta_answer < 0 || ep->eta_answer >= ep->answers.count) {
        rp_build_word(b, RP_TX_NO_ETA);
        return;
    }
    const struct rp_answer_entry *answer = &ep->answers.at[ep->eta_answer];
    uint32_t eta_s = answer->what.eta_s, now_s = b->in->now_s;
    rp_build_time(b, RP_TX_ETA, eta_s);
    if (eta_s >= now_s) {
        rp_build_span(b, RP_TX_IN_FUTURE, eta_s - now_s, true);
    } else {
        rp_build_loud(b, RP_TX_PASSED);
        b->row.items[b->row.item_count - 1].live = true;
        rp_build_age(b, RP_TX_NONE, eta_s);
        b->row.items[b->row.item_count - 1].word = RP_TX_AGO;
    }
    if (answer->what.whom[0] != '\0') {
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_entered(b, RP_TX_NONE, answer->what.whom);
    }
    rp_build_join(b, RP_JOIN_COMMA);
    if (answer->read_back) {
        rp_build_word(b, RP_TX_READ_BACK);
    } else {
        rp_build_loud(b, RP_TX_NOT_READ_BACK);
    }
}

static void build_evacuation_state(struct rp_build *b)
{
    const struct rp_request_entry *request = rp_sheet_request_now(b->ep);
    rp_build_row(b, RP_TX_L_EVAC);
    if (request != NULL) {
        rp_build_loud(b, rp_text_pick(RP_TX_URG_UNSAID, RP_TX_URG_E4, request->what.urgency));
        rp_build_join(b, RP_JOIN_COMMA);
    }
    /* Nobody here can know that none was made: one may be on its way. */
    bool none = b->ep->requests.count == 0 && b->ep->evac_state == RP_EVAC_NONE;
    rp_build_loud(b,
                  none ? RP_TX_NO_REQUEST_HERE
                       : rp_text_pick(RP_TX_EVAC_NONE, RP_TX_EVAC_HANDED_OVER, b->ep->evac_state));
    bool taken = b->ep->evac_state == RP_EVAC_HANDED_OVER && rp_episode_handed(b->ep) != NULL;
    if (b->ep->requests.count == 0 && !none && !taken) { /* who took them needs no request */
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_loud(b, RP_TX_REQUEST_NOT_HERE);
    }
    if (request != NULL || b->ep->eta_answer >= 0) {
        build_eta(b);
    }
    rp_build_end(b);
}

/* The camp's last word: what base itself enters about the patient is no news of them. */
static void build_last_news(struct rp_build *b)
{
    const struct rp_source *word = &b->ep->word_from;
    rp_build_row(b, RP_TX_L_NEWS);
    if (b->ep->has_word) {
        bool silent = !b->ep->closed && b->in->now_s > word->happened_s &&
                      b->in->now_s - word->happened_s > RP_SHEET_GAP_S;
        if (silent) {
            rp_build_loud(b, RP_TX_NO_NEWS_SINCE);
            b->row.items[b->row.item_count - 1].live = true;
        }
        rp_build_time(b, RP_TX_NONE, word->happened_s);
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_age(b, RP_TX_NONE, word->happened_s);
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_station(b, RP_TX_FROM_LOG, word->station);
        rp_build_quality(b, word);
    } else {
        rp_build_loud(b, RP_TX_NO_NEWS);
    }
    rp_build_end(b);
}

/* What the team that left may not have heard. */
void rp_sheet_build_late(struct rp_build *b)
{
    uint32_t count = rp_episode_late_count(b->ep);
    if (count > 0) {
        rp_build_row(b, RP_TX_L_LATE);
        rp_build_number(b, RP_TX_NONE, count, 0, RP_TX_LATE_COUNT);
        rp_build_time(b, RP_TX_NONE, rp_episode_handed(b->ep)->from.happened_s);
        rp_build_join(b, RP_JOIN_SEMICOLON);
        rp_build_word(b, RP_TX_LATE_WARN);
        rp_build_end(b);
    }
}

static void build_handed_over(struct rp_build *b)
{
    for (size_t i = 0; i < b->ep->handovers.count; i++) {
        const struct rp_handover_entry *entry = &b->ep->handovers.at[i];
        rp_build_row(b, RP_TX_L_HANDED);
        rp_build_from(b, &entry->from);
        rp_build_time(b, RP_TX_NONE, entry->from.happened_s);
        rp_build_entered(b, RP_TX_TO_TEAM, entry->what.team);
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_entered(b, RP_TX_TAKEN_BY, entry->what.taken_by);
        if (entry->what.has_sheet) {
            rp_build_join(b, RP_JOIN_COMMA);
            rp_build_number(b, RP_TX_WITH_SHEET, entry->what.sheet, 0, RP_TX_NONE);
            rp_build_entered(b, RP_TX_CHECK, entry->what.sheet_check);
        }
        if (entry->what.text[0] != '\0') {
            rp_build_join(b, RP_JOIN_SEMICOLON);
            rp_build_entered(b, RP_TX_NONE, entry->what.text);
        }
        rp_build_source(b, &entry->from);
        rp_build_end(b);
    }
    rp_build_dropped(b, b->ep->handovers.older_dropped);
    rp_sheet_build_late(b);
}

static void build_close(struct rp_build *b, const struct rp_source *from,
                        const struct rp_rec_close *close)
{
    rp_build_row(b, RP_TX_L_CLOSED);
    rp_build_from(b, from);
    rp_build_time(b, RP_TX_NONE, from->happened_s);
    rp_build_loud(b, rp_text_pick(RP_TX_OUT_UNSAID, RP_TX_OUT_OTHER, close->outcome));
    if (close->text[0] != '\0') {
        rp_build_join(b, RP_JOIN_SEMICOLON);
        rp_build_entered(b, RP_TX_NONE, close->text);
    }
    rp_build_source(b, from);
    rp_build_end(b);
}

static void build_closed(struct rp_build *b)
{
    const struct rp_episode *ep = b->ep;
    if (ep->closed) {
        build_close(b, &ep->close_from, &ep->close);
    }
    for (size_t i = 0; i < ep->closes.count; i++) {
        const struct rp_close_entry *entry = &ep->closes.at[i];
        if (!ep->closed || !rp_ref_equal(entry->from.ref, ep->close_from.ref)) {
            build_close(b, &entry->from, &entry->what);
        }
    }
    rp_build_dropped(b, ep->closes.older_dropped);
}

void rp_sheet_build_headline(struct rp_build *b)
{
    b->section = RP_SECTION_HEADLINE;
    rp_build_row(b, RP_TX_NONE);
    b->row.style = RP_ROW_TITLE;
    if (b->ep->opened) {
        rp_sheet_build_label(b, &b->ep->opening);
    } else {
        rp_build_loud(b, RP_TX_NOT_OPENED);
    }
    rp_build_join(b, RP_JOIN_DASH);
    rp_sheet_build_identity(b, b->ep->opened ? &b->ep->opening : NULL);
    rp_build_end(b);
    build_where(b);
    build_condition(b);
    build_now(b);
    build_evacuation_state(b);
    build_last_news(b);
    build_handed_over(b);
    build_closed(b);
}
