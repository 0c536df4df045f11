/* Insistence: only on a named station that stays silent, and bounded by its link, by whether
 * others could serve it, and by what the hour has left. */
#include "mesh/push/profile.h"

/* A missing neighbour is named, but hardly insisted on. Own choice. */
#define SENDS_TO_SILENT 2
/* Where another station could serve the named one, its pull costs less than insistence. Fitted with
 * bare engines. */
#define SENDS_IF_OTHERS 2
/* What is promised is asked for when it does not come: over a link of 0.8 nothing is sent twice,
 * over one of 0.6 once more (one send, two sends in the prototype's ablation; re-fitted with bare
 * engines: R of chain:5 at 10 % 1.18 to 1.14, at 30 % 1.43 to 1.37). */
#define GOOD_Q8    204
#define FAIR_Q8    150
#define SENDS_GOOD 1
#define SENDS_FAIR 2
/* In a busy hour insistence is thinned: pulls cost less, and a spent budget delays everything. */
#define SENDS_BUSY   3
#define SENDS_LOADED 2

/* Late single sends after the insistence ended without any sign: a loss of minutes (somebody in
 * the way, weather) outlives the quick ones. They follow after 20-40, 40-80 and 80-160 s. */
#define LATE_MAX       2
#define LATE_FIRST_MS  20000u
#define LATE_URGENT_MS 2000u /* 2-4, 4-8 and 8-16 s */

/* Where the growth of a wait ends. A segment asked for again and again is sent far more often than
 * insistence alone would, and the wait must stay a number. Own choice: as long as it is kept idle.
 */
#define AWAIT_MOST_MS 600000u

/* A named station that is heard with something else is busy: its silence is judged so much later,
 * so many times. Own choice: the exchange it is in takes about that long. */
#define BUSY_MS       2000
#define POSTPONED_MAX 4

/* ceil(ln 0.025 / ln(1 - q)) for the link to the named station, at least 2. */
static uint8_t sends_for(uint8_t out_q8)
{
    static const uint8_t least_q8[] = {215, 181, 154, 134, 117, 105}; /* 2, 3, 4 ... sends */
    uint8_t sends = 2;
    for (unsigned i = 0; i < sizeof least_q8 && out_q8 < least_q8[i]; i++) {
        sends++;
    }
    return sends;
}

uint32_t rp_push_grown_ms(uint32_t first_ms, unsigned growth_pct, unsigned sends)
{
    uint64_t wait_ms = first_ms;
    for (unsigned n = 1; n < sends && wait_ms < AWAIT_MOST_MS; n++) {
        wait_ms = wait_ms * growth_pct / 100;
    }
    return wait_ms < AWAIT_MOST_MS ? (uint32_t)wait_ms : AWAIT_MOST_MS;
}

rp_time_us rp_insist_await_us(struct rp_mesh *mesh, const struct rp_pending *pending,
                              size_t frame_len)
{
    const struct rp_profile *profile = rp_profile_of(pending);
    bool others = rp_push_busy(mesh, pending);
    uint32_t low_ms = rp_push_grown_ms(others ? profile->again_busy_ms : profile->again_ms,
                                       profile->growth_pct, pending->sends);
    rp_time_us wait_us = rp_wait_us(mesh, low_ms, low_ms + low_ms * profile->jitter_pct / 100);
    /* Never shorter than the named station needs to forward. */
    rp_time_us least_us = rp_scale_us(mesh, profile->named_high_ms) +
                          rp_airtime_of_us(mesh, frame_len) + RP_LATENCY_US;
    return wait_us > least_us ? wait_us : least_us;
}

void rp_push_alive(struct rp_mesh *mesh, uint8_t station, rp_time_us now_us)
{
    for (unsigned i = 0; i < mesh->pending_count; i++) {
        struct rp_pending *pending = &mesh->pending[i];
        if (pending->state != RP_PENDING_AWAIT || pending->named != station || pending->urgent ||
            pending->postponed >= POSTPONED_MAX) {
            continue;
        }
        rp_time_us due_us = now_us + rp_wait_us(mesh, BUSY_MS, 2 * BUSY_MS) + RP_LATENCY_US;
        if (due_us > pending->due_us) {
            pending->due_us = due_us;
            pending->postponed++;
        }
    }
}

