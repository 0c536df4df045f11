/* The treatment clock: where the patient is in the chamber, how long, how much in all against the
 * plan, the watch for relapse, and what must be asked before the next session. Derived from the
 * folded records alone, so a restart, a late entry or an order of arrival changes nothing. */
#ifndef RP_INCIDENT_WATCH_COURSE_H
#define RP_INCIDENT_WATCH_COURSE_H

#include "incident/episode.h"
#include "incident/watch/plan.h"

struct rp_course {
    /* Now. inside: the newest session was begun and nobody came out of it. */
    bool inside;
    uint8_t session, phase;  /* of the newest session; 0, RP_PHASE_NONE: there was none */
    uint32_t session_from_s; /* net time of the session's first event */
    uint32_t phase_since_s;  /* net time when the phase began */
    uint32_t phase_s;        /* how long it has lasted */
    uint32_t session_s;      /* at pressure in the newest session */
    uint32_t session_left_s; /* of the plan's session, while inside; 0: it is over */
    /* In all. */
    uint16_t sessions;
    bool older_dropped;  /* there were more sessions than are kept: totals are "at least" */
    uint32_t total_s;    /* at pressure, all sessions */
    uint16_t unanswered; /* sessions that began without "why not down?" having been answered */
    uint8_t illness;     /* RP_LABEL_ bit the plan goes by (the longest of the label); 0: none */
    struct rp_illness_plan plan; /* of that illness, zeroes without one */
    /* Deflation of the newest session that has both ends. */
    bool has_deflation, deflation_fast; /* fast: under half of the plan's time (ours) */
    uint32_t deflation_s;
    /* Watch for relapse, from coming out until plan.rebound_s later or the next session. */
    bool rebound;
    uint32_t rebound_from_s, rebound_until_s;
    uint32_t rebound_check_s; /* net time the next check is due */
    /* "Why not down?" */
    bool why_not_due;                       /* to be answered before the next session may begin */
    const struct rp_descent_entry *why_not; /* the newest answer, borrowed, or NULL */
    bool head_up;       /* inside with suspected HAPE or breathless at rest: raise the head end */
    bool clock_stepped; /* chamber events of one log whose times do not follow its sequence:
                         * durations may be wrong */
};

/* The episode must be finished (rp_episode_finish) at now_s. plan may be NULL: the default. */
void rp_course_of(const struct rp_episode *episode, const struct rp_watch_plan *plan,
                  uint32_t now_s, struct rp_course *out_course);

/* Whether "why not down?" stands answered for this session: it has begun already, or the newest
 * answer is newer than the start of the session before. */
bool rp_course_answered(const struct rp_episode *episode, uint8_t session);

#endif
