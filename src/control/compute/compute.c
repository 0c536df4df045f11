#include "control/compute/compute.h"

#include <string.h>

static const struct {
    const char *word;
    rp_compute_command *run;
} commands[] = {
    {"chamber", rp_compute_chamber},   {"pressure", rp_compute_pressure},
    {"pump", rp_compute_pump},         {"oxygen", rp_compute_oxygen},
    {"daylight", rp_compute_daylight}, {"position", rp_compute_position},
    {"weather", rp_compute_weather},   {"lls-1993", rp_compute_old_score},
    {"cold", rp_compute_cold},
};

const char *rp_compute_usage(void)
{
    return "compute chamber 5480m 2psi altimeter 3400m station-pressure 527hPa\n"
           "compute pressure 5480m\n"
           "compute pump 5000m -15C gauge 2psi volume 500L stroke 2L strokes 12/min\n"
           "compute oxygen 3L/min 4L 210bar 4L 160bar until 9h\n"
           "compute daylight 28.1041,86.7523 descent 4h\n"
           "compute position \"45R VL 92657 95875\" from 28.1041,86.7523\n"
           "compute weather 5000m -15C wind 40km/h\n"
           "compute lls-1993 2/1/1/0/1\n"
           "compute cold voice temp 34.2 hace\n";
}

int rp_show_compute(struct rp_show *show)
{
    const char *word = rp_entry_take(show->entry);
    for (size_t i = 0; word != NULL && i < sizeof commands / sizeof commands[0]; i++) {
        if (strcmp(commands[i].word, word) == 0) {
            return commands[i].run(show);
        }
    }
    if (word == NULL) {
        rp_text_add(show->text, "%s", rp_compute_usage());
        return RP_OK;
    }
    return rp_problem_set(show->entry->problem, RP_E_FORMAT, "compute",
                          "compute: \"%.24s\" is none of chamber, pressure, pump, oxygen, "
                          "daylight, position, weather, lls-1993, cold (example: compute chamber "
                          "5480m 2psi)",
                          word);
}

/* A bare quantity must carry a unit, or it could be anything. */
static bool has_unit(const char *text)
{
    size_t len = strlen(text);
    return len > 0 && (text[len - 1] < '0' || text[len - 1] > '9') && text[len - 1] != '.';
}

static struct rp_compute_word *find_bare(struct rp_compute_word *words, size_t count,
                                         const char *text)
{
    for (size_t i = 0; has_unit(text) && i < count; i++) {
        int32_t value;
        const struct rp_range *range = rp_range_of(words[i].range);
        if (words[i].bare && !words[i].given &&
            rp_quantity_parse(range->dimension, words[i].word, text, &value, NULL) == 0) {
            return &words[i];
        }
    }
    return NULL;
}

static struct rp_compute_word *find_word(struct rp_compute_word *words, size_t count,
                                         const char *text)
{
    for (size_t i = 0; i < count; i++) {
        if (strcmp(words[i].word, text) == 0) {
            return &words[i];
        }
    }
    return NULL;
}

static bool take_flag(const char *const *flags, const char *text, unsigned *flags_set)
{
    for (unsigned i = 0; flags != NULL && flags[i] != NULL; i++) {
        if (strcmp(flags[i], text) == 0) {
            *flags_set |= 1u << i;
            return true;
        }
    }
    return false;
}

int rp_compute_read(struct rp_show *show, struct rp_compute_word *words, size_t count,
                    const char *const *flags, unsigned *out_flags, const char *example)
{
    const char *text;
    struct rp_entry *entry = show->entry;
    *out_flags = 0;
    while ((text = rp_entry_take(entry)) != NULL) {
        if (take_flag(flags, text, out_flags)) {
            continue;
        }
        struct rp_compute_word *word = find_word(words, count, text);
        int code = RP_OK;
        if (word != NULL) {
            code = rp_entry_need(entry, word->word, word->example, &text);
        } else if ((word = find_bare(words, count, text)) == NULL) {
            code = rp_problem_set(entry->problem, RP_E_FORMAT, "compute",
                                  "\"%.24s\" is not known here; every number needs its unit "
                                  "(example: %s)",
                                  text, example);
        }
        if (code == RP_OK) {
            code = rp_entry_quantity(entry, word->range, word->word, word->example, text,
                                     &word->value);
        }
        if (code < 0) {
            return code;
        }
        word->given = true;
    }
    return RP_OK;
}

int rp_compute_need(struct rp_show *show, const struct rp_compute_word *word, const char *example)
{
    return word->given ? RP_OK
                       : rp_problem_set(show->entry->problem, RP_E_FORMAT, word->word,
                                        "%s is missing (example: %s)", word->word, example);
}

bool rp_compute_home(const struct rp_show *show, struct rp_altitude *out_altitude,
                     struct rp_position *out_position)
{
    if (show->entry->node == NULL) {
        return false;
    }
    const struct rp_node_config *config = rp_node_config(show->entry->node);
    *out_altitude = config->altitude;
    *out_position = config->position;
    return true;
}
