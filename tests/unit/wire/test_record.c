#include "rp_test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/bytes.h"
#include "ridgepost/error.h"
#include "support_record.h"
#include "wire/frame.h"
#include "wire/record.h"
#include "wire/record_row.h"

static void check_round_trip(const struct rp_record *record)
{
    uint8_t buf[RP_RECORD_LEN_MAX + 1];
    struct rp_record want, got;
    const char *field = "none";
    int len = rp_record_encode(record, buf, RP_RECORD_LEN_MAX, &field);
    if (len <= 0) {
        fail_msg("kind %d refused: %d in %s", (int)record->kind, len, field);
    }
    assert_int_equal(rp_record_encode(record, buf, (size_t)len, NULL), len);
    assert_int_equal(rp_record_encode(record, buf, (size_t)len - 1, NULL), RP_E_TOO_LONG);
    assert_int_equal(rp_record_encode(record, buf, (size_t)len, NULL), len);
    assert_int_equal(rp_record_decode(rp_view_of(buf, (size_t)len), RIDGE, &got), 0);
    record_expected(record, RIDGE, &want);
    if (memcmp(&want, &got, sizeof want) != 0) {
        fail_msg("kind %d came back different", (int)record->kind);
    }
}

/* Every kind, with nothing, some and everything in it. */
static void records_round_trip(void **state)
{
    (void)state;
    static const unsigned fills[] = {0, 30, 70, 100};
    uint64_t seed = 20261005;
    printf("seed %llu\n", (unsigned long long)seed);
    struct rp_rng rng = rp_rng_seeded(seed);
    for (int kind = RP_REC_STATION; kind <= RP_REC_LAST; kind++) {
        for (int round = 0; round < 1500; round++) {
            struct rp_record record;
            record_random(&rng, (enum rp_record_kind)kind, fills[round % 4], &record);
            check_round_trip(&record);
        }
    }
}

static void examples_round_trip(void **state)
{
    (void)state;
    for (size_t i = 0; i < EXAMPLE_COUNT; i++) {
        check_round_trip(&examples[i].record);
    }
}

/* Every text full: still below RP_RECORD_LEN_MAX. */
static void longest_records_fit(void **state)
{
    (void)state;
    struct rp_rng rng = rp_rng_seeded(1);
    uint8_t buf[RP_RECORD_LEN_MAX];
    struct rp_record r;
    record_random(&rng, RP_REC_EVACUATION, 100, &r);
    char *texts[] = {r.as.evacuation.obstacles, r.as.evacuation.weather,
                     r.as.evacuation.hazards,   r.as.evacuation.ground_contact,
                     r.as.evacuation.fallback,  r.as.evacuation.insurance.text};
    r.as.evacuation.insurance.state = RP_KNOWN;
    for (size_t i = 0; i < 6; i++) {
        memset(texts[i], 'w', RP_LINE_LEN);
        texts[i][RP_LINE_LEN] = '\0';
    }
    assert_in_range(rp_record_encode(&r, buf, sizeof buf, NULL), 6 * 120, RP_RECORD_LEN_MAX);
    record_random(&rng, RP_REC_NOTE, 100, &r);
    memset(r.as.note.text, 'n', RP_NOTE_LEN);
    assert_in_range(rp_record_encode(&r, buf, sizeof buf, NULL), 1000, RP_RECORD_LEN_MAX);
}

/* Truncated anywhere, a record is refused or is a shorter valid one; never more. */
static void truncated_records_are_refused(void **state)
{
    (void)state;
    uint8_t buf[RP_RECORD_LEN_MAX];
    struct rp_record got;
    int len = rp_record_encode(&examples[3].record, buf, sizeof buf, NULL);
    assert_int_equal(len, 23);
    memset(&got, 0x5a, sizeof got);
    for (size_t cut = 0; cut < 6; cut++) {
        assert_int_equal(rp_record_decode(rp_view_of(buf, cut), RIDGE, &got), RP_E_TRUNCATED);
    }
    for (size_t cut = 7; cut < 23; cut++) {
        assert_int_equal(rp_record_decode(rp_view_of(buf, cut), RIDGE, &got), RP_E_FORMAT);
    }
    assert_int_equal(((uint8_t *)&got)[0], 0x5a); /* untouched on failure */
    assert_int_equal(rp_record_decode(rp_view_of("\x0a\x80\x00", 3), RIDGE, &got), RP_E_FORMAT);
    assert_int_equal(rp_record_decode(rp_view_of("\x0a\xff\xff\xff\xff\x1f", 6), RIDGE, &got),
                     RP_E_FORMAT);
    static uint8_t big[RP_RECORD_LEN_MAX + 1] = {RP_REC_NOTE};
    assert_int_equal(rp_record_decode(rp_view_of(big, sizeof big), RIDGE, &got), RP_E_TOO_LONG);
}

