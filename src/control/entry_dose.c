/* A dose against the protocol table: refused, or stood for by a second person; both are recorded.
 * The tool says what it found and never what to give. */
#include <ctype.h>
#include <string.h>

#include "base/text.h"
#include "control/entries.h"
#include "control/show/show.h"
#include "incident/watch/drugs.h"

/* "too early, allergy (last 19:40Z, interval over 07:40Z)" */
static void add_findings(struct rp_entry *entry, const struct rp_dose_check *check,
                         struct rp_text *text)
{
    char last[24], due[24];
    bool first = true;
    for (unsigned flag = 1; flag <= RP_DOSE_ROUTE; flag <<= 1) {
        if ((check->flags & flag) != 0) {
            rp_text_add(text, "%s%s", first ? "" : ", ", rp_dose_flag_word((uint8_t)flag));
            first = false;
        }
    }
    if ((check->flags & (RP_DOSE_EARLY | RP_DOSE_DOUBLE)) != 0) {
        rp_text_add(text, " (given %s, interval over %s)",
                    rp_show_time(entry->now_s, check->last_s, last),
                    rp_show_time(entry->now_s, check->due_s, due));
    }
    if ((check->flags & RP_DOSE_VASODILATORS) != 0) {
        rp_text_add(text, " (with %s)", check->other);
    }
}

/* The refusal stays in the log: somebody was about to give it, or has. */
static int refuse(struct rp_entry *entry, const struct rp_entry_common *common,
                  const struct rp_record *dose, const char *findings, struct rp_entered *entered)
{
    struct rp_record note = rp_entry_record(common, RP_REC_NOTE, dose->episode);
    struct rp_text text = rp_text_on(note.as.note.text, sizeof note.as.note.text);
    memcpy(note.by, dose->by, sizeof note.by);
    rp_text_add(&text, "NOT recorded as given, %s: %s", dose->as.treatment.name, findings);
    int code = rp_entry_commit(entry, &note, entered);
    if (code < 0) {
        return code;
    }
    return rp_problem_set(entry->problem, RP_E_CONFIRM, "give",
                          "%.24s: %.116s; needs a second name (example: give ... confirmed Jory)",
                          dose->as.treatment.name, findings);
}

/* Case and spaces make no second person. */
static bool same_name(const char *a, const char *b)
{
    do {
        a += strspn(a, " ");
        b += strspn(b, " ");
        if (tolower((unsigned char)*a) != tolower((unsigned char)*b)) {
            return false;
        }
    } while (*a++ != '\0' && *b++ != '\0');
    return true;
}

static int check_names(struct rp_entry *entry, const struct rp_record *dose)
{
    const char *second = dose->as.treatment.confirmed;
    if (dose->by[0] == '\0' || same_name(dose->by, second)) {
        return rp_problem_set(entry->problem, RP_E_INVALID, "confirmed",
                              "two people stand for this dose, each by name (example: give 7-1 "
                              "dexamethasone 8mg im by Ines confirmed Jory)");
    }
    return RP_OK;
}

int rp_entry_check_drug(struct rp_entry *entry, const char *name)
{
    const struct rp_drug *near = rp_drug_near(rp_node_config(entry->node)->protocol, name);
    if (near == NULL || entry->sure) {
        return RP_OK;
    }
    return rp_problem_set(entry->problem, RP_E_CONFIRM, "drug",
                          "%.24s is not in the protocol table: is %s meant? Enter that name, or "
                          "again with --sure",
                          name, near->name);
}

int rp_entry_judge_dose(struct rp_entry *entry, const struct rp_entry_common *common,
                        struct rp_record *dose, struct rp_entered *entered)
{
    const struct rp_protocol *protocol = rp_node_config(entry->node)->protocol;
    struct rp_rec_treatment *treatment = &dose->as.treatment;
    const struct rp_episode *episode;
    struct rp_dose_check check;
    char findings[160];
    struct rp_text text = rp_text_on(findings, sizeof findings);
    int code = rp_entry_fold(entry, dose->episode, &episode);
    code = code < 0 ? code : rp_entry_check_drug(entry, treatment->name);
    if (code < 0 || treatment->refused) {
        return code;
    }
    rp_dose_judge(protocol, episode, treatment, entry->now_s - common->ago_s, &check);
    add_findings(entry, &check, &text);
    struct rp_text remark = rp_text_on(entered->remark, sizeof entered->remark);
    if (protocol == NULL) {
        /* Nobody signed a table here: a reminder, no refusal. */
        if (check.flags != 0) {
            rp_text_add(&remark, "look: %s", findings);
        }
        return RP_OK;
    }
    treatment->flags = check.flags;
    if (check.drug == NULL && treatment->kind == RP_TREAT_DRUG) {
        rp_text_add(&remark, "not in the protocol table: dose, interval and maximum not checked");
    } else if (check.drug != NULL && check.amount_unknown) {
        rp_text_add(&remark, "dose not in the table's unit: amounts not checked");
    } else if (check.drug != NULL && !rp_protocol_reviewed(protocol)) {
        rp_text_add(&remark, "checked against a protocol table that is NOT REVIEWED");
    }
    if (check.flags == 0) {
        return RP_OK;
    }
    if (treatment->confirmed[0] == '\0') {
        return refuse(entry, common, dose, findings, entered);
    }
    remark = rp_text_on(entered->remark, sizeof entered->remark);
    rp_text_add(&remark, "AGAINST THE TABLE: %s; %s stands for it", findings, treatment->confirmed);
    return check_names(entry, dose);
}
