/* The main property: the same records give the same episode, in any order, once or twice. */
#include "episode_kit.h"

#include "base/rng.h"

#define RECORDS_MAX 900

static struct rp_record records[RECORDS_MAX];
static struct rp_record_ref refs[RECORDS_MAX];
static bool unreadable[RECORDS_MAX];
static size_t record_count;
static struct rp_episode reference;

static int16_t small(struct rp_rng *rng, int below)
{
    return (int16_t)rp_rng_below(rng, (uint64_t)below);
}

static void random_value(struct rp_value *out, struct rp_rng *rng)
{
    out->state = (enum rp_measured)small(rng, 3);
    out->value = out->state == RP_MEASURED ? small(rng, 3) : 0; /* few, so that repeats happen */
}

/* By members: the episodes are compared as bytes, so padding must stay zero. */
static void random_ref(struct rp_record_ref *out, struct rp_rng *rng)
{
    size_t i = rp_rng_below(rng, record_count + 1);
    out->origin = i == record_count ? 0 : refs[i].origin;
    out->seq = i == record_count ? 0 : refs[i].seq;
}

static void fill_status(struct rp_rec_status *s, struct rp_rng *rng)
{
    s->mode = (uint8_t)small(rng, 5);
    s->evac_state = (uint8_t)small(rng, 8);
    random_value(&s->spo2_pct, rng);
    random_value(&s->pulse_bpm, rng);
    random_value(&s->systolic_mmhg, rng);
    random_value(&s->temp_dc, rng);
    random_value(&s->lls, rng);
    random_value(&s->airway, rng);
    random_value(&s->pain, rng);
    s->vitals_age_min = (uint16_t)(small(rng, 3) * 10);
    s->pressure_age_min = (uint16_t)(small(rng, 3) * 10);
    s->temp_age_min = (uint16_t)(small(rng, 5) * 5);
    s->score_age_min = (uint16_t)(small(rng, 2) * 60);
}

static void fill_background(struct rp_rec_background *b, struct rp_rng *rng)
{
    struct rp_known *const fields[] = {&b->allergies, &b->medicines, &b->history, &b->last_meal,
                                       &b->contact};
    for (size_t i = 0; i < 5; i++) {
        fields[i]->state = (enum rp_asked)small(rng, 3);
        fields[i]->text[0] = (char)('a' + small(rng, 20));
    }
}

static void fill(struct rp_record *r, struct rp_rng *rng)
{
    switch (r->kind) {
    case RP_REC_STATUS:
        fill_status(&r->as.status, rng);
        break;
    case RP_REC_BACKGROUND:
        fill_background(&r->as.background, rng);
        break;
    case RP_REC_CHAMBER:
        r->as.chamber.phase = (uint8_t)small(rng, 7);
        r->as.chamber.session = (uint8_t)(1 + small(rng, 30));
        random_value(&r->as.chamber.gauge_dhpa, rng);
        break;
    case RP_REC_EVACUATION:
        random_ref(&r->as.evacuation.revises, rng);
        random_ref(&r->as.evacuation.conscious_from, rng);
        break;
    case RP_REC_EVAC_CANCEL:
        random_ref(&r->as.evac_cancel.request, rng);
        break;
    case RP_REC_ANSWER:
        random_ref(&r->as.answer.about, rng);
        r->as.answer.kind = (uint8_t)(1 + small(rng, 7));
        r->as.answer.has_eta = small(rng, 2) == 0;
        break;
    case RP_REC_READBACK:
        random_ref(&r->as.readback.about, rng);
        break;
    case RP_REC_CORRECTION:
        random_ref(&r->as.correction.about, rng);
        random_ref(&r->as.correction.replacement, rng);
        break;
    default: /* the others are kept as they are: any byte will do */
        r->as.note.text[0] = (char)('a' + small(rng, 20));
        break;
    }
}

/* A third of the records are of the favoured kind, so that its table overflows in large sets. */
static void make_records(struct rp_rng *rng, size_t count, enum rp_record_kind favoured)
{
    record_count = count;
    for (size_t i = 0; i < count; i++) {
        uint16_t origin = small(rng, 3) == 0 ? BASE : CAMP;
        refs[i] = kit_ref(origin, (uint32_t)i + 1);
    }
    for (size_t i = 0; i < count; i++) {
        enum rp_record_kind kind = (enum rp_record_kind)(1 + small(rng, RP_REC_LAST));
        kind = small(rng, 3) == 0 ? favoured : kind;
        /* Few distinct times, so that the order needs origin and sequence. */
        struct rp_record *r = &records[i];
        memset(r, 0, sizeof *r);
        r->kind = kind;
        r->episode.origin = CAMP;
        r->episode.number = 1;
        r->time_s = (uint32_t)(small(rng, 200) * 5) * MIN;
        r->ago_s = small(rng, 4) == 0 ? 7 * MIN : 0;
        r->unsynced = small(rng, 6) == 0;
        if (r->unsynced &&
            small(rng, 2) == 0) { /* a clock that was wrong: at its start, or ahead */
            r->time_s = small(rng, 2) == 0 ? (uint32_t)small(rng, 100) : 4000000000u;
        }
        r->exercise = small(rng, 1000) == 0;
        fill(r, rng);
        unreadable[i] = small(rng, 40) == 0;
    }
}

