/* Rules of what was measured: like with like, never the SpO2 part of a score alone. */
#include "clinical/news2.h"
#include "clinical/score.h"
#include "incident/assess/assess.h"
#include "incident/watch/rules.h"

#define MIN_S          60u
#define TREND_S        (6 * 3600u) /* how far back a change is looked for: ours */
#define EPISODE_S      UINT32_MAX  /* the conscious level: the whole episode */
#define SPO2_FALL_PCT  5
#define SPO2_RISE_PCT  5
#define SPO2_RISE_S    (15 * MIN_S)
#define GCS_FALL       2
#define SCORE_RISE     2
#define RESP_HIGH_RPM  30
#define RESP_LOW_RPM   8
#define PULSE_HIGH_BPM 130
#define PULSE_LOW_BPM  40
#define OBS_CHAMBER_S  (15 * MIN_S)
#define OBS_UNSTABLE_S (30 * MIN_S)
#define OBS_STABLE_S   (60 * MIN_S)

#define OBS(field)     offsetof(struct rp_obs, field)

static const char *mode_word(uint8_t mode)
{
    static const char *const words[] = {
#define X(name, number, word) [number] = word,
        RP_MODES(X)
#undef X
    };
    return words[mode];
}

static const char *level_word(int acvpu)
{
    static const char *const words[] = {
#define X(name, number, word) [number] = word,
        RP_ACVPU(X)
#undef X
    };
    return words[acvpu];
}

/* A record holds all three parts or none. */
static bool has_gcs(const struct rp_obs *obs)
{
    return obs->gcs_eye.state == RP_MEASURED;
}

static int gcs(const struct rp_obs *obs)
{
    return obs->gcs_eye.value + obs->gcs_verbal.value + obs->gcs_motor.value;
}

/* Steps down ACVPU, or pairs of points down the coma scale, whichever is worse. */
static int level_worse_by(const struct rp_obs *before, const struct rp_obs *now)
{
    int by = RP_TREND_APART;
    if (before->acvpu.state == RP_MEASURED && now->acvpu.state == RP_MEASURED) {
        by = now->acvpu.value - before->acvpu.value;
    }
    if (has_gcs(before) && has_gcs(now)) {
        int points = (gcs(before) - gcs(now)) / GCS_FALL;
        by = points > by ? points : by;
    }
    return by;
}

void rp_check_conscious(struct rp_watch *watch)
{
    struct rp_trend trend;
    if (watch->over || !rp_trend_find(watch->ep, level_worse_by, 1, EPISODE_S, &trend)) {
        return;
    }
    const struct rp_obs *now = trend.now, *before = trend.before;
    char at[8];
    rp_watch_time(before->taken_s, at);
    if (now->acvpu.state == RP_MEASURED && before->acvpu.state == RP_MEASURED &&
        now->acvpu.value > before->acvpu.value) {
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, trend.since_s, now->taken_s, "%s, was %s at %s",
                       level_word(now->acvpu.value), level_word(before->acvpu.value), at);
    } else {
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, trend.since_s, now->taken_s,
                       "coma scale %d, was %d at %s", gcs(now), gcs(before), at);
    }
}

void rp_check_spo2_band(struct rp_watch *watch)
{
    const struct rp_obs *obs = rp_watch_obs(watch, OBS(spo2_pct));
    const struct rp_altitude *altitude = rp_episode_altitude(watch->ep);
    struct rp_spo2_band band;
    if (watch->over || obs == NULL || obs->mode != RP_MODE_AIR || !altitude->present ||
        rp_spo2_band_at(altitude->metres, &band) < 0 ||
        rp_spo2_below_band(altitude->metres, obs->spo2_pct.value) != RP_TRUTH_YES) {
        return;
    }
    rp_watch_raise(watch, RP_SOUND_LOUD, 0, obs->taken_s, obs->taken_s,
                   "SpO2 %d %% on air, alarm below %d.%d %% at %d m%s", obs->spo2_pct.value,
                   band.alarm_below_tenths / 10, band.alarm_below_tenths % 10, altitude->metres,
                   obs->spo2_pct.value < RP_SPO2_UNRELIABLE_BELOW_PCT ? "; low accuracy" : "");
}

static int spo2_worse_by(const struct rp_obs *before, const struct rp_obs *now)
{
    bool alike = before->mode == now->mode && now->mode != RP_MODE_UNSAID &&
                 before->spo2_pct.state == RP_MEASURED;
    return alike ? before->spo2_pct.value - now->spo2_pct.value : RP_TREND_APART;
}

