/* Key derivation, nonce and AEAD as published, free of any choice of Ridgepost, so that the
 * standards' own examples can be run through the code that seals.
 * Sources: RFC 5869 (HKDF), RFC 8613 sections 3.2.1 and 5.2, RFC 9053 section 4.2. */
#ifndef RP_WIRE_DERIVE_H
#define RP_WIRE_DERIVE_H

#include <stdbool.h>
#include <stdint.h>

#include "ridgepost/view.h"

#define RP_KEY_LEN         16
#define RP_NONCE_LEN       13
#define RP_PRK_LEN         32 /* HKDF-SHA-256: the hash length */
#define RP_DERIVE_ID_MAX   7  /* RFC 8613 section 3.3: nonce length minus 6 */
#define RP_DERIVE_CTX_MAX  23 /* so that every CBOR length stays in one byte */
#define RP_DERIVE_INFO_MAX 48

/* HKDF-Extract with SHA-256; an empty salt is 32 zero bytes (RFC 5869 section 2.2). */
void rp_hkdf_extract(struct rp_view salt, struct rp_view secret, uint8_t out_prk[RP_PRK_LEN]);
/* HKDF-Expand with SHA-256 to out_len bytes, at most 255 * 32. */
void rp_hkdf_expand(const uint8_t prk[RP_PRK_LEN], struct rp_view info, size_t out_len,
                    uint8_t *out);

/* The info structure of RFC 8613 section 3.2.1: CBOR [id, id_context, 10, type, L]. `type` is
 * "Key" or "IV"; id_context NULL is CBOR nil. Returns its length; the ids must be within the
 * bounds above (our own bug otherwise). */
size_t rp_derive_info(struct rp_view id, const struct rp_view *id_context, const char *type,
                      size_t out_len, uint8_t buf[RP_DERIVE_INFO_MAX]);

/* The nonce of RFC 8613 section 5.2: (length of id | id padded to 7 | counter as 5 bytes, both on
 * the left) XOR the common IV. */
void rp_derive_nonce(const uint8_t iv[RP_NONCE_LEN], struct rp_view id, uint64_t counter,
                     uint8_t out_nonce[RP_NONCE_LEN]);

/* A key made ready: its round keys, which are as secret. */
struct rp_ccm_key {
    uint32_t rounds[44]; /* FIPS 197 section 5.2: 4 words for each of 10 rounds, and 4 before */
};
void rp_ccm_key(const uint8_t key[RP_KEY_LEN], struct rp_ccm_key *out_key);

/* AES-CCM-16-64-128. Writes plain.len + RP_TAG_LEN bytes to out. */
void rp_ccm_encrypt(const struct rp_ccm_key *key, const uint8_t nonce[RP_NONCE_LEN],
                    struct rp_view aad, struct rp_view plain, uint8_t *out);
/* Writes sealed.len - RP_TAG_LEN bytes to out; false when the tag does not verify, and out then
 * holds bytes nobody may look at. sealed.len is at least RP_TAG_LEN. */
bool rp_ccm_decrypt(const struct rp_ccm_key *key, const uint8_t nonce[RP_NONCE_LEN],
                    struct rp_view aad, struct rp_view sealed, uint8_t *out);

#endif
