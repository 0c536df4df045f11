#include "one_engine.h"

#include <stdlib.h>
#include <string.h>

#include "rp_test.h"
#include "wire/record.h"

static const uint8_t secret[RP_SECRET_LEN] = "tsergang valley";
const uint16_t relay = 4 << 9 | 11, high = 7 << 9 | 42;

static int put(void *ctx, const struct rp_segment *segment)
{
    struct fixture *fixture = ctx;
    (void)segment;
    fixture->puts++;
    return fixture->put_rc;
}

static int get(void *ctx, uint16_t origin, uint32_t seq, uint8_t *buf, size_t cap)
{
    struct fixture *fixture = ctx;
    struct rp_frame_head head = {.first = true, .last = true, .origin = origin, .counter = seq};
    static const uint8_t plain[] = {RP_REC_NOTE, 'x'};
    return rp_frame_seal(&fixture->seal, &head, rp_view_of(plain, sizeof plain), buf, cap);
}

static int reserve(void *ctx, uint32_t upto)
{
    struct fixture *fixture = ctx;
    if (fixture->reserve_rc == 0) {
        fixture->reserved = upto;
    }
    return fixture->reserve_rc;
}

static int charge(void *ctx, uint32_t airtime_us, bool urgent)
{
    struct fixture *fixture = ctx;
    (void)airtime_us;
    (void)urgent;
    fixture->charges++;
    return fixture->charge_rc;
}

void start(struct fixture *fixture, uint32_t counter_reserved)
{
    memset(fixture, 0, sizeof *fixture);
    rp_seal_init(&fixture->seal, secret, 0);
    rp_seal_init(&fixture->other_seal, (const uint8_t *)"another valley.", 0);
    for (unsigned len = 0; len <= RP_FRAME_LEN_MAX; len++) {
        fixture->airtime_us[len] = 20000 + len * 1500; /* no formula needed here */
    }
    fixture->reserved = counter_reserved;
    struct rp_mesh_config config = {.origin = relay,
                                    .frame_len_max = RP_FRAME_LEN_MAX,
                                    .airtime_us = fixture->airtime_us,
                                    .budget_us_per_hour = 36000000,
                                    .urgent_reserve_pct = 30,
                                    .counter_reserved = counter_reserved,
                                    .seed = 1,
                                    .seal = &fixture->seal,
                                    .store = {fixture, put, get, reserve, charge}};
    void *memory = malloc(rp_mesh_size());
    assert_non_null(memory);
    assert_int_equal(rp_mesh_init(memory, &config, 0, &fixture->mesh), 0);
}

void stop(struct fixture *fixture)
{
    free(fixture->mesh);
}

size_t seal_body(struct fixture *fixture, enum rp_frame_kind kind, uint16_t origin,
                 uint32_t counter, const void *body, size_t len, uint8_t *out)
{
    struct rp_frame_head head = {.kind = kind, .origin = origin, .counter = counter};
    int rc = rp_frame_seal(&fixture->seal, &head, rp_view_of(body, len), out, RP_FRAME_LEN_MAX);
    assert_true(rc > 0);
    return (size_t)rc;
}

void hear(struct fixture *fixture, const uint8_t *frame, size_t len)
{
    rp_mesh_receive(fixture->mesh, rp_view_of(frame, len), false, 0, 0, fixture->now_us);
}

void hear_body(struct fixture *fixture, enum rp_frame_kind kind, uint16_t origin, uint32_t counter,
               const void *body, size_t len)
{
    uint8_t frame[RP_FRAME_LEN_MAX];
    hear(fixture, frame, seal_body(fixture, kind, origin, counter, body, len, frame));
}

struct rp_mesh_counters counted(const struct fixture *fixture)
{
    struct rp_mesh_counters counters;
    rp_mesh_counters(fixture->mesh, &counters);
    return counters;
}

