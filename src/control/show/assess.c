/* What is computed from an episode, for the episode view. */
#include <stdio.h>
#include <string.h>

#include "clinical/air.h"
#include "clinical/oxygen.h"
#include "clinical/sky/daylight.h"
#include "control/show/show.h"
#include "geo/geo.h"
#include "incident/assess/assess.h"
#include "incident/watch/oxygen.h"

static uint32_t age_of(const struct rp_show *show, uint32_t time_s)
{
    return show->entry->now_s > time_s ? show->entry->now_s - time_s : 0;
}

/* "NEWS2 at least 13, without SpO2 10 (12 min old): respiration 3, ...; no temperature" */
static void show_news2(struct rp_show *show, const struct rp_assessment *a)
{
    char span[24];
    if (a->news2_unsupported) {
        rp_text_add(show->text, "     NEWS2 is not meant for those under 16 years\n");
    }
    if (!a->has_news2) {
        json_object_set_new(show->data, "news2", json_null());
        return;
    }
    const struct rp_news2 *n = &a->news2;
    const char *separator = ":";
    rp_text_add(show->text, "     NEWS2 %s%u, without SpO2 %u (%s old)",
                n->with_spo2.complete ? "" : "at least ", n->with_spo2.score, n->without_spo2.score,
                rp_show_span(age_of(show, a->news2_s), span));
    for (int i = 0; i < RP_NEWS2_PART_COUNT; i++) {
        if (n->parts[i].known) {
            rp_text_add(show->text, "%s %s %d", separator,
                        rp_news2_part_word((enum rp_news2_part)i), n->parts[i].value);
            separator = ",";
        }
    }
    separator = "; NOT KNOWN:";
    for (int i = 0; i < RP_NEWS2_PART_COUNT; i++) {
        if (!n->parts[i].known) {
            rp_text_add(show->text, "%s %s", separator, rp_news2_part_word((enum rp_news2_part)i));
            separator = ",";
        }
    }
    rp_text_add(show->text, "\n     (NEWS2: Royal College of Physicians 2017; not validated above "
                            "2600 m, look for change)\n");
    json_object_set_new(show->data, "news2",
                        json_pack("{s:i,s:i,s:b,s:i}", "score", n->with_spo2.score, "without_spo2",
                                  n->without_spo2.score, "complete", n->with_spo2.complete,
                                  "taken_s", (int)a->news2_s));
}

static void show_band(struct rp_show *show, const struct rp_episode *episode,
                      const struct rp_assessment *a)
{
    char span[24];
    if (!a->has_band || a->air == NULL) {
        return;
    }
    rp_text_add(
        show->text,
        "     SpO2 %d %% on air (%s old)%s is %s %d.%d %%, the by-eye alarm line for %d "
        "m\n",
        a->air->spo2_pct.value, rp_show_span(age_of(show, a->air->taken_s), span),
        a->air->spo2_pct.value < RP_SPO2_UNRELIABLE_BELOW_PCT ? ", inaccurate below 80 %," : "",
        a->spo2_below == RP_TRUTH_YES ? "BELOW" : "not below", a->band.alarm_below_tenths / 10,
        a->band.alarm_below_tenths % 10, rp_episode_altitude(episode)->metres);
    json_object_set_new(show->data, "spo2_below_band", json_boolean(a->spo2_below == RP_TRUTH_YES));
}

static void show_criteria(struct rp_show *show, const struct rp_episode *episode,
                          const struct rp_assessment *a)
{
    static const char *const words[] = {"open", "not met", "met"};
    if (!episode->opened) {
        return;
    }
    rp_text_add(show->text, "     criteria of 1991: HACE %s, HAPE %s; AMS (score of 2018) %s\n",
                words[a->hace], words[a->hape], words[a->lls.ams]);
    json_object_set_new(show->data, "criteria",
                        json_pack("{s:s,s:s,s:s}", "hace", words[a->hace], "hape", words[a->hape],
                                  "ams", words[a->lls.ams]));
    if (a->has_cold) {
        rp_text_add(show->text, "     hypothermia: stage %d by temperature%s\n",
                    a->cold.by_core.value,
                    a->cold.falsified ? "; SUSPECTED HACE FALSIFIES A STAGE BY RESPONSE" : "");
    }
}

/* The highest gauge pressure of the newest session, as a height. */
static void show_chamber(struct rp_show *show, const struct rp_episode *episode)
{
    const struct rp_altitude *altitude = rp_episode_altitude(episode);
    const struct rp_session *session =
        episode->sessions.count > 0 ? &episode->sessions.at[episode->sessions.count - 1] : NULL;
    if (session == NULL || session->gauge_dhpa.state != RP_MEASURED || !altitude->present) {
        return;
    }
    struct rp_air_site site = {.altitude_m = altitude->metres};
    double gauge_hpa = session->gauge_dhpa.value / 10.0;
    char shown[RP_AIR_MODELS][40];
    struct rp_air_chamber air = {0};
    for (int model = 0; model < RP_AIR_MODELS; model++) {
        if (rp_air_in_chamber(&site, (enum rp_air_model)model, gauge_hpa, &air) != 0) {
            return;
        }
        rp_air_show_altitude((enum rp_air_model)model, air.equivalent_m, shown[model],
                             sizeof shown[model]);
    }
    rp_text_add(show->text,
                "     chamber up to %.1f psi (%.0f hPa): like %s or %s; inspired oxygen %.0f, "
                "outside %.0f mmHg\n",
                gauge_hpa / 68.94757, gauge_hpa, shown[RP_AIR_ISA], shown[RP_AIR_WEST],
                air.inspired_o2_inside_mmhg, air.inspired_o2_outside_mmhg);
    json_object_set_new(show->data, "equivalent_m",
                        json_integer(rp_air_round_50m(air.equivalent_m)));
}

