#include "episode_kit.h"

struct rp_episode kit;

void kit_start(void)
{
    rp_episode_init(&kit, (struct rp_episode_ref){CAMP, 1});
}

struct rp_record_ref kit_ref(uint16_t origin, uint32_t seq)
{
    return (struct rp_record_ref){origin, seq};
}

struct rp_record kit_record(enum rp_record_kind kind, uint32_t time_s)
{
    struct rp_record r;
    memset(&r, 0, sizeof r);
    r.kind = kind;
    r.time_s = time_s;
    r.episode = (struct rp_episode_ref){CAMP, 1};
    return r;
}

void kit_add(const struct rp_record *record, uint16_t origin, uint32_t seq)
{
    assert_int_equal(rp_episode_add(&kit, record, kit_ref(origin, seq)), 0);
}

struct rp_value kit_value(int value)
{
    return (struct rp_value){RP_MEASURED, (int16_t)value};
}

void kit_chamber(uint32_t seq, uint32_t time_s, enum rp_phase phase, uint8_t session)
{
    struct rp_record r = kit_record(RP_REC_CHAMBER, time_s);
    r.as.chamber.phase = (uint8_t)phase;
    r.as.chamber.session = session;
    kit_add(&r, CAMP, seq);
}

void kit_request(uint32_t seq, uint32_t time_s, uint32_t revises_seq)
{
    struct rp_record r = kit_record(RP_REC_EVACUATION, time_s);
    if (revises_seq != 0) {
        r.as.evacuation.revises = kit_ref(CAMP, revises_seq);
    }
    kit_add(&r, CAMP, seq);
}

void kit_cancel(uint32_t seq, uint32_t time_s, uint32_t request_seq)
{
    struct rp_record r = kit_record(RP_REC_EVAC_CANCEL, time_s);
    r.as.evac_cancel.request = kit_ref(CAMP, request_seq);
    strcpy(r.as.evac_cancel.reason, "walking down");
    kit_add(&r, CAMP, seq);
}

void kit_answer(uint32_t seq, uint32_t time_s, enum rp_answer_kind kind, uint32_t request_seq)
{
    struct rp_record r = kit_record(RP_REC_ANSWER, time_s);
    r.as.answer.kind = (uint8_t)kind;
    r.as.answer.about = kit_ref(CAMP, request_seq);
    kit_add(&r, BASE, seq);
}

void kit_correct(uint32_t seq, uint32_t time_s, struct rp_record_ref about,
                 struct rp_record_ref replacement)
{
    struct rp_record r = kit_record(RP_REC_CORRECTION, time_s);
    r.as.correction.about = about;
    r.as.correction.replacement = replacement;
    kit_add(&r, CAMP, seq);
}

struct rp_record kit_status(uint32_t time_s, int spo2_pct, uint16_t age_min)
{
    struct rp_record r = kit_record(RP_REC_STATUS, time_s);
    r.as.status.mode = RP_MODE_AIR;
    r.as.status.vitals_age_min = age_min;
    if (spo2_pct >= 0) {
        r.as.status.spo2_pct = kit_value(spo2_pct);
    }
    return r;
}
