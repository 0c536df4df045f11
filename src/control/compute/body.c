/* Oxygen, and scores that are no record of their own. */
#include <stdio.h>
#include <string.h>

#include "clinical/oxygen.h"
#include "clinical/score/cold.h"
#include "clinical/score/old.h"
#include "control/compute/compute.h"

struct supply {
    struct rp_cylinder at[RP_OXYGEN_CYLINDERS_MAX];
    size_t count;
    bool open; /* the last one has a volume and no pressure yet */
};

static const char oxygen_example[] = "compute oxygen 3L/min 4L 210bar 4L 160bar until 9h";

/* `4L 210bar` begins and completes a cylinder; false: the word is something else. */
static int take_cylinder(struct rp_show *show, struct supply *supply, const char *text,
                         bool *out_taken)
{
    int32_t value;
    struct rp_entry *entry = show->entry;
    bool litres = rp_quantity_parse(RP_DIM_VOLUME, "water", text, &value, NULL) == 0;
    bool bar = rp_quantity_parse(RP_DIM_CYLINDER, "cylinder", text, &value, NULL) == 0;
    bool unit = text[strspn(text, "0123456789.")] != '\0';
    *out_taken = unit && (litres || bar);
    if (!*out_taken) {
        return RP_OK;
    }
    if (litres == supply->open || (litres && supply->count == RP_OXYGEN_CYLINDERS_MAX)) {
        return rp_problem_set(entry->problem, RP_E_FORMAT, "cylinder",
                              "every cylinder is its water volume and then its pressure, at most "
                              "32 of them (example: %s)",
                              oxygen_example);
    }
    int code = rp_entry_quantity(entry, litres ? RP_RANGE_WATER : RP_RANGE_CYLINDER, NULL,
                                 oxygen_example, text, &value);
    if (code == RP_OK && litres) {
        supply->at[supply->count].water_dl = value;
    } else if (code == RP_OK) {
        supply->at[supply->count++].pressure_bar = value;
    }
    supply->open = litres;
    return code;
}

enum { O_FLOW, O_UNTIL, O_RESERVE, O_FROM, O_TO, O_COUNT };

/* The words that are no cylinder, given to the table reader one by one. */
static int take_word(struct rp_show *show, struct rp_compute_word *words)
{
    const char *text = rp_entry_peek(show->entry);
    struct rp_entry *entry = show->entry, one = *entry;
    struct rp_show part = *show;
    part.entry = &one;
    bool keyed = strchr("0123456789", text[0]) == NULL;
    one.count =
        entry->next + (keyed ? 2 : 1) < entry->count ? entry->next + (keyed ? 2 : 1) : entry->count;
    unsigned flags;
    int code = rp_compute_read(&part, words, O_COUNT, NULL, &flags, oxygen_example);
    entry->next = one.next;
    return code;
}

static void show_cylinders(struct rp_show *show, const struct supply *supply, int32_t usable_dl,
                           int32_t reserve_bar)
{
    rp_text_add(show->text, "%zu cylinder%s, %d L usable above %d bar\n", supply->count,
                supply->count == 1 ? "" : "s", usable_dl / 10, reserve_bar);
    json_object_set_new(show->data, "usable_l", json_real(usable_dl / 10.0));
}

static void show_until(struct rp_show *show, int32_t usable_dl, int32_t lasts_s, int32_t until_s)
{
    int32_t flow_dlpm = 0;
    char span[24];
    if (lasts_s >= until_s) {
        rp_text_add(show->text, "lasts until then\n");
        return;
    }
    rp_oxygen_flow_until(usable_dl, until_s, &flow_dlpm);
    rp_text_add(show->text, "SHORT by %s; ", rp_show_span((uint32_t)(until_s - lasts_s), span));
    if (flow_dlpm > 0) {
        rp_text_add(show->text, "%d.%d L/min would last until then\n", flow_dlpm / 10,
                    flow_dlpm % 10);
    } else {
        rp_text_add(show->text, "no flow lasts until then\n");
    }
    json_object_set_new(show->data, "flow_until_lpm", json_real(flow_dlpm / 10.0));
}

