/* Positions as typed, on WGS 84, to millionths of a degree (about 0.1 m). */
#ifndef RP_CLINICAL_POSITION_H
#define RP_CLINICAL_POSITION_H

#include <stdint.h>

#include "base/problem.h"

/* Latitude then longitude:
 *   "27.98800,86.92533"       signed degrees; the comma is needed, a space may follow it
 *   "27.988N 86.92533E"       degrees and a letter; with letters either may come first
 *   "27 59.280N 86 55.520E"   degrees and decimal minutes
 *   "27 59 16.8N 86 55 31.2E" degrees, minutes and seconds
 * Only the last number of a coordinate may have decimals (at most 9); minutes and seconds are
 * below 60. *out_lat_e6: +-90e6, north positive; *out_lon_e6: +-180e6, east positive; rounded to
 * nearest. Two bare numbers without comma are refused: they could be degrees and minutes.
 * RP_E_INVALID with an example in the text. */
int rp_position_parse(const char *text, int32_t *out_lat_e6, int32_t *out_lon_e6,
                      struct rp_problem *out_problem);

/* How far apart two positions are, in metres, on a sphere and a flat map between them: good to 1 %
 * up to 100 km, enough to tell a slip from a walk. Distances shown to people come from the
 * ellipsoid. Positions within +-90e6, +-180e6. */
double rp_position_apart_m(int32_t lat_a_e6, int32_t lon_a_e6, int32_t lat_b_e6, int32_t lon_b_e6);

#endif
