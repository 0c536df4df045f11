#include "clinical/oxygen.h"

#include "clinical/number.h"
#include "ridgepost/error.h"

static bool within(int32_t value, int32_t low, int32_t high)
{
    return value >= low && value <= high;
}

int rp_oxygen_usable(const struct rp_cylinder *cylinders, size_t count, int32_t reserve_bar,
                     int32_t *out_usable_dl)
{
    if (count > RP_OXYGEN_CYLINDERS_MAX || !within(reserve_bar, 0, 350)) {
        return RP_E_INVALID;
    }
    int32_t total_dl = 0; /* at most 32 * 500 * 350 */
    for (size_t i = 0; i < count; i++) {
        if (!within(cylinders[i].water_dl, 5, 500) || !within(cylinders[i].pressure_bar, 0, 350)) {
            return RP_E_INVALID;
        }
        if (cylinders[i].pressure_bar > reserve_bar) {
            total_dl += (cylinders[i].pressure_bar - reserve_bar) * cylinders[i].water_dl;
        }
    }
    *out_usable_dl = total_dl;
    return 0;
}

int rp_oxygen_endurance(int32_t usable_dl, int32_t flow_dlpm, int32_t *out_endurance_s)
{
    if (!within(usable_dl, 0, 10000000) || !within(flow_dlpm, 1, 250)) {
        return RP_E_INVALID;
    }
    *out_endurance_s = (int32_t)((int64_t)usable_dl * 60 / flow_dlpm);
    return 0;
}

int rp_oxygen_flow_until(int32_t usable_dl, int32_t until_s, int32_t *out_flow_dlpm)
{
    if (!within(usable_dl, 0, 10000000) || !within(until_s, 1, 604800)) {
        return RP_E_INVALID;
    }
    int64_t flow = (int64_t)usable_dl * 60 / until_s;
    *out_flow_dlpm = flow > 250 ? 250 : (int32_t)flow;
    return 0;
}

int rp_oxygen_at_temperature(int32_t pressure_bar, int32_t from_dc, int32_t to_dc, int32_t *out_bar)
{
    if (!within(pressure_bar, 0, 350) || !within(from_dc, -700, 600) || !within(to_dc, -700, 600)) {
        return RP_E_INVALID;
    }
    /* Hundredths of a kelvin; gauge plus 1 bar is the absolute pressure. */
    int64_t from_ck = 27315 + 10 * from_dc, to_ck = 27315 + 10 * to_dc;
    /* Never negative: an empty cylinder at 60 C, cooled to -70 C, shows -0.39 bar, rounded to 0. */
    *out_bar = (int32_t)rp_number_divide((pressure_bar + 1) * to_ck - from_ck, from_ck);
    return 0;
}
