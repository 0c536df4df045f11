/* bench_wire: sizes of real records on air, and seal and open per second against the bare cipher in
 * the same run, by turns. Prints `key: value` lines. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <nettle/ccm.h>

#include "wire/record.h"
#include "wire/seal.h"

enum { ROUNDS = 9, FRAMES = 20000, PLAIN_LEN = 23, SEQ_TWO_BYTES = 200 };

static double now_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

static void give_up(const char *what)
{
    fprintf(stderr, "bench_wire: %s\n", what);
    exit(1);
}

/* Bytes on air of a one-segment record, hop trailer included. */
static int on_air(struct rp_seal *seal, const struct rp_record *record)
{
    uint8_t plain[RP_RECORD_LEN_MAX], frame[RP_FRAME_LEN_MAX];
    const char *field = NULL;
    int len = rp_record_encode(record, plain, sizeof plain, &field);
    if (len < 0) {
        give_up(field != NULL ? field : "a record cannot be encoded");
    }
    struct rp_frame_head head = {.kind = RP_FRAME_SEGMENT,
                                 .first = true,
                                 .last = true,
                                 .origin = rp_origin_make(7, 300),
                                 .counter = SEQ_TWO_BYTES};
    int sealed =
        rp_frame_seal(seal, &head, (struct rp_view){plain, (size_t)len}, frame, sizeof frame);
    if (sealed < 0) {
        give_up("a record does not fit one frame");
    }
    return sealed + RP_TRAILER_LEN;
}

static struct rp_value measured(int value)
{
    return (struct rp_value){RP_MEASURED, (int16_t)value};
}

/* What is reported every quarter of an hour. */
static struct rp_record routine(void)
{
    struct rp_record record = {.kind = RP_REC_STATUS, .time_s = 28400000, .episode = {0, 1}};
    struct rp_rec_status *status = &record.as.status;
    status->condition = RP_COND_SAME;
    status->phase = RP_PHASE_AT_PRESSURE;
    status->elapsed_min = 43;
    status->cycle = 2;
    status->evac_state = RP_EVAC_ACCEPTED;
    status->mode = RP_MODE_CHAMBER_OXYGEN;
    status->spo2_pct = measured(84);
    status->pulse_bpm = measured(110);
    status->resp_rpm = measured(26);
    status->acvpu = measured(RP_ACVPU_CONFUSED);
    status->oxygen_flow_dlpm = measured(20);
    return record;
}

static struct rp_record full(void)
{
    struct rp_record record = routine();
    struct rp_rec_status *status = &record.as.status;
    status->vitals_age_min = 2;
    status->pressure_age_min = 15;
    status->temp_age_min = 30;
    status->score_age_min = 60;
    status->gcs_eye = measured(4);
    status->gcs_verbal = measured(4);
    status->gcs_motor = measured(6);
    status->cylinder_bar = measured(160);
    status->systolic_mmhg = measured(132);
    status->diastolic_mmhg = measured(84);
    status->temp_dc = measured(364);
    status->temp_site = RP_SITE_ORAL;
    status->lls = measured(8);
    status->ataxia = measured(2);
    return record;
}

static struct rp_record dose(void)
{
    struct rp_record record = {.kind = RP_REC_TREATMENT, .time_s = 28400000, .episode = {0, 1}};
    struct rp_rec_treatment *treatment = &record.as.treatment;
    strcpy(treatment->name, "dexamethasone");
    treatment->has_dose = true;
    treatment->dose_milli = 8000;
    treatment->dose_unit = RP_DOSE_MG;
    treatment->route = RP_ROUTE_IM;
    strcpy(treatment->checker, "Jory");
    return record;
}

static int by_value(const void *a, const void *b)
{
    double left = *(const double *)a, right = *(const double *)b;
    return left < right ? -1 : left > right;
}

static void print_spread(const char *key, double *values)
{
    qsort(values, ROUNDS, sizeof values[0], by_value);
    printf("%s: %.3g (min %.3g, max %.3g, %d rounds)\n", key, values[ROUNDS / 2], values[0],
           values[ROUNDS - 1], ROUNDS);
}

