/* When a station says again how well it hears its neighbours. Levels: proto/PROTOCOL.md, "Digest".
 */
#include "rp_test.h"

#include "one_engine.h"

/* The row said 0.55 of a link over which ends confirm (level 4); it has come out at 0.74. */
static void test_a_link_that_comes_out_good_counts_as_moved(void **state)
{
    (void)state;
    struct fixture fixture;
    start(&fixture, 0);
    meet(&fixture, high, 1, 0);
    struct rp_neighbour *neighbour = &fixture.mesh->neighbours[rp_neighbour_slot(fixture.mesh, 7)];
    neighbour->said_q8 = 140;
    neighbour->in_q16 = 183 << 8;
    assert_int_equal(rp_neighbours_moved(fixture.mesh), 43);
    neighbour->in_q16 = 188 << 8;
    assert_int_equal(rp_neighbours_moved(fixture.mesh), 77); /* 0.3: said unasked */
    neighbour->said_q8 = 168;
    assert_int_equal(rp_neighbours_moved(fixture.mesh), 20);
    stop(&fixture);
}

/* Named again and again for records that it would ask for: its word of the link was lost. */
static void test_who_confirms_in_vain_says_its_rows_again(void **state)
{
    (void)state;
    for (uint8_t said_q8 = 140; said_q8 <= 168; said_q8 += 28) {
        struct fixture fixture;
        start(&fixture, 0);
        meet(&fixture, high, 1, 0);
        fixture.mesh->neighbours[rp_neighbour_slot(fixture.mesh, 7)].said_q8 = said_q8;
        for (uint32_t seq = 1; seq <= 4; seq++) {
            assert_false(fixture.mesh->row_asked);
            hear_status(&fixture, seq, 24000000 + 600 * seq,
                        (struct rp_trailer){.station = 7, .named = 4, .promise = 2});
            fixture.now_us += 600 * RP_SECOND_US;
        }
        assert_int_equal(fixture.mesh->row_asked, said_q8 == 168);
        stop(&fixture);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_link_that_comes_out_good_counts_as_moved),
        cmocka_unit_test(test_who_confirms_in_vain_says_its_rows_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
