/* What the request asks for, and what is computed from an episode. */
#include "control/view/view.h"
#include "geo/geo.h"

#define TEXT_LEN_MAX 4096 /* the lines of scores, chamber, oxygen and contradictions */

void rp_view_assessed(struct rp_show *show, const struct rp_episode *episode, json_t *row)
{
    char lines[TEXT_LEN_MAX];
    struct rp_text text = rp_text_on(lines, sizeof lines);
    struct rp_show inner = {show->entry, &text, json_object(), show->pages};
    rp_show_assessment(&inner, episode);
    rp_show_course(&inner, episode, inner.data);
    json_object_set_new(inner.data, "text", json_string(lines));
    json_object_set_new(row, "assessed", inner.data);
}

static void add(json_t *json, const char *key, const char *text)
{
    if (text[0] != '\0') {
        json_object_set_new(json, key, json_string(text));
    }
}

/* One fix in the forms that are read out: each for another map. */
static void add_site(json_t *json, const struct rp_position *site)
{
    char grid[RP_GEO_TEXT_MAX];
    if (!site->present) {
        return;
    }
    json_object_set_new(json, "lat_e6", json_integer(site->lat_e6));
    json_object_set_new(json, "lon_e6", json_integer(site->lon_e6));
    if (rp_geo_show_utm(site->lat_e6, site->lon_e6, grid) == 0) {
        add(json, "utm", grid);
    }
    int digits = rp_geo_digits(site->has_accuracy, site->accuracy_m);
    if (rp_geo_show_mgrs(site->lat_e6, site->lon_e6, digits, grid) == 0) {
        add(json, "mgrs", grid);
    }
}

static void add_number(json_t *json, const char *key, bool has, int value)
{
    if (has) {
        json_object_set_new(json, key, json_integer(value));
    }
}

static void add_weather(json_t *json, const struct rp_rec_evacuation *asked)
{
    add_number(json, "wind_kmh", asked->has_wind, asked->wind_kmh);
    add_number(json, "wind_from_deg", asked->has_wind_dir, asked->wind_from_deg);
    add_number(json, "gust_kmh", asked->has_gust, asked->gust_kmh);
    add_number(json, "temp_c", asked->has_temp, asked->temp_c);
    add_number(json, "visibility_m", asked->has_visibility, (int)asked->visibility_m);
    add_number(json, "cloud_base_m", asked->has_cloud_base, asked->cloud_base_m);
    add(json, "weather", asked->weather);
}

static void add_finding(json_t *json, const char *key, enum rp_finding finding)
{
    if (finding != RP_FINDING_NOT_ASKED) {
        json_object_set_new(json, key, json_string(rp_word_of(rp_words_finding, (int)finding)));
    }
}

static void add_needs(json_t *json, const struct rp_rec_evacuation *asked)
{
    char needs[RP_LINE_LEN + 1];
    struct rp_text text = rp_text_on(needs, sizeof needs);
    if (!asked->has_needs) {
        return;
    }
    for (const struct rp_word *word = rp_words_needs; word->word != NULL; word++) {
        if ((asked->needs & word->value) != 0) {
            rp_text_add(&text, "%s%s", text.len > 0 ? ", " : "", word->word);
        }
    }
    json_object_set_new(json, "needs", json_string(text.len > 0 ? needs : "none"));
}

static void add_people(json_t *json, const struct rp_rec_evacuation *asked)
{
    add_number(json, "patients", asked->has_patients, asked->patients);
    add_number(json, "weight_kg", asked->has_weight, asked->weight_kg);
    add_finding(json, "conscious", asked->conscious);
    add_finding(json, "oxygen", asked->oxygen_needed);
    add_finding(json, "flat", asked->lies_flat);
    add_needs(json, asked);
    add_number(json, "party", asked->has_party, asked->party);
    add(json, "contact", asked->ground_contact);
    add_number(json, "daylight_s", asked->has_daylight, (int)asked->daylight_end_s);
    add(json, "fallback", asked->fallback);
    add(json, "insurance",
        asked->insurance.state == RP_NONE_KNOWN ? "none" : asked->insurance.text);
}

/* What a pilot asks first and the request does not say. */
static json_t *gaps_of(const struct rp_rec_evacuation *asked)
{
    const struct {
        bool told;
        const char *what;
    } asks[] = {
        {asked->mobility != 0, "whether the patient walks, sits or lies"},
        {asked->site.present, "the position of the landing place"},
        {asked->surface != 0, "the surface of the landing place"},
        {asked->has_wind, "the wind"},
        {asked->has_visibility, "the visibility"},
        {asked->hazards[0] != '\0', "hazards"},
        {asked->ground_contact[0] != '\0', "how to reach the party"},
    };
    json_t *list = json_array();
    for (size_t i = 0; i < sizeof asks / sizeof asks[0]; i++) {
        if (!asks[i].told) {
            json_array_append_new(list, json_string(asks[i].what));
        }
    }
    return list;
}

/* What the request asks for, in the order it is read out. */
static json_t *facts_of(const struct rp_rec_evacuation *asked)
{
    json_t *json = json_object();
    add(json, "mobility", rp_word_of(rp_words_mobility, asked->mobility));
    add_site(json, &asked->site);
    add_number(json, "at_lat_e6", asked->position.present, asked->position.lat_e6);
    add_number(json, "at_lon_e6", asked->position.present, asked->position.lon_e6);
    add_number(json, "altitude_m", asked->altitude.present, asked->altitude.metres);
    add(json, "surface", rp_word_of(rp_words_surface, asked->surface));
    add_number(json, "slope_deg", asked->has_slope, asked->slope_deg);
    add(json, "obstacles", asked->obstacles);
    add_number(json, "length_m", asked->has_site_size, asked->site_length_m);
    add_number(json, "width_m", asked->has_site_size, asked->site_width_m);
    add_finding(json, "marked", asked->site_marked);
    add_weather(json, asked);
    add(json, "hazards", asked->hazards);
    add_people(json, asked);
    return json;
}

/* When each fact was told, net seconds by its key: a revision repeats what it does not change, and
 * what is only repeated keeps its age. */
static json_t *told_of(const struct rp_episode *episode, json_t *facts)
{
    json_t *told = json_object(), *left = json_copy(facts), *value;
    const char *key;
    void *next;
    bool more = true; /* until the request that revises none */
    for (int i = episode->request_now; i >= 0 && more; i--) {
        const struct rp_request_entry *request = &episode->requests.at[i];
        if (request->from.voided) {
            continue;
        }
        json_t *then = facts_of(&request->what);
        json_object_foreach_safe(left, next, key, value)
        {
            if (json_equal(value, json_object_get(then, key))) {
                json_object_set_new(told, key, json_integer(request->from.happened_s));
            } else {
                json_object_del(left, key);
            }
        }
        json_decref(then);
        more = request->what.revises.origin != 0;
    }
    json_decref(left);
    return told;
}

void rp_view_request(const struct rp_episode *episode, json_t *row)
{
    if (episode->request_now < 0) {
        return;
    }
    const struct rp_rec_evacuation *asked = &episode->requests.at[episode->request_now].what;
    json_t *json = facts_of(asked);
    json_object_set_new(json, "told_s", told_of(episode, json));
    json_object_set_new(json, "gaps", gaps_of(asked));
    json_object_set_new(row, "asked", json);
}
