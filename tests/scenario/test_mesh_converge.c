/* Two stations that cannot hear each other, and a relay: everything must reach everybody. */
#include "rp_test.h"

#include <stdio.h>
#include <stdlib.h>

#include "air_model.h"
#include "wire/record.h"

#define SEEDS 100

static const struct air_config chain3 = {.stations = 3,
                                         .base = 2,
                                         .spreading_factor = 7,
                                         .budget_us_per_hour = 360000000, /* 10 % */
                                         .urgent_reserve_pct = 30,
                                         .frame_len_max = 222};

struct summary {
    unsigned records, delivered;
    uint64_t airtime_us;
    rp_time_us times_us[SEEDS * 8];
};

static int by_time(const void *a, const void *b)
{
    const rp_time_us *left = a, *right = b;
    return (*left > *right) - (*left < *right);
}

static void run_seed(uint16_t loss, uint64_t seed, struct summary *summary)
{
    enum { RECORDS = 8 };
    static struct air air;
    air_start(&air, &chain3, seed);
    air_link(&air, 0, 1, loss);
    air_link(&air, 1, 2, loss);
    air_run_until(&air, 30 * AIR_SECOND_US);
    uint64_t before_us = air_airtime_us(&air);
    for (unsigned i = 0; i < RECORDS; i++) {
        air_publish(&air, 0, RP_REC_STATUS, 1, 24);
        air_run_until(&air, air.now_us + 60 * AIR_SECOND_US);
    }
    rp_time_us took_us = air_run_until_same(&air, 14 * 24 * AIR_HOUR_US);
    if (took_us < 0) {
        print_error("loss %u, seed %llu: not the same after 14 days\n", loss,
                    (unsigned long long)seed);
    }
    assert_true(took_us >= 0);
    uint16_t origin = air.stations[0].origin;
    for (uint32_t seq = 1; seq <= RECORDS; seq++) {
        rp_time_us at_us = air_held_at(&air, 2, origin, seq);
        assert_true(at_us >= 0);
        summary->times_us[summary->delivered++] = at_us - air_held_at(&air, 0, origin, seq);
    }
    summary->records += RECORDS;
    summary->airtime_us += air_airtime_us(&air) - before_us;
    air_stop(&air);
}

static void test_converges_under_loss(void **state)
{
    (void)state;
    static const uint16_t losses[] = {0, 100, 200, 300, 500, 700, 900};
    printf("chain of 3, SF7, %u seeds, one record a minute\n"
           "loss %%  delivered %%  airtime per record ms  p50 s   p95 s\n",
           SEEDS);
    for (size_t i = 0; i < sizeof losses / sizeof losses[0]; i++) {
        static struct summary summary;
        summary = (struct summary){0};
        for (uint64_t seed = 1; seed <= SEEDS; seed++) {
            run_seed(losses[i], seed, &summary);
        }
        qsort(summary.times_us, summary.delivered, sizeof summary.times_us[0], by_time);
        printf("%6u %12.1f %22.0f %6.2f %7.2f\n", losses[i] / 10,
               100.0 * summary.delivered / summary.records,
               (double)summary.airtime_us / summary.records / 1000,
               (double)summary.times_us[summary.delivered / 2] / 1e6,
               (double)summary.times_us[summary.delivered * 95 / 100] / 1e6);
        assert_int_equal(summary.delivered, summary.records);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_converges_under_loss),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
