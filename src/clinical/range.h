/* The ranges of everything a person can enter: outside the hard bounds is refused, outside the
 * likely bounds is asked again. One table for the command line, the page and the tests.
 *
 * Source of the bounds: the input ranges of the clinical references, section 3.5 (design
 * judgement there, not published: hard bounds are what an instrument can show, likely bounds what
 * is seen at altitude); scores by their own definitions. Bounds the references do not give are
 * those of the record schema. A likely bound equal to the hard one never asks. */
#ifndef RP_CLINICAL_RANGE_H
#define RP_CLINICAL_RANGE_H

#include <stdbool.h>
#include <stdint.h>

#include "base/problem.h"
#include "clinical/quantity.h"

/* X(name, word, unit shown, dimension, scale, hard min, hard max, likely min, likely max, example,
 *   note)
 * Bounds are stored integers: shown value times scale. The word is what is typed. */
#define RP_RANGES(X)                                                                               \
    X(SPO2, "spo2", "%", PERCENT, 1, 0, 100, 50, 100, "spo2 71 air",                               \
      "oximeters are unreliable below 80 % (Luks and Swenson 2011)")                               \
    X(PULSE, "pulse", "/min", RATE, 1, 0, 300, 35, 180, "pulse 96",                                \
      "0 only in an unresponsive patient under resuscitation")                                     \
    X(RESP, "resp", "/min", RATE, 1, 0, 90, 8, 50, "resp 24", "count 30 s twice")                  \
    X(SYSTOLIC, "systolic", "mmHg", BLOOD, 1, 30, 300, 80, 200, "systolic 118",                    \
      "above the diastolic")                                                                       \
    X(DIASTOLIC, "diastolic", "mmHg", BLOOD, 1, 10, 200, 40, 120, "diastolic 74",                  \
      "below the systolic")                                                                        \
    X(TEMP, "temp", "C", BODY_TEMP, 10, 100, 450, 340, 405, "temp 36.4 oral",                      \
      "the site is needed: oral, tympanic or oesophageal")                                         \
    X(GCS_EYE, "gcs-eye", "", COUNT, 1, 1, 4, 1, 4, "gcs-eye 4", "Glasgow Coma Scale")             \
    X(GCS_VERBAL, "gcs-verbal", "", COUNT, 1, 1, 5, 1, 5, "gcs-verbal 4", "Glasgow Coma Scale")    \
    X(GCS_MOTOR, "gcs-motor", "", COUNT, 1, 1, 6, 1, 6, "gcs-motor 6", "Glasgow Coma Scale")       \
    X(GCS, "gcs", "", COUNT, 1, 3, 15, 3, 15, "gcs 14", "sum of its three parts")                  \
    X(LLS_ITEM, "lls-item", "", COUNT, 1, 0, 3, 0, 3, "lls-item 2", "2018 Lake Louise score")      \
    X(LLS, "lls", "", COUNT, 1, 0, 12, 0, 12, "lls 5", "2018 Lake Louise score, total")            \
    X(ATAXIA, "ataxia", "", COUNT, 1, 0, 4, 0, 4, "ataxia 2", "heel to toe, Lake Louise 1991")     \
    X(FUNCTIONAL, "functional", "", COUNT, 1, 0, 3, 0, 3, "functional 2",                          \
      "clinical functional score 2018")                                                            \
    X(PAIN, "pain-score", "", COUNT, 1, 0, 10, 0, 10, "pain-score 4", "verbal numeric scale")      \
    X(URINE, "urine", "mL", FLUID, 1, 0, 3000, 0, 3000, "urine 300mL", "with its time span")       \
    X(FLUID_IN, "fluid", "mL", FLUID, 1, 0, 5000, 0, 5000, "fluid 500mL", "")                      \
    X(OVER, "over", "s", DURATION, 1, 60, 86400, 60, 86400, "over 4h",                             \
      "the time a volume is of, until now; 1 min to 24 h")                                         \
    X(FLOW, "flow", "L/min", FLOW, 10, 0, 250, 0, 80, "flow 2L/min", "oxygen flow")                \
    X(CYLINDER, "cylinder", "bar", CYLINDER, 1, 0, 350, 0, 300, "cylinder 180bar",                 \
      "compare at like temperature only")                                                          \
    X(WATER, "water", "L", VOLUME, 10, 5, 500, 5, 500, "water 4L", "water volume of a cylinder")   \
    X(GAUGE, "gauge", "hPa", PRESSURE, 10, 0, 3000, 800, 2200, "gauge 2psi",                       \
      "chamber over outside; its unit is always shown")                                            \
    X(STATION_PRESSURE, "station-pressure", "hPa", PRESSURE, 10, 2000, 10800, 2000, 10800,         \
      "station-pressure 548hPa", "not reduced to sea level; see rp_range_check_near")              \
    X(ALTITUDE, "altitude", "m", LENGTH, 1, -450, 8900, -450, 8900, "altitude 5480m",              \
      "above mean sea level; see rp_range_check_near")                                             \
    X(ALTIMETER, "altimeter", "m", LENGTH, 1, -450, 8900, -450, 8900, "altimeter 3420m",           \
      "reading of the altimeter inside the chamber")                                               \
    X(AGE, "age", "y", YEARS, 1, 0, 110, 0, 110, "age 34", "adult rules from 16")                  \
    X(WEIGHT, "weight", "kg", BODY_MASS, 1, 2, 250, 2, 250, "weight 72kg", "")                     \
    X(LATITUDE, "latitude", "degrees", COUNT, 1000000, -90000000, 90000000, -90000000, 90000000,   \
      "at 27.98800,86.92533", "WGS 84; typed as a position")                                       \
    X(LONGITUDE, "longitude", "degrees", COUNT, 1000000, -180000000, 180000000, -180000000,        \
      180000000, "at 27.98800,86.92533", "WGS 84; typed as a position")                            \
    X(ACCURACY, "accuracy", "m", LENGTH, 1, 0, 65535, 0, 100, "accuracy 15m", "of a position")     \
    X(WIND, "wind", "km/h", SPEED, 1, 0, 250, 0, 250, "wind 20kt", "mean speed; gust apart")       \
    X(GUST, "gust", "km/h", SPEED, 1, 0, 250, 0, 250, "gust 45km/h", "")                           \
    X(WIND_FROM, "wind-from", "degrees", ANGLE, 1, 0, 359, 0, 359, "wind-from 270",                \
      "where it blows from, true; north is 0")                                                     \
    X(AIR_TEMP, "air-temp", "C", AIR_TEMP, 1, -70, 50, -70, 50, "air-temp -15C", "")               \
    X(VISIBILITY, "visibility", "m", LENGTH, 1, 0, 50000, 0, 50000, "visibility 3km", "")          \
    X(CLOUD_BASE, "cloud-base", "m", LENGTH, 1, 0, 12000, 0, 12000, "cloud-base 5900m",            \
      "above mean sea level")                                                                      \
    X(SLOPE, "slope", "degrees", ANGLE, 1, 0, 60, 0, 60, "slope 4", "of the landing site")         \
    X(SITE_LENGTH, "site-length", "m", LENGTH, 1, 1, 1000, 1, 1000, "site-length 40m", "")         \
    X(SITE_WIDTH, "site-width", "m", LENGTH, 1, 1, 1000, 1, 1000, "site-width 40m", "")            \
    X(PATIENTS, "patients", "", COUNT, 1, 1, 50, 1, 50, "patients 1", "")                          \
    X(PARTY, "party", "", COUNT, 1, 0, 100, 0, 100, "party 4", "people who stay behind")           \
    X(SESSION, "session", "", COUNT, 1, 1, 255, 1, 255, "session 2", "of the chamber")             \
    X(ASK_AGAIN, "ask-again", "s", DURATION, 1, 60, 86400, 60, 86400, "ask-again 1h",              \
      "when to decide again; 1 min to 24 h")                                                       \
    X(NEXT_REPORT, "next-report", "s", DURATION, 1, 300, 7200, 300, 7200, "next-report 15min",     \
      "what others are told the next report comes within; 5 min to 2 h")                           \
    X(STROKE, "stroke", "L", VOLUME, 10, 1, 200, 5, 60, "stroke 2L",                               \
      "of the party's own pump, measured")                                                         \
    X(STROKES, "strokes", "/min", RATE, 1, 1, 300, 1, 80, "strokes 12/min", "of the pump")         \
    X(BAG_VOLUME, "volume", "L", VOLUME, 10, 500, 20000, 2000, 10000, "volume 500L",               \
      "free volume of the chamber")                                                                \
    X(STOPPED, "stopped", "s", DURATION, 1, 0, 86400, 0, 7200, "stopped 5min",                     \
      "how long nobody pumped")                                                                    \
    X(RESERVE, "reserve", "bar", CYLINDER, 1, 0, 350, 0, 50, "reserve 10bar",                      \
      "left in a cylinder")                                                                        \
    X(UNTIL, "until", "s", DURATION, 1, 1, 604800, 1, 604800, "until 9h", "from now")              \
    X(DESCENT_TIME, "descent", "s", DURATION, 1, 0, 172800, 0, 86400, "descent 4h",                \
      "how long the way down takes")                                                               \
    X(WAY_DOWN, "way-down", "s", DURATION, 1, 60, 172800, 600, 86400, "takes 4h",                  \
      "how long the way down takes, as decided")                                                   \
    X(AGO, "ago", "s", DURATION, 1, 0, 604800, 0, 86400, "ago 15min", "at most 7 days")

