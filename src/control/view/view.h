/* An episode as data for the pages. Every value has its time; what is voided is left out, except
 * where "voided" says so. */
#ifndef RP_CONTROL_VIEW_H
#define RP_CONTROL_VIEW_H

#include "control/show/show.h"

/* What a list of episodes shows of one. */
void rp_view_head(struct rp_show *show, const struct rp_episode *episode, json_t *row);
/* Everything else of it. */
void rp_view_detail(struct rp_show *show, const struct rp_episode *episode, json_t *row);
/* Where this station's own records of the episode have got to. */
int rp_view_delivery(struct rp_show *show, struct rp_episode_ref ref, json_t *row);

#endif
