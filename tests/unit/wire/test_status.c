/* The status report: its packed number against OpenSSL's big numbers, its sizes on air, its ages,
 * and the states that must never be confused. */
#include "rp_test.h"

#include <stdio.h>
#include <string.h>

#include <openssl/bn.h>

#include "base/bytes.h"
#include "ridgepost/error.h"
#include "support_record.h"
#include "wire/frame.h"
#include "wire/record.h"
#include "wire/seal.h"
#include "wire/split.h"

static const uint8_t secret[RP_SECRET_LEN] = "tsergang-secret";

/* Sizes of the digits, least significant first, from PROTOCOL.md "Status report". */
static const unsigned radix[24] = {8,   8, 1024, 16,  5, 8,   32, 103, 303, 93, 7,   53,
                                   353, 8, 273,  193, 8, 353, 4,  8,   15,  7,  122, 10};

static unsigned of_value(struct rp_value v, int low)
{
    return v.state == RP_NOT_MEASURED ? 0
           : v.state == RP_UNABLE     ? 1
                                      : (unsigned)(v.value - low + 2);
}

static unsigned of_age(unsigned age_min, const unsigned *steps, unsigned last)
{
    unsigned i = 0;
    while (i < last && age_min > steps[i]) {
        i++;
    }
    return i;
}

static void digits_of(const struct rp_rec_status *s, unsigned out[24])
{
    static const unsigned fine[] = {0,   1,   2,   3,   4,   5,   6,   8,   10,  12, 15,
                                    18,  20,  25,  30,  35,  40,  45,  50,  60,  75, 90,
                                    120, 150, 180, 240, 300, 360, 480, 720, 1080};
    static const unsigned coarse[] = {0, 5, 15, 30, 60, 120, 360};
    struct rp_value flow = s->oxygen_flow_dlpm;
    flow.value = (int16_t)((flow.value + 2) / 5);
    unsigned gcs = of_value(s->gcs_eye, 0);
    if (s->gcs_eye.state == RP_MEASURED) {
        gcs = (unsigned)(2 + (s->gcs_eye.value - 1) + 4 * (s->gcs_verbal.value - 1) +
                         20 * (s->gcs_motor.value - 1));
    }
    unsigned all[24] = {
        s->condition,
        s->phase,
        s->elapsed_min > 1023 ? 1023 : s->elapsed_min,
        s->cycle > 15 ? 15 : s->cycle,
        s->mode,
        s->evac_state,
        of_age(s->vitals_age_min, fine, 31),
        of_value(s->spo2_pct, 0),
        of_value(s->pulse_bpm, 0),
        of_value(s->resp_rpm, 0),
        of_value(s->acvpu, 0),
        of_value(flow, 0),
        of_value(s->cylinder_bar, 0),
        of_age(s->pressure_age_min, coarse, 7),
        of_value(s->systolic_mmhg, 30),
        of_value(s->diastolic_mmhg, 10),
        of_age(s->temp_age_min, coarse, 7),
        of_value(s->temp_dc, 100),
        s->temp_site,
        of_age(s->score_age_min, coarse, 7),
        of_value(s->lls, 0),
        of_value(s->ataxia, 0),
        gcs,
        of_value(s->airway, 0),
    };
    memcpy(out, all, sizeof all);
}

/* The digits as one little-endian number, by OpenSSL; returns its length without leading zeros. */
static size_t oracle_pack(const unsigned digits[24], uint8_t out[24])
{
    BIGNUM *n = BN_new();
    for (size_t i = 24; i-- > 0;) {
        assert_int_equal(BN_mul_word(n, radix[i]), 1);
        assert_int_equal(BN_add_word(n, digits[i]), 1);
    }
    int len = BN_num_bytes(n);
    assert_true(BN_bn2lebinpad(n, out, 24) == 24);
    BN_free(n);
    return (size_t)len;
}

