/* Opening an episode, and the patient's background. */
#include <string.h>

#include "control/entries.h"

#define AT(member) offsetof(struct rp_record, as.opened.member)
#define BG(member) offsetof(struct rp_record, as.background.member)

/* `yes a,b` and `no c`: findings of the criteria. */
static int read_findings(struct rp_entry *entry, struct rp_record *record, enum rp_finding finding)
{
    const char *word;
    int code = rp_entry_need(entry, finding == RP_FINDING_YES ? "yes" : "no",
                             finding == RP_FINDING_YES ? "yes ataxia,mental" : "no cough", &word);
    while (code == RP_OK && *word != '\0') {
        char one[RP_NAME_LEN + 1] = "";
        size_t len = strcspn(word, ",");
        memcpy(one, word, len < RP_NAME_LEN ? len : RP_NAME_LEN);
        uint8_t criterion = 0;
        code = rp_entry_choose(entry, finding == RP_FINDING_YES ? "yes" : "no", rp_words_criteria,
                               one, &criterion);
        if (code == RP_OK) {
            record->as.opened.criteria[criterion] = finding;
        }
        word += len + (word[len] == ',');
    }
    return code;
}

static int read_yes(struct rp_entry *entry, struct rp_record *record)
{
    return read_findings(entry, record, RP_FINDING_YES);
}

static int read_no(struct rp_entry *entry, struct rp_record *record)
{
    return read_findings(entry, record, RP_FINDING_NO);
}

/* `label hace,hape` joined, or the words by themselves: bits either way. */
static int read_label(struct rp_entry *entry, struct rp_record *record, uint8_t bit)
{
    (void)entry;
    record->as.opened.label |= bit;
    return RP_OK;
}

static int read_ams(struct rp_entry *entry, struct rp_record *record)
{
    return read_label(entry, record, RP_LABEL_AMS);
}

static int read_hace(struct rp_entry *entry, struct rp_record *record)
{
    return read_label(entry, record, RP_LABEL_HACE);
}

static int read_hape(struct rp_entry *entry, struct rp_record *record)
{
    return read_label(entry, record, RP_LABEL_HAPE);
}

static int read_other(struct rp_entry *entry, struct rp_record *record)
{
    const char *word;
    int code = rp_entry_need(entry, "other", "other \"chest infection\"", &word);
    if (code == RP_OK) {
        code = rp_entry_text(entry, "other", word, record->as.opened.label_text, RP_LINE_LEN);
    }
    return code == RP_OK ? read_label(entry, record, RP_LABEL_OTHER) : code;
}

/* `lls 3/2/2/1`: headache, gut, fatigue, dizziness. */
static int read_scores(struct rp_entry *entry, struct rp_record *record)
{
    return rp_entry_lls(entry, &record->as.opened.lls);
}

int rp_entry_lls(struct rp_entry *entry, struct rp_lls_items *out_items)
{
    struct rp_value *items[] = {&out_items->headache, &out_items->gut, &out_items->fatigue,
                                &out_items->dizziness};
    const char *word;
    int code = rp_entry_need(entry, "lls", "lls 3/2/2/1", &word);
    if (code < 0) {
        return code;
    }
    if (strlen(word) != 7 || word[1] != '/' || word[3] != '/' || word[5] != '/') {
        return rp_problem_set(entry->problem, RP_E_FORMAT, "lls",
                              "lls: \"%.16s\" is not headache/gut/fatigue/dizziness, each 0-3 or "
                              "- when not asked (example: lls 3/2/-/1)",
                              word);
    }
    for (size_t i = 0; i < 4; i++) {
        char digit[2] = {word[2 * i], '\0'};
        int32_t value = 0;
        if (digit[0] == '-') {
            *items[i] = (struct rp_value){RP_NOT_MEASURED, 0};
            continue;
        }
        code = rp_entry_quantity(entry, RP_RANGE_LLS_ITEM, NULL, "lls 3/2/-/1", digit, &value);
        if (code < 0) {
            return code;
        }
        *items[i] = (struct rp_value){RP_MEASURED, (int16_t)value};
    }
    return RP_OK;
}

static const struct rp_field background_fields[] = {
    {"allergies", RP_FIELD_KNOWN, BG(allergies), .example = "allergies none"},
    {"medicines", RP_FIELD_KNOWN, BG(medicines), .example = "medicines \"none, no prophylaxis\""},
    {"history", RP_FIELD_KNOWN, BG(history), .example = "history asthma"},
    {"meal", RP_FIELD_KNOWN, BG(last_meal), .example = "meal \"soup 16:00Z\""},
    {"contact", RP_FIELD_KNOWN, BG(contact), .example = "contact \"sister, +00 555 0101\""},
    RP_FIELDS_END,
};

/* Background words may stand in the opening line too: they go to a record of their own. */
static bool is_background(const char *word)
{
    for (const struct rp_field *field = background_fields; field->word != NULL; field++) {
        if (strcmp(field->word, word) == 0) {
            return true;
        }
    }
    return false;
}

