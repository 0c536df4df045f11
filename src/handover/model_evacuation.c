/* The evacuation request with what it lacks, and the answers to it. */
#include "handover/build.h"
#include "incident/watch/pumping.h"

static void build_text_field(struct rp_build *b, enum rp_text_id label, const char *text)
{
    if (text[0] != '\0') {
        rp_build_join(b, RP_JOIN_SEMICOLON);
        rp_build_entered(b, label, text);
    }
}

static void build_field(struct rp_build *b, bool has, enum rp_text_id label, int64_t number,
                        enum rp_text_id unit)
{
    if (has) {
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_number(b, label, number, 0, unit);
    }
}

static void build_asked_field(struct rp_build *b, enum rp_text_id label, enum rp_finding finding)
{
    if (finding != RP_FINDING_NOT_ASKED) {
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_finding(b, label, finding);
    }
}

/* A level that was taken from a report which was corrected since is not the present one. */
static void build_conscious(struct rp_build *b, const struct rp_request_entry *entry)
{
    build_asked_field(b, RP_TX_CONSCIOUS, entry->what.conscious);
    if (entry->level_withdrawn) {
        rp_build_join(b, RP_JOIN_DASH);
        rp_build_loud(b, RP_TX_LEVEL_WITHDRAWN);
        rp_build_ref(b, RP_TX_CORRECTION_OF, entry->what.conscious_from);
    }
}

static void build_request_head(struct rp_build *b, const struct rp_request_entry *entry,
                               enum rp_text_id label)
{
    rp_build_row(b, label);
    rp_build_from(b, &entry->from);
    rp_build_time(b, RP_TX_NONE, entry->from.happened_s);
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_loud(b, rp_text_pick(RP_TX_URG_UNSAID, RP_TX_URG_E4, entry->what.urgency));
    rp_build_other_source(b, &entry->from);
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_ref(b, RP_TX_CORRECTION_OF, entry->from.ref);
    if (entry->what.revises.origin != 0) {
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_ref(b, RP_TX_REVISES, entry->what.revises);
    }
    if (entry->cancelled) {
        rp_build_join(b, RP_JOIN_SEMICOLON);
        rp_build_loud(b, RP_TX_CANCELLED);
        rp_build_time(b, RP_TX_NONE, entry->cancel_from.happened_s);
        rp_build_entered(b, RP_TX_NONE, entry->cancel_reason);
        rp_build_source(b, &entry->cancel_from);
    }
}

static void build_request_needs(struct rp_build *b, const struct rp_rec_evacuation *what)
{
    static const struct {
        uint8_t bit;
        enum rp_text_id word;
    } needs[] = {{RP_NEED_DOCTOR, RP_TX_NEED_DOCTOR},
                 {RP_NEED_OXYGEN, RP_TX_NEED_OXYGEN},
                 {RP_NEED_STRETCHER, RP_TX_NEED_STRETCHER},
                 {RP_NEED_HOIST, RP_TX_NEED_HOIST}};
    bool first = true;
    for (size_t i = 0; what->has_needs && i < sizeof needs / sizeof needs[0]; i++) {
        if ((what->needs & needs[i].bit) != 0) {
            rp_build_join(b, first ? RP_JOIN_SEMICOLON : RP_JOIN_COMMA);
            rp_build_labelled(b, first ? RP_TX_NEEDS : RP_TX_NONE, needs[i].word);
            first = false;
        }
    }
    if (what->has_needs && first) {
        rp_build_join(b, RP_JOIN_SEMICOLON);
        rp_build_labelled(b, RP_TX_NEEDS, RP_TX_NEED_NONE);
    }
}

/* The crew's strength: who has pumped how long in this illness, as the strokes tell it. */
static void build_pumpers(struct rp_build *b)
{
    const struct rp_episode *ep = b->ep;
    bool first = true;
    for (size_t i = 0; i < ep->pumping.count; i++) {
        const char *name = ep->pumping.at[i].what.pumper;
        uint32_t span_s;
        if (!rp_pumper_total(ep, i, &span_s)) {
            continue;
        }
        rp_build_room(b, 3);
        rp_build_join(b, first ? RP_JOIN_SEMICOLON : RP_JOIN_COMMA);
        if (name[0] != '\0') {
            rp_build_entered(b, first ? RP_TX_PUMPED : RP_TX_NONE, name);
        } else {
            rp_build_labelled(b, first ? RP_TX_PUMPED : RP_TX_NONE, RP_TX_NOT_NAMED);
        }
        rp_build_span(b, RP_TX_NONE, span_s, false);
        first = false;
    }
}

