#include "clinical/sky/daylight.h"

#include <math.h>

#include "ridgepost/error.h"

#define DAY_S         86400.0
#define DEG           0.017453292519943295 /* radians */
#define DAYS_AT_EPOCH 9496.5               /* from noon of 2000-01-01 (J2000.0) to 2026-01-01Z */
#define ZENITH_RISE   90.83333333333333    /* 90 degrees 50' */
#define ZENITH_CIVIL  96.0
#define ROUNDS        4 /* of the approach to an event; each leaves about a hundredth */

struct sun_place {
    double declination_rad, equation_min; /* equation of time */
};

/* Meeus chapter 25, lower accuracy, and 28 for the equation of time. */
static struct sun_place sun_at(double net_s)
{
    double t = (DAYS_AT_EPOCH + net_s / DAY_S) / 36525.0;
    double mean = DEG * (280.46646 + t * (36000.76983 + 0.0003032 * t));
    double anomaly = DEG * (357.52911 + t * (35999.05029 - 0.0001537 * t));
    double e = 0.016708634 - t * (0.000042037 + 0.0000001267 * t);
    double centre = sin(anomaly) * (1.914602 - t * (0.004817 + 0.000014 * t)) +
                    sin(2 * anomaly) * (0.019993 - 0.000101 * t) + sin(3 * anomaly) * 0.000289;
    double node = DEG * (125.04 - 1934.136 * t);
    double apparent = mean + DEG * (centre - 0.00569 - 0.00478 * sin(node));
    double obliquity =
        DEG * (23.439291111 - t * (0.013004167 + t * (0.00000016389 - 0.00000050361 * t)) +
               0.00256 * cos(node));
    double y = tan(obliquity / 2) * tan(obliquity / 2);
    double equation = y * sin(2 * mean) - 2 * e * sin(anomaly) +
                      4 * e * y * sin(anomaly) * cos(2 * mean) - 0.5 * y * y * sin(4 * mean) -
                      1.25 * e * e * sin(2 * anomaly);
    return (struct sun_place){asin(sin(obliquity) * sin(apparent)), 4 * equation / DEG};
}

/* Cosine of the hour angle at which the sun stands at that zenith distance; beyond +-1 it never
 * does. */
static double cos_hour(double zenith_deg, double lat_rad, double declination_rad)
{
    return cos(DEG * zenith_deg) / (cos(lat_rad) * cos(declination_rad)) -
           tan(lat_rad) * tan(declination_rad);
}

static double noon_of(double mean_noon_s)
{
    double at_s = mean_noon_s;
    for (int i = 0; i < ROUNDS; i++) {
        at_s = mean_noon_s - 60.0 * sun_at(at_s).equation_min;
    }
    return at_s;
}

/* One crossing; side -1 before noon, +1 after. */
static double crossing(double mean_noon_s, double lat_rad, double zenith_deg, double side)
{
    double at_s = mean_noon_s;
    for (int i = 0; i < ROUNDS; i++) {
        struct sun_place sun = sun_at(at_s);
        double c = cos_hour(zenith_deg, lat_rad, sun.declination_rad);
        double hour_min = 4 * acos(fmax(-1.0, fmin(1.0, c))) / DEG;
        at_s = mean_noon_s + 60.0 * (side * hour_min - sun.equation_min);
    }
    return at_s;
}

static enum rp_sun behaviour(double zenith_deg, double lat_rad, double noon_s)
{
    double c = cos_hour(zenith_deg, lat_rad, sun_at(noon_s).declination_rad);
    return c < -1.0 ? RP_SUN_STAYS_ABOVE : c > 1.0 ? RP_SUN_STAYS_BELOW : RP_SUN_CROSSES;
}

int rp_daylight_at(int32_t lat_e6, int32_t lon_e6, uint32_t time_s, struct rp_daylight *out_day)
{
    if (lat_e6 < -90000000 || lat_e6 > 90000000 || lon_e6 < -180000000 || lon_e6 > 180000000) {
        return RP_E_INVALID;
    }
    /* At the poles themselves every hour angle is the same: a hand's breadth beside them. */
    double lat_rad = DEG * fmax(-89.999999, fmin(89.999999, lat_e6 / 1e6));
    double local_s = time_s + lon_e6 / 1e6 * 240.0; /* 4 minutes a degree */
    double mean_noon_s = time_s - local_s + floor(local_s / DAY_S) * DAY_S + DAY_S / 2;
    double noon_s = noon_of(mean_noon_s);
    *out_day = (struct rp_daylight){
        .sun = behaviour(ZENITH_RISE, lat_rad, noon_s),
        .twilight = behaviour(ZENITH_CIVIL, lat_rad, noon_s),
        .noon_s = llround(noon_s),
        .dawn_s = llround(crossing(mean_noon_s, lat_rad, ZENITH_CIVIL, -1)),
        .sunrise_s = llround(crossing(mean_noon_s, lat_rad, ZENITH_RISE, -1)),
        .sunset_s = llround(crossing(mean_noon_s, lat_rad, ZENITH_RISE, 1)),
        .dusk_s = llround(crossing(mean_noon_s, lat_rad, ZENITH_CIVIL, 1)),
    };
    return 0;
}

int64_t rp_daylight_last_start(const struct rp_daylight *day, uint32_t descent_s, uint32_t margin_s)
{
    return day->sunset_s - (int64_t)descent_s - (int64_t)margin_s;
}

bool rp_daylight_is_light(const struct rp_daylight *day, uint32_t time_s)
{
    if (day->twilight != RP_SUN_CROSSES) {
        return day->twilight == RP_SUN_STAYS_ABOVE;
    }
    return time_s >= day->dawn_s && time_s <= day->dusk_s;
}
