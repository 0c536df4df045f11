#include "control/show/path.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "geo/geo.h"
#include "radio/plan/link.h"

static const char example[] = "path distance 5km antenna 2m 5m ridge 30m at 2km";

/* A number and its unit. */
struct measure {
    const char *field;
    double min, max;
    struct {
        const char *unit;
        double factor;
    } units[3];
    const char *bounds; /* in words, with units */
    const char *example;
};

static const struct measure distance = {
    "distance", 10, 500e3, {{"km", 1000}, {"m", 1}}, "10 m to 500 km", "distance 5km"};
static const struct measure altitude = {
    "altitude", -450, 8900, {{"m", 1}}, "-450 m to 8900 m", "altitude 5480m 4310m"};
static const struct measure antenna = {
    "antenna", 0.1, 100, {{"m", 1}}, "0.1 m to 100 m over the ground", "antenna 2m 5m"};
static const struct measure ridge_top = {
    "ridge", -450, 8900, {{"m", 1}}, "-450 m to 8900 m", "ridge 5300m at 2km"};
static const struct measure ridge_at = {
    "at", 1, 500e3, {{"km", 1000}, {"m", 1}}, "1 m to 500 km", "ridge 5300m at 2km"};
static const struct measure gain = {
    "gain", -30, 30, {{"dBi", 1}}, "-30 dBi to 30 dBi", "gain 2.15dBi 5dBi"};
static const struct measure power = {"power",      -30, 40, {{"dBm", 1}}, "-30 dBm to 40 dBm",
                                     "power 14dBm"};
/* SX1276/77/78/79 data sheet revision 4: 137 to 1020 MHz. */
static const struct measure frequency = {
    "frequency", 137e6, 1020e6, {{"MHz", 1e6}}, "137 MHz to 1020 MHz", "frequency 869.525MHz"};
static const struct measure bandwidth = {
    "bandwidth", 125e3, 500e3, {{"kHz", 1e3}}, "125, 250 or 500 kHz", "bandwidth 125kHz"};

/* Decimal digits with one point and perhaps a minus: what strtod also takes is kept out. */
static size_t number_len(const char *text)
{
    size_t at = text[0] == '-' ? 1 : 0;
    size_t whole = strspn(text + at, "0123456789");
    at += whole;
    if (text[at] == '.') {
        size_t decimals = strspn(text + at + 1, "0123456789");
        at += decimals > 0 ? 1 + decimals : 0;
    }
    return whole > 0 && at <= 20 ? at : 0;
}

static int read_measure(struct rp_entry *entry, const struct measure *measure, double *out_value)
{
    const char *word;
    int code = rp_entry_need(entry, measure->field, measure->example, &word);
    if (code < 0) {
        return code;
    }
    size_t len = number_len(word);
    double factor = 0;
    for (size_t i = 0; len > 0 && i < 3 && measure->units[i].unit != NULL; i++) {
        if (strcmp(word + len, measure->units[i].unit) == 0) {
            factor = measure->units[i].factor;
        }
    }
    double value = factor > 0 ? strtod(word, NULL) * factor : 0;
    if (factor <= 0 || value < measure->min || value > measure->max) {
        return rp_problem_set(entry->problem, RP_E_INVALID, measure->field,
                              "%s \"%.20s\" is not %s (example: %s)", measure->field, word,
                              measure->bounds, measure->example);
    }
    *out_value = value;
    return RP_OK;
}

/* One value for both ends, or one each. */
static int read_pair(struct rp_entry *entry, const struct measure *measure, double *out_a,
                     double *out_b)
{
    int code = read_measure(entry, measure, out_a);
    const char *next = rp_entry_peek(entry);
    if (code < 0) {
        return code;
    }
    if (next != NULL && number_len(next) > 0) {
        return read_measure(entry, measure, out_b);
    }
    *out_b = *out_a;
    return RP_OK;
}

static void take_card(struct rp_path_end *end, const struct rp_position *position,
                      const struct rp_altitude *ground)
{
    end->has_position = position->present;
    end->lat_e6 = position->lat_e6;
    end->lon_e6 = position->lon_e6;
    if (ground->present && !end->has_ground) {
        end->has_ground = true;
        end->ground_m = ground->metres;
    }
}

static void take_self(const struct rp_node_config *config, struct rp_path_end *end)
{
    snprintf(end->name, sizeof end->name, "%u %s", config->station, config->name);
    take_card(end, &config->position, &config->altitude);
}

