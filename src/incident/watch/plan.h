/* The plan that treatment is measured against: figures the expedition's doctor sets, with defaults
 * whose source is named. The tool records, computes and reminds; none of this is advice. */
#ifndef RP_INCIDENT_WATCH_PLAN_H
#define RP_INCIDENT_WATCH_PLAN_H

#include <stdint.h>

/* Time at pressure, all sessions together, of one illness. */
struct rp_illness_plan {
    uint32_t least_s, usual_s; /* common practice: from, to */
    uint32_t field_s;          /* what held the improvement in a published field series */
};

struct rp_watch_plan {
    uint32_t session_s;   /* one session at pressure, then out to be reassessed */
    uint32_t deflation_s; /* letting the pressure off takes about this long */
    uint32_t rebound_s;   /* watch for relapse after coming out */
    uint32_t report_s;    /* a report to base is due this often */
    uint32_t report_unstable_s;
    uint32_t descent_s; /* how long the way down takes; 0: not set, nothing is judged */
    /* The party's own chamber and pump, measured: tenths of a litre; 0: not set, no estimate. */
    int32_t volume_dl, stroke_dl;
    int32_t gauge_target_dhpa, gauge_max_dhpa; /* tenths of hPa above outside */
    struct rp_illness_plan ams, hape, hace;
};

extern const struct rp_watch_plan rp_watch_plan_default;

#endif