static void packed_number_agrees_with_openssl(void **state)
{
    (void)state;
    static const unsigned fills[] = {0, 20, 60, 100};
    uint64_t seed = 20261006;
    printf("seed %llu\n", (unsigned long long)seed);
    struct rp_rng rng = rp_rng_seeded(seed);
    for (int round = 0; round < 2000; round++) {
        struct rp_record record;
        unsigned digits[24];
        uint8_t want[24], buf[RP_RECORD_LEN_MAX];
        record_random(&rng, RP_REC_STATUS, fills[round % 4], &record);
        record.time_s = 1; /* one byte */
        record.episode.origin = 0;
        record.ago_s = 0;
        record.via = 0;
        record.by[0] = '\0';
        record.as.status.next_min = 0;
        record.as.status.pain = (struct rp_value){RP_NOT_MEASURED, 0};
        digits_of(&record.as.status, digits);
        size_t want_len = oracle_pack(digits, want);
        int len = rp_record_encode(&record, buf, sizeof buf, NULL);
        assert_int_equal(len, want_len > 0 ? 5 + want_len : 3);
        assert_int_equal(buf[1], record.episode.number);
        if (want_len > 0) {
            assert_int_equal(buf[3], 3 << 3 | 2); /* field 3, bytes */
            assert_int_equal(buf[4], want_len);
            assert_memory_equal(buf + 5, want, want_len);
        }
    }
}

static int decode_digits(const unsigned digits[24], struct rp_record *out)
{
    uint8_t bytes[5 + 24] = {RP_REC_STATUS, 1, 1, 0x1a};
    bytes[4] = (uint8_t)oracle_pack(digits, bytes + 5);
    return rp_record_decode(rp_view_of(bytes, 5u + bytes[4]), RIDGE, out);
}

/* Each digit at its highest legal code and, where the radix leaves room, one above. */
static void digits_hold_for_what_arrives(void **state)
{
    (void)state;
    static const unsigned highest[24] = {6,   6, 1023, 15,  4, 7,   31, 102, 302, 92, 6,   52,
                                         352, 7, 272,  192, 7, 352, 3,  7,   14,  6,  121, 6};
    for (size_t i = 0; i < 24; i++) {
        struct rp_record got;
        unsigned digits[24] = {0};
        digits[i] = highest[i];
        assert_int_equal(decode_digits(digits, &got), 0);
        if (highest[i] + 1 < radix[i]) {
            digits[i]++;
            assert_int_equal(decode_digits(digits, &got), RP_E_INVALID);
        }
    }
    unsigned newer[24] = {0};
    struct rp_record got;
    newer[23] = 6 + 10 * 5; /* a digit of a newer version above the last one */
    assert_int_equal(decode_digits(newer, &got), 0);
    assert_int_equal(got.as.status.airway.value, RP_AIRWAY_DEVICE);
    uint8_t long_bytes[5 + 25] = {RP_REC_STATUS, 1, 1, 0x1a, 24};
    assert_int_equal(rp_record_decode(rp_view_of(long_bytes, 29), RIDGE, &got), 0);
    long_bytes[4] = 25;
    assert_int_equal(rp_record_decode(rp_view_of(long_bytes, 30), RIDGE, &got), RP_E_FORMAT);
    long_bytes[1] = 0; /* a status report without an episode */
    long_bytes[4] = 24;
    assert_int_equal(rp_record_decode(rp_view_of(long_bytes, 29), RIDGE, &got), RP_E_INVALID);
}

static size_t on_air(const struct rp_record *record, uint32_t seq)
{
    static struct rp_seal seal;
    rp_seal_init(&seal, secret, 0);
    uint8_t plain[RP_RECORD_LEN_MAX], frame[RP_FRAME_LEN_MAX];
    struct rp_frame_head head = {.first = true, .last = true, .origin = RIDGE, .counter = seq};
    int len = rp_record_encode(record, plain, sizeof plain, NULL);
    assert_true(len > 0);
    len = rp_frame_seal(&seal, &head, rp_view_of(plain, (size_t)len), frame, sizeof frame);
    assert_true(len > 0);
    return (size_t)len + RP_TRAILER_LEN;
}

