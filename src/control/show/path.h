/* What `path` is asked: the words, read and checked. */
#ifndef RP_CONTROL_PATH_H
#define RP_CONTROL_PATH_H

#include "control/fields.h"

/* One end of the link. */
struct rp_path_end {
    bool has_position, has_ground;
    int32_t lat_e6, lon_e6;
    double ground_m;  /* altitude of the ground */
    double antenna_m; /* above the ground */
    double gain_dbi;
    char name[RP_NAME_LEN + 12];
};

struct rp_path_ask {
    struct rp_path_end ends[2]; /* from, to */
    bool has_distance, has_ridge;
    double distance_m;  /* along the ground */
    double bearing_deg; /* true, from the first end, when two places were given */
    double ridge_top_m, ridge_at_m;
    double freq_hz, power_dbm;
    uint32_t bandwidth_hz;
};

/* Reads `distance 5km`, or `[from STATION|POSITION] to STATION|POSITION`, and in any order
 * `altitude 5480m 4310m`, `antenna 2m 5m`, `ridge 5300m at 2km`, `gain 2.15dBi 5dBi`,
 * `power 14dBm`, `frequency 869.525MHz`, `bandwidth 125kHz`. What is not said is the net's and the
 * stations'. RP_E_INVALID, RP_E_FORMAT, RP_E_NOT_FOUND; the problem names word, bound, example. */
int rp_path_read(struct rp_entry *entry, struct rp_path_ask *out_ask);

#endif
