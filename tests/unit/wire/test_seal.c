#include "rp_test.h"

#include <stdio.h>
#include <string.h>

#include <openssl/evp.h>
#include <openssl/kdf.h>
#include <openssl/params.h>

#include "base/bytes.h"
#include "base/rng.h"
#include "ridgepost/error.h"
#include "wire/seal.h"

static const uint8_t secret[RP_SECRET_LEN] = "tsergang-secret";

/* The independent side: OpenSSL's HKDF and AES-128-CCM, and the layout of PROTOCOL.md "Seal"
 * written out a second time. */
static void oracle_hkdf(const uint8_t *info, size_t info_len, uint8_t *out, size_t out_len,
                        const uint8_t key[RP_SECRET_LEN])
{
    EVP_KDF *kdf = EVP_KDF_fetch(NULL, "HKDF", NULL);
    EVP_KDF_CTX *ctx = EVP_KDF_CTX_new(kdf);
    char digest[] = "SHA256";
    uint8_t key_copy[RP_SECRET_LEN], info_copy[64];
    memcpy(key_copy, key, sizeof key_copy);
    memcpy(info_copy, info, info_len);
    OSSL_PARAM params[] = {
        OSSL_PARAM_construct_utf8_string("digest", digest, 0),
        OSSL_PARAM_construct_octet_string("key", key_copy, sizeof key_copy),
        OSSL_PARAM_construct_octet_string("info", info_copy, info_len),
        OSSL_PARAM_construct_end(),
    };
    assert_int_equal(EVP_KDF_derive(ctx, out, out_len, params), 1);
    EVP_KDF_CTX_free(ctx);
    EVP_KDF_free(kdf);
}

static void oracle_ccm(const uint8_t key[16], const uint8_t nonce[13], struct rp_view aad,
                       struct rp_view plain, uint8_t *out)
{
    EVP_CIPHER_CTX *ctx = EVP_CIPHER_CTX_new();
    int len = 0;
    uint8_t none = 0;
    assert_int_equal(EVP_EncryptInit_ex(ctx, EVP_aes_128_ccm(), NULL, NULL, NULL), 1);
    assert_int_equal(EVP_CIPHER_CTX_ctrl(ctx, EVP_CTRL_AEAD_SET_IVLEN, 13, NULL), 1);
    assert_int_equal(EVP_CIPHER_CTX_ctrl(ctx, EVP_CTRL_AEAD_SET_TAG, 8, NULL), 1);
    assert_int_equal(EVP_EncryptInit_ex(ctx, NULL, NULL, key, nonce), 1);
    assert_int_equal(EVP_EncryptUpdate(ctx, NULL, &len, NULL, (int)plain.len), 1);
    if (aad.len > 0) {
        assert_int_equal(EVP_EncryptUpdate(ctx, NULL, &len, aad.bytes, (int)aad.len), 1);
    }
    assert_int_equal(
        EVP_EncryptUpdate(ctx, out, &len, plain.len > 0 ? plain.bytes : &none, (int)plain.len), 1);
    assert_int_equal(len, (int)plain.len);
    assert_int_equal(EVP_EncryptFinal_ex(ctx, out + plain.len, &len), 1);
    assert_int_equal(EVP_CIPHER_CTX_ctrl(ctx, EVP_CTRL_AEAD_GET_TAG, 8, out + plain.len), 1);
    EVP_CIPHER_CTX_free(ctx);
}

/* Key and nonce of PROTOCOL.md, "Seal". */
static void oracle_keys(const uint8_t key[RP_SECRET_LEN], uint8_t epoch, uint8_t domain,
                        uint16_t origin, uint32_t counter, uint8_t ccm_key[16], uint8_t nonce[13])
{
    uint8_t info[18] = {0x85, 0x43, domain, (uint8_t)(origin >> 8), (uint8_t)origin, 0x45};
    oracle_hkdf((const uint8_t *)"ridgepost net id", 16, info + 6, 4, key);
    info[10] = epoch;
    info[11] = 10;
    memcpy(info + 12, "\x63Key\x10", 5);
    oracle_hkdf(info, 17, ccm_key, 16, key);
    memcpy(info + 12, "\x62IV\x0d", 4);
    oracle_hkdf(info, 16, nonce, 13, key);
    nonce[0] ^= 3;
    for (int i = 0; i < 3; i++) {
        nonce[5 + i] ^= info[2 + i];
        nonce[10 + i] ^= (uint8_t)(counter >> (16 - 8 * i));
    }
}

