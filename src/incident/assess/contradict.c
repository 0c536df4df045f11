/* Records that contradict each other: found, shown, never mended. */
#include <string.h>
#include <strings.h>

#include "clinical/air.h"
#include "clinical/position.h"
#include "incident/assess/assess.h"

#define ALTITUDE_M   500 /* clinical references 3.5, ours */
#define PLACE_M      5000.0
#define AGE_Y        1 /* a birthday may lie between */
#define DOSE_S       1800
#define AHEAD_S      120
#define AROUND_S     60 /* going in and out is entered to the minute */
#define CYLINDER_BAR 20 /* what warmth in the sun and a reading off by a mark may add */

struct search {
    const struct rp_episode *ep;
    uint32_t now_s;
    struct rp_contradiction found;
    bool any;
};

static void note(struct search *s, const struct rp_source *earlier, const struct rp_source *later)
{
    s->found.earlier = earlier;
    s->found.later = later;
    s->any = true;
}

/* Each pair of openings next to each other, the corrected ones left out. */
typedef bool differ(const struct rp_rec_episode *a, const struct rp_rec_episode *b);

static void compare_openings(struct search *s, differ *differs)
{
    const struct rp_opening_entry *before = NULL;
    for (size_t i = 0; i < s->ep->openings.count; i++) {
        const struct rp_opening_entry *at = &s->ep->openings.at[i];
        if (at->from.voided) {
            continue;
        }
        if (before != NULL && differs(&before->what, &at->what)) {
            note(s, &before->from, &at->from);
        }
        before = at;
    }
}

static bool name_differs(const struct rp_rec_episode *a, const struct rp_rec_episode *b)
{
    return strcasecmp(a->patient, b->patient) != 0;
}

static bool sex_differs(const struct rp_rec_episode *a, const struct rp_rec_episode *b)
{
    return a->sex != RP_SEX_UNSAID && b->sex != RP_SEX_UNSAID && a->sex != b->sex;
}

static bool age_differs(const struct rp_rec_episode *a, const struct rp_rec_episode *b)
{
    int apart = a->age_y - b->age_y;
    return a->has_age && b->has_age && (apart > AGE_Y || apart < -AGE_Y);
}

static bool height_differs(const struct rp_altitude *a, const struct rp_altitude *b)
{
    int apart = a->metres - b->metres;
    return a->present && b->present && (apart > ALTITUDE_M || apart < -ALTITUDE_M);
}

static bool place_differs(const struct rp_position *a, const struct rp_position *b)
{
    return a->present && b->present &&
           rp_position_apart_m(a->lat_e6, a->lon_e6, b->lat_e6, b->lon_e6) > PLACE_M;
}

static bool opening_height_differs(const struct rp_rec_episode *a, const struct rp_rec_episode *b)
{
    return height_differs(&a->altitude, &b->altitude);
}

static bool opening_place_differs(const struct rp_rec_episode *a, const struct rp_rec_episode *b)
{
    return place_differs(&a->position, &b->position);
}

static void find_name(struct search *s)
{
    compare_openings(s, name_differs);
}

static void find_sex(struct search *s)
{
    compare_openings(s, sex_differs);
}

static void find_age(struct search *s)
{
    compare_openings(s, age_differs);
}

static void find_allergies(struct search *s)
{
    const struct rp_known_entry *before = NULL;
    for (size_t i = 0; i < s->ep->known[RP_BG_ALLERGIES].count; i++) {
        const struct rp_known_entry *at = &s->ep->known[RP_BG_ALLERGIES].at[i];
        if (at->from.voided) {
            continue;
        }
        if (before != NULL && before->what.state != at->what.state) {
            note(s, &before->from, &at->from);
        }
        before = at;
    }
}

