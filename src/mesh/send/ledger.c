/* Exact airtime against a budget in any sliding hour.
 *
 * The rule: at no moment may the airtime of the hour before it exceed the budget. It is enough to
 * check this when a frame is charged, with everything charged in the hour before. Buckets keep a
 * charge a little longer than an hour, never shorter. */
#include "mesh/state.h"

#include <assert.h>
#include <string.h>

/* Needs, vectors and digests share 15 % of the routine budget once half of it is spent; what they
 * leave is kept up to 4 s, some 20 frames. Without a share the asking of five stations with holes
 * took more than the answers were left. Re-fitted with bare engines. */
#define TALK_PCT      15
#define TALK_FREE_PCT 50
#define TALK_MOST_US  (4 * RP_SECOND_US)

static int64_t bucket_of(rp_time_us at_us)
{
    int64_t bucket = at_us / RP_LEDGER_BUCKET_US;
    return at_us < 0 && at_us % RP_LEDGER_BUCKET_US != 0 ? bucket - 1 : bucket;
}

static unsigned place_of(int64_t bucket)
{
    int64_t place = bucket % RP_LEDGER_BUCKETS;
    return (unsigned)(place < 0 ? place + RP_LEDGER_BUCKETS : place);
}

static void advance(struct rp_ledger *ledger, int64_t bucket)
{
    if (bucket - ledger->newest >= RP_LEDGER_BUCKETS) {
        memset(ledger->spent_us, 0, sizeof ledger->spent_us);
        ledger->total_us = 0;
        ledger->newest = bucket;
    }
    while (ledger->newest < bucket) {
        ledger->newest++;
        uint32_t *spent_us = &ledger->spent_us[place_of(ledger->newest)];
        ledger->total_us -= *spent_us;
        *spent_us = 0;
    }
}

void rp_ledger_init(struct rp_ledger *ledger, uint32_t budget_us, uint8_t reserve_pct,
                    rp_time_us now_us)
{
    assert(reserve_pct <= 100);
    *ledger = (struct rp_ledger){.budget_us = budget_us, .reserve_pct = reserve_pct};
    ledger->newest = bucket_of(now_us);
    ledger->credit_us = TALK_MOST_US;
    ledger->credit_at_us = now_us;
}

void rp_ledger_add(struct rp_ledger *ledger, rp_time_us at_us, uint32_t airtime_us)
{
    int64_t bucket = bucket_of(at_us);
    advance(ledger, bucket);
    if (ledger->newest - bucket >= RP_LEDGER_BUCKETS) {
        return; /* older than an hour */
    }
    uint32_t *spent_us = &ledger->spent_us[place_of(bucket)];
    /* A bucket that would overflow stays at its highest: far above any budget. */
    uint32_t added_us = UINT32_MAX - *spent_us < airtime_us ? UINT32_MAX - *spent_us : airtime_us;
    *spent_us += added_us;
    ledger->total_us += added_us;
}

void rp_ledger_remove(struct rp_ledger *ledger, rp_time_us at_us, uint32_t airtime_us)
{
    int64_t bucket = bucket_of(at_us);
    if (bucket > ledger->newest || ledger->newest - bucket >= RP_LEDGER_BUCKETS) {
        return;
    }
    uint32_t *spent_us = &ledger->spent_us[place_of(bucket)];
    uint32_t removed_us = *spent_us < airtime_us ? *spent_us : airtime_us;
    *spent_us -= removed_us;
    ledger->total_us -= removed_us;
}

/* How much may be spent in an hour, all kinds together, before this kind has to stop. */
static uint64_t limit_us(const struct rp_ledger *ledger, enum rp_spend spend)
{
    uint64_t routine_us = (uint64_t)ledger->budget_us * (100u - ledger->reserve_pct) / 100;
    switch (spend) {
    case RP_SPEND_URGENT:
        return ledger->budget_us;
    case RP_SPEND_ROUTINE:
        return routine_us;
    case RP_SPEND_BACKLOG:
        return routine_us * 7 / 10; /* own choice: new reports keep the rest */
    case RP_SPEND_CATCH_UP:
        return routine_us * 9 / 10; /* own choice: the first report finds room */
    }
    return 0;
}

