/* Answers and readings with "not known" as a value of its own. The numbers of the truth values are
 * those of the wire's findings: not asked, no, yes. */
#ifndef RP_CLINICAL_FINDING_H
#define RP_CLINICAL_FINDING_H

#include <stdbool.h>
#include <stdint.h>

enum rp_truth { RP_TRUTH_UNKNOWN, RP_TRUTH_NO, RP_TRUTH_YES };

struct rp_reading {
    bool known; /* measured; unable and not measured are both not known */
    int32_t value;
};

#endif
