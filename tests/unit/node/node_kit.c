#include "rp_test.h"

#include <stdio.h>
#include <string.h>

#include "node_kit.h"
#include "node_net.h"

struct kit kit_new(uint8_t station, enum rp_role role)
{
    struct kit kit = {.config = node_net_config(station, role)};
    kit.config.modem[0] = '\0';
    kit.store = memory_store_new();
    kit.config.store = memory_store_ops();
    kit.config.store_ctx = kit.store;
    kit.moment = (struct rp_moment){5 * NODE_NET_SECOND_US, NODE_NET_START_S, true};
    return kit;
}

void kit_start(struct kit *kit)
{
    int code = rp_node_new(&kit->config, kit->moment, &kit->node, &kit->problem);
    if (code < 0) {
        fail_msg("the station does not start: %s", kit->problem.text);
    }
}

void kit_stop(struct kit *kit)
{
    rp_node_free(kit->node);
    kit->node = NULL;
}

void kit_restart(struct kit *kit)
{
    kit_stop(kit);
    kit_start(kit);
}

void kit_end(struct kit *kit)
{
    kit_stop(kit);
    memory_store_free(kit->store);
    kit->store = NULL;
}

void kit_pass(struct kit *kit, int64_t span_s)
{
    kit->moment.now_us += span_s * NODE_NET_SECOND_US;
    kit->moment.unix_s += span_s;
}

struct rp_record_ref kit_enter(struct kit *kit, struct rp_record *record)
{
    struct rp_record_ref ref = {0, 0};
    if (rp_node_enter(kit->node, record, kit->moment, &ref, &kit->problem) < 0) {
        fail_msg("not entered: %s", kit->problem.text);
    }
    return ref;
}

struct rp_episode_ref kit_open(struct kit *kit, const char *patient)
{
    struct rp_record record = {.kind = RP_REC_EPISODE};
    snprintf(record.as.opened.patient, sizeof record.as.opened.patient, "%s", patient);
    kit_enter(kit, &record);
    return record.episode;
}

struct rp_record_ref kit_note(struct kit *kit, struct rp_episode_ref ref, const char *text)
{
    struct rp_record record = {.kind = RP_REC_NOTE, .episode = ref};
    snprintf(record.as.note.text, sizeof record.as.note.text, "%s", text);
    return kit_enter(kit, &record);
}

void kit_close(struct kit *kit, struct rp_episode_ref ref)
{
    struct rp_record record = {.kind = RP_REC_CLOSE, .episode = ref};
    record.as.close.outcome = RP_OUT_DESCENDED;
    kit_enter(kit, &record);
}

const struct rp_episode *kit_fold(struct kit *kit, struct rp_episode_ref ref)
{
    const struct rp_episode *episode = NULL;
    const struct rp_holding *holdings;
    size_t count;
    assert_int_equal(rp_node_episode(kit->node, ref, kit->moment, &episode, &holdings, &count),
                     RP_OK);
    return episode;
}

const struct rp_alarm *kit_alarm(struct kit *kit, struct rp_episode_ref ref, const char *rule)
{
    return kit_alarm_at(kit->node, kit->moment, ref, rule);
}

const struct rp_alarm *kit_alarm_at(struct rp_node *node, struct rp_moment moment,
                                    struct rp_episode_ref ref, const char *rule)
{
    static struct rp_alarms alarms;
    const struct rp_episode *episode;
    assert_int_equal(rp_node_watch(node, ref, moment, &episode, &alarms), RP_OK);
    for (size_t i = 0; i < alarms.count; i++) {
        if (strcmp(alarms.at[i].rule->word, rule) == 0) {
            return &alarms.at[i];
        }
    }
    return NULL;
}
