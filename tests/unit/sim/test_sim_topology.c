/* Topologies by word and by file. Grid and ladder are 4-neighbour and corner to corner; what the
 * format takes is our own, so the expected values are ours too. */
#include "rp_test.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sim/topology.h"

static struct sim_topology topology;
static struct rp_problem problem;

static int make(const char *word, uint16_t loss)
{
    problem = (struct rp_problem){.code = 0};
    memset(&topology, 0xa5, sizeof topology);
    return sim_topology_make(word, loss, &topology, &problem);
}

static int parse(const char *text)
{
    problem = (struct rp_problem){.code = 0};
    return sim_topology_parse(text, strlen(text), &topology, &problem);
}

static unsigned degree(unsigned station)
{
    unsigned n = 0;
    for (unsigned to = 0; to < topology.count; to++) {
        n += topology.links[station][to].kind == SIM_LINK_LOSS ? 1 : 0;
        assert_int_equal(topology.links[station][to].kind, topology.links[to][station].kind);
    }
    return n;
}

static void assert_ends(unsigned count)
{
    assert_int_equal(topology.count, count);
    for (unsigned i = 0; i < count; i++) {
        assert_int_equal(topology.stations[i].reports, i == 0);
        assert_int_equal(topology.stations[i].is_base, i == count - 1);
        assert_false(topology.stations[i].has_position);
    }
}

static void a_chain_is_a_row(void **state)
{
    (void)state;
    assert_int_equal(make("chain:5", 300), 0);
    assert_ends(5);
    assert_int_equal(degree(0), 1);
    assert_int_equal(degree(2), 2);
    assert_int_equal(degree(4), 1);
    assert_int_equal(topology.links[3][4].loss, 300);
    assert_int_equal(topology.links[0][2].kind, SIM_LINK_NONE);
    assert_int_equal(topology.links[2][2].kind, SIM_LINK_NONE);
    assert_string_equal(topology.stations[4].name, "s5");
    assert_int_equal(make("chain:200", 1000), 0);
    assert_int_equal(make("chain:2", 0), 0);
}

static void a_grid_has_four_neighbours(void **state)
{
    (void)state;
    assert_int_equal(make("grid:3x3", 100), 0);
    assert_ends(9);
    static const unsigned degrees[9] = {2, 3, 2, 3, 4, 3, 2, 3, 2};
    for (unsigned i = 0; i < 9; i++) {
        assert_int_equal(degree(i), degrees[i]);
    }
    assert_int_equal(topology.links[2][3].kind, SIM_LINK_NONE); /* end of a row */
    assert_int_equal(make("grid:20x10", 100), 0);
    assert_ends(200);
}

static void a_ladder_is_two_rows(void **state)
{
    (void)state;
    assert_int_equal(make("ladder:5", 500), 0);
    assert_ends(10);
    static const unsigned degrees[10] = {2, 3, 3, 3, 2, 2, 3, 3, 3, 2};
    for (unsigned i = 0; i < 10; i++) {
        assert_int_equal(degree(i), degrees[i]);
    }
    assert_int_equal(topology.links[0][5].loss, 500);
}

static void a_clique_and_a_star(void **state)
{
    (void)state;
    assert_int_equal(make("clique:8", 500), 0);
    assert_ends(8);
    for (unsigned i = 0; i < 8; i++) {
        assert_int_equal(degree(i), 7);
    }
    assert_int_equal(make("star:6", 10), 0);
    assert_ends(6);
    assert_int_equal(degree(0), 1);
    assert_int_equal(degree(1), 5);
    assert_int_equal(degree(5), 1);
}

