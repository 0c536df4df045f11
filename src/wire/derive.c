#include "wire/derive.h"

#include <assert.h>
#include <string.h>

#include <nettle/ccm.h>
#include <nettle/hkdf.h>
#include <nettle/hmac.h>

#include "base/bytes.h"
#include "wire/frame.h"

/* CBOR initial bytes, RFC 8949 section 3.1: major type in the top 3 bits, small value below. */
#define CBOR_UINT             0x00
#define CBOR_BSTR             0x40
#define CBOR_TSTR             0x60
#define CBOR_ARRAY            0x80
#define CBOR_NIL              0xf6

#define ALG_AES_CCM_16_64_128 10 /* RFC 9053 table 6 */

void rp_hkdf_extract(struct rp_view salt, struct rp_view secret, uint8_t out_prk[RP_PRK_LEN])
{
    static const uint8_t zeros[SHA256_DIGEST_SIZE];
    struct hmac_sha256_ctx ctx;
    if (salt.len == 0) {
        salt = rp_view_of(zeros, sizeof zeros);
    }
    hmac_sha256_set_key(&ctx, salt.len, salt.bytes);
    hkdf_extract(&ctx, (nettle_hash_update_func *)hmac_sha256_update,
                 (nettle_hash_digest_func *)hmac_sha256_digest, SHA256_DIGEST_SIZE, secret.len,
                 secret.bytes, out_prk);
    explicit_bzero(&ctx, sizeof ctx);
}

void rp_hkdf_expand(const uint8_t prk[RP_PRK_LEN], struct rp_view info, size_t out_len,
                    uint8_t *out)
{
    struct hmac_sha256_ctx ctx;
    hmac_sha256_set_key(&ctx, RP_PRK_LEN, prk);
    hkdf_expand(&ctx, (nettle_hash_update_func *)hmac_sha256_update,
                (nettle_hash_digest_func *)hmac_sha256_digest, SHA256_DIGEST_SIZE, info.len,
                info.bytes, out_len, out);
    explicit_bzero(&ctx, sizeof ctx);
}

static void put_string(struct rp_writer *w, uint8_t major, const void *bytes, size_t len)
{
    rp_put_u8(w, (uint8_t)(major | len));
    rp_put_view(w, rp_view_of(bytes, len));
}

size_t rp_derive_info(struct rp_view id, const struct rp_view *id_context, const char *type,
                      size_t out_len, uint8_t buf[RP_DERIVE_INFO_MAX])
{
    assert(id.len <= RP_DERIVE_ID_MAX && strlen(type) <= 3 && out_len <= 23);
    assert(id_context == NULL || id_context->len <= RP_DERIVE_CTX_MAX);
    struct rp_writer w = rp_writer_on(buf, RP_DERIVE_INFO_MAX);
    rp_put_u8(&w, CBOR_ARRAY | 5);
    put_string(&w, CBOR_BSTR, id.bytes, id.len);
    if (id_context == NULL) {
        rp_put_u8(&w, CBOR_NIL);
    } else {
        put_string(&w, CBOR_BSTR, id_context->bytes, id_context->len);
    }
    rp_put_u8(&w, CBOR_UINT | ALG_AES_CCM_16_64_128);
    put_string(&w, CBOR_TSTR, type, strlen(type));
    rp_put_u8(&w, (uint8_t)(CBOR_UINT | out_len));
    assert(!w.failed);
    return w.len;
}

void rp_derive_nonce(const uint8_t iv[RP_NONCE_LEN], struct rp_view id, uint64_t counter,
                     uint8_t out_nonce[RP_NONCE_LEN])
{
    assert(id.len <= RP_DERIVE_ID_MAX && counter < UINT64_C(1) << 40);
    static const uint8_t zeros[RP_DERIVE_ID_MAX];
    struct rp_writer w = rp_writer_on(out_nonce, RP_NONCE_LEN);
    rp_put_u8(&w, (uint8_t)id.len);
    rp_put_view(&w, rp_view_of(zeros, RP_DERIVE_ID_MAX - id.len));
    rp_put_view(&w, id);
    rp_put_be(&w, counter, 5);
    assert(!w.failed && w.len == RP_NONCE_LEN);
    for (size_t i = 0; i < RP_NONCE_LEN; i++) {
        out_nonce[i] ^= iv[i];
    }
}

_Static_assert(sizeof(struct rp_ccm_key) == sizeof(struct aes128_ctx),
               "a ready key is what nettle keeps");

void rp_ccm_key(const uint8_t key[RP_KEY_LEN], struct rp_ccm_key *out_key)
{
    struct aes128_ctx ctx;
    aes128_set_encrypt_key(&ctx, key);
    memcpy(out_key, &ctx, sizeof *out_key);
    explicit_bzero(&ctx, sizeof ctx);
}

void rp_ccm_encrypt(const struct rp_ccm_key *key, const uint8_t nonce[RP_NONCE_LEN],
                    struct rp_view aad, struct rp_view plain, uint8_t *out)
{
    ccm_encrypt_message(key, (nettle_cipher_func *)aes128_encrypt, RP_NONCE_LEN, nonce, aad.len,
                        aad.bytes, RP_TAG_LEN, plain.len + RP_TAG_LEN, out, plain.bytes);
}

bool rp_ccm_decrypt(const struct rp_ccm_key *key, const uint8_t nonce[RP_NONCE_LEN],
                    struct rp_view aad, struct rp_view sealed, uint8_t *out)
{
    assert(sealed.len >= RP_TAG_LEN);
    return ccm_decrypt_message(key, (nettle_cipher_func *)aes128_encrypt, RP_NONCE_LEN, nonce,
                               aad.len, aad.bytes, RP_TAG_LEN, sealed.len - RP_TAG_LEN, out,
                               sealed.bytes) == 1;
}
