/* Treatment: drugs and fluids, oxygen, chamber events. */
#include <string.h>

#include "base/text.h"
#include "control/entries.h"
#include "incident/assess/assess.h"
#include "incident/watch/drugs.h"

#define RX(member) offsetof(struct rp_record, as.treatment.member)
#define O2(member) offsetof(struct rp_record, as.oxygen.member)
#define CH(member) offsetof(struct rp_record, as.chamber.member)
#define FL(member) offsetof(struct rp_record, as.fluids.member)

static const struct rp_field give_fields[] = {
    {.type = RP_FIELD_CHOICE, .at = RX(route), .words = rp_words_route},
    {"refused", RP_FIELD_FLAG, .at = RX(refused)},
    {"checked", RP_FIELD_TEXT, RX(checker), .size = RP_NAME_LEN, .example = "checked Jory"},
    {"by", RP_FIELD_TEXT, offsetof(struct rp_record, by), .size = RP_NAME_LEN,
     .example = "by Ines"},
    {"confirmed", RP_FIELD_TEXT, RX(confirmed), .size = RP_NAME_LEN, .example = "confirmed Jory"},
    {"because", RP_FIELD_TEXT, RX(text), .size = RP_LINE_LEN, .example = "because \"vomiting\""},
    RP_FIELDS_END,
};

/* `give 7-1 dexamethasone 8mg im`, `give 7-1 "warm tea" 0.5L po`, `give 7-1 "hot bottles"` */
int rp_enter_give(struct rp_entry *entry, const struct rp_entry_common *common,
                  struct rp_entered *entered)
{
    static const char example[] = "give 7-1 dexamethasone 8mg im";
    struct rp_episode_ref ref;
    const char *word;
    int code = rp_entry_episode(entry, &ref);
    if (code == RP_OK) {
        code = rp_entry_need(entry, "give", example, &word);
    }
    if (code < 0) {
        return code;
    }
    struct rp_record record = rp_entry_record(common, RP_REC_TREATMENT, ref);
    struct rp_rec_treatment *treatment = &record.as.treatment;
    code = rp_entry_text(entry, "drug", word, treatment->name, RP_NAME_LEN);
    const char *dose = rp_entry_peek(entry);
    if (code == RP_OK && dose != NULL && strpbrk(dose, "0123456789.") == dose) {
        struct rp_amount amount;
        entry->next++;
        code = rp_amount_parse(dose, &amount, entry->problem);
        if (code == RP_OK) {
            treatment->has_dose = true;
            treatment->dose_milli = amount.milli;
            treatment->dose_unit = (uint8_t)amount.unit;
            treatment->kind = amount.unit == RP_AMOUNT_ML ? RP_TREAT_FLUID : RP_TREAT_DRUG;
        }
    } else {
        treatment->kind = RP_TREAT_OTHER;
    }
    if (code == RP_OK) {
        code = rp_fields_read(entry, give_fields, &record);
    }
    if (code == RP_OK && treatment->kind == RP_TREAT_DRUG && treatment->route == RP_ROUTE_UNSAID) {
        code = rp_problem_set(entry->problem, RP_E_INVALID, "route",
                              "a dose needs its route: po, sl, im, iv, sc, inhaled, pr, nasal, "
                              "topical (example: %s)",
                              example);
    }
    if (code == RP_OK) {
        code = rp_entry_judge_dose(entry, common, &record, entered);
    }
    return code < 0 ? code : rp_entry_commit(entry, &record, entered);
}

/* Rounded up. */
static int read_over(struct rp_entry *entry, struct rp_record *record)
{
    const char *word;
    int32_t span_s = 0;
    int code = rp_entry_need(entry, "over", "over 4h", &word);
    if (code == RP_OK) {
        code = rp_entry_quantity(entry, RP_RANGE_OVER, "over", "over 4h", word, &span_s);
    }
    if (code == RP_OK) {
        record->as.fluids.has_span = true;
        record->as.fluids.span_min = (uint16_t)((span_s + 59) / 60);
    }
    return code;
}

