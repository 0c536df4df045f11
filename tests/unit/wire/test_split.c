#include "rp_test.h"

#include <string.h>

#include "base/bytes.h"
#include "ridgepost/error.h"
#include "wire/record.h"
#include "wire/split.h"

static void split_has_its_published_layout(void **state)
{
    (void)state;
    uint8_t buf[8];
    struct rp_view record = rp_view_of("\x0a"
                                       "abcdefg",
                                       8);
    assert_int_equal(rp_record_segments(8, 4), 3);
    assert_int_equal(rp_record_split(record, 4, 0, buf, sizeof buf), 4);
    assert_memory_equal(buf,
                        "\x0a"
                        "abc",
                        4);
    assert_int_equal(rp_record_split(record, 4, 1, buf, sizeof buf), 4);
    assert_memory_equal(buf,
                        "\x0a"
                        "def",
                        4);
    assert_int_equal(rp_record_split(record, 4, 2, buf, sizeof buf), 2);
    assert_memory_equal(buf,
                        "\x0a"
                        "g",
                        2);
    assert_int_equal(rp_record_split(record, 4, 3, buf, sizeof buf), RP_E_NOT_FOUND);
    assert_int_equal(rp_record_split(record, 4, 0, buf, 3), RP_E_TOO_LONG);
}

/* All lengths against all sizes: counts, pieces and the joined record. */
static void split_and_join_are_inverse(void **state)
{
    (void)state;
    static uint8_t record[RP_RECORD_LEN_MAX], joined[RP_RECORD_LEN_MAX];
    for (size_t i = 0; i < sizeof record; i++) {
        record[i] = (uint8_t)(i * 37 + 11);
    }
    for (size_t len = 1; len <= sizeof record; len += len < 120 ? 1 : 61) {
        for (size_t plain_max = 2; plain_max <= 210; plain_max += plain_max < 20 ? 1 : 13) {
            int count = rp_record_segments(len, plain_max);
            if (len > 1 && (len - 1 + plain_max - 2) / (plain_max - 1) > 24) {
                assert_int_equal(count, RP_E_TOO_LONG);
                continue;
            }
            int at = 0;
            for (int i = 0; i < count; i++) {
                uint8_t plain[256];
                int n = rp_record_split(rp_view_of(record, len), plain_max, (size_t)i, plain,
                                        sizeof plain);
                assert_in_range(n, len == 1 ? 1 : 2, plain_max);
                at =
                    rp_record_join(joined, sizeof joined, (size_t)at, rp_view_of(plain, (size_t)n));
                assert_true(at > 0);
            }
            assert_int_equal(at, len);
            assert_memory_equal(joined, record, len);
        }
    }
}

static void segments_are_bounded(void **state)
{
    (void)state;
    assert_int_equal(rp_record_segments(0, 100), RP_E_INVALID);
    assert_int_equal(rp_record_segments(10, 1), RP_E_INVALID);
    assert_int_equal(rp_record_segments(1, 2), 1);
    assert_int_equal(rp_record_segments(25, 2), 24);
    assert_int_equal(rp_record_segments(26, 2), RP_E_TOO_LONG);
    assert_int_equal(rp_record_segments(1400, 1400), 1);
    assert_int_equal(rp_record_segments(1401, 1400), RP_E_TOO_LONG);
}

static void join_refuses_what_does_not_belong(void **state)
{
    (void)state;
    uint8_t record[6] = {0x0a, 'a', 'b', 'c', 0, 0};
    assert_int_equal(rp_record_join(record, 6, 4,
                                    rp_view_of("\x8a"
                                               "d",
                                               2)),
                     RP_E_FORMAT);
    assert_int_equal(rp_record_join(record, 6, 4, rp_view_of("\x0a", 1)), RP_E_FORMAT);
    assert_int_equal(rp_record_join(record, 6, 4, rp_view_of("", 0)), RP_E_FORMAT);
    assert_int_equal(rp_record_join(record, 6, 0, rp_view_of("", 0)), RP_E_FORMAT);
    assert_int_equal(rp_record_join(record, 6, 4,
                                    rp_view_of("\x0a"
                                               "def",
                                               4)),
                     RP_E_TOO_LONG);
    assert_int_equal(rp_record_join(record, 6, 4,
                                    rp_view_of("\x0a"
                                               "de",
                                               3)),
                     6);
    assert_int_equal(rp_record_join(record, 2, 0,
                                    rp_view_of("\x0a"
                                               "de",
                                               3)),
                     RP_E_TOO_LONG);
    assert_memory_equal(record,
                        "\x0a"
                        "abcde",
                        6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(split_has_its_published_layout),
        cmocka_unit_test(split_and_join_are_inverse),
        cmocka_unit_test(segments_are_bounded),
        cmocka_unit_test(join_refuses_what_does_not_belong),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
