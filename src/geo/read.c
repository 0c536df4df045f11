/* Positions as typed: grid references and UTM here, the rest in clinical/position.h. */
#include <stdio.h>
#include <string.h>

#include "clinical/position.h"
#include "geo/geo.h"
#include "geo/project.h"

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static char upper(char c)
{
    return c >= 'a' && c <= 'z' ? (char)(c - 'a' + 'A') : c;
}

static bool is_letter(char c)
{
    return upper(c) >= 'A' && upper(c) <= 'Z';
}

static const char *skip_spaces(const char *p)
{
    return p + strspn(p, " ");
}

int rp_geo_digits(bool has_accuracy, uint32_t accuracy_m)
{
    if (!has_accuracy || accuracy_m < 10) {
        return 5;
    }
    return accuracy_m < 100 ? 4 : accuracy_m < 1000 ? 3 : 2;
}

/* One or two digits, perhaps a space, then a word or letter and a further sign of a grid: two
 * letters or a run of six digits. Degrees with a letter have the letter last, or digits of their
 * own before the second letter. */
bool rp_geo_is_grid(const char *text)
{
    const char *p = skip_spaces(text);
    size_t digits = strspn(p, "0123456789");
    bool pole = digits == 0 && strchr("ABYZ", upper(*p)) != NULL;
    if (digits > 2 || *p == '\0' || (digits == 0 && !pole)) {
        return false;
    }
    p = skip_spaces(p + digits);
    if (!is_letter(*p)) {
        return false;
    }
    const char *after = skip_spaces(p + 1);
    return (is_letter(after[0]) && is_letter(after[1])) || strspn(after, "0123456789") >= 6;
}

static int refuse(const char *text, const char *why, struct rp_problem *out_problem)
{
    return rp_problem_set(out_problem, RP_E_INVALID, "position",
                          "position \"%.40s\": %s (example: 45R VL 92657 95875, or UTM 45R 492657 "
                          "3095875)",
                          text, why);
}

/* Digits into a number of metres; moves the cursor. False when there are none, or above 8. */
static bool read_metres(const char **cursor, double *out_m)
{
    size_t len = strspn(*cursor, "0123456789");
    if (len == 0 || len > 8) {
        return false;
    }
    double metres = 0;
    for (size_t i = 0; i < len; i++) {
        metres = metres * 10 + ((*cursor)[i] - '0');
    }
    *out_m = metres;
    *cursor = skip_spaces(*cursor + len);
    return true;
}

struct utm {
    int zone;
    char letter;
    bool is_word; /* north or south, not a band */
    double easting_m, northing_m;
};

/* True when the text has the form of UTM. */
static bool read_utm(const char *p, struct utm *out)
{
    char word[6] = "";
    size_t digits = strspn(p = skip_spaces(p), "0123456789");
    out->zone = digits > 0 ? p[0] - '0' : 0;
    out->zone = digits > 1 ? out->zone * 10 + p[1] - '0' : out->zone;
    p = skip_spaces(p + digits);
    size_t letters = 0;
    while (is_letter(p[letters]) && letters < sizeof word - 1) {
        word[letters] = upper(p[letters]);
        letters++;
    }
    p = skip_spaces(p + letters);
    out->is_word = strcmp(word, "NORTH") == 0 || strcmp(word, "SOUTH") == 0;
    out->letter = word[0];
    return (letters == 1 || out->is_word) && digits > 0 && read_metres(&p, &out->easting_m) &&
           read_metres(&p, &out->northing_m) && *p == '\0';
}

/* Whether a fix lies in the band; a fix on its edge, to 2 m, lies in both. */
static bool in_band(int32_t lat_e6, char band)
{
    return rp_geo_band(lat_e6) == band || rp_geo_band(lat_e6 + 20) == band ||
           rp_geo_band(lat_e6 - 20) == band;
}

static const char *from_utm(const struct utm *utm, int32_t *out_lat, int32_t *out_lon)
{
    /* N is the northern half and a band of it; S is a northern band or the southern half. */
    bool north = utm->letter >= 'N' && !(utm->is_word && utm->letter == 'S');
    if (strchr("CDEFGHJKLMNPQRSTUVWX", utm->letter) == NULL) {
        return "the letter is no latitude band";
    }
    if (utm->zone < 1 || utm->zone > 60) {
        return "the zone is outside 1-60";
    }
    if (!utm->is_word && utm->letter == 'S') {
        return "S may be a band or the southern half: write \"south\", or a grid reference";
    }
    int code = rp_geo_from_utm(utm->zone, north, utm->easting_m, utm->northing_m, out_lat, out_lon);
    if (code != 0) {
        return "easting or northing is outside the zone";
    }
    if (!utm->is_word && utm->letter != 'N' && !in_band(*out_lat, utm->letter)) {
        return "the northing is not in that latitude band";
    }
    return NULL;
}

static const char *from_mgrs(const char *text, int32_t *out_lat, int32_t *out_lon,
                             uint16_t *out_accuracy_m)
{
    static const uint16_t side_m[] = {1000, 100, 10, 1}; /* of 2, 3, 4, 5 digits */
    char reference[24];
    size_t len = 0;
    for (; *text != '\0'; text++) {
        if (*text == ' ') {
            continue;
        }
        if ((!is_letter(*text) && !is_digit(*text)) || len == sizeof reference - 1) {
            return "it holds letters and digits only, 15 at most";
        }
        reference[len++] = upper(*text);
    }
    reference[len] = '\0';
    int digits = 0;
    if (rp_geo_from_mgrs(reference, out_lat, out_lon, &digits) != 0) {
        return "no such grid square, or not as many digits of easting as of northing";
    }
    if (digits < 2 || digits > RP_GEO_DIGITS_MAX) {
        return "2 to 5 digits of easting and as many of northing are needed";
    }
    *out_accuracy_m = side_m[digits - 2];
    return NULL;
}

int rp_geo_parse(const char *text, int32_t *out_lat_e6, int32_t *out_lon_e6,
                 uint16_t *out_accuracy_m, struct rp_problem *out_problem)
{
    struct utm utm;
    int32_t lat = 0, lon = 0;
    uint16_t accuracy_m = 1;
    bool is_utm = read_utm(text, &utm);
    if (!is_utm && !rp_geo_is_grid(text)) {
        *out_accuracy_m = 0;
        return rp_position_parse(text, out_lat_e6, out_lon_e6, out_problem);
    }
    const char *why =
        is_utm ? from_utm(&utm, &lat, &lon) : from_mgrs(text, &lat, &lon, &accuracy_m);
    if (why != NULL) {
        return refuse(text, why, out_problem);
    }
    *out_lat_e6 = lat;
    *out_lon_e6 = lon;
    *out_accuracy_m = accuracy_m;
    return RP_OK;
}
