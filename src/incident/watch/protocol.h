/* The protocol table of drugs: what the expedition's doctor reviewed and signed. It is data, read
 * from a file; the tool compares entries with it and reminds, it never recommends. */
#ifndef RP_INCIDENT_WATCH_PROTOCOL_H
#define RP_INCIDENT_WATCH_PROTOCOL_H

#include <stdbool.h>
#include <stdint.h>

#include "wire/record.h"

#define RP_DRUGS_MAX       24
#define RP_DRUG_WORDS_MAX  6
#define RP_DRUG_CAUTIONS   4
#define RP_DRUG_ROUTES_MAX 8

struct rp_drug {
    char name[RP_NAME_LEN + 1];
    char also[RP_DRUG_WORDS_MAX][RP_NAME_LEN + 1]; /* other names; empty: none */
    uint16_t routes;       /* bit n: enum rp_route n; 0: not said, nothing is checked */
    uint8_t unit;          /* enum rp_dose_unit of the doses below */
    uint32_t dose_milli;   /* usual dose, thousandths of unit; 0: not said */
    uint32_t single_milli; /* largest single dose; 0: not said, nothing is checked */
    uint32_t day_milli;    /* most in any 24 h; 0: not said, nothing is checked */
    uint32_t interval_s;   /* between doses; 0: not said, nothing is due */
    bool vasodilator;      /* acts on the pulmonary vessels: never two different ones together */
    char allergy[RP_DRUG_WORDS_MAX][RP_NAME_LEN + 1]; /* words in an allergy that forbid it */
    char cautions[RP_DRUG_CAUTIONS][RP_LINE_LEN + 1];
    char source[RP_LINE_LEN + 1];
};

struct rp_protocol {
    char title[RP_LINE_LEN + 1];
    char reviewed_by[RP_LINE_LEN + 1]; /* empty: not reviewed */
    char reviewed_on[11];              /* "2026-10-05"; empty: not reviewed */
    uint8_t count;
    struct rp_drug drugs[RP_DRUGS_MAX];
};

/* Both a name and a date stand in the file. */
static inline bool rp_protocol_reviewed(const struct rp_protocol *protocol)
{
    return protocol->reviewed_by[0] != '\0' && protocol->reviewed_on[0] != '\0';
}

#endif