static void build_request_patients(struct rp_build *b, const struct rp_request_entry *entry,
                                   bool in_force)
{
    const struct rp_rec_evacuation *what = &entry->what;
    build_field(b, what->has_patients, RP_TX_PATIENTS, what->patients, RP_TX_NONE);
    if (what->has_weight) {
        build_field(b, true, RP_TX_NONE, what->weight_kg, RP_TX_U_KG);
        rp_build_word(b, RP_TX_WITH_KIT);
    }
    if (what->mobility != RP_MOB_UNSAID) {
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_word(b, rp_text_pick(RP_TX_MOB_UNSAID, RP_TX_MOB_STRETCHER, what->mobility));
    }
    build_conscious(b, entry);
    build_asked_field(b, RP_TX_OXYGEN_NEEDED, what->oxygen_needed);
    build_asked_field(b, RP_TX_LIES_FLAT, what->lies_flat);
    build_request_needs(b, what);
    if (what->has_party) {
        rp_build_join(b, RP_JOIN_SEMICOLON);
        rp_build_number(b, RP_TX_NONE, what->party, 0, RP_TX_PARTY);
    }
    if (in_force) {
        build_pumpers(b);
    }
    rp_build_end(b);
}

static void build_request_place(struct rp_build *b, const struct rp_rec_evacuation *what)
{
    rp_build_row(b, RP_TX_L_PLACE);
    if (what->position.present) {
        rp_build_position(b, &what->position);
    }
    if (what->altitude.present) {
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_altitude(b, &what->altitude);
    }
    rp_build_end(b);
}

static void build_request_site(struct rp_build *b, const struct rp_rec_evacuation *what)
{
    rp_build_row(b, RP_TX_L_SITE);
    if (what->site.present) {
        rp_build_position(b, &what->site);
        rp_build_open(b);
        rp_build_mgrs(b, &what->site);
        rp_build_close(b);
    }
    if (what->has_site_size) {
        build_field(b, true, RP_TX_NONE, what->site_length_m, RP_TX_NONE);
        rp_build_number(b, RP_TX_BY_AREA, what->site_width_m, 0, RP_TX_U_M);
    }
    if (what->surface != RP_SURF_UNSAID) {
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_word(b, rp_text_pick(RP_TX_SURF_UNSAID, RP_TX_SURF_SAND, what->surface));
    }
    build_field(b, what->has_slope, RP_TX_SLOPE, what->slope_deg, RP_TX_U_DEG);
    build_asked_field(b, RP_TX_SITE_MARKED, what->site_marked);
    build_text_field(b, RP_TX_OBSTACLES, what->obstacles);
    build_text_field(b, RP_TX_HAZARDS, what->hazards);
    rp_build_end(b);
}

static void build_request_weather(struct rp_build *b, const struct rp_rec_evacuation *what)
{
    rp_build_row(b, RP_TX_L_WEATHER);
    build_field(b, what->has_wind, RP_TX_WIND, what->wind_kmh, RP_TX_U_KMH);
    if (what->has_wind && what->has_wind_dir) {
        rp_build_number(b, RP_TX_WIND_FROM, what->wind_from_deg, 0, RP_TX_U_DEG_TRUE);
    }
    build_field(b, !what->has_wind && what->has_wind_dir, RP_TX_F_WIND_FROM, what->wind_from_deg,
                RP_TX_U_DEG_TRUE);
    build_field(b, what->has_gust, RP_TX_GUST, what->gust_kmh, RP_TX_U_KMH);
    build_field(b, what->has_temp, RP_TX_AIR_TEMP, what->temp_c, RP_TX_U_C);
    build_field(b, what->has_visibility, RP_TX_VISIBILITY, what->visibility_m, RP_TX_U_M);
    build_field(b, what->has_cloud_base, RP_TX_CLOUD_BASE, what->cloud_base_m, RP_TX_U_M_AMSL);
    build_text_field(b, RP_TX_WEATHER, what->weather);
    if (what->has_daylight) {
        rp_build_join(b, RP_JOIN_SEMICOLON);
        rp_build_time(b, RP_TX_DAYLIGHT_END, what->daylight_end_s);
    }
    rp_build_end(b);
}

static void build_request_ground(struct rp_build *b, const struct rp_rec_evacuation *what)
{
    rp_build_row(b, RP_TX_L_GROUND);
    build_text_field(b, RP_TX_GROUND_CONTACT, what->ground_contact);
    build_text_field(b, RP_TX_FALLBACK, what->fallback);
    if (what->insurance.state != RP_NOT_ASKED) {
        rp_build_join(b, RP_JOIN_SEMICOLON);
        if (what->insurance.state == RP_KNOWN) {
            rp_build_entered(b, RP_TX_INSURANCE, what->insurance.text);
        } else {
            rp_build_labelled(b, RP_TX_INSURANCE, RP_TX_NONE_KNOWN);
        }
    }
    rp_build_end(b);
}

