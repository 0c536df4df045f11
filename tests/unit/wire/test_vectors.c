/* The published examples of the standards the seal is built from. */
#include "rp_test.h"

#include <stdbool.h>
#include <string.h>

#include "base/bytes.h"
#include "rp_hex.h"
#include "wire/derive.h"
#include "wire/frame.h"
#include "wire/seal.h"

struct bytes {
    uint8_t at[128];
    size_t len;
};

static struct bytes hex(const char *text)
{
    struct bytes b = {{0}, 0};
    b.len = rp_hex_read(text, b.at, sizeof b.at);
    assert_int_equal(b.len * 2, strlen(text));
    return b;
}

static struct rp_view view(const struct bytes *b)
{
    return rp_view_of(b->at, b->len);
}

static void expect(const uint8_t *got, const char *want_hex)
{
    struct bytes want = hex(want_hex);
    assert_memory_equal(got, want.at, want.len);
}

/* RFC 3610 section 8: the twelve packet vectors with an 8-byte tag (1-6, 13-18). */
static const struct {
    const char *key, *nonce, *aad, *plain, *sealed;
} rfc3610[] = {
#define KEY_A "c0c1c2c3c4c5c6c7c8c9cacbcccdcecf"
#define KEY_B "d7828d13b2b0bdc325a76236df93cc6b"
    {KEY_A, "00000003020100a0a1a2a3a4a5", "0001020304050607",
     "08090a0b0c0d0e0f101112131415161718191a1b1c1d1e",
     "588c979a61c663d2f066d0c2c0f989806d5f6b61dac38417e8d12cfdf926e0"},
    {KEY_A, "00000004030201a0a1a2a3a4a5", "0001020304050607",
     "08090a0b0c0d0e0f101112131415161718191a1b1c1d1e1f",
     "72c91a36e135f8cf291ca894085c87e3cc15c439c9e43a3ba091d56e10400916"},
    {KEY_A, "00000005040302a0a1a2a3a4a5", "0001020304050607",
     "08090a0b0c0d0e0f101112131415161718191a1b1c1d1e1f20",
     "51b1e5f44a197d1da46b0f8e2d282ae871e838bb64da8596574adaa76fbd9fb0c5"},
    {KEY_A, "00000006050403a0a1a2a3a4a5", "000102030405060708090a0b",
     "0c0d0e0f101112131415161718191a1b1c1d1e",
     "a28c6865939a9a79faaa5c4c2a9d4a91cdac8c96c861b9c9e61ef1"},
    {KEY_A, "00000007060504a0a1a2a3a4a5", "000102030405060708090a0b",
     "0c0d0e0f101112131415161718191a1b1c1d1e1f",
     "dcf1fb7b5d9e23fb9d4e131253658ad86ebdca3e51e83f077d9c2d93"},
    {KEY_A, "00000008070605a0a1a2a3a4a5", "000102030405060708090a0b",
     "0c0d0e0f101112131415161718191a1b1c1d1e1f20",
     "6fc1b011f006568b5171a42d953d469b2570a4bd87405a0443ac91cb94"},
    {KEY_B, "00412b4ea9cdbe3c9696766cfa", "0be1a88bace018b1",
     "08e8cf97d820ea258460e96ad9cf5289054d895ceac47c",
     "4cb97f86a2a4689a877947ab8091ef5386a6ffbdd080f8e78cf7cb0cddd7b3"},
    {KEY_B, "0033568ef7b2633c9696766cfa", "63018f76dc8a1bcb",
     "9020ea6f91bdd85afa0039ba4baff9bfb79c7028949cd0ec",
     "4ccb1e7ca981befaa0726c55d378061298c85c92814abc33c52ee81d7d77c08a"},
    {KEY_B, "00103fe41336713c9696766cfa", "aa6cfa36cae86b40",
     "b916e0eacc1c00d7dcec68ec0b3bbb1a02de8a2d1aa346132e",
     "b1d23a2220ddc0ac900d9aa03c61fcf4a559a4417767089708a776796edb723506"},
    {KEY_B, "00764c63b8058e3c9696766cfa", "d0d0735c531e1becf049c244",
     "12daac5630efa5396f770ce1a66b21f7b2101c",
     "14d253c3967b70609b7cbb7c499160283245269a6f49975bcadeaf"},
    {KEY_B, "00f8b678094e3b3c9696766cfa", "77b60f011c03e1525899bcae",
     "e88b6a46c78d63e52eb8c546efb5de6f75e9cc0d",
     "5545ff1a085ee2efbf52b2e04bee1e2336c73e3f762c0c7744fe7e3c"},
    {KEY_B, "00d560912d3f703c9696766cfa", "cd9044d2b71fdb8120ea60c0",
     "6435acbafb11a82e2f071d7ca4a5ebd93a803ba87f",
     "009769ecabdf48625594c59251e6035722675e04c847099e5ae0704551"},
};

