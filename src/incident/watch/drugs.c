#include "incident/watch/drugs.h"

#include "incident/table.h"

#include <string.h>
#include <strings.h>

#define DAY_S 86400u
/* Without an interval in the table two doses of one drug within half an hour look like one dose
 * entered twice (ours); with one, two within half of it. */
#define DOUBLE_S 1800u
/* How long a vasodilator is held to act: the longest interval of the example's ones, 12 h, twice
 * (ours; long on the safe side, since a second name may stand for it). */
#define VASODILATOR_S DAY_S

static bool is_called(const struct rp_drug *drug, const char *name)
{
    if (strcasecmp(drug->name, name) == 0) {
        return true;
    }
    for (size_t i = 0; i < RP_DRUG_WORDS_MAX; i++) {
        if (drug->also[i][0] != '\0' && strcasecmp(drug->also[i], name) == 0) {
            return true;
        }
    }
    return false;
}

const struct rp_drug *rp_drug_find(const struct rp_protocol *protocol, const char *name)
{
    for (size_t i = 0; protocol != NULL && i < protocol->count; i++) {
        if (is_called(&protocol->drugs[i], name)) {
            return &protocol->drugs[i];
        }
    }
    return NULL;
}

const struct rp_drug *rp_drug_near(const struct rp_protocol *protocol, const char *name)
{
    size_t len = strnlen(name, 4);
    if (len < 3 || rp_drug_find(protocol, name) != NULL) {
        return NULL;
    }
    for (size_t i = 0; protocol != NULL && i < protocol->count; i++) {
        if (strncasecmp(protocol->drugs[i].name, name, len) == 0) {
            return &protocol->drugs[i];
        }
    }
    return NULL;
}

static bool is_given(const struct rp_dose *dose)
{
    return !dose->from.voided && !dose->what.refused;
}

/* The same drug under whichever of its names. */
static bool is_same(const struct rp_drug *drug, const char *name, const char *other)
{
    return drug != NULL ? is_called(drug, other) : strcasecmp(name, other) == 0;
}

/* A mass in millionths of a gram of thousandths, so that mg, g and mcg compare; 0: no mass. */
static uint64_t mass(uint32_t milli, uint8_t unit)
{
    static const uint32_t mcg[] = {[RP_DOSE_MG] = 1000, [RP_DOSE_G] = 1000000, [RP_DOSE_MCG] = 1};
    return unit < sizeof mcg / sizeof mcg[0] ? (uint64_t)milli * mcg[unit] : 0;
}

/* An amount in thousandths of another unit, rounded up so that no dose looks smaller. False when it
 * cannot be counted in that unit. */
static bool convert(uint32_t milli, uint8_t from_unit, uint8_t unit, uint64_t *out_milli)
{
    if (from_unit == unit) {
        *out_milli = milli;
        return true;
    }
    uint64_t one_mcg = mass(1, unit);
    if (mass(1, from_unit) == 0 || one_mcg == 0) {
        return false;
    }
    *out_milli = (mass(milli, from_unit) + one_mcg - 1) / one_mcg;
    return true;
}

bool rp_drug_counts(const struct rp_drug *drug, uint8_t unit)
{
    uint64_t milli;
    return convert(1, unit, drug->unit, &milli);
}

static bool amount_in(const struct rp_rec_treatment *dose, uint8_t unit, uint64_t *out_milli)
{
    return dose->has_dose && convert(dose->dose_milli, dose->dose_unit, unit, out_milli);
}

static uint32_t apart_s(uint32_t a_s, uint32_t b_s)
{
    return a_s > b_s ? a_s - b_s : b_s - a_s;
}

/* The nearest dose of the same drug, before or after. */
static void judge_interval(const struct rp_episode *ep, const struct rp_rec_treatment *dose,
                           uint32_t at_s, struct rp_dose_check *check)
{
    for (size_t i = 0; i < ep->doses.count; i++) {
        const struct rp_dose *other = &ep->doses.at[i];
        uint32_t other_s = other->from.happened_s;
        if (is_given(other) && is_same(check->drug, dose->name, other->what.name) &&
            (!check->has_last || apart_s(other_s, at_s) < apart_s(check->last_s, at_s))) {
            check->has_last = true;
            check->last_s = other_s;
        }
    }
    uint32_t interval_s = check->drug != NULL ? check->drug->interval_s : 0;
    uint32_t double_s = interval_s > 0 ? interval_s / 2 : DOUBLE_S;
    if (!check->has_last) {
        return;
    }
    uint32_t gap_s = apart_s(check->last_s, at_s);
    if (gap_s < double_s) {
        check->flags |= RP_DOSE_DOUBLE;
    } else if (gap_s < interval_s) {
        check->flags |= RP_DOSE_EARLY;
    }
    check->due_s = check->last_s + (interval_s > 0 ? interval_s : double_s);
}