/* With a 2-byte sequence and a 4-byte time: everything measured, and the routine report. */
static void reports_are_small_on_air(void **state)
{
    (void)state;
    struct rp_record full = examples[3].record;
    assert_int_equal(on_air(&full, 200), 40);
    struct rp_record worst = full;
    struct rp_rec_status *w = &worst.as.status;
    w->gcs_motor.value = 6;
    w->gcs_eye.value = 4;
    w->gcs_verbal.value = 5;
    w->ataxia = (struct rp_value){RP_MEASURED, 4};
    w->lls = (struct rp_value){RP_MEASURED, 12};
    assert_int_equal(on_air(&worst, 16383), 40);
    w->airway = (struct rp_value){RP_MEASURED, RP_AIRWAY_DEVICE};
    assert_int_equal(on_air(&worst, 16383), 41);
    w->pain = (struct rp_value){RP_MEASURED, 10}; /* two bytes, only where it was asked */
    assert_int_equal(on_air(&worst, 16383), 43);
    w->airway = (struct rp_value){RP_NOT_MEASURED, 0};
    assert_int_equal(on_air(&worst, 16383), 42);
    struct rp_record routine = {.kind = RP_REC_STATUS, .time_s = 24000000, .episode = {0, 1}};
    struct rp_rec_status *r = &routine.as.status;
    r->condition = RP_COND_WORSE;
    r->phase = RP_PHASE_OUT;
    r->elapsed_min = 1023;
    r->cycle = 15;
    r->mode = RP_MODE_CHAMBER_OXYGEN;
    r->evac_state = RP_EVAC_HANDED_OVER;
    r->spo2_pct = (struct rp_value){RP_MEASURED, 100};
    r->pulse_bpm = (struct rp_value){RP_MEASURED, 300};
    r->resp_rpm = (struct rp_value){RP_MEASURED, 90};
    r->acvpu = (struct rp_value){RP_MEASURED, RP_ACVPU_UNRESPONSIVE};
    r->oxygen_flow_dlpm = (struct rp_value){RP_MEASURED, 250};
    assert_int_equal(on_air(&routine, 200), 33);
}

/* All fields, texts of 30 characters: 3 frames of at most 120 bytes, trailer included. */
static void evacuation_requests_fit_three_frames(void **state)
{
    (void)state;
    struct rp_record record = examples[10].record;
    struct rp_rec_evacuation *e = &record.as.evacuation;
    char *texts[] = {e->obstacles,      e->weather,  e->hazards,
                     e->ground_contact, e->fallback, e->insurance.text};
    for (size_t i = 0; i < 6; i++) {
        strcpy(texts[i], "a text of thirty characters ..");
        assert_int_equal(strlen(texts[i]), 30);
    }
    e->insurance.state = RP_KNOWN;
    e->site.has_accuracy = true;
    e->site.accuracy_m = 8;
    e->revises = (struct rp_record_ref){0, 200};
    e->conscious_from = (struct rp_record_ref){0, 199};
    uint8_t plain[RP_RECORD_LEN_MAX];
    int len = rp_record_encode(&record, plain, sizeof plain, NULL);
    /* head 1 + 2 + 2, tag 8, trailer 4 */
    assert_int_equal(rp_record_segments((size_t)len, 120 - 5 - 8 - 4), 3);
    struct rp_record cancel = examples[11].record;
    assert_true(on_air(&cancel, 200) <= 120);
}

/* No age ever comes out younger than it went in, nor two steps older. */
static void ages_are_rounded_up(void **state)
{
    (void)state;
    static const uint16_t fine[][2] = {{0, 0},       {1, 1},       {6, 6},       {7, 8},
                                       {9, 10},      {16, 18},     {21, 25},     {61, 75},
                                       {91, 120},    {361, 480},   {481, 720},   {721, 1080},
                                       {1081, 1440}, {1440, 1440}, {1441, 1440}, {65535, 1440}};
    for (unsigned age = 0; age <= 1440; age++) {
        struct rp_record r = {.kind = RP_REC_STATUS, .episode = {0, 1}}, got;
        uint8_t buf[64];
        r.as.status.vitals_age_min = r.as.status.pressure_age_min = (uint16_t)age;
        r.as.status.temp_age_min = r.as.status.score_age_min = (uint16_t)age;
        int len = rp_record_encode(&r, buf, sizeof buf, NULL);
        assert_int_equal(rp_record_decode(rp_view_of(buf, (size_t)len), RIDGE, &got), 0);
        assert_true(got.as.status.vitals_age_min >= age);
        assert_true(got.as.status.vitals_age_min <= age + age / 2 + 1 || age > 1080);
        assert_true(got.as.status.pressure_age_min >= age);
        assert_int_equal(got.as.status.temp_age_min, got.as.status.pressure_age_min);
        assert_int_equal(got.as.status.score_age_min, got.as.status.pressure_age_min);
    }
    for (size_t i = 0; i < sizeof fine / sizeof fine[0]; i++) {
        struct rp_record r = {.kind = RP_REC_STATUS, .episode = {0, 1}}, got;
        uint8_t buf[64];
        r.as.status.vitals_age_min = fine[i][0];
        int len = rp_record_encode(&r, buf, sizeof buf, NULL);
        assert_int_equal(rp_record_decode(rp_view_of(buf, (size_t)len), RIDGE, &got), 0);
        assert_int_equal(got.as.status.vitals_age_min, fine[i][1]);
    }
}

