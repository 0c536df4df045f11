// The only C++ of the project: GeographicLib behind plain C functions. No exception leaves it.
#include "geo/geo.h"

#include <cmath>
#include <cstdio>
#include <cstring>
#include <exception>
#include <string>

#include <GeographicLib/Geodesic.hpp>
#include <GeographicLib/MGRS.hpp>
#include <GeographicLib/UTMUPS.hpp>

#include "geo/project.h"

namespace {

using GeographicLib::MGRS;
using GeographicLib::UTMUPS;

bool valid(int32_t lat_e6, int32_t lon_e6)
{
    return lat_e6 >= -90000000 && lat_e6 <= 90000000 && lon_e6 >= -180000000 && lon_e6 <= 180000000;
}

struct fix {
    int zone; // 0: UPS
    bool north;
    double easting_m, northing_m;
};

fix project(int32_t lat_e6, int32_t lon_e6)
{
    fix f{};
    UTMUPS::Forward(lat_e6 / 1e6, lon_e6 / 1e6, f.zone, f.north, f.easting_m, f.northing_m);
    return f;
}

// "45RVL9265795875" or, at the poles, "ZAH2200100000".
std::string reference(const fix &f, int32_t lat_e6, int digits)
{
    std::string text;
    if (f.zone == 0) {
        MGRS::Forward(f.zone, f.north, f.easting_m, f.northing_m, digits, text);
    } else {
        // With the latitude the band is that of the fix itself, also beside a boundary.
        MGRS::Forward(f.zone, f.north, f.easting_m, f.northing_m, lat_e6 / 1e6, digits, text);
    }
    return text;
}

void put(char *out_text, const std::string &text)
{
    std::snprintf(out_text, RP_GEO_TEXT_MAX, "%s", text.c_str());
}

int to_e6(double degrees)
{
    return static_cast<int>(std::lround(degrees * 1e6));
}

int unproject(int zone, bool north, double easting_m, double northing_m, int32_t *out_lat_e6,
              int32_t *out_lon_e6)
{
    double lat = 0, lon = 0;
    UTMUPS::Reverse(zone, north, easting_m, northing_m, lat, lon, true); // limits of MGRS
    *out_lat_e6 = to_e6(lat);
    *out_lon_e6 = to_e6(lon);
    return RP_OK;
}

} // namespace

char rp_geo_band(int32_t lat_e6)
{
    // Bands of 8 degrees from -80, without I and O; the last reaches to 84.
    int i = (lat_e6 + 80000000) / 8000000;
    return "CDEFGHJKLMNPQRSTUVWX"[i < 0 ? 0 : i > 19 ? 19 : i];
}

int rp_geo_show_utm(int32_t lat_e6, int32_t lon_e6, char out_text[RP_GEO_TEXT_MAX])
{
    if (!valid(lat_e6, lon_e6)) {
        return RP_E_INVALID;
    }
    try {
        fix f = project(lat_e6, lon_e6);
        std::string grid = reference(f, lat_e6, 0);
        // The letters of the reference up to the square: "45R", or "Z".
        std::string zone = grid.substr(0, grid.size() - 2);
        char text[RP_GEO_TEXT_MAX];
        std::snprintf(text, sizeof text, "%s%s %06ld %07ld", f.zone == 0 ? "UPS " : "",
                      zone.c_str(), static_cast<long>(std::floor(f.easting_m)),
                      static_cast<long>(std::floor(f.northing_m)));
        put(out_text, text);
        return RP_OK;
    } catch (const std::exception &) {
        return RP_E_INVALID;
    }
}

int rp_geo_show_mgrs(int32_t lat_e6, int32_t lon_e6, int digits, char out_text[RP_GEO_TEXT_MAX])
{
    if (!valid(lat_e6, lon_e6) || digits < 2 || digits > RP_GEO_DIGITS_MAX) {
        return RP_E_INVALID;
    }
    try {
        std::string text = reference(project(lat_e6, lon_e6), lat_e6, digits);
        size_t numbers = text.size() - 2 * static_cast<size_t>(digits);
        text.insert(numbers + static_cast<size_t>(digits), " ");
        text.insert(numbers, " ");
        text.insert(numbers - 2, " ");
        put(out_text, text);
        return RP_OK;
    } catch (const std::exception &) {
        return RP_E_INVALID;
    }
}

int rp_geo_from_mgrs(const char *reference, int32_t *out_lat_e6, int32_t *out_lon_e6,
                     int *out_digits)
{
    try {
        int zone = 0, digits = 0;
        bool north = false;
        double easting_m = 0, northing_m = 0;
        MGRS::Reverse(reference, zone, north, easting_m, northing_m, digits, true);
        *out_digits = digits;
        return unproject(zone, north, easting_m, northing_m, out_lat_e6, out_lon_e6);
    } catch (const std::exception &) {
        return RP_E_INVALID;
    }
}

int rp_geo_from_utm(int zone, bool north, double easting_m, double northing_m, int32_t *out_lat_e6,
                    int32_t *out_lon_e6)
{
    try {
        return unproject(zone, north, easting_m, northing_m, out_lat_e6, out_lon_e6);
    } catch (const std::exception &) {
        return RP_E_INVALID;
    }
}

int rp_geo_between(int32_t from_lat_e6, int32_t from_lon_e6, int32_t to_lat_e6, int32_t to_lon_e6,
                   struct rp_geo_line *out_line)
{
    if (!valid(from_lat_e6, from_lon_e6) || !valid(to_lat_e6, to_lon_e6)) {
        return RP_E_INVALID;
    }
    double distance_m = 0, start_deg = 0, end_deg = 0;
    GeographicLib::Geodesic::WGS84().Inverse(from_lat_e6 / 1e6, from_lon_e6 / 1e6, to_lat_e6 / 1e6,
                                             to_lon_e6 / 1e6, distance_m, start_deg, end_deg);
    out_line->distance_m = distance_m;
    out_line->bearing_deg = start_deg < 0 ? start_deg + 360 : start_deg;
    return RP_OK;
}
