#include "incident/assess/assess.h"

#include <string.h>

#include "ridgepost/error.h"

static struct rp_value value_at(const struct rp_obs *obs, size_t offset)
{
    struct rp_value value;
    memcpy(&value, (const unsigned char *)obs + offset, sizeof value);
    return value;
}

static struct rp_reading reading(struct rp_value value)
{
    return (struct rp_reading){value.state == RP_MEASURED,
                               value.state == RP_MEASURED ? value.value : 0};
}

/* The newest set that holds one of the signs of NEWS2. */
static const struct rp_obs *newest_signs(const struct rp_episode *ep)
{
    static const size_t offsets[] = {
        offsetof(struct rp_obs, spo2_pct),      offsetof(struct rp_obs, pulse_bpm),
        offsetof(struct rp_obs, resp_rpm),      offsetof(struct rp_obs, acvpu),
        offsetof(struct rp_obs, systolic_mmhg), offsetof(struct rp_obs, temp_dc)};
    const struct rp_obs *newest = NULL;
    for (size_t i = 0; i < sizeof offsets / sizeof offsets[0]; i++) {
        const struct rp_obs *obs = rp_episode_last_obs(ep, offsets[i], -1);
        newest = newest == NULL || (obs != NULL && obs > newest) ? obs : newest;
    }
    return newest; /* sets stand in order of time */
}

static struct rp_reading sign(const struct rp_episode *ep, size_t offset, uint32_t newest_s)
{
    const struct rp_obs *obs = rp_episode_last_obs(ep, offset, -1);
    if (obs == NULL || newest_s - obs->taken_s > RP_ASSESS_NEWS2_APART_S) {
        return (struct rp_reading){false, 0};
    }
    return reading(value_at(obs, offset));
}

static enum rp_truth on_oxygen(int mode)
{
    if (mode == RP_MODE_UNSAID) {
        return RP_TRUTH_UNKNOWN;
    }
    return mode == RP_MODE_OXYGEN || mode == RP_MODE_CHAMBER_OXYGEN ? RP_TRUTH_YES : RP_TRUTH_NO;
}

static void assess_news2(const struct rp_episode *ep, struct rp_assessment *out)
{
    const struct rp_obs *obs = newest_signs(ep);
    if (obs == NULL) {
        return;
    }
    out->news2_s = obs->taken_s;
    struct rp_news2_input input = {
        .resp_rpm = sign(ep, offsetof(struct rp_obs, resp_rpm), obs->taken_s),
        .spo2_pct = sign(ep, offsetof(struct rp_obs, spo2_pct), obs->taken_s),
        .systolic_mmhg = sign(ep, offsetof(struct rp_obs, systolic_mmhg), obs->taken_s),
        .pulse_bpm = sign(ep, offsetof(struct rp_obs, pulse_bpm), obs->taken_s),
        .temp_dc = sign(ep, offsetof(struct rp_obs, temp_dc), obs->taken_s),
        .acvpu = sign(ep, offsetof(struct rp_obs, acvpu), obs->taken_s),
        .on_oxygen = on_oxygen(obs->mode),
        .age_y = {ep->opening.has_age, ep->opening.has_age ? ep->opening.age_y : 0},
    };
    int code = rp_news2_score(&input, &out->news2);
    out->news2_unsupported = code == RP_E_UNSUPPORTED;
    out->has_news2 = code == 0;
}

const struct rp_altitude *rp_episode_altitude(const struct rp_episode *ep)
{
    const struct rp_altitude *of_request =
        ep->request_now >= 0 ? &ep->requests.at[ep->request_now].what.altitude : NULL;
    return of_request != NULL && of_request->present ? of_request : &ep->opening.altitude;
}

static void assess_spo2(const struct rp_episode *ep, struct rp_assessment *out)
{
    const struct rp_altitude *altitude = rp_episode_altitude(ep);
    out->air = rp_episode_last_obs(ep, offsetof(struct rp_obs, spo2_pct), RP_MODE_AIR);
    out->has_band = altitude->present && rp_spo2_band_at(altitude->metres, &out->band) == 0;
    if (out->has_band && out->air != NULL) {
        out->spo2_below = rp_spo2_below_band(altitude->metres, out->air->spo2_pct.value);
    }
}

static bool lls_asked(const struct rp_lls_items *lls)
{
    return lls->headache.state == RP_MEASURED || lls->gut.state == RP_MEASURED ||
           lls->fatigue.state == RP_MEASURED || lls->dizziness.state == RP_MEASURED;
}

