/* The rules that may never be broken, checked at every event. It judges by what really happened
 * (world/truth.h) and by what is on the air, never by what a station says of itself. */
#ifndef SIM_TRIAL_AUDIT_H
#define SIM_TRIAL_AUDIT_H

#include "sim/world/world.h"

/* X(name, sentence) */
#define SIM_RULES(X)                                                                               \
    X(NONCE, "no (key, nonce) is used twice")                                                      \
    X(AUTHENTIC, "nothing unauthenticated is accepted")                                            \
    X(IDENTICAL, "what is delivered is what was originated, bit for bit")                          \
    X(STORED, "nothing leaves before it is stored, nothing acknowledged is lost")                  \
    X(LOG, "a log goes on as long as its database lives")                                          \
    X(LAW, "airtime stays within the law in any sliding hour")                                     \
    X(BOUNDED, "memory and queues are bounded")                                                    \
    X(URGENT, "no urgent record waits behind one that is not")                                     \
    X(LIVENESS, "once faults end everything is everywhere within the stated time")

enum sim_rule {
#define SIM_RULE_ENUM(name, sentence) SIM_RULE_##name,
    SIM_RULES(SIM_RULE_ENUM)
#undef SIM_RULE_ENUM
        SIM_RULE_COUNT
};

const char *sim_rule_sentence(enum sim_rule rule);

struct sim_violation {
    enum sim_rule rule;
    rp_time_us at_us;
    unsigned host;
    char text[160];
};

#define SIM_VIOLATIONS_KEPT 8
#define SIM_IN_HAND_MAX                                                                            \
    32 /* urgent segments of one station not yet aired; later ones are not                         \
        * watched */

/* A transmission, for the sliding hour. */
struct sim_spell {
    rp_time_us start_us, end_us;
};

/* An urgent segment that a station must send before any other. */
struct sim_in_hand {
    uint16_t origin;
    uint32_t seq;
    rp_time_us since_us;
    bool own;
    bool passed; /* a relay's: another one went first; a fault only if it is sent soon after */
};

struct sim_audited {
    uint16_t origin;  /* of the log it writes; 0: none yet, or its database was lost */
    uint32_t counter; /* of its last control frame, of its present origin */
    uint16_t counter_origin;
    struct sim_spell *spells; /* ring of the last hour; owned */
    unsigned spell_first, spell_count, spell_cap;
    uint64_t hour_us;
    struct sim_in_hand in_hand[SIM_IN_HAND_MAX];
    unsigned in_hand_count;
    uint16_t named_origin; /* the urgent segment whose trailer named it last */
    uint32_t named_seq;
    rp_time_us wakes_since_us; /* wakes in the second that began then */
    unsigned wakes;
    struct rp_mesh_counters before; /* a forged frame arrives */
};

struct sim_audit {
    struct sim_audited *hosts; /* [count], owned */
    unsigned count;
    uint64_t budget_us;
    uint64_t violations;
    struct sim_violation kept[SIM_VIOLATIONS_KEPT];
    uint64_t checks[SIM_RULE_COUNT]; /* how often each rule was looked at */
};

void sim_audit_init(struct sim_audit *audit, unsigned count, uint64_t budget_us_per_hour);
void sim_audit_deinit(struct sim_audit *audit);
void sim_audit_violated(struct sim_audit *audit, enum sim_rule rule, rp_time_us at_us,
                        unsigned host, const char *format, ...)
    __attribute__((format(printf, 5, 6)));

/* As the hooks of the same names in world.h. */
void sim_audit_made(struct sim_audit *audit, const struct sim_world *world, unsigned host,
                    const struct rp_segment_row *segment, const struct rp_record_row *record);
void sim_audit_held(struct sim_audit *audit, const struct sim_world *world, unsigned host,
                    const struct rp_segment_row *segment);
void sim_audit_at_base(struct sim_audit *audit, const struct sim_world *world, unsigned host,
                       uint16_t origin, uint32_t first, uint32_t last);
void sim_audit_on_air(struct sim_audit *audit, const struct sim_world *world,
                      const struct sim_air_frame *frame);
void sim_audit_arriving(struct sim_audit *audit, const struct sim_world *world, unsigned host,
                        const struct sim_arrival *arrival);
void sim_audit_arrived(struct sim_audit *audit, const struct sim_world *world, unsigned host,
                       const struct sim_arrival *arrival);
void sim_audit_woken(struct sim_audit *audit, const struct sim_world *world, unsigned host);
void sim_audit_entered(struct sim_audit *audit, const struct sim_world *world, unsigned host,
                       struct rp_record_ref ref);
/* A station went down: what it had in hand is not watched any more. */
void sim_audit_down(struct sim_audit *audit, unsigned host);
/* It starts with a new database: the airtime it forgot is not held against it. */
void sim_audit_wiped(struct sim_audit *audit, unsigned host);
/* At the end: bounds. */
void sim_audit_end(struct sim_audit *audit, const struct sim_world *world);
/* At the end of a run whose links allow it: whether everything is everywhere. */
void sim_audit_liveness(struct sim_audit *audit, const struct sim_world *world);

#endif