static void add(struct rp_episode *episode, size_t i)
{
    if (unreadable[i]) {
        rp_episode_add_unreadable(episode, refs[i], records[i].time_s, records[i].exercise);
    } else {
        assert_int_equal(rp_episode_add(episode, &records[i], refs[i]), 0);
    }
}

/* Adds everything in a random order, some twice at random moments, finishing now and then. */
static void add_shuffled(struct rp_episode *episode, struct rp_rng *rng)
{
    static size_t order[RECORDS_MAX];
    for (size_t i = 0; i < record_count; i++) {
        order[i] = i;
    }
    for (size_t i = record_count; i > 1; i--) {
        size_t j = rp_rng_below(rng, i), swap = order[i - 1];
        order[i - 1] = order[j];
        order[j] = swap;
    }
    for (size_t i = 0; i < record_count; i++) {
        add(episode, order[i]);
        if (small(rng, 3) == 0) {
            add(episode, order[rp_rng_below(rng, i + 1)]);
        }
        if (small(rng, 100) == 0) {
            rp_episode_finish(episode, (uint32_t)small(rng, 30000));
        }
    }
}

static void check_orders(struct rp_rng *rng, size_t count, enum rp_record_kind favoured)
{
    make_records(rng, count, favoured);
    rp_episode_init(&reference, (struct rp_episode_ref){CAMP, 1});
    for (size_t i = 0; i < record_count; i++) {
        add(&reference, i);
    }
    rp_episode_finish(&reference, 70000);
    assert_int_equal(reference.records, record_count);
    for (int shuffle = 0; shuffle < 3; shuffle++) {
        kit_start();
        add_shuffled(&kit, rng);
        rp_episode_finish(&kit, 70000);
        if (memcmp(&kit, &reference, sizeof kit) != 0) {
            fail_msg("%zu records, kind %d, shuffle %d differs", count, (int)favoured, shuffle);
        }
    }
}

static void any_order_and_any_repeats_give_one_episode(void **state)
{
    (void)state;
    uint64_t seed = 771;
    print_message("seed %llu\n", (unsigned long long)seed);
    struct rp_rng rng = rp_rng_seeded(seed);
    static const size_t sizes[] = {1, 2, 3, 5, 8, 13, 21, 40, 80, 160, 320, 900};
    for (size_t s = 0; s < sizeof sizes / sizeof sizes[0]; s++) {
        for (int kind = 1; kind <= RP_REC_LAST; kind++) {
            check_orders(&rng, sizes[s], (enum rp_record_kind)kind);
        }
    }
}

/* Nothing lost, nothing invented: kept and dropped add up, and every table is in order. */
static void tables_add_up(void **state)
{
    (void)state;
    uint64_t seed = 772;
    print_message("seed %llu\n", (unsigned long long)seed);
    struct rp_rng rng = rp_rng_seeded(seed);
    make_records(&rng, 900, RP_REC_STATUS);
    kit_start();
    size_t per_kind[RP_REC_LAST + 1] = {0}, bad = 0;
    for (size_t i = 0; i < record_count; i++) {
        add(&kit, i);
        per_kind[records[i].kind] += !unreadable[i];
        bad += unreadable[i];
    }
    rp_episode_finish(&kit, 70000);
    assert_int_equal(kit.undecodable, bad);
    assert_int_equal(kit.reports.count + kit.reports.older_dropped, per_kind[RP_REC_STATUS]);
    assert_int_equal(kit.reports.count, RP_EP_REPORTS_MAX);
    assert_int_equal(kit.notes.count + kit.notes.older_dropped, per_kind[RP_REC_NOTE]);
    assert_int_equal(kit.chamber.count + kit.chamber.older_dropped, per_kind[RP_REC_CHAMBER]);
    assert_int_equal(kit.requests.count + kit.requests.older_dropped, per_kind[RP_REC_EVACUATION]);
    assert_int_equal(kit.answers.count + kit.answers.older_dropped, per_kind[RP_REC_ANSWER]);
    assert_int_equal(kit.pumping.count + kit.pumping.older_dropped, per_kind[RP_REC_PUMPING]);
    assert_int_equal(kit.stock.count + kit.stock.older_dropped, per_kind[RP_REC_STOCK]);
    assert_int_equal(kit.fluids.count + kit.fluids.older_dropped, per_kind[RP_REC_FLUIDS]);
    assert_int_equal(kit.handovers.count, RP_EP_HANDOVERS_MAX);
    assert_int_equal(kit.requests.count, RP_EP_REQUESTS_MAX);
    assert_int_equal(kit.heard.count, 900);
    for (size_t i = 1; i < kit.heard.count; i++) {
        assert_true(kit.heard.at[i - 1].happened_s <= kit.heard.at[i].happened_s);
    }
    for (size_t i = 1; i < kit.obs.count; i++) {
        assert_true(kit.obs.at[i - 1].taken_s <= kit.obs.at[i].taken_s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_order_and_any_repeats_give_one_episode),
        cmocka_unit_test(tables_add_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
