/* The treatment clock in words: where the patient is, how long, against which plan, what is next;
 * and the protocol table of drugs. */
#include <stdio.h>

#include "control/show/show.h"
#include "incident/watch/pumping.h"

static const char *illness_word(uint8_t illness)
{
    return illness == RP_LABEL_HACE ? "HACE" : illness == RP_LABEL_HAPE ? "HAPE" : "AMS";
}

static void show_totals(struct rp_show *show, const struct rp_course *course)
{
    char total[24];
    rp_text_add(show->text, "     in all %s%s at pressure in %u session%s",
                course->older_dropped ? "at least " : "", rp_show_span(course->total_s, total),
                course->sessions, course->sessions == 1 ? "" : "s");
    if (course->illness != 0) {
        const struct rp_illness_plan *plan = &course->plan;
        rp_text_add(show->text, "; plan %s: ", illness_word(course->illness));
        if (plan->usual_s > plan->least_s) {
            rp_text_add(show->text, "%u-%u min", plan->least_s / 60, plan->usual_s / 60);
        } else {
            rp_text_add(show->text, "at least %u min", plan->least_s / 60);
        }
        rp_text_add(show->text, " (common practice), field series %u min", plan->field_s / 60);
    }
    rp_text_add(show->text, "\n");
    if (course->unanswered > 0) {
        rp_text_add(show->text, "     %u session%s without an answer to \"why not down?\"\n",
                    course->unanswered, course->unanswered == 1 ? "" : "s");
    }
    if (course->has_deflation) {
        rp_text_add(show->text, "     last deflation took %u s%s\n", course->deflation_s,
                    course->deflation_fast ? ": FAST" : "");
    }
    if (course->clock_stepped) {
        rp_text_add(show->text, "     A CLOCK WAS MOVED between chamber events: compare the times "
                                "with a watch\n");
    }
}

static void show_now(struct rp_show *show, const struct rp_course *course)
{
    char span[24], left[24], time[24];
    uint32_t now_s = show->entry->now_s;
    if (course->inside) {
        rp_text_add(show->text, "     %s for %s", rp_phase_word(course->phase),
                    rp_show_span(course->phase_s, span));
        if (course->session_left_s > 0) {
            rp_text_add(show->text, "; %s at pressure left of this session\n",
                        rp_show_span(course->session_left_s, left));
        } else {
            rp_text_add(show->text, "; THE SESSION'S TIME IS OVER\n");
        }
        if (course->head_up) {
            rp_text_add(show->text, "     head end raised?\n");
        }
    } else if (course->rebound) {
        rp_text_add(show->text, "     watch for relapse until %s",
                    rp_show_time(now_s, course->rebound_until_s, time));
        rp_text_add(show->text, ", next check %s\n",
                    rp_show_time(now_s, course->rebound_check_s, time));
    }
    if (course->why_not_due && !course->inside) {
        rp_text_add(show->text, "     why not down? To be answered before a session\n");
    }
}

static void show_drugs(struct rp_show *show, const struct rp_episode *episode, json_t *data)
{
    struct rp_drug_due due[RP_DRUGS_MAX];
    const struct rp_protocol *protocol = rp_node_config(show->entry->node)->protocol;
    size_t count = rp_drugs_due(protocol, episode, due);
    json_t *rows = json_array();
    char at[24], given[24];
    for (size_t i = 0; i < count; i++) {
        uint32_t now_s = show->entry->now_s;
        rp_text_add(show->text, "     %s: given %s, interval over %s%s\n", due[i].drug->name,
                    rp_show_time(now_s, due[i].last->from.happened_s, given),
                    rp_show_time(now_s, due[i].due_s, at), now_s > due[i].due_s ? ": OVERDUE" : "");
        json_array_append_new(rows, json_pack("{s:s,s:I,s:I,s:b}", "drug", due[i].drug->name,
                                              "due_s", (json_int_t)due[i].due_s, "last_s",
                                              (json_int_t)due[i].last->from.happened_s, "reviewed",
                                              rp_protocol_reviewed(protocol)));
    }
    struct rp_drug_out out[RP_DRUGS_MAX];
    size_t counted = rp_drugs_out(protocol, episode, out);
    for (size_t i = 0; i < counted; i++) {
        rp_text_add(show->text, "     %s: %u dose%s", out[i].drug->name, out[i].doses,
                    out[i].doses == 1 ? "" : "s");
        rp_text_add(show->text, " of ");
        rp_show_amount(out[i].dose_milli, out[i].drug->unit, show->text);
        rp_text_add(show->text, " left by the count of %s, none for %s\n",
                    rp_show_time(show->entry->now_s, out[i].stock->from.happened_s, given),
                    rp_show_time(show->entry->now_s, out[i].out_s, at));
    }
    if (count > 0 && !rp_protocol_reviewed(protocol)) {
        rp_text_add(show->text, "     the protocol table is NOT REVIEWED\n");
    }
    json_object_set_new(data, "drugs_due", rows);
}

