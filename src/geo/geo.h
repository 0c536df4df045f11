/* Positions in the forms that rescuers ask for: one WGS 84 fix as UTM (UPS at the poles) and as an
 * MGRS grid reference, distance and bearing, and all of them as typed. A thin C face of
 * GeographicLib, the only C++ of the project; nothing of C++ passes this header.
 *
 * A fix is latitude and longitude in millionths of a degree (about 0.1 m), +-90e6 and +-180e6.
 * Eastings and northings are cut, never rounded: a grid reference names a square by its lower-left
 * corner (clinical references 4.2). UTM is cut in the same way, so that both show the same digits.
 */
#ifndef RP_GEO_GEO_H
#define RP_GEO_GEO_H

#include <stdbool.h>
#include <stdint.h>

#include "base/problem.h"

#ifdef __cplusplus
extern "C" {
#endif

#define RP_GEO_TEXT_MAX   32 /* bytes of a shown form, with the NUL */
#define RP_GEO_DIGITS_MAX 5  /* digits of an easting or northing in a grid reference: 1 m */

/* Digits of a grid reference that the accuracy of a fix supports: 5 (1 m) when it is below 10 m or
 * not known, 4 (10 m) below 100 m, 3 (100 m) below 1000 m, else 2 (1 km). Ours. */
int rp_geo_digits(bool has_accuracy, uint32_t accuracy_m);

/* "45R 492657 3095875"; at the poles "UPS Z 2222001 2000000". Writes RP_GEO_TEXT_MAX bytes at most.
 * RP_E_INVALID for a position outside the range. */
int rp_geo_show_utm(int32_t lat_e6, int32_t lon_e6, char out_text[RP_GEO_TEXT_MAX]);
/* "45R VL 92657 95875", digits 2..5; at the poles "Z AH 22001 00000". */
int rp_geo_show_mgrs(int32_t lat_e6, int32_t lon_e6, int digits, char out_text[RP_GEO_TEXT_MAX]);

/* What the text of a UTM or grid reference looks like: zone digits and a letter, or a letter of the
 * poles and two more. */
bool rp_geo_is_grid(const char *text);

/* Reads a position in any form: what rp_position_parse takes (clinical/position.h), and
 *   "45R XL 1234 5678"    grid reference, 2 to 5 digits twice (1 km to 1 m); spaces do not matter
 *   "45R 492657 3095875"  UTM; the letter is the latitude band, which must fit; or the words
 *                         "45 north 492657 3095875", "45 south ..."
 * A grid reference is read as the middle of its square. *out_accuracy_m: side of the square; 1 for
 * UTM in whole metres; 0 when the form says nothing of it. RP_E_INVALID with an example. */
int rp_geo_parse(const char *text, int32_t *out_lat_e6, int32_t *out_lon_e6,
                 uint16_t *out_accuracy_m, struct rp_problem *out_problem);

struct rp_geo_line {
    double distance_m;  /* along the ellipsoid, without heights */
    double bearing_deg; /* true, at the start, 0 to below 360 */
};
/* RP_E_INVALID for a position outside the range. */
int rp_geo_between(int32_t from_lat_e6, int32_t from_lon_e6, int32_t to_lat_e6, int32_t to_lon_e6,
                   struct rp_geo_line *out_line);

#ifdef __cplusplus
}
#endif

#endif
