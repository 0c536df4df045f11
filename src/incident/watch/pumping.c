#include "incident/watch/pumping.h"

#include <string.h>
#include <strings.h>

#include "clinical/air.h"
#include "incident/assess/assess.h"

#define TOTAL_S      (12 * 3600u) /* how far back a person's pumping is counted: ours */
#define RATE_LEAST_S 30u          /* a rate over less says nothing: ours */
#define PAUSE_S      300u         /* a longer pause is a rest: ours */
#define INSIDE_C     5.0          /* ours: a body warms it, as in compute pump */

struct span {
    const struct rp_rec_pumping *what;
    uint32_t from_s, to_s;
};
struct spans {
    size_t count;
    struct span at[RP_EP_PUMPING_MAX + 1]; /* oldest first */
};

static void add_span(struct spans *spans, const struct rp_rec_pumping *what, uint32_t last_s)
{
    uint32_t from_s = last_s > what->spell_s ? last_s - what->spell_s : 0;
    spans->at[spans->count++] = (struct span){what, from_s, last_s};
}

static void collect(const struct rp_episode *ep, const struct rp_watch_station *station,
                    struct spans *spans)
{
    spans->count = 0;
    for (size_t i = 0; i < ep->pumping.count; i++) {
        const struct rp_pumping_entry *entry = &ep->pumping.at[i];
        if (!entry->from.voided) {
            add_span(spans, &entry->what, entry->from.happened_s);
        }
    }
    if (station != NULL && station->has_turn) {
        add_span(spans, &station->turn, station->turn_last_s);
    }
}

/* Over the newest stretches that are long enough together, without a rest between. */
static uint32_t rate_of(const struct spans *spans)
{
    uint32_t strokes = 0, span_s = 0, next_s = spans->at[spans->count - 1].to_s;
    for (size_t i = spans->count; i-- > 0 && span_s < RATE_LEAST_S;) {
        const struct span *span = &spans->at[i];
        if (span->to_s + PAUSE_S < next_s) {
            break;
        }
        strokes += span->what->strokes;
        span_s += span->what->spell_s;
        next_s = span->from_s;
    }
    return span_s >= RATE_LEAST_S ? strokes * 600u / span_s : 0;
}

/* The person of the newest stretch: how long in the last 12 h, and how long without another. */
static void count_pumper(const struct spans *spans, uint32_t now_s, struct rp_pumping *out)
{
    bool alone = true;
    uint32_t next_s = spans->at[spans->count - 1].to_s;
    for (size_t i = spans->count; i-- > 0;) {
        const struct span *span = &spans->at[i];
        bool same = strcasecmp(span->what->pumper, out->pumper) == 0;
        alone = alone && same && span->to_s + PAUSE_S >= next_s;
        next_s = span->from_s;
        out->turn_s += alone ? span->what->spell_s : 0;
        out->turn_from_s = alone ? span->from_s : out->turn_from_s;
        if (same && span->to_s + TOTAL_S > now_s) {
            out->pumper_s += span->what->spell_s;
        }
    }
}

struct bag {
    struct rp_pump pump;
    double volume_l, inside_hpa;
};

/* The pump where the patient is; false when it is not known. */
static bool pump_of(const struct rp_episode *ep, const struct rp_watch_plan *plan,
                    struct rp_pump *pump)
{
    const struct rp_altitude *altitude = rp_episode_altitude(ep);
    if (plan->stroke_dl == 0 || !altitude->present) {
        return false;
    }
    pump->stroke_l = plan->stroke_dl / 10.0;
    pump->air_c = rp_air_standard_temp_c(altitude->metres);
    rp_air_pressure(RP_AIR_WEST, altitude->metres, &pump->outside_hpa);
    return true;
}

static void set_rest(struct rp_pump *pump)
{
    pump->co2_lpm = RP_PUMP_CO2_REST_LPM;
    pump->o2_lpm = RP_PUMP_O2_REST_LPM;
}

static void set_distress(struct rp_pump *pump)
{
    pump->co2_lpm = RP_PUMP_CO2_DISTRESS_LPM;
    pump->o2_lpm = RP_PUMP_O2_DISTRESS_LPM;
}

static void find_need(struct rp_pump pump, struct rp_pumping *out)
{
    double flow_lpm;
    set_rest(&pump);
    rp_pump_needed(&pump, RP_PUMP_CO2_AIM, &flow_lpm, &out->needed_rest);
    set_distress(&pump);
    rp_pump_needed(&pump, RP_PUMP_CO2_AIM, &flow_lpm, &out->needed_distress);
    out->has_need = true;
}

