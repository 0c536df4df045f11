#include "wire/seal.h"

#include <assert.h>
#include <string.h>

#include "base/bytes.h"
#include "ridgepost/error.h"

/* Segments and control frames count separately, so their keys must differ: the first byte of the
 * key's identifier. 0 marks an empty row of the cache. */
#define DOMAIN_NONE    0
#define DOMAIN_SEGMENT 1
#define DOMAIN_CONTROL 2
#define DOMAIN_MARK    3

#define ID_LEN         3 /* domain, origin high, origin low */
#define NET_ID_LEN     4

static const char net_id_info[] = "ridgepost net id";

static uint8_t domain_of(enum rp_frame_kind kind)
{
    return kind == RP_FRAME_SEGMENT ? DOMAIN_SEGMENT : DOMAIN_CONTROL;
}

void rp_seal_init(struct rp_seal *seal, const uint8_t secret[RP_SECRET_LEN], uint8_t epoch)
{
    assert(epoch <= 3);
    memset(seal, 0, sizeof *seal);
    memcpy(seal->secret, secret, RP_SECRET_LEN);
    seal->epoch = epoch;
    uint8_t prk[RP_PRK_LEN];
    rp_hkdf_extract(rp_view_of(NULL, 0), rp_view_of(secret, RP_SECRET_LEN), prk);
    rp_hkdf_expand(prk, rp_view_of(net_id_info, sizeof net_id_info - 1), NET_ID_LEN, seal->net_id);
    explicit_bzero(prk, sizeof prk);
}

void rp_seal_deinit(struct rp_seal *seal)
{
    explicit_bzero(seal, sizeof *seal);
}

static void key_id(const struct rp_seal_key *key, uint8_t out_id[ID_LEN])
{
    out_id[0] = key->domain;
    out_id[1] = (uint8_t)(key->origin >> 8);
    out_id[2] = (uint8_t)key->origin;
}

static void key_derive(const struct rp_seal *seal, struct rp_seal_key *key)
{
    uint8_t id[ID_LEN], context[NET_ID_LEN + 1], prk[RP_PRK_LEN], info[RP_DERIVE_INFO_MAX];
    key_id(key, id);
    memcpy(context, seal->net_id, NET_ID_LEN);
    context[NET_ID_LEN] = key->epoch;
    struct rp_view id_view = rp_view_of(id, sizeof id);
    struct rp_view context_view = rp_view_of(context, sizeof context);
    rp_hkdf_extract(rp_view_of(NULL, 0), rp_view_of(seal->secret, RP_SECRET_LEN), prk);
    size_t len = rp_derive_info(id_view, &context_view, "Key", RP_KEY_LEN, info);
    uint8_t bytes[RP_KEY_LEN];
    rp_hkdf_expand(prk, rp_view_of(info, len), RP_KEY_LEN, bytes);
    rp_ccm_key(bytes, &key->key);
    explicit_bzero(bytes, sizeof bytes);
    len = rp_derive_info(id_view, &context_view, "IV", RP_NONCE_LEN, info);
    rp_hkdf_expand(prk, rp_view_of(info, len), RP_NONCE_LEN, key->iv);
    explicit_bzero(prk, sizeof prk);
}

/* The next stamp; when the counter has come round, all rows count as equally old. */
static uint32_t stamp_next(struct rp_seal *seal)
{
    if (seal->stamp == UINT32_MAX) {
        seal->stamp = 0;
        for (size_t i = 0; i < RP_SEAL_CACHE; i++) {
            seal->cache[i].used = 0;
        }
    }
    return ++seal->stamp;
}

/* The row with this key: found, or derived in place of the one unused for longest. */
static const struct rp_seal_key *key_of(struct rp_seal *seal, uint8_t domain, uint16_t origin,
                                        uint8_t epoch)
{
    struct rp_seal_key *row = &seal->cache[0];
    for (size_t i = 0; i < RP_SEAL_CACHE; i++) {
        struct rp_seal_key *at = &seal->cache[i];
        if (at->domain == domain && at->origin == origin && at->epoch == epoch) {
            at->used = stamp_next(seal);
            return at;
        }
        if (at->used < row->used) {
            row = at;
        }
    }
    row->origin = origin;
    row->domain = domain;
    row->epoch = epoch;
    row->used = stamp_next(seal);
    key_derive(seal, row);
    return row;
}

