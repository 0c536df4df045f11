/* Quantities with units, as typed: "2psi", "13900ft", "1h30". Each dimension has one stored
 * integer unit; every accepted unit is converted to it by a rational factor and rounded once, to
 * the nearest stored unit, halves away from zero. */
#ifndef RP_CLINICAL_QUANTITY_H
#define RP_CLINICAL_QUANTITY_H

#include <stdint.h>

#include "base/problem.h"

/* X(name, stored unit, accepted units as shown, example) */
#define RP_DIMENSIONS(X)                                                                           \
    X(COUNT, "1", "none: a whole number", "3")                                                     \
    X(PERCENT, "1 %", "%", "71%")                                                                  \
    X(RATE, "1 a minute", "/min", "96/min")                                                        \
    X(BLOOD, "1 mmHg", "mmHg", "120mmHg")                                                          \
    X(BODY_TEMP, "0.1 C", "C, F", "36.4C")                                                         \
    X(AIR_TEMP, "1 C", "C, F", "-15C")                                                             \
    X(PRESSURE, "0.1 hPa", "hPa, mbar, kPa, mmHg, psi, inHg, cmH2O, bar", "138hPa")                \
    X(CYLINDER, "1 bar", "bar, psi, MPa", "180bar")                                                \
    X(LENGTH, "1 m", "m, ft, km", "5480m")                                                         \
    X(DURATION, "1 s", "s, min, h, d", "1h30")                                                     \
    X(DOSE_MASS, "1 mcg", "mcg, mg, g", "8mg")                                                     \
    X(VOLUME, "0.1 L", "L, mL", "4L")                                                              \
    X(FLUID, "1 mL", "mL, L", "250mL")                                                             \
    X(FLOW, "0.1 L/min", "L/min", "2L/min")                                                        \
    X(SPEED, "1 km/h", "km/h, kt, m/s, mph", "20kt")                                               \
    X(ANGLE, "1 degree", "deg", "270deg")                                                          \
    X(BODY_MASS, "1 kg", "kg, lb", "72kg")                                                         \
    X(YEARS, "1 year", "y", "34y")

enum rp_dimension {
#define RP_DIMENSION_ENUM(name, stored, units, example) RP_DIM_##name,
    RP_DIMENSIONS(RP_DIMENSION_ENUM)
#undef RP_DIMENSION_ENUM
        RP_DIM_COUNT_OF
};

/* Reads one quantity: a number, at most one space, and a unit; case of the unit does not matter.
 * A bare number is in the default unit: hPa, bar, m, cm, C, L/min, km/h, kg and so on, the first
 * unit in the list above; of DURATION it is minutes, of DOSE_MASS mg. DURATION also takes
 * runs without spaces inside ("1h30", "1h30min", "2d4h"). COUNT, PERCENT, RATE, BLOOD, ANGLE and
 * YEARS refuse decimals. `field` names the input in problem texts. RP_E_INVALID with a text that
 * names the accepted units and an example for: empty text, no number, an unknown unit or one of
 * another dimension, anything left over, a comma, an exponent, a number out of the stored type. No
 * range is checked here: see range.h. */
int rp_quantity_parse(enum rp_dimension dimension, const char *field, const char *text,
                      int32_t *out_value, struct rp_problem *out_problem);

/* An amount of a drug or fluid in the unit it was given in: never converted, so that the log says
 * what was said. The numbers are those of the wire's dose units. */
enum rp_amount_unit {
    RP_AMOUNT_NONE,
    RP_AMOUNT_MG,
    RP_AMOUNT_G,
    RP_AMOUNT_MCG,
    RP_AMOUNT_ML,
    RP_AMOUNT_TABLET,
    RP_AMOUNT_PUFF,
    RP_AMOUNT_IU
};
struct rp_amount {
    uint32_t milli;           /* thousandths of the unit, 1..10,000,000 */
    enum rp_amount_unit unit; /* never NONE after a parse */
};
/* "8mg", "0.5g", "250mcg", "500mL", "0.5L" (as mL), "1 tablet", "2puffs", "100IU". A bare number
 * is refused: a dose without its unit is not a dose. RP_E_INVALID with an example. */
int rp_amount_parse(const char *text, struct rp_amount *out_amount, struct rp_problem *out_problem);

#endif
