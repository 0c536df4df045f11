/* What the storm calls forged must be refused, and what it lets pass as only marked or addressed
 * anew must open: judged by the seal itself (AES-CCM, RFC 9053 section 4.2). */
#include "rp_test.h"

#include <string.h>

#include "base/bytes.h"
#include "sim/trial/outsider.h"
#include "wire/seal.h"

#define SEED  20261126u
#define DRAWS 20000

struct sent {
    uint8_t bytes[RP_FRAME_LEN_MAX];
    size_t len;
};

static struct sent segment(struct rp_seal *seal, bool marked)
{
    struct sent sent;
    struct rp_frame_head head = {
        .kind = RP_FRAME_SEGMENT, .first = true, .last = true, .origin = 0x0e2a, .counter = 9};
    static const uint8_t plain[] = {0x0a, 'x', 'y'};
    int len = rp_frame_seal(seal, &head, (struct rp_view){plain, sizeof plain}, sent.bytes,
                            sizeof sent.bytes);
    assert_true(len > 0);
    sent.len = (size_t)len;
    if (marked) {
        struct rp_mark mark = {2, rp_seal_proof(seal, 0, head.origin, 7)};
        rp_mark_write(&mark, sent.bytes + sent.len);
        sent.len += RP_MARK_LEN;
    }
    struct rp_trailer trailer = {.station = 4, .previous = 7, .marked = marked, .hops = 1};
    rp_trailer_write(&trailer, sent.bytes + sent.len);
    sent.len += RP_TRAILER_LEN;
    return sent;
}

/* As a station takes it. */
static bool opens(struct rp_seal *seal, struct rp_view frame, bool *out_trailer)
{
    struct rp_frame_head head;
    struct rp_trailer trailer;
    uint8_t plain[RP_FRAME_LEN_MAX];
    if (rp_frame_head_read(frame, &head) < 0) {
        return false;
    }
    bool segment_frame = head.kind == RP_FRAME_SEGMENT;
    *out_trailer = !segment_frame || rp_trailer_read(frame, &trailer) == 0;
    size_t len = segment_frame ? rp_segment_sealed_len(frame) : frame.len;
    return *out_trailer &&
           rp_frame_open(seal, (struct rp_view){frame.bytes, len}, &head, plain, sizeof plain) >= 0;
}

static void what_is_forged_does_not_open(void **state)
{
    (void)state;
    static const uint8_t secret[RP_SECRET_LEN] = {1, 2, 3};
    struct rp_seal seal;
    rp_seal_init(&seal, secret, 0);
    struct rp_rng rng = rp_rng_seeded(SEED);
    unsigned forgeries = 0, passed = 0;
    for (unsigned i = 0; i < DRAWS; i++) {
        struct sent sent = segment(&seal, i % 2 == 0);
        bool trailer = false;
        bool forged = sim_outsider_damage(&rng, sent.bytes, &sent.len);
        bool opened = opens(&seal, (struct rp_view){sent.bytes, sent.len}, &trailer);
        if (forged ? opened : trailer && !opened) {
            fail_msg("seed %u, draw %u: called %s, and it %s", SEED, i,
                     forged ? "forged" : "not forged", opened ? "opens" : "does not open");
        }
        forgeries += forged;
        passed += opened;
    }
    assert_true(forgeries > DRAWS / 2 && passed > 0);
    rp_seal_deinit(&seal);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_forged_does_not_open),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
