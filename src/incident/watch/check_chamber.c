/* Rules of the chamber: pump, pressure, session, crew, relapse, and "why not down?". */
#include "incident/watch/rules.h"

#define MIN_S          60u
#define PUMP_LATE_S    60u
#define PUMP_STOPPED_S 120u
#define PRESSURE_S     60u
#define PRESSURE_DHPA  150 /* 15 hPa */
#define SESSION_SOON_S (15 * MIN_S)
#define ROTATION_S     (12 * MIN_S)
#define DEAD_MAN_S     (10 * MIN_S)
#define WHY_NOT_S      (60 * MIN_S)
#define CREW_TOTAL_S   (90 * MIN_S)
#define CREW_TURN_S    (30 * MIN_S)

static bool is_pumping(const struct rp_watch *watch)
{
    uint8_t phase = watch->course.phase;
    return watch->course.inside && !watch->over && phase >= RP_PHASE_PRESSURISING &&
           phase <= RP_PHASE_HOLD;
}

static bool is_inside(const struct rp_watch *watch)
{
    return watch->course.inside && !watch->over;
}

/* Only for a crew that tells its strokes in this session: who never does is not nagged. */
void rp_check_pump(struct rp_watch *watch)
{
    const struct rp_watch_station *station = &watch->in->station;
    if (!is_pumping(watch) || !station->has_tick ||
        station->tick_s < watch->course.session_from_s) {
        return;
    }
    uint32_t quiet_s = rp_watch_span(station->tick_s, watch->now_s);
    if (quiet_s >= PUMP_LATE_S) {
        rp_watch_raise(watch, quiet_s >= PUMP_STOPPED_S ? RP_SOUND_FAST : RP_SOUND_LOUD, 0,
                       station->tick_s + PUMP_LATE_S, 0, "no stroke for %u s", (unsigned)quiet_s);
    }
}

/* The newest gauge reading of this session, of one phase or of any (RP_PHASE_NONE). */
static const struct rp_chamber_entry *gauge_of(const struct rp_watch *watch, uint8_t phase)
{
    const struct rp_episode *ep = watch->ep;
    const struct rp_chamber_entry *reading = NULL;
    for (size_t i = 0; i < ep->chamber.count; i++) {
        const struct rp_chamber_entry *event = &ep->chamber.at[i];
        if (!event->from.voided && event->what.session == watch->course.session &&
            (phase == RP_PHASE_NONE || event->what.phase == phase) &&
            event->what.gauge_dhpa.state == RP_MEASURED) {
            reading = event;
        }
    }
    return reading;
}

/* Too much on the way up and in a hold too; too little only once at pressure. */
void rp_check_pressure(struct rp_watch *watch)
{
    int32_t target = watch->plan->gauge_target_dhpa, max = watch->plan->gauge_max_dhpa;
    if (!is_pumping(watch)) {
        return;
    }
    const struct rp_chamber_entry *reading = gauge_of(watch, RP_PHASE_NONE);
    if (reading != NULL && reading->what.gauge_dhpa.value > max) {
        uint32_t at_s = reading->from.happened_s;
        rp_watch_raise(watch, RP_SOUND_FAST, 0, at_s, at_s, "gauge %d hPa, at most %d",
                       reading->what.gauge_dhpa.value / 10, max / 10);
        return;
    }
    reading =
        watch->course.phase == RP_PHASE_AT_PRESSURE ? gauge_of(watch, RP_PHASE_AT_PRESSURE) : NULL;
    if (reading != NULL && reading->what.gauge_dhpa.value < target - PRESSURE_DHPA &&
        rp_watch_span(reading->from.happened_s, watch->now_s) >= PRESSURE_S) {
        uint32_t at_s = reading->from.happened_s;
        rp_watch_raise(watch, RP_SOUND_FAST, 0, at_s + PRESSURE_S, at_s, "gauge %d hPa, target %d",
                       reading->what.gauge_dhpa.value / 10, target / 10);
    }
}

void rp_check_hold(struct rp_watch *watch)
{
    static const char *const reasons[] = {"not said", "ears", "vomit", "panic",
                                          "pain",     "pump", "other"};
    const struct rp_episode *ep = watch->ep;
    if (!is_inside(watch) || watch->course.phase != RP_PHASE_HOLD) {
        return;
    }
    uint8_t reason = RP_HOLD_UNSAID;
    for (size_t i = 0; i < ep->chamber.count; i++) {
        const struct rp_chamber_entry *event = &ep->chamber.at[i];
        if (!event->from.voided && event->what.session == watch->course.session &&
            event->what.phase == RP_PHASE_HOLD) {
            reason = event->what.hold_reason;
        }
    }
    rp_watch_raise(watch, RP_SOUND_LOUD, 0, watch->course.phase_since_s,
                   watch->course.phase_since_s, "hold: %s", reasons[reason]);
}

