/* Stands in for the two queries of src/incident until that room is merged. */
#include <stddef.h>

#include "incident/episode.h"

const struct rp_obs *rp_episode_last_obs(const struct rp_episode *episode, size_t value_offset,
                                         int mode)
{
    for (size_t i = episode->obs.count; i > 0; i--) {
        const struct rp_obs *obs = &episode->obs.at[i - 1];
        const struct rp_value *value =
            (const struct rp_value *)(const void *)((const char *)obs + value_offset);
        if (!obs->from.voided && value->state == RP_MEASURED && (mode < 0 || obs->mode == mode)) {
            return obs;
        }
    }
    return NULL;
}

size_t rp_episode_gaps(const struct rp_episode *episode, uint32_t longer_than_s, uint32_t now_s,
                       struct rp_gap *out, size_t cap)
{
    size_t count = 0;
    for (size_t i = 0; i < episode->obs.count && count < cap; i++) {
        uint32_t from_s = episode->obs.at[i].taken_s;
        uint32_t to_s = i + 1u < episode->obs.count ? episode->obs.at[i + 1].taken_s : now_s;
        if (to_s - from_s > longer_than_s) {
            out[count++] = (struct rp_gap){from_s, to_s};
        }
    }
    return count;
}
