/* An engine fed a script of frames: raw bytes, and bodies sealed with its own key, so that what
 * follows authentication is reached too. Between frames time passes and the engine may send.
 *
 * Each step of the input: one byte of choice (0-3 a sealed segment, digest, vector, request; 4 raw
 * bytes; 5 time), one byte of length, then that many bytes. */
#include <assert.h>
#include <string.h>

#include "mesh/state.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static const uint16_t own = 4 << 9 | 11, other = 7 << 9 | 42;

struct world {
    struct rp_seal seal;
    uint32_t counter, reserved;
    uint64_t spent_us;
    rp_time_us now_us;
    struct rp_mesh *mesh;
};

static int world_put(void *ctx, const struct rp_segment *segment)
{
    (void)ctx;
    assert(segment->plain.len >= 1 && segment->seq >= 1 && segment->seq <= RP_SEQ_MAX);
    return segment->seq % 13 == 0 ? RP_E_NO_SPACE : 0;
}

static int world_get(void *ctx, uint16_t origin, uint32_t seq, uint8_t *buf, size_t cap)
{
    struct world *world = ctx;
    struct rp_frame_head head = {.first = true, .last = true, .origin = origin, .counter = seq};
    uint8_t plain[2] = {(uint8_t)(seq & 0x9f), 1};
    return seq % 17 == 0 ? RP_E_NOT_FOUND
                         : rp_frame_seal(&world->seal, &head, rp_view_of(plain, 2), buf, cap);
}

static int world_reserve(void *ctx, uint32_t upto)
{
    struct world *world = ctx;
    assert(upto > world->reserved);
    world->reserved = upto;
    return 0;
}

static int world_charge(void *ctx, uint32_t airtime_us, bool urgent)
{
    struct world *world = ctx;
    (void)urgent;
    world->spent_us += airtime_us;
    return 0;
}

static void start(struct world *world)
{
    static const uint8_t secret[RP_SECRET_LEN] = "tsergang-secret";
    static uint32_t airtime_us[RP_FRAME_LEN_MAX + 1];
    static struct rp_mesh memory;
    for (uint32_t len = 0; len <= RP_FRAME_LEN_MAX; len++) {
        airtime_us[len] = 20000 + 1500 * len;
    }
    memset(world, 0, sizeof *world);
    rp_seal_init(&world->seal, secret, 0);
    struct rp_mesh_config config = {
        .origin = own,
        .frame_len_max = RP_FRAME_LEN_MAX,
        .airtime_us = airtime_us,
        .budget_us_per_hour = 36000000,
        .urgent_reserve_pct = 30,
        .seed = 1,
        .seal = &world->seal,
        .store = {world, world_put, world_get, world_reserve, world_charge}};
    int rc = rp_mesh_init(&memory, &config, 0, &world->mesh);
    assert(rc == 0);
    rc = rp_mesh_load(world->mesh, own, 1, 40);
    assert(rc == 0);
    rc = rp_mesh_load(world->mesh, other, 3, 9);
    assert(rc == 0);
}

/* How many bytes of the input stand behind the sealed part of a segment. */
static size_t behind(struct rp_view body)
{
    if (body.len < 2 + RP_TRAILER_LEN) {
        return 0;
    }
    struct rp_trailer trailer;
    bool marked = rp_trailer_read(body, &trailer) == 0 && trailer.marked &&
                  body.len >= 2 + RP_MARK_LEN + RP_TRAILER_LEN;
    return RP_TRAILER_LEN + (marked ? RP_MARK_LEN : 0);
}

/* Half of the marks get the right proof. */
static void prove(struct world *world, const struct rp_frame_head *head, uint8_t *bytes, size_t len)
{
    struct rp_mark mark;
    if (len == RP_MARK_LEN + RP_TRAILER_LEN && rp_mark_read(rp_view_of(bytes, len), &mark) &&
        (mark.proof & 1) == 0 && mark.back < head->counter) {
        mark.proof =
            rp_seal_proof(&world->seal, world->seal.epoch, head->origin, head->counter - mark.back);
        rp_mark_write(&mark, bytes);
    }
}