static void wrong_words_are_refused(void **state)
{
    (void)state;
    static const char *const words[] = {
        "",           "chain",    ":5",          "ring:5",     "chain:",   "chain:1",
        "chain:201",  "chain:5x", "chain:-5",    "grid:3",     "grid:3x",  "grid:x3",
        "grid:3x3x3", "grid:0x5", "grid:1x1",    "grid:20x11", "ladder:0", "ladder:101",
        "star:2",     "clique:1", "chain:99999", "Chain:5",    "chain: 5",
    };
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        assert_int_equal(make(words[i], 0), RP_E_INVALID);
        assert_string_equal(problem.field, "topology");
    }
    assert_int_equal(make("grid:3", 0), RP_E_INVALID);
    assert_non_null(strstr(problem.text, "for example grid:3x3"));
    assert_int_equal(make("chain:5", 1001), RP_E_INVALID);
    assert_string_equal(problem.field, "loss");
}

static void a_file_says_all(void **state)
{
    (void)state;
    assert_int_equal(parse("# the valley\r\n"
                           "station ridge 0 0 5480 reports\n"
                           "station moraine -1200 35 4920   # a cache\n"
                           "\n"
                           "station camp reports\n"
                           "station lake 4000 -20 4310 base\n"
                           "link ridge moraine 0.3 0.125\n"
                           "link moraine lake 1\n"
                           "link camp lake 0\n"
                           "link ridge lake none"),
                     0);
    assert_int_equal(topology.count, 4);
    assert_int_equal(topology.stations[1].x_m, -1200);
    assert_int_equal(topology.stations[1].y_m, 35);
    assert_int_equal(topology.stations[1].z_m, 4920);
    assert_false(topology.stations[2].has_position);
    assert_true(topology.stations[0].reports && topology.stations[2].reports);
    assert_false(topology.stations[1].reports || topology.stations[3].reports);
    assert_true(topology.stations[3].is_base);
    assert_int_equal(topology.links[0][1].loss, 300);
    assert_int_equal(topology.links[1][0].loss, 125);
    assert_int_equal(topology.links[3][1].kind, SIM_LINK_LOSS);
    assert_int_equal(topology.links[3][1].loss, 1000);
    assert_int_equal(topology.links[0][3].kind, SIM_LINK_NONE);
    assert_int_equal(topology.links[0][2].kind, SIM_LINK_NONE); /* camp has no position */
    assert_int_equal(topology.links[2][3].loss, 0);
    assert_int_equal(sim_topology_find(&topology, "lake"), 3);
    assert_int_equal(sim_topology_find(&topology, "Lake"), RP_E_NOT_FOUND);
}

static void positions_alone_leave_it_to_the_channel(void **state)
{
    (void)state;
    assert_int_equal(parse("station lake 4000 0 4310 base\nstation ridge 0 0 5480\n"), 0);
    assert_int_equal(topology.links[0][1].kind, SIM_LINK_MODEL);
    assert_int_equal(topology.links[1][0].kind, SIM_LINK_MODEL);
    assert_int_equal(topology.links[0][0].kind, SIM_LINK_NONE);
    assert_true(topology.stations[1].reports); /* the first that is no base */
    assert_false(topology.stations[0].reports);
}

