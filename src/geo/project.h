/* What the reader of grid references needs from GeographicLib. Private to this room. */
#ifndef RP_GEO_PROJECT_H
#define RP_GEO_PROJECT_H

#include <stdbool.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* A grid reference without spaces: its middle, and digits of the easting (-1: none, 0: the
 * 100 km square). RP_E_INVALID when it names no square. */
int rp_geo_from_mgrs(const char *reference, int32_t *out_lat_e6, int32_t *out_lon_e6,
                     int *out_digits);
/* UTM, zone 1..60, in metres. RP_E_INVALID outside the zone's plane. */
int rp_geo_from_utm(int zone, bool north, double easting_m, double northing_m, int32_t *out_lat_e6,
                    int32_t *out_lon_e6);
/* The latitude band of a latitude: 'C'..'X'. */
char rp_geo_band(int32_t lat_e6);

#ifdef __cplusplus
}
#endif

#endif