static void unknown_kinds_are_named_as_such(void **state)
{
    (void)state;
    struct rp_record got;
    for (int kind = 0; kind < 32; kind++) {
        uint8_t bytes[] = {(uint8_t)(0x80 | kind), 1, 1};
        int rc = rp_record_decode(rp_view_of(bytes, sizeof bytes), RIDGE, &got);
        bool known = kind >= 1 && kind <= 23;
        assert_int_equal(rc == RP_E_UNSUPPORTED, !known);
        assert_int_equal(strcmp(rp_record_kind_word(kind), "record") == 0, !known);
    }
    assert_string_equal(rp_record_kind_word(RP_REC_STATUS), "status report");
    assert_string_equal(rp_record_kind_word(-1), "record");
    struct rp_record bad = {.kind = (enum rp_record_kind)24};
    const char *field;
    uint8_t buf[16];
    assert_int_equal(rp_record_encode(&bad, buf, sizeof buf, &field), RP_E_INVALID);
    assert_string_equal(field, "kind");
}

/* Fields that a newer version may add: a varint 100, a text 101, a fixed 102 and a fixed64 103. */
static void unknown_fields_are_ignored(void **state)
{
    (void)state;
    static const char extra[] = "\xa0\x06\x05\xaa\x06\x02hi\xb5\x06\x01\x02\x03\x04"
                                "\xb9\x06\x01\x02\x03\x04\x05\x06\x07\x08";
    for (size_t i = 0; i < EXAMPLE_COUNT; i++) {
        uint8_t buf[RP_RECORD_LEN_MAX];
        struct rp_record want, got;
        int len = rp_record_encode(&examples[i].record, buf, sizeof buf, NULL);
        memcpy(buf + len, extra, sizeof extra - 1);
        len += (int)sizeof extra - 1;
        assert_int_equal(rp_record_decode(rp_view_of(buf, (size_t)len), RIDGE, &got), 0);
        record_expected(&examples[i].record, RIDGE, &want);
        assert_memory_equal(&want, &got, sizeof want);
    }
}

static int decode(const char *bytes, size_t len)
{
    struct rp_record got;
    return rp_record_decode(rp_view_of(bytes, len), RIDGE, &got);
}
#define DECODE(literal) decode(literal, sizeof(literal) - 1)