static json_t *course_data(const struct rp_course *course)
{
    json_t *json = json_pack(
        "{s:b,s:i,s:I,s:I,s:I,s:i,s:I,s:i,s:b,s:I,s:I,s:b,s:b,s:b}", "inside", course->inside,
        "session", course->session, "phase_s", (json_int_t)course->phase_s, "session_s",
        (json_int_t)course->session_s, "session_left_s", (json_int_t)course->session_left_s,
        "sessions", course->sessions, "total_s", (json_int_t)course->total_s, "unanswered",
        course->unanswered, "rebound", course->rebound, "rebound_until_s",
        (json_int_t)course->rebound_until_s, "rebound_check_s", (json_int_t)course->rebound_check_s,
        "why_not_due", course->why_not_due, "head_up", course->head_up, "clock_stepped",
        course->clock_stepped);
    json_object_set_new(json, "phase", json_string(rp_phase_word(course->phase)));
    json_object_set_new(json, "phase_since_s", json_integer(course->phase_since_s));
    json_object_set_new(json, "session_from_s", json_integer(course->session_from_s));
    json_object_set_new(json, "deflation_fast", json_boolean(course->deflation_fast));
    if (course->illness != 0) {
        const struct rp_illness_plan *plan = &course->plan;
        json_object_set_new(json, "plan",
                            json_pack("{s:s,s:i,s:i}", "illness", illness_word(course->illness),
                                      "least_s", (int)plan->least_s, "usual_s",
                                      (int)plan->usual_s));
    }
    return json;
}

/* Strokes as they were told, and the air inside by them; nothing when nobody told any. */
static void show_pumping(struct rp_show *show, const struct rp_pumping *pumping, json_t *data)
{
    char span[24], last[24];
    uint32_t now_s = show->entry->now_s;
    if (!pumping->told) {
        return;
    }
    uint32_t quiet_s = pumping->last_s < now_s ? now_s - pumping->last_s : 0;
    snprintf(last, sizeof last, "%u s", quiet_s);
    rp_text_add(show->text, "     %u stroke%s told, the last %s ago", pumping->strokes,
                pumping->strokes == 1 ? "" : "s",
                quiet_s < 180 ? last : rp_show_span(quiet_s, last));
    if (pumping->rate_dpm > 0) {
        rp_text_add(show->text, ", %u.%u a minute", pumping->rate_dpm / 10, pumping->rate_dpm % 10);
    }
    if (pumping->pumper[0] != '\0') {
        rp_text_add(show->text, "; %s, %s in 12 h", pumping->pumper,
                    rp_show_span(pumping->pumper_s, span));
    }
    rp_text_add(show->text, "\n");
    json_t *json = json_pack("{s:i,s:I,s:i,s:s,s:i}", "strokes", (int)pumping->strokes, "last_s",
                             (json_int_t)pumping->last_s, "rate_dpm", (int)pumping->rate_dpm,
                             "pumper", pumping->pumper, "pumper_s", (int)pumping->pumper_s);
    if (pumping->has_air) {
        rp_text_add(
            show->text,
            "     air inside by the strokes, an estimate: CO2 %.1f %%, in distress %.1f %%; "
            "oxygen %.1f %%, %.1f %%%s\n",
            100 * pumping->rest.co2_fraction, 100 * pumping->distress.co2_fraction,
            100 * pumping->rest.o2_fraction, 100 * pumping->distress.o2_fraction,
            pumping->rest.co2_fraction > RP_PUMP_CO2_AIM ? " (CO2 ABOVE 1 %)" : "");
        json_object_set_new(json, "air",
                            json_pack("{s:f,s:f,s:f,s:f}", "co2_rest", pumping->rest.co2_fraction,
                                      "co2_distress", pumping->distress.co2_fraction, "o2_rest",
                                      pumping->rest.o2_fraction, "o2_distress",
                                      pumping->distress.o2_fraction));
    }
    json_object_set_new(data, "pumping", json);
}

/* What the chamber needs here, strokes told or not. */
static void show_need(struct rp_show *show, const struct rp_pumping *pumping, json_t *data)
{
    if (!pumping->has_need) {
        return;
    }
    rp_text_add(show->text,
                "     CO2 at 1 %% needs %d strokes a minute, in distress %d; practical rule 12\n",
                pumping->needed_rest, pumping->needed_distress);
    json_object_set_new(
        data, "pump_need",
        json_pack("{s:i,s:i}", "rest", pumping->needed_rest, "distress", pumping->needed_distress));
}

/* Until when a descent can begin and end in daylight; nothing when nobody said how long it takes.
 */
static void show_last_start(struct rp_show *show, const struct rp_watch_input *input, json_t *data)
{
    struct rp_last_start last;
    char start[24], light[24], way[24];
    uint32_t now_s = show->entry->now_s;
    if (!rp_watch_last_start(input, &last) || last.light_end_s <= now_s) {
        return;
    }
    rp_text_add(show->text,
                "     last safe start down %s%s: light ends %s, the way takes %s x 1.5\n",
                rp_show_time(now_s, last.start_s, start), last.start_s <= now_s ? ", PAST" : "",
                rp_show_time(now_s, last.light_end_s, light), rp_show_span(last.way_s, way));
    json_object_set_new(data, "last_start_s", json_integer(last.start_s));
    json_object_set_new(data, "light_end_s", json_integer(last.light_end_s));
}

