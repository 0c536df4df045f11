#include "sim/trial/audit.h"

#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "wire/frame.h"

/* Wakes of one station in one second: far above any honest need; beyond it the node asks to be
 * woken and then does nothing. */
#define WAKES_MAX 2000
/* Rows of airtime kept: two hours of the shortest frames, 12 bytes at SF7 in 500 kHz (9 ms). */
#define CHARGES_MAX (2u * 3600u * 1000u / 9u)
/* What is named to a relay is watched this long; later it has thought better of it. */
#define NAMED_WATCHED_US (5 * SIM_SECOND_US)

static const char *const sentences[SIM_RULE_COUNT] = {
#define SIM_RULE_SENTENCE(name, sentence) [SIM_RULE_##name] = sentence,
    SIM_RULES(SIM_RULE_SENTENCE)
#undef SIM_RULE_SENTENCE
};

const char *sim_rule_sentence(enum sim_rule rule)
{
    return sentences[rule];
}

void sim_audit_init(struct sim_audit *audit, unsigned count, uint64_t budget_us_per_hour)
{
    *audit = (struct sim_audit){.count = count, .budget_us = budget_us_per_hour};
    audit->hosts = calloc(count, sizeof audit->hosts[0]);
    assert(audit->hosts != NULL);
}

void sim_audit_deinit(struct sim_audit *audit)
{
    for (unsigned i = 0; i < audit->count; i++) {
        free(audit->hosts[i].spells);
    }
    free(audit->hosts);
}

void sim_audit_violated(struct sim_audit *audit, enum sim_rule rule, rp_time_us at_us,
                        unsigned host, const char *format, ...)
{
    if (audit->violations < SIM_VIOLATIONS_KEPT) {
        struct sim_violation *violation = &audit->kept[audit->violations];
        *violation = (struct sim_violation){.rule = rule, .at_us = at_us, .host = host};
        va_list args;
        va_start(args, format);
        vsnprintf(violation->text, sizeof violation->text, format, args);
        va_end(args);
    }
    audit->violations++;
}

/* --- storage --- */

static void take_in_hand(struct sim_audited *audited, uint16_t origin, uint32_t seq, bool own,
                         rp_time_us now_us)
{
    if (audited->in_hand_count < SIM_IN_HAND_MAX) {
        audited->in_hand[audited->in_hand_count++] =
            (struct sim_in_hand){origin, seq, now_us, own, false};
    }
}

void sim_audit_made(struct sim_audit *audit, const struct sim_world *world, unsigned host,
                    const struct rp_segment_row *segment, const struct rp_record_row *record)
{
    audit->checks[SIM_RULE_NONCE]++;
    if (sim_truth_find(&world->truth, segment->origin, segment->seq) != NULL) {
        sim_audit_violated(audit, SIM_RULE_NONCE, world->now_us, host,
                           "segment %u of log %04x was made a second time", segment->seq,
                           segment->origin);
    }
    uint16_t *origin = &audit->hosts[host].origin;
    audit->checks[SIM_RULE_LOG]++;
    if (*origin != 0 && *origin != segment->origin) {
        sim_audit_violated(audit, SIM_RULE_LOG, world->now_us, host,
                           "began log %04x although its database holds log %04x", segment->origin,
                           *origin);
    }
    *origin = segment->origin;
    if (record->urgent) {
        take_in_hand(&audit->hosts[host], segment->origin, segment->seq, true, world->now_us);
    }
}

static bool same_bytes(const struct sim_fact *fact, struct rp_view sealed)
{
    return fact->len == sealed.len && memcmp(fact->sealed, sealed.bytes, sealed.len) == 0;
}

void sim_audit_held(struct sim_audit *audit, const struct sim_world *world, unsigned host,
                    const struct rp_segment_row *segment)
{
    const struct sim_fact *fact = sim_truth_find(&world->truth, segment->origin, segment->seq);
    audit->checks[SIM_RULE_AUTHENTIC]++;
    audit->checks[SIM_RULE_IDENTICAL]++;
    if (fact == NULL) {
        sim_audit_violated(audit, SIM_RULE_AUTHENTIC, world->now_us, host,
                           "segment %u of log %04x was accepted and nobody made it", segment->seq,
                           segment->origin);
        return;
    }
    if (!same_bytes(fact, segment->sealed)) {
        sim_audit_violated(audit, SIM_RULE_IDENTICAL, world->now_us, host,
                           "segment %u of log %04x was accepted with other bytes", segment->seq,
                           segment->origin);
    }
    struct sim_audited *audited = &audit->hosts[host];
    if (audited->named_origin == segment->origin && audited->named_seq == segment->seq) {
        take_in_hand(audited, segment->origin, segment->seq, false, world->now_us);
        audited->named_origin = 0;
    }
}

