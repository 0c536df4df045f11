/* What is computed from the findings. It follows from entries that the check covers, so all of it
 * stands outside the check. */
#include "clinical/oxygen.h"
#include "handover/build.h"
#include "incident/watch/oxygen.h"

/* Marks every item of the row as computed. */
static void end_computed(struct rp_build *b)
{
    for (size_t i = 0; i < b->row.item_count; i++) {
        b->row.items[i].live = true;
    }
    rp_build_end(b);
}

/* "resp 3, SpO2 3, ...", then what is missing. */
static void build_news2_parts(struct rp_build *b, const struct rp_news2 *news)
{
    static const enum rp_text_id words[RP_NEWS2_PART_COUNT] = {
        [RP_NEWS2_RESP] = RP_TX_RESP,       [RP_NEWS2_SPO2] = RP_TX_SPO2,
        [RP_NEWS2_OXYGEN] = RP_TX_W_OXYGEN, [RP_NEWS2_SYSTOLIC] = RP_TX_BP,
        [RP_NEWS2_PULSE] = RP_TX_PULSE,     [RP_NEWS2_CONSCIOUS] = RP_TX_MIND,
        [RP_NEWS2_TEMP] = RP_TX_TEMP};
    rp_build_join(b, RP_JOIN_SEMICOLON);
    for (int i = 0; i < RP_NEWS2_PART_COUNT; i++) {
        if (news->parts[i].known) {
            rp_build_number(b, words[i], news->parts[i].value, 0, RP_TX_NONE);
            rp_build_join(b, RP_JOIN_COMMA);
        }
    }
    bool first = true;
    for (int i = 0; i < RP_NEWS2_PART_COUNT; i++) {
        if (!news->parts[i].known) {
            rp_build_join(b, first ? RP_JOIN_SEMICOLON : RP_JOIN_COMMA);
            rp_build_labelled(b, first ? RP_TX_NEWS2_NO : RP_TX_NONE, words[i]);
            first = false;
        }
    }
}

static void build_news2(struct rp_build *b, const struct rp_assessment *a)
{
    rp_build_row(b, RP_TX_L_NEWS2);
    if (a->news2_unsupported) {
        rp_build_word(b, RP_TX_NEWS2_UNDER_16);
    } else if (a->has_news2) {
        bool complete = a->news2.with_spo2.complete;
        rp_build_number(b, complete ? RP_TX_NONE : RP_TX_AT_LEAST, a->news2.with_spo2.score, 0,
                        RP_TX_NONE);
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_number(b, RP_TX_WITHOUT_SPO2, a->news2.without_spo2.score, 0, RP_TX_NONE);
        rp_build_age(b, RP_TX_NONE, a->news2_s);
        b->row.items[b->row.item_count - 1].opens = true;
        b->row.items[b->row.item_count - 1].closes = true;
        build_news2_parts(b, &a->news2);
        rp_build_join(b, RP_JOIN_STOP);
        rp_build_word(b, RP_TX_NEWS2_LIMIT);
    }
    end_computed(b);
}

static void build_band(struct rp_build *b, const struct rp_assessment *a)
{
    if (!a->has_band || a->air == NULL) {
        return;
    }
    rp_build_row(b, RP_TX_L_SPO2);
    rp_build_number(b, RP_TX_NONE, a->air->spo2_pct.value, 0, RP_TX_U_PCT);
    rp_build_join(b, RP_JOIN_COMMA);
    if (a->air->spo2_pct.value < RP_SPO2_UNRELIABLE_BELOW_PCT) {
        rp_build_word(b, RP_TX_SPO2_INACCURATE);
        rp_build_join(b, RP_JOIN_COMMA);
    }
    rp_build_word(b, RP_TX_SPO2_ON_AIR);
    rp_build_age(b, RP_TX_NONE, a->air->taken_s);
    b->row.items[b->row.item_count - 1].opens = true;
    b->row.items[b->row.item_count - 1].closes = true;
    bool below = a->spo2_below == RP_TRUTH_YES;
    rp_build_word(b, below ? RP_TX_BAND_BELOW : RP_TX_BAND_IN);
    b->row.items[b->row.item_count - 1].loud = below;
    rp_build_number(b, RP_TX_NONE, a->band.alarm_below_tenths, 1, RP_TX_U_PCT);
    rp_build_join(b, RP_JOIN_COMMA);
    rp_build_number(b, RP_TX_BAND_AT, rp_episode_altitude(b->ep)->metres, 0, RP_TX_U_M);
    end_computed(b);
}

