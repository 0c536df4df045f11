#include "incident/fold.h"

#include <string.h>

#include "incident/table.h"

typedef void fold_function(struct rp_episode *episode, const struct rp_record *record,
                           const struct rp_source *from);

/* Entries are zeroed first so that equal entries are equal bytes. */
#define FOLD_INTO(table_, type_, member_)                                                          \
    static void fold_##table_(struct rp_episode *episode, const struct rp_record *record,          \
                              const struct rp_source *from)                                        \
    {                                                                                              \
        struct type_ entry;                                                                        \
        memset(&entry, 0, sizeof entry);                                                           \
        entry.from = *from;                                                                        \
        entry.what = record->as.member_;                                                           \
        rp_table_insert(RP_TABLE_OF(episode->table_), rp_entry_order, &entry);                     \
    }

FOLD_INTO(openings, rp_opening_entry, opened)
FOLD_INTO(doses, rp_dose, treatment)
FOLD_INTO(oxygen, rp_oxygen_entry, oxygen)
FOLD_INTO(chamber, rp_chamber_entry, chamber)
FOLD_INTO(reassess, rp_reassess_entry, reassess)
FOLD_INTO(descent, rp_descent_entry, descent)
FOLD_INTO(requests, rp_request_entry, evacuation)
FOLD_INTO(cancels, rp_cancel_entry, evac_cancel)
FOLD_INTO(answers, rp_answer_entry, answer)
FOLD_INTO(readbacks, rp_readback_entry, readback)
FOLD_INTO(handovers, rp_handover_entry, handover)
FOLD_INTO(closes, rp_close_entry, close)
FOLD_INTO(alarms, rp_alarm_entry, alarm)
FOLD_INTO(pumping, rp_pumping_entry, pumping)
FOLD_INTO(stock, rp_stock_entry, stock)
FOLD_INTO(fluids, rp_fluids_entry, fluids)

static void fold_background(struct rp_episode *episode, const struct rp_record *record,
                            const struct rp_source *from)
{
    const struct rp_rec_background *b = &record->as.background;
    const struct rp_known *const fields[RP_BG_COUNT] = {
        [RP_BG_ALLERGIES] = &b->allergies, [RP_BG_MEDICINES] = &b->medicines,
        [RP_BG_HISTORY] = &b->history,     [RP_BG_LAST_MEAL] = &b->last_meal,
        [RP_BG_CONTACT] = &b->contact,
    };
    for (size_t i = 0; i < RP_BG_COUNT; i++) {
        if (fields[i]->state == RP_NOT_ASKED) {
            continue;
        }
        struct rp_known_entry entry;
        memset(&entry, 0, sizeof entry);
        entry.from = *from;
        entry.what = *fields[i];
        rp_table_insert(RP_TABLE_OF(episode->known[i]), rp_entry_order, &entry);
    }
}

static void fold_status(struct rp_episode *episode, const struct rp_record *record,
                        const struct rp_source *from)
{
    struct rp_status_entry entry;
    memset(&entry, 0, sizeof entry);
    entry.from = *from;
    entry.what = record->as.status;
    const struct rp_status_entry *oldest = &episode->reports.at[0];
    if (episode->reports.count == RP_EP_REPORTS_MAX) {
        /* One of the two gives way, unless the entry is there already. */
        bool entry_older = rp_source_order(from, &oldest->from) < 0;
        struct rp_rec_status gone = entry_older ? entry.what : oldest->what;
        if (rp_table_insert(RP_TABLE_OF(episode->reports), rp_entry_order, &entry) !=
                RP_TABLE_HELD &&
            rp_status_has_own_set(&gone)) {
            episode->obs_dropped++;
        }
        return;
    }
    rp_table_insert(RP_TABLE_OF(episode->reports), rp_entry_order, &entry);
}

static void fold_note(struct rp_episode *episode, const struct rp_record *record,
                      const struct rp_source *from)
{
    struct rp_note_entry entry;
    memset(&entry, 0, sizeof entry);
    entry.from = *from;
    memcpy(entry.text, record->as.note.text, sizeof entry.text);
    rp_table_insert(RP_TABLE_OF(episode->notes), rp_entry_order, &entry);
}

static int void_order(const void *a, const void *b)
{
    const struct rp_void *x = a, *y = b;
    return rp_order(x->happened_s, x->ref, y->happened_s, y->ref);
}

static void fold_correction(struct rp_episode *episode, const struct rp_record *record,
                            const struct rp_source *from)
{
    struct rp_correction_entry entry;
    memset(&entry, 0, sizeof entry);
    entry.from = *from;
    entry.what = record->as.correction;
    rp_table_insert(RP_TABLE_OF(episode->corrections), rp_entry_order, &entry);
    struct rp_void void_;
    memset(&void_, 0, sizeof void_);
    void_.happened_s = from->happened_s;
    rp_ref_set(&void_.ref, from->ref);
    rp_ref_set(&void_.about, entry.what.about);
    rp_ref_set(&void_.replacement, entry.what.replacement);
    rp_table_insert(RP_TABLE_OF(episode->voids), void_order, &void_);
}

static fold_function *const folds[] = {
    [RP_REC_EPISODE] = fold_openings,
    [RP_REC_BACKGROUND] = fold_background,
    [RP_REC_STATUS] = fold_status,
    [RP_REC_TREATMENT] = fold_doses,
    [RP_REC_OXYGEN] = fold_oxygen,
    [RP_REC_CHAMBER] = fold_chamber,
    [RP_REC_REASSESS] = fold_reassess,
    [RP_REC_DESCENT] = fold_descent,
    [RP_REC_NOTE] = fold_note,
    [RP_REC_EVACUATION] = fold_requests,
    [RP_REC_EVAC_CANCEL] = fold_cancels,
    [RP_REC_ANSWER] = fold_answers,
    [RP_REC_READBACK] = fold_readbacks,
    [RP_REC_HANDOVER] = fold_handovers,
    [RP_REC_CORRECTION] = fold_correction,
    [RP_REC_CLOSE] = fold_closes,
    [RP_REC_ALARM] = fold_alarms,
    [RP_REC_PUMPING] = fold_pumping,
    [RP_REC_STOCK] = fold_stock,
    [RP_REC_FLUIDS] = fold_fluids,
};

/* Station cards, receipts and clock notes are not about a patient: counted, nothing folded. */
void rp_fold_record(struct rp_episode *episode, const struct rp_record *record,
                    const struct rp_source *from)
{
    size_t kind = (size_t)record->kind;
    if (kind < sizeof folds / sizeof folds[0] && folds[kind] != NULL) {
        folds[kind](episode, record, from);
    }
}