static const struct rp_seal_key *key_for(struct rp_seal *seal, const struct rp_frame_head *head)
{
    return key_of(seal, domain_of(head->kind), head->origin, head->epoch);
}

static void nonce_for(const struct rp_seal_key *key, uint32_t counter,
                      uint8_t out_nonce[RP_NONCE_LEN])
{
    uint8_t id[ID_LEN];
    key_id(key, id);
    rp_derive_nonce(key->iv, rp_view_of(id, sizeof id), counter, out_nonce);
}

/* Longest frame without trailer; a segment always travels with one. */
static size_t sealed_len_max(enum rp_frame_kind kind)
{
    return kind == RP_FRAME_SEGMENT ? RP_FRAME_LEN_MAX - RP_TRAILER_LEN : RP_FRAME_LEN_MAX;
}

int rp_frame_seal(struct rp_seal *seal, const struct rp_frame_head *head, struct rp_view plain,
                  uint8_t *buf, size_t cap)
{
    struct rp_frame_head own = *head;
    own.epoch = seal->epoch;
    uint8_t head_bytes[RP_HEAD_LEN_MAX], nonce[RP_NONCE_LEN];
    int head_len = rp_frame_head_write(&own, head_bytes, sizeof head_bytes);
    if (head_len < 0) {
        return head_len;
    }
    size_t cap_used = cap < sealed_len_max(own.kind) ? cap : sealed_len_max(own.kind);
    size_t overhead = (size_t)head_len + RP_TAG_LEN;
    if (cap_used < overhead || cap_used - overhead < plain.len) {
        return RP_E_TOO_LONG;
    }
    const struct rp_seal_key *key = key_for(seal, &own);
    nonce_for(key, own.counter, nonce);
    memcpy(buf, head_bytes, (size_t)head_len);
    rp_ccm_encrypt(&key->key, nonce, rp_view_of(head_bytes, (size_t)head_len), plain,
                   buf + head_len);
    return (int)(overhead + plain.len);
}

int rp_frame_open(struct rp_seal *seal, struct rp_view frame, struct rp_frame_head *out_head,
                  uint8_t *buf, size_t cap)
{
    struct rp_frame_head head;
    int rc = rp_frame_head_read(frame, &head);
    if (rc < 0) {
        return rc;
    }
    size_t head_len = (size_t)rc;
    if (frame.len - head_len < RP_TAG_LEN) {
        return RP_E_TRUNCATED;
    }
    size_t plain_len = frame.len - head_len - RP_TAG_LEN;
    if (frame.len > sealed_len_max(head.kind) || plain_len > cap) {
        return RP_E_TOO_LONG;
    }
    /* Unverified bytes stay here: the caller's buffer is written only when the tag is right. */
    uint8_t plain[RP_FRAME_LEN_MAX], nonce[RP_NONCE_LEN];
    const struct rp_seal_key *key = key_for(seal, &head);
    nonce_for(key, head.counter, nonce);
    struct rp_view sealed = rp_view_of(frame.bytes + head_len, frame.len - head_len);
    if (!rp_ccm_decrypt(&key->key, nonce, rp_view_of(frame.bytes, head_len), sealed, plain)) {
        return RP_E_AUTH;
    }
    if (plain_len > 0) {
        memcpy(buf, plain, plain_len);
    }
    *out_head = head;
    return (int)plain_len;
}

uint32_t rp_seal_proof(struct rp_seal *seal, uint8_t epoch, uint16_t origin, uint32_t upto)
{
    uint8_t nonce[RP_NONCE_LEN], tag[RP_TAG_LEN];
    const struct rp_seal_key *key = key_of(seal, DOMAIN_MARK, origin, epoch);
    nonce_for(key, upto, nonce);
    struct rp_view nothing = rp_view_of(NULL, 0);
    rp_ccm_encrypt(&key->key, nonce, nothing, nothing, tag);
    struct rp_reader r = rp_reader_on(rp_view_of(tag, sizeof tag));
    return (uint32_t)rp_get_be(&r, 4) >> (32 - RP_MARK_PROOF_BITS);
}