static void ccm_matches_rfc_3610(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof rfc3610 / sizeof rfc3610[0]; i++) {
        struct bytes key = hex(rfc3610[i].key), nonce = hex(rfc3610[i].nonce),
                     aad = hex(rfc3610[i].aad), plain = hex(rfc3610[i].plain),
                     sealed = hex(rfc3610[i].sealed);
        uint8_t out[64];
        struct rp_ccm_key ready;
        rp_ccm_key(key.at, &ready);
        assert_int_equal(sealed.len, plain.len + RP_TAG_LEN);
        rp_ccm_encrypt(&ready, nonce.at, view(&aad), view(&plain), out);
        assert_memory_equal(out, sealed.at, sealed.len);
        assert_true(rp_ccm_decrypt(&ready, nonce.at, view(&aad), view(&sealed), out));
        assert_memory_equal(out, plain.at, plain.len);
        sealed.at[sealed.len - 1] ^= 1;
        assert_false(rp_ccm_decrypt(&ready, nonce.at, view(&aad), view(&sealed), out));
    }
}

static void check_hkdf(struct bytes salt, struct bytes secret, struct bytes info, const char *prk,
                       const char *okm)
{
    uint8_t got_prk[RP_PRK_LEN], got[82];
    rp_hkdf_extract(view(&salt), view(&secret), got_prk);
    expect(got_prk, prk);
    rp_hkdf_expand(got_prk, view(&info), strlen(okm) / 2, got);
    expect(got, okm);
}

static struct bytes run_of(uint8_t first, size_t len)
{
    struct bytes b = {{0}, len};
    for (size_t i = 0; i < len; i++) {
        b.at[i] = (uint8_t)(first + i);
    }
    return b;
}

/* RFC 5869 appendix A.1, A.2 and A.3: the three cases with SHA-256. */
static void hkdf_matches_rfc_5869(void **state)
{
    (void)state;
    struct bytes fill = {{0}, 22}, none = {{0}, 0};
    memset(fill.at, 0x0b, 22);
    check_hkdf(
        hex("000102030405060708090a0b0c"), fill, hex("f0f1f2f3f4f5f6f7f8f9"),
        "077709362c2e32df0ddc3f0dc47bba6390b6c73bb50f9c3122ec844ad7c2b3e5",
        "3cb25f25faacd57a90434f64d0362f2a2d2d0a90cf1a5a4c5db02d56ecc4c5bf34007208d5b887185865");
    check_hkdf(run_of(0x60, 80), run_of(0x00, 80), run_of(0xb0, 80),
               "06a6b88c5853361a06104c9ceb35b45cef760014904671014a193f40c15fc244",
               "b11e398dc80327a1c8e7f78c596a49344f012eda2d4efad8a050cc4c19afa97c59045a99cac7827271c"
               "b41c65e590e09da3275600c2f09b8367793a9aca3db71cc30c58179ec3e87c14c01d5c1f3434f1d87");
    check_hkdf(
        none, fill, none, "19ef24a32c717b167f33a91d6f648bdf96596776afdb6377ac434c1c293ccb04",
        "8da4e775a563c18f715f802a063c5a31b8a11f5c5ee1879ec3454e5f3c738d2d9d201395faa4b61a96c8");
}