static size_t oracle_seal(const uint8_t key[RP_SECRET_LEN], uint8_t epoch,
                          const struct rp_frame_head *head, struct rp_view plain, uint8_t *out)
{
    uint8_t ccm_key[16], iv[13];
    oracle_keys(key, epoch, head->kind == RP_FRAME_SEGMENT ? 1 : 2, head->origin, head->counter,
                ccm_key, iv);
    size_t at = 3;
    out[0] = (uint8_t)(head->kind << 4 | epoch << 2 | head->first << 1 | head->last);
    out[1] = (uint8_t)(head->origin >> 8);
    out[2] = (uint8_t)head->origin;
    if (head->kind == RP_FRAME_SEGMENT) {
        uint32_t left = head->counter;
        for (; left > 127; left >>= 7) {
            out[at++] = (uint8_t)(left | 128);
        }
        out[at++] = (uint8_t)left;
    } else {
        for (int i = 0; i < 3; i++) {
            out[at++] = (uint8_t)(head->counter >> (16 - 8 * i));
        }
    }
    oracle_ccm(ccm_key, iv, rp_view_of(out, at), plain, out + at);
    return at + plain.len + 8;
}

static struct rp_frame_head random_head(struct rp_rng *rng)
{
    struct rp_frame_head head = {.kind = (enum rp_frame_kind)rp_rng_below(rng, 4)};
    bool segment = head.kind == RP_FRAME_SEGMENT;
    head.origin =
        rp_origin_make((uint8_t)rp_rng_between(rng, 1, 99), (uint16_t)rp_rng_below(rng, 512));
    head.counter = (uint32_t)rp_rng_between(rng, 1, 1 << rp_rng_between(rng, 1, segment ? 20 : 23));
    head.first = segment && rp_rng_below(rng, 2) == 1;
    head.last = segment && rp_rng_below(rng, 2) == 1;
    return head;
}

static void seal_agrees_with_openssl(void **state)
{
    (void)state;
    uint64_t seed = 20260301;
    printf("seed %llu\n", (unsigned long long)seed);
    struct rp_rng rng = rp_rng_seeded(seed);
    for (int round = 0; round < 400; round++) {
        uint8_t key[RP_SECRET_LEN], plain[200], ours[RP_FRAME_LEN_MAX],
            theirs[RP_FRAME_LEN_MAX + 8], back[200];
        for (size_t i = 0; i < sizeof key; i++) {
            key[i] = (uint8_t)rp_rng_next(&rng);
        }
        size_t len = rp_rng_below(&rng, sizeof plain + 1);
        for (size_t i = 0; i < len; i++) {
            plain[i] = (uint8_t)rp_rng_next(&rng);
        }
        uint8_t epoch = (uint8_t)rp_rng_below(&rng, 4);
        struct rp_frame_head head = random_head(&rng), got;
        struct rp_seal seal;
        rp_seal_init(&seal, key, epoch);
        int n = rp_frame_seal(&seal, &head, rp_view_of(plain, len), ours, sizeof ours);
        size_t want = oracle_seal(key, epoch, &head, rp_view_of(plain, len), theirs);
        assert_int_equal(n, want);
        assert_memory_equal(ours, theirs, want);
        n = rp_frame_open(&seal, rp_view_of(theirs, want), &got, back, sizeof back);
        assert_int_equal(n, len);
        assert_memory_equal(back, plain, len);
        assert_int_equal(got.epoch, epoch);
        assert_int_equal(got.counter, head.counter);
    }
}