enum rp_range_id {
#define RP_RANGE_ENUM(name, ...) RP_RANGE_##name,
    RP_RANGES(RP_RANGE_ENUM)
#undef RP_RANGE_ENUM
        RP_RANGE_COUNT
};

struct rp_range {
    const char *word; /* as typed: "spo2" */
    const char *unit; /* as shown: "%"; empty for scores and counts */
    enum rp_dimension dimension;
    int32_t scale; /* stored = shown * scale: 1, 10 or 1000000 */
    int32_t hard_min, hard_max, likely_min, likely_max; /* stored, inclusive */
    const char *example;                                /* one that passes */
    const char *note;                                   /* one line for help texts; may be empty */
};

/* The range of an id, never NULL for a valid one. */
const struct rp_range *rp_range_of(enum rp_range_id id);
/* The range of a word, case as in the table; NULL if there is none. */
const struct rp_range *rp_range_find(const char *word);

/* Checks a stored value. RP_E_INVALID outside the hard bounds; RP_E_CONFIRM outside the likely
 * ones unless `sure`; 0 otherwise. *out_problem (may be NULL) is filled on failure. */
int rp_range_check(const struct rp_range *range, int32_t value, bool sure,
                   struct rp_problem *out_problem);
/* The same, and RP_E_CONFIRM unless `sure` when the value lies more than `within` from `near`
 * (stored units): an altitude more than 500 m from the last fix, a station pressure more than
 * 40 hPa from the model (clinical references 3.5). */
int rp_range_check_near(const struct rp_range *range, int32_t value, int32_t near, int32_t within,
                        bool sure, struct rp_problem *out_problem);
/* The hard bounds, and not 0 where the range has it: what is given flows, what is used is there.
 * RP_E_INVALID with `example`. */
int rp_range_check_some(const struct rp_range *range, int32_t value, const char *example,
                        struct rp_problem *out_problem);
/* Systolic above diastolic, in mmHg. RP_E_INVALID if not. */
int rp_range_check_blood(int32_t systolic_mmhg, int32_t diastolic_mmhg,
                         struct rp_problem *out_problem);
/* Parses text with the range's dimension (quantity.h) and checks it. Not for latitude and
 * longitude: RP_E_INVALID, see position.h. */
int rp_range_parse(const struct rp_range *range, const char *text, bool sure, int32_t *out_value,
                   struct rp_problem *out_problem);
/* The shown form of a stored value without its unit: "36.4", "71", "27.988000". Writes at most 16
 * bytes with the NUL. */
void rp_range_show(const struct rp_range *range, int32_t value, char out_text[16]);

#endif