/* Not measured, unable, zero and a value: four different reports. */
static void four_states_of_a_value_differ(void **state)
{
    (void)state;
    static const struct rp_value states[] = {
        {RP_NOT_MEASURED, 0}, {RP_UNABLE, 0}, {RP_MEASURED, 0}, {RP_MEASURED, 3}};
    for (size_t i = 0; i < 4; i++) {
        struct rp_record r = {.kind = RP_REC_STATUS, .episode = {0, 1}}, got;
        struct rp_record o = {.kind = RP_REC_OXYGEN};
        uint8_t buf[64];
        r.as.status.resp_rpm = r.as.status.ataxia = r.as.status.lls = states[i];
        r.as.status.pain = states[i];
        o.as.oxygen.cylinder_bar = states[i];
        int len = rp_record_encode(&r, buf, sizeof buf, NULL);
        assert_int_equal(rp_record_decode(rp_view_of(buf, (size_t)len), RIDGE, &got), 0);
        assert_int_equal(got.as.status.resp_rpm.state, states[i].state);
        assert_int_equal(got.as.status.resp_rpm.value, states[i].value);
        assert_int_equal(got.as.status.pain.state, states[i].state);
        assert_int_equal(got.as.status.pain.value, states[i].value);
        assert_int_equal(got.as.status.ataxia.state, states[i].state);
        assert_int_equal(got.as.status.ataxia.value, states[i].value);
        assert_int_equal(got.as.status.spo2_pct.state, RP_NOT_MEASURED);
        len = rp_record_encode(&o, buf, sizeof buf, NULL);
        assert_int_equal(rp_record_decode(rp_view_of(buf, (size_t)len), RIDGE, &got), 0);
        assert_int_equal(got.as.oxygen.cylinder_bar.state, states[i].state);
        assert_int_equal(got.as.oxygen.cylinder_bar.value, states[i].value);
    }
}

/* Not asked, none known and known: three different answers; the same for findings. */
static void three_answers_differ(void **state)
{
    (void)state;
    for (int i = 0; i < 3; i++) {
        struct rp_record r = {.kind = RP_REC_BACKGROUND}, got;
        struct rp_record e = {.kind = RP_REC_EVACUATION};
        uint8_t buf[64];
        r.as.background.allergies.state = (enum rp_asked)i;
        strcpy(r.as.background.allergies.text, i == RP_KNOWN ? "penicillin" : "");
        e.as.evacuation.conscious = (enum rp_finding)i;
        int len = rp_record_encode(&r, buf, sizeof buf, NULL);
        assert_int_equal(rp_record_decode(rp_view_of(buf, (size_t)len), RIDGE, &got), 0);
        assert_int_equal(got.as.background.allergies.state, i);
        assert_string_equal(got.as.background.allergies.text, i == 2 ? "penicillin" : "");
        assert_int_equal(got.as.background.medicines.state, RP_NOT_ASKED);
        len = rp_record_encode(&e, buf, sizeof buf, NULL);
        assert_int_equal(rp_record_decode(rp_view_of(buf, (size_t)len), RIDGE, &got), 0);
        assert_int_equal(got.as.evacuation.conscious, i);
        assert_int_equal(got.as.evacuation.lies_flat, RP_FINDING_NOT_ASKED);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(packed_number_agrees_with_openssl),
        cmocka_unit_test(digits_hold_for_what_arrives),
        cmocka_unit_test(reports_are_small_on_air),
        cmocka_unit_test(evacuation_requests_fit_three_frames),
        cmocka_unit_test(ages_are_rounded_up),
        cmocka_unit_test(four_states_of_a_value_differ),
        cmocka_unit_test(three_answers_differ),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
