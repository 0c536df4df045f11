/* Quantities, doses and positions as typed: the first byte picks the dimension. What is accepted
 * must have been written, what is refused must be explained. */
#include <assert.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include "clinical/range.h"
#include "geo/geo.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    char text[128];
    if (size < 1 || size > sizeof text) {
        return 0;
    }
    memcpy(text, data + 1, size - 1);
    text[size - 1] = '\0';
    struct rp_problem problem = {0};
    int32_t value = 0, lat_e6 = 0, lon_e6 = 0;
    enum rp_dimension dimension = (enum rp_dimension)(data[0] % RP_DIM_COUNT_OF);
    int code = rp_quantity_parse(dimension, "x", text, &value, &problem);
    assert(code == 0 || (code == RP_E_INVALID && problem.text[0] != '\0'));
    struct rp_amount amount = {0, RP_AMOUNT_NONE};
    if (rp_amount_parse(text, &amount, &problem) == 0) {
        assert(amount.milli >= 1 && amount.milli <= 10000000 && amount.unit != RP_AMOUNT_NONE);
    }
    uint16_t accuracy_m;
    if (rp_geo_parse(text, &lat_e6, &lon_e6, &accuracy_m, &problem) == 0) {
        assert(lat_e6 >= -90000000 && lat_e6 <= 90000000);
        assert(lon_e6 >= -180000000 && lon_e6 <= 180000000);
    }
    const struct rp_range *range = rp_range_of((enum rp_range_id)(data[0] % RP_RANGE_COUNT));
    if (rp_range_parse(range, text, true, &value, &problem) == 0) {
        assert(value >= range->hard_min && value <= range->hard_max);
    }
    return 0;
}
