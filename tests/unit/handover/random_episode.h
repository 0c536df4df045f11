/* Random episodes, filled table by table, for the properties that every sheet has. */
#ifndef RANDOM_EPISODE_H
#define RANDOM_EPISODE_H

#include "base/rng.h"
#include "scenario.h"

/* hostile: texts hold control bytes, marks and broken UTF-8; else only printable words. */
void random_episode(struct scenario *s, struct rp_rng *rng, bool hostile);
/* Every table full, every text as long as it may be. */
void fullest_episode(struct scenario *s);
/* Calls `check` for every text a person entered that must be on the sheet. */
void each_entered(const struct scenario *s,
                  void (*check)(void *arg, const char *what, const char *text), void *arg);

#endif