void sim_audit_at_base(struct sim_audit *audit, const struct sim_world *world, unsigned host,
                       uint16_t origin, uint32_t first, uint32_t last)
{
    audit->checks[SIM_RULE_STORED]++;
    for (uint32_t seq = first; seq <= last; seq++) {
        const struct sim_fact *fact = sim_truth_find(&world->truth, origin, seq);
        if (fact == NULL || !fact->at_base) {
            sim_audit_violated(audit, SIM_RULE_STORED, world->now_us, host,
                               "segment %u of log %04x is shown as at base; no base has had it",
                               seq, origin);
        }
    }
}

void sim_audit_entered(struct sim_audit *audit, const struct sim_world *world, unsigned host,
                       struct rp_record_ref ref)
{
    const struct sim_fact *fact = sim_truth_find(&world->truth, ref.origin, ref.seq);
    audit->checks[SIM_RULE_STORED]++;
    if (fact == NULL || !sim_set_has(&fact->holders, host)) {
        sim_audit_violated(audit, SIM_RULE_STORED, world->now_us, host,
                           "record %u of log %04x was acknowledged to the person entering it and "
                           "is not stored",
                           ref.seq, ref.origin);
    }
}

/* --- the air --- */

static struct sim_spell *spell_at(struct sim_audited *audited, unsigned i)
{
    return &audited->spells[(audited->spell_first + i) % audited->spell_cap];
}

static void add_spell(struct sim_audited *audited, struct sim_spell spell)
{
    if (audited->spell_count == audited->spell_cap) {
        unsigned cap = audited->spell_cap * 2 + 64;
        struct sim_spell *grown = malloc(cap * sizeof grown[0]);
        assert(grown != NULL);
        for (unsigned i = 0; i < audited->spell_count; i++) {
            grown[i] = *spell_at(audited, i);
        }
        free(audited->spells);
        audited->spells = grown;
        audited->spell_first = 0;
        audited->spell_cap = cap;
    }
    *spell_at(audited, audited->spell_count++) = spell;
    audited->hour_us += (uint64_t)(spell.end_us - spell.start_us);
}

/* The hour that ends with the end of this frame is the worst that contains it: any later one has
 * less before it, and any later frame is checked in its turn. */
static void check_law(struct sim_audit *audit, const struct sim_world *world,
                      const struct sim_air_frame *frame)
{
    struct sim_audited *audited = &audit->hosts[frame->from];
    rp_time_us begin_us = frame->end_us - SIM_HOUR_US;
    add_spell(audited, (struct sim_spell){frame->start_us, frame->end_us});
    while (spell_at(audited, 0)->end_us <= begin_us) {
        audited->hour_us -=
            (uint64_t)(spell_at(audited, 0)->end_us - spell_at(audited, 0)->start_us);
        audited->spell_first = (audited->spell_first + 1) % audited->spell_cap;
        audited->spell_count--;
    }
    const struct sim_spell *oldest = spell_at(audited, 0);
    uint64_t outside_us = oldest->start_us < begin_us ? (uint64_t)(begin_us - oldest->start_us) : 0;
    audit->checks[SIM_RULE_LAW]++;
    if (audited->hour_us - outside_us > audit->budget_us) {
        sim_audit_violated(audit, SIM_RULE_LAW, world->now_us, frame->from,
                           "%.3f s on air in one hour, allowed are %.3f s",
                           (double)(audited->hour_us - outside_us) / 1e6,
                           (double)audit->budget_us / 1e6);
    }
}

static void forget_in_hand(struct sim_audited *audited, unsigned i)
{
    audited->in_hand[i] = audited->in_hand[--audited->in_hand_count];
}

static bool is_urgent(const struct sim_world *world, const struct sim_fact *fact)
{
    return world->truth.records[fact->record].urgent;
}

static void urgent_violated(struct sim_audit *audit, const struct sim_world *world,
                            const struct sim_air_frame *frame, const struct sim_in_hand *in_hand)
{
    sim_audit_violated(audit, SIM_RULE_URGENT, world->now_us, frame->from,
                       "another segment went before urgent segment %u of log %04x, which was in "
                       "hand for %.3f s",
                       in_hand->seq, in_hand->origin,
                       (double)(frame->taken_us - in_hand->since_us) / 1e6);
}