static const struct rp_field fluids_fields[] = {
    {"urine", RP_FIELD_VALUE, FL(urine_ml), .range = RP_RANGE_URINE, .example = "urine 300mL"},
    {"fluid", RP_FIELD_VALUE, FL(drunk_ml), .range = RP_RANGE_FLUID_IN, .example = "fluid 500mL"},
    {"over", RP_FIELD_CUSTOM, .custom = read_over, .example = "over 4h"},
    RP_FIELDS_END,
};

/* `fluids 7-1 urine 300mL over 4h fluid 500mL`: passed and drunk since; what is given is `give`. */
int rp_enter_fluids(struct rp_entry *entry, const struct rp_entry_common *common,
                    struct rp_entered *entered)
{
    struct rp_episode_ref ref;
    int code = rp_entry_episode(entry, &ref);
    struct rp_record record = rp_entry_record(common, RP_REC_FLUIDS, ref);
    const struct rp_rec_fluids *fluids = &record.as.fluids;
    code = code == RP_OK ? rp_fields_read(entry, fluids_fields, &record) : code;
    if (code < 0) {
        return code;
    }
    if (fluids->urine_ml.state == RP_NOT_MEASURED && fluids->drunk_ml.state == RP_NOT_MEASURED) {
        return rp_problem_set(entry->problem, RP_E_FORMAT, "fluids",
                              "fluids: how much urine, or how much drunk? (example: fluids 7-1 "
                              "urine 300mL over 4h fluid 500mL)");
    }
    if (fluids->urine_ml.state == RP_MEASURED && !fluids->has_span) {
        return rp_problem_set(entry->problem, RP_E_INVALID, "over",
                              "urine means nothing without its time: over what? (example: fluids "
                              "7-1 urine 300mL over 4h)");
    }
    return rp_entry_commit(entry, &record, entered);
}

/* `stock 7-1 dexamethasone 16mg`: what the party has left, counted now; `stock 7-1 dexa none`. */
int rp_enter_stock(struct rp_entry *entry, const struct rp_entry_common *common,
                   struct rp_entered *entered)
{
    static const char example[] = "stock 7-1 dexamethasone 16mg";
    struct rp_episode_ref ref;
    const char *name, *left;
    struct rp_amount amount = {0, RP_AMOUNT_MG};
    int code = rp_entry_episode(entry, &ref);
    code = code == RP_OK ? rp_entry_need(entry, "stock", example, &name) : code;
    code = code == RP_OK ? rp_entry_need(entry, "stock", example, &left) : code;
    if (code < 0) {
        return code;
    }
    const struct rp_protocol *protocol = rp_node_config(entry->node)->protocol;
    const struct rp_drug *drug = rp_drug_find(protocol, name);
    struct rp_record record = rp_entry_record(common, RP_REC_STOCK, ref);
    code = rp_entry_text(entry, "drug", name, record.as.stock.name, RP_NAME_LEN);
    code = code == RP_OK ? rp_entry_check_drug(entry, name) : code;
    if (code == RP_OK && strcmp(left, "none") != 0) {
        code = rp_amount_parse(left, &amount, entry->problem);
    } else if (drug != NULL) {
        amount.unit = (enum rp_amount_unit)drug->unit;
    }
    if (code == RP_OK && rp_entry_peek(entry) != NULL) {
        code = rp_problem_set(entry->problem, RP_E_FORMAT, "stock",
                              "stock: \"%.24s\" is one word too many (example: %s)",
                              rp_entry_peek(entry), example);
    }
    if (code < 0) {
        return code;
    }
    record.as.stock.left_milli = amount.milli;
    record.as.stock.unit = (uint8_t)amount.unit;
    if (drug == NULL || !rp_drug_counts(drug, record.as.stock.unit)) {
        struct rp_text remark = rp_text_on(entered->remark, sizeof entered->remark);
        rp_text_add(&remark, "%s: how long it lasts is not reckoned",
                    drug == NULL ? "not in the protocol table"
                                 : "the protocol table does not count in this unit");
    }
    return rp_entry_commit(entry, &record, entered);
}

