/* Foreign segments become records here: the engine's storage, and what a record teaches. */
#include "node/node_state.h"

#include <string.h>

#include "wire/split.h"

#define HOUR_US ((int64_t)3600 * 1000000)
/* A charge is written before its frame leaves; the frame may end this much later (the engine's
 * ledger allows as much). */
#define FRAME_US ((int64_t)15 * 1000000)

int rp_intake_plain(struct rp_node *node, uint16_t origin, uint32_t seq, bool *out_first,
                    bool *out_last, uint8_t *buf, size_t cap)
{
    uint8_t sealed[RP_FRAME_LEN_MAX];
    int len = node->config.store->get_segment(node->config.store_ctx, origin, seq, out_first,
                                              out_last, sealed, sizeof sealed);
    if (len < 0) {
        return len;
    }
    struct rp_frame_head head;
    return rp_frame_open(&node->seal, (struct rp_view){sealed, (size_t)len}, &head, buf, cap);
}

/* First or last segment of the record around a new segment, or 0 when one is missing. */
static uint32_t find_end(struct rp_node *node, const struct rp_segment *segment, bool forward)
{
    if (forward ? segment->last : segment->first) {
        return segment->seq;
    }
    for (uint32_t step = 1; step < RP_RECORD_SEGMENTS_MAX; step++) {
        if (!forward && segment->seq <= step) {
            return 0;
        }
        uint32_t seq = forward ? segment->seq + step : segment->seq - step;
        uint8_t sealed[RP_FRAME_LEN_MAX];
        bool first, last;
        if (node->config.store->get_segment(node->config.store_ctx, segment->origin, seq, &first,
                                            &last, sealed, sizeof sealed) < 0) {
            return 0;
        }
        if (forward ? last : first) {
            return seq;
        }
    }
    return 0;
}

/* Joins the record first..last into node->record_bytes; returns its length. */
static int join_record(struct rp_node *node, const struct rp_segment *segment, uint32_t first,
                       uint32_t last)
{
    size_t len = 0;
    for (uint32_t seq = first; seq <= last; seq++) {
        uint8_t buf[RP_FRAME_LEN_MAX];
        struct rp_view plain = segment->plain;
        if (seq != segment->seq) {
            bool is_first, is_last;
            int got =
                rp_intake_plain(node, segment->origin, seq, &is_first, &is_last, buf, sizeof buf);
            if (got < 0) {
                return got;
            }
            plain = (struct rp_view){buf, (size_t)got};
        }
        int joined = rp_record_join(node->record_bytes, sizeof node->record_bytes, len, plain);
        if (joined < 0) {
            return joined;
        }
        len = (size_t)joined;
    }
    return (int)len;
}

/* The row of a whole record. One that cannot be decoded is kept as it is, and counted. */
static struct rp_record_row record_row(struct rp_node *node, uint16_t origin, uint32_t first,
                                       uint32_t last, size_t len)
{
    struct rp_lead lead = rp_lead_unpack(node->record_bytes[0]);
    struct rp_record_row row = {
        .origin = origin,
        .seq_first = first,
        .seq_last = last,
        .kind = lead.kind,
        .urgent = lead.urgent,
        .exercise = lead.exercise,
        .unsynced = lead.unsynced,
        .stored_s = node->moment.unix_s,
        .body = {node->record_bytes, len},
    };
    if (rp_record_decode(row.body, origin, &node->record) == RP_OK) {
        row.episode = node->record.episode;
        row.time_s = node->record.time_s;
    } else {
        node->unreadable++;
    }
    return row;
}