/* The request in force against the opening; a descent that was entered explains a lower place. */
static const struct rp_request_entry *request_to_compare(const struct rp_episode *ep)
{
    for (size_t i = 0; i < ep->descent.count; i++) {
        if (!ep->descent.at[i].from.voided && ep->descent.at[i].what.descending) {
            return NULL;
        }
    }
    return ep->opened && ep->request_now >= 0 ? &ep->requests.at[ep->request_now] : NULL;
}

static void find_altitude(struct search *s)
{
    const struct rp_request_entry *request = request_to_compare(s->ep);
    compare_openings(s, opening_height_differs);
    if (request != NULL && height_differs(&s->ep->opening.altitude, &request->what.altitude)) {
        note(s, &s->ep->opening_from, &request->from);
    }
}

static void find_place(struct search *s)
{
    const struct rp_request_entry *request = request_to_compare(s->ep);
    compare_openings(s, opening_place_differs);
    if (request != NULL && place_differs(&s->ep->opening.position, &request->what.position)) {
        note(s, &s->ep->opening_from, &request->from);
    }
}

/* Alert 15, confused 14, voice 9-13, pain or unresponsive below 9 (Scand J Trauma 32, 2024, a rough
 * map); one point more is let pass either way (ours). */
static bool level_fits(int acvpu, int total)
{
    static const int low[] = {14, 13, 8, 3, 3}, high[] = {15, 15, 14, 9, 9};
    if (acvpu < RP_ACVPU_ALERT || acvpu > RP_ACVPU_UNRESPONSIVE) {
        return true;
    }
    return total >= low[acvpu] && total <= high[acvpu];
}

static void find_level(struct search *s)
{
    for (size_t i = 0; i < s->ep->obs.count; i++) {
        const struct rp_obs *obs = &s->ep->obs.at[i];
        if (obs->from.voided || obs->acvpu.state != RP_MEASURED ||
            obs->gcs_eye.state != RP_MEASURED) {
            continue;
        }
        int total = obs->gcs_eye.value + obs->gcs_verbal.value + obs->gcs_motor.value;
        if (!level_fits(obs->acvpu.value, total)) {
            note(s, &obs->from, &obs->from);
        }
    }
}

/* A condition other than dead, or a sign of life taken now. */
static bool is_alive(const struct rp_rec_status *what)
{
    bool now = what->vitals_age_min == 0;
    bool pulse = what->pulse_bpm.state == RP_MEASURED && what->pulse_bpm.value > 0;
    bool breath = what->resp_rpm.state == RP_MEASURED && what->resp_rpm.value > 0;
    bool answers = what->acvpu.state == RP_MEASURED && what->acvpu.value != RP_ACVPU_UNRESPONSIVE;
    bool said = what->condition != RP_COND_UNSAID && what->condition != RP_COND_DEAD;
    return said || (now && (pulse || breath || answers));
}

static void find_dead(struct search *s)
{
    const struct rp_source *dead = NULL;
    for (size_t i = 0; i < s->ep->reports.count; i++) {
        const struct rp_status_entry *at = &s->ep->reports.at[i];
        if (at->from.voided) {
            continue;
        }
        if (dead != NULL && is_alive(&at->what)) {
            note(s, dead, &at->from);
        }
        dead = at->what.condition == RP_COND_DEAD ? &at->from : dead;
    }
    bool died = s->ep->closed && s->ep->close.outcome == RP_OUT_DIED;
    for (size_t i = 0; died && i < s->ep->reports.count; i++) {
        const struct rp_status_entry *at = &s->ep->reports.at[i];
        if (!at->from.voided && at->from.happened_s > s->ep->close_from.happened_s &&
            is_alive(&at->what)) {
            note(s, &s->ep->close_from, &at->from);
        }
    }
}

static bool is_outside(const struct rp_obs *obs)
{
    return obs->spo2_pct.state == RP_MEASURED &&
           (obs->mode == RP_MODE_AIR || obs->mode == RP_MODE_OXYGEN);
}