/* 200 origins in turns through a cache of 64, against a seal that has only ever seen one. */
static void cache_gives_the_right_key_after_eviction(void **state)
{
    (void)state;
    static struct rp_seal busy, fresh;
    rp_seal_init(&busy, secret, 1);
    for (uint32_t round = 1; round <= 3; round++) {
        for (uint16_t i = 0; i < 200; i++) {
            struct rp_frame_head head = {
                .kind = i % 3 == 0 ? RP_FRAME_DIGEST : RP_FRAME_SEGMENT,
                .origin = rp_origin_make((uint8_t)(i % 99 + 1), (uint16_t)(i / 99 + 5)),
                .counter = round};
            uint8_t one[64], two[64];
            int n = rp_frame_seal(&busy, &head, rp_view_of("report", 6), one, sizeof one);
            rp_seal_init(&fresh, secret, 1);
            assert_int_equal(rp_frame_seal(&fresh, &head, rp_view_of("report", 6), two, sizeof two),
                             n);
            assert_memory_equal(one, two, (size_t)n);
        }
    }
}

static bool cache_has(const struct rp_seal *seal, uint16_t origin)
{
    for (size_t i = 0; i < RP_SEAL_CACHE; i++) {
        if (seal->cache[i].domain == 1 && seal->cache[i].origin == origin) {
            return true;
        }
    }
    return false;
}

static void use_key(struct rp_seal *seal, uint16_t generation, uint32_t seq)
{
    struct rp_frame_head head = {.origin = rp_origin_make(7, generation), .counter = seq};
    uint8_t buf[32];
    assert_true(rp_frame_seal(seal, &head, rp_view_of("x", 1), buf, sizeof buf) > 0);
}

static void cache_replaces_the_least_recently_used(void **state)
{
    (void)state;
    static struct rp_seal seal;
    rp_seal_init(&seal, secret, 0);
    seal.stamp = UINT32_MAX - 100; /* the stamp comes round on the way and must do no harm */
    for (uint16_t g = 0; g < RP_SEAL_CACHE; g++) {
        use_key(&seal, g, 1);
    }
    use_key(&seal, 0, 2);
    use_key(&seal, 300, 1);
    assert_true(cache_has(&seal, rp_origin_make(7, 0)));
    assert_false(cache_has(&seal, rp_origin_make(7, 1)));
    for (uint32_t seq = 2; seq < 200; seq++) {
        use_key(&seal, (uint16_t)(2 + seq % 60), seq);
    }
    use_key(&seal, 301, 1);
    assert_true(cache_has(&seal, rp_origin_make(7, 2)));
    assert_true(cache_has(&seal, rp_origin_make(7, 301)));
}

/* RP_E_TOO_LONG at one byte above each bound, success at the bound. */
static void lengths_are_bounded(void **state)
{
    (void)state;
    static struct rp_seal seal;
    rp_seal_init(&seal, secret, 0);
    struct rp_frame_head seg = {.origin = 0x0e2a, .counter = 1, .first = true, .last = true};
    struct rp_frame_head digest = {.kind = RP_FRAME_DIGEST, .origin = 0x0e2a, .counter = 1}, got;
    uint8_t plain[256] = {0}, buf[256], back[256];
    assert_int_equal(rp_frame_seal(&seal, &seg, rp_view_of(plain, 206), buf, 256), 218);
    assert_int_equal(rp_frame_seal(&seal, &seg, rp_view_of(plain, 207), buf, 256), RP_E_TOO_LONG);
    assert_int_equal(rp_frame_seal(&seal, &digest, rp_view_of(plain, 208), buf, 256), 222);
    assert_int_equal(rp_frame_open(&seal, rp_view_of(buf, 222), &got, back, 208), 208);
    assert_int_equal(rp_frame_open(&seal, rp_view_of(buf, 222), &got, back, 207), RP_E_TOO_LONG);
    assert_int_equal(rp_frame_open(&seal, rp_view_of(buf, 223), &got, back, 256), RP_E_TOO_LONG);
    assert_int_equal(rp_frame_seal(&seal, &seg, rp_view_of(plain, 0), buf, 12), 12);
    assert_int_equal(rp_frame_seal(&seal, &seg, rp_view_of(plain, 0), buf, 11), RP_E_TOO_LONG);
    assert_int_equal(rp_frame_seal(&seal, &seg, rp_view_of(plain, 1), buf, 12), RP_E_TOO_LONG);
    assert_int_equal(rp_frame_open(&seal, rp_view_of(buf, 12), &got, back, 0), 0);
    for (size_t cut = 0; cut < 12; cut++) {
        assert_int_equal(rp_frame_open(&seal, rp_view_of(buf, cut), &got, back, 256),
                         RP_E_TRUNCATED);
    }
    seg.counter = 0;
    assert_int_equal(rp_frame_seal(&seal, &seg, rp_view_of(plain, 1), buf, 256), RP_E_INVALID);
}

