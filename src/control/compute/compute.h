/* Numbers without a patient: `compute chamber 5480m 2psi`. Nothing is recorded. Every answer names
 * its model or rule, and every command works without a node (entry->node NULL). */
#ifndef RP_CONTROL_COMPUTE_COMPUTE_H
#define RP_CONTROL_COMPUTE_COMPUTE_H

#include "control/show/show.h"

/* One word an answer is computed from. */
struct rp_compute_word {
    const char *word;       /* keyword */
    enum rp_range_id range; /* its bounds and dimension */
    bool bare;              /* may stand without its keyword, known by its unit */
    const char *example;
    int32_t value; /* as stored by the range */
    bool given;
};

/* Reads all remaining words into the table; a word of no value (a flag) stands in `flags`, which
 * ends with NULL, and sets the bit of its index. RP_E_* with the problem filled. */
int rp_compute_read(struct rp_show *show, struct rp_compute_word *words, size_t count,
                    const char *const *flags, unsigned *out_flags, const char *example);
/* RP_E_FORMAT when the word was not given. */
int rp_compute_need(struct rp_show *show, const struct rp_compute_word *word, const char *example);

/* The altitude of this station, or false. */
bool rp_compute_home(const struct rp_show *show, struct rp_altitude *out_altitude,
                     struct rp_position *out_position);

typedef int rp_compute_command(struct rp_show *show);
rp_compute_command rp_compute_chamber, rp_compute_pressure, rp_compute_pump, rp_compute_oxygen,
    rp_compute_daylight, rp_compute_position, rp_compute_old_score, rp_compute_cold,
    rp_compute_weather;

/* The examples, one a line, for help texts. */
const char *rp_compute_usage(void);

#endif