struct wanted {
    unsigned long station;
    struct rp_path_end *end;
    bool found;
};

static int take_row(void *arg, const struct rp_station_row *row)
{
    struct wanted *wanted = arg;
    if (row->station == wanted->station && row->has_card) {
        wanted->found = true;
        snprintf(wanted->end->name, sizeof wanted->end->name, "%u %s", row->station, row->name);
        take_card(wanted->end, &row->position, &row->altitude);
    }
    return 0;
}

/* A station's number, or a position. */
static int read_end(struct rp_entry *entry, const char *field, struct rp_path_end *end)
{
    const char *word;
    int code = rp_entry_need(entry, field, "to 4, or to 28.0900,86.7600", &word);
    if (code < 0) {
        return code;
    }
    struct wanted wanted = {0, end, false};
    if (strlen(word) > 2 || strspn(word, "0123456789") != strlen(word)) {
        end->has_position = true;
        snprintf(end->name, sizeof end->name, "%.30s", word);
        uint16_t accuracy_m;
        return rp_geo_parse(word, &end->lat_e6, &end->lon_e6, &accuracy_m, entry->problem);
    }
    wanted.station = strtoul(word, NULL, 10);
    const struct rp_node_config *config = rp_node_config(entry->node);
    if (wanted.station == config->station) {
        take_self(config, end);
        wanted.found = true;
    } else {
        rp_node_each_station(entry->node, take_row, &wanted);
    }
    if (!wanted.found || !end->has_position) {
        return rp_problem_set(
            entry->problem, RP_E_NOT_FOUND, field,
            "%s: the position of station %lu is not known here; give it (example: "
            "%s 28.0900,86.7600)",
            field, wanted.station, field);
    }
    return RP_OK;
}

static int read_altitudes(struct rp_entry *entry, struct rp_path_ask *ask)
{
    ask->ends[0].has_ground = ask->ends[1].has_ground = true;
    return read_pair(entry, &altitude, &ask->ends[0].ground_m, &ask->ends[1].ground_m);
}

static int read_ridge(struct rp_entry *entry, struct rp_path_ask *ask)
{
    int code = read_measure(entry, &ridge_top, &ask->ridge_top_m);
    const char *word = code == RP_OK ? rp_entry_take(entry) : NULL;
    if (code == RP_OK && (word == NULL || strcmp(word, "at") != 0)) {
        code = rp_problem_set(entry->problem, RP_E_FORMAT, "ridge",
                              "ridge: say how far it is from the first end (example: ridge 5300m "
                              "at 2km)");
    }
    ask->has_ridge = true;
    return code < 0 ? code : read_measure(entry, &ridge_at, &ask->ridge_at_m);
}

static int read_bandwidth(struct rp_entry *entry, struct rp_path_ask *ask)
{
    double value_hz = 0;
    int16_t any_dbm;
    int code = read_measure(entry, &bandwidth, &value_hz);
    ask->bandwidth_hz = (uint32_t)value_hz;
    if (code == RP_OK && !rp_link_sensitivity_dbm(7, ask->bandwidth_hz, &any_dbm)) {
        code = rp_problem_set(
            entry->problem, RP_E_INVALID, "bandwidth", "bandwidth %lu Hz is not %s (example: %s)",
            (unsigned long)ask->bandwidth_hz, bandwidth.bounds, bandwidth.example);
    }
    return code;
}

static int read_word(struct rp_entry *entry, const char *word, struct rp_path_ask *ask)
{
    struct rp_path_end *a = &ask->ends[0], *b = &ask->ends[1];
    if (strcmp(word, "from") == 0) {
        return read_end(entry, "from", a);
    } else if (strcmp(word, "to") == 0) {
        return read_end(entry, "to", b);
    } else if (strcmp(word, "distance") == 0) {
        ask->has_distance = true;
        return read_measure(entry, &distance, &ask->distance_m);
    } else if (strcmp(word, "altitude") == 0) {
        return read_altitudes(entry, ask);
    } else if (strcmp(word, "antenna") == 0) {
        return read_pair(entry, &antenna, &a->antenna_m, &b->antenna_m);
    } else if (strcmp(word, "ridge") == 0) {
        return read_ridge(entry, ask);
    } else if (strcmp(word, "gain") == 0) {
        return read_pair(entry, &gain, &a->gain_dbi, &b->gain_dbi);
    } else if (strcmp(word, "power") == 0) {
        return read_measure(entry, &power, &ask->power_dbm);
    } else if (strcmp(word, "frequency") == 0) {
        return read_measure(entry, &frequency, &ask->freq_hz);
    } else if (strcmp(word, "bandwidth") == 0) {
        return read_bandwidth(entry, ask);
    }
    return rp_problem_set(entry->problem, RP_E_FORMAT, "path",
                          "\"%.20s\" is not known here; words: from, to, distance, altitude, "
                          "antenna, ridge, gain, power, frequency, bandwidth (example: %s)",
                          word, example);
}