static int keep(void *ctx, const struct rp_segment *segment)
{
    struct rp_node *node = ctx;
    struct rp_segment_row part = {segment->origin, segment->seq, segment->first, segment->last,
                                  segment->sealed};
    struct rp_record_row row;
    bool whole = false;
    uint32_t first = find_end(node, segment, false);
    uint32_t last = first != 0 ? find_end(node, segment, true) : 0;
    if (first != 0 && last != 0) {
        int len = join_record(node, segment, first, last);
        whole = len > 0;
        if (whole) {
            row = record_row(node, segment->origin, first, last, (size_t)len);
        } else {
            node->unreadable++;
        }
    }
    int code = node->config.store->put_segment(node->config.store_ctx, &part, whole ? &row : NULL);
    if (code < 0) {
        node->store_failures += code != RP_E_DUPLICATE;
        return code;
    }
    if (whole) {
        rp_intake_learn(node, &row);
        rp_receipts_owe(node, row.origin, row.seq_last, row.kind, row.urgent);
        /* An own record that comes back after a restore may follow the receipt that names it. */
        node->receipts_in.again =
            node->receipts_in.again || rp_origin_station(row.origin) == node->config.station;
    }
    return RP_OK;
}

static int fetch(void *ctx, uint16_t origin, uint32_t seq, uint8_t *buf, size_t cap)
{
    struct rp_node *node = ctx;
    bool first, last;
    return node->config.store->get_segment(node->config.store_ctx, origin, seq, &first, &last, buf,
                                           cap);
}

static int reserve_counter(void *ctx, uint32_t upto)
{
    struct rp_node *node = ctx;
    uint8_t bytes[4] = {(uint8_t)(upto >> 24), (uint8_t)(upto >> 16), (uint8_t)(upto >> 8),
                        (uint8_t)upto};
    char key[] = "counter.0000";
    static const char hex[] = "0123456789abcdef";
    for (unsigned i = 0; i < 4; i++) {
        key[8 + i] = hex[node->origin >> (12 - 4 * i) & 0xf];
    }
    return node->config.store->set_value(node->config.store_ctx, key,
                                         (struct rp_view){bytes, sizeof bytes});
}

static int charge(void *ctx, uint32_t airtime_us, bool urgent)
{
    struct rp_node *node = ctx;
    struct rp_charge charge = {
        .boot = node->config.boot,
        .at_us = node->moment.now_us,
        .unix_s = node->moment.unix_s < 0 ? 0 : node->moment.unix_s,
        .synced = node->moment.synced && node->clock.agreed,
        .freq_hz = node->config.net.profile.freq_hz,
        .airtime_us = airtime_us,
        .urgent = urgent,
    };
    return node->config.store->charge(node->config.store_ctx, &charge);
}

struct rp_mesh_store rp_intake_store(struct rp_node *node)
{
    return (struct rp_mesh_store){node, keep, fetch, reserve_counter, charge};
}

static void learn_station(struct rp_node *node, const struct rp_record *record,
                          struct rp_record_ref ref)
{
    struct rp_known_station *known = &node->stations[rp_origin_station(ref.origin)];
    /* Within one log the sequence decides: its clock may have gone back. */
    bool same_log = ref.origin == known->from.origin;
    bool newer = same_log ? ref.seq > known->from.seq
                          : record->time_s > known->time_s || (record->time_s == known->time_s &&
                                                               ref.origin > known->from.origin);
    if (!known->has_card || newer) {
        known->has_card = true;
        known->from = ref;
        known->time_s = record->time_s;
        known->card = record->as.station;
    }
}

void rp_intake_learn(struct rp_node *node, const struct rp_record_row *row)
{
    struct rp_record_ref ref = {row->origin, row->seq_first};
    node->revision++;
    rp_episodes_learn(node, row->episode, row->exercise);
    if (row->kind == RP_REC_RECEIPT) {
        rp_receipts_note(node, ref);
    } else if (row->kind == RP_REC_STATUS && row->origin == node->origin &&
               rp_record_decode(row->body, row->origin, &node->record) == RP_OK) {
        uint8_t next_min = node->record.as.status.next_min;
        node->promised_s = next_min > 0 ? row->time_s + 60u * next_min : 0;
    } else if (row->kind == RP_REC_STATION &&
               rp_record_decode(row->body, row->origin, &node->record) == RP_OK) {
        learn_station(node, &node->record, ref);
    }
}

