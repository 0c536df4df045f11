/* Due-time pull: a record that was promised and has not come is asked for. The numbers were fitted
 * in a prototype. */
#include "mesh/state.h"

#define LATE_MOST_MS    45000   /* an origin that is later on average promises nothing usable */
#define LATE_COUNTED_MS 600000u /* most that one late record counts */
#define SLACK_MS        4000
#define PER_HOP_MS      20000      /* 25 s in the prototype; re-fitted with bare engines */
#define CLOCK_SET_S     (3 * 3600) /* more than the longest promise; own choice */
#define ATTEMPTS_MOST   15

static bool regular(const struct rp_pace *pace)
{
    return pace->promise > 0 && pace->late_ms < LATE_MOST_MS;
}

bool rp_due_regular(const struct rp_mesh *mesh, unsigned log)
{
    return regular(&mesh->logs[log].pace);
}

/* Its clock was set, not its habits changed: by its own times the record is hours off, by the times
 * of arrival it is not. */
static bool clock_was_set(const struct rp_pace *pace, int64_t entry_s, rp_time_us offset_us)
{
    int64_t apart_s = entry_s - pace->entry_s;
    rp_time_us moved_us = offset_us - pace->offset_us;
    return pace->seq > 0 && (apart_s < 0 || apart_s > CLOCK_SET_S) &&
           (moved_us > CLOCK_SET_S * RP_SECOND_US || moved_us < -CLOCK_SET_S * RP_SECOND_US);
}

/* Mean lateness against the promise, weight 0.2. */
static void learn_lateness(struct rp_pace *pace, int64_t entry_s)
{
    int64_t late_s = entry_s - pace->entry_s - rp_promise_min[pace->promise] * 60;
    late_s = late_s > 0 ? late_s : -late_s;
    uint32_t late_ms = late_s < LATE_COUNTED_MS / 1000 ? (uint32_t)late_s * 1000 : LATE_COUNTED_MS;
    pace->late_ms = (4 * pace->late_ms + late_ms) / 5;
}

void rp_due_accepted(struct rp_mesh *mesh, struct rp_log *log, uint32_t seq, struct rp_view plain,
                     const struct rp_trailer *trailer, rp_time_us now_us)
{
    struct rp_pace *pace = &log->pace;
    int64_t entry_s = rp_segment_entry_s(plain);
    if (entry_s < 0 || seq <= pace->seq) {
        return;
    }
    rp_time_us offset_us = now_us - entry_s * RP_SECOND_US;
    bool set = clock_was_set(pace, entry_s, offset_us);
    if (pace->promise > 0 && seq == pace->seq + 1 && !set) {
        learn_lateness(pace, entry_s);
    }
    if (pace->seq == 0 || set || offset_us < pace->offset_us || !regular(pace)) {
        pace->offset_us = offset_us;
    } else {
        pace->offset_us += (offset_us - pace->offset_us) / 8; /* its clock may have been set */
    }
    pace->seq = seq;
    pace->entry_s = entry_s;
    pace->promise = trailer->promise;
    pace->hops = trailer->hops < RP_HOPS_MAX ? trailer->hops + 1 : RP_HOPS_MAX;
    pace->attempts = 0;
    pace->due_us = RP_NEVER;
    if (log->origin != mesh->config.origin && regular(pace)) {
        int64_t next_s = entry_s + rp_promise_min[pace->promise] * 60;
        uint32_t wait_ms = SLACK_MS + PER_HOP_MS * pace->hops;
        pace->due_us = pace->offset_us + next_s * RP_SECOND_US + 2000 * (rp_time_us)pace->late_ms +
                       rp_wait_us(mesh, wait_ms, wait_ms + 1000);
    }
}

void rp_due_asked(struct rp_mesh *mesh, struct rp_log *log, rp_time_us now_us)
{
    struct rp_pace *pace = &log->pace;
    pace->attempts++;
    pace->due_us =
        pace->attempts < ATTEMPTS_MOST ? now_us + rp_pull_pause_us(mesh, pace->attempts) : RP_NEVER;
}
