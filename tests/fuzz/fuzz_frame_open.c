/* Heads, trailers and seals from the air, with the key of the golden frames. What opens must seal
 * again to the same bytes. */
#include <assert.h>
#include <string.h>

#include "base/bytes.h"
#include "wire/frame.h"
#include "wire/seal.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const uint8_t secret[RP_SECRET_LEN] = "tsergang-secret";
    static struct rp_seal seal;
    struct rp_frame_head head;
    struct rp_trailer trailer;
    uint8_t plain[RP_FRAME_LEN_MAX], again[RP_FRAME_LEN_MAX], bytes[RP_TRAILER_LEN];
    rp_seal_init(&seal, secret, 1);
    int rc = rp_frame_head_read(rp_view_of(data, size), &head);
    if (rc > 0) {
        assert(rp_frame_head_write(&head, again, sizeof again) == rc);
        assert(memcmp(again, data, (size_t)rc) == 0);
    }
    if (rp_trailer_read(rp_view_of(data, size), &trailer) == 0) {
        rp_trailer_write(&trailer, bytes);
        assert(memcmp(bytes, data + size - RP_TRAILER_LEN, RP_TRAILER_LEN) == 0);
        struct rp_mark mark;
        if (trailer.marked && rp_mark_read(rp_view_of(data, size), &mark)) {
            rp_mark_write(&mark, bytes);
            assert(memcmp(bytes, data + size - RP_TRAILER_LEN - RP_MARK_LEN, RP_MARK_LEN) == 0);
        }
        if (rc > 0 && head.kind == RP_FRAME_SEGMENT) {
            size = rp_segment_sealed_len(rp_view_of(data, size));
        }
    }
    rc = rp_frame_open(&seal, rp_view_of(data, size), &head, plain, sizeof plain);
    if (rc >= 0 && head.epoch == 1) {
        rc = rp_frame_seal(&seal, &head, rp_view_of(plain, (size_t)rc), again, sizeof again);
        assert(rc == (int)size && memcmp(again, data, size) == 0);
    }
    return 0;
}