/* A segment leaves: an urgent one is no longer in hand; another one may not leave while one was in
 * hand when the host handed the frame over. A relay may think that others have forwarded what it
 * was named for; that it did not shows when it sends it soon after, unasked. */
static void check_urgent(struct sim_audit *audit, const struct sim_world *world,
                         const struct sim_air_frame *frame, const struct rp_frame_head *head,
                         const struct sim_fact *fact)
{
    struct sim_audited *audited = &audit->hosts[frame->from];
    bool urgent = is_urgent(world, fact);
    audit->checks[SIM_RULE_URGENT]++;
    for (unsigned i = audited->in_hand_count; i-- > 0;) {
        struct sim_in_hand *in_hand = &audited->in_hand[i];
        bool over = !in_hand->own && frame->taken_us - in_hand->since_us > NAMED_WATCHED_US;
        bool itself = in_hand->origin == head->origin && in_hand->seq == head->counter;
        bool first = !urgent && in_hand->since_us < frame->taken_us;
        if (!over && ((itself && in_hand->passed) || (first && in_hand->own))) {
            urgent_violated(audit, world, frame, in_hand);
        }
        if (over || itself || (first && in_hand->own)) {
            forget_in_hand(audited, i);
        } else {
            in_hand->passed = in_hand->passed || first;
        }
    }
}

static void check_segment(struct sim_audit *audit, const struct sim_world *world,
                          const struct sim_air_frame *frame, const struct rp_frame_head *head)
{
    const struct sim_fact *fact = sim_truth_find(&world->truth, head->origin, head->counter);
    audit->checks[SIM_RULE_STORED]++;
    if (fact == NULL || !sim_set_has(&fact->holders, frame->from)) {
        sim_audit_violated(audit, SIM_RULE_STORED, world->now_us, frame->from,
                           "segment %u of log %04x is on air and not stored by its sender",
                           head->counter, head->origin);
        return;
    }
    audit->checks[SIM_RULE_NONCE]++;
    struct rp_view sealed = {frame->bytes.bytes, rp_segment_sealed_len(frame->bytes)};
    if (!same_bytes(fact, sealed)) {
        sim_audit_violated(audit, SIM_RULE_NONCE, world->now_us, frame->from,
                           "segment %u of log %04x is on air with other bytes than were made",
                           head->counter, head->origin);
    }
    check_urgent(audit, world, frame, head, fact);
}

static void check_control(struct sim_audit *audit, const struct sim_world *world,
                          const struct sim_air_frame *frame, const struct rp_frame_head *head)
{
    struct sim_audited *audited = &audit->hosts[frame->from];
    audit->checks[SIM_RULE_NONCE]++;
    if (audited->counter_origin != head->origin) {
        audited->counter_origin = head->origin;
        audited->counter = 0;
    }
    if (head->counter <= audited->counter) {
        sim_audit_violated(audit, SIM_RULE_NONCE, world->now_us, frame->from,
                           "control counter %u of log %04x after counter %u", head->counter,
                           head->origin, audited->counter);
    }
    audited->counter = head->counter;
    /* It may have thought better of what it was named for, and says so. */
    for (unsigned i = audited->in_hand_count; head->kind == RP_FRAME_REQUEST && i-- > 0;) {
        if (!audited->in_hand[i].own) {
            forget_in_hand(audited, i);
        }
    }
}

void sim_audit_on_air(struct sim_audit *audit, const struct sim_world *world,
                      const struct sim_air_frame *frame)
{
    check_law(audit, world, frame);
    struct rp_frame_head head;
    if (rp_frame_head_read(frame->bytes, &head) < 0) {
        sim_audit_violated(audit, SIM_RULE_IDENTICAL, world->now_us, frame->from,
                           "a frame on air has no readable head");
        return;
    }
    if (head.kind == RP_FRAME_SEGMENT) {
        check_segment(audit, world, frame, &head);
    } else {
        check_control(audit, world, frame, &head);
    }
}

/* --- arrivals --- */

static struct rp_mesh_counters counters_of(const struct sim_world *world, unsigned host)
{
    struct rp_node_status status;
    rp_node_status(world->hosts[host].node, sim_host_moment(&world->hosts[host], world->now_us),
                   &status);
    return status.mesh;
}

