/* Configuration files and files that hold secrets. The expected text of an error is what a person
 * without the manual has to work with, so it is checked word by word. */
#include "rp_test.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "port/files/config.h"
#include "port_support.h"

struct station {
    char name[24], port[64];
    int64_t number, latitude, sync_word;
    bool has_latitude, beep;
    int driver;
};

static const char *const drivers[] = {"kiss", "at", "transparent", NULL};

static const struct rp_config_key keys[] = {
    {.section = "station",
     .name = "name",
     .type = RP_CONFIG_TEXT,
     .offset = offsetof(struct station, name),
     .size = sizeof((struct station *)0)->name,
     .min = 1,
     .max = 20,
     .required = true,
     .example = "Ridge Camp"},
    {.section = "station",
     .name = "number",
     .type = RP_CONFIG_NUMBER,
     .offset = offsetof(struct station, number),
     .min = 1,
     .max = 126,
     .required = true,
     .example = "7"},
    {.section = "station",
     .name = "latitude",
     .type = RP_CONFIG_NUMBER,
     .offset = offsetof(struct station, latitude),
     .decimals = 5,
     .min = -9000000,
     .max = 9000000,
     .has_flag = true,
     .flag_offset = offsetof(struct station, has_latitude),
     .example = "27.98800"},
    {.section = "radio",
     .name = "port",
     .type = RP_CONFIG_TEXT,
     .offset = offsetof(struct station, port),
     .size = sizeof((struct station *)0)->port,
     .min = 0,
     .max = 63,
     .example = "/dev/ttyUSB0"},
    {.section = "radio",
     .name = "sync_word",
     .type = RP_CONFIG_NUMBER,
     .offset = offsetof(struct station, sync_word),
     .min = 0,
     .max = 255,
     .example = "0x12"},
    {.section = "radio",
     .name = "driver",
     .type = RP_CONFIG_CHOICE,
     .offset = offsetof(struct station, driver),
     .choices = drivers,
     .example = "kiss"},
    {.section = "alarm",
     .name = "beep",
     .type = RP_CONFIG_SWITCH,
     .offset = offsetof(struct station, beep),
     .example = "yes"},
};
enum { KEY_COUNT = sizeof keys / sizeof keys[0] };

static int parse(const char *text, struct station *station, struct rp_problem *out_problem)
{
    struct rp_view view = {(const uint8_t *)text, strlen(text)};
    return rp_config_parse("rp.conf", view, keys, KEY_COUNT, station, sizeof *station, out_problem);
}

static void a_whole_file_is_read(void **state)
{
    (void)state;
    struct station st = {.beep = true, .sync_word = 0x12, .driver = 2};
    struct rp_problem problem = {0};
    int rc = parse("\xef\xbb\xbf[station]\r\n"
                   "# a comment\r\n"
                   "name = Karu Ri \xe0\xa5\x90 ; another\r\n"
                   "number=7\n"
                   "latitude : 27.988\n"
                   "\n"
                   "   ; an indented comment\n"
                   "[radio]\n"
                   "port = /dev/serial/by-id/usb-x\n"
                   "driver = at\n"
                   "sync_word = 0x34\n"
                   "[alarm]\n"
                   "beep = no",
                   &st, &problem);
    if (rc != 0) {
        fail_msg("%s", problem.text);
    }
    assert_string_equal(st.name, "Karu Ri \xe0\xa5\x90");
    assert_int_equal(st.number, 7);
    assert_int_equal(st.latitude, 2798800);
    assert_true(st.has_latitude);
    assert_string_equal(st.port, "/dev/serial/by-id/usb-x");
    assert_int_equal(st.driver, 1);
    assert_int_equal(st.sync_word, 0x34);
    assert_false(st.beep);
}

static void defaults_stay_where_nothing_is_said(void **state)
{
    (void)state;
    struct station st = {.beep = true, .sync_word = 0x12, .driver = 2};
    assert_int_equal(parse("[station]\nname = x\nnumber = 126\n", &st, NULL), 0);
    assert_true(st.beep);
    assert_int_equal(st.sync_word, 0x12);
    assert_int_equal(st.driver, 2);
    assert_false(st.has_latitude);
}

#define OK "[station]\nname = x\nnumber = 1\n"