/* The most in any 24 h that hold this dose: windows that begin with each dose up to a day before
 * it. A dose whose amount cannot be counted is left out, and said. */
static void judge_amount(const struct rp_episode *ep, const struct rp_rec_treatment *dose,
                         uint32_t at_s, struct rp_dose_check *check)
{
    const struct rp_drug *drug = check->drug;
    uint64_t own = 0, most, amount;
    check->amount_unknown = !amount_in(dose, drug->unit, &own);
    most = own;
    for (size_t w = 0; w <= ep->doses.count; w++) {
        uint32_t from_s = w < ep->doses.count ? ep->doses.at[w].from.happened_s : at_s;
        uint64_t sum = own;
        if (from_s > at_s || at_s - from_s >= DAY_S) {
            continue;
        }
        for (size_t i = 0; i < ep->doses.count; i++) {
            const struct rp_dose *other = &ep->doses.at[i];
            uint32_t other_s = other->from.happened_s;
            bool inside = other_s >= from_s && other_s - from_s < DAY_S;
            if (inside && is_given(other) && is_called(drug, other->what.name) &&
                amount_in(&other->what, drug->unit, &amount)) {
                sum += amount;
            }
        }
        most = sum > most ? sum : most;
    }
    check->day_milli = most < UINT32_MAX ? (uint32_t)most : UINT32_MAX;
    check->flags |= drug->single_milli > 0 && own > drug->single_milli ? RP_DOSE_OVER_SINGLE : 0;
    check->flags |= drug->day_milli > 0 && most > drug->day_milli ? RP_DOSE_OVER_DAY : 0;
}

/* Whether `text` holds `word`, case aside. */
static bool holds(const char *text, const char *word)
{
    size_t len = strlen(word);
    for (; len > 0 && *text != '\0'; text++) {
        if (strncasecmp(text, word, len) == 0) {
            return true;
        }
    }
    return false;
}

static bool names_drug(const char *text, const struct rp_drug *drug, const char *name)
{
    bool found = holds(text, name);
    for (size_t i = 0; drug != NULL && i < RP_DRUG_WORDS_MAX; i++) {
        found = found || holds(text, drug->allergy[i]) || holds(text, drug->also[i]);
    }
    return found || (drug != NULL && holds(text, drug->name));
}

/* By every answer that no correction took away, not by the newest alone: a later "none" is a
 * conflict, no recovery. */
static bool is_allergic(const struct rp_episode *ep, const struct rp_drug *drug, const char *name)
{
    bool found = false;
    for (size_t i = 0; i < ep->known[RP_BG_ALLERGIES].count; i++) {
        const struct rp_known_entry *entry = &ep->known[RP_BG_ALLERGIES].at[i];
        found = found || (!entry->from.voided && entry->what.state == RP_KNOWN &&
                          names_drug(entry->what.text, drug, name));
    }
    return found;
}

static void judge_pair(const struct rp_protocol *protocol, const struct rp_episode *ep,
                       uint32_t at_s, struct rp_dose_check *check)
{
    for (size_t i = 0; i < ep->doses.count; i++) {
        const struct rp_dose *other = &ep->doses.at[i];
        const struct rp_drug *drug = rp_drug_find(protocol, other->what.name);
        if (is_given(other) && drug != NULL && drug != check->drug && drug->vasodilator &&
            apart_s(other->from.happened_s, at_s) < VASODILATOR_S) {
            check->flags |= RP_DOSE_VASODILATORS;
            check->other = other->what.name;
        }
    }
}

void rp_dose_judge(const struct rp_protocol *protocol, const struct rp_episode *episode,
                   const struct rp_rec_treatment *dose, uint32_t at_s,
                   struct rp_dose_check *out_check)
{
    struct rp_dose_check check;
    memset(&check, 0, sizeof check);
    check.drug = rp_drug_find(protocol, dose->name);
    if (check.drug != NULL || dose->kind != RP_TREAT_OTHER) { /* hot bottles may come often */
        judge_interval(episode, dose, at_s, &check);
    }
    check.flags |= is_allergic(episode, check.drug, dose->name) ? RP_DOSE_ALLERGY : 0;
    if (check.drug != NULL) {
        judge_amount(episode, dose, at_s, &check);
        bool strange = check.drug->routes != 0 && dose->route != RP_ROUTE_UNSAID &&
                       (check.drug->routes >> dose->route & 1) == 0;
        check.flags |= strange ? RP_DOSE_ROUTE : 0;
        if (check.drug->vasodilator) {
            judge_pair(protocol, episode, at_s, &check);
        }
    }
    *out_check = check;
}