unsigned events_of(struct fixture *fixture, enum rp_mesh_event_kind kind)
{
    struct rp_mesh_event event;
    unsigned count = 0;
    while (rp_mesh_next_event(fixture->mesh, &event)) {
        count += event.kind == kind;
    }
    return count;
}

size_t make_segment(struct fixture *fixture, uint16_t origin, uint32_t seq, uint8_t named,
                    uint8_t *frame)
{
    int len = get(fixture, origin, seq, frame, RP_FRAME_LEN_MAX);
    assert_true(len > 0);
    struct rp_trailer trailer = {.station = rp_origin_station(origin), .named = named};
    rp_trailer_write(&trailer, frame + len);
    return (size_t)len + RP_TRAILER_LEN;
}

size_t next_frame(struct fixture *fixture, rp_time_us until_us)
{
    while (fixture->now_us <= until_us) {
        size_t len =
            rp_mesh_take_frame(fixture->mesh, fixture->now_us, fixture->sent, sizeof fixture->sent);
        if (len > 0) {
            fixture->sent_len = len;
            fixture->now_us += fixture->airtime_us[len];
            rp_mesh_sent(fixture->mesh, true, fixture->now_us);
            assert_true(rp_frame_head_read(rp_view_of(fixture->sent, len), &fixture->head) > 0);
            struct rp_view frame = rp_view_of(fixture->sent, len);
            frame.len = fixture->head.kind == RP_FRAME_SEGMENT ? rp_segment_sealed_len(frame) : len;
            int body = rp_frame_open(&fixture->seal, frame, &fixture->head, fixture->body,
                                     sizeof fixture->body);
            assert_true(body >= 0);
            fixture->body_len = (size_t)body;
            return len;
        }
        rp_time_us wake_us = rp_mesh_wake(fixture->mesh);
        assert_true(wake_us > fixture->now_us);
        fixture->now_us = wake_us;
    }
    fixture->now_us = until_us;
    return 0;
}

bool next_of_kind(struct fixture *fixture, enum rp_frame_kind kind, rp_time_us until_us)
{
    while (next_frame(fixture, until_us) > 0) {
        if (fixture->head.kind == kind) {
            return true;
        }
    }
    return false;
}

void hear_digest(struct fixture *fixture, uint16_t origin, uint32_t counter,
                 struct rp_digest digest, bool same)
{
    digest.hash = rp_state_hash(fixture->mesh, origin, counter) + !same;
    uint8_t body[RP_FRAME_LEN_MAX];
    size_t len = rp_digest_write(&digest, body, sizeof body);
    assert_true(len > 0);
    hear_body(fixture, RP_FRAME_DIGEST, origin, counter, body, len);
}

void hear_status(struct fixture *fixture, uint32_t seq, uint32_t entry_s, struct rp_trailer trailer)
{
    uint8_t plain[8] = {RP_REC_STATUS, 1}, frame[RP_FRAME_LEN_MAX];
    size_t len = 2;
    for (; entry_s > 127; entry_s >>= 7) {
        plain[len++] = (uint8_t)(entry_s | 128);
    }
    plain[len++] = (uint8_t)entry_s;
    struct rp_frame_head head = {.first = true, .last = true, .origin = high, .counter = seq};
    int sealed = rp_frame_seal(&fixture->seal, &head, rp_view_of(plain, len), frame, sizeof frame);
    assert_true(sealed > 0);
    rp_trailer_write(&trailer, frame + sealed);
    hear(fixture, frame, (size_t)sealed + RP_TRAILER_LEN);
}

void meet(struct fixture *fixture, uint16_t origin, uint32_t counter, uint8_t also)
{
    struct rp_digest digest = {.battery_pct = 127, .row_count = 1, .rows = {{4, 240}}};
    if (also != 0) {
        digest.rows[digest.row_count++] = (struct rp_row){also, 240};
    }
    hear_digest(fixture, origin, counter, digest, true);
}