void rp_check_session(struct rp_watch *watch)
{
    const struct rp_course *course = &watch->course;
    if (!is_inside(watch) || course->phase != RP_PHASE_AT_PRESSURE ||
        course->session_left_s > SESSION_SOON_S) {
        return;
    }
    bool over = course->session_left_s == 0;
    uint32_t past_s =
        course->session_s -
        (over ? watch->plan->session_s : rp_watch_span(SESSION_SOON_S, watch->plan->session_s));
    rp_watch_raise(watch, RP_SOUND_SOFT, 0, rp_watch_span(past_s, watch->now_s), 0,
                   over ? "session %u: %u min at pressure, its time is over"
                        : "session %u: %u min at pressure, prepare the exit",
                   course->session, (unsigned)(course->session_s / MIN_S));
}

void rp_check_rotation(struct rp_watch *watch)
{
    const struct rp_watch_station *station = &watch->in->station;
    uint32_t pumped_s = rp_watch_span(station->pumper_since_s, watch->now_s);
    if (is_pumping(watch) && station->has_pumper && pumped_s >= ROTATION_S) {
        rp_watch_raise(watch, RP_SOUND_SOFT, 0, station->pumper_since_s + ROTATION_S, 0,
                       "the same person has pumped for %u min", (unsigned)(pumped_s / MIN_S));
    }
}

/* The crew fails when one person pumps on and on. At base it comes out of the records alone. */
void rp_check_crew(struct rp_watch *watch)
{
    struct rp_pumping pumping;
    if (!is_pumping(watch)) {
        return;
    }
    rp_pumping_of(watch->ep, watch->plan, &watch->in->station, watch->now_s, &pumping);
    if (!pumping.told || pumping.pumper[0] == '\0') {
        return;
    }
    if (pumping.pumper_s > CREW_TOTAL_S) {
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, pumping.turn_from_s, pumping.last_s,
                       "%s pumps now and has for %u min in 12 h", pumping.pumper,
                       (unsigned)(pumping.pumper_s / MIN_S));
    } else if (pumping.turn_s >= CREW_TURN_S) {
        rp_watch_raise(watch, RP_SOUND_SOFT, 0, pumping.turn_from_s + CREW_TURN_S, pumping.last_s,
                       "%s has pumped for %u min without a change", pumping.pumper,
                       (unsigned)(pumping.turn_s / MIN_S));
    }
}

/* Anything entered at the patient's station counts, and so does a stroke. */
void rp_check_dead_man(struct rp_watch *watch)
{
    const struct rp_episode *ep = watch->ep;
    const struct rp_watch_station *station = &watch->in->station;
    uint32_t tick_s = station->has_tick ? station->tick_s : 0, last_s = rp_episode_word_s(ep);
    last_s = tick_s > last_s ? tick_s : last_s;
    uint32_t quiet_s = rp_watch_span(last_s, watch->now_s);
    if (is_inside(watch) && quiet_s >= DEAD_MAN_S) {
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, last_s + DEAD_MAN_S, 0,
                       "nothing entered and no stroke for %u min", (unsigned)(quiet_s / MIN_S));
    }
}

void rp_check_rebound(struct rp_watch *watch)
{
    const struct rp_course *course = &watch->course;
    if (course->rebound && !watch->over && watch->now_s >= course->rebound_check_s) {
        char until[8];
        rp_watch_raise(watch, RP_SOUND_SOFT, 0, course->rebound_check_s, 0,
                       "check for relapse, %u min late; watch until %s",
                       (unsigned)((watch->now_s - course->rebound_check_s) / MIN_S),
                       rp_watch_time(course->rebound_until_s, until));
    }
}

/* Asked from the opening on; the answer may say when to ask again. */
void rp_check_why_not(struct rp_watch *watch)
{
    const struct rp_descent_entry *answer = watch->course.why_not;
    if (watch->over || !watch->ep->opened || (answer != NULL && answer->what.descending)) {
        return;
    }
    uint32_t again_s = answer == NULL               ? 0
                       : answer->what.has_ask_again ? answer->what.ask_again_min * MIN_S
                                                    : WHY_NOT_S;
    uint32_t from_s = answer == NULL ? watch->ep->opening_from.recorded_s : answer->from.happened_s;
    uint32_t due_s = from_s + (answer == NULL ? SESSION_SOON_S : again_s);
    if (watch->now_s >= due_s) {
        char at[8];
        rp_watch_raise(watch, RP_SOUND_SOFT, 0, due_s, answer == NULL ? 0 : from_s,
                       answer == NULL ? "why not down? Not answered since %s"
                                      : "why not down? Last answered %s",
                       rp_watch_time(from_s, at));
    }
}

void rp_check_head_up(struct rp_watch *watch)
{
    if (watch->course.head_up && !watch->over) {
        rp_watch_raise(watch, RP_SOUND_SOFT, 0, watch->course.session_from_s, 0,
                       "session %u: head end raised?", watch->course.session);
    }
}