/* By the name and not by the place in the table, which may change with the file. */
static uint8_t subject_of(const char *name)
{
    uint32_t sum = 0;
    for (; *name != '\0'; name++) {
        sum = (sum * 31 + (uint8_t)(*name | 0x20)) % 255;
    }
    return (uint8_t)(sum + 1);
}

size_t rp_drugs_due(const struct rp_protocol *protocol, const struct rp_episode *episode,
                    struct rp_drug_due out_due[RP_DRUGS_MAX])
{
    size_t count = 0;
    for (size_t d = 0; protocol != NULL && d < protocol->count; d++) {
        const struct rp_drug *drug = &protocol->drugs[d];
        const struct rp_dose *last = NULL;
        for (size_t i = 0; i < episode->doses.count; i++) {
            const struct rp_dose *dose = &episode->doses.at[i];
            last = is_given(dose) && is_called(drug, dose->what.name) ? dose : last;
        }
        if (last != NULL && drug->interval_s > 0) {
            out_due[count++] = (struct rp_drug_due){drug, subject_of(drug->name), last,
                                                    last->from.happened_s + drug->interval_s};
        }
    }
    return count;
}

static const struct rp_stock_entry *stock_of(const struct rp_drug *drug,
                                             const struct rp_episode *ep)
{
    for (size_t i = ep->stock.count; i-- > 0;) {
        const struct rp_stock_entry *entry = &ep->stock.at[i];
        if (!entry->from.voided && is_called(drug, entry->what.name)) {
            return entry;
        }
    }
    return NULL;
}

/* What is left of a count after the doses given since, thousandths of the table's unit. One whose
 * amount cannot be counted has used up a usual dose. */
static uint64_t left_of(const struct rp_drug *drug, const struct rp_episode *ep,
                        const struct rp_stock_entry *stock, uint64_t left)
{
    for (size_t i = 0; i < ep->doses.count; i++) {
        const struct rp_dose *dose = &ep->doses.at[i];
        if (is_given(dose) && is_called(drug, dose->what.name) &&
            rp_source_order(&dose->from, &stock->from) > 0) {
            uint64_t amount;
            if (!amount_in(&dose->what, drug->unit, &amount)) {
                amount = drug->dose_milli;
            }
            left = amount < left ? left - amount : 0;
        }
    }
    return left;
}

size_t rp_drugs_out(const struct rp_protocol *protocol, const struct rp_episode *episode,
                    struct rp_drug_out out_drugs[RP_DRUGS_MAX])
{
    struct rp_drug_due due[RP_DRUGS_MAX];
    size_t used = rp_drugs_due(protocol, episode, due), count = 0;
    for (size_t i = 0; i < used; i++) {
        const struct rp_drug *drug = due[i].drug;
        const struct rp_stock_entry *stock = stock_of(drug, episode);
        uint64_t left, dose = drug->dose_milli;
        if (stock == NULL ||
            !convert(stock->what.left_milli, stock->what.unit, drug->unit, &left)) {
            continue;
        }
        if (dose == 0 && !amount_in(&due[i].last->what, drug->unit, &dose)) {
            continue;
        }
        uint64_t doses = left_of(drug, episode, stock, left) / dose;
        uint64_t out_s = due[i].due_s + doses * drug->interval_s;
        out_drugs[count++] = (struct rp_drug_out){
            drug,           due[i].subject,
            stock,          (uint16_t)(doses < UINT16_MAX ? doses : UINT16_MAX),
            (uint32_t)dose, (uint32_t)(out_s < UINT32_MAX ? out_s : UINT32_MAX)};
    }
    return count;
}

const char *rp_dose_flag_word(uint8_t flag)
{
    switch (flag) {
    case RP_DOSE_EARLY:
        return "too early";
    case RP_DOSE_DOUBLE:
        return "perhaps given twice";
    case RP_DOSE_OVER_SINGLE:
        return "above the largest single dose";
    case RP_DOSE_OVER_DAY:
        return "above the most in 24 h";
    case RP_DOSE_ALLERGY:
        return "allergy";
    case RP_DOSE_VASODILATORS:
        return "second pulmonary vasodilator";
    case RP_DOSE_ROUTE:
        return "not a route of the table";
    default:
        return "?";
    }
}