static const struct rp_lls_items *newest_lls(const struct rp_episode *ep)
{
    for (size_t i = ep->reassess.count; i-- > 0;) {
        if (!ep->reassess.at[i].from.voided && lls_asked(&ep->reassess.at[i].what.lls)) {
            return &ep->reassess.at[i].what.lls;
        }
    }
    return &ep->opening.lls;
}

static void assess_criteria(const struct rp_episode *ep, struct rp_assessment *out)
{
    const struct rp_lls_items *items = newest_lls(ep);
    struct rp_lls lls = {reading(items->headache), reading(items->gut), reading(items->fatigue),
                         reading(items->dizziness)};
    const enum rp_finding *f = ep->opening.criteria;
    rp_lls_score(&lls, &out->lls); /* records bound the items to 0..3 */
    struct rp_criteria c = {
        .altitude_gain = (enum rp_truth)f[RP_CRIT_ALTITUDE_GAIN],
        .ams = out->lls.ams,
        .mental_change = (enum rp_truth)f[RP_CRIT_MENTAL_CHANGE],
        .ataxia = (enum rp_truth)f[RP_CRIT_ATAXIA],
        .dyspnoea_rest = (enum rp_truth)f[RP_CRIT_DYSPNOEA_REST],
        .cough = (enum rp_truth)f[RP_CRIT_COUGH],
        .weakness = (enum rp_truth)f[RP_CRIT_WEAKNESS],
        .chest_tightness = (enum rp_truth)f[RP_CRIT_CHEST_TIGHTNESS],
        .crackles = (enum rp_truth)f[RP_CRIT_CRACKLES],
        .cyanosis = (enum rp_truth)f[RP_CRIT_CYANOSIS],
        .tachypnoea = (enum rp_truth)f[RP_CRIT_TACHYPNOEA],
        .tachycardia = (enum rp_truth)f[RP_CRIT_TACHYCARDIA],
    };
    out->hace = rp_hace_criteria(&c);
    out->hape = rp_hape_criteria(&c);
}

#define COLD_DC 350

/* A pulse or breathing in the newest set that holds it. */
static enum rp_truth life(const struct rp_episode *ep)
{
    const struct rp_obs *pulse = rp_episode_last_obs(ep, offsetof(struct rp_obs, pulse_bpm), -1);
    const struct rp_obs *resp = rp_episode_last_obs(ep, offsetof(struct rp_obs, resp_rpm), -1);
    if ((pulse != NULL && pulse->pulse_bpm.value > 0) ||
        (resp != NULL && resp->resp_rpm.value > 0)) {
        return RP_TRUTH_YES;
    }
    return pulse != NULL && resp != NULL ? RP_TRUTH_NO : RP_TRUTH_UNKNOWN;
}

static void assess_cold(const struct rp_episode *ep, struct rp_assessment *out)
{
    const struct rp_obs *obs = rp_episode_last_obs(ep, offsetof(struct rp_obs, temp_dc), -1);
    if (obs == NULL || obs->temp_dc.value > COLD_DC) {
        return;
    }
    struct rp_cold_input input = {
        .core_dc = reading(obs->temp_dc),
        .acvpu = sign(ep, offsetof(struct rp_obs, acvpu), obs->taken_s),
        .signs_of_life = life(ep),
        .brain_suspected = (ep->opening.label & RP_LABEL_HACE) != 0 || out->hace == RP_TRUTH_YES,
    };
    out->has_cold = rp_cold_stage(&input, &out->cold) == 0;
    out->cold_obs = obs;
}

void rp_episode_assess(const struct rp_episode *episode, struct rp_assessment *out_assessment)
{
    memset(out_assessment, 0, sizeof *out_assessment);
    assess_news2(episode, out_assessment);
    assess_spo2(episode, out_assessment);
    assess_criteria(episode, out_assessment);
    assess_cold(episode, out_assessment);
}

enum rp_truth rp_urine_little(const struct rp_episode *episode, const struct rp_rec_fluids *fluids)
{
    const struct rp_rec_episode *opening = &episode->opening;
    if (fluids->urine_ml.state != RP_MEASURED || !fluids->has_span || !opening->has_weight) {
        return RP_TRUTH_UNKNOWN;
    }
    return fluids->urine_ml.value * 2 * 60 < opening->weight_kg * fluids->span_min ? RP_TRUTH_YES
                                                                                   : RP_TRUTH_NO;
}
