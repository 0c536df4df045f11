/* Rules of word, request, arrival, daylight, weather and handing over. */
#include <string.h>

#include "incident/assess/assess.h"
#include "incident/watch/rules.h"

#define MIN_S            60u
#define UNACKED_S        (5 * MIN_S)
#define UNACKED_AGAIN_S  (15 * MIN_S)
#define LAST_START_S     (90 * MIN_S)
#define LAST_START_2_S   (30 * MIN_S)
#define ETA_SESSION_S    (60 * MIN_S)
#define ETA_CLOSE_S      (15 * MIN_S)
#define ACCEPTED_S       (10 * MIN_S)
#define ACCEPTED_AGAIN_S (30 * MIN_S)
#define DAYLIGHT_S       (60 * MIN_S)
#define LIGHT_OLD_S      (6 * 60 * MIN_S) /* ours: an end of light so long ago is of another day */
#define WEATHER_OLD_S    (60 * MIN_S) /* routine reports are hourly: ICAO Annex 3, from memory */
#define WEATHER_TREND_S  (6 * 60 * MIN_S) /* how far back a rise of the wind is looked for: ours */
#define CLOUD_NEAR_M                                                                               \
    300 /* distance from cloud, visibility: ICAO Annex 2 table 3-1, from memory                    \
         */
#define VISIBILITY_M     5000
#define VISIBILITY_BAD_M 1500
#define WIND_RISE_KMH    20 /* of wind or gust: ICAO Annex 3, special reports, from memory */
#define RUNG_1_S         (10 * MIN_S)
#define RUNG_2_S         (20 * MIN_S)
#define RUNG_3_S         (40 * MIN_S)

static const struct rp_request_entry *request_now(const struct rp_watch *watch)
{
    const struct rp_episode *ep = watch->ep;
    return ep->request_now >= 0 && !watch->over ? &ep->requests.at[ep->request_now] : NULL;
}

void rp_check_unacked(struct rp_watch *watch)
{
    const struct rp_watch_station *station = &watch->in->station;
    uint32_t waits_s = rp_watch_span(station->unacked_s, watch->now_s);
    if (station->has_unacked && waits_s >= UNACKED_S && !watch->over) {
        bool again = waits_s >= UNACKED_AGAIN_S;
        rp_watch_raise(watch, RP_SOUND_LOUD, 0,
                       station->unacked_s + (again ? UNACKED_AGAIN_S : UNACKED_S), 0,
                       "an urgent record is not at base after %u min", (unsigned)(waits_s / MIN_S));
    }
}

/* End of usable light: of the newest request that says it, else as the station knows it; one that
 * is long past is yesterday's. */
static uint32_t light_end_s(const struct rp_watch_input *input)
{
    const struct rp_episode *ep = input->episode;
    const struct rp_watch_station *station = &input->station;
    uint32_t end_s = station->has_daylight_end ? station->daylight_end_s : 0;
    for (size_t i = 0; i < ep->requests.count; i++) {
        const struct rp_request_entry *request = &ep->requests.at[i];
        if (!request->from.voided && request->what.has_daylight &&
            request->what.daylight_end_s + LIGHT_OLD_S > input->now_s) {
            end_s = request->what.daylight_end_s;
        }
    }
    return end_s;
}

bool rp_watch_last_start(const struct rp_watch_input *input, struct rp_last_start *out_start)
{
    const struct rp_episode *ep = input->episode;
    const struct rp_watch_plan *plan = input->plan != NULL ? input->plan : &rp_watch_plan_default;
    struct rp_last_start start = {.light_end_s = light_end_s(input), .way_s = plan->descent_s};
    for (size_t i = 0; i < ep->descent.count; i++) {
        const struct rp_descent_entry *entry = &ep->descent.at[i];
        if (!entry->from.voided && entry->what.has_way) {
            start.way_s = entry->what.way_min * MIN_S;
            start.way_entered = true;
        }
    }
    uint32_t needed_s = start.way_s * 3 / 2;
    if (needed_s == 0 || start.light_end_s <= needed_s) {
        return false;
    }
    start.start_s = start.light_end_s - needed_s;
    *out_start = start;
    return true;
}

