#include "handover/data/geojson.h"

#include "handover/build.h"
#include "handover/data/json.h"
#include "handover/data/stamp.h"
#include "handover/text/say.h"
#include "ridgepost/error.h"

struct place {
    const char *kind;
    const struct rp_position *position;
    const struct rp_altitude *altitude; /* NULL: not that of this place */
    const struct rp_source *from;       /* NULL: of no entry */
    enum rp_text_id title;
    const struct rp_sheet_station *station; /* NULL: none */
};

static void add_stamp(struct rp_json *json, const char *key, uint32_t time_s)
{
    char text[RP_STAMP_LEN];
    struct rp_textbuf stamp = rp_textbuf_on(text, sizeof text);
    rp_stamp_utc(&stamp, time_s);
    rp_json_text_len(json, key, text, stamp.len);
}

static void add_height(struct rp_json *json, const struct rp_texts *texts,
                       const struct rp_altitude *altitude)
{
    if (altitude != NULL && altitude->present) {
        rp_json_number(json, "altitude_amsl_m", altitude->metres, 0);
        rp_json_text(
            json, "altitude_source",
            texts->words[rp_text_pick(RP_TX_ALT_UNSAID, RP_TX_ALT_BAROMETER, altitude->source)]);
    }
}

static const char *const roles[] = {
    [RP_ROLE_CAMP] = "camp", [RP_ROLE_RELAY] = "relay", [RP_ROLE_BASE] = "base"};

static void add_place(struct rp_json *json, const struct rp_sheet_facts *facts,
                      const struct rp_texts *texts, const struct place *place)
{
    const struct rp_sheet_input *in = facts->input;
    rp_json_object(json, NULL);
    rp_json_text(json, "type", "Feature");
    rp_json_object(json, "geometry");
    rp_json_text(json, "type", "Point");
    rp_json_list(json, "coordinates");
    rp_json_number(json, NULL, place->position->lon_e6, 6);
    rp_json_number(json, NULL, place->position->lat_e6, 6);
    rp_json_end_list(json);
    rp_json_end_object(json);
    rp_json_object(json, "properties");
    rp_json_text(json, "kind", place->kind);
    rp_json_text(json, "title", texts->words[place->title]);
    rp_json_bool(json, "exercise", in->episode->exercise);
    if (place->position->has_accuracy) {
        rp_json_number(json, "accuracy_m", place->position->accuracy_m, 0);
    }
    add_height(json, texts, place->altitude);
    if (place->from != NULL) {
        add_stamp(json, "as_of", place->from->happened_s);
        rp_json_text(json, "by", place->from->by);
        rp_json_bool(json, "after_handover", rp_episode_is_late(in->episode, place->from));
    }
    if (place->station != NULL) {
        rp_json_number(json, "station", place->station->number, 0);
        rp_json_text(json, "name", place->station->name);
        rp_json_text(
            json, "role",
            roles[place->station->role <= RP_ROLE_BASE ? place->station->role : RP_ROLE_RELAY]);
    }
    rp_json_end_object(json);
    rp_json_end_object(json);
}

static void add_places(struct rp_json *json, const struct rp_sheet_facts *facts,
                       const struct rp_texts *texts)
{
    const struct rp_episode *ep = facts->input->episode;
    const struct rp_request_entry *request = rp_sheet_request_now(ep);
    bool asked = request != NULL && request->what.position.present;
    struct place opening = {asked ? "opening" : "patient",
                            &ep->opening.position,
                            &ep->opening.altitude,
                            &ep->opening_from,
                            asked ? RP_TX_MAP_OPENING : RP_TX_MAP_PATIENT,
                            NULL};
    if (asked) {
        struct place patient = {"patient",      &request->what.position, &request->what.altitude,
                                &request->from, RP_TX_MAP_PATIENT,       NULL};
        add_place(json, facts, texts, &patient);
    }
    bool moved = !asked || request->what.position.lat_e6 != ep->opening.position.lat_e6 ||
                 request->what.position.lon_e6 != ep->opening.position.lon_e6;
    if (ep->opened && ep->opening.position.present && moved) {
        add_place(json, facts, texts, &opening);
    }
    if (request != NULL && request->what.site.present) {
        struct place site = {"landing site", &request->what.site, NULL,
                             &request->from, RP_TX_MAP_SITE,      NULL};
        add_place(json, facts, texts, &site);
    }
    for (size_t i = 0; i < facts->input->station_count; i++) {
        const struct rp_sheet_station *station = &facts->input->stations[i];
        struct place at = {"station", &station->position, &station->altitude,
                           NULL,      RP_TX_MAP_STATION,  station};
        if (station->position.present) {
            add_place(json, facts, texts, &at);
        }
    }
}

/* Where the care facts are. */
static void add_elsewhere(struct rp_json *json, const struct rp_sheet_facts *facts,
                          const struct rp_texts *texts)
{
    char text[600];
    struct rp_textbuf said = rp_textbuf_on(text, sizeof text);
    rp_say_elsewhere(&said, texts, facts);
    json->out->full = json->out->full || said.full;
    rp_json_text_len(json, "note", text, said.len);
}

int rp_geojson_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                      size_t cap)
{
    const struct rp_sheet_input *in = facts->input;
    if (cap == 0) {
        return RP_E_TOO_LONG;
    }
    struct rp_textbuf out = rp_textbuf_on(buf, cap - 1);
    struct rp_json json = rp_json_on(&out);
    char name[RP_STAMP_LEN];
    struct rp_textbuf episode = rp_textbuf_on(name, sizeof name);
    rp_stamp_episode(&episode, in->episode->ref);
    rp_json_object(&json, NULL);
    rp_json_text(&json, "type", "FeatureCollection");
    if (in->episode->exercise) {
        rp_json_text(&json, "exercise", texts->words[RP_TX_EXERCISE]);
    }
    rp_json_text_len(&json, "episode", name, episode.len);
    add_stamp(&json, "made", in->now_s);
    rp_json_text(&json, "language", texts->words[RP_TX_LANGUAGE_CODE]);
    add_elsewhere(&json, facts, texts);
    rp_json_list(&json, "features");
    add_places(&json, facts, texts);
    rp_json_end_list(&json);
    rp_json_end_object(&json);
    rp_textbuf_str(&out, "\n");
    buf[out.full ? 0 : out.len] = '\0';
    return out.full ? RP_E_TOO_LONG : (int)out.len;
}
