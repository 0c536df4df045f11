/* Transmit time in any sliding hour. */
#ifndef RP_MESH_LEDGER_H
#define RP_MESH_LEDGER_H

#include "ridgepost/engine.h"

#define RP_SECOND_US ((rp_time_us)1000000)
#define RP_HOUR_US   (3600 * RP_SECOND_US)

/* Buckets of 15 s. A charge counts for at least 3615 s: the hour, and 15 s for the frame that was
 * charged at its start and ended later. */
#define RP_LEDGER_BUCKET_US (15 * RP_SECOND_US)
#define RP_LEDGER_BUCKETS   242

enum rp_spend {
    RP_SPEND_URGENT,
    RP_SPEND_ROUTINE,
    RP_SPEND_BACKLOG,  /* old segments asked for, while reports are coming */
    RP_SPEND_CATCH_UP, /* the same while none come */
};

struct rp_ledger {
    uint32_t budget_us;
    uint8_t reserve_pct;
    int64_t newest; /* number of the newest bucket: time / bucket length */
    uint64_t total_us;
    uint32_t spent_us[RP_LEDGER_BUCKETS];
    int64_t credit_us; /* for needs, vectors and digests, in a busy hour */
    rp_time_us credit_at_us;
};

void rp_ledger_init(struct rp_ledger *ledger, uint32_t budget_us, uint8_t reserve_pct,
                    rp_time_us now_us);
void rp_ledger_add(struct rp_ledger *ledger, rp_time_us at_us, uint32_t airtime_us);
/* Takes back what rp_ledger_add(at_us) added. */
void rp_ledger_remove(struct rp_ledger *ledger, rp_time_us at_us, uint32_t airtime_us);
uint32_t rp_ledger_left_us(const struct rp_ledger *ledger, enum rp_spend spend, rp_time_us now_us);
/* The earliest moment, now or later, at which airtime_us fits; RP_NEVER when it never can. */
rp_time_us rp_ledger_fits_at(const struct rp_ledger *ledger, enum rp_spend spend,
                             uint32_t airtime_us, rp_time_us now_us);

/* How much of what routine traffic may spend in an hour is spent, in percent. */
unsigned rp_ledger_load_pct(const struct rp_ledger *ledger, rp_time_us now_us);
/* When a need, a vector or a digest of this length may leave as far as their share goes: in a busy
 * hour they may take no more than a part, so that asking cannot starve the answers. */
rp_time_us rp_ledger_talk_at(struct rp_ledger *ledger, uint32_t airtime_us, rp_time_us now_us);
void rp_ledger_talked(struct rp_ledger *ledger, uint32_t airtime_us);

#endif
