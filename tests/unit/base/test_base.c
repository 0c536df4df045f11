#include "rp_test.h"

#include <string.h>

#include "base/bytes.h"
#include "base/error.h"
#include "base/problem.h"
#include "base/rng.h"

/* Encodings of Protocol Buffers, "Encoding", base 128 varints: 150 is 96 01. */
static void varint_matches_the_published_example(void **state)
{
    (void)state;
    uint8_t buf[10];
    struct rp_writer w = rp_writer_on(buf, sizeof buf);
    rp_put_varint(&w, 150);
    assert_false(w.failed);
    assert_int_equal(w.len, 2);
    assert_memory_equal(buf, "\x96\x01", 2);
}

static void varint_round_trips_at_every_length(void **state)
{
    (void)state;
    for (unsigned bits = 0; bits < 64; bits++) {
        uint64_t value = UINT64_C(1) << bits;
        for (uint64_t v = value - 1; v <= value + 1 && v >= value - 1; v++) {
            uint8_t buf[10];
            struct rp_writer w = rp_writer_on(buf, sizeof buf);
            rp_put_varint(&w, v);
            struct rp_reader r = rp_reader_on(rp_view_of(buf, w.len));
            assert_true(rp_get_varint(&r, UINT64_MAX) == v);
            assert_false(r.failed);
            assert_int_equal(rp_reader_left(&r), 0);
        }
    }
}

static void varint_refuses_long_forms_and_large_values(void **state)
{
    (void)state;
    struct rp_reader padded = rp_reader_on(rp_view_of("\x81\x00", 2));
    rp_get_varint(&padded, UINT64_MAX);
    assert_true(padded.failed);
    struct rp_reader cut = rp_reader_on(rp_view_of("\x81", 1));
    rp_get_varint(&cut, UINT64_MAX);
    assert_true(cut.failed);
    struct rp_reader high = rp_reader_on(rp_view_of("\x80\x01", 2));
    rp_get_varint(&high, 127);
    assert_true(high.failed);
    struct rp_reader eleven =
        rp_reader_on(rp_view_of("\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\x01", 11));
    rp_get_varint(&eleven, UINT64_MAX);
    assert_true(eleven.failed);
}

static void writer_never_passes_its_end(void **state)
{
    (void)state;
    uint8_t buf[3] = {0xaa, 0xaa, 0xaa};
    struct rp_writer w = rp_writer_on(buf, 2);
    rp_put_be(&w, 0x010203, 3);
    assert_true(w.failed);
    assert_int_equal(buf[2], 0xaa);
}

static void rng_stays_in_bounds_and_repeats(void **state)
{
    (void)state;
    struct rp_rng one = rp_rng_seeded(7), two = rp_rng_seeded(7);
    for (int i = 0; i < 1000; i++) {
        int64_t v = rp_rng_between(&one, -5, 9);
        assert_true(v >= -5 && v <= 9);
        assert_true(v == rp_rng_between(&two, -5, 9));
    }
    /* SplitMix64 with seed 0: first output, from memory of the reference implementation. */
    struct rp_rng zero = rp_rng_seeded(0);
    assert_true(rp_rng_next(&zero) == UINT64_C(0xe220a8397b1dcdaf));
}

static void errors_have_unique_names_and_sentences(void **state)
{
    (void)state;
    for (int code = -24; code < 0; code++) {
        assert_string_not_equal(rp_error_name(code), "?");
        for (int other = -24; other < code; other++) {
            assert_string_not_equal(rp_error_name(code), rp_error_name(other));
            assert_string_not_equal(rp_error_sentence(code), rp_error_sentence(other));
        }
    }
    assert_string_equal(rp_error_name(-25), "?");
    assert_string_equal(rp_error_sentence(0), "no error");
}

static void problem_keeps_field_and_text(void **state)
{
    (void)state;
    struct rp_problem p = {0};
    int code = rp_problem_set(&p, RP_E_INVALID, "spo2", "SpO2 %d %% is outside 0-100", 101);
    assert_int_equal(code, RP_E_INVALID);
    assert_string_equal(p.field, "spo2");
    assert_string_equal(p.text, "SpO2 101 % is outside 0-100");
    assert_int_equal(rp_problem_set(NULL, RP_E_FULL, "x", "y"), RP_E_FULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(varint_matches_the_published_example),
        cmocka_unit_test(varint_round_trips_at_every_length),
        cmocka_unit_test(varint_refuses_long_forms_and_large_values),
        cmocka_unit_test(writer_never_passes_its_end),
        cmocka_unit_test(rng_stays_in_bounds_and_repeats),
        cmocka_unit_test(errors_have_unique_names_and_sentences),
        cmocka_unit_test(problem_keeps_field_and_text),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