/* The chamber event in force at a time if it left the patient inside, or NULL. */
static const struct rp_chamber_entry *inside_at(const struct rp_episode *ep, int64_t time_s)
{
    const struct rp_chamber_entry *last = NULL;
    for (size_t i = 0; i < ep->chamber.count; i++) {
        const struct rp_chamber_entry *at = &ep->chamber.at[i];
        if (!at->from.voided && at->from.happened_s < time_s) {
            last = at;
        }
    }
    bool inside = last != NULL && last->what.phase >= RP_PHASE_PRESSURISING &&
                  last->what.phase <= RP_PHASE_DEFLATING;
    return inside ? last : NULL;
}

static void find_chamber(struct search *s)
{
    for (size_t i = 0; i < s->ep->obs.count; i++) {
        const struct rp_obs *obs = &s->ep->obs.at[i];
        const struct rp_chamber_entry *event = inside_at(s->ep, (int64_t)obs->taken_s - AROUND_S),
                                      *then = inside_at(s->ep, (int64_t)obs->taken_s + AROUND_S);
        if (event != NULL && then != NULL && !obs->from.voided && is_outside(obs)) {
            note(s, &event->from, &obs->from);
        }
    }
}

/* The altimeter of a watch inside against the gauge, on the standard atmosphere (air.h). It may
 * agree with the West model of the outside pressure too, so only both failing counts. */
static bool altimeter_off(const struct rp_rec_chamber *event, const struct rp_altitude *altitude)
{
    struct rp_air_site site = {.altitude_m = altitude->metres};
    int off = 0;
    for (int model = 0; model < RP_AIR_MODELS; model++) {
        struct rp_air_chamber air;
        double error_m = 0;
        if (rp_air_in_chamber(&site, (enum rp_air_model)model, event->gauge_dhpa.value / 10.0,
                              &air) == 0) {
            rp_air_altimeter_error(air.inside_hpa, event->altimeter_m.value, &error_m);
            off += error_m > RP_AIR_ALTIMETER_LIMIT_M || error_m < -RP_AIR_ALTIMETER_LIMIT_M;
        }
    }
    return off == RP_AIR_MODELS;
}

bool rp_chamber_altimeter_off(const struct rp_episode *ep, const struct rp_rec_chamber *event)
{
    const struct rp_altitude *altitude = rp_episode_altitude(ep);
    return altitude->present && event->gauge_dhpa.state == RP_MEASURED &&
           event->altimeter_m.state == RP_MEASURED && altimeter_off(event, altitude);
}

static void find_altimeter(struct search *s)
{
    for (size_t i = 0; i < s->ep->chamber.count; i++) {
        const struct rp_chamber_entry *at = &s->ep->chamber.at[i];
        if (!at->from.voided && rp_chamber_altimeter_off(s->ep, &at->what)) {
            note(s, &at->from, &at->from);
        }
    }
}

/* A reading without a name is of the cylinder in use, as in watch/oxygen.c. */
static const char *cylinder_of(const struct rp_episode *ep, size_t index)
{
    for (size_t i = index + 1; i-- > 0;) {
        const struct rp_oxygen_entry *at = &ep->oxygen.at[i];
        if (at->what.cylinder[0] != '\0' && !at->from.voided) {
            return at->what.cylinder;
        }
        if (at->what.action != RP_O2_READING && !at->from.voided) {
            break; /* a cylinder nobody named */
        }
    }
    return "";
}

static bool same_cylinder(const struct rp_episode *ep, size_t before, size_t at)
{
    const char *name = cylinder_of(ep, at);
    bool known = name[0] != '\0' || ep->oxygen.at[at].what.action == RP_O2_READING;
    return known && strcasecmp(cylinder_of(ep, before), name) == 0;
}

