/* Reassessment, the descent decision, notes, handing over, corrections and closing. */
#include <string.h>

#include "control/entries.h"

#define RE(member) offsetof(struct rp_record, as.reassess.member)
#define DE(member) offsetof(struct rp_record, as.descent.member)
#define HO(member) offsetof(struct rp_record, as.handover.member)

static int read_lls(struct rp_entry *entry, struct rp_record *record)
{
    return rp_entry_lls(entry, &record->as.reassess.lls);
}

static const struct rp_field reassess_fields[] = {
    {.type = RP_FIELD_CHOICE, .at = RE(condition), .words = rp_words_condition},
    {"next", RP_FIELD_WORD, RE(next), .words = rp_words_next, .example = "next session"},
    {"lls", RP_FIELD_CUSTOM, .custom = read_lls},
    {"functional", RP_FIELD_VALUE, RE(functional), .range = RP_RANGE_FUNCTIONAL,
     .example = "functional 2"},
    {"ataxia", RP_FIELD_VALUE, RE(ataxia), .range = RP_RANGE_ATAXIA, .example = "ataxia 2"},
    {"mental", RP_FIELD_FINDING, RE(mental_change), .example = "mental no"},
    {"walks", RP_FIELD_FINDING, RE(can_walk), .example = "walks no"},
    {.type = RP_FIELD_TEXT, .at = RE(text), .size = RP_LINE_LEN},
    RP_FIELDS_END,
};

/* `reassess 7-1 better next session ataxia 2 walks no` */
int rp_enter_reassess(struct rp_entry *entry, const struct rp_entry_common *common,
                      struct rp_entered *entered)
{
    struct rp_episode_ref ref;
    int code = rp_entry_episode(entry, &ref);
    struct rp_record record = rp_entry_record(common, RP_REC_REASSESS, ref);
    if (code == RP_OK) {
        code = rp_fields_read(entry, reassess_fields, &record);
    }
    if (code == RP_OK && record.as.reassess.condition == RP_COND_UNSAID) {
        code = rp_problem_set(entry->problem, RP_E_INVALID, "reassess",
                              "reassess: better, same or worse? (example: reassess 7-1 better)");
    }
    return code < 0 ? code : rp_entry_commit(entry, &record, entered);
}

static int read_ask_again(struct rp_entry *entry, struct rp_record *record)
{
    const char *word;
    int32_t span_s = 0;
    int code = rp_entry_need(entry, "again", "again 60min", &word);
    if (code == RP_OK) {
        code = rp_entry_quantity(entry, RP_RANGE_ASK_AGAIN, "again", "again 60min", word, &span_s);
    }
    if (code == RP_OK) {
        record->as.descent.has_ask_again = true;
        record->as.descent.ask_again_min = (uint16_t)(span_s / 60);
    }
    return code;
}

static int read_way(struct rp_entry *entry, struct rp_record *record)
{
    const char *word;
    int32_t span_s = 0;
    int code = rp_entry_need(entry, "takes", "takes 4h", &word);
    if (code == RP_OK) {
        code = rp_entry_quantity(entry, RP_RANGE_WAY_DOWN, "takes", "takes 4h", word, &span_s);
    }
    if (code == RP_OK) {
        record->as.descent.has_way = true;
        record->as.descent.way_min = (uint16_t)(span_s / 60);
    }
    return code;
}

static const struct rp_field descent_fields[] = {
    {.type = RP_FIELD_CHOICE, .at = DE(why_not), .words = rp_words_why_not},
    {"again", RP_FIELD_CUSTOM, .custom = read_ask_again, .example = "again 60min"},
    {"takes", RP_FIELD_CUSTOM, .custom = read_way, .example = "takes 4h"},
    {.type = RP_FIELD_TEXT, .at = DE(text), .size = RP_LINE_LEN},
    RP_FIELDS_END,
};