/* RFC 8613 appendix C.1 to C.3: with salt, without salt, with an ID context. The master secret is
 * the same in all. Nonces are those for partial IV 0. */
static const struct {
    const char *salt, *context, *id, *info_key, *info_iv, *key, *iv, *nonce;
} rfc8613[] = {
    {"9e7ca92223786340", NULL, "", "8540f60a634b657910", "8540f60a6249560d",
     "f0910ed7295e6ad4b54fc793154302ff", "4622d4dd6d944168eefb54987c",
     "4622d4dd6d944168eefb54987c"},
    {"9e7ca92223786340", NULL, "01", "854101f60a634b657910", NULL,
     "ffb14e093c94c9cac9471648b4f98710", NULL, "4722d4dd6d944169eefb54987c"},
    {"", NULL, "00", "854100f60a634b657910", NULL, "321b26943253c7ffb6003b0b64d74041", NULL,
     "bf35ae297d2dace910c52e99f9"},
    {"", NULL, "01", "854101f60a634b657910", NULL, "e57b5635815177cd679ab4bcec9d7dda", NULL,
     "bf35ae297d2dace810c52e99f9"},
    {"", NULL, "", NULL, "8540f60a6249560d", NULL, "be35ae297d2dace910c52e99f9", NULL},
    {"9e7ca92223786340", "37cbf3210017a2d3", "", "85404837cbf3210017a2d30a634b657910",
     "85404837cbf3210017a2d30a6249560d", "af2a1300a5e95788b356336eeecd2b92",
     "2ca58fb85ff1b81c0b7181b85e", "2ca58fb85ff1b81c0b7181b85e"},
    {"9e7ca92223786340", "37cbf3210017a2d3", "01", "8541014837cbf3210017a2d30a634b657910", NULL,
     "e39a0c7c77b43f03b4b39ab9a268699f", NULL, "2da58fb85ff1b81d0b7181b85e"},
};

static void check_info_and_output(size_t row, const uint8_t prk[RP_PRK_LEN], struct rp_view id,
                                  const char *type, size_t len, const char *want_info,
                                  const char *want)
{
    struct bytes context = hex(rfc8613[row].context != NULL ? rfc8613[row].context : "");
    struct rp_view context_view = view(&context);
    uint8_t info[RP_DERIVE_INFO_MAX], out[RP_KEY_LEN];
    size_t info_len =
        rp_derive_info(id, rfc8613[row].context != NULL ? &context_view : NULL, type, len, info);
    if (want_info != NULL) {
        assert_int_equal(info_len * 2, strlen(want_info));
        expect(info, want_info);
    }
    rp_hkdf_expand(prk, rp_view_of(info, info_len), len, out);
    if (want != NULL) {
        expect(out, want);
    }
}