static const struct rp_field open_fields[] = {
    {"ams", RP_FIELD_CUSTOM, .custom = read_ams},
    {"hace", RP_FIELD_CUSTOM, .custom = read_hace},
    {"hape", RP_FIELD_CUSTOM, .custom = read_hape},
    {"other", RP_FIELD_CUSTOM, .custom = read_other},
    {"patient", RP_FIELD_TEXT, AT(patient), .size = RP_NAME_LEN, .example = "patient \"A\""},
    {"sex", RP_FIELD_WORD, AT(sex), .words = rp_words_sex, .example = "sex m"},
    {"age", RP_FIELD_NUMBER, AT(age_y), AT(has_age), 1, RP_RANGE_AGE, .example = "age 34"},
    {"weight", RP_FIELD_NUMBER, AT(weight_kg), AT(has_weight), 2, RP_RANGE_WEIGHT,
     .example = "weight 71kg"},
    {"onset", RP_FIELD_PAST, AT(onset_s), AT(has_onset), .example = "onset 6h"},
    {"reached", RP_FIELD_PAST, AT(reached_s), AT(has_reached), .example = "reached 20h"},
    {"altitude", RP_FIELD_ALTITUDE, AT(altitude), .example = "altitude 5480m gps"},
    {"at", RP_FIELD_POSITION, AT(position), .example = "at 27.98800,86.92533"},
    {"sign", RP_FIELD_TEXT, AT(first_sign), .size = RP_LINE_LEN,
     .example = "sign \"staggering at dusk\""},
    {"yes", RP_FIELD_CUSTOM, .custom = read_yes},
    {"no", RP_FIELD_CUSTOM, .custom = read_no},
    {"lls", RP_FIELD_CUSTOM, .custom = read_scores},
    RP_FIELDS_END,
};

/* Moves the background words of a line to `background`, the others to `opening`. */
static void split_words(const struct rp_entry *entry, const char **opening,
                        size_t *out_opening_count, const char **background,
                        size_t *out_background_count)
{
    size_t left = 0, right = 0;
    for (size_t i = entry->next; i < entry->count; i++) {
        if (is_background(entry->args[i])) {
            background[right++] = entry->args[i];
            if (i + 1 < entry->count) {
                background[right++] = entry->args[++i];
            }
        } else {
            opening[left++] = entry->args[i];
        }
    }
    *out_opening_count = left;
    *out_background_count = right;
}

#define WORDS_MAX 64

int rp_enter_open(struct rp_entry *entry, const struct rp_entry_common *common,
                  struct rp_entered *entered)
{
    const char *words[2][WORDS_MAX];
    struct rp_entry opening = *entry, background = *entry;
    if (entry->count - entry->next > WORDS_MAX) {
        return rp_problem_set(entry->problem, RP_E_TOO_LONG, "open",
                              "open: more than %d words; enter the rest as a note", WORDS_MAX);
    }
    opening.next = background.next = 0;
    split_words(entry, words[0], &opening.count, words[1], &background.count);
    opening.args = words[0];
    background.args = words[1];
    struct rp_record record =
        rp_entry_record(common, RP_REC_EPISODE, (struct rp_episode_ref){0, 0});
    struct rp_record facts =
        rp_entry_record(common, RP_REC_BACKGROUND, (struct rp_episode_ref){0, 0});
    const struct rp_node_config *station = rp_node_config(entry->node);
    record.as.opened.altitude = station->altitude;
    record.as.opened.position = station->position;
    int code = rp_fields_read(&opening, open_fields, &record);
    if (code == RP_OK) {
        code = rp_fields_read(&background, background_fields, &facts);
    }
    if (code == RP_OK && record.as.opened.patient[0] == '\0') {
        code = rp_problem_set(entry->problem, RP_E_INVALID, "patient",
                              "patient: a name or a label is needed (example: patient \"A\")");
    }
    if (code == RP_OK) {
        code = rp_entry_commit(entry, &record, entered);
    }
    if (code == RP_OK && background.count > 0) {
        facts.episode = record.episode;
        code = rp_entry_commit(entry, &facts, entered);
    }
    return code;
}

int rp_enter_background(struct rp_entry *entry, const struct rp_entry_common *common,
                        struct rp_entered *entered)
{
    struct rp_episode_ref ref;
    int code = rp_entry_episode(entry, &ref);
    if (code < 0) {
        return code;
    }
    struct rp_record record = rp_entry_record(common, RP_REC_BACKGROUND, ref);
    if (rp_entry_peek(entry) == NULL) {
        return rp_problem_set(entry->problem, RP_E_FORMAT, "background",
                              "background: say what is known (example: background 7-1 "
                              "allergies none medicines \"ibuprofen 400 mg\")");
    }
    code = rp_fields_read(entry, background_fields, &record);
    return code < 0 ? code : rp_entry_commit(entry, &record, entered);
}