static const struct {
    const char *text;
    int code;
    const char *sentence;
} errors[] = {
    {"[station]\nname = x\nnumber = 127\n", RP_E_INVALID,
     "rp.conf:3: number must be a number from 1 to 126, such as 7; not '127'"},
    {"[station]\nname = x\nnumber = 0\n", RP_E_INVALID,
     "rp.conf:3: number must be a number from 1 to 126, such as 7; not '0'"},
    {"[station]\nname = x\nnumber = 7.5\n", RP_E_INVALID,
     "rp.conf:3: number must be a number from 1 to 126, such as 7; not '7.5'"},
    {"[station]\nname = x\nnumber = 7x\n", RP_E_INVALID,
     "rp.conf:3: number must be a number from 1 to 126, such as 7; not '7x'"},
    {"[station]\nname = x\nnumber =\n", RP_E_INVALID,
     "rp.conf:3: number must be a number from 1 to 126, such as 7; not ''"},
    {"[station]\nname = x\nnumber = 99999999999999999999\n", RP_E_INVALID,
     "rp.conf:3: number must be a number from 1 to 126, such as 7; not "
     "'99999999999999999999'"},
    {OK "latitude = 90.00001\n", RP_E_INVALID,
     "rp.conf:4: latitude must be a number from -90 to 90, such as 27.98800; not "
     "'90.00001'"},
    {OK "latitude = 1.234567\n", RP_E_INVALID,
     "rp.conf:4: latitude must be a number from -90 to 90, such as 27.98800; not "
     "'1.234567'"},
    {"[station]\nname =\n", RP_E_INVALID,
     "rp.conf:2: name must have 1 to 20 bytes, such as Ridge Camp; not 0"},
    {"[station]\nname = 123456789012345678901\n", RP_E_INVALID,
     "rp.conf:2: name must have 1 to 20 bytes, such as Ridge Camp; not 21"},
    {"[station]\nname = \xc3(\n", RP_E_INVALID,
     "rp.conf:2: name is not valid UTF-8; an example is Ridge Camp"},
    {OK "[radio]\ndriver = smoke\n", RP_E_INVALID,
     "rp.conf:5: driver must be one of kiss, at, transparent, such as kiss; not 'smoke'"},
    {OK "[alarm]\nbeep = true\n", RP_E_INVALID,
     "rp.conf:5: beep must be yes or no, such as yes; not 'true'"},
    {OK "colour = red\n", RP_E_INVALID, "rp.conf:4: there is no key 'colour' in [station]"},
    {OK "port = /dev/x\n", RP_E_INVALID, "rp.conf:4: there is no key 'port' in [station]"},
    {OK "[lights]\n", RP_E_INVALID, "rp.conf:4: there is no section [lights]"},
    {OK "[lights\n", RP_E_INVALID, "rp.conf:4: there is no section [lights]"},
    {"name = x\n", RP_E_INVALID, "rp.conf:1: 'name' stands before the first [section]"},
    {OK "number = 1\n", RP_E_INVALID, "rp.conf:4: number is given twice, first in line 3"},
    {OK "[radio]\n[station]\nname = y\n", RP_E_INVALID,
     "rp.conf:6: name is given twice, first in line 2"},
    {OK "a line of prose\n", RP_E_FORMAT,
     "rp.conf:4: this is neither [section] nor key = value nor a # comment"},
    {OK "  latitude = 1\n", RP_E_FORMAT,
     "rp.conf:4: the line is indented: start it at the left edge"},
    {OK "latitude = 1\n\tand more\n", RP_E_FORMAT,
     "rp.conf:5: the line is indented: start it at the left edge"},
    {OK "latitude = \x01\n", RP_E_FORMAT,
     "rp.conf:4: the line holds a control character (byte 01)"},
    {"[station]\nname = x\n", RP_E_INVALID,
     "rp.conf: number is missing in [station], for example: number = 7"},
    {"", RP_E_INVALID, "rp.conf: name is missing in [station], for example: name = Ridge Camp"},
    /* The first error counts, also when libinih reports it only at the end. */
    {"[station]\nprose\nnumber = 127\n", RP_E_FORMAT,
     "rp.conf:2: this is neither [section] nor key = value nor a # comment"},
    {"[station]\nnumber = 127\nprose\n", RP_E_INVALID,
     "rp.conf:2: number must be a number from 1 to 126, such as 7; not '127'"},
};

static void every_error_names_line_key_bound_and_example(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof errors / sizeof errors[0]; i++) {
        struct station st, before;
        memset(&st, 0x55, sizeof st);
        before = st;
        struct rp_problem problem = {0};
        assert_int_equal(parse(errors[i].text, &st, &problem), errors[i].code);
        assert_string_equal(problem.text, errors[i].sentence);
        assert_int_equal(problem.code, errors[i].code);
        assert_memory_equal(&st, &before, sizeof st);
        assert_int_equal(parse(errors[i].text, &st, NULL), errors[i].code);
    }
}