void rp_check_descent(struct rp_watch *watch)
{
    struct rp_last_start last;
    const struct rp_descent_entry *answer = watch->course.why_not;
    bool going = answer != NULL && answer->what.descending;
    if (watch->over || going || !rp_watch_last_start(watch->in, &last) ||
        watch->now_s >= last.light_end_s) {
        return;
    }
    uint32_t start_s = last.start_s;
    if (watch->now_s + LAST_START_S < start_s) {
        return;
    }
    bool late = watch->now_s + LAST_START_2_S >= start_s;
    char at[8];
    rp_watch_raise(watch, RP_SOUND_LOUD, 0, start_s - (late ? LAST_START_2_S : LAST_START_S), 0,
                   watch->now_s < start_s ? "last safe start down at %s"
                                          : "last safe start down was at %s",
                   rp_watch_time(start_s, at));
}

void rp_check_eta_camp(struct rp_watch *watch)
{
    uint32_t eta_s = rp_watch_eta_s(watch);
    if (watch->over || eta_s <= watch->now_s || watch->now_s + ETA_SESSION_S < eta_s) {
        return;
    }
    bool close = watch->now_s + ETA_CLOSE_S >= eta_s;
    char at[8];
    rp_watch_raise(watch, RP_SOUND_LOUD, 0, eta_s - (close ? ETA_CLOSE_S : ETA_SESSION_S), 0,
                   watch->course.inside ? "arrival expected %s, patient still in the chamber"
                                        : "arrival expected %s",
                   rp_watch_time(eta_s, at));
}

void rp_check_request(struct rp_watch *watch)
{
    const struct rp_request_entry *request = request_now(watch);
    if (request != NULL && watch->ep->evac_state == RP_EVAC_ASKED) {
        char at[8];
        uint32_t asked_s = request->from.recorded_s;
        rp_watch_raise(watch, RP_SOUND_FAST, 0, asked_s, asked_s,
                       "evacuation asked %s, NOBODY HAS ANSWERED", rp_watch_time(asked_s, at));
    }
}

/* The last rung comes back every 40 min: silence that was acknowledged is silence still. */
void rp_check_report(struct rp_watch *watch)
{
    uint32_t word_s = rp_episode_word_s(watch->ep);
    const struct rp_status_entry *report = rp_watch_condition(watch);
    bool unstable = report != NULL && report->what.condition >= RP_COND_WORSE;
    if (watch->over || word_s == 0) {
        return;
    }
    uint32_t due_s = word_s + (unstable ? watch->plan->report_unstable_s : watch->plan->report_s);
    uint32_t promised_s = rp_episode_next_report_s(watch->ep);
    due_s = promised_s > word_s ? promised_s : due_s; /* the camp said when itself */
    uint32_t late_s = rp_watch_span(due_s, watch->now_s);
    if (late_s < RUNG_1_S) {
        return;
    }
    uint32_t rung_s = late_s >= RUNG_3_S   ? late_s / RUNG_3_S * RUNG_3_S
                      : late_s >= RUNG_2_S ? RUNG_2_S
                                           : RUNG_1_S;
    char at[8];
    rp_watch_raise(watch,
                   rung_s >= RUNG_3_S   ? RP_SOUND_FAST
                   : rung_s == RUNG_2_S ? RP_SOUND_LOUD
                                        : RP_SOUND_SOFT,
                   0, due_s + rung_s, 0, "no word since %s, report %u min late: %s",
                   rp_watch_time(word_s, at), (unsigned)(late_s / MIN_S),
                   rung_s >= RUNG_3_S   ? "ACT ON THE PLAN FOR SILENCE"
                   : rung_s == RUNG_2_S ? "try the relays"
                                        : "call the camp");
}