static void build_criterion_result(struct rp_build *b, enum rp_text_id illness, enum rp_truth met)
{
    static const enum rp_text_id words[] = {[RP_TRUTH_UNKNOWN] = RP_TX_MET_OPEN,
                                            [RP_TRUTH_NO] = RP_TX_MET_NOT,
                                            [RP_TRUTH_YES] = RP_TX_MET};
    rp_build_labelled(b, illness, words[met]);
}

void rp_sheet_build_criteria_met(struct rp_build *b)
{
    struct rp_assessment a;
    rp_episode_assess(b->ep, &a);
    size_t first = b->row.item_count;
    rp_build_word(b, RP_TX_CRITERIA_1991);
    build_criterion_result(b, RP_TX_HACE, a.hace);
    rp_build_join(b, RP_JOIN_COMMA);
    build_criterion_result(b, RP_TX_HAPE, a.hape);
    for (size_t i = first; i < b->row.item_count; i++) {
        b->row.items[i].live = true;
    }
}

static void build_cold(struct rp_build *b, const struct rp_assessment *a)
{
    if (!a->has_cold) {
        return;
    }
    rp_build_row(b, RP_TX_L_COLD);
    rp_build_number(b, RP_TX_STAGE_CORE, a->cold.by_core.value, 0, RP_TX_NONE);
    rp_build_join(b, RP_JOIN_COMMA);
    if (a->cold.by_response.known) {
        rp_build_number(b, RP_TX_STAGE_RESPONSE, a->cold.by_response.value, 0, RP_TX_NONE);
    } else {
        rp_build_labelled(b, RP_TX_STAGE_RESPONSE, RP_TX_MET_OPEN);
    }
    if (a->cold.falsified) {
        rp_build_join(b, RP_JOIN_SEMICOLON);
        rp_build_loud(b, RP_TX_STAGE_FALSE);
    }
    end_computed(b);
}

void rp_sheet_build_scores(struct rp_build *b)
{
    struct rp_assessment a;
    rp_episode_assess(b->ep, &a);
    build_news2(b, &a);
    build_band(b, &a);
    build_cold(b, &a);
}

/* Against the ETA in force, when it is still to come. */
static void build_until_eta(struct rp_build *b, const struct rp_oxygen_left *left)
{
    const struct rp_episode *ep = b->ep;
    uint32_t now_s = b->in->now_s;
    if (ep->eta_answer < 0 || ep->answers.at[ep->eta_answer].what.eta_s <= now_s) {
        return;
    }
    uint32_t until_s = ep->answers.at[ep->eta_answer].what.eta_s - now_s;
    int32_t flow_dlpm = 0;
    rp_build_join(b, RP_JOIN_COMMA);
    if (left->left_s >= until_s) {
        rp_build_word(b, RP_TX_OXYGEN_TO_ETA);
    } else if (rp_oxygen_flow_until(left->usable_dl, (int32_t)until_s, &flow_dlpm) == 0 &&
               flow_dlpm > 0) {
        rp_build_number(b, RP_TX_OXYGEN_SHORT, flow_dlpm, 1, RP_TX_U_LPM);
    } else {
        rp_build_loud(b, RP_TX_OXYGEN_NO_FLOW);
    }
}

void rp_sheet_build_oxygen_left(struct rp_build *b)
{
    struct rp_oxygen_left left;
    rp_oxygen_left_of(b->ep, b->in->now_s, &left);
    if (!left.known) {
        return;
    }
    rp_build_row(b, RP_TX_NONE);
    rp_build_time(b, RP_TX_OXYGEN_LEFT, left.empty_s);
    rp_build_number(b, RP_TX_OXYGEN_LEFT_AT, left.flow_dlpm, 1, RP_TX_U_LPM);
    build_until_eta(b, &left);
    end_computed(b);
}

void rp_sheet_build_conflicts(struct rp_build *b)
{
    struct rp_contradiction found[RP_CONTRA_COUNT];
    size_t count = rp_episode_contradictions(b->ep, b->in->now_s, found);
    for (size_t i = 0; i < count; i++) {
        rp_build_row(b, i == 0 ? RP_TX_L_CONFLICT : RP_TX_NONE);
        rp_build_loud(b, rp_text_pick(RP_TX_CONTRA_NAME, RP_TX_CONTRA_AHEAD, (int)found[i].kind));
        rp_build_join(b, RP_JOIN_COMMA);
        rp_build_ref(b, RP_TX_CONFLICT_RECORDS, found[i].earlier->ref);
        if (found[i].later != found[i].earlier) {
            rp_build_ref(b, RP_TX_CONFLICT_AND, found[i].later->ref);
        }
        end_computed(b);
    }
}
