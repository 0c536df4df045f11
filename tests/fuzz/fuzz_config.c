/* Any bytes as a configuration file: either all of it is taken, within its bounds, or the struct
 * is as before and a problem is told. */
#include <stdlib.h>
#include <string.h>

#include "port/files/config.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

struct fields {
    int64_t number, fraction;
    char guard_before, text[12], guard_after;
    bool on, given;
    int choice;
};

static const char *const words[] = {"one", "two", NULL};

static const struct rp_config_key keys[] = {
    {"a", "number", RP_CONFIG_NUMBER, offsetof(struct fields, number), 0, -5, 300, 0, NULL, true,
     true, offsetof(struct fields, given), "7"},
    {"a", "fraction", RP_CONFIG_NUMBER, offsetof(struct fields, fraction), 0, INT64_MIN, INT64_MAX,
     9, NULL, false, false, 0, "0.5"},
    {"b", "text", RP_CONFIG_TEXT, offsetof(struct fields, text), 12, 0, 100, 0, NULL, false, false,
     0, "abc"},
    {"b", "on", RP_CONFIG_SWITCH, offsetof(struct fields, on), 0, 0, 0, 0, NULL, false, false, 0,
     "yes"},
    {"b", "choice", RP_CONFIG_CHOICE, offsetof(struct fields, choice), 0, 0, 0, 0, words, false,
     false, 0, "one"},
};

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct fields fields, before;
    memset(&fields, 0, sizeof fields);
    fields.guard_before = fields.guard_after = 'G';
    before = fields;
    struct rp_problem problem = {0};
    int rc = rp_config_parse("fuzz.conf", (struct rp_view){data, size}, keys,
                             sizeof keys / sizeof keys[0], &fields, sizeof fields, &problem);
    bool kept = memcmp(&fields, &before, sizeof fields) == 0;
    bool sane = fields.guard_before == 'G' && fields.guard_after == 'G' && fields.given &&
                fields.number >= -5 && fields.number <= 300 && fields.choice >= 0 &&
                fields.choice <= 1 && memchr(fields.text, 0, sizeof fields.text) != NULL;
    bool told = problem.code == rc && memchr(problem.text, 0, sizeof problem.text) != NULL;
    if (rc == 0 ? !sane : !kept || !told || problem.text[0] == '\0') {
        abort();
    }
    return 0;
}