static void lines_have_190_bytes_at_most(void **state)
{
    (void)state;
    char text[300];
    struct station st = {0};
    struct rp_problem problem;
    snprintf(text, sizeof text, OK "#%0189d\n", 0);
    assert_int_equal(parse(text, &st, &problem), 0);
    snprintf(text, sizeof text, OK "#%0190d\n", 0);
    assert_int_equal(parse(text, &st, &problem), RP_E_TOO_LONG);
    assert_string_equal(problem.text, "rp.conf:4: the line has 191 bytes; at most 190 fit");
    snprintf(text, sizeof text, OK "#%0189d\nname=y\n", 0); /* 190 bytes do not upset the count */
    assert_int_equal(parse(text, &st, &problem), RP_E_INVALID);
    assert_string_equal(problem.text, "rp.conf:5: name is given twice, first in line 2");
}

static void a_zero_byte_is_refused(void **state)
{
    (void)state;
    static const char text[] = "[station]\nname = x\0y\nnumber = 1\n";
    struct station st = {0};
    struct rp_problem problem;
    assert_int_equal(rp_config_parse("rp.conf",
                                     (struct rp_view){(const uint8_t *)text, sizeof text - 1}, keys,
                                     KEY_COUNT, &st, sizeof st, &problem),
                     RP_E_FORMAT);
    assert_string_equal(problem.text, "rp.conf:2: the line holds a control character (byte 00)");
}

/* RFC 3629 section 4 (syntax) and section 10 (overlong forms, surrogates). */
static void utf8_follows_rfc_3629(void **state)
{
    (void)state;
    static const struct {
        const char *bytes;
        int rc;
    } cases[] = {
        {"\xc2\x80", 0},
        {"\xdf\xbf", 0},
        {"\xe0\xa0\x80", 0},
        {"\xed\x9f\xbf", 0},
        {"\xee\x80\x80", 0},
        {"\xf0\x90\x80\x80", 0},
        {"\xf4\x8f\xbf\xbf", 0},
        {"\xc0\xaf", RP_E_INVALID},
        {"\xc1\xbf", RP_E_INVALID},
        {"\xe0\x9f\xbf", RP_E_INVALID},
        {"\xed\xa0\x80", RP_E_INVALID},
        {"\xf0\x8f\xbf\xbf", RP_E_INVALID},
        {"\xf4\x90\x80\x80", RP_E_INVALID},
        {"\xf5\x80\x80\x80", RP_E_INVALID},
        {"\x80", RP_E_INVALID},
        {"\xc2", RP_E_INVALID},
        {"\xe2\x82", RP_E_INVALID},
        {"\xff", RP_E_INVALID},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[64];
        struct station st = {0};
        snprintf(text, sizeof text, "[station]\nnumber = 1\nname = %s\n", cases[i].bytes);
        assert_int_equal(parse(text, &st, NULL), cases[i].rc);
    }
}

static void numbers_are_exact(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int64_t value;
    } cases[] = {
        {"0", 0},          {"-0.00001", -1},      {"+5", 500000}, {"89.99999", 8999999},
        {"-90", -9000000}, {"90.00000", 9000000}, {"0.1", 10000},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[80];
        struct station st = {0};
        snprintf(text, sizeof text, OK "latitude = %s\n", cases[i].text);
        assert_int_equal(parse(text, &st, NULL), 0);
        assert_int_equal(st.latitude, cases[i].value);
    }
    static const char *const bad[] = {".5", "5.", "-", "+", "1.2.3", "1e1", "0x10", "1,5", "--1"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        char text[80];
        struct station st = {0};
        snprintf(text, sizeof text, OK "latitude = %s\n", bad[i]);
        assert_int_equal(parse(text, &st, NULL), RP_E_INVALID);
    }
    static const char *const bad_hex[] = {"0x", "0x100", "0xg", "0x-1", "0x1234567890abcdef0"};
    for (size_t i = 0; i < sizeof bad_hex / sizeof bad_hex[0]; i++) {
        char text[80];
        struct station st = {0};
        snprintf(text, sizeof text, OK "[radio]\nsync_word = %s\n", bad_hex[i]);
        assert_int_equal(parse(text, &st, NULL), RP_E_INVALID);
    }
}

/* --- files --- */

static int read_without_rights(const void *arg)
{
    struct station st = {0};
    return rp_config_read(arg, keys, KEY_COUNT, &st, sizeof st, NULL);
}