void rp_check_accepted(struct rp_watch *watch)
{
    const struct rp_request_entry *request = request_now(watch);
    if (request == NULL || watch->ep->evac_state == RP_EVAC_ACCEPTED) {
        return;
    }
    uint32_t asked_s = request->from.recorded_s;
    uint32_t waits_s = rp_watch_span(asked_s, watch->now_s);
    if (waits_s >= ACCEPTED_S) {
        uint32_t again_s = (waits_s - ACCEPTED_S) / ACCEPTED_AGAIN_S * ACCEPTED_AGAIN_S;
        char at[8];
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, asked_s + ACCEPTED_S + again_s, 0,
                       watch->ep->evac_state == RP_EVAC_REFUSED
                           ? "asked %s, %u min ago: REFUSED, nobody has accepted"
                           : "asked %s, %u min ago: nobody has accepted",
                       rp_watch_time(asked_s, at), (unsigned)(waits_s / MIN_S));
    }
}

void rp_check_eta_passed(struct rp_watch *watch)
{
    uint32_t eta_s = rp_watch_eta_s(watch);
    if (!watch->over && eta_s != 0 && watch->now_s > eta_s) {
        char at[8];
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, eta_s, 0, "arrival was expected %s, %u min ago",
                       rp_watch_time(eta_s, at), (unsigned)((watch->now_s - eta_s) / MIN_S));
    }
}

void rp_check_handover(struct rp_watch *watch)
{
    const struct rp_episode *ep = watch->ep;
    if (!ep->closed || ep->close.outcome != RP_OUT_HANDED_OVER) {
        return;
    }
    for (size_t i = 0; i < ep->handovers.count; i++) {
        if (!ep->handovers.at[i].from.voided) {
            return;
        }
    }
    rp_watch_raise(watch, RP_SOUND_SOFT, 0, ep->close_from.recorded_s, ep->close_from.recorded_s,
                   "closed as handed over, but no receipt says to whom");
}

void rp_check_daylight(struct rp_watch *watch)
{
    uint32_t light_s = light_end_s(watch->in);
    if (request_now(watch) != NULL && light_s > watch->now_s &&
        watch->now_s + DAYLIGHT_S >= light_s) {
        char at[8];
        rp_watch_raise(watch, RP_SOUND_SOFT, 0, light_s - DAYLIGHT_S, 0, "light ends at %s",
                       rp_watch_time(light_s, at));
    }
}

/* --- the weather of the request in force --- */

enum { ABOUT_CLOUD = 1, ABOUT_VISIBILITY, ABOUT_WIND, ABOUT_AGE };

static bool tells_weather(const struct rp_rec_evacuation *r)
{
    return r->has_wind || r->has_wind_dir || r->has_gust || r->has_temp || r->has_visibility ||
           r->has_cloud_base || r->weather[0] != '\0';
}

/* An absent number is told from every other. */
static bool same_number(bool has_a, int64_t a, bool has_b, int64_t b)
{
    return has_a == has_b && (!has_a || a == b);
}

static bool same_weather(const struct rp_rec_evacuation *a, const struct rp_rec_evacuation *b)
{
    return same_number(a->has_wind, a->wind_kmh, b->has_wind, b->wind_kmh) &&
           same_number(a->has_wind_dir, a->wind_from_deg, b->has_wind_dir, b->wind_from_deg) &&
           same_number(a->has_temp, a->temp_c, b->has_temp, b->temp_c) &&
           same_number(a->has_gust, a->gust_kmh, b->has_gust, b->gust_kmh) &&
           same_number(a->has_visibility, a->visibility_m, b->has_visibility, b->visibility_m) &&
           same_number(a->has_cloud_base, a->cloud_base_m, b->has_cloud_base, b->cloud_base_m) &&
           strcmp(a->weather, b->weather) == 0;
}

/* The first of the requests that tell the weather as this one does, without another between: a
 * revision repeats what it does not change, so nobody looked again since. */
static size_t first_told(const struct rp_episode *ep, size_t index)
{
    size_t first = index;
    for (size_t i = index; i-- > 0;) {
        const struct rp_request_entry *before = &ep->requests.at[i];
        if (before->from.voided) {
            continue;
        }
        if (!same_weather(&before->what, &ep->requests.at[index].what)) {
            break;
        }
        first = i;
    }
    return first;
}