/* Values from the air outside their bounds, by hand: lead, time 1, protobuf fields. */
static void bounds_hold_for_what_arrives(void **state)
{
    (void)state;
    assert_int_equal(DECODE("\x0a\x01\x08\xff\x01"), 0);            /* episode 255 */
    assert_int_equal(DECODE("\x0a\x01\x08\x80\x02"), RP_E_INVALID); /* episode 256 */
    assert_int_equal(DECODE("\x0a\x01\x10\xaa\x1c"), RP_E_FORMAT);  /* origin without number */
    assert_int_equal(DECODE("\x0a\x01\x08\x01\x10\xaa\x1c"), 0);    /* origin 7.42 */
    assert_int_equal(DECODE("\x0a\x01\x08\x01\x10\xff\x03"), RP_E_INVALID);     /* station 0 */
    assert_int_equal(DECODE("\x0a\x01\x08\x01\x10\xaa\x9c\x04"), RP_E_INVALID); /* > 16 bits */
    assert_int_equal(DECODE("\x0a\x01\x70\x80\xf5\x24"), 0);                    /* ago 604800 s */
    assert_int_equal(DECODE("\x0a\x01\x70\x81\xf5\x24"), RP_E_INVALID);
    assert_int_equal(DECODE("\x0a\x01\x78\x02"), 0); /* via voice */
    assert_int_equal(DECODE("\x0a\x01\x78\x03"), RP_E_INVALID);
    assert_int_equal(DECODE("\x0a\x01\x6a\x18"
                            "123456789012345678901234"),
                     0); /* by, 24 bytes */
    assert_int_equal(DECODE("\x0a\x01\x6a\x19"
                            "1234567890123456789012345"),
                     RP_E_INVALID);
    assert_int_equal(DECODE("\x0a\x01\x6a\x02\xc3\x28"), RP_E_INVALID); /* not UTF-8 */
    assert_int_equal(DECODE("\x0a\x01\x6a\x01\x1b"), RP_E_INVALID);     /* escape */
    assert_int_equal(DECODE("\x0a\x01\x1a\x03"
                            "a\nb"),
                     0); /* a note has lines */
    assert_int_equal(DECODE("\x0a\x01\x08"), RP_E_FORMAT);
    assert_int_equal(DECODE("\x0a\x01\x0d\x01\x00\x00\x00"), RP_E_FORMAT); /* episode as fixed32 */
    /* Station card: latitude without longitude, altitude beyond 8900 m, role 3. */
    assert_int_equal(DECODE("\x01\x01\x38\x02\x40\x02"), 0);
    assert_int_equal(DECODE("\x01\x01\x38\x02"), RP_E_FORMAT);
    assert_int_equal(DECODE("\x01\x01\x40\x02"), RP_E_FORMAT);
    assert_int_equal(DECODE("\x01\x01\x38\x80\xaa\xea\x55\x40\x02"), 0); /* 90000000 */
    assert_int_equal(DECODE("\x01\x01\x38\x82\xaa\xea\x55\x40\x02"), RP_E_INVALID);
    assert_int_equal(DECODE("\x01\x01\x30\xb3\xc8\x04"), 0);            /* (8900 + 450) * 8 + 3 */
    assert_int_equal(DECODE("\x01\x01\x30\xb4\xc8\x04"), RP_E_INVALID); /* source 4 */
    assert_int_equal(DECODE("\x01\x01\x30\xb8\xc8\x04"), RP_E_INVALID); /* 8901 m */
    assert_int_equal(DECODE("\x01\x01\x18\x02"), 0);
    assert_int_equal(DECODE("\x01\x01\x18\x03"), RP_E_INVALID);
    assert_int_equal(DECODE("\x01\x01\x18\x04"), 0); /* a digit of a newer version */
    /* Oxygen: flow 250 and 251 tenths; 0 is "unable". */
    assert_int_equal(DECODE("\x06\x01\x20\xfb\x01"), 0);
    assert_int_equal(DECODE("\x06\x01\x20\xfc\x01"), RP_E_INVALID);
    assert_int_equal(DECODE("\x06\x01\x20\xff\xff\xff\xff\x0f"), RP_E_INVALID);
    /* Answer without a kind, or "seen" without saying what. */
    assert_int_equal(DECODE("\x0d\x01"), RP_E_INVALID);
    assert_int_equal(DECODE("\x0d\x01\x18\x01"), RP_E_INVALID);
    assert_int_equal(DECODE("\x0d\x01\x18\x01\x20\x09"), 0);
    assert_int_equal(DECODE("\x0d\x01\x18\x07"), 0);
    assert_int_equal(DECODE("\x0d\x01\x18\x08\x20\x09"), RP_E_INVALID);
}

static void receipts_are_checked(void **state)
{
    (void)state;
    assert_int_equal(DECODE("\x0f\x01"), RP_E_INVALID);                /* no origin */
    assert_int_equal(DECODE("\x0f\x01\x1a\x03\xaa\x1c\x08"), 0);       /* 7.42 up to 4 */
    assert_int_equal(DECODE("\x0f\x01\x1a\x02\xaa\x1c"), RP_E_FORMAT); /* cut short */
    assert_int_equal(DECODE("\x0f\x01\x1a\x04\xaa\x1c\x09\x01"), RP_E_FORMAT);
    assert_int_equal(DECODE("\x0f\x01\x1a\x05\xaa\x1c\x09\x01\x00"), 0); /* and 7 to 7 */
    assert_int_equal(DECODE("\x0f\x01\x1a\x02\x05\x08"), RP_E_INVALID);  /* station 0 */
    assert_int_equal(DECODE("\x0f\x01\x1a\x08\xaa\x1c\x09\xff\xff\xff\x7f\x00"), RP_E_INVALID);
    assert_int_equal(DECODE("\x0f\x01\x1a\x09\xaa\x1c\x09\xff\xff\xff\xff\x0f\x00"), RP_E_INVALID);
    uint8_t many[2 + 2 + 13 * 3] = {0x0f, 0x01, 0x1a, 12 * 3};
    for (size_t i = 0; i < 13; i++) {
        memcpy(many + 4 + 3 * i, "\xaa\x1c\x08", 3);
    }
    assert_int_equal(decode((const char *)many, 4 + 12 * 3), 0);
    many[3] = 13 * 3;
    assert_int_equal(decode((const char *)many, 4 + 13 * 3), RP_E_INVALID);
    struct rp_record r = {.kind = RP_REC_RECEIPT};
    uint8_t buf[RP_RECORD_LEN_MAX];
    const char *field = NULL;
    r.as.receipt.count = 1;
    r.as.receipt.entries[0] = (struct rp_receipt_entry){RIDGE, 4, 5, 6}; /* no gap before 5 */
    assert_int_equal(rp_record_encode(&r, buf, sizeof buf, &field), RP_E_INVALID);
    assert_string_equal(field, "entries");
    r.as.receipt.entries[0] = (struct rp_receipt_entry){RIDGE, 4, 6, 5};
    assert_int_equal(rp_record_encode(&r, buf, sizeof buf, NULL), RP_E_INVALID);
    r.as.receipt.entries[0] = (struct rp_receipt_entry){RIDGE, 4, 0, 5};
    assert_int_equal(rp_record_encode(&r, buf, sizeof buf, NULL), RP_E_INVALID);
    r.as.receipt.entries[0] = (struct rp_receipt_entry){RIDGE, RP_SEQ_MAX + 1, 0, 0};
    assert_int_equal(rp_record_encode(&r, buf, sizeof buf, NULL), RP_E_INVALID);
    r.as.receipt.count = 13;
    assert_int_equal(rp_record_encode(&r, buf, sizeof buf, NULL), RP_E_INVALID);
}