int rp_compute_oxygen(struct rp_show *show)
{
    struct rp_compute_word words[O_COUNT] = {
        [O_FLOW] = {"flow", RP_RANGE_FLOW, true, "flow 2L/min", 0, false},
        [O_UNTIL] = {"until", RP_RANGE_UNTIL, false, "until 9h", 0, false},
        [O_RESERVE] = {"reserve", RP_RANGE_RESERVE, false, "reserve 10bar", RP_OXYGEN_RESERVE_BAR,
                       false},
        [O_FROM] = {"read-at", RP_RANGE_AIR_TEMP, false, "read-at -15C", 0, false},
        [O_TO] = {"like-at", RP_RANGE_AIR_TEMP, false, "like-at 15C", 0, false},
    };
    struct supply supply = {.count = 0};
    const char *text;
    int code = RP_OK;
    while (code == RP_OK && (text = rp_entry_peek(show->entry)) != NULL) {
        bool taken;
        code = take_cylinder(show, &supply, text, &taken);
        show->entry->next += taken;
        if (code == RP_OK && !taken) {
            code = take_word(show, words);
        }
    }
    code = code == RP_OK ? rp_compute_need(show, &words[O_FLOW], oxygen_example) : code;
    code = code == RP_OK ? rp_range_check_some(rp_range_of(RP_RANGE_FLOW), words[O_FLOW].value,
                                               oxygen_example, show->entry->problem)
                         : code;
    if (code == RP_OK && (supply.count == 0 || supply.open)) {
        code = rp_problem_set(show->entry->problem, RP_E_FORMAT, "cylinder",
                              "water volume and pressure of a cylinder are needed "
                              "(example: %s)",
                              oxygen_example);
    }
    if (code < 0) {
        return code;
    }
    int32_t usable_dl = 0, lasts_s = 0, like_bar = 0;
    char span[24];
    rp_oxygen_usable(supply.at, supply.count, words[O_RESERVE].value, &usable_dl);
    rp_oxygen_endurance(usable_dl, words[O_FLOW].value, &lasts_s);
    show_cylinders(show, &supply, usable_dl, words[O_RESERVE].value);
    rp_text_add(show->text, "at %d.%d L/min: %d h %02d min\n", words[O_FLOW].value / 10,
                words[O_FLOW].value % 10, lasts_s / 3600, lasts_s / 60 % 60);
    json_object_set_new(show->data, "lasts_s", json_integer(lasts_s));
    if (words[O_UNTIL].given) {
        rp_text_add(show->text,
                    "needed for %s: ", rp_show_span((uint32_t)words[O_UNTIL].value, span));
        show_until(show, usable_dl, lasts_s, words[O_UNTIL].value);
    }
    if (words[O_FROM].given && words[O_TO].given) {
        for (size_t i = 0; i < supply.count; i++) {
            rp_oxygen_at_temperature(supply.at[i].pressure_bar, 10 * words[O_FROM].value,
                                     10 * words[O_TO].value, &like_bar);
            rp_text_add(show->text, "%d bar read at %d C is like %d bar at %d C: no leak\n",
                        supply.at[i].pressure_bar, words[O_FROM].value, like_bar,
                        words[O_TO].value);
        }
    }
    return RP_OK;
}

