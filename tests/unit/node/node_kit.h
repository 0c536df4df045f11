/* One station without a radio, over storage in memory, for tests. Failures end the test. */
#ifndef NODE_KIT_H
#define NODE_KIT_H

#include "memory_store.h"
#include "node/node.h"

struct kit {
    struct rp_node_config config;
    struct memory_store *store;
    struct rp_node *node; /* NULL: not started */
    struct rp_moment moment;
    struct rp_problem problem;
};

struct kit kit_new(uint8_t station, enum rp_role role);
void kit_end(struct kit *kit);
void kit_start(struct kit *kit);
void kit_stop(struct kit *kit);
void kit_restart(struct kit *kit);
/* Both clocks go on. */
void kit_pass(struct kit *kit, int64_t span_s);
struct rp_record_ref kit_enter(struct kit *kit, struct rp_record *record);
struct rp_episode_ref kit_open(struct kit *kit, const char *patient);
struct rp_record_ref kit_note(struct kit *kit, struct rp_episode_ref ref, const char *text);
void kit_close(struct kit *kit, struct rp_episode_ref ref);
const struct rp_episode *kit_fold(struct kit *kit, struct rp_episode_ref ref);
/* The alarm that this rule has raised, or NULL; until the next call. */
const struct rp_alarm *kit_alarm(struct kit *kit, struct rp_episode_ref ref, const char *rule);
const struct rp_alarm *kit_alarm_at(struct rp_node *node, struct rp_moment moment,
                                    struct rp_episode_ref ref, const char *rule);

#endif