static void another_net_another_epoch_or_domain_does_not_open(void **state)
{
    (void)state;
    static struct rp_seal ours, other;
    uint8_t other_secret[RP_SECRET_LEN] = "tsergang-secres";
    struct rp_frame_head head = {.origin = 0x0e2a, .counter = 9, .first = true, .last = true}, got;
    uint8_t buf[64], back[64];
    rp_seal_init(&ours, secret, 2);
    rp_seal_init(&other, other_secret, 2);
    memset(back, 0x55, sizeof back);
    int n = rp_frame_seal(&ours, &head, rp_view_of("\x04\x01zz", 4), buf, sizeof buf);
    struct rp_view frame = rp_view_of(buf, (size_t)n);
    assert_int_equal(rp_frame_open(&other, frame, &got, back, sizeof back), RP_E_AUTH);
    assert_int_equal(back[0], 0x55); /* nothing unverified reaches the caller */
    /* A station that has moved to epoch 3 still opens segments sealed in epoch 2. */
    rp_seal_init(&other, secret, 3);
    assert_int_equal(rp_frame_open(&other, frame, &got, back, sizeof back), 4);
    assert_int_equal(got.epoch, 2);
    buf[0] ^= 0x04; /* the epoch of the head is authenticated by the key */
    assert_int_equal(rp_frame_open(&other, frame, &got, back, sizeof back), RP_E_AUTH);
}

static void deinit_leaves_no_key_bytes(void **state)
{
    (void)state;
    static struct rp_seal seal;
    static const struct rp_seal zero;
    rp_seal_init(&seal, secret, 0);
    use_key(&seal, 1, 1);
    rp_seal_deinit(&seal);
    assert_memory_equal(&seal, &zero, sizeof seal);
}

/* The proof of a base mark is the start of the tag of an empty message, in a domain of its own; the
 * oracle is OpenSSL. */
static void proofs_match_openssl(void **state)
{
    (void)state;
    uint64_t seed = 5;
    print_message("seed %llu\n", (unsigned long long)seed);
    struct rp_rng rng = rp_rng_seeded(seed);
    for (int round = 0; round < 200; round++) {
        static struct rp_seal seal;
        uint8_t key[RP_SECRET_LEN], ccm_key[16], nonce[13], tag[8];
        for (size_t i = 0; i < sizeof key; i++) {
            key[i] = (uint8_t)rp_rng_next(&rng);
        }
        struct rp_frame_head head = random_head(&rng);
        uint8_t epoch = (uint8_t)rp_rng_below(&rng, 4);
        rp_seal_init(&seal, key, (uint8_t)((epoch + 1) % 4)); /* of the segment, not of this station */
        oracle_keys(key, epoch, 3, head.origin, head.counter, ccm_key, nonce);
        oracle_ccm(ccm_key, nonce, rp_view_of(NULL, 0), rp_view_of(NULL, 0), tag);
        uint32_t want =
            (uint32_t)tag[0] << 24 | (uint32_t)tag[1] << 16 | (uint32_t)tag[2] << 8 | tag[3];
        assert_int_equal(rp_seal_proof(&seal, epoch, head.origin, head.counter), want >> 6);
        rp_seal_deinit(&seal);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(proofs_match_openssl),
        cmocka_unit_test(seal_agrees_with_openssl),
        cmocka_unit_test(cache_gives_the_right_key_after_eviction),
        cmocka_unit_test(cache_replaces_the_least_recently_used),
        cmocka_unit_test(lengths_are_bounded),
        cmocka_unit_test(another_net_another_epoch_or_domain_does_not_open),
        cmocka_unit_test(deinit_leaves_no_key_bytes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
