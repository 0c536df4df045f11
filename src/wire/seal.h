/* Sealing: AES-CCM-16-64-128 with per-origin keys, as PROTOCOL.md "Seal" says.
 * Sources: RFC 9053 4.2.1 (algorithm), RFC 8613 3.2 and 5.2 (key and nonce), RFC 5869 (HKDF). */
#ifndef RP_WIRE_SEAL_H
#define RP_WIRE_SEAL_H

#include <stdint.h>

#include "ridgepost/view.h"
#include "wire/derive.h"
#include "wire/frame.h"

#define RP_SECRET_LEN 16
#define RP_SEAL_CACHE 64 /* origin keys kept ready; the oldest is derived again when needed */

struct rp_seal_key {
    uint16_t origin;
    uint8_t domain; /* 0 empty, 1 segments, 2 control frames, 3 base marks */
    uint8_t epoch;
    uint32_t used; /* stamp for replacement */
    struct rp_ccm_key key;
    uint8_t iv[RP_NONCE_LEN];
};

struct rp_seal {
    uint8_t secret[RP_SECRET_LEN];
    uint8_t net_id[4]; /* first bytes of a hash of the secret: the HKDF id_context */
    uint8_t epoch;
    uint32_t stamp;
    struct rp_seal_key cache[RP_SEAL_CACHE];
};

/* `secret` is the net secret, RP_SECRET_LEN bytes, copied. epoch 0..3. */
void rp_seal_init(struct rp_seal *seal, const uint8_t secret[RP_SECRET_LEN], uint8_t epoch);
/* Wipes all key material. */
void rp_seal_deinit(struct rp_seal *seal);

/* Writes head, ciphertext and tag to buf; returns the length (no trailer). The head's epoch is
 * taken from the seal. The caller guarantees that (origin, kind domain, counter) was never sealed
 * before. RP_E_INVALID, RP_E_TOO_LONG. */
int rp_frame_seal(struct rp_seal *seal, const struct rp_frame_head *head, struct rp_view plain,
                  uint8_t *buf, size_t cap);

/* Opens a frame WITHOUT trailer: checks it and writes the plain bytes to buf; returns their
 * length (may be 0). RP_E_TRUNCATED, RP_E_VERSION, RP_E_FORMAT, RP_E_AUTH, RP_E_TOO_LONG. */
int rp_frame_open(struct rp_seal *seal, struct rp_view frame, struct rp_frame_head *out_head,
                  uint8_t *buf, size_t cap);

/* RP_MARK_PROOF_BITS bits that only a member of the net can know: "base holds all of this origin's
 * log up to `upto`". Always the same for the same arguments. epoch 0..3: of the segment's key. */
uint32_t rp_seal_proof(struct rp_seal *seal, uint8_t epoch, uint16_t origin, uint32_t upto);

#endif