static double time_seal(struct rp_seal *seal, uint32_t first)
{
    uint8_t plain[PLAIN_LEN] = {0}, frame[RP_FRAME_LEN_MAX];
    double start_s = now_s();
    for (uint32_t i = 0; i < FRAMES; i++) {
        struct rp_frame_head head = {.kind = RP_FRAME_SEGMENT,
                                     .first = true,
                                     .last = true,
                                     .origin = rp_origin_make(7, 1),
                                     .counter = first + i};
        if (rp_frame_seal(seal, &head, (struct rp_view){plain, sizeof plain}, frame, sizeof frame) <
            0) {
            give_up("sealing failed");
        }
    }
    return FRAMES / (now_s() - start_s);
}

static double time_open(struct rp_seal *seal)
{
    uint8_t plain[PLAIN_LEN] = {0}, frame[RP_FRAME_LEN_MAX], out[RP_FRAME_LEN_MAX];
    struct rp_frame_head head = {.kind = RP_FRAME_SEGMENT,
                                 .first = true,
                                 .last = true,
                                 .origin = rp_origin_make(7, 1),
                                 .counter = SEQ_TWO_BYTES};
    int len =
        rp_frame_seal(seal, &head, (struct rp_view){plain, sizeof plain}, frame, sizeof frame);
    double start_s = now_s();
    for (uint32_t i = 0; i < FRAMES; i++) {
        struct rp_frame_head got;
        if (rp_frame_open(seal, (struct rp_view){frame, (size_t)len}, &got, out, sizeof out) < 0) {
            give_up("opening failed");
        }
    }
    return FRAMES / (now_s() - start_s);
}

/* The same bytes through the library alone, the key made ready once as the seal does it. */
static double time_bare(void)
{
    uint8_t key[16] = {1}, nonce[13] = {2}, head[5] = {3}, plain[PLAIN_LEN] = {0};
    uint8_t out[PLAIN_LEN + RP_TAG_LEN];
    struct ccm_aes128_ctx ctx;
    ccm_aes128_set_key(&ctx, key);
    double start_s = now_s();
    for (uint32_t i = 0; i < FRAMES; i++) {
        memcpy(nonce, &i, sizeof i);
        ccm_aes128_encrypt_message(&ctx, sizeof nonce, nonce, sizeof head, head, RP_TAG_LEN,
                                   sizeof out, out, plain);
    }
    return FRAMES / (now_s() - start_s);
}

/* usage: bench_wire [--sizes]   (only the sizes) */
int main(int argc, char **argv)
{
    static struct rp_seal seal;
    const uint8_t secret[RP_SECRET_LEN] = {9};
    rp_seal_init(&seal, secret, 0);
    struct rp_record records[] = {full(), routine(), dose()};
    printf("full 16-field status report, bytes on air: %d (at most 40)\n",
           on_air(&seal, &records[0]));
    printf("routine status report, bytes on air: %d (at most 34)\n", on_air(&seal, &records[1]));
    printf("one dose, bytes on air: %d\n", on_air(&seal, &records[2]));
    if (argc > 1 && strcmp(argv[1], "--sizes") == 0) {
        return 0;
    }
    double sealed[ROUNDS], opened[ROUNDS], bare[ROUNDS], ratio[ROUNDS];
    for (int round = 0; round < ROUNDS; round++) {
        bare[round] = time_bare();
        sealed[round] = time_seal(&seal, 1 + (uint32_t)round * FRAMES);
        opened[round] = time_open(&seal);
        ratio[round] = sealed[round] / bare[round];
    }
    print_spread("40-byte frames sealed per second", sealed);
    print_spread("40-byte frames opened per second", opened);
    print_spread("bare AES-CCM of the same bytes per second", bare);
    print_spread("sealing over bare AES-CCM, speed ratio", ratio);
    return 0;
}
