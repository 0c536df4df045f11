#include "sim/world/workload.h"

#include <math.h>
#include <string.h>

rp_time_us sim_workload_first_us(const struct sim_settings *settings, struct rp_rng *rng)
{
    return SIM_MINUTE_US + rp_rng_between(rng, 0, settings->interval_us - 1);
}

rp_time_us sim_workload_next_us(const struct sim_settings *settings, struct rp_rng *rng,
                                rp_time_us now_us)
{
    if (settings->cadence != SIM_SPORADIC) {
        return now_us + settings->interval_us;
    }
    /* Exponential pauses: times without memory. Uniform in (0, 1], 53 bits. */
    double uniform = ((double)(rp_rng_next(rng) >> 11) + 1) / 9007199254740992.0;
    return now_us + 1 + (rp_time_us)(-log(uniform) * (double)settings->interval_us);
}

static size_t varint_len(uint32_t value)
{
    return value < 128 ? 1 : value < 16384 ? 2 : 3;
}

/* A status report of an episode of this station: pulse and SpO2 as measured, and `by` as filler. */
static void make_status(struct rp_record *record, struct rp_rng *rng)
{
    *record = (struct rp_record){.kind = RP_REC_STATUS, .episode = {0, 1}};
    struct rp_rec_status *status = &record->as.status;
    status->condition = RP_COND_SAME;
    status->mode = RP_MODE_AIR;
    status->spo2_pct = (struct rp_value){RP_MEASURED, (int16_t)rp_rng_between(rng, 60, 90)};
    status->pulse_bpm = (struct rp_value){RP_MEASURED, (int16_t)rp_rng_between(rng, 90, 140)};
}

static void fill(char *text, size_t len)
{
    memset(text, 'x', len);
    text[len] = '\0';
}

/* Bytes on air of the record when it fits one frame. */
static size_t bytes_on_air(const struct rp_record *record, uint32_t seq)
{
    uint8_t buf[RP_RECORD_LEN_MAX];
    struct rp_record stamped = *record;
    int len = rp_record_encode(&stamped, buf, sizeof buf, NULL);
    return len < 0 ? 0 : (size_t)len + 3 + varint_len(seq) + RP_TAG_LEN + RP_TRAILER_LEN;
}

/* Whole minutes, rounded up, as a person's promise is. */
static uint8_t promise_min(const struct sim_settings *settings, rp_time_us now_us)
{
    bool again =
        settings->cadence == SIM_DECLARED && now_us + settings->interval_us <= settings->hours_us;
    rp_time_us min = (settings->interval_us + SIM_MINUTE_US - 1) / SIM_MINUTE_US;
    return again && min <= RP_NEXT_MIN_MAX ? (uint8_t)min : 0;
}

int sim_workload_enter(struct sim_host *host, const struct sim_settings *settings,
                       struct rp_rng *rng, rp_time_us now_us, struct rp_record_ref *out_ref)
{
    struct rp_record record;
    make_status(&record, rng);
    record.urgent = rp_rng_below(rng, 1000) < settings->urgent_permille;
    record.as.status.next_min = promise_min(settings, now_us);
    struct rp_moment moment = sim_host_moment(host, now_us);
    record.time_s =
        rp_node_net_time(host->node, moment); /* as it will be stamped: for its length */
    record.episode.origin = rp_node_origin(host->node);
    struct rp_record sized = record;
    sized.episode.origin = 0;
    int64_t last = host->config.store->last_seq(host->store, rp_node_origin(host->node));
    size_t len = bytes_on_air(&sized, (uint32_t)last + 1);
    if (len < settings->record_bytes) {
        /* The field costs two bytes before its first character. */
        size_t more = settings->record_bytes - len;
        size_t text = more > 2 ? more - 2 : 1;
        fill(record.by, text < RP_NAME_LEN ? text : RP_NAME_LEN);
    }
    struct rp_problem problem;
    return rp_node_enter(host->node, &record, moment, out_ref, &problem);
}
