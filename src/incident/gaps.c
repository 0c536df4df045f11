#include "incident/episode.h"

size_t rp_episode_gaps(const struct rp_episode *episode, uint32_t longer_than_s, uint32_t now_s,
                       struct rp_gap *out, size_t cap)
{
    size_t count = 0;
    bool any = false;
    uint32_t last_s = 0;
    for (size_t i = 0; i <= episode->heard.count; i++) {
        bool end = i == episode->heard.count;
        if (end ? episode->closed : !episode->heard.at[i].report) {
            continue;
        }
        uint32_t next_s = end ? now_s : episode->heard.at[i].happened_s;
        if (any && count < cap && next_s > last_s && next_s - last_s > longer_than_s) {
            out[count++] = (struct rp_gap){last_s, next_s};
        }
        any = true;
        last_s = next_s;
    }
    return count;
}

uint32_t rp_episode_word_s(const struct rp_episode *episode)
{
    return episode->has_word ? episode->word_from.happened_s : 0;
}