static void check_cloud(struct rp_watch *watch, const struct rp_rec_evacuation *r, uint32_t told_s)
{
    const struct rp_altitude *patient = rp_episode_altitude(watch->ep);
    int above_m = r->cloud_base_m - patient->metres;
    if (!r->has_cloud_base || !patient->present || above_m >= CLOUD_NEAR_M) {
        return;
    }
    if (above_m > 0) {
        rp_watch_raise(watch, RP_SOUND_SOFT, ABOUT_CLOUD, told_s, told_s,
                       "cloud: base %u m, %d m above the patient", r->cloud_base_m, above_m);
    } else {
        rp_watch_raise(watch, RP_SOUND_LOUD, ABOUT_CLOUD, told_s, told_s,
                       "cloud: base %u m, patient in it at %d m", r->cloud_base_m, patient->metres);
    }
}

static void check_visibility(struct rp_watch *watch, const struct rp_rec_evacuation *r,
                             uint32_t told_s)
{
    if (r->has_visibility && r->visibility_m < VISIBILITY_M) {
        rp_watch_raise(watch, r->visibility_m < VISIBILITY_BAD_M ? RP_SOUND_LOUD : RP_SOUND_SOFT,
                       ABOUT_VISIBILITY, told_s, told_s, "visibility: %u m",
                       (unsigned)r->visibility_m);
    }
}

/* -1: not told. */
static int wind_of(const struct rp_rec_evacuation *r)
{
    return r->has_wind ? r->wind_kmh : -1;
}

static int gust_of(const struct rp_rec_evacuation *r)
{
    return r->has_gust ? r->gust_kmh : -1;
}

/* Against the least that was told before, wind with wind and gust with gust. */
static bool raise_wind(struct rp_watch *watch, size_t first,
                       int (*speed_of)(const struct rp_rec_evacuation *), const char *word)
{
    const struct rp_episode *ep = watch->ep;
    const struct rp_request_entry *now = &ep->requests.at[first], *least = NULL;
    int kmh = speed_of(&now->what);
    for (size_t i = 0; i < first; i++) {
        const struct rp_request_entry *before = &ep->requests.at[i];
        int was = speed_of(&before->what);
        bool counts = !before->from.voided && was >= 0 &&
                      now->from.happened_s - before->from.happened_s <= WEATHER_TREND_S;
        if (counts && (least == NULL || was <= speed_of(&least->what))) {
            least = before;
        }
    }
    if (least == NULL || kmh < speed_of(&least->what) + WIND_RISE_KMH) {
        return false;
    }
    char at[8];
    rp_watch_raise(watch, RP_SOUND_SOFT, ABOUT_WIND, now->from.happened_s, now->from.happened_s,
                   "wind: %s%d km/h, was %d at %s", word, kmh, speed_of(&least->what),
                   rp_watch_time(least->from.happened_s, at));
    return true;
}

static void check_age(struct rp_watch *watch, bool told, uint32_t told_s)
{
    uint32_t old_s = rp_watch_span(told_s, watch->now_s);
    if (old_s >= WEATHER_OLD_S) {
        char at[8];
        rp_watch_raise(watch, RP_SOUND_SOFT, ABOUT_AGE,
                       told_s + old_s / WEATHER_OLD_S * WEATHER_OLD_S, told_s,
                       told ? "age: the weather is of %s, %u min ago"
                            : "age: asked %s, %u min ago, and no weather told",
                       rp_watch_time(told_s, at), (unsigned)(old_s / MIN_S));
    }
}

void rp_check_weather(struct rp_watch *watch)
{
    const struct rp_request_entry *request = request_now(watch);
    if (request == NULL) {
        return;
    }
    size_t first = first_told(watch->ep, (size_t)watch->ep->request_now);
    uint32_t told_s = watch->ep->requests.at[first].from.happened_s;
    check_cloud(watch, &request->what, told_s);
    check_visibility(watch, &request->what, told_s);
    if (!raise_wind(watch, first, gust_of, "gust ")) {
        raise_wind(watch, first, wind_of, "");
    }
    check_age(watch, tells_weather(&request->what), told_s);
}
