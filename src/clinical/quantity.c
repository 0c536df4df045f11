#include "clinical/quantity.h"

#include <stdbool.h>
#include <stddef.h>
#include <strings.h>
#include <string.h>

#include "clinical/number.h"

/* stored = (typed * num + offset) / den. Factors: clinical references 2.1 ("Units") and 2.6, from
 * memory there, exact by definition unless said: foot 0.3048 m, inch 2.54 cm, pound 0.45359237 kg,
 * knot 1.852 km/h, statute mile 1.609344 km (BIPM SI brochure and NIST SP 811 define them);
 * psi 68.94757 hPa, mmHg 1.333224 hPa, inHg 33.8639 hPa, cmH2O 0.980665 hPa (rounded to 7 places
 * there). */
struct unit {
    enum rp_dimension dimension;
    const char *word;
    int64_t num, den, offset;
};

/* The first unit of a dimension is the one of a bare number. */
static const struct unit units[] = {
    {RP_DIM_COUNT, "", 1, 1, 0},
    {RP_DIM_PERCENT, "%", 1, 1, 0},
    {RP_DIM_RATE, "/min", 1, 1, 0},
    {RP_DIM_RATE, "bpm", 1, 1, 0},
    {RP_DIM_BLOOD, "mmHg", 1, 1, 0},
    {RP_DIM_BODY_TEMP, "C", 10, 1, 0},
    {RP_DIM_BODY_TEMP, "F", 50, 9, -1600},
    {RP_DIM_AIR_TEMP, "C", 1, 1, 0},
    {RP_DIM_AIR_TEMP, "F", 5, 9, -160},
    {RP_DIM_PRESSURE, "hPa", 10, 1, 0},
    {RP_DIM_PRESSURE, "mbar", 10, 1, 0},
    {RP_DIM_PRESSURE, "kPa", 100, 1, 0},
    {RP_DIM_PRESSURE, "mmHg", 1333224, 100000, 0},
    {RP_DIM_PRESSURE, "psi", 6894757, 10000, 0},
    {RP_DIM_PRESSURE, "inHg", 338639, 1000, 0},
    {RP_DIM_PRESSURE, "cmH2O", 980665, 100000, 0},
    {RP_DIM_PRESSURE, "bar", 10000, 1, 0},
    {RP_DIM_CYLINDER, "bar", 1, 1, 0},
    {RP_DIM_CYLINDER, "psi", 6894757, 100000000, 0},
    {RP_DIM_CYLINDER, "MPa", 10, 1, 0},
    {RP_DIM_LENGTH, "m", 1, 1, 0},
    {RP_DIM_LENGTH, "ft", 3048, 10000, 0},
    {RP_DIM_LENGTH, "km", 1000, 1, 0},
    {RP_DIM_DURATION, "min", 60, 1, 0},
    {RP_DIM_DURATION, "s", 1, 1, 0},
    {RP_DIM_DURATION, "h", 3600, 1, 0},
    {RP_DIM_DURATION, "d", 86400, 1, 0},
    {RP_DIM_DOSE_MASS, "mg", 1000, 1, 0},
    {RP_DIM_DOSE_MASS, "mcg", 1, 1, 0},
    {RP_DIM_DOSE_MASS, "ug", 1, 1, 0},
    {RP_DIM_DOSE_MASS, "g", 1000000, 1, 0},
    {RP_DIM_VOLUME, "L", 10, 1, 0},
    {RP_DIM_VOLUME, "mL", 1, 100, 0},
    {RP_DIM_FLUID, "mL", 1, 1, 0},
    {RP_DIM_FLUID, "L", 1000, 1, 0},
    {RP_DIM_FLOW, "L/min", 10, 1, 0},
    {RP_DIM_FLOW, "lpm", 10, 1, 0},
    {RP_DIM_SPEED, "km/h", 1, 1, 0},
    {RP_DIM_SPEED, "kmh", 1, 1, 0},
    {RP_DIM_SPEED, "kt", 1852, 1000, 0},
    {RP_DIM_SPEED, "m/s", 36, 10, 0},
    {RP_DIM_SPEED, "mph", 1609344, 1000000, 0},
    {RP_DIM_ANGLE, "deg", 1, 1, 0},
    {RP_DIM_BODY_MASS, "kg", 1, 1, 0},
    {RP_DIM_BODY_MASS, "lb", 45359237, 100000000, 0},
    {RP_DIM_YEARS, "y", 1, 1, 0},
};
#define UNIT_COUNT (sizeof units / sizeof units[0])