static const struct rp_field oxygen_fields[] = {
    {.type = RP_FIELD_CHOICE, .at = O2(device), .words = rp_words_oxygen_device},
    {.type = RP_FIELD_BARE, .at = O2(flow_dlpm), .range = RP_RANGE_FLOW, .example = "2L/min"},
    {.type = RP_FIELD_BARE,
     .at = O2(cylinder_bar),
     .range = RP_RANGE_CYLINDER,
     .example = "180bar"},
    {"cylinder", RP_FIELD_TEXT, O2(cylinder), .size = RP_NAME_LEN, .example = "cylinder A"},
    {"water", RP_FIELD_VALUE, O2(water_dl), .range = RP_RANGE_WATER, .example = "water 4L"},
    RP_FIELDS_END,
};

/* The device of this entry, else the newest that was said. */
static uint8_t device_now(const struct rp_episode *episode, uint8_t said)
{
    for (size_t i = episode->oxygen.count; i-- > 0 && said == RP_O2_UNSAID;) {
        const struct rp_oxygen_entry *at = &episode->oxygen.at[i];
        said = at->from.voided ? said : at->what.device;
    }
    return said;
}

/* Prongs carry 6 L/min at most, a mask needs 5 or the patient breathes his own air again (clinical
 * references 3.5, from memory). */
static int check_device(struct rp_entry *entry, const struct rp_record *record)
{
    const struct rp_rec_oxygen *oxygen = &record->as.oxygen;
    const struct rp_episode *episode;
    int flow_dlpm = oxygen->flow_dlpm.value;
    if (entry->sure || oxygen->flow_dlpm.state != RP_MEASURED || flow_dlpm == 0 ||
        oxygen->action == RP_O2_STOP) {
        return RP_OK;
    }
    int code = rp_entry_fold(entry, record->episode, &episode);
    if (code < 0) {
        return code;
    }
    uint8_t device = device_now(episode, oxygen->device);
    bool mask = device == RP_O2_MASK || device == RP_O2_RESERVOIR_MASK;
    if ((device != RP_O2_PRONGS || flow_dlpm <= 60) && (!mask || flow_dlpm >= 50)) {
        return RP_OK;
    }
    return rp_problem_set(entry->problem, RP_E_CONFIRM, "flow",
                          "flow %d.%d L/min is unlikely with %s: prongs at most 6, a mask at least "
                          "5 L/min; check and enter again with --sure",
                          flow_dlpm / 10, flow_dlpm % 10,
                          rp_word_of(rp_words_oxygen_device, device));
}

/* A start and a change say what flows; at a reading nothing may flow, and after a stop nothing
 * does. */
static int check_flow(struct rp_entry *entry, const struct rp_rec_oxygen *oxygen)
{
    bool told = oxygen->flow_dlpm.state == RP_MEASURED;
    int flow_dlpm = oxygen->flow_dlpm.value;
    if (oxygen->action == RP_O2_START && !told) {
        return rp_problem_set(entry->problem, RP_E_INVALID, "flow",
                              "oxygen start needs a flow with its unit (example: 2L/min)");
    }
    if (oxygen->action == RP_O2_STOP && told && flow_dlpm > 0) {
        return rp_problem_set(entry->problem, RP_E_INVALID, "flow",
                              "flow %d.%d L/min: after oxygen stop nothing flows (example: oxygen "
                              "stop 120bar)",
                              flow_dlpm / 10, flow_dlpm % 10);
    }
    bool flows = oxygen->action == RP_O2_START || oxygen->action == RP_O2_CHANGE;
    return !told || !flows
               ? RP_OK
               : rp_range_check_some(rp_range_of(RP_RANGE_FLOW), flow_dlpm,
                                     "2L/min; when it ends: oxygen stop", entry->problem);
}

/* `oxygen 7-1 start prongs 2L/min cylinder A 180bar water 4L` */
int rp_enter_oxygen(struct rp_entry *entry, const struct rp_entry_common *common,
                    struct rp_entered *entered)
{
    struct rp_episode_ref ref;
    const char *word;
    int code = rp_entry_episode(entry, &ref);
    if (code == RP_OK) {
        code = rp_entry_need(entry, "oxygen", "oxygen 7-1 start prongs 2L/min cylinder A 180bar",
                             &word);
    }
    if (code < 0) {
        return code;
    }
    struct rp_record record = rp_entry_record(common, RP_REC_OXYGEN, ref);
    code = rp_entry_choose(entry, "oxygen", rp_words_oxygen_action, word, &record.as.oxygen.action);
    if (code == RP_OK) {
        code = rp_fields_read(entry, oxygen_fields, &record);
    }
    code = code == RP_OK ? check_flow(entry, &record.as.oxygen) : code;
    code = code == RP_OK ? check_device(entry, &record) : code;
    return code < 0 ? code : rp_entry_commit(entry, &record, entered);
}

