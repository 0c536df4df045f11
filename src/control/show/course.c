/* The treatment clock in words: where the patient is, how long, against which plan, what is next;
 * and the protocol table of drugs. */
#include "control/show/show.h"

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

void rp_show_course(struct rp_show *show, const struct rp_episode *episode, json_t *data)
{
    struct rp_course course;
    rp_course_of(episode, rp_node_config(show->entry->node)->plan, show->entry->now_s, &course);
    if (course.sessions > 0) {
        show_now(show, &course);
        show_totals(show, &course);
    }
    json_object_set_new(data, "course", course_data(&course));
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
