#include "workload.h"

#include <stdio.h>
#include <string.h>

static int put(struct rp_store *store, uint32_t index, bool with_record)
{
    struct rows rows;
    rows_fill(&rows, 4, 1, 2);
    return rp_store_ops()->put_segment(store, &rows.segments[index],
                                       with_record ? &rows.record : NULL);
}

static int set(struct rp_store *store, const char *text)
{
    struct rp_view value = {(const uint8_t *)text, strlen(text)};
    return rp_store_ops()->set_value(store, "counter", value);
}

/* The clocks go together: the second charge, 2.5 h later, drops the first. */
static int charge(struct rp_store *store, int64_t unix_s, uint32_t airtime_us, bool urgent)
{
    struct rp_charge charge = {.boot = 5,
                               .at_us = (unix_s - 1789999000) * 1000000,
                               .unix_s = unix_s,
                               .airtime_us = airtime_us,
                               .urgent = urgent};
    return rp_store_ops()->charge(store, &charge);
}

int workload_do(struct rp_store *store, int i)
{
    const struct rp_store_ops *ops = rp_store_ops();
    switch (i) {
    case 0:
        return rows_append(store, 7, 1, 1);
    case 1:
        return rows_append(store, 7, 2, 3);
    case 2:
        return put(store, 1, false);
    case 3:
        return put(store, 0, true);
    case 4:
        return charge(store, 1790000000, 370688, true);
    case 5:
        return ops->mark_aired(store, 7, 1, 1790000001);
    case 6:
        return ops->mark_heard(store, 7, 3, 1790000002, 4);
    case 7: {
        int count = ops->mark_base(store, 7, 1, 4, 1790000003);
        return count == 2 ? 0 : count;
    }
    case 8:
        return set(store, "1000");
    case 9:
        return set(store, "2000");
    case 10:
        return charge(store, 1790009000, 1, false);
    default:
        return rows_append(store, 7, 5, RP_RECORD_SEGMENTS_MAX);
    }
}

static bool held(struct rp_store *store, uint16_t origin, uint32_t seq, size_t count)
{
    uint8_t buf[RP_FRAME_LEN_MAX];
    bool first, last;
    const struct rp_store_ops *ops = rp_store_ops();
    if (ops->get_segment(store, origin, seq, &first, &last, buf, sizeof buf) == RP_E_NOT_FOUND) {
        static struct seen seen;
        struct rp_record_ref ref = {origin, seq};
        assert_int_equal(ops->get_record(store, ref, seen_visit, &seen), RP_E_NOT_FOUND);
        return false;
    }
    assert_rows_held(store, origin, seq, count);
    return true;
}

static struct rp_record_row look_up(struct rp_store *store, uint32_t seq)
{
    static struct seen seen;
    seen = (struct seen){.count = 0};
    struct rp_record_ref ref = {7, seq};
    int code = rp_store_ops()->get_record(store, ref, seen_visit, &seen);
    assert_true(code == 0 || code == RP_E_NOT_FOUND);
    return seen.rows[0];
}

static bool counter_is(struct rp_store *store, const char *one, const char *other)
{
    uint8_t buf[8] = {0};
    int len = rp_store_ops()->get_value(store, "counter", buf, sizeof buf);
    assert_true(len == 4 || len == RP_E_NOT_FOUND);
    return memcmp(buf, one, 4) == 0 || (other != NULL && memcmp(buf, other, 4) == 0);
}

static int charge_visit(void *arg, const struct rp_charge *c)
{
    int64_t *last_s = arg;
    assert_true((c->unix_s == 1790000000 && c->airtime_us == 370688 && c->urgent) ||
                (c->unix_s == 1790009000 && c->airtime_us == 1 && !c->urgent));
    *last_s = c->unix_s > *last_s ? c->unix_s : *last_s;
    return 0;
}

static int64_t last_charge_s(struct rp_store *store)
{
    int64_t last_s = 0;
    assert_int_equal(rp_store_ops()->each_charge(store, charge_visit, &last_s), 0);
    return last_s;
}

bool workload_done(struct rp_store *store, int i)
{
    uint8_t buf[RP_FRAME_LEN_MAX];
    bool first, last;
    switch (i) {
    case 0:
        return held(store, 7, 1, 1);
    case 1:
        return held(store, 7, 2, 3);
    case 2:
        return rp_store_ops()->get_segment(store, 4, 2, &first, &last, buf, sizeof buf) == 40;
    case 3:
        return held(store, 4, 1, 2);
    case 4:
        return last_charge_s(store) >= 1790000000;
    case 5:
        return look_up(store, 1).aired_s == 1790000001;
    case 6:
        return look_up(store, 2).heard_s == 1790000002 && look_up(store, 2).heard_station == 4;
    case 7:
        assert_true(look_up(store, 1).base_s == look_up(store, 2).base_s);
        return look_up(store, 1).base_s == 1790000003;
    case 8:
        return counter_is(store, "1000", "2000");
    case 9:
        return counter_is(store, "2000", NULL);
    case 10:
        return last_charge_s(store) == 1790009000;
    default:
        return held(store, 7, 5, RP_RECORD_SEGMENTS_MAX);
    }
}

void workload_remove_log(const struct fixture *f)
{
    static const char *const suffixes[] = {"", "-wal", "-shm", "-journal"};
    for (size_t i = 0; i < 4; i++) {
        (void)remove(fixture_side(f, suffixes[i])); /* most are not there */
    }
}