static void wrong_lines_say_line_field_bound_and_example(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int code;
        const char *field, *part;
    } cases[] = {
        {"station\n", RP_E_FORMAT, "line 1, station", "1 to 15 letters"},
        {"station a_name_of_sixteen\n", RP_E_FORMAT, "line 1, station", "1 to 15 letters"},
        {"station a/b\n", RP_E_FORMAT, "line 1, station", "for example camp"},
        {"station a\nstation a\n", RP_E_DUPLICATE, "line 2, station", "each name once"},
        {"station a 1 2\n", RP_E_FORMAT, "line 1, position", "for example 0 1200 4920"},
        {"station a 1.5 2 3\n", RP_E_INVALID, "line 1, x_m", "-1000000 to 1000000"},
        {"station a 1 1000001 3\n", RP_E_INVALID, "line 1, y_m", "for example 1200"},
        {"station a 1 2 9001\n", RP_E_INVALID, "line 1, z_m", "-500 to 9000"},
        {"station a 1 2 99999999999999999999\n", RP_E_INVALID, "line 1, z_m", "-500 to 9000"},
        {"station a basis\n", RP_E_FORMAT, "line 1, station", "base or reports"},
        {"\n#\nstation a\nlink a b 0.3\n", RP_E_NOT_FOUND, "line 4, link", "in lines before"},
        {"station a\nlink a a 0.3\n", RP_E_INVALID, "line 2, link", "two different"},
        {"station a\nlink a\n", RP_E_FORMAT, "line 2, link", "LOSS_BACK"},
        {"station a\nstation b\nlink a b 1.5\n", RP_E_INVALID, "line 3, loss", "0 to 1"},
        {"station a\nstation b\nlink a b 0.3 x\n", RP_E_INVALID, "line 3, loss back", "0.3"},
        {"node a\n", RP_E_FORMAT, "line 1, line", "station or link"},
        {"station a 1 2 3 base reports x y\n", RP_E_FORMAT, "line 1, line", "8 words"},
        {"", RP_E_INVALID, "file", "two stations"},
        {"station a\nstation b\n", RP_E_INVALID, "file", "one of them base"},
        {"station a base\nstation b base\n", RP_E_INVALID, "file", "one not"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct sim_topology before = topology;
        assert_int_equal(parse(cases[i].text), cases[i].code);
        assert_string_equal(problem.field, cases[i].field);
        assert_non_null(strstr(problem.text, cases[i].part));
        assert_memory_equal(&before, &topology, sizeof before);
    }
    static const char zero[] = "station a\0 base\n";
    assert_int_equal(sim_topology_parse(zero, sizeof zero - 1, &topology, &problem), RP_E_FORMAT);
    char longest[300];
    memset(longest, ' ', sizeof longest);
    assert_int_equal(sim_topology_parse(longest, sizeof longest, &topology, &problem), RP_E_FORMAT);
}

static void two_hundred_stations_and_no_more(void **state)
{
    (void)state;
    static char text[201 * 16];
    size_t len = 0;
    for (unsigned i = 0; i < 201; i++) {
        len += (size_t)snprintf(text + len, sizeof text - len, "station n%u%s\n", i,
                                i == 0 ? " base" : "");
        int expected = i == 0 ? RP_E_INVALID : i < 200 ? 0 : RP_E_FULL;
        assert_int_equal(sim_topology_parse(text, len, &topology, &problem), expected);
    }
    assert_string_equal(problem.field, "line 201, station");
}

static void losses_are_thousandths(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        uint16_t loss;
    } good[] = {{"0", 0},       {"1", 1000},     {"0.3", 300}, {"0.30", 300},
                {"0.125", 125}, {"1.000", 1000}, {"0.001", 1}};
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        uint16_t loss = 7;
        assert_true(sim_topology_loss(good[i].text, &loss));
        assert_int_equal(loss, good[i].loss);
    }
    static const char *const bad[] = {"",     ".3",  "0.", "0.1234", "1.001", "2",
                                      "-0.1", "0,3", "01", "0.3 ",   "30%"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        uint16_t loss = 7;
        assert_false(sim_topology_loss(bad[i], &loss));
        assert_int_equal(loss, 7);
    }
}

static void a_file_that_cannot_be_read_says_so(void **state)
{
    (void)state;
    assert_int_equal(sim_topology_load("/no/such/file", &topology, &problem), RP_E_IO);
    assert_non_null(strstr(problem.text, "/no/such/file"));
    assert_int_equal(sim_topology_load(RP_SOURCE_DIR "/tests/fuzz/corpus/sim_topology/valley",
                                       &topology, &problem),
                     0);
    assert_int_equal(topology.count, 3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_chain_is_a_row),
        cmocka_unit_test(a_grid_has_four_neighbours),
        cmocka_unit_test(a_ladder_is_two_rows),
        cmocka_unit_test(a_clique_and_a_star),
        cmocka_unit_test(wrong_words_are_refused),
        cmocka_unit_test(a_file_says_all),
        cmocka_unit_test(positions_alone_leave_it_to_the_channel),
        cmocka_unit_test(wrong_lines_say_line_field_bound_and_example),
        cmocka_unit_test(two_hundred_stations_and_no_more),
        cmocka_unit_test(losses_are_thousandths),
        cmocka_unit_test(a_file_that_cannot_be_read_says_so),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