static int find_distance(struct rp_entry *entry, struct rp_path_ask *ask, bool said_to)
{
    struct rp_path_end *a = &ask->ends[0], *b = &ask->ends[1];
    if (ask->has_distance && said_to) {
        return rp_problem_set(entry->problem, RP_E_FORMAT, "distance",
                              "distance and two places exclude each other (example: %s)", example);
    }
    if (ask->has_distance) {
        return RP_OK;
    }
    if (!said_to || !b->has_position) {
        return rp_problem_set(entry->problem, RP_E_FORMAT, "path",
                              "path: say where to, or how far (example: path to 4, or %s)",
                              example);
    }
    if (a->name[0] == '\0') {
        take_self(rp_node_config(entry->node), a);
    }
    if (!a->has_position) {
        return rp_problem_set(entry->problem, RP_E_NOT_FOUND, "from",
                              "from: this station's own position is not configured; give it "
                              "(example: from 28.1041,86.7523)");
    }
    struct rp_geo_line line;
    int code = rp_geo_between(a->lat_e6, a->lon_e6, b->lat_e6, b->lon_e6, &line);
    if (code < 0) {
        return rp_problem_set(entry->problem, code, "path",
                              "the distance of the two places cannot be told (example: %s)",
                              example);
    }
    ask->distance_m = line.distance_m;
    ask->bearing_deg = line.bearing_deg;
    if (ask->distance_m < distance.min || ask->distance_m > distance.max) {
        return rp_problem_set(entry->problem, RP_E_INVALID, "distance",
                              "the two places are %.0f m apart, which is not %s (example: %s)",
                              ask->distance_m, distance.bounds, example);
    }
    return RP_OK;
}

static int check_heights(struct rp_entry *entry, const struct rp_path_ask *ask)
{
    const struct rp_path_end *a = &ask->ends[0], *b = &ask->ends[1];
    if (a->has_ground != b->has_ground) {
        return rp_problem_set(entry->problem, RP_E_INVALID, "altitude",
                              "altitude: that of one end is not known; give both (example: "
                              "altitude 5480m 4310m)");
    }
    if (ask->has_ridge && ask->ridge_at_m >= ask->distance_m) {
        return rp_problem_set(entry->problem, RP_E_INVALID, "ridge",
                              "the ridge at %.0f m is not between the ends, which are %.0f m apart "
                              "(example: ridge 5300m at 2km)",
                              ask->ridge_at_m, ask->distance_m);
    }
    return RP_OK;
}

int rp_path_read(struct rp_entry *entry, struct rp_path_ask *out_ask)
{
    const struct rp_node_config *config = rp_node_config(entry->node);
    double gain_dbi = (config->antenna_gain_cdbd + RP_DIPOLE_GAIN_CDBI) / 100.0;
    struct rp_path_ask ask = {
        .ends = {{.antenna_m = 2, .gain_dbi = gain_dbi}, {.antenna_m = 2, .gain_dbi = gain_dbi}},
        .freq_hz = config->net.profile.freq_hz,
        .power_dbm = config->net.profile.power_dbm,
        .bandwidth_hz = config->net.profile.bandwidth_hz,
    };
    bool said_to = false;
    int code = RP_OK;
    const char *word;
    while (code == RP_OK && (word = rp_entry_take(entry)) != NULL) {
        said_to = said_to || strcmp(word, "to") == 0 || strcmp(word, "from") == 0;
        code = read_word(entry, word, &ask);
    }
    if (code == RP_OK) {
        code = find_distance(entry, &ask, said_to);
    }
    if (code == RP_OK) {
        code = check_heights(entry, &ask);
    }
    if (code == RP_OK) {
        *out_ask = ask;
    }
    return code;
}