void rp_check_spo2_fall(struct rp_watch *watch)
{
    struct rp_trend trend;
    char at[8];
    if (!watch->over && rp_trend_find(watch->ep, spo2_worse_by, SPO2_FALL_PCT, TREND_S, &trend)) {
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, trend.since_s, trend.now->taken_s,
                       "SpO2 %d %% %s, was %d %% at %s", trend.now->spo2_pct.value,
                       mode_word(trend.now->mode), trend.before->spo2_pct.value,
                       rp_watch_time(trend.before->taken_s, at));
    }
}

/* The last reading outside before this session, with the same oxygen as inside. */
static const struct rp_obs *outside_before(const struct rp_episode *ep, uint32_t until_s,
                                           uint8_t inside)
{
    uint8_t outside = inside == RP_MODE_CHAMBER ? RP_MODE_AIR : RP_MODE_OXYGEN;
    const struct rp_obs *found = NULL;
    for (size_t i = 0; i < ep->obs.count; i++) {
        const struct rp_obs *obs = &ep->obs.at[i];
        if (!obs->from.voided && obs->spo2_pct.state == RP_MEASURED && obs->mode == outside &&
            obs->taken_s <= until_s) {
            found = obs;
        }
    }
    return found;
}

/* The one rule that looks across the wall, since the effect of the wall is what it asks: both modes
 * are named, and the oxygen is the same. */
void rp_check_spo2_no_rise(struct rp_watch *watch)
{
    const struct rp_episode *ep = watch->ep;
    const struct rp_obs *now = rp_watch_obs(watch, OBS(spo2_pct));
    if (watch->over || !watch->course.inside || now == NULL ||
        (now->mode != RP_MODE_CHAMBER && now->mode != RP_MODE_CHAMBER_OXYGEN)) {
        return;
    }
    const struct rp_session *session = &ep->sessions.at[ep->sessions.count - 1];
    if (!session->has_at_pressure || now->taken_s < session->at_pressure_s + SPO2_RISE_S) {
        return;
    }
    const struct rp_obs *before = outside_before(ep, session->at_pressure_s, now->mode);
    if (before != NULL && now->spo2_pct.value < before->spo2_pct.value + SPO2_RISE_PCT) {
        char at[8];
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, now->taken_s, now->taken_s,
                       "SpO2 %d %% %s, %d %% %s at %s", now->spo2_pct.value, mode_word(now->mode),
                       before->spo2_pct.value, mode_word(before->mode),
                       rp_watch_time(before->taken_s, at));
    }
}

static void check_bounds(struct rp_watch *watch, const struct rp_obs *obs, struct rp_value value,
                         int low, int high, const char *word)
{
    if (!watch->over && obs != NULL && (value.value >= high || value.value <= low)) {
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, obs->taken_s, obs->taken_s, "%s %d/min %s", word,
                       value.value, mode_word(obs->mode));
    }
}

void rp_check_resp(struct rp_watch *watch)
{
    const struct rp_obs *obs = rp_watch_obs(watch, OBS(resp_rpm));
    check_bounds(watch, obs, obs != NULL ? obs->resp_rpm : (struct rp_value){RP_NOT_MEASURED, 0},
                 RESP_LOW_RPM, RESP_HIGH_RPM, "respiration");
}

void rp_check_pulse(struct rp_watch *watch)
{
    const struct rp_obs *obs = rp_watch_obs(watch, OBS(pulse_bpm));
    check_bounds(watch, obs, obs != NULL ? obs->pulse_bpm : (struct rp_value){RP_NOT_MEASURED, 0},
                 PULSE_LOW_BPM, PULSE_HIGH_BPM, "pulse");
}

/* Net time of the newest set, one that says "unable" too; else of the opening. */
static uint32_t last_set_s(const struct rp_episode *ep)
{
    for (size_t i = ep->obs.count; i-- > 0;) {
        if (!ep->obs.at[i].from.voided) {
            return ep->obs.at[i].taken_s;
        }
    }
    return ep->opening_from.happened_s;
}