static void build_request_missing(struct rp_build *b, const struct rp_request_entry *entry)
{
    const struct rp_rec_evacuation *what = &entry->what;
    const struct {
        bool has;
        enum rp_text_id word;
    } fields[] = {
        {what->urgency != RP_URG_UNSAID, RP_TX_F_URGENCY},
        {what->has_patients, RP_TX_F_PATIENTS},
        {what->has_weight, RP_TX_F_WEIGHT},
        {what->mobility != RP_MOB_UNSAID, RP_TX_F_MOBILITY},
        {what->conscious != RP_FINDING_NOT_ASKED && !entry->level_withdrawn, RP_TX_CONSCIOUS},
        {what->oxygen_needed != RP_FINDING_NOT_ASKED, RP_TX_OXYGEN_NEEDED},
        {what->lies_flat != RP_FINDING_NOT_ASKED, RP_TX_LIES_FLAT},
        {what->has_needs, RP_TX_F_NEEDS},
        {what->has_party, RP_TX_F_PARTY},
        {what->position.present, RP_TX_F_POSITION},
        {what->altitude.present, RP_TX_F_ALTITUDE},
        {what->site.present, RP_TX_SITE_POSITION},
        {what->has_site_size, RP_TX_SITE_SIZE},
        {what->surface != RP_SURF_UNSAID, RP_TX_SURFACE},
        {what->has_slope, RP_TX_SLOPE},
        {what->obstacles[0] != '\0', RP_TX_F_OBSTACLES},
        {what->site_marked != RP_FINDING_NOT_ASKED, RP_TX_F_MARKED},
        {what->hazards[0] != '\0', RP_TX_F_HAZARDS},
        {what->has_wind, RP_TX_WIND},
        {what->has_wind_dir, RP_TX_F_WIND_FROM},
        {what->has_gust, RP_TX_GUST},
        {what->has_temp, RP_TX_F_AIR_TEMP},
        {what->has_visibility, RP_TX_VISIBILITY},
        {what->has_cloud_base, RP_TX_CLOUD_BASE},
        {what->weather[0] != '\0', RP_TX_F_SKY},
        {what->has_daylight, RP_TX_F_DAYLIGHT},
        {what->ground_contact[0] != '\0', RP_TX_F_CONTACT},
        {what->fallback[0] != '\0', RP_TX_F_FALLBACK},
        {what->insurance.state != RP_NOT_ASKED, RP_TX_F_INSURANCE},
    };
    rp_build_row(b, RP_TX_L_MISSING);
    for (size_t i = 0; i < sizeof fields / sizeof fields[0]; i++) {
        if (!fields[i].has) {
            bool first = b->row.item_count == 0;
            rp_build_join(b, RP_JOIN_COMMA);
            rp_build_labelled(b, first ? RP_TX_NOT_IN_REQUEST : RP_TX_NONE, fields[i].word);
        }
    }
    if (b->row.item_count == 0) {
        rp_build_word(b, RP_TX_NONE_MISSING);
    }
    rp_build_end(b);
}

static void build_request(struct rp_build *b, const struct rp_request_entry *entry, bool in_force)
{
    build_request_head(b, entry, in_force ? RP_TX_L_REQUEST : RP_TX_L_EARLIER);
    build_request_patients(b, entry, in_force);
    if (!in_force) { /* that of the request in force is in the headline */
        build_request_place(b, &entry->what);
    }
    build_request_site(b, &entry->what);
    build_request_weather(b, &entry->what);
    build_request_ground(b, &entry->what);
    if (in_force) {
        build_request_missing(b, entry);
    }
}

static void build_readback(struct rp_build *b, const struct rp_readback_entry *readback)
{
    rp_build_join(b, RP_JOIN_SEMICOLON);
    rp_build_time(b, RP_TX_READ_BACK, readback->from.happened_s);
    if (readback->what.text[0] != '\0') {
        rp_build_entered(b, RP_TX_NONE, readback->what.text);
    }
    rp_build_other_source(b, &readback->from);
}

static const struct rp_readback_entry *readback_of(const struct rp_episode *ep,
                                                   struct rp_record_ref answer)
{
    for (size_t i = ep->readbacks.count; i > 0; i--) {
        const struct rp_readback_entry *entry = &ep->readbacks.at[i - 1];
        if (!entry->from.voided && rp_ref_equal(entry->what.about, answer)) {
            return entry;
        }
    }
    return NULL;
}

/* "Seen" and "passed on" say what happened; the others are an agreement, and count only when read
 * back. */
static bool needs_readback(uint8_t kind)
{
    return kind != RP_ANS_SEEN && kind != RP_ANS_PASSED_ON;
}