/* `descent 7-1 no dark "first light 05:40Z" again 60min takes 4h`, `descent 7-1 yes` */
int rp_enter_descent(struct rp_entry *entry, const struct rp_entry_common *common,
                     struct rp_entered *entered)
{
    static const char example[] = "descent 7-1 no dark";
    struct rp_episode_ref ref;
    const char *word;
    uint8_t answer = 0;
    int code = rp_entry_episode(entry, &ref);
    if (code == RP_OK) {
        code = rp_entry_need(entry, "descent", example, &word);
    }
    if (code == RP_OK) {
        code = rp_entry_choose(entry, "descent", rp_words_finding, word, &answer);
    }
    if (code < 0) {
        return code;
    }
    struct rp_record record = rp_entry_record(common, RP_REC_DESCENT, ref);
    record.as.descent.descending = answer == RP_FINDING_YES;
    code = rp_fields_read(entry, descent_fields, &record);
    if (code == RP_OK && answer == RP_FINDING_NO && record.as.descent.why_not == RP_WHY_UNSAID) {
        char list[120];
        rp_words_list(rp_words_why_not, list, sizeof list);
        code = rp_problem_set(entry->problem, RP_E_INVALID, "descent",
                              "why not down? One of %s (example: %s)", list, example);
    }
    return code < 0 ? code : rp_entry_commit(entry, &record, entered);
}

/* `note 7-1 "text"`: all remaining words, joined by spaces. */
int rp_enter_note(struct rp_entry *entry, const struct rp_entry_common *common,
                  struct rp_entered *entered)
{
    struct rp_episode_ref ref;
    int code = rp_entry_episode(entry, &ref);
    if (code < 0) {
        return code;
    }
    struct rp_record record = rp_entry_record(common, RP_REC_NOTE, ref);
    char *text = record.as.note.text;
    size_t len = 0;
    const char *word;
    while ((word = rp_entry_take(entry)) != NULL) {
        size_t need = strlen(word) + (len > 0 ? 1 : 0);
        if (len + need > RP_NOTE_LEN) {
            return rp_problem_set(entry->problem, RP_E_TOO_LONG, "note",
                                  "note: longer than %d bytes; make two of it (example: note 7-1 "
                                  "\"first part\")",
                                  RP_NOTE_LEN);
        }
        if (len > 0) {
            text[len++] = ' ';
        }
        code = rp_entry_text(entry, "note", word, text + len, RP_NOTE_LEN - len);
        if (code < 0) {
            return code;
        }
        len += strlen(word);
    }
    if (len == 0) {
        return rp_problem_set(entry->problem, RP_E_FORMAT, "note",
                              "note: the text is missing (example: note 7-1 \"vomited once\")");
    }
    return rp_entry_commit(entry, &record, entered);
}

static int read_sheet(struct rp_entry *entry, struct rp_record *record)
{
    struct rp_rec_handover *handover = &record->as.handover;
    const char *word;
    int code = rp_entry_need(entry, "sheet", "sheet 3 K7QP", &word);
    unsigned long number = 0;
    for (const char *at = word; code == RP_OK && *at != '\0'; at++) {
        number = *at >= '0' && *at <= '9' && number < 100000
                     ? number * 10 + (unsigned long)(*at - '0')
                     : 100000;
    }
    if (code == RP_OK && (number == 0 || number > 65535)) {
        code = rp_problem_set(entry->problem, RP_E_INVALID, "sheet",
                              "sheet: \"%.12s\" is no sheet number of 1 to 65535 (example: sheet "
                              "3 K7QP)",
                              word);
    }
    if (code < 0) {
        return code;
    }
    handover->has_sheet = true;
    handover->sheet = (uint32_t)number;
    const char *check = rp_entry_peek(entry);
    if (check != NULL && strlen(check) == 4) {
        entry->next++;
        code = rp_entry_text(entry, "sheet", check, handover->sheet_check, RP_NAME_LEN);
    }
    return code;
}

static const struct rp_field taken_fields[] = {
    {"team", RP_FIELD_TEXT, HO(team), .size = RP_NAME_LEN, .example = "team \"Valley Air 3\""},
    {"person", RP_FIELD_TEXT, HO(taken_by), .size = RP_NAME_LEN, .example = "person \"Dr L\""},
    {"sheet", RP_FIELD_CUSTOM, .custom = read_sheet},
    {.type = RP_FIELD_TEXT, .at = HO(text), .size = RP_TALK_LEN},
    RP_FIELDS_END,
};

