#include "clinical/position.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

#include "clinical/number.h"

static int refuse(const char *text, const char *why, struct rp_problem *out_problem)
{
    return rp_problem_set(out_problem, RP_E_INVALID, "position",
                          "position \"%.40s\": %s (example: 27.98800,86.92533 or "
                          "27 59.280N 86 55.520E)",
                          text, why);
}

/* One to three numbers, largest unit first, into millionths of a degree. Why not, or NULL. */
static const char *combine(const struct rp_number *numbers, int count, int32_t limit_deg,
                           int32_t *out_e6)
{
    static const int64_t unit_s[3] = {3600, 60, 1};
    int decimals = numbers[count - 1].decimals;
    int64_t power = rp_number_power(decimals), total = 0;
    for (int i = 0; i < count; i++) {
        if (i < count - 1 && numbers[i].decimals > 0) {
            return "only the last number of a coordinate may have decimals";
        }
        /* The first bound also keeps the products below in range. */
        if (i < count - 1 && numbers[i].mantissa > 180) {
            return "a degree or minute is too large";
        }
        int64_t part = i < count - 1 ? numbers[i].mantissa * power : numbers[i].mantissa;
        if (i > 0 && part >= 60 * power) {
            return "minutes and seconds must be below 60";
        }
        if (i == 0 && (part > limit_deg * power || part < -limit_deg * power)) {
            return limit_deg == 90 ? "latitude is outside 90 degrees (is it the longitude?)"
                                   : "longitude is outside 180 degrees";
        }
        total += part * unit_s[i];
    }
    if (total > limit_deg * 3600 * power) {
        return limit_deg == 90 ? "latitude is outside 90 degrees (is it the longitude?)"
                               : "longitude is outside 180 degrees";
    }
    /* 1e6 / 3600 = 2500 / 9; at most 180 * 3600 * 10^9 * 2500 = 1.6e18, below 2^63. */
    *out_e6 = (int32_t)rp_number_divide(total * 2500, 9 * power);
    return NULL;
}

static const char *parse_signed(const char *p, int32_t *out_lat, int32_t *out_lon)
{
    struct rp_number lat, lon;
    if (rp_number_read(&p, true, &lat) != 0 || *p != ',') {
        return "not latitude and longitude";
    }
    p++;
    p += *p == ' ';
    if (rp_number_read(&p, true, &lon) != 0 || *p != '\0') {
        return "not latitude and longitude";
    }
    const char *why = combine(&lat, 1, 90, out_lat);
    return why != NULL ? why : combine(&lon, 1, 180, out_lon);
}

/* One coordinate with its letter; moves the cursor past it. */
static const char *parse_lettered(const char **cursor, bool seen[2], int32_t out_e6[2])
{
    struct rp_number numbers[3];
    int count = 0;
    const char *p = *cursor;
    while (count < 3 && rp_number_read(&p, false, &numbers[count]) == 0) {
        count++;
        p += *p == ' ';
    }
    char letter = *p >= 'a' && *p <= 'z' ? (char)(*p - 'a' + 'A') : *p;
    bool north_south = letter == 'N' || letter == 'S';
    if (count == 0 || (!north_south && letter != 'E' && letter != 'W')) {
        return "each coordinate needs N, S, E or W behind it, or both a comma between them";
    }
    if (seen[!north_south]) {
        return "the same direction twice";
    }
    const char *why = combine(numbers, count, north_south ? 90 : 180, &out_e6[!north_south]);
    if (letter == 'S' || letter == 'W') {
        out_e6[!north_south] = -out_e6[!north_south];
    }
    seen[!north_south] = true;
    *cursor = p + 1;
    return why;
}

static const char *parse_letters(const char *p, int32_t *out_lat, int32_t *out_lon)
{
    bool seen[2] = {false, false};
    int32_t e6[2] = {0, 0};
    for (int i = 0; i < 2; i++) {
        const char *why = parse_lettered(&p, seen, e6);
        if (why != NULL) {
            return why;
        }
        p += i == 0 && *p == ',';
        p += i == 0 && *p == ' ';
    }
    if (*p != '\0') {
        return "something follows the position";
    }
    *out_lat = e6[0];
    *out_lon = e6[1];
    return NULL;
}

static bool has_letter(const char *p)
{
    for (; *p != '\0'; p++) {
        if ((*p >= 'a' && *p <= 'z') || (*p >= 'A' && *p <= 'Z')) {
            return true;
        }
    }
    return false;
}

int rp_position_parse(const char *text, int32_t *out_lat_e6, int32_t *out_lon_e6,
                      struct rp_problem *out_problem)
{
    int32_t lat = 0, lon = 0;
    const char *why =
        has_letter(text) ? parse_letters(text, &lat, &lon) : parse_signed(text, &lat, &lon);
    if (why != NULL) {
        return refuse(text, why, out_problem);
    }
    *out_lat_e6 = lat;
    *out_lon_e6 = lon;
    return 0;
}

double rp_position_apart_m(int32_t lat_a_e6, int32_t lon_a_e6, int32_t lat_b_e6, int32_t lon_b_e6)
{
    /* A degree of the mean earth radius 6371 km, and how it shrinks with latitude. */
    const double metres_per_degree = 111195.0, radians_per_degree = 0.017453292519943295;
    double north_deg = (lat_b_e6 - lat_a_e6) / 1e6;
    double east_deg = fabs(((double)lon_b_e6 - lon_a_e6) / 1e6);
    east_deg = east_deg > 180 ? 360 - east_deg : east_deg; /* across 180 degrees */
    double middle_deg = ((double)lat_a_e6 + lat_b_e6) / 2e6;
    double east = east_deg * cos(middle_deg * radians_per_degree);
    return metres_per_degree * sqrt(north_deg * north_deg + east * east);
}