uint32_t rp_watch_obs_every(const struct rp_watch *watch, uint32_t *out_last_s)
{
    const struct rp_course *course = &watch->course;
    bool unstable = rp_watch_unstable(watch);
    if (watch->over || !watch->ep->opened || (course->rebound && !unstable)) {
        return 0;
    }
    *out_last_s = last_set_s(watch->ep);
    return course->inside ? OBS_CHAMBER_S : unstable ? OBS_UNSTABLE_S : OBS_STABLE_S;
}

void rp_check_obs(struct rp_watch *watch)
{
    const struct rp_course *course = &watch->course;
    uint32_t last_s = 0;
    uint32_t every_s = rp_watch_obs_every(watch, &last_s);
    if (every_s == 0) {
        return;
    }
    uint32_t since_s = rp_watch_span(last_s, watch->now_s);
    if (since_s >= every_s) {
        bool late = since_s >= 2 * every_s;
        rp_watch_raise(
            watch, late ? RP_SOUND_LOUD : RP_SOUND_SOFT, 0, last_s + (late ? 2 * every_s : every_s),
            last_s, "last observations %u min ago, due every %u min%s", (unsigned)(since_s / MIN_S),
            (unsigned)(every_s / MIN_S), course->inside ? " in the chamber" : "");
    }
}

static int lls_worse_by(const struct rp_obs *before, const struct rp_obs *now)
{
    return before->lls.state == RP_MEASURED ? now->lls.value - before->lls.value : RP_TREND_APART;
}

void rp_check_lls(struct rp_watch *watch)
{
    struct rp_trend trend;
    char at[8];
    if (!watch->over && rp_trend_find(watch->ep, lls_worse_by, SCORE_RISE, TREND_S, &trend)) {
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, trend.since_s, trend.now->taken_s,
                       "Lake Louise score %d, was %d at %s", trend.now->lls.value,
                       trend.before->lls.value, rp_watch_time(trend.before->taken_s, at));
    }
}

static struct rp_reading reading(struct rp_value value)
{
    return (struct rp_reading){value.state == RP_MEASURED, value.value};
}

static void news2_of(const struct rp_obs *obs, struct rp_news2 *out_news)
{
    struct rp_news2_input input = {
        .resp_rpm = reading(obs->resp_rpm),
        .systolic_mmhg = reading(obs->systolic_mmhg),
        .pulse_bpm = reading(obs->pulse_bpm),
        .temp_dc = reading(obs->temp_dc),
        .acvpu = reading(obs->acvpu),
        .on_oxygen = obs->mode == RP_MODE_UNSAID ? RP_TRUTH_UNKNOWN
                     : obs->mode == RP_MODE_OXYGEN || obs->mode == RP_MODE_CHAMBER_OXYGEN
                         ? RP_TRUTH_YES
                         : RP_TRUTH_NO,
    };
    rp_news2_score(&input, out_news); /* no age is given, and records bound the conscious level */
}

/* The parts that both sets hold, without SpO2. Respiration and pulse at least: a difference in one
 * part alone is no score (ours). */
static int news2_worse_by(const struct rp_obs *before, const struct rp_obs *now)
{
    struct rp_news2 a, b;
    if (before->mode != now->mode || before->resp_rpm.state != RP_MEASURED ||
        before->pulse_bpm.state != RP_MEASURED) {
        return RP_TREND_APART;
    }
    news2_of(before, &a);
    news2_of(now, &b);
    int by = 0;
    for (size_t i = 0; i < RP_NEWS2_PART_COUNT; i++) {
        by += a.parts[i].known && b.parts[i].known ? b.parts[i].value - a.parts[i].value : 0;
    }
    return by;
}

void rp_check_news2(struct rp_watch *watch)
{
    struct rp_trend trend;
    char at[8];
    if (!watch->over && rp_trend_find(watch->ep, news2_worse_by, SCORE_RISE, TREND_S, &trend)) {
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, trend.since_s, trend.now->taken_s,
                       "NEWS2 without SpO2 up by %d since %s, %s",
                       news2_worse_by(trend.before, trend.now),
                       rp_watch_time(trend.before->taken_s, at), mode_word(trend.now->mode));
    }
}

void rp_check_critical(struct rp_watch *watch)
{
    const struct rp_status_entry *report = rp_watch_condition(watch);
    if (!watch->over && report != NULL && report->what.condition == RP_COND_CRITICAL) {
        rp_watch_raise(watch, RP_SOUND_LOUD, 0, report->from.happened_s, report->from.happened_s,
                       "the camp reports: critical");
    }
}