/* What remains charged once bucket number `newest` is the newest. */
static uint64_t spent_at(const struct rp_ledger *ledger, int64_t newest)
{
    uint64_t total_us = ledger->total_us;
    int64_t oldest = ledger->newest - RP_LEDGER_BUCKETS + 1;
    for (int64_t bucket = oldest; bucket <= ledger->newest && newest - bucket >= RP_LEDGER_BUCKETS;
         bucket++) {
        total_us -= ledger->spent_us[place_of(bucket)];
    }
    return total_us;
}

uint32_t rp_ledger_left_us(const struct rp_ledger *ledger, enum rp_spend spend, rp_time_us now_us)
{
    uint64_t spent_us = spent_at(ledger, bucket_of(now_us));
    uint64_t most_us = limit_us(ledger, spend);
    return (uint32_t)(spent_us < most_us ? most_us - spent_us : 0);
}

rp_time_us rp_ledger_fits_at(const struct rp_ledger *ledger, enum rp_spend spend,
                             uint32_t airtime_us, rp_time_us now_us)
{
    uint64_t most_us = limit_us(ledger, spend);
    if (airtime_us > most_us) {
        return RP_NEVER;
    }
    int64_t now = bucket_of(now_us);
    uint64_t spent_us = spent_at(ledger, now);
    if (spent_us + airtime_us <= most_us) {
        return now_us;
    }
    int64_t oldest = ledger->newest - RP_LEDGER_BUCKETS + 1;
    for (int64_t bucket = oldest; bucket <= ledger->newest; bucket++) {
        if (now - bucket >= RP_LEDGER_BUCKETS) {
            continue; /* left out of spent_us already */
        }
        spent_us -= ledger->spent_us[place_of(bucket)];
        if (spent_us + airtime_us <= most_us) {
            return (bucket + RP_LEDGER_BUCKETS) * RP_LEDGER_BUCKET_US;
        }
    }
    return (ledger->newest + RP_LEDGER_BUCKETS) * RP_LEDGER_BUCKET_US;
}

unsigned rp_ledger_load_pct(const struct rp_ledger *ledger, rp_time_us now_us)
{
    uint64_t most_us = limit_us(ledger, RP_SPEND_ROUTINE);
    uint64_t left_us = rp_ledger_left_us(ledger, RP_SPEND_ROUTINE, now_us);
    return most_us > 0 ? (unsigned)((most_us - left_us) * 100 / most_us) : 100;
}

rp_time_us rp_ledger_talk_at(struct rp_ledger *ledger, uint32_t airtime_us, rp_time_us now_us)
{
    int64_t share_us = (int64_t)limit_us(ledger, RP_SPEND_ROUTINE) * TALK_PCT / 100;
    /* In milliseconds: the products stay far below 2^63. */
    ledger->credit_us += (now_us - ledger->credit_at_us) / 1000 * (share_us / 1000) / 3600;
    ledger->credit_us = ledger->credit_us < TALK_MOST_US ? ledger->credit_us : TALK_MOST_US;
    ledger->credit_at_us = now_us;
    int64_t lacking_us = airtime_us - ledger->credit_us;
    if (lacking_us <= 0 || rp_ledger_load_pct(ledger, now_us) < TALK_FREE_PCT) {
        return now_us;
    }
    return share_us >= 1000 ? now_us + lacking_us * 3600 / (share_us / 1000) * 1000 : RP_NEVER;
}

void rp_ledger_talked(struct rp_ledger *ledger, uint32_t airtime_us)
{
    ledger->credit_us -= ledger->credit_us > airtime_us ? airtime_us : ledger->credit_us;
}