static void hear_sealed(struct world *world, unsigned kind, const uint8_t *body, size_t len)
{
    uint8_t frame[RP_FRAME_LEN_MAX];
    struct rp_frame_head head = {.kind = (enum rp_frame_kind)kind,
                                 .first = kind == RP_FRAME_SEGMENT,
                                 .last = kind == RP_FRAME_SEGMENT,
                                 .origin = other,
                                 .counter = ++world->counter};
    size_t trailer_len = 0;
    if (kind == RP_FRAME_SEGMENT && len >= 2) {
        /* Origin and sequence from the input too. */
        head.origin = rp_origin_make((uint8_t)(1 + body[0] % 99), body[0] & 1);
        head.counter = 1 + body[1];
        trailer_len = behind(rp_view_of(body, len));
    }
    int rc = rp_frame_seal(&world->seal, &head, rp_view_of(body, len - trailer_len), frame,
                           sizeof frame - RP_MARK_LEN - RP_TRAILER_LEN);
    if (rc < 0) {
        return; /* too long for one frame */
    }
    memcpy(frame + rc, body + len - trailer_len, trailer_len);
    prove(world, &head, frame + rc, trailer_len);
    rp_mesh_receive(world->mesh, rp_view_of(frame, (size_t)rc + trailer_len), true, -100, 5,
                    world->now_us);
}

static void let_time_pass(struct world *world, unsigned steps)
{
    uint8_t frame[RP_FRAME_LEN_MAX];
    struct rp_mesh_event event;
    for (unsigned i = 0; i < steps; i++) {
        rp_time_us wake_us = rp_mesh_wake(world->mesh);
        assert(wake_us != RP_NEVER);
        world->now_us = wake_us > world->now_us ? wake_us : world->now_us;
        size_t len = rp_mesh_take_frame(world->mesh, world->now_us, frame, sizeof frame);
        if (len > 0) {
            assert(rp_mesh_wake(world->mesh) == RP_NEVER);
            world->now_us += 50000;
            rp_mesh_sent(world->mesh, i % 5 != 4, world->now_us);
        } else {
            assert(rp_mesh_wake(world->mesh) > world->now_us);
        }
        while (rp_mesh_next_event(world->mesh, &event)) {
        }
    }
}

static void check_bounds(const struct world *world)
{
    const struct rp_mesh *mesh = world->mesh;
    assert(mesh->pending_count <= RP_PENDING_MAX && mesh->log_count <= RP_ORIGINS_MAX);
    assert(mesh->ack_count <= RP_ACKS_MAX && mesh->sender_count <= RP_SENDERS_MAX);
    assert(mesh->ledger.total_us <= mesh->config.budget_us_per_hour);
    for (unsigned i = 0; i < mesh->log_count; i++) {
        const struct rp_held *held = &mesh->logs[i].held;
        uint32_t below = held->upto;
        for (unsigned run = 0; run < held->run_count; run++) {
            assert(held->runs[run].first > below + 1);
            assert(held->runs[run].last >= held->runs[run].first);
            below = held->runs[run].last;
        }
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct world world;
    start(&world);
    while (size >= 2) {
        unsigned choice = data[0] % 6;
        size_t len = data[1] < size - 2 ? data[1] : size - 2;
        data += 2;
        if (choice < 4) {
            hear_sealed(&world, choice, data, len);
        } else if (choice == 4) {
            rp_mesh_receive(world.mesh, rp_view_of(data, len), false, 0, 0, world.now_us);
        } else {
            let_time_pass(&world, len > 0 ? 1 + data[0] % 32u : 1);
        }
        data += len;
        size -= 2 + len;
    }
    let_time_pass(&world, 64);
    check_bounds(&world);
    return 0;
}
