/* Folding is linear in the records of an episode, by a count of operations: the room is built a
 * second time with every function's entry counted, so the figure is the same on any machine. Its
 * memory is one struct, whatever comes: the room owns no heap (see the purity lint). */
#include "episode_kit.h"

#include "base/rng.h"

static uint64_t calls;

void __cyg_profile_func_enter(void *function, void *caller);
void __cyg_profile_func_exit(void *function, void *caller);

void __cyg_profile_func_enter(void *function, void *caller)
{
    (void)function;
    (void)caller;
    calls++;
}

void __cyg_profile_func_exit(void *function, void *caller)
{
    (void)function;
    (void)caller;
}

static const enum rp_record_kind kinds[] = {RP_REC_STATUS,   RP_REC_TREATMENT,  RP_REC_OXYGEN,
                                            RP_REC_CHAMBER,  RP_REC_NOTE,       RP_REC_ANSWER,
                                            RP_REC_REASSESS, RP_REC_CORRECTION, RP_REC_BACKGROUND};

/* Folds `count` records in a random order, one in ten twice; returns the calls. */
static uint64_t fold(uint32_t count, uint64_t seed)
{
    static uint32_t order[64000];
    struct rp_rng rng = rp_rng_seeded(seed);
    for (uint32_t i = 0; i < count; i++) {
        order[i] = i + 1;
    }
    for (uint32_t i = count; i > 1; i--) {
        uint32_t j = (uint32_t)rp_rng_below(&rng, i), swap = order[i - 1];
        order[i - 1] = order[j];
        order[j] = swap;
    }
    kit_start();
    calls = 0;
    for (uint32_t i = 0; i < count; i++) {
        uint32_t seq = order[i];
        struct rp_record r = kit_record(kinds[seq % (sizeof kinds / sizeof kinds[0])], seq * 60);
        if (r.kind == RP_REC_CORRECTION) {
            r.as.correction.about = kit_ref(CAMP, seq > 500 ? seq - 499 : 1);
        }
        kit_add(&r, CAMP, seq);
        if (seq % 10 == 0) {
            kit_add(&r, CAMP, seq);
        }
    }
    rp_episode_finish(&kit, count * 60 + 60);
    return calls;
}

/* Doubling the records at most doubles the operations, beyond the size at which every table is
 * full: from 4000 records up to 64000. */
static void operations_grow_with_the_records(void **state)
{
    (void)state;
    uint64_t seed = 909, before = 0;
    print_message("seed %llu\n", (unsigned long long)seed);
    for (uint32_t count = 4000; count <= 64000; count *= 2) {
        uint64_t now = fold(count, seed);
        print_message("%u records: %llu calls, %.1f a record\n", count, (unsigned long long)now,
                      (double)now / count);
        assert_true(before == 0 || now <= before * 21 / 10);
        assert_true(now / count < 200);
        before = now;
    }
}

/* What one more record costs when every table is full, and what finishing costs: bounded. */
static void memory_is_one_struct(void **state)
{
    (void)state;
    print_message("an episode takes %zu bytes\n", sizeof(struct rp_episode));
    assert_true(sizeof(struct rp_episode) < 320 * 1024);
    fold(64000, 910);
    calls = 0;
    rp_episode_finish(&kit, 64001 * 60);
    print_message("finishing the fullest episode: %llu calls\n", (unsigned long long)calls);
    assert_true(calls < 1000000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(operations_grow_with_the_records),
        cmocka_unit_test(memory_is_one_struct),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