/* One that has shown that it hears this station, and not given up lately: worth a longer try. */
static bool answers(const struct rp_neighbour *neighbour)
{
    return neighbour->proven && neighbour->silent < RP_SILENT_MAX;
}

/* How often a segment is sent to a named station that stays silent. An urgent one goes on by the
 * link alone: what a neighbour last said of it may flatter. */
static uint8_t most_sends(const struct rp_mesh *mesh, const struct rp_pending *pending,
                          const struct rp_neighbour *neighbour, rp_time_us now_us)
{
    uint8_t by_link = sends_for(neighbour->out_q8);
    uint8_t sends_max = rp_profile_of(pending)->sends_max;
    if (pending->urgent) {
        by_link = answers(neighbour) ? 3 * by_link : by_link;
        return by_link < sends_max ? by_link : sends_max;
    }
    if (neighbour->silent >= RP_SILENT_MAX) {
        return SENDS_TO_SILENT;
    }
    if (rp_due_regular(mesh, pending->log)) {
        sends_max = neighbour->out_q8 >= GOOD_Q8   ? SENDS_GOOD
                    : neighbour->out_q8 >= FAIR_Q8 ? SENDS_FAIR
                                                   : sends_max;
    }
    if (sends_max > SENDS_IF_OTHERS && rp_belief_sole(mesh, pending, neighbour) < RP_SOLE_Q8) {
        return SENDS_IF_OTHERS;
    }
    unsigned load_pct = rp_ledger_load_pct(&mesh->ledger, now_us);
    uint8_t most = load_pct >= RP_LOADED_PCT ? SENDS_LOADED
                   : load_pct >= RP_BUSY_PCT ? SENDS_BUSY
                                             : sends_max;
    return by_link < most ? by_link : most;
}

/* The named station had to speak and did not. */
void rp_insist_judge(struct rp_mesh *mesh, struct rp_pending *pending, rp_time_us now_us)
{
    if (rp_urgent_looks(mesh, pending, now_us)) {
        return;
    }
    const struct rp_profile *profile = rp_profile_of(pending);
    int slot = rp_neighbour_slot(mesh, pending->named);
    if (slot < 0 || pending->lack[pending->named] == 0) {
        rp_push_done(mesh, pending, now_us);
        return;
    }
    struct rp_neighbour *neighbour = &mesh->neighbours[slot];
    unsigned lack = pending->lack[pending->named];
    unsigned missed_q8 = 255u - rp_link_q8(mesh, neighbour->station, mesh->station);
    unsigned heard_nothing = lack + rp_mul8(255u - lack, missed_q8);
    pending->lack[pending->named] = (uint8_t)(lack * 255 / heard_nothing);
    if (pending->lack[pending->named] >= profile->lack_least &&
        pending->sends < most_sends(mesh, pending, neighbour, now_us)) {
        rp_push_plan(pending, RP_PENDING_FORWARD, now_us);
        return;
    }
    /* Where the record is asked for when due, or the hour is busy, pulls repair the rest. */
    bool leave = !pending->urgent && (rp_due_regular(mesh, pending->log) ||
                                      rp_ledger_load_pct(&mesh->ledger, now_us) >= RP_BUSY_PCT);
    if (!leave && pending->late < LATE_MAX && answers(neighbour)) {
        pending->late++;
        uint32_t wait_ms = (pending->urgent ? LATE_URGENT_MS : LATE_FIRST_MS) << pending->late;
        rp_push_plan(pending, RP_PENDING_FORWARD, now_us + rp_wait_us(mesh, wait_ms / 2, wait_ms));
        return;
    }
    neighbour->silent = neighbour->silent < UINT8_MAX ? neighbour->silent + 1 : UINT8_MAX;
    if (!rp_due_regular(mesh, pending->log) && now_us >= mesh->doubt_us &&
        mesh->digest_us == RP_NEVER) {
        /* A digest lets it find out that it lacks something; at most one in a while. */
        mesh->doubt_us = now_us + 16 * mesh->trickle.imin_us;
        mesh->digest_us = now_us + rp_wait_us(mesh, 4000, 16000);
    }
    rp_push_done(mesh, pending, now_us);
}