static void build_answer(struct rp_build *b, const struct rp_answer_entry *entry, bool first)
{
    const struct rp_rec_answer *what = &entry->what;
    const struct rp_readback_entry *readback = readback_of(b->ep, entry->from.ref);
    const int16_t now = b->ep->request_now;
    rp_build_row(b, first ? RP_TX_L_ANSWERS : RP_TX_NONE);
    rp_build_from(b, &entry->from);
    rp_build_time(b, RP_TX_NONE, entry->from.happened_s);
    rp_build_loud(b, rp_text_pick(RP_TX_ANS_SEEN, RP_TX_ANS_ADVICE, what->kind - RP_ANS_SEEN));
    if (what->whom[0] != '\0') {
        rp_build_entered(b, RP_TX_NONE, what->whom);
    }
    if (what->has_eta) {
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_time(b, RP_TX_ETA, what->eta_s);
    }
    build_text_field(b, RP_TX_NONE, what->text);
    rp_build_source(b, &entry->from);
    if (now < 0 || now >= b->ep->requests.count ||
        !rp_ref_equal(what->about, b->ep->requests.at[now].from.ref)) {
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_ref(b, RP_TX_ABOUT, what->about);
    }
    if (readback != NULL) {
        build_readback(b, readback);
    } else if (needs_readback(what->kind)) {
        rp_build_join(b, RP_JOIN_SEMICOLON);
        rp_build_loud(b, entry->read_back ? RP_TX_READ_BACK : RP_TX_NOT_READ_BACK);
    }
    rp_build_end(b);
}

/* Read-backs that no answer row shows: their answer is not held, or a newer read-back exists. */
static void build_other_readbacks(struct rp_build *b)
{
    const struct rp_episode *ep = b->ep;
    for (size_t i = 0; i < ep->readbacks.count; i++) {
        const struct rp_readback_entry *entry = &ep->readbacks.at[i];
        bool shown = false;
        for (size_t k = 0; k < ep->answers.count && !shown; k++) {
            shown = rp_ref_equal(ep->answers.at[k].from.ref, entry->what.about) &&
                    readback_of(ep, entry->what.about) == entry;
        }
        if (shown) {
            continue;
        }
        rp_build_row(b, RP_TX_NONE);
        rp_build_from(b, &entry->from);
        rp_build_time(b, RP_TX_READ_BACK, entry->from.happened_s);
        rp_build_ref(b, RP_TX_ABOUT, entry->what.about);
        build_text_field(b, RP_TX_NONE, entry->what.text);
        rp_build_source(b, &entry->from);
        rp_build_end(b);
    }
    rp_build_dropped(b, ep->readbacks.older_dropped);
}

/* Cancels that no request row shows. */
static void build_other_cancels(struct rp_build *b)
{
    const struct rp_episode *ep = b->ep;
    for (size_t i = 0; i < ep->cancels.count; i++) {
        const struct rp_cancel_entry *entry = &ep->cancels.at[i];
        bool shown = false;
        for (size_t k = 0; k < ep->requests.count && !entry->from.voided; k++) {
            shown = shown || (ep->requests.at[k].cancelled &&
                              rp_ref_equal(ep->requests.at[k].cancel_from.ref, entry->from.ref));
        }
        if (shown) {
            continue;
        }
        rp_build_row(b, RP_TX_NONE);
        rp_build_from(b, &entry->from);
        rp_build_time(b, RP_TX_NONE, entry->from.happened_s);
        rp_build_ref(b, RP_TX_CANCEL_OF, entry->what.request);
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_entered(b, RP_TX_REASON, entry->what.reason);
        rp_build_source(b, &entry->from);
        rp_build_end(b);
    }
    rp_build_dropped(b, ep->cancels.older_dropped);
}

void rp_sheet_build_evacuation(struct rp_build *b)
{
    const struct rp_episode *ep = b->ep;
    bool in_force = ep->request_now >= 0 && ep->request_now < ep->requests.count;
    b->section = RP_SECTION_EVACUATION;
    if (in_force) {
        build_request(b, &ep->requests.at[ep->request_now], true);
    } else {
        rp_build_row(b, RP_TX_L_REQUEST);
        rp_build_loud(b, ep->requests.count == 0 ? RP_TX_NO_REQUEST : RP_TX_NO_REQUEST_IN_FORCE);
        rp_build_end(b);
    }
    for (size_t i = ep->answers.count; i > 0; i--) {
        build_answer(b, &ep->answers.at[i - 1], i == ep->answers.count);
    }
    if (ep->answers.count == 0 && ep->requests.count > 0) {
        rp_build_row(b, RP_TX_L_ANSWERS);
        rp_build_loud(b, RP_TX_NO_ANSWERS);
        rp_build_end(b);
    }
    rp_build_dropped(b, ep->answers.older_dropped);
    build_other_readbacks(b);
    for (size_t i = ep->requests.count; i > 0; i--) {
        if ((int)(i - 1) != ep->request_now) {
            build_request(b, &ep->requests.at[i - 1], false);
        }
    }
    rp_build_dropped(b, ep->requests.older_dropped);
    build_other_cancels(b);
}