/* Unicode 15 table 3-7 and its neighbours. */
static void texts_are_utf_8_without_controls(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        bool line, lines;
    } cases[] = {
        {"Lindqvist", true, true},
        {"\xc3\xb8", true, true},
        {"\xe2\x82\x82", true, true},
        {"\xf0\x9f\x8f\x94", true, true},
        {"\xf4\x8f\xbf\xbf", true, true},
        {"a\nb", false, true},
        {"a\tb", false, true},
        {"a\rb", false, false},
        {"\x1b[2J", false, false},
        {"\x7f", false, false},
        {"\xc2\x85", false, false},
        {"\xc2\xa0", true, true},
        {"\x80", false, false},
        {"\xc0\xaf", false, false},
        {"\xc1\xbf", false, false},
        {"\xc3", false, false},
        {"\xe0\x9f\xbf", false, false},
        {"\xed\xa0\x80", false, false},
        {"\xef\xbf", false, false},
        {"\xe2\x28\x82", false, false},
        {"\xe2\x82\x28", false, false},
        {"\xf0\x8f\xbf\xbf", false, false},
        {"\xf4\x90\x80\x80", false, false},
        {"\xf5\x80\x80\x80", false, false},
        {"\xff", false, false},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        size_t len = strlen(cases[i].text);
        assert_int_equal(rp_text_valid(cases[i].text, len, false), cases[i].line);
        assert_int_equal(rp_text_valid(cases[i].text, len, true), cases[i].lines);
    }
}

/* Memory that fails once, at the n-th request, or from there on; leaks are counted. */
struct failing_heap {
    unsigned asked, fail_at;
    int held;
    bool for_ever;
};

static void *failing_take(void *ctx, size_t size)
{
    struct failing_heap *heap = ctx;
    heap->asked++;
    if (heap->asked == heap->fail_at || (heap->for_ever && heap->asked > heap->fail_at)) {
        return NULL;
    }
    heap->held++;
    return malloc(size);
}

static void failing_give(void *ctx, void *at)
{
    ((struct failing_heap *)ctx)->held--;
    free(at);
}

static void every_failed_allocation_is_reported(void **state)
{
    (void)state;
    for (size_t i = 0; i < EXAMPLE_COUNT; i++) {
        uint8_t buf[RP_RECORD_LEN_MAX];
        struct rp_record got;
        int len = rp_record_encode(&examples[i].record, buf, sizeof buf, NULL);
        memcpy(buf + len, "\xaa\x06\x02hi", 5); /* an unknown field takes memory too */
        for (unsigned way = 0; way < 2; way++) {
            int rc = RP_E_MEMORY;
            unsigned n = 0;
            while (rc != 0) {
                struct failing_heap heap = {.fail_at = ++n, .for_ever = way == 1};
                struct rp_record_memory memory = {&heap, failing_take, failing_give};
                rc = rp_record_decode_in(rp_view_of(buf, (size_t)len + 5), RIDGE, &memory, &got);
                assert_int_equal(heap.held, 0);
                assert_true(rc == 0 || rc == RP_E_MEMORY);
                assert_true(n < 100);
            }
            assert_true(n >= 3); /* the message, its unknown field, and one round without failure */
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(records_round_trip),
        cmocka_unit_test(examples_round_trip),
        cmocka_unit_test(longest_records_fit),
        cmocka_unit_test(truncated_records_are_refused),
        cmocka_unit_test(unknown_kinds_are_named_as_such),
        cmocka_unit_test(unknown_fields_are_ignored),
        cmocka_unit_test(bounds_hold_for_what_arrives),
        cmocka_unit_test(receipts_are_checked),
        cmocka_unit_test(texts_are_utf_8_without_controls),
        cmocka_unit_test(every_failed_allocation_is_reported),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
