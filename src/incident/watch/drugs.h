/* Doses against the protocol table: what stands against one, and when the next is due. Never a
 * recommendation: a dose that is due is one whose interval is over. */
#ifndef RP_INCIDENT_WATCH_DRUGS_H
#define RP_INCIDENT_WATCH_DRUGS_H

#include "incident/episode.h"
#include "incident/watch/protocol.h"

/* The table's drug of that name or other name, case aside; NULL: not in the table, or no table
 * (protocol NULL). */
const struct rp_drug *rp_drug_find(const struct rp_protocol *protocol, const char *name);

/* For a name that is in no table: a drug of it that begins with the same four letters (three when
 * the name is no longer), case aside, so that a short name does not slip past the checks; NULL:
 * none, or the name is found as it is. */
const struct rp_drug *rp_drug_near(const struct rp_protocol *protocol, const char *name);

/* Whether an amount in this unit (enum rp_dose_unit) can be counted in the drug's own. */
bool rp_drug_counts(const struct rp_drug *drug, uint8_t unit);

/* What was found about a dose that is to be entered as given at at_s. */
struct rp_dose_check {
    const struct rp_drug *drug; /* NULL: not in the table; of the rest only DOUBLE is judged */
    uint8_t flags;              /* RP_DOSE_ bits of the record; 0: nothing stands against it */
    bool amount_unknown;        /* no dose, or in a unit the table does not count in */
    bool has_last;
    uint32_t last_s;    /* the dose of the same drug next before or after, net time */
    uint32_t due_s;     /* EARLY, DOUBLE: from when it would not be */
    uint32_t day_milli; /* given in the 24 h around it at most, this one included */
    const char *other;  /* VASODILATORS: the other drug's name, borrowed from the episode */
};

/* The episode must be finished. Only drugs that were given count: refused and voided ones do not.
 * A dose entered late is compared with the one before and the one after it. */
void rp_dose_judge(const struct rp_protocol *protocol, const struct rp_episode *episode,
                   const struct rp_rec_treatment *dose, uint32_t at_s,
                   struct rp_dose_check *out_check);

/* One drug of the table that was given and has an interval. */
struct rp_drug_due {
    const struct rp_drug *drug;
    uint8_t subject;            /* tells the alarms of drugs apart: 1..255, by the name */
    const struct rp_dose *last; /* the newest dose, borrowed */
    uint32_t due_s;             /* net time when the interval is over */
};
/* Fills at most RP_DRUGS_MAX, in the order of the table; returns how many. protocol NULL: none. */
size_t rp_drugs_due(const struct rp_protocol *protocol, const struct rp_episode *episode,
                    struct rp_drug_due out_due[RP_DRUGS_MAX]);

/* One drug in use whose stock was counted. A dose is the table's usual one, since the first is
 * often larger; without one, what was given last. */
struct rp_drug_out {
    const struct rp_drug *drug;
    uint8_t subject;
    const struct rp_stock_entry *stock; /* the newest count, borrowed */
    uint16_t doses;                     /* whole doses left now */
    uint32_t dose_milli;                /* of so much, thousandths of the drug's unit */
    uint32_t out_s; /* net time when the first dose that is not there would be due */
};
/* Fills at most RP_DRUGS_MAX, in the order of the table; returns how many. Left out is a drug that
 * is not in use, has no interval, was not counted, or in a unit the table does not count in. */
size_t rp_drugs_out(const struct rp_protocol *protocol, const struct rp_episode *episode,
                    struct rp_drug_out out_drugs[RP_DRUGS_MAX]);

/* "double", "early" ... for one RP_DOSE_ bit. */
const char *rp_dose_flag_word(uint8_t flag);

#endif
