/* How long oxygen lasts. Whole numbers only. Content in free litres at 1 bar is water volume times
 * gauge pressure (clinical references 2.5; real gas holds about 5 % more at 200 bar, from memory:
 * ignored, which is the safe side). */
#ifndef RP_CLINICAL_OXYGEN_H
#define RP_CLINICAL_OXYGEN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What is left in a cylinder when it is given up: 10 bar by default (design judgement there). */
#define RP_OXYGEN_RESERVE_BAR   10
#define RP_OXYGEN_CYLINDERS_MAX 32

struct rp_cylinder {
    int32_t water_dl;     /* water volume, tenths of a litre, 5..500 */
    int32_t pressure_bar; /* gauge, 0..350 */
};

/* Tenths of free litres usable above the reserve in all of them together. RP_E_INVALID for values
 * outside the bounds above, a reserve outside 0..350 bar, or more than RP_OXYGEN_CYLINDERS_MAX. */
int rp_oxygen_usable(const struct rp_cylinder *cylinders, size_t count, int32_t reserve_bar,
                     int32_t *out_usable_dl);
/* Seconds that this lasts at a flow in tenths of a litre a minute (1..250), rounded down.
 * RP_E_INVALID otherwise. Whole minutes, rounded down, are this / 60. */
int rp_oxygen_endurance(int32_t usable_dl, int32_t flow_dlpm, int32_t *out_endurance_s);
/* The largest flow, tenths of a litre a minute, that lasts until_s (1..604800 seconds): rounded
 * down, so that it does last; 0 when not even 0.1 L/min does; at most 250. */
int rp_oxygen_flow_until(int32_t usable_dl, int32_t until_s, int32_t *out_flow_dlpm);

/* The gauge pressure, bar, that the same gas shows at another temperature: absolute pressure is
 * proportional to absolute temperature. So that a cold cylinder is not taken for a leak.
 * pressure_bar 0..350, temperatures -70..60 C, in tenths of a degree. RP_E_INVALID otherwise. */
int rp_oxygen_at_temperature(int32_t pressure_bar, int32_t from_dc, int32_t to_dc,
                             int32_t *out_bar);

#endif