static void show_oxygen(struct rp_show *show, const struct rp_episode *episode)
{
    struct rp_oxygen_left left;
    char span[24], time[24];
    int32_t flow_dlpm = 0;
    uint32_t now_s = show->entry->now_s;
    rp_oxygen_left_of(episode, now_s, &left);
    if (!left.known) {
        return;
    }
    rp_text_add(show->text, "     oxygen: %d L usable, at %d.%d L/min %s, until %s",
                left.usable_dl / 10, left.flow_dlpm / 10, left.flow_dlpm % 10,
                rp_show_span(left.left_s, span), rp_show_time(now_s, left.empty_s, time));
    json_object_set_new(show->data, "oxygen_until_s", json_integer(left.empty_s));
    const struct rp_answer_entry *eta =
        episode->eta_answer >= 0 ? &episode->answers.at[episode->eta_answer] : NULL;
    if (eta != NULL && eta->what.eta_s > left.empty_s && eta->what.eta_s > now_s &&
        rp_oxygen_flow_until(left.usable_dl, (int32_t)(eta->what.eta_s - now_s), &flow_dlpm) == 0) {
        rp_text_add(show->text, " - NOT UNTIL THE ETA: %d.%d L/min would last", flow_dlpm / 10,
                    flow_dlpm % 10);
    }
    rp_text_add(show->text, "\n");
}

void rp_show_conflicts(struct rp_show *show, const struct rp_episode *episode)
{
    struct rp_contradiction found[RP_CONTRA_COUNT];
    size_t count = rp_episode_contradictions(episode, show->entry->now_s, found);
    json_t *rows = json_array();
    for (size_t i = 0; i < count; i++) {
        char earlier[24], later[24];
        rp_show_record_name(found[i].earlier->ref, earlier);
        rp_show_record_name(found[i].later->ref, later);
        bool one = strcmp(earlier, later) == 0;
        rp_text_add(show->text, "     CONFLICT: %s (%s%s%s)\n",
                    rp_contradiction_sentence(found[i].kind), earlier, one ? "" : " and ",
                    one ? "" : later);
        json_array_append_new(rows, json_pack("{s:s,s:s,s:s}", "what",
                                              rp_contradiction_sentence(found[i].kind), "earlier",
                                              earlier, "later", later));
    }
    json_object_set_new(show->data, "conflicts", rows);
}

void rp_show_assessment(struct rp_show *show, const struct rp_episode *episode)
{
    struct rp_assessment assessment;
    rp_episode_assess(episode, &assessment);
    show_criteria(show, episode, &assessment);
    show_news2(show, &assessment);
    show_band(show, episode, &assessment);
    show_chamber(show, episode);
    show_oxygen(show, episode);
    rp_show_conflicts(show, episode);
}

/* Where this station stands, and its light. */
void rp_show_place(struct rp_show *show)
{
    const struct rp_position *position = &rp_node_config(show->entry->node)->position;
    char utm[RP_GEO_TEXT_MAX], mgrs[RP_GEO_TEXT_MAX], sunset[24], dusk[24];
    struct rp_daylight day;
    int digits = rp_geo_digits(position->has_accuracy, position->accuracy_m);
    uint32_t now_s = show->entry->now_s;
    if (!position->present || rp_geo_show_utm(position->lat_e6, position->lon_e6, utm) != 0 ||
        rp_geo_show_mgrs(position->lat_e6, position->lon_e6, digits, mgrs) != 0 ||
        rp_daylight_at(position->lat_e6, position->lon_e6, now_s, &day) != 0) {
        return;
    }
    rp_text_add(show->text, "place   UTM %s, MGRS %s\n", utm, mgrs);
    json_object_set_new(show->data, "utm", json_string(utm));
    json_object_set_new(show->data, "mgrs", json_string(mgrs));
    if (day.sun == RP_SUN_CROSSES && day.twilight == RP_SUN_CROSSES) {
        rp_text_add(show->text, "light   %s; sunset %s, twilight ends %s (flat horizon)\n",
                    rp_daylight_is_light(&day, now_s) ? "day" : "dark",
                    rp_show_time(now_s, (uint32_t)day.sunset_s, sunset),
                    rp_show_time(now_s, (uint32_t)day.dusk_s, dusk));
        json_object_set_new(show->data, "sunset_s", json_integer(day.sunset_s));
    }
}
