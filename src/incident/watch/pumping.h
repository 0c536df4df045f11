/* Who pumps and how much, as the strokes tell it, and what the air in the chamber is like by that:
 * an estimate from strokes, the party's own stroke and chamber volume, and resting gas exchange
 * (clinical/pump.h). Out of the records, and what the station has not recorded yet. */
#ifndef RP_INCIDENT_WATCH_PUMPING_H
#define RP_INCIDENT_WATCH_PUMPING_H

#include "clinical/pump.h"
#include "incident/watch/watch.h"

struct rp_pumping {
    bool told;            /* strokes of the newest session are known; else only the need is */
    uint32_t strokes;     /* in that session */
    uint32_t last_s;      /* net time of the last one */
    uint32_t rate_dpm;    /* strokes a minute of late, tenths; 0: too short to tell */
    const char *pumper;   /* of the newest stretch, borrowed; "": nobody was named */
    uint32_t turn_from_s; /* since when this person pumps without another between */
    uint32_t turn_s;      /* how long in that time, pauses left out */
    uint32_t pumper_s;    /* how long this person has pumped in the last 12 h */
    /* The air inside at now, without oxygen given: false when the plan does not know the party's
     * chamber and pump, the altitude is not known, or the patient is not inside. */
    bool has_air;
    struct rp_pump_air rest, distress;
    /* Strokes a minute that hold CO2 at 1 %, at the standard temperature of the altitude; whether
     * or not any was told. False when the plan does not know the stroke, the altitude is not known,
     * or the patient is not inside. */
    bool has_need;
    int32_t needed_rest, needed_distress;
};

/* The episode must be finished at now_s. station and plan may be NULL. */
void rp_pumping_of(const struct rp_episode *episode, const struct rp_watch_plan *plan,
                   const struct rp_watch_station *station, uint32_t now_s,
                   struct rp_pumping *out_pumping);

/* How long the person of pumping entry `index` has pumped in this illness, pauses left out. False
 * when that entry is voided or not the first of this person: so each person is told once. */
bool rp_pumper_total(const struct rp_episode *episode, size_t index, uint32_t *out_span_s);

#endif