static const struct {
    const char *accepted, *example;
} dimensions[] = {
#define X(name, stored_, accepted_, example_)                                                      \
    [RP_DIM_##name] = {.accepted = accepted_, .example = example_},
    RP_DIMENSIONS(X)
#undef X
};

static bool whole_only(enum rp_dimension d)
{
    return d == RP_DIM_COUNT || d == RP_DIM_PERCENT || d == RP_DIM_RATE || d == RP_DIM_BLOOD ||
           d == RP_DIM_ANGLE || d == RP_DIM_YEARS;
}

static bool minus_allowed(enum rp_dimension d)
{
    return d == RP_DIM_BODY_TEMP || d == RP_DIM_AIR_TEMP || d == RP_DIM_LENGTH || d == RP_DIM_COUNT;
}

static int refuse(enum rp_dimension d, const char *field, const char *text, const char *why,
                  struct rp_problem *out_problem)
{
    return rp_problem_set(out_problem, RP_E_INVALID, field,
                          "%s \"%.40s\": %s; units: %s (example: %s)", field, text, why,
                          dimensions[d].accepted, dimensions[d].example);
}

/* The unit whose word is the `len` bytes at `word`; the default unit for none; NULL if unknown. */
static const struct unit *find_unit(enum rp_dimension d, const char *word, size_t len)
{
    for (size_t i = 0; i < UNIT_COUNT; i++) {
        const struct unit *u = &units[i];
        if (u->dimension != d) {
            continue;
        }
        if (len == 0 || (strlen(u->word) == len && strncasecmp(u->word, word, len) == 0)) {
            return u;
        }
    }
    return NULL;
}

/* Typed number to stored unit; false when it does not fit 32 bits. The bounds on the mantissa keep
 * every product below 2^63: 10^9 * 45359237 is below 4.6e16, 10^6 * 10^8 is 10^14. */
static bool convert(const struct unit *u, struct rp_number n, int32_t *out_value)
{
    if (n.mantissa > 1000000000 || n.mantissa < -1000000000 || n.decimals > 6) {
        return false;
    }
    int64_t power = rp_number_power(n.decimals);
    int64_t stored = rp_number_divide(n.mantissa * u->num + u->offset * power, u->den * power);
    if (stored > INT32_MAX || stored < -INT32_MAX) {
        return false;
    }
    *out_value = (int32_t)stored;
    return true;
}

static size_t letters(const char *p)
{
    size_t n = 0;
    while ((p[n] >= 'a' && p[n] <= 'z') || (p[n] >= 'A' && p[n] <= 'Z')) {
        n++;
    }
    return n;
}

/* A run of number and unit pairs, each unit smaller than the one before; a bare last number after
 * hours is minutes. Why not, or NULL. */
static const char *parse_duration(const char *p, int32_t *out_value)
{
    int64_t total_s = 0, last_s = INT64_MAX;
    for (int parts = 0; *p != '\0' || parts == 0; parts++) {
        struct rp_number n;
        if (rp_number_read(&p, false, &n) != 0) {
            return "not a duration";
        }
        p += parts == 0 && *p == ' ' && letters(p + 1) > 0;
        size_t len = letters(p);
        const struct unit *u = find_unit(RP_DIM_DURATION, p, len);
        p += len;
        int32_t part_s;
        if (u == NULL || (len == 0 && parts > 0 && last_s != 3600)) {
            return "the unit is not one of time";
        }
        if (!convert(u, n, &part_s)) {
            return "too large";
        }
        if (u->num >= last_s || (parts > 0 && part_s >= last_s) || (n.decimals > 0 && *p != '\0')) {
            return "parts out of order or too large";
        }
        total_s += part_s;
        last_s = u->num;
    }
    if (total_s > INT32_MAX) {
        return "too large";
    }
    *out_value = (int32_t)total_s;
    return NULL;
}

static const char *parse_plain(enum rp_dimension d, const char *p, int32_t *out_value)
{
    struct rp_number n;
    if (rp_number_read(&p, minus_allowed(d), &n) != 0) {
        return "not a number";
    }
    if (whole_only(d) && n.decimals > 0) {
        return "a whole number is needed";
    }
    if (*p == ' ' && p[1] != '\0') {
        p++;
    }
    const struct unit *u = find_unit(d, p, strlen(p));
    if (u == NULL) {
        return "not a unit of it";
    }
    return convert(u, n, out_value) ? NULL : "too large";
}

int rp_quantity_parse(enum rp_dimension dimension, const char *field, const char *text,
                      int32_t *out_value, struct rp_problem *out_problem)
{
    int32_t value = 0;
    const char *why = dimension == RP_DIM_DURATION ? parse_duration(text, &value)
                                                   : parse_plain(dimension, text, &value);
    if (why != NULL) {
        return refuse(dimension, field, text, why, out_problem);
    }
    *out_value = value;
    return 0;
}

static const struct {
    const char *word;
    enum rp_amount_unit unit;
    int32_t factor; /* thousandths of `unit` in one of the typed unit */
} amount_units[] = {
    {"mg", RP_AMOUNT_MG, 1000},          {"g", RP_AMOUNT_G, 1000},
    {"mcg", RP_AMOUNT_MCG, 1000},        {"ug", RP_AMOUNT_MCG, 1000},
    {"mL", RP_AMOUNT_ML, 1000},          {"L", RP_AMOUNT_ML, 1000000},
    {"tab", RP_AMOUNT_TABLET, 1000},     {"tablet", RP_AMOUNT_TABLET, 1000},
    {"tablets", RP_AMOUNT_TABLET, 1000}, {"puff", RP_AMOUNT_PUFF, 1000},
    {"puffs", RP_AMOUNT_PUFF, 1000},     {"IU", RP_AMOUNT_IU, 1000},
};

/* Record bound: see the dose of a treatment in the record schema. */
#define AMOUNT_MILLI_MAX 10000000

static int refuse_amount(const char *text, const char *why, struct rp_problem *out_problem)
{
    return rp_problem_set(out_problem, RP_E_INVALID, "dose",
                          "dose \"%.40s\": %s; units: mg, g, mcg, mL, L, tablet, puff, IU "
                          "(example: 8mg)",
                          text, why);
}

int rp_amount_parse(const char *text, struct rp_amount *out_amount, struct rp_problem *out_problem)
{
    const char *p = text;
    struct rp_number n;
    if (rp_number_read(&p, false, &n) != 0) {
        return refuse_amount(text, "not a number", out_problem);
    }
    p += *p == ' ';
    if (*p == '\0') {
        return refuse_amount(text, "a dose needs its unit", out_problem);
    }
    for (size_t i = 0; i < sizeof amount_units / sizeof amount_units[0]; i++) {
        if (strcasecmp(amount_units[i].word, p) != 0) {
            continue;
        }
        struct unit u = {RP_DIM_COUNT, "", amount_units[i].factor, 1, 0};
        int32_t milli;
        if (!convert(&u, n, &milli) || milli > AMOUNT_MILLI_MAX || milli < 1) {
            return refuse_amount(text, "outside 0.001-10000 of its unit", out_problem);
        }
        *out_amount = (struct rp_amount){(uint32_t)milli, amount_units[i].unit};
        return 0;
    }
    return refuse_amount(text, "not a unit of dose", out_problem);
}
