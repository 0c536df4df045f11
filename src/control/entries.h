/* The entry commands: each reads its words into one or more records and enters them. */
#ifndef RP_CONTROL_ENTRIES_H
#define RP_CONTROL_ENTRIES_H

#include "control/fields.h"

/* What every entry shares: options given before the command. */
struct rp_entry_common {
    char by[RP_NAME_LEN + 1];
    uint8_t via;    /* enum rp_via */
    uint32_t ago_s; /* happened that long ago */
};

/* What an entry made: at most four records. */
#define RP_ENTERED_MAX 4
struct rp_entered {
    size_t count;
    struct rp_record_ref refs[RP_ENTERED_MAX];
    uint8_t kinds[RP_ENTERED_MAX];
    struct rp_episode_ref episode;
    char remark[240]; /* what a person should know besides; may be empty */
};

/* Reads and enters. On failure nothing more is entered; what `entered` lists is recorded. */
typedef int rp_entry_command(struct rp_entry *entry, const struct rp_entry_common *common,
                             struct rp_entered *entered);

rp_entry_command rp_enter_open, rp_enter_background, rp_enter_report, rp_enter_chamber,
    rp_enter_give, rp_enter_oxygen, rp_enter_reassess, rp_enter_descent, rp_enter_note,
    rp_enter_evacuate, rp_enter_answer, rp_enter_readback, rp_enter_taken, rp_enter_correct,
    rp_enter_close, rp_enter_alarm, rp_enter_stock, rp_enter_fluids;

/* Starts a record of a kind with the common parts filled in. */
struct rp_record rp_entry_record(const struct rp_entry_common *common, enum rp_record_kind kind,
                                 struct rp_episode_ref episode);
/* Enters it and adds it to `entered`. */
int rp_entry_commit(struct rp_entry *entry, struct rp_record *record, struct rp_entered *entered);
/* Visitor that notes a record's episode in the struct rp_episode_ref given as arg. */
int rp_entry_row_episode(void *arg, const struct rp_record_row *row);
/* `lls 3/2/-/1`: headache, gut, fatigue, dizziness; "-": not asked. */
int rp_entry_lls(struct rp_entry *entry, struct rp_lls_items *out_items);
/* A treatment that is about to be entered, against the protocol table: fills its flags and the
 * remark. RP_E_CONFIRM when something stands against it and nobody stood for it: a note of that has
 * then been entered. RP_E_INVALID when the two names are one. */
int rp_entry_judge_dose(struct rp_entry *entry, const struct rp_entry_common *common,
                        struct rp_record *dose, struct rp_entered *entered);
/* RP_E_CONFIRM, unless sure, when the name is not in the protocol table but begins like one that
 * is: under another name a dose is checked against nothing. */
int rp_entry_check_drug(struct rp_entry *entry, const char *name);
/* The folded episode, for what an entry needs to know; RP_E_* with the problem filled. */
int rp_entry_fold(struct rp_entry *entry, struct rp_episode_ref ref,
                  const struct rp_episode **out_episode);

/* The episode named by the next word (or the only one), folded. */
int rp_entry_folded(struct rp_entry *entry, struct rp_episode_ref *out_ref,
                    const struct rp_episode **out_episode);

#endif
