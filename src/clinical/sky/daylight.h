/* When the sun rises and sets, and the ends of civil twilight, at a place on a day. For a flat
 * horizon at the height of the place: a ridge takes the sun earlier and brings it later.
 *
 * NOAA low-precision solar calculation (Meeus, Astronomical Algorithms, chapters 25 and 28, with
 * the constants of its published spreadsheet; from memory). Sunrise and sunset: centre of the sun
 * 50' below the horizon (34' refraction, 16' half its width); civil twilight: 6 degrees below. */
#ifndef RP_CLINICAL_SKY_DAYLIGHT_H
#define RP_CLINICAL_SKY_DAYLIGHT_H

#include <stdbool.h>
#include <stdint.h>

/* What the sun does between two of its midnights. */
enum rp_sun { RP_SUN_CROSSES, RP_SUN_STAYS_ABOVE, RP_SUN_STAYS_BELOW };

/* Times are net time, seconds from 2026-01-01Z; meaningful only where the sun crosses. */
struct rp_daylight {
    enum rp_sun sun;      /* about the horizon */
    enum rp_sun twilight; /* about 6 degrees below it */
    int64_t noon_s;
    int64_t dawn_s, sunrise_s, sunset_s, dusk_s;
};

/* The solar day (midnight to midnight of the sun at that place) that holds time_s. Position in
 * millionths of a degree. RP_E_INVALID for a position outside +-90e6, +-180e6. */
int rp_daylight_at(int32_t lat_e6, int32_t lon_e6, uint32_t time_s, struct rp_daylight *out_day);

/* The last time to start a descent of descent_s seconds so that it ends margin_s before sunset:
 * sunset - descent - margin. Ours; half the descent is the margin when a party has none of its
 * own (clinical references 6.3: "sunset - descent time x 1.5", design judgement). */
#define RP_DESCENT_MARGIN_OF(descent_s) ((descent_s) / 2)
int64_t rp_daylight_last_start(const struct rp_daylight *day, uint32_t descent_s,
                               uint32_t margin_s);

/* Whether it is light enough to walk: between dawn and dusk of that day. */
bool rp_daylight_is_light(const struct rp_daylight *day, uint32_t time_s);

#endif
