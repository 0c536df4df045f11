/* The steps of folding, in the order rp_episode_finish takes them. Private to this room. */
#ifndef RP_INCIDENT_FOLD_H
#define RP_INCIDENT_FOLD_H

#include "incident/episode.h"

/* Puts the content of a record in its table. */
void rp_fold_record(struct rp_episode *episode, const struct rp_record *record,
                    const struct rp_source *from);
/* Marks every entry that a correction in force is about. */
void rp_fold_corrections(struct rp_episode *episode);
void rp_fold_observations(struct rp_episode *episode);
void rp_fold_sessions(struct rp_episode *episode, uint32_t now_s);
void rp_fold_evacuation(struct rp_episode *episode);
/* True when the report holds values of age 0: a set of its own. */
bool rp_status_has_own_set(const struct rp_rec_status *status);

#endif