/* `taken 7-1 team "Valley Air 3" person "Dr Lindqvist" sheet 2 K7QP "asked about allergies"` */
int rp_enter_taken(struct rp_entry *entry, const struct rp_entry_common *common,
                   struct rp_entered *entered)
{
    struct rp_episode_ref ref;
    int code = rp_entry_episode(entry, &ref);
    struct rp_record record = rp_entry_record(common, RP_REC_HANDOVER, ref);
    if (code == RP_OK) {
        code = rp_fields_read(entry, taken_fields, &record);
    }
    if (code == RP_OK &&
        (record.as.handover.team[0] == '\0' || record.as.handover.taken_by[0] == '\0')) {
        code = rp_problem_set(entry->problem, RP_E_INVALID, "taken",
                              "taken: who took over? (example: taken 7-1 team \"Valley Air 3\" "
                              "person \"Dr Lindqvist\" sheet 2)");
    }
    return code < 0 ? code : rp_entry_commit(entry, &record, entered);
}

/* `correct 7:12 void "wrong patient"`, `correct 7:12 with 7:15 "dose was 4 mg"` */
int rp_enter_correct(struct rp_entry *entry, const struct rp_entry_common *common,
                     struct rp_entered *entered)
{
    static const char example[] = "correct 7:12 void \"wrong patient\"";
    const char *which, *how, *word;
    struct rp_record_ref about = {0, 0}, replacement = {0, 0};
    int code = rp_entry_need(entry, "correct", example, &which);
    if (code == RP_OK) {
        code = rp_node_find_record(entry->node, which, &about, entry->problem);
    }
    if (code == RP_OK) {
        code = rp_entry_need(entry, "correct", example, &how);
    }
    if (code == RP_OK && strcmp(how, "with") == 0) {
        code = rp_entry_need(entry, "with", "correct 7:12 with 7:15 \"dose was 4 mg\"", &word);
        if (code == RP_OK) {
            code = rp_node_find_record(entry->node, word, &replacement, entry->problem);
        }
    } else if (code == RP_OK && strcmp(how, "void") != 0) {
        code = rp_problem_set(entry->problem, RP_E_FORMAT, "correct",
                              "correct: say void or with RECORD (example: %s)", example);
    }
    if (code == RP_OK) {
        code = rp_entry_need(entry, "reason", example, &word);
    }
    if (code < 0) {
        return code;
    }
    if (replacement.origin == about.origin && replacement.seq == about.seq) {
        return rp_problem_set(entry->problem, RP_E_CONFLICT, "with",
                              "correct: a record cannot take its own place (example: correct 7:12 "
                              "with 7:15 \"dose was 4 mg\")");
    }
    struct rp_episode_ref ref = {0, 0};
    struct rp_episode_ref other = {0, 0};
    rp_node_record(entry->node, about, rp_entry_row_episode, &ref);
    if (replacement.origin != 0) {
        rp_node_record(entry->node, replacement, rp_entry_row_episode, &other);
        if (other.origin != ref.origin || other.number != ref.number) {
            return rp_problem_set(entry->problem, RP_E_CONFLICT, "with",
                                  "correct: the two records are of different episodes (example: "
                                  "correct 7:12 with 7:15 \"dose was 4 mg\")");
        }
    }
    struct rp_record record = rp_entry_record(common, RP_REC_CORRECTION, ref);
    record.as.correction.about = about;
    record.as.correction.replacement = replacement;
    code = rp_entry_text(entry, "reason", word, record.as.correction.reason, RP_LINE_LEN);
    return code < 0 ? code : rp_entry_commit(entry, &record, entered);
}

/* `close 7-1 handed-over "flown out"` */
int rp_enter_close(struct rp_entry *entry, const struct rp_entry_common *common,
                   struct rp_entered *entered)
{
    struct rp_episode_ref ref;
    const char *word;
    int code = rp_entry_episode(entry, &ref);
    if (code == RP_OK) {
        code = rp_entry_need(entry, "close", "close 7-1 handed-over", &word);
    }
    struct rp_record record = rp_entry_record(common, RP_REC_CLOSE, ref);
    if (code == RP_OK) {
        code = rp_entry_choose(entry, "close", rp_words_outcome, word, &record.as.close.outcome);
    }
    const char *text = rp_entry_take(entry);
    if (code == RP_OK && text != NULL) {
        code = rp_entry_text(entry, "close", text, record.as.close.text, RP_LINE_LEN);
    }
    return code < 0 ? code : rp_entry_commit(entry, &record, entered);
}