/* What a segment that comes up the serial line asks of its station. */
static void look_at_segment(struct sim_audited *audited, const struct sim_world *world,
                            unsigned host, struct rp_view frame)
{
    struct rp_frame_head head;
    struct rp_trailer trailer;
    if (rp_frame_head_read(frame, &head) < 0 || head.kind != RP_FRAME_SEGMENT ||
        rp_trailer_read(frame, &trailer) < 0) {
        return;
    }
    /* Heard again: what it does from here on may be an answer to that. */
    for (unsigned i = audited->in_hand_count; i-- > 0;) {
        const struct sim_in_hand *in_hand = &audited->in_hand[i];
        if (!in_hand->own && in_hand->origin == head.origin && in_hand->seq == head.counter) {
            forget_in_hand(audited, i);
        }
    }
    const struct sim_fact *fact = sim_truth_find(&world->truth, head.origin, head.counter);
    bool named = trailer.named == world->hosts[host].config.station && fact != NULL &&
                 is_urgent(world, fact) && !sim_set_has(&fact->holders, host);
    audited->named_origin = named ? head.origin : 0;
    audited->named_seq = head.counter;
}

void sim_audit_arriving(struct sim_audit *audit, const struct sim_world *world, unsigned host,
                        const struct sim_arrival *arrival)
{
    if (arrival->kind == SIM_ARRIVAL_FORGED) {
        audit->hosts[host].before = counters_of(world, host);
    } else if (arrival->kind == SIM_ARRIVAL_FRAME) {
        look_at_segment(&audit->hosts[host], world, host,
                        (struct rp_view){arrival->bytes, arrival->len});
    }
}

void sim_audit_arrived(struct sim_audit *audit, const struct sim_world *world, unsigned host,
                       const struct sim_arrival *arrival)
{
    if (arrival->kind != SIM_ARRIVAL_FORGED) {
        return;
    }
    const struct rp_mesh_counters *before = &audit->hosts[host].before;
    struct rp_mesh_counters after = counters_of(world, host);
    uint32_t refused =
        after.refused_auth - before->refused_auth + after.refused_format - before->refused_format;
    audit->checks[SIM_RULE_AUTHENTIC]++;
    /* A log begun again starts the engine and its counters over: nothing to compare. */
    if (after.frames_in > before->frames_in && refused == 0) {
        sim_audit_violated(audit, SIM_RULE_AUTHENTIC, world->now_us, host,
                           "a forged frame of %u bytes was not refused", arrival->len);
    }
}

void sim_audit_woken(struct sim_audit *audit, const struct sim_world *world, unsigned host)
{
    struct sim_audited *audited = &audit->hosts[host];
    audit->checks[SIM_RULE_BOUNDED]++;
    if (world->now_us - audited->wakes_since_us > SIM_SECOND_US) {
        audited->wakes_since_us = world->now_us;
        audited->wakes = 0;
    }
    if (++audited->wakes == WAKES_MAX) {
        sim_audit_violated(audit, SIM_RULE_BOUNDED, world->now_us, host,
                           "woken %u times within a second by its own deadlines", WAKES_MAX);
    }
}

void sim_audit_down(struct sim_audit *audit, unsigned host)
{
    audit->hosts[host].in_hand_count = 0;
    audit->hosts[host].named_origin = 0;
}

void sim_audit_wiped(struct sim_audit *audit, unsigned host)
{
    audit->hosts[host].spell_count = 0;
    audit->hosts[host].spell_first = 0;
    audit->hosts[host].hour_us = 0;
    audit->hosts[host].origin = 0;
}

/* --- the end --- */

static void check_bounds(struct sim_audit *audit, const struct sim_world *world, unsigned at)
{
    const struct sim_host *host = &world->hosts[at];
    audit->checks[SIM_RULE_BOUNDED]++;
    if (host->store->over) {
        sim_audit_violated(audit, SIM_RULE_BOUNDED, world->now_us, at,
                           "more than %u named values in its database", SIM_STORE_VALUES_MAX);
    }
    if (host->store->charge_count > CHARGES_MAX) {
        sim_audit_violated(audit, SIM_RULE_BOUNDED, world->now_us, at,
                           "%u rows of airtime in its database", host->store->charge_count);
    }
}

void sim_audit_end(struct sim_audit *audit, const struct sim_world *world)
{
    for (unsigned at = 0; at < world->count; at++) {
        check_bounds(audit, world, at);
    }
}

void sim_audit_liveness(struct sim_audit *audit, const struct sim_world *world)
{
    audit->checks[SIM_RULE_LIVENESS]++;
    if (!sim_world_settled(world)) {
        sim_audit_violated(audit, SIM_RULE_LIVENESS, world->now_us, 0,
                           "%llu copies are still missing %.1f h after the faults ended",
                           (unsigned long long)world->truth.missing,
                           (double)world->settings->settle_us / SIM_HOUR_US);
    }
}