static void find_cylinder(struct search *s)
{
    for (size_t i = 0; i < s->ep->oxygen.count; i++) {
        const struct rp_oxygen_entry *at = &s->ep->oxygen.at[i];
        for (size_t j = i; j-- > 0 && !at->from.voided;) {
            const struct rp_oxygen_entry *before = &s->ep->oxygen.at[j];
            bool same = !before->from.voided && same_cylinder(s->ep, j, i);
            if (same && before->what.cylinder_bar.state == RP_MEASURED &&
                at->what.cylinder_bar.state == RP_MEASURED) {
                if (at->what.cylinder_bar.value > before->what.cylinder_bar.value + CYLINDER_BAR) {
                    note(s, &before->from, &at->from);
                }
                break;
            }
        }
    }
}

static void find_dose(struct search *s)
{
    for (size_t i = 0; i < s->ep->doses.count; i++) {
        const struct rp_dose *at = &s->ep->doses.at[i];
        for (size_t j = 0; j < i; j++) {
            const struct rp_dose *before = &s->ep->doses.at[j];
            bool given = !at->from.voided && !before->from.voided && !at->what.refused &&
                         !before->what.refused && at->what.kind == RP_TREAT_DRUG &&
                         at->what.confirmed[0] == '\0'; /* a second person knew */
            if (given && strcasecmp(before->what.name, at->what.name) == 0 &&
                at->from.happened_s - before->from.happened_s < DOSE_S) {
                note(s, &before->from, &at->from);
            }
        }
    }
}

static void find_no_pulse(struct search *s)
{
    for (size_t i = 0; i < s->ep->obs.count; i++) {
        const struct rp_obs *obs = &s->ep->obs.at[i];
        bool none = obs->pulse_bpm.state == RP_MEASURED && obs->pulse_bpm.value == 0;
        bool answers = obs->acvpu.state == RP_MEASURED && obs->acvpu.value != RP_ACVPU_UNRESPONSIVE;
        if (none && answers && !obs->from.voided) {
            note(s, &obs->from, &obs->from);
        }
    }
}

static void find_ahead(struct search *s)
{
    if (!s->ep->latest_from.voided && s->ep->latest_s > s->now_s + AHEAD_S) {
        note(s, &s->ep->latest_from, &s->ep->latest_from);
    }
}

size_t rp_episode_contradictions(const struct rp_episode *episode, uint32_t now_s,
                                 struct rp_contradiction out[RP_CONTRA_COUNT])
{
    static void (*const finders[RP_CONTRA_COUNT])(struct search *) = {
        [RP_CONTRA_NAME] = find_name,         [RP_CONTRA_SEX] = find_sex,
        [RP_CONTRA_AGE] = find_age,           [RP_CONTRA_ALLERGIES] = find_allergies,
        [RP_CONTRA_ALTITUDE] = find_altitude, [RP_CONTRA_PLACE] = find_place,
        [RP_CONTRA_LEVEL] = find_level,       [RP_CONTRA_DEAD] = find_dead,
        [RP_CONTRA_CHAMBER] = find_chamber,   [RP_CONTRA_ALTIMETER] = find_altimeter,
        [RP_CONTRA_CYLINDER] = find_cylinder, [RP_CONTRA_DOSE] = find_dose,
        [RP_CONTRA_AHEAD] = find_ahead,       [RP_CONTRA_NO_PULSE] = find_no_pulse,
    };
    size_t count = 0;
    for (int kind = 0; kind < RP_CONTRA_COUNT; kind++) {
        struct search s = {.ep = episode, .now_s = now_s};
        s.found.kind = (enum rp_contradiction_kind)kind;
        finders[kind](&s);
        if (s.any) {
            out[count++] = s.found;
        }
    }
    return count;
}

const char *rp_contradiction_sentence(enum rp_contradiction_kind kind)
{
    static const char *const sentences[] = {
#define X(name, sentence) [RP_CONTRA_##name] = sentence,
        RP_CONTRADICTIONS(X)
#undef X
    };
    return sentences[kind];
}