static const struct rp_field chamber_fields[] = {
    {.type = RP_FIELD_CHOICE, .at = CH(hold_reason), .words = rp_words_hold},
    {.type = RP_FIELD_BARE,
     .at = CH(gauge_dhpa),
     .range = RP_RANGE_GAUGE,
     .example = "chamber 7-1 at 2psi"},
    {"altimeter", RP_FIELD_VALUE, CH(altimeter_m), .range = RP_RANGE_ALTIMETER,
     .example = "altimeter 3420m"},
    {.type = RP_FIELD_TEXT, .at = CH(text), .size = RP_LINE_LEN},
    RP_FIELDS_END,
};

/* The session an event belongs to: a closing after "out" begins the next. */
static unsigned session_number(const struct rp_episode *episode, enum rp_phase phase)
{
    if (episode->sessions.count == 0) {
        return 1;
    }
    const struct rp_session *last = &episode->sessions.at[episode->sessions.count - 1];
    bool begins =
        phase == RP_PHASE_CLOSED || (phase == RP_PHASE_PRESSURISING && last->phase == RP_PHASE_OUT);
    return last->number + (begins ? 1u : 0u);
}

/* What may follow what: events that make no sense are refused, unless --sure. */
static bool follows(enum rp_phase before, enum rp_phase next)
{
    bool inside = before != RP_PHASE_NONE && before != RP_PHASE_OUT;
    switch (next) {
    case RP_PHASE_CLOSED:
        return !inside;
    case RP_PHASE_PRESSURISING:
        return before != RP_PHASE_AT_PRESSURE;
    default:
        return inside;
    }
}

/* `chamber 7-1 close`, `chamber 7-1 at 2psi altimeter 3420m`, `chamber 7-1 hold ears` */
int rp_enter_chamber(struct rp_entry *entry, const struct rp_entry_common *common,
                     struct rp_entered *entered)
{
    struct rp_episode_ref ref;
    const char *word;
    const struct rp_episode *episode = NULL;
    uint8_t phase = 0;
    int code = rp_entry_episode(entry, &ref);
    if (code == RP_OK) {
        code = rp_entry_need(entry, "chamber", "chamber 7-1 at 2psi", &word);
    }
    if (code == RP_OK) {
        code = rp_entry_choose(entry, "chamber", rp_words_phase_event, word, &phase);
    }
    if (code == RP_OK) {
        code = rp_entry_fold(entry, ref, &episode);
    }
    if (code < 0) {
        return code;
    }
    struct rp_record record = rp_entry_record(common, RP_REC_CHAMBER, ref);
    unsigned session = session_number(episode, (enum rp_phase)phase);
    enum rp_phase before =
        episode->sessions.count > 0
            ? (enum rp_phase)episode->sessions.at[episode->sessions.count - 1].phase
            : RP_PHASE_NONE;
    if (!entry->sure && !follows(before, (enum rp_phase)phase)) {
        return rp_problem_set(entry->problem, RP_E_CONFIRM, "chamber",
                              "chamber %s after \"%s\" is unlikely: enter what was missed first, "
                              "or again with --sure",
                              word,
                              before == RP_PHASE_NONE ? "not in chamber" : rp_phase_word(before));
    }
    if (session > 255) {
        return rp_problem_set(entry->problem, RP_E_FULL, "chamber", "255 sessions are recorded");
    }
    record.as.chamber.phase = phase;
    record.as.chamber.session = (uint8_t)session;
    code = rp_fields_read(entry, chamber_fields, &record);
    if (code == RP_OK && !entry->sure && rp_chamber_altimeter_off(episode, &record.as.chamber)) {
        code = rp_problem_set(entry->problem, RP_E_CONFIRM, "altimeter",
                              "altimeter %d m and gauge disagree by more than 150 m: one of them "
                              "is wrong; check and enter again with --sure",
                              record.as.chamber.altimeter_m.value);
    }
    return code < 0 ? code : rp_entry_commit(entry, &record, entered);
}