static void derivation_matches_rfc_8613(void **state)
{
    (void)state;
    struct bytes secret = run_of(1, 16), none = {{0}, 0};
    for (size_t i = 0; i < sizeof rfc8613 / sizeof rfc8613[0]; i++) {
        uint8_t prk[RP_PRK_LEN], iv[RP_NONCE_LEN], nonce[RP_NONCE_LEN], info[RP_DERIVE_INFO_MAX];
        struct bytes salt = hex(rfc8613[i].salt), id = hex(rfc8613[i].id);
        rp_hkdf_extract(view(&salt), view(&secret), prk);
        check_info_and_output(i, prk, view(&id), "Key", RP_KEY_LEN, rfc8613[i].info_key,
                              rfc8613[i].key);
        /* The common IV is derived with an empty id (RFC 8613 section 3.2.1). */
        check_info_and_output(i, prk, view(&none), "IV", RP_NONCE_LEN, rfc8613[i].info_iv,
                              rfc8613[i].iv);
        struct bytes context = hex(rfc8613[i].context != NULL ? rfc8613[i].context : "");
        struct rp_view context_view = view(&context);
        size_t len = rp_derive_info(view(&none), rfc8613[i].context != NULL ? &context_view : NULL,
                                    "IV", RP_NONCE_LEN, info);
        rp_hkdf_expand(prk, rp_view_of(info, len), RP_NONCE_LEN, iv);
        rp_derive_nonce(iv, view(&id), 0, nonce);
        if (rfc8613[i].nonce != NULL) {
            expect(nonce, rfc8613[i].nonce);
        }
    }
}

/* RFC 8613 appendix C.4: nonce for partial IV 0x14, and the ciphertext. */
static void message_matches_rfc_8613_c4(void **state)
{
    (void)state;
    struct bytes key = hex("f0910ed7295e6ad4b54fc793154302ff"),
                 iv = hex("4622d4dd6d944168eefb54987c"),
                 aad = hex("8368456e63727970743040488501810a40411440"), plain = hex("01b3747631"),
                 none = {{0}, 0};
    uint8_t nonce[RP_NONCE_LEN], out[16];
    rp_derive_nonce(iv.at, view(&none), 0x14, nonce);
    expect(nonce, "4622d4dd6d944168eefb549868");
    struct rp_ccm_key ready;
    rp_ccm_key(key.at, &ready);
    rp_ccm_encrypt(&ready, nonce, view(&aad), view(&plain), out);
    expect(out, "612f1092f1776f1c1668b3825e");
}

/* The worked example of PROTOCOL.md "Seal": segment 4 of 7.42, epoch 1. */
static void derivation_matches_the_protocol_document(void **state)
{
    (void)state;
    static struct rp_seal seal;
    struct bytes secret = hex("7473657267616e672d73656372657400"), id = hex("010e2a"),
                 context = hex("ff3663ff01");
    struct rp_view context_view = view(&context);
    struct rp_frame_head head = {.first = true, .last = true, .origin = 0x0e2a, .counter = 4};
    uint8_t info[RP_DERIVE_INFO_MAX], nonce[RP_NONCE_LEN], frame[32];
    rp_seal_init(&seal, secret.at, 1);
    expect(seal.net_id, "ff3663ff");
    assert_true(rp_frame_seal(&seal, &head, view(&id), frame, sizeof frame) > 0);
    expect(frame, "070e2a04");
    struct bytes key = hex("a5d9279588e1a9c8303dcf2cd4a3d219");
    struct rp_ccm_key ready;
    rp_ccm_key(key.at, &ready);
    assert_memory_equal(&seal.cache[0].key, &ready, sizeof ready);
    expect(seal.cache[0].iv, "264a9863a07f41a08195b6b4e6");
    assert_int_equal(rp_derive_info(view(&id), &context_view, "Key", RP_KEY_LEN, info), 17);
    expect(info, "8543010e2a45ff3663ff010a634b657910");
    assert_int_equal(rp_derive_info(view(&id), &context_view, "IV", RP_NONCE_LEN, info), 16);
    expect(info, "8543010e2a45ff3663ff010a6249560d");
    rp_derive_nonce(seal.cache[0].iv, view(&id), 4, nonce);
    expect(nonce, "254a9863a07e4f8a8195b6b4e2");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ccm_matches_rfc_3610),
        cmocka_unit_test(hkdf_matches_rfc_5869),
        cmocka_unit_test(derivation_matches_rfc_8613),
        cmocka_unit_test(message_matches_rfc_8613_c4),
        cmocka_unit_test(derivation_matches_the_protocol_document),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