static void pass(const struct bag *bag, double flow_lpm, uint32_t from_s, uint32_t to_s,
                 struct rp_pump_air *air)
{
    /* Longer than a day is as good as for ever. */
    double minutes = to_s > from_s ? (to_s - from_s) / 60.0 : 0;
    minutes = minutes < 1440 ? minutes : 1440;
    rp_pump_after(&bag->pump, flow_lpm, bag->volume_l, bag->inside_hpa, INSIDE_C, minutes, air);
}

/* From fresh air at the session's beginning through every stretch and pause to now. */
static void breathe(const struct bag *bag, const struct spans *spans, uint32_t start_s,
                    uint32_t now_s, struct rp_pump_air *air)
{
    uint32_t at_s = start_s;
    *air = RP_PUMP_FRESH;
    for (size_t i = 0; i < spans->count; i++) {
        const struct span *span = &spans->at[i];
        if (span->to_s < start_s || span->to_s > now_s) {
            continue;
        }
        uint32_t from_s = span->from_s > at_s ? span->from_s : at_s;
        /* A stroke takes a second at least, so that a stretch of one is a flow too. */
        uint32_t took_s =
            span->what->spell_s > span->what->strokes ? span->what->spell_s : span->what->strokes;
        uint32_t to_s = from_s + took_s < now_s ? from_s + took_s : now_s;
        double flow_lpm = span->what->strokes * bag->pump.stroke_l * 60.0 / took_s;
        pass(bag, 0, at_s, from_s, air);
        pass(bag, flow_lpm, from_s, to_s, air);
        at_s = to_s;
    }
    pass(bag, 0, at_s, now_s, air);
}

static void estimate(const struct rp_episode *ep, const struct rp_watch_plan *plan,
                     const struct rp_pump *pump, const struct spans *spans, uint32_t start_s,
                     uint32_t now_s, struct rp_pumping *out)
{
    const struct rp_session *session = &ep->sessions.at[ep->sessions.count - 1];
    double gauge_dhpa = session->gauge_dhpa.state == RP_MEASURED ? session->gauge_dhpa.value
                                                                 : plan->gauge_target_dhpa;
    struct bag bag = {*pump, plan->volume_dl / 10.0, pump->outside_hpa + gauge_dhpa / 10.0};
    set_rest(&bag.pump);
    breathe(&bag, spans, start_s, now_s, &out->rest);
    set_distress(&bag.pump);
    breathe(&bag, spans, start_s, now_s, &out->distress);
    out->has_air = true;
}

void rp_pumping_of(const struct rp_episode *episode, const struct rp_watch_plan *plan,
                   const struct rp_watch_station *station, uint32_t now_s,
                   struct rp_pumping *out_pumping)
{
    struct spans spans;
    struct rp_course course;
    memset(out_pumping, 0, sizeof *out_pumping);
    out_pumping->pumper = "";
    plan = plan != NULL ? plan : &rp_watch_plan_default;
    rp_course_of(episode, plan, now_s, &course);
    collect(episode, station, &spans);
    for (size_t i = 0; i < spans.count && course.session != 0; i++) {
        if (spans.at[i].to_s >= course.session_from_s) {
            out_pumping->told = true;
            out_pumping->strokes += spans.at[i].what->strokes;
        }
    }
    struct rp_pump pump = {.stroke_l = 0};
    if (course.inside && pump_of(episode, plan, &pump)) {
        find_need(pump, out_pumping);
    }
    if (!out_pumping->told) {
        return;
    }
    const struct span *newest = &spans.at[spans.count - 1];
    out_pumping->last_s = newest->to_s;
    out_pumping->pumper = newest->what->pumper;
    out_pumping->rate_dpm = rate_of(&spans);
    count_pumper(&spans, now_s, out_pumping);
    if (out_pumping->has_need && plan->volume_dl != 0) {
        estimate(episode, plan, &pump, &spans, course.session_from_s, now_s, out_pumping);
    }
}

bool rp_pumper_total(const struct rp_episode *episode, size_t index, uint32_t *out_span_s)
{
    const struct rp_pumping_entry *first = &episode->pumping.at[index];
    *out_span_s = 0;
    for (size_t i = 0; i < episode->pumping.count; i++) {
        const struct rp_pumping_entry *entry = &episode->pumping.at[i];
        if (entry->from.voided || strcasecmp(entry->what.pumper, first->what.pumper) != 0) {
            continue;
        }
        if (i < index) {
            return false;
        }
        *out_span_s += entry->what.spell_s;
    }
    return !first->from.voided;
}
