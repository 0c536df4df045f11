#include "incident/episode.h"

#include <string.h>

#include "ridgepost/error.h"

#include "incident/fold.h"
#include "incident/table.h"
#include "wire/frame.h"

void rp_episode_init(struct rp_episode *episode, struct rp_episode_ref ref)
{
    memset(episode, 0, sizeof *episode);
    episode->ref.origin = ref.origin;
    episode->ref.number = ref.number;
    episode->request_now = -1;
    episode->eta_answer = -1;
}

static int heard_order(const void *a, const void *b)
{
    const struct rp_heard *x = a, *y = b;
    return rp_order(x->happened_s, x->ref, y->happened_s, y->ref);
}

/* Counts a record and keeps its time; false when it was added before. */
/* Strokes are told by a pedal or a script: no word from a person. kind 0: not readable. */
static bool hear(struct rp_episode *ep, const struct rp_source *from, int kind, bool exercise)
{
    struct rp_heard heard;
    memset(&heard, 0, sizeof heard);
    heard.happened_s = from->happened_s;
    rp_ref_set(&heard.ref, from->ref);
    heard.report = kind == RP_REC_STATUS ||
                   (kind != RP_REC_PUMPING && from->station == rp_origin_station(ep->ref.origin));
    if (rp_table_insert(RP_TABLE_OF(ep->heard), heard_order, &heard) == RP_TABLE_HELD) {
        return false;
    }
    ep->records++;
    ep->exercise = ep->exercise || exercise;
    bool newer = !ep->has_latest || rp_source_order(&ep->latest_from, from) < 0;
    if (kind != RP_REC_PUMPING && newer) {
        ep->has_latest = true;
        ep->latest_s = from->happened_s;
        ep->latest_from = *from;
    }
    if (heard.report && (!ep->has_word || rp_source_order(&ep->word_from, from) < 0)) {
        ep->has_word = true;
        ep->word_from = *from;
    }
    return true;
}

static void set_source(struct rp_source *from, struct rp_record_ref ref, uint32_t recorded_s,
                       uint32_t ago_s)
{
    memset(from, 0, sizeof *from);
    rp_ref_set(&from->ref, ref);
    from->station = rp_origin_station(ref.origin);
    from->recorded_s = recorded_s;
    from->happened_s = recorded_s > ago_s ? recorded_s - ago_s : 0;
}

int rp_episode_add(struct rp_episode *episode, const struct rp_record *record,
                   struct rp_record_ref ref)
{
    if (record->episode.number == 0 || record->episode.number != episode->ref.number ||
        record->episode.origin != episode->ref.origin) {
        return RP_E_CONFLICT;
    }
    struct rp_source from;
    set_source(&from, ref, record->time_s, record->ago_s);
    from.unsynced = record->unsynced;
    from.via = record->via;
    memcpy(from.by, record->by, sizeof from.by);
    if (hear(episode, &from, (int)record->kind, record->exercise)) {
        rp_fold_record(episode, record, &from);
    }
    return 0;
}

void rp_episode_add_unreadable(struct rp_episode *episode, struct rp_record_ref ref,
                               uint32_t time_s, bool exercise)
{
    struct rp_source from;
    set_source(&from, ref, time_s, 0);
    if (hear(episode, &from, 0, exercise)) {
        episode->undecodable++;
    }
}

/* Copies the newest entry that is not voided; false and zeroes when there is none. */
#define NEWEST_OF(table, out_has, out_from, out_what)                                              \
    do {                                                                                           \
        (out_has) = false;                                                                         \
        memset(&(out_from), 0, sizeof(out_from));                                                  \
        memset(&(out_what), 0, sizeof(out_what));                                                  \
        for (size_t i_ = (table).count; i_-- > 0;) {                                               \
            if (!(table).at[i_].from.voided) {                                                     \
                (out_has) = true;                                                                  \
                (out_from) = (table).at[i_].from;                                                  \
                (out_what) = (table).at[i_].what;                                                  \
                break;                                                                             \
            }                                                                                      \
        }                                                                                          \
    } while (0)

uint32_t rp_episode_next_report_s(const struct rp_episode *episode)
{
    bool over = episode->closed || episode->evac_state == RP_EVAC_HANDED_OVER;
    bool promised = episode->has_status && episode->status.next_min > 0 && !over;
    return promised ? episode->status_from.recorded_s + 60u * episode->status.next_min : 0;
}

static void derive_newest(struct rp_episode *ep)
{
    NEWEST_OF(ep->openings, ep->opened, ep->opening_from, ep->opening);
    NEWEST_OF(ep->reports, ep->has_status, ep->status_from, ep->status);
    NEWEST_OF(ep->closes, ep->closed, ep->close_from, ep->close);
    struct rp_known *const fields[RP_BG_COUNT] = {
        [RP_BG_ALLERGIES] = &ep->background.allergies,
        [RP_BG_MEDICINES] = &ep->background.medicines,
        [RP_BG_HISTORY] = &ep->background.history,
        [RP_BG_LAST_MEAL] = &ep->background.last_meal,
        [RP_BG_CONTACT] = &ep->background.contact,
    };
    for (size_t i = 0; i < RP_BG_COUNT; i++) {
        bool has;
        struct rp_source from;
        NEWEST_OF(ep->known[i], has, from, *fields[i]);
        (void)has; /* zeroes are RP_NOT_ASKED */
    }
}

void rp_episode_finish(struct rp_episode *episode, uint32_t now_s)
{
    rp_fold_corrections(episode);
    derive_newest(episode);
    rp_fold_observations(episode);
    rp_fold_sessions(episode, now_s);
    rp_fold_evacuation(episode);
}

const struct rp_obs *rp_episode_last_obs(const struct rp_episode *episode, size_t value_offset,
                                         int mode)
{
    for (size_t i = episode->obs.count; i-- > 0;) {
        const struct rp_obs *obs = &episode->obs.at[i];
        struct rp_value value;
        memcpy(&value, (const unsigned char *)obs + value_offset, sizeof value);
        if (!obs->from.voided && value.state == RP_MEASURED && (mode < 0 || obs->mode == mode)) {
            return obs;
        }
    }
    return NULL;
}