static int load_run(void *arg, uint16_t origin, uint32_t first, uint32_t last)
{
    struct rp_node *node = arg;
    return rp_mesh_load(node->mesh, origin, first, last);
}

static int load_record(void *arg, const struct rp_record_row *row)
{
    struct rp_node *node = arg;
    node->unreadable += rp_record_decode(row->body, row->origin, &node->record) < 0;
    rp_intake_learn(node, row);
    return 0;
}

struct charges {
    struct rp_node *node;
    bool started;
    int64_t boot;       /* of the charge before, and */
    rp_time_us last_us; /* the last one of that run */
};

/* Two wall clocks that others agreed with are at most so far apart. Own choice: those others may be
 * wrong too, by as much as a poor clock drifts in a day. */
#define WALL_APART_US ((int64_t)120 * 1000000)

/* The least age a charge can have. In the same run of the computer the monotonic clock says it,
 * whatever the wall clock did since. What is of another run is as old as this run and, as the runs
 * do not overlap, as old again as it is older than the last of its own run; only two wall clocks,
 * each of which another station's clock agreed with in its own run, can make it older than that. */
static int64_t charge_age_us(const struct charges *charges, const struct rp_charge *charge)
{
    const struct rp_moment *now = &charges->node->moment;
    if (charge->boot == charges->node->config.boot) {
        return charge->at_us < now->now_us ? now->now_us - charge->at_us : 0;
    }
    int64_t least_us = now->now_us + charges->last_us - charge->at_us;
    bool believed = charge->synced && now->synced && charges->node->clock.agreed;
    int64_t wall_us = believed ? (now->unix_s - charge->unix_s) * 1000000 - WALL_APART_US : 0;
    return wall_us > least_us ? wall_us : least_us;
}

/* Limits count for each sub-band by itself. */
static bool counts_here(const struct rp_node *node, uint32_t freq_hz)
{
    const struct rp_band *band = rp_band_find(node->config.net.band);
    return freq_hz == 0 || band == NULL || band->no_limit ||
           (freq_hz > band->low_hz && freq_hz < band->high_hz);
}

static int load_charge(void *arg, const struct rp_charge *charge)
{
    struct charges *charges = arg;
    struct rp_node *node = charges->node;
    if (!charges->started || charge->boot != charges->boot) {
        charges->started = true;
        charges->boot = charge->boot;
        charges->last_us = charge->at_us;
    }
    int64_t age_us = charge_age_us(charges, charge);
    if (age_us <= HOUR_US + FRAME_US && counts_here(node, charge->freq_hz)) {
        age_us = age_us < HOUR_US ? age_us : HOUR_US;
        rp_mesh_load_charge(node->mesh, node->moment.now_us, age_us, charge->airtime_us);
    }
    return 0;
}

int rp_intake_load_charges(struct rp_node *node)
{
    struct charges charges = {.node = node};
    rp_mesh_forget_charges(node->mesh, node->moment.now_us);
    int code = node->config.store->each_charge(node->config.store_ctx, load_charge, &charges);
    if (code < 0) {
        /* What was spent is not known: as much as may be. */
        rp_mesh_forget_charges(node->mesh, node->moment.now_us);
        rp_mesh_load_charge(node->mesh, node->moment.now_us, 0,
                            node->config.net.duty_permille * 3600000u);
    }
    return code;
}

int rp_intake_load(struct rp_node *node)
{
    const struct rp_store_ops *store = node->config.store;
    void *ctx = node->config.store_ctx;
    int code = store->each_run(ctx, load_run, node);
    if (code < 0) {
        return code;
    }
    code = rp_intake_load_charges(node);
    if (code < 0) {
        return code;
    }
    struct rp_record_filter all = {0};
    node->unreadable = 0;
    node->receipts_in.again = true; /* the last one may have been stored but not applied */
    return store->each_record(ctx, &all, load_record, node);
}
