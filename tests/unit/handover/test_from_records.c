/* Records folded by the incident room, then printed: the two rooms mean the same by an episode. */
#include "rp_test.h"

#include <string.h>

#include "scenario.h"

static struct scenario scenario;
static char sheet[RP_SHEET_TEXT_LEN_MAX];
static uint32_t next_seq;

static struct rp_record_ref add(struct rp_record record, uint8_t station, uint32_t time_s,
                                const char *by)
{
    struct rp_record_ref ref = {(uint16_t)(station << 9 | 5), ++next_seq};
    record.time_s = time_s;
    record.episode = scenario.episode.ref;
    scenario_text(record.by, sizeof record.by, by);
    assert_int_equal(rp_episode_add(&scenario.episode, &record, ref), 0);
    return ref;
}

static struct rp_record status(uint16_t age_min, int16_t spo2, int16_t pulse)
{
    struct rp_record record = {.kind = RP_REC_STATUS};
    record.as.status.condition = RP_COND_SAME;
    record.as.status.mode = RP_MODE_AIR;
    record.as.status.vitals_age_min = age_min;
    record.as.status.spo2_pct = (struct rp_value){RP_MEASURED, spo2};
    record.as.status.pulse_bpm = (struct rp_value){RP_MEASURED, pulse};
    record.as.status.resp_rpm = (struct rp_value){RP_UNABLE, 0};
    return record;
}

static struct rp_record chamber(uint8_t phase)
{
    struct rp_record record = {.kind = RP_REC_CHAMBER};
    record.as.chamber.phase = phase;
    record.as.chamber.session = 1;
    record.as.chamber.gauge_dhpa = (struct rp_value){RP_MEASURED, 1379};
    return record;
}

static void begin(void)
{
    scenario_empty(&scenario);
    struct rp_episode_ref ref = scenario.episode.ref;
    rp_episode_init(&scenario.episode, ref);
    next_seq = 0;
    struct rp_record opened = {.kind = RP_REC_EPISODE};
    scenario_text(opened.as.opened.patient, sizeof opened.as.opened.patient, "M. Tarn");
    opened.as.opened.label = RP_LABEL_HAPE;
    add(opened, RIDGE_CAMP, T25(12, 40), "Ines Okafor");
}

/* Prints the sheet and takes its wrapping back: every run of spaces and line ends is one space. */
static void print(void)
{
    rp_episode_finish(&scenario.episode, NOW_S);
    assert_true(rp_sheet_text(&scenario.input, sheet, sizeof sheet) > 0);
    size_t len = 0;
    for (const char *at = sheet; *at != '\0'; at++) {
        char c = *at == '\n' ? ' ' : *at;
        if (c != ' ' || len == 0 || sheet[len - 1] != ' ') {
            sheet[len++] = c;
        }
    }
    sheet[len] = '\0';
}

static void assert_says(const char *line)
{
    if (strstr(sheet, line) == NULL) {
        print_error("not on the sheet: %s\n%s", line, sheet);
    }
    assert_non_null(strstr(sheet, line));
}

static void a_running_session_and_old_values(void **state)
{
    (void)state;
    begin();
    add(status(0, 68, 122), RIDGE_CAMP, T25(13, 0), "Ines Okafor");
    add(chamber(RP_PHASE_CLOSED), RIDGE_CAMP, T25(13, 50), "Ines Okafor");
    add(chamber(RP_PHASE_AT_PRESSURE), RIDGE_CAMP, T25(14, 4), "Ines Okafor");
    print();
    assert_says("SUSPECTED HAPE - M. Tarn");
    assert_says("SpO2 68 %, pulse 122 /min, resp tried, NO RESULT (on air, 1 h 47 old)");
    assert_says("IN CHAMBER 43 min at pressure, up to 2.0 psi (138 hPa), session 1");
    assert_says("EVAC NO REQUEST HELD HERE");
    assert_says("*** NOT ASKED - NOT KNOWN ***");
    assert_says("NO REPORT 13:00Z (18:45) - 13:50Z (19:35), 14:04Z (19:49) TO NOW");
    assert_says("TRIED, NO RESULT: resp");
}

static void a_corrected_dose_and_an_answered_request(void **state)
{
    (void)state;
    begin();
    struct rp_record dose = {.kind = RP_REC_TREATMENT, .ago_s = 600, .via = RP_VIA_PAPER};
    scenario_text(dose.as.treatment.name, sizeof dose.as.treatment.name, "dexamethasone");
    dose.as.treatment.has_dose = true;
    dose.as.treatment.dose_milli = 80000;
    dose.as.treatment.dose_unit = RP_DOSE_MG;
    dose.as.treatment.route = RP_ROUTE_IM;
    struct rp_record correction = {.kind = RP_REC_CORRECTION};
    correction.as.correction.about = add(dose, RIDGE_CAMP, T25(13, 0), "Ines Okafor");
    dose.as.treatment.dose_milli = 8000;
    correction.as.correction.replacement = add(dose, RIDGE_CAMP, T25(13, 2), "Ines Okafor");
    add(correction, RIDGE_CAMP, T25(13, 3), "Ines Okafor");
    struct rp_record request = {.kind = RP_REC_EVACUATION};
    request.as.evacuation.urgency = RP_URG_E1_NOW;
    struct rp_record answer = {.kind = RP_REC_ANSWER};
    answer.as.answer.about = add(request, RIDGE_CAMP, T25(14, 10), "Ines Okafor");
    answer.as.answer.kind = RP_ANS_ETA;
    answer.as.answer.has_eta = true;
    answer.as.answer.eta_s = T25(14, 30);
    add(answer, LAKE_CAMP, T25(14, 15), "Pelle Aandal");
    print();
    assert_says("12:52Z (18:37) dexamethasone 8 mg IM by Ines Okafor");
    assert_says("CORRECTED: was 12:50Z (18:35) dexamethasone 80 mg IM");
    assert_says("(entered 13:00Z (18:45) from paper)");
    assert_says("EVAC E1 NOW, REQUESTED; ETA 14:30Z (20:15) PASSED 17 min ago, NOT READ BACK");
}

/* What base enters about the patient is no news of the patient: rp_episode_word_s. */
static void news_is_what_the_camp_says(void **state)
{
    (void)state;
    begin();
    add(status(0, 68, 122), RIDGE_CAMP, T25(13, 0), "Ines Okafor");
    struct rp_record note = {.kind = RP_REC_NOTE};
    scenario_text(note.as.note.text, sizeof note.as.note.text, "helicopter asked for by voice");
    add(note, LAKE_CAMP, T25(14, 44), "Pelle Aandal");
    print();
    assert_says("NEWS NO NEWS SINCE 13:00Z (18:45), 1 h 47 old, from Ridge Camp");
    /* Only base's own entries are held. */
    scenario_empty(&scenario);
    struct rp_episode_ref ref = scenario.episode.ref;
    rp_episode_init(&scenario.episode, ref);
    add(note, LAKE_CAMP, T25(14, 44), "Pelle Aandal");
    print();
    assert_says("NEWS NO WORD FROM THE CAMP HELD");
    assert_null(strstr(sheet, "no silence"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_running_session_and_old_values),
        cmocka_unit_test(a_corrected_dose_and_an_answered_request),
        cmocka_unit_test(news_is_what_the_camp_says),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
