#include "incident/episode.h"

const struct rp_handover_entry *rp_episode_handed(const struct rp_episode *episode)
{
    for (size_t i = episode->handovers.count; i > 0; i--) {
        if (!episode->handovers.at[i - 1].from.voided) {
            return &episode->handovers.at[i - 1];
        }
    }
    return NULL;
}

/* Within one log the sequence tells, never the clock. What another station entered in the same
 * second cannot have been told to the team. */
bool rp_episode_is_late(const struct rp_episode *episode, const struct rp_source *from)
{
    const struct rp_handover_entry *handed = rp_episode_handed(episode);
    if (handed == NULL) {
        return false;
    }
    if (handed->from.ref.origin == from->ref.origin) {
        return from->ref.seq > handed->from.ref.seq;
    }
    return from->recorded_s >= handed->from.recorded_s;
}

/* Entries of a table that happened before the handover but were recorded after it: the crew that
 * left was not told. Each entry begins with its source. */
static uint32_t told_late(const struct rp_episode *episode, const void *entries, size_t count,
                          size_t entry_size)
{
    const struct rp_handover_entry *handed = rp_episode_handed(episode);
    uint32_t late = 0;
    for (size_t i = 0; i < count; i++) {
        const struct rp_source *from =
            (const struct rp_source *)(const void *)((const char *)entries + i * entry_size);
        late += rp_episode_is_late(episode, from) && from->happened_s <= handed->from.happened_s;
    }
    return late;
}

#define TOLD_LATE(table)                                                                           \
    told_late(episode, episode->table.at, episode->table.count, sizeof episode->table.at[0])

uint32_t rp_episode_late_count(const struct rp_episode *episode)
{
    const struct rp_handover_entry *handed = rp_episode_handed(episode);
    uint32_t count = 0;
    if (handed == NULL) {
        return 0;
    }
    for (size_t i = 0; i < episode->heard.count; i++) {
        count += episode->heard.at[i].happened_s > handed->from.happened_s;
    }
    return count + TOLD_LATE(doses) + TOLD_LATE(oxygen) + TOLD_LATE(chamber) + TOLD_LATE(reassess) +
           TOLD_LATE(descent) + TOLD_LATE(notes) + TOLD_LATE(reports) + TOLD_LATE(fluids) +
           TOLD_LATE(corrections);
}