void rp_show_course(struct rp_show *show, const struct rp_episode *episode, json_t *data)
{
    struct rp_course course;
    struct rp_pumping pumping;
    struct rp_watch_input input = {.episode = episode,
                                   .now_s = show->entry->now_s,
                                   .plan = rp_node_config(show->entry->node)->plan};
    rp_node_watch_station(show->entry->node, episode, show->entry->moment, &input.station);
    rp_course_of(episode, rp_node_config(show->entry->node)->plan, show->entry->now_s, &course);
    json_t *json = course_data(&course);
    json_object_set_new(data, "course", json);
    if (course.sessions > 0) {
        show_now(show, &course);
        rp_pumping_of(episode, input.plan, &input.station, input.now_s, &pumping);
        show_pumping(show, &pumping, json);
        show_need(show, &pumping, json);
        show_totals(show, &course);
    }
    if (!episode->closed) {
        show_last_start(show, &input, json);
    }
    show_drugs(show, episode, data);
}

/* ", most in 24 h 20 mg"; nothing when the table does not say it. */
static void add_amount(struct rp_show *show, const char *words, uint32_t milli, uint8_t unit)
{
    static const char *const units[] = {"", "mg", "g", "mcg", "mL", "tablet", "puff", "IU"};
    if (milli == 0) {
        return;
    }
    rp_text_add(show->text, ", %s %u", words, milli / 1000);
    uint32_t rest = milli % 1000;
    rp_text_add(show->text, "%s", rest > 0 ? "." : "");
    for (uint32_t digit = 100; rest > 0; digit /= 10) {
        rp_text_add(show->text, "%u", rest / digit);
        rest %= digit;
    }
    rp_text_add(show->text, " %s", units[unit]);
}

/* "also: dexa, dexameth"; nothing without words. */
static void add_words(struct rp_show *show, const char *what,
                      const char words[RP_DRUG_WORDS_MAX][RP_NAME_LEN + 1])
{
    const char *before = what;
    for (size_t i = 0; i < RP_DRUG_WORDS_MAX && words[i][0] != '\0'; i++) {
        rp_text_add(show->text, "%s%s", before, words[i]);
        before = ", ";
    }
    rp_text_add(show->text, "%s", before == what ? "" : "\n");
}

static void show_drug(struct rp_show *show, const struct rp_drug *drug, json_t *rows)
{
    char span[24];
    json_t *cautions = json_array();
    rp_text_add(show->text, "\n%s", drug->name);
    for (unsigned route = 1; route <= RP_ROUTE_TOPICAL; route++) {
        if ((drug->routes >> route & 1) != 0) {
            rp_text_add(show->text, " %s", rp_word_of(rp_words_route, (int)route));
        }
    }
    add_amount(show, "usual", drug->dose_milli, drug->unit);
    add_amount(show, "largest", drug->single_milli, drug->unit);
    add_amount(show, "most in 24 h", drug->day_milli, drug->unit);
    if (drug->interval_s > 0) {
        rp_text_add(show->text, ", interval %s", rp_show_span(drug->interval_s, span));
    }
    rp_text_add(show->text, "%s\n", drug->vasodilator ? ", pulmonary vasodilator" : "");
    add_words(show, "     also called: ", drug->also);
    add_words(show, "     not with an allergy to: ", drug->allergy);
    for (size_t i = 0; i < RP_DRUG_CAUTIONS && drug->cautions[i][0] != '\0'; i++) {
        rp_text_add(show->text, "     caution: %s\n", drug->cautions[i]);
        json_array_append_new(cautions, json_string(drug->cautions[i]));
    }
    rp_text_add(show->text, "     source: %s\n", drug->source);
    json_array_append_new(rows, json_pack("{s:s,s:i,s:o,s:s}", "drug", drug->name, "interval_s",
                                          (int)drug->interval_s, "cautions", cautions, "source",
                                          drug->source));
}

/* `drugs`: what entries are compared with. */
int rp_show_drugs(struct rp_show *show)
{
    const struct rp_protocol *protocol = rp_node_config(show->entry->node)->protocol;
    json_t *rows = json_array();
    json_object_set_new(show->data, "drugs", rows);
    if (protocol == NULL) {
        rp_text_add(show->text, "no protocol table: doses are recorded, not checked\n");
        return RP_OK;
    }
    bool reviewed = rp_protocol_reviewed(protocol);
    rp_text_add(show->text, "%s\n%s%s%s%s\n", protocol->title,
                reviewed ? "reviewed by " : "NOT REVIEWED", reviewed ? protocol->reviewed_by : "",
                reviewed ? ", " : "", reviewed ? protocol->reviewed_on : "");
    json_object_set_new(show->data, "reviewed", json_boolean(reviewed));
    for (size_t i = 0; i < protocol->count; i++) {
        show_drug(show, &protocol->drugs[i], rows);
    }
    rp_text_add(show->text, "\nA record to compare with, no advice: the treating clinician "
                            "decides. Not a medical device.\n");
    return RP_OK;
}
