/* Records from the air. What decodes must encode, and decode again to the same record. */
#include <assert.h>
#include <string.h>

#include "base/bytes.h"
#include "wire/record.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const uint16_t origin = 0x0e2a;
    struct rp_record one, two;
    uint8_t buf[RP_RECORD_LEN_MAX];
    if (rp_record_decode(rp_view_of(data, size), origin, &one) < 0) {
        return 0;
    }
    int len = rp_record_encode(&one, buf, sizeof buf, NULL);
    assert(len > 0);
    int rc = rp_record_decode(rp_view_of(buf, (size_t)len), origin, &two);
    assert(rc == 0 && memcmp(&one, &two, sizeof one) == 0);
    return 0;
}
