/* This station's own log: one origin, consecutive sequences, sealed once, stored before sent. */
#include "node/node_state.h"

#include <assert.h>
#include <string.h>

#include "base/error.h"
#include "wire/split.h"

static const char origin_key[] = "origin";

static int begin_origin(struct rp_node *node, uint16_t origin)
{
    uint8_t bytes[2] = {(uint8_t)(origin >> 8), (uint8_t)origin};
    int code = node->config.store->set_value(node->config.store_ctx, origin_key,
                                             (struct rp_view){bytes, sizeof bytes});
    if (code < 0) {
        return code;
    }
    node->origin = origin;
    node->next_seq = 1;
    node->unsure_seq = 0;
    return RP_OK;
}

/* A generation of this station's number that storage has never seen. */
static int fresh_origin(struct rp_node *node, uint16_t *out_origin)
{
    for (unsigned i = 0; i <= RP_GENERATION_MAX; i++) {
        uint16_t generation = (uint16_t)((node->config.generation_seed + i) & RP_GENERATION_MAX);
        uint16_t origin = rp_origin_make(node->config.station, generation);
        int64_t last = node->config.store->last_seq(node->config.store_ctx, origin);
        if (last < 0) {
            return (int)last;
        }
        if (last == 0) {
            *out_origin = origin;
            return RP_OK;
        }
    }
    return RP_E_FULL;
}

int rp_own_log_start(struct rp_node *node, struct rp_problem *out_problem)
{
    uint8_t bytes[2];
    int len =
        node->config.store->get_value(node->config.store_ctx, origin_key, bytes, sizeof bytes);
    if (len == 2 && bytes[0] >> 1 == node->config.station) {
        node->origin = (uint16_t)(bytes[0] << 8 | bytes[1]);
        int64_t last = node->config.store->last_seq(node->config.store_ctx, node->origin);
        node->next_seq = (uint32_t)(last < 0 ? 0 : last) + 1;
        return last < 0 ? rp_problem_set(out_problem, (int)last, "database",
                                         "the log of this station cannot be read")
                        : RP_OK;
    }
    /* Only a database that says it has no log gets one; one that cannot be read does not. */
    uint16_t origin = 0;
    int code = len < 0 && len != RP_E_NOT_FOUND ? len : fresh_origin(node, &origin);
    if (code == RP_OK) {
        code = begin_origin(node, origin);
    }
    return code < 0 ? rp_problem_set(out_problem, code, "database",
                                     "a log for station %u cannot be started", node->config.station)
                    : RP_OK;
}

int rp_own_log_begin_again(struct rp_node *node)
{
    uint16_t origin = 0;
    node->config.generation_seed = (uint16_t)(node->origin + 1);
    int code = fresh_origin(node, &origin);
    return code < 0 ? code : begin_origin(node, origin);
}

static size_t plain_max(const struct rp_node *node)
{
    return (size_t)node->config.net.frame_len_max - RP_HEAD_LEN_MAX - RP_TAG_LEN - RP_TRAILER_LEN;
}

/* Cuts and seals the record in node->record_bytes; returns the number of segments. */
static int seal_segments(struct rp_node *node, size_t len, uint8_t sealed[][RP_FRAME_LEN_MAX],
                         struct rp_segment_row *rows)
{
    struct rp_view bytes = {node->record_bytes, len};
    int segments = rp_record_segments(len, plain_max(node));
    if (segments < 0) {
        return segments;
    }
    size_t count = (size_t)segments;
    if (node->next_seq + count - 1 > RP_SEQ_MAX) {
        return RP_E_FULL;
    }
    for (size_t i = 0; i < count; i++) {
        uint8_t plain[RP_FRAME_LEN_MAX];
        int plain_len = rp_record_split(bytes, plain_max(node), i, plain, sizeof plain);
        assert(plain_len > 0);
        struct rp_frame_head head = {.kind = RP_FRAME_SEGMENT,
                                     .first = i == 0,
                                     .last = i == count - 1,
                                     .origin = node->origin,
                                     .counter = node->next_seq + (uint32_t)i};
        int sealed_len =
            rp_frame_seal(&node->seal, &head, (struct rp_view){plain, (size_t)plain_len}, sealed[i],
                          RP_FRAME_LEN_MAX);
        if (sealed_len < 0) {
            return sealed_len;
        }
        rows[i] = (struct rp_segment_row){
            node->origin, head.counter, head.first, head.last, {sealed[i], (size_t)sealed_len}};
    }
    return (int)count;
}

static struct rp_record_row own_row(const struct rp_node *node, const struct rp_record *record,
                                    size_t segments, size_t len)
{
    struct rp_record_row row = {
        .origin = node->origin,
        .seq_first = node->next_seq,
        .seq_last = node->next_seq + (uint32_t)segments - 1,
        .kind = (uint8_t)record->kind,
        .urgent = record->urgent,
        .exercise = record->exercise,
        .unsynced = record->unsynced,
        .episode = record->episode,
        .time_s = record->time_s,
        .stored_s = node->moment.unix_s,
        .body = {node->record_bytes, len},
        .entry_name = node->entry_name[0] != '\0' ? node->entry_name : NULL,
    };
    if (row.episode.number != 0 && row.episode.origin == 0) {
        row.episode.origin = node->origin;
    }
    if (node->config.role == RP_ROLE_BASE) {
        row.base_s = node->moment.unix_s; /* what base enters is at base */
    }
    return row;
}

/* Records of the own log that are in storage: their segments as they were cut when entered (the
 * net's frame length may have changed since). */
