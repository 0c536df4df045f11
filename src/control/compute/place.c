/* Positions in every form, distance and bearing, and the light of the day. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "clinical/sky/daylight.h"
#include "control/compute/compute.h"
#include "geo/geo.h"
#include "handover/format.h"

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

static int read_position(struct rp_show *show, const char *text, struct rp_position *out)
{
    uint16_t accuracy_m = 0;
    int code = rp_geo_parse(text, &out->lat_e6, &out->lon_e6, &accuracy_m, show->entry->problem);
    out->present = code == RP_OK;
    out->has_accuracy = accuracy_m > 1;
    out->accuracy_m = accuracy_m;
    return code;
}

static void show_forms(struct rp_show *show, const struct rp_position *position)
{
    char minutes[64], utm[RP_GEO_TEXT_MAX], mgrs[RP_GEO_TEXT_MAX];
    struct rp_textbuf buf = rp_textbuf_on(minutes, sizeof minutes - 1);
    int digits = rp_geo_digits(position->has_accuracy, position->accuracy_m);
    rp_format_position(&buf, &rp_texts_english, position->lat_e6, position->lon_e6);
    minutes[buf.len] = '\0';
    for (char *at = minutes; *at != '\0'; at++) {
        *at = *at == RP_NO_BREAK_BYTE ? ' ' : *at;
    }
    rp_geo_show_utm(position->lat_e6, position->lon_e6, utm);
    rp_geo_show_mgrs(position->lat_e6, position->lon_e6, digits, mgrs);
    rp_text_add(show->text,
                "WGS 84  %s (a thousandth of a minute is 2 m)\n"
                "        %.6f, %.6f deg\n"
                "UTM     %s (cut to 1 m)\n"
                "MGRS    %s (lower-left corner of a square of %d m)\n",
                minutes, position->lat_e6 / 1e6, position->lon_e6 / 1e6, utm, mgrs,
                (int)lround(pow(10, 5 - digits)));
    json_object_set_new(show->data, "lat_e6", json_integer(position->lat_e6));
    json_object_set_new(show->data, "lon_e6", json_integer(position->lon_e6));
    json_object_set_new(show->data, "minutes", json_string(minutes));
    json_object_set_new(show->data, "utm", json_string(utm));
    json_object_set_new(show->data, "mgrs", json_string(mgrs));
}

/* The position of the next word, or this station's. */
static int take_place(struct rp_show *show, const char *example, struct rp_position *out)
{
    struct rp_altitude altitude;
    const char *text = rp_entry_peek(show->entry);
    bool digit = text != NULL && strchr("0123456789-+ABYZabyz", text[0]) != NULL;
    if (digit) {
        show->entry->next++;
        return read_position(show, text, out);
    }
    if (rp_compute_home(show, &altitude, out) && out->present) {
        return RP_OK;
    }
    return rp_problem_set(show->entry->problem, RP_E_FORMAT, "position",
                          "a position is missing (example: %s)", example);
}

int rp_compute_position(struct rp_show *show)
{
    static const char example[] = "compute position \"45R VL 92657 95875\" from 28.1041,86.7523";
    struct rp_position position, from;
    struct rp_geo_line line;
    int code = take_place(show, example, &position);
    if (code < 0) {
        return code;
    }
    const char *text = rp_entry_take(show->entry);
    show_forms(show, &position);
    if (text == NULL) {
        return RP_OK;
    }
    if (strcmp(text, "from") != 0) {
        return rp_problem_set(show->entry->problem, RP_E_FORMAT, "position",
                              "\"%.24s\": a position with spaces needs quotes (example: %s)", text,
                              example);
    }
    code = take_place(show, example, &from);
    if (code < 0) {
        return code;
    }
    rp_geo_between(from.lat_e6, from.lon_e6, position.lat_e6, position.lon_e6, &line);
    rp_text_add(show->text, "%.0f m at %03.0f deg true from there, in a line without heights\n",
                line.distance_m, line.bearing_deg >= 359.5 ? 0.0 : line.bearing_deg);
    json_object_set_new(show->data, "distance_m", json_real(line.distance_m));
    json_object_set_new(show->data, "bearing_deg", json_real(line.bearing_deg));
    return RP_OK;
}

static void show_event(struct rp_show *show, const char *key, const char *what, enum rp_sun sun,
                       int64_t at_s)
{
    static const char *const never[] = {
        [RP_SUN_STAYS_ABOVE] = "the sun stays above", [RP_SUN_STAYS_BELOW] = "the sun stays below"};
    char time[24];
    if (sun != RP_SUN_CROSSES) {
        rp_text_add(show->text, "%-18s none: %s\n", what, never[sun]);
        json_object_set_new(show->data, key, json_null());
        return;
    }
    uint32_t rounded_s = (uint32_t)((at_s + 30) / 60 * 60);
    rp_text_add(show->text, "%-18s %s\n", what, rp_show_time(show->entry->now_s, rounded_s, time));
    json_object_set_new(show->data, key, json_integer(at_s));
}

static void show_last_start(struct rp_show *show, const struct rp_daylight *day, uint32_t descent_s,
                            uint32_t margin_s)
{
    char time[24], descent[24], margin[24];
    if (day->sun != RP_SUN_CROSSES) {
        rp_text_add(show->text, "no sunset to count from\n");
        return;
    }
    int64_t start_s = rp_daylight_last_start(day, descent_s, margin_s);
    bool past = start_s < show->entry->now_s;
    rp_text_add(
        show->text, "last start down    %s%s (sunset less %s down and %s margin; ours)\n",
        start_s > 0 ? rp_show_time(show->entry->now_s, (uint32_t)(start_s / 60 * 60), time) : "-",
        past ? ", PAST" : "", rp_show_span(descent_s, descent), rp_show_span(margin_s, margin));
    json_object_set_new(show->data, "last_start_s", json_integer(start_s));
}

int rp_compute_daylight(struct rp_show *show)
{
    static const char example[] = "compute daylight 28.1041,86.7523 descent 4h";
    struct rp_compute_word words[] = {
        {"descent", RP_RANGE_DESCENT_TIME, false, "descent 4h", 0, false},
        {"margin", RP_RANGE_DESCENT_TIME, false, "margin 1h", 0, false},
        {"in", RP_RANGE_UNTIL, false, "in 24h", 0, false},
    };
    struct rp_position position;
    struct rp_daylight day;
    unsigned flags;
    int code = take_place(show, example, &position);
    code = code == RP_OK ? rp_compute_read(show, words, COUNT(words), NULL, &flags, example) : code;
    if (code < 0) {
        return code;
    }
    uint32_t at_s = show->entry->now_s + (uint32_t)words[2].value;
    rp_daylight_at(position.lat_e6, position.lon_e6, at_s, &day); /* the position was checked */
    show_event(show, "dawn_s", "civil twilight", day.twilight, day.dawn_s);
    show_event(show, "sunrise_s", "sunrise", day.sun, day.sunrise_s);
    show_event(show, "sunset_s", "sunset", day.sun, day.sunset_s);
    show_event(show, "dusk_s", "end of twilight", day.twilight, day.dusk_s);
    rp_text_add(show->text, "for a flat horizon: a ridge takes the light earlier\n");
    if (words[0].given) {
        uint32_t descent_s = (uint32_t)words[0].value;
        show_last_start(show, &day, descent_s,
                        words[1].given ? (uint32_t)words[1].value
                                       : RP_DESCENT_MARGIN_OF(descent_s));
    }
    return RP_OK;
}