/* `2/1/1/0/1`: headache, gut, fatigue, dizziness, sleep; "-": not asked. */
int rp_compute_old_score(struct rp_show *show)
{
    static const char example[] = "compute lls-1993 2/1/1/0/1";
    static const char *const grades[] = {"below 3", "3-4: mild", "5 and more: moderate or severe"};
    struct rp_lls_old old;
    struct rp_lls_old_result result;
    const char *text = rp_entry_take(show->entry);
    int count = 0;
    bool shape = text != NULL && strlen(text) == 2 * RP_LLS_OLD_ITEMS - 1;
    for (; shape && count < RP_LLS_OLD_ITEMS; count++) {
        char c = text[2 * count];
        shape = (c == '-' || (c >= '0' && c <= '3')) &&
                (count == RP_LLS_OLD_ITEMS - 1 || text[2 * count + 1] == '/');
        old.items[count] = (struct rp_reading){c != '-', c != '-' ? c - '0' : 0};
    }
    if (!shape || rp_lls_old_read(&old, &result) != 0) {
        return rp_problem_set(show->entry->problem, RP_E_INVALID, "lls-1993",
                              "five items of 0 to 3, or - for not asked: headache, gut, fatigue, "
                              "dizziness, sleep (example: %s)",
                              example);
    }
    rp_text_add(show->text, "Lake Louise score of %d: %s%d of 15%s%s\n", RP_LLS_OLD_VERSION,
                result.complete ? "" : "at least ", result.total,
                result.complete ? ", " : ", INCOMPLETE: no grade",
                result.complete ? grades[result.grade] : "");
    rp_text_add(show->text, "for reading old records only: never compare it with the score of "
                            "2018, which has no sleep item and other bounds\n");
    json_object_set_new(show->data, "total", json_integer(result.total));
    json_object_set_new(show->data, "score_version", json_integer(RP_LLS_OLD_VERSION));
    json_object_set_new(show->data, "complete", json_boolean(result.complete));
    return RP_OK;
}

static const char *stage_text(struct rp_reading stage, char out[12])
{
    snprintf(out, 12, stage.known ? "%d" : "open", stage.value);
    return out;
}

int rp_compute_cold(struct rp_show *show)
{
    static const char example[] = "compute cold voice temp 34.2 hace";
    static const char *const flags_known[] = {"hace",  "signs-of-life", "no-signs-of-life",
                                              "alert", "confused",      "voice",
                                              "pain",  "unresponsive",  NULL};
    struct rp_compute_word words[] = {{"temp", RP_RANGE_TEMP, true, "temp 31.5", 0, false}};
    unsigned flags;
    int code = rp_compute_read(show, words, 1, flags_known, &flags, example);
    if (code < 0) {
        return code;
    }
    struct rp_cold_input input = {.core_dc = {words[0].given, words[0].value},
                                  .signs_of_life = (flags & 4u) != 0   ? RP_TRUTH_NO
                                                   : (flags & 2u) != 0 ? RP_TRUTH_YES
                                                                       : RP_TRUTH_UNKNOWN,
                                  .brain_suspected = (flags & 1u) != 0};
    for (int level = 0; level < 5; level++) {
        if ((flags >> (3 + level) & 1u) != 0) {
            input.acvpu = (struct rp_reading){true, level};
        }
    }
    struct rp_cold cold;
    char core[12], response[12];
    rp_cold_stage(&input, &cold); /* the level is one of the five */
    rp_text_add(show->text,
                "stage by core temperature (original Swiss system): %s\n"
                "stage by responsiveness (revised Swiss system 2021, stages from memory): %s\n",
                stage_text(cold.by_core, core), stage_text(cold.by_response, response));
    rp_text_add(show->text, "%s",
                cold.falsified ? "SUSPECTED HACE FALSIFIES THE STAGE BY RESPONSE: a swollen brain "
                                 "looks like deeper cold\n"
                               : "");
    rp_text_add(show->text, "look for breathing and pulse for up to 60 s\n");
    json_object_set_new(show->data, "by_core",
                        cold.by_core.known ? json_integer(cold.by_core.value) : json_null());
    json_object_set_new(show->data, "by_response",
                        cold.by_response.known ? json_integer(cold.by_response.value)
                                               : json_null());
    json_object_set_new(show->data, "falsified", json_boolean(cold.falsified));
    return RP_OK;
}