static void publish_stored(struct rp_node *node, uint32_t seq_first, uint32_t seq_last)
{
    for (uint32_t seq = seq_first; seq <= seq_last; seq++) {
        uint8_t plain[RP_FRAME_LEN_MAX];
        bool first, last;
        int len = rp_intake_plain(node, node->origin, seq, &first, &last, plain, sizeof plain);
        if (len <= 0) {
            continue;
        }
        rp_mesh_publish(node->mesh, seq, (struct rp_view){plain, (size_t)len}, node->moment.now_us);
        if (node->config.role == RP_ROLE_BASE) {
            rp_mesh_receipted(node->mesh, seq);
        }
    }
}

/* What a record of this station promises of the next: others ask for what is overdue. */
static void promise(struct rp_node *node, const struct rp_record *record)
{
    bool report = record != NULL && record->kind == RP_REC_STATUS;
    rp_mesh_promise(node->mesh, report ? 60u * record->as.status.next_min : 0);
}

static void publish(struct rp_node *node, const struct rp_record_row *row, size_t len)
{
    struct rp_view bytes = {node->record_bytes, len};
    for (uint32_t seq = row->seq_first; seq <= row->seq_last; seq++) {
        uint8_t plain[RP_FRAME_LEN_MAX];
        int plain_len =
            rp_record_split(bytes, plain_max(node), seq - row->seq_first, plain, sizeof plain);
        assert(plain_len > 0);
        rp_mesh_publish(node->mesh, seq, (struct rp_view){plain, (size_t)plain_len},
                        node->moment.now_us);
        if (node->config.role == RP_ROLE_BASE) {
            rp_mesh_receipted(node->mesh, seq);
        }
    }
}

static int learn_row(void *arg, const struct rp_record_row *row)
{
    rp_intake_learn(arg, row);
    return 0;
}

/* A write that was reported as failed may have reached the disk all the same: its sequences are
 * never used again and its episode number is taken. It is not sent before a later write succeeds,
 * which makes it durable too. */
static void after_failed_write(struct rp_node *node)
{
    const struct rp_store_ops *store = node->config.store;
    int64_t last = store->last_seq(node->config.store_ctx, node->origin);
    node->store_failures++;
    if (last < node->next_seq) {
        return;
    }
    struct rp_record_ref ref = {node->origin, node->next_seq};
    store->get_record(node->config.store_ctx, ref, learn_row, node);
    node->unsure_seq = node->unsure_seq != 0 ? node->unsure_seq : node->next_seq;
    node->next_seq = (uint32_t)last + 1;
}

int rp_own_log_append(struct rp_node *node, const struct rp_record *record,
                      struct rp_record_ref *out_ref, struct rp_problem *out_problem)
{
    static const char disk[] = "nothing was recorded: the database cannot be written";
    const char *field = "";
    int len = rp_record_encode(record, node->record_bytes, sizeof node->record_bytes, &field);
    if (len < 0) {
        return rp_problem_set(out_problem, len, field != NULL ? field : "",
                              "%s: the value is outside its bounds or too long",
                              field != NULL ? field : "record");
    }
    uint8_t sealed[RP_RECORD_SEGMENTS_MAX][RP_FRAME_LEN_MAX];
    struct rp_segment_row rows[RP_RECORD_SEGMENTS_MAX];
    int count = seal_segments(node, (size_t)len, sealed, rows);
    if (count < 0) {
        return rp_problem_set(out_problem, count, "record", "the record needs more than %d frames",
                              RP_RECORD_SEGMENTS_MAX);
    }
    struct rp_record_row row = own_row(node, record, (size_t)count, (size_t)len);
    int code = node->config.store->append_own(node->config.store_ctx, rows, (size_t)count, &row);
    if (code < 0) {
        after_failed_write(node);
        return rp_problem_set(out_problem, code, "database",
                              "%s (%s); write it on paper and try again", disk,
                              rp_error_sentence(code));
    }
    node->next_seq = row.seq_last + 1;
    promise(node, record);
    publish(node, &row, (size_t)len);
    promise(node, NULL);
    if (node->unsure_seq != 0) {
        publish_stored(node, node->unsure_seq, row.seq_first - 1);
        node->unsure_seq = 0;
    }
    rp_intake_learn(node, &row);
    *out_ref = (struct rp_record_ref){row.origin, row.seq_first};
    return RP_OK;
}

/* After a restart: what no neighbour is known to hold, and urgent records without a receipt. */
#define UNHEARD_MAX                                                                                \
    64 /* newest sequences looked at: the engine's queue is bounded; older ones                    \
        * are pulled when a digest shows the difference */
struct unheard {
    uint32_t from_seq;
    size_t count;
    uint32_t first[UNHEARD_MAX], last[UNHEARD_MAX];
};

static int note_unheard(void *arg, const struct rp_record_row *row)
{
    struct unheard *unheard = arg;
    bool owed = row->heard_s == 0 || (row->urgent && row->base_s == 0);
    if (row->seq_first >= unheard->from_seq && owed && unheard->count < UNHEARD_MAX) {
        unheard->first[unheard->count] = row->seq_first;
        unheard->last[unheard->count++] = row->seq_last;
    }
    return 0;
}

void rp_own_log_publish_unheard(struct rp_node *node)
{
    struct unheard unheard = {.from_seq =
                                  node->next_seq > UNHEARD_MAX ? node->next_seq - UNHEARD_MAX : 1};
    struct rp_record_filter filter = {.origin = node->origin,
                                      .not_at_base = node->config.role != RP_ROLE_BASE};
    node->config.store->each_record(node->config.store_ctx, &filter, note_unheard, &unheard);
    for (size_t i = 0; i < unheard.count; i++) {
        publish_stored(node, unheard.first[i], unheard.last[i]);
    }
}
