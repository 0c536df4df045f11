/* The command line's options: they may stand anywhere, and a word may begin with a minus. */
#include "rp_test.h"

#include <stdlib.h>

#include "cli/options.h"

static int parse(struct rp_options *options, int argc, char **argv)
{
    unsetenv("RIDGEPOST_SOCKET");
    unsetenv("RIDGEPOST_BY");
    return rp_options_read(argc, argv, options);
}

static void options_stand_anywhere(void **state)
{
    (void)state;
    char *argv[] = {"ridgepost", "obs", "--sure", "7-1",   "spo2",  "71",    "--by",
                    "Ines",      "air", "--via",  "voice", "--ago", "20min", "--json"};
    struct rp_options options;
    assert_int_equal(parse(&options, 14, argv), 0);
    assert_int_equal(options.count, 5);
    assert_string_equal(options.words[0], "obs");
    assert_string_equal(options.words[4], "air");
    assert_true(options.sure && options.json);
    assert_false(options.help || options.version);
    assert_string_equal(options.by, "Ines");
    assert_string_equal(options.via, "voice");
    assert_string_equal(options.ago, "20min");
    assert_null(options.socket);
}

static void a_minus_begins_a_word_and_two_end_the_options(void **state)
{
    (void)state;
    char *argv[] = {"ridgepost", "evacuate", "temp", "-15C", "--", "--by", "--help"};
    struct rp_options options;
    assert_int_equal(parse(&options, 7, argv), 0);
    assert_int_equal(options.count, 5);
    assert_string_equal(options.words[2], "-15C");
    assert_string_equal(options.words[3], "--by");
    assert_string_equal(options.words[4], "--help");
    assert_null(options.by);
    assert_false(options.help);
}

static void an_option_without_its_text_is_refused(void **state)
{
    (void)state;
    char *const names[] = {"--by", "--via", "--ago", "--socket"};
    for (size_t i = 0; i < 4; i++) {
        char *argv[] = {"ridgepost", "board", names[i]};
        struct rp_options options = {.count = 99};
        assert_int_equal(parse(&options, 3, argv), -1);
        assert_int_equal(options.count, 99); /* untouched */
    }
}

/* A mistyped option is no word: "--sur" would otherwise be read as one and confirm nothing. */
static void an_unknown_option_is_refused(void **state)
{
    (void)state;
    char *const names[] = {"--sur", "--By", "--x", "--by=Ines"};
    for (size_t i = 0; i < 4; i++) {
        char *argv[] = {"ridgepost", "board", names[i]};
        struct rp_options options;
        assert_int_equal(parse(&options, 3, argv), -1);
    }
}

static void the_number_of_words_is_bounded(void **state)
{
    (void)state;
    char *argv[RP_CLI_WORDS_MAX + 2];
    for (size_t i = 0; i < sizeof argv / sizeof argv[0]; i++) {
        argv[i] = "x";
    }
    struct rp_options options;
    assert_int_equal(parse(&options, RP_CLI_WORDS_MAX + 1, argv), 0);
    assert_int_equal(options.count, RP_CLI_WORDS_MAX);
    assert_int_equal(parse(&options, RP_CLI_WORDS_MAX + 2, argv), -1);
}

static void the_environment_gives_name_and_socket(void **state)
{
    (void)state;
    setenv("RIDGEPOST_SOCKET", "/run/s", 1);
    setenv("RIDGEPOST_BY", "Pelle", 1);
    char *plain[] = {"ridgepost", "board"}, *given[] = {"ridgepost", "board", "--by", "Ines"};
    struct rp_options options;
    assert_int_equal(rp_options_read(2, plain, &options), 0);
    assert_string_equal(options.socket, "/run/s");
    assert_string_equal(options.by, "Pelle");
    assert_int_equal(rp_options_read(4, given, &options), 0);
    assert_string_equal(options.by, "Ines");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(options_stand_anywhere),
        cmocka_unit_test(a_minus_begins_a_word_and_two_end_the_options),
        cmocka_unit_test(an_option_without_its_text_is_refused),
        cmocka_unit_test(an_unknown_option_is_refused),
        cmocka_unit_test(the_number_of_words_is_bounded),
        cmocka_unit_test(the_environment_gives_name_and_socket),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
