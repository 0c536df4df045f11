/* Radio law: one table of bands, and the check of a station's settings against a row of it.
 *
 * An engineering summary, never legal advice: what holds where a net stands is for its operator to
 * ask. A row holds only what has been found in a text, says which, and says what is unsure. */
#ifndef RP_RADIO_LAW_LAW_H
#define RP_RADIO_LAW_LAW_H

#include "base/problem.h"
#include "ridgepost/radio.h"

#define RP_BAND_WORD_LEN 15 /* bytes of the longest band word, without NUL */
/* A half-wave dipole's gain over an isotropic antenna, 0.01 dBi: ERP and EIRP differ by it. */
#define RP_DIPOLE_GAIN_CDBI 215

struct rp_band {
    const char *word;             /* as in the net file: "eu-p" */
    const char *title;            /* "Europe 869.4-869.65 MHz, band P" */
    const char *law;              /* document and edition; empty only for the row without limits */
    const char *date;             /* of the edition, "2018-06" */
    const char *clause;           /* inside the document */
    const char *transmission_law; /* where the longest transmission is from; NULL: nowhere */
    const char *unsure;           /* what was not read in the text itself; empty: nothing */
    uint32_t low_hz, high_hz;     /* the whole signal lies strictly inside; 0 0: no edges */
    uint32_t example_hz;          /* a lawful centre frequency, for error texts */
    uint32_t bandwidth_min_hz;    /* narrowest signal on one frequency; 0: none */
    bool power_is_erp;            /* the limit is radiated (ERP); else at the antenna connector */
    int16_t power_cdbm_max;       /* 0.01 dBm */
    int16_t gain_free_cdbi;       /* conducted limits: each dB of gain above takes a dB of power */
    uint16_t duty_permille_max;   /* of any sliding hour; 1000: no duty cycle */
    uint32_t transmission_ms_max; /* longest single transmission, see transmission_law; 0: none */
    uint32_t dwell_ms_max;        /* longest time on one frequency at a time; 0: none */
    bool must_hop; /* only for signals that change frequency, which this program does not */
    bool no_limit; /* no limit is known: the operator must have asked the regulator */
};

/* What a station means to do. */
struct rp_law_use {
    const struct rp_radio_profile *profile;
    uint32_t duty_permille;     /* transmit time in any sliding hour, of 1000 */
    int16_t antenna_gain_cdbd;  /* over a half-wave dipole, 0.01 dB, cable loss taken off */
    uint32_t transmission_us;   /* time on air of the longest frame */
    bool no_limit_acknowledged; /* the operator has asked the regulator */
};

/* Row `index` of the table, NULL after the last. */
const struct rp_band *rp_band_at(size_t index);
/* The row of a word, or NULL. */
const struct rp_band *rp_band_find(const char *word);
/* The words of all rows, ", " between them: at most cap bytes with the NUL. */
void rp_band_words(char *buf, size_t cap);

/* Checks everything a row bounds, in this order: acknowledgement, centre frequency, bandwidth,
 * edges, power, duty cycle, longest transmission, dwell, hopping. RP_E_INVALID with the setting in
 * the problem's field and a sentence with the bound, the rule and an example. */
int rp_law_check(const struct rp_band *band, const struct rp_law_use *use,
                 struct rp_problem *out_problem);

#endif
