/* An episode as data for the pages. Every value has its time; what is voided is left out, except
 * where "voided" says so. */
#ifndef RP_CONTROL_VIEW_H
#define RP_CONTROL_VIEW_H

#include "control/show/show.h"

/* What a list of episodes shows of one. */
void rp_view_head(struct rp_show *show, const struct rp_episode *episode, json_t *row);
/* Everything else of it. */
void rp_view_detail(struct rp_show *show, const struct rp_episode *episode, json_t *row);
/* Folds an episode, and judges it by the watch rules that hold here; no alarms where none hold.
 * *out_episode is valid until the next call that folds. */
int rp_view_watch(struct rp_show *show, struct rp_episode_ref ref,
                  const struct rp_episode **out_episode, struct rp_alarms *out_alarms);
/* What asks for a person: alarms, the treatment clock, what is due, and the place in the list. */
void rp_view_needs(struct rp_show *show, const struct rp_episode *episode,
                   const struct rp_alarms *alarms, json_t *row);
/* Whether row a comes before row b in the list; both went through rp_view_needs. */
bool rp_view_needs_before(const json_t *a, const json_t *b);
/* What was asked for in the evacuation request in force: nothing without one. */
void rp_view_request(const struct rp_episode *episode, json_t *row);
/* Scores, chamber, oxygen and contradictions, as data and as the lines people read. */
void rp_view_assessed(struct rp_show *show, const struct rp_episode *episode, json_t *row);
/* Where this station's own records of the episode have got to. */
int rp_view_delivery(struct rp_show *show, struct rp_episode_ref ref, json_t *row);

#endif
