#include <string.h>

#include "incident/fold.h"
#include "incident/table.h"

/* Every table whose entries begin with a struct rp_source, but for corrections. */
static const struct {
    size_t count_offset, at_offset, entry_len;
} marked_tables[] = {
#define MARKED(table)                                                                              \
    {                                                                                              \
        offsetof(struct rp_episode, table.count), offsetof(struct rp_episode, table.at),           \
            sizeof(((struct rp_episode *)0)->table.at[0])                                          \
    }
    MARKED(openings),
    MARKED(reports),
    MARKED(cancels),
    MARKED(closes),
    MARKED(doses),
    MARKED(oxygen),
    MARKED(chamber),
    MARKED(reassess),
    MARKED(descent),
    MARKED(notes),
    MARKED(requests),
    MARKED(answers),
    MARKED(readbacks),
    MARKED(handovers),
    MARKED(alarms),
    MARKED(pumping),
    MARKED(stock),
    MARKED(fluids),
    MARKED(known[RP_BG_ALLERGIES]),
    MARKED(known[RP_BG_MEDICINES]),
    MARKED(known[RP_BG_HISTORY]),
    MARKED(known[RP_BG_LAST_MEAL]),
    MARKED(known[RP_BG_CONTACT]),
#undef MARKED
};

/* The newest void in force among those after `from` that is about the record; NULL if none. */
static const struct rp_void *void_about(const struct rp_episode *ep, const bool *in_force,
                                        size_t from, struct rp_record_ref about)
{
    for (size_t i = ep->voids.count; i-- > from;) {
        if (in_force[i] && rp_ref_same(ep->voids.at[i].about, about)) {
            return &ep->voids.at[i];
        }
    }
    return NULL;
}

static void mark_source(const struct rp_episode *ep, const bool *in_force, size_t from,
                        struct rp_source *source)
{
    const struct rp_void *found = void_about(ep, in_force, from, source->ref);
    source->voided = found != NULL;
    source->replaced_by.origin = found != NULL ? found->replacement.origin : 0;
    source->replaced_by.seq = found != NULL ? found->replacement.seq : 0;
}

/* A correction is undone by newer ones only. */
static void mark_corrections(struct rp_episode *ep, const bool *in_force)
{
    size_t newer = 0; /* index of the first void that is newer; both tables are in one order */
    for (size_t i = 0; i < ep->corrections.count; i++) {
        struct rp_source *from = &ep->corrections.at[i].from;
        while (newer < ep->voids.count &&
               rp_order(ep->voids.at[newer].happened_s, ep->voids.at[newer].ref, from->happened_s,
                        from->ref) <= 0) {
            newer++;
        }
        mark_source(ep, in_force, newer, from);
    }
}

/* A request repeats the conscious level of a report, and goes on with it when that was wrong. */
static void mark_levels(struct rp_episode *ep, const bool *in_force)
{
    for (size_t i = 0; i < ep->requests.count; i++) {
        struct rp_request_entry *request = &ep->requests.at[i];
        struct rp_record_ref from = request->what.conscious_from;
        request->level_withdrawn = request->what.conscious != RP_FINDING_NOT_ASKED &&
                                   from.origin != 0 && void_about(ep, in_force, 0, from) != NULL;
    }
}

void rp_fold_corrections(struct rp_episode *ep)
{
    /* Newest first: only a newer correction undoes an older one, so that two corrections of each
     * other have one outcome. */
    bool in_force[RP_EP_VOIDS_MAX];
    for (size_t i = ep->voids.count; i-- > 0;) {
        in_force[i] = void_about(ep, in_force, i + 1, ep->voids.at[i].ref) == NULL;
    }
    for (size_t t = 0; t < sizeof marked_tables / sizeof marked_tables[0]; t++) {
        unsigned char *base = (unsigned char *)ep;
        uint16_t count;
        memcpy(&count, base + marked_tables[t].count_offset, sizeof count);
        for (size_t i = 0; i < count; i++) {
            void *entry = base + marked_tables[t].at_offset + i * marked_tables[t].entry_len;
            mark_source(ep, in_force, 0, entry);
        }
    }
    mark_corrections(ep, in_force);
    mark_levels(ep, in_force);
    mark_source(ep, in_force, 0, &ep->latest_from);
    mark_source(ep, in_force, 0, &ep->word_from);
}
