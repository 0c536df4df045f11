/* The places of an episode as GeoJSON (RFC 7946): longitude first, WGS 84. */
#ifndef RP_HANDOVER_DATA_GEOJSON_H
#define RP_HANDOVER_DATA_GEOJSON_H

#include "handover/model.h"

/* A FeatureCollection of points: patient (newest place), opening (when elsewhere), landing site.
 * Height is above mean sea level, so it is a property and never the third coordinate, which
 * RFC 7946 section 4 has above the ellipsoid. As rp_form_render. */
int rp_geojson_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                      size_t cap);

#endif