static void files_are_read_and_their_absence_told(void **state)
{
    (void)state;
    struct folder folder;
    struct rp_problem problem;
    struct station st = {0};
    char wanted[200];
    folder_make(&folder);
    const char *path = folder_file(&folder, "rp.conf");
    int before = descriptor_count();
    assert_int_equal(rp_config_read(path, keys, KEY_COUNT, &st, sizeof st, &problem),
                     RP_E_NOT_FOUND);
    snprintf(wanted, sizeof wanted, "%s does not exist", path);
    assert_string_equal(problem.text, wanted);
    assert_int_equal(rp_config_read(folder.path, keys, KEY_COUNT, &st, sizeof st, &problem),
                     RP_E_INVALID);
    assert_int_equal(mkfifo(folder_file(&folder, "pipe"), 0600), 0);
    assert_int_equal(
        rp_config_read(folder_file(&folder, "pipe"), keys, KEY_COUNT, &st, sizeof st, &problem),
        RP_E_INVALID);
    file_write(path, OK, 0600);
    assert_int_equal(rp_config_read(path, keys, KEY_COUNT, &st, sizeof st, &problem), 0);
    assert_string_equal(st.name, "x");
    if (geteuid() == 0) {
        assert_int_equal(as_plain_user(read_without_rights, path), RP_E_PERMISSION);
    }
    FILE *file = fopen(path, "a");
    assert_non_null(file);
    for (int i = 0; i < 65536 - (int)strlen(OK); i++) { /* up to 64 KiB exactly */
        assert_int_equal(fputc('\n', file), '\n');
    }
    assert_int_equal(fflush(file), 0);
    assert_int_equal(rp_config_read(path, keys, KEY_COUNT, &st, sizeof st, &problem), 0);
    assert_int_equal(fputc('\n', file), '\n');
    assert_int_equal(fclose(file), 0);
    assert_int_equal(rp_config_read(path, keys, KEY_COUNT, &st, sizeof st, &problem),
                     RP_E_TOO_LONG);
    assert_int_equal(descriptor_count(), before);
    folder_remove(&folder);
}

static void a_secret_is_for_its_owner_alone(void **state)
{
    (void)state;
    struct folder folder;
    struct rp_problem problem;
    uint8_t buf[16];
    size_t len = 0;
    folder_make(&folder);
    const char *path = folder_file(&folder, "net.key");
    assert_int_equal(rp_secret_file_read(path, buf, sizeof buf, &len, &problem), RP_E_NOT_FOUND);
    file_write(path, "0123456789", 0600);
    for (mode_t mode = 0; mode <= 0777; mode++) {
        assert_int_equal(chmod(path, mode), 0);
        if (geteuid() != 0 && (mode & 0400) == 0) {
            continue; /* not even we may read it */
        }
        int wanted = (mode & 077) == 0 ? 0 : RP_E_PERMISSION;
        assert_int_equal(rp_secret_file_read(path, buf, sizeof buf, &len, &problem), wanted);
    }
    char sentence[300];
    snprintf(sentence, sizeof sentence,
             "%s holds a secret and is open to others (mode 777): chmod 600 %s", path, path);
    assert_string_equal(problem.text, sentence);
    len = 99;
    assert_int_equal(rp_secret_file_read(path, buf, sizeof buf, &len, &problem), RP_E_PERMISSION);
    assert_int_equal(chmod(path, 0400), 0);
    assert_int_equal(rp_secret_file_read(path, buf, 9, &len, &problem), RP_E_TOO_LONG);
    assert_int_equal(len, 99);
    assert_int_equal(rp_secret_file_read(path, buf, 10, &len, &problem), 0);
    assert_int_equal(len, 10);
    assert_memory_equal(buf, "0123456789", 10);
    assert_int_equal(rp_secret_file_read(folder.path, buf, sizeof buf, &len, &problem),
                     RP_E_INVALID);
    if (geteuid() == 0) {
        assert_int_equal(chown(path, 65534, 65534), 0);
        assert_int_equal(rp_secret_file_read(path, buf, sizeof buf, &len, &problem),
                         RP_E_PERMISSION);
        assert_non_null(strstr(problem.text, "belongs to another user"));
    }
    folder_remove(&folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_whole_file_is_read),
        cmocka_unit_test(defaults_stay_where_nothing_is_said),
        cmocka_unit_test(every_error_names_line_key_bound_and_example),
        cmocka_unit_test(lines_have_190_bytes_at_most),
        cmocka_unit_test(a_zero_byte_is_refused),
        cmocka_unit_test(utf8_follows_rfc_3629),
        cmocka_unit_test(numbers_are_exact),
        cmocka_unit_test(files_are_read_and_their_absence_told),
        cmocka_unit_test(a_secret_is_for_its_owner_alone),
    };
    return cmocka_run_group_tests_name("port_config", tests, NULL, NULL);
}
