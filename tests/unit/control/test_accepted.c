/* Lines that are accepted, each with the record it makes (tests/unit/control/dump.h), one minute
 * apart from 2026-02-25T12:00:00Z on. Conversions by the exact definitions: 1 psi = 68.94757 hPa,
 * 1 kt = 1.852 km/h, 97.5 F = 36.39 C (NIST SP 811, appendix B). The field numbers are those of
 * wire/record.h. */
#include "rp_test.h"

#include <string.h>

#include "ctl.h"
#include "dump.h"

struct row {
    const char *line, *record;
};

/* clang-format off */
static const struct row rows[] = {
    {"open hace patient \"M. Tarn\" sex m age 34 weight 71kg onset 6h yes ataxia,mental "
     "no cough allergies none medicines \"ibuprofen 400 mg\"",
     "3 allergies=NONE medicines=ibuprofen 400 mg"},
    {"open hace hape patient B sex female age 0 weight 2kg onset 11:00Z reached 20h "
     "sign \"staggering at dusk\" lls 3/2/-/1 altitude 5480m gps at 27.98800,86.92533",
     "2 patient=\"B\" sex=1 age_y=0 weight_kg=2 onset=now-3660 label=6 headache=3 gut=2 "
     "dizziness=1 first_sign=\"staggering at dusk\" reached=now-72000 altitude=5480/1 "
     "position=27988000,86925330"},
    {"open other \"chest infection\" patient C weight 250kg age 110 altitude -450m map",
     "2 patient=\"C\" age_y=110 weight_kg=250 label=8 label_text=\"chest infection\" "
     "altitude=-450/2 position=27988000,86925330"},
    {"background 7-1 allergies \"sulfa: rash\" history asthma meal \"soup 16:00Z\" "
     "contact unasked",
     "3 allergies=sulfa: rash history=asthma last_meal=soup 16:00Z"},
    {"obs 7-1 spo2 71 air pulse 118 resp 28 bp 132/84 temp 36.4 oral confused gcs "
     "4/4/6 lls 7 ataxia 2 worse",
     "4 condition=4 mode=1 spo2=71 pulse=118 resp=28 acvpu=1 eye=4 verbal=4 motor=6 "
     "systolic=132 diastolic=84 temp_dc=364 site=1 lls=7 ataxia=2"},
    {"obs 7-1 spo2 unable pulse 96 airway noisy",
     "4 spo2=unable pulse=96 airway=2 pressure_age_min=5 systolic=132 diastolic=84 "
     "temp_age_min=5 temp_dc=364 site=1 score_age_min=5 lls=7 ataxia=2"},
    {"obs 7-1 bp unable temp unable gcs unable",
     "4 eye=unable verbal=unable motor=unable systolic=unable diastolic=unable "
     "temp_dc=unable score_age_min=5 lls=7 ataxia=2"},
    {"obs 7-1 temp 97.5F tympanic",
     "4 vitals_age_min=2 spo2=unable pulse=96 airway=2 pressure_age_min=5 systolic=132 "
     "diastolic=84 temp_dc=364 site=2 score_age_min=5 lls=7 ataxia=2"},
    {"obs 7-1 spo2 100 chamber+oxygen pulse 35 resp 8 --sure",
     "4 mode=4 spo2=100 pulse=35 resp=8 pressure_age_min=5 systolic=132 diastolic=84 "
     "temp_age_min=5 temp_dc=364 site=2 score_age_min=5 lls=7 ataxia=2"},
    {"obs 7-1 spo2 50 air pulse 180 resp 50",
     "4 mode=1 spo2=50 pulse=180 resp=50 pressure_age_min=5 systolic=132 diastolic=84 "
     "temp_age_min=5 temp_dc=364 site=2 score_age_min=5 lls=7 ataxia=2"},
    {"obs 7-1 flow 2L/min cylinder 140bar",
     "4 mode=1 vitals_age_min=1 spo2=50 pulse=180 resp=50 flow_dlpm=20 "
     "cylinder_bar=140 pressure_age_min=15 systolic=132 diastolic=84 temp_age_min=5 "
     "temp_dc=364 site=2 score_age_min=15 lls=7 ataxia=2"},
    {"--by Ines --via voice --ago 20min note 7-1 vomited once, \"head end raised\"",
     "10 ago_s=1200 via=2 by=\"Ines\" text=\"vomited once, head end raised\""},
    {"give 7-1 dexamethasone 8mg im checked Jory",
     "5 kind=0 name=\"dexamethasone\" dose_milli=8000 unit=1 route=3 checker=\"Jory\""},
    {"give 7-1 dexamethasone 0.004g po by Sabe because \"after vomiting\"",
     "5 by=\"Sabe\" kind=0 name=\"dexamethasone\" dose_milli=4 unit=2 route=1 text=\"after "
     "vomiting\""},
    {"give 7-1 \"warm tea\" 0.5L po",
     "5 kind=1 name=\"warm tea\" dose_milli=500000 unit=4 route=1"},
    {"give 7-1 \"hot bottles\"",
     "5 kind=2 name=\"hot bottles\""},
    {"give 7-1 nifedipine 30mg po refused",
     "5 kind=0 name=\"nifedipine\" dose_milli=30000 unit=1 route=1 refused=1"},
    {"oxygen 7-1 start prongs 2L/min cylinder A 180bar water 4L",
     "6 action=0 device=1 flow_dlpm=20 cylinder=\"A\" cylinder_bar=180 water_dl=40"},
    {"oxygen 7-1 change mask 5.5L/min",
     "6 action=1 device=2 flow_dlpm=55"},
    {"oxygen 7-1 reading 120bar",
     "6 action=3 cylinder_bar=120"},
    {"oxygen 7-1 stop",
     "6 action=2"},
    {"descent 7-1 no dark \"first light 05:40Z\" again 60min",
     "9 descending=0 why_not=1 again_min=60 text=\"first light 05:40Z\""},
    {"descent 7-1 yes",
     "9 descending=1"},
    {"chamber 7-1 close",
     "7 phase=1 session=1"},
    {"chamber 7-1 pressurise",
     "7 phase=2 session=1"},
    {"chamber 7-1 hold ears \"left ear\"",
     "7 phase=4 session=1 hold=1 text=\"left ear\""},
    {"chamber 7-1 resume",
     "7 phase=3 session=1"},
    {"chamber 7-1 at 2psi altimeter 3420m",
     "7 phase=3 session=1 gauge_dhpa=1379 altimeter_m=3420"},
    {"chamber 7-1 at 138hPa",
     "7 phase=3 session=1 gauge_dhpa=1380"},
    {"chamber 7-1 deflate",
     "7 phase=5 session=1"},
    {"chamber 7-1 out",
     "7 phase=6 session=1"},
    {"reassess 7-1 better next session ataxia 2 walks no mental no functional 2 lls "
     "1/1/1/0 \"sat up alone\"",
     "8 condition=2 next=1 headache=1 gut=1 fatigue=1 dizziness=0 functional=2 "
     "mental=no walks=no ataxia=2 text=\"sat up alone\""},
    {"evacuate 7-1 e1 stretcher weight 85kg conscious yes oxygen yes flat no site "
     "27.9884,86.926 area 40x30 surface snow slope 4 obstacles \"flags north\" marked "
     "yes wind 20kt from 270 gust 45km/h temp -15C visibility 5km cloud 6200m weather "
     "clear hazards \"serac west\" contact \"145.500 MHz\" needs doctor,oxygen party 3 "
     "daylight 11:45Z insurance none fallback \"carry down\"",
     "11 urgent=1 urgency=1 patients=1 weight_kg=85 mobility=3 conscious=yes "
     "oxygen=yes flat=no marked=yes position=27988000,86925330 altitude=5480/1 "
     "site=27988400,86926000 length_m=40 width_m=30 surface=1 slope_deg=4 "
     "obstacles=\"flags north\" wind_kmh=37 from_deg=270 gust_kmh=45 temp_c=-15 "
     "visibility_m=5000 cloud_m=6200 weather=\"clear\" hazards=\"serac west\" "
     "contact=\"145.500 MHz\" needs=3 party=3 daylight=now+83580 insurance=NONE "
     "fallback=\"carry down\""},
    {"evacuate 7-1 revise cloud 5900m",
     "11 urgent=1 revises=7:35 urgency=1 patients=1 weight_kg=85 mobility=3 "
     "conscious=yes oxygen=yes flat=no marked=yes position=27988000,86925330 "
     "altitude=5480/1 site=27988400,86926000 length_m=40 width_m=30 surface=1 "
     "slope_deg=4 obstacles=\"flags north\" wind_kmh=37 from_deg=270 gust_kmh=45 "
     "temp_c=-15 visibility_m=5000 cloud_m=5900 weather=\"clear\" hazards=\"serac west\" "
     "contact=\"145.500 MHz\" needs=3 party=3 daylight=now+83520 insurance=NONE "
     "fallback=\"carry down\""},
    {"--by Pelle answer 7-1 seen",
     "13 by=\"Pelle\" about=7:37 kind=1"},
    {"--by Pelle answer 7-1 eta arrives 09:30Z from \"Valley Air 3\"",
     "13 by=\"Pelle\" about=7:37 kind=5 whom=\"Valley Air 3\" eta=now+75300"},
    {"--by Pelle answer 7-1 passed-on to \"Valley Air 3\" \"two pilots\"",
     "13 by=\"Pelle\" about=7:37 kind=2 whom=\"Valley Air 3\" text=\"two pilots\""},
    {"--by Pelle answer 7:2 advice \"keep him warm\"",
     "13 by=\"Pelle\" about=7:2 kind=7 text=\"keep him warm\""},
    {"readback 7-1 \"09:30Z at the lower site\"",
     "14 about=7:42 text=\"09:30Z at the lower site\""},
    {"evacuate 7-1 cancel \"walking down\"",
     "12 urgent=1 request=7:37 reason=\"walking down\""},
    {"evacuate 7-1 e4", /* the patient's weight is not the weight with kit, which a crew lifts */
     "11 urgent=1 urgency=4 patients=1 "
     "position=27988000,86925330 altitude=5480/1"},
    {"taken 7-1 team \"Valley Air 3\" person \"Dr Lindqvist\" sheet 2 K7QP \"asked about "
     "allergies\"",
     "16 team=\"Valley Air 3\" taken_by=\"Dr Lindqvist\" sheet=2 check=\"K7QP\" text=\"asked "
     "about allergies\""},
    {"correct 7:2 void \"wrong patient\"",
     "17 about=7:2 reason=\"wrong patient\""},
    {"close 7-1 handed-over \"flown out\"",
     "18 outcome=1 text=\"flown out\""},
    {"correct 7:15 with 7:16 \"dose was 4 mg\"",
     "17 about=7:15 with=7:16 reason=\"dose was 4 mg\""},
    {"fluids 7-1 urine 300mL over 4h fluid 0.5L", "23 urine=300 drunk=500 span_min=240"},
    {"fluids 7-1 urine unable fluid 5000mL", "23 urine=unable drunk=5000"},
    {"fluids 7-1 urine 0mL over 90s", "23 urine=0 span_min=2"},
};
/* clang-format on */

static void each_line_makes_this_record(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char text[DUMP_LEN];
        ctl_ok(&ctl, rows[i].line);
        struct rp_record record = ctl_last(&ctl);
        dump_record(&record, rp_node_net_time(ctl.kit.node, ctl.kit.moment), text);
        if (strcmp(text, rows[i].record) != 0) {
            fail_msg("%s:\n  is        %s\n  should be %s", rows[i].line, text, rows[i].record);
        }
        kit_pass(&ctl.kit, 60);
    }
    ctl_end(&ctl);
}

static void a_line_with_background_makes_two_records(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    assert_string_equal(ctl_ok(&ctl, "open hace patient A allergies none"),
                        "recorded 7:2 episode opened\n"
                        "recorded 7:3 patient background, episode 7-1\n");
    const json_t *data = json_object_get(ctl.reply, "data");
    assert_string_equal(json_string_value(json_object_get(data, "episode")), "7-1");
    assert_int_equal(json_array_size(json_object_get(data, "records")), 2);
    ctl_end(&ctl);
}

/* Values not measured now are repeated with their age, rounded up (on air in steps, finer for the
 * vital signs: PROTOCOL.md, "Status report"); sets stay together. */
static void a_report_repeats_older_values_with_their_age(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    char text[DUMP_LEN];
    ctl_ok(&ctl, "open hace patient A");
    ctl_ok(&ctl, "obs spo2 71 air pulse 118 bp 132/84 temp 36.4 oral lls 7");
    kit_pass(&ctl.kit, 61);
    ctl_ok(&ctl, "report worse next 14.5min");
    struct rp_record record = ctl_last(&ctl);
    dump_record(&record, 0, text);
    assert_string_equal(text,
                        "4 condition=4 mode=1 vitals_age_min=2 spo2=71 pulse=118 "
                        "pressure_age_min=5 systolic=132 diastolic=84 temp_age_min=5 temp_dc=364 "
                        "site=1 score_age_min=5 lls=7 next_min=15");
    ctl_end(&ctl);
}

/* A repeat is never told as taken now: age 0 would fold into a second set of what was measured
 * once. Nor is what was measured after the time the report is of. */
static void a_repeat_in_the_same_second_is_no_new_value(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    const struct rp_episode *episode;
    const struct rp_holding *holdings;
    size_t count;
    char text[DUMP_LEN];
    ctl_ok(&ctl, "open hace patient A");
    ctl_ok(&ctl, "obs spo2 71 air pulse 118 bp 132/84");
    ctl_ok(&ctl, "obs spo2 73 air");
    struct rp_record record = ctl_last(&ctl);
    dump_record(&record, 0, text);
    assert_string_equal(text, "4 mode=1 spo2=73 pressure_age_min=5 systolic=132 diastolic=84");
    assert_int_equal(
        rp_node_episode(ctl.kit.node, record.episode, ctl.kit.moment, &episode, &holdings, &count),
        RP_OK);
    int pressures = 0;
    for (size_t i = 0; i < episode->obs.count; i++) {
        pressures += episode->obs.at[i].systolic_mmhg.state == RP_MEASURED;
    }
    assert_int_equal(pressures, 1);
    kit_pass(&ctl.kit, 600);
    ctl_ok(&ctl, "obs bp 120/80");
    ctl_ok(&ctl, "--ago 5min obs lls 7");
    record = ctl_last(&ctl);
    dump_record(&record, 0, text);
    assert_string_equal(text, "4 ago_s=300 mode=1 vitals_age_min=5 spo2=73 pressure_age_min=5 "
                              "systolic=132 diastolic=84 lls=7");
    ctl_end(&ctl);
}

/* The request tells a conscious level of the last ten minutes; an older one is missing. */
static void a_request_tells_no_old_conscious_level(void **state)
{
    (void)state;
    static const struct {
        const char *level;
        unsigned age_s;
        int told;
    } rows_of_level[] = {{"alert", 600, RP_FINDING_YES},
                         {"unresponsive", 600, RP_FINDING_NO},
                         {"alert", 601, RP_FINDING_NOT_ASKED},
                         {"unresponsive", 601, RP_FINDING_NOT_ASKED}};
    for (size_t i = 0; i < sizeof rows_of_level / sizeof rows_of_level[0]; i++) {
        struct ctl ctl = ctl_new();
        char line[80];
        ctl_ok(&ctl, "open hace patient A");
        snprintf(line, sizeof line, "obs %s", rows_of_level[i].level);
        ctl_ok(&ctl, line);
        kit_pass(&ctl.kit, rows_of_level[i].age_s);
        ctl_ok(&ctl, "evacuate e1");
        assert_int_equal(ctl_last(&ctl).as.evacuation.conscious, rows_of_level[i].told);
        ctl_end(&ctl);
    }
}

static void a_correction_stays_within_its_episode(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient A"); /* 7:2 */
    ctl_ok(&ctl, "open hape patient B"); /* 7:3 */
    ctl_ok(&ctl, "note 7-1 x");          /* 7:4 */
    ctl_ok(&ctl, "note 7-2 y");          /* 7:5 */
    ctl_refused(&ctl, "correct 7:4 with 7:4 z", "RP_E_CONFLICT",
                "correct: a record cannot take its own place (example: correct 7:12 with 7:15 "
                "\"dose was 4 mg\")");
    ctl_refused(&ctl, "correct 7:4 with 7:5 z", "RP_E_CONFLICT",
                "correct: the two records are of different episodes (example: correct 7:12 with "
                "7:15 \"dose was 4 mg\")");
    ctl_end(&ctl);
}

/* Clinical references 3.5: 0 to 10, as the patient says it. The word "pain" alone is a level of
 * consciousness, so the score has a word of its own. */
static void pain_is_a_number_from_0_to_10(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    char text[DUMP_LEN];
    static const struct {
        const char *line, *record;
    } told[] = {
        {"obs pain-score 0 spo2 71 air", "4 mode=1 spo2=71 pain=0"},
        {"obs pain-score 10 alert", "4 acvpu=0 pain=10"},
        {"obs pain-score unable", "4 pain=unable"},
        {"obs pain", "4 acvpu=3"}, /* answers pain only */
        {"obs pain-score 4", "4 pain=4"},
    };
    ctl_ok(&ctl, "open hace patient A");
    assert_null(strstr(ctl_ok(&ctl, "handover 7-1"), "pain score 4 of 10"));
    for (size_t i = 0; i < sizeof told / sizeof told[0]; i++) {
        ctl_ok(&ctl, told[i].line);
        struct rp_record record = ctl_last(&ctl);
        dump_record(&record, 0, text);
        assert_string_equal(text, told[i].record);
        kit_pass(&ctl.kit, 60);
    }
    ctl_refused(&ctl, "obs pain-score 11", "RP_E_INVALID",
                "pain-score 11 is outside 0-10 (example: pain-score 4)");
    ctl_refused(&ctl, "obs pain-score -1", "RP_E_INVALID",
                "pain-score -1 is outside 0-10 (example: pain-score 4)");
    ctl_send(&ctl, "obs pain 4");
    assert_string_equal(ctl_error(&ctl, "code"), "RP_E_FORMAT");
    ctl_ok(&ctl, "report same"); /* repeated with its age, as every sign is */
    struct rp_record record = ctl_last(&ctl);
    dump_record(&record, 0, text);
    assert_string_equal(text, "4 condition=3 vitals_age_min=1 pain=4");
    assert_non_null(strstr(ctl_ok(&ctl, "handover 7-1"), "pain score 4 of 10"));
    ctl_ok(&ctl, "view 7-1");
    json_t *row = json_object_get(json_object_get(ctl.reply, "data"), "episode");
    json_t *pain = json_object_get(json_object_get(row, "signs"), "pain");
    assert_int_equal(json_integer_value(json_object_get(pain, "value")), 4);
    ctl_end(&ctl);
}

/* What flows is above 0; an empty cylinder and no urine are findings. */
static void a_0_is_taken_only_where_it_means_something(void **state)
{
    (void)state;
    static const char no_flow[] =
        "flow 0.0 L/min is outside 0.1-25.0 (example: 2L/min; when it ends: oxygen stop)";
    static const char not_on_oxygen[] =
        "flow 0.0 L/min is outside 0.1-25.0 (example: flow 2L/min; without oxygen: spo2 71 air)";
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient A");
    ctl_refused(&ctl, "oxygen start prongs 0L/min", "RP_E_INVALID", no_flow);
    ctl_refused(&ctl, "oxygen start prongs 0L/min --sure", "RP_E_INVALID", no_flow);
    ctl_refused(&ctl, "oxygen start prongs 0.04L/min", "RP_E_INVALID", no_flow);
    assert_string_equal(ctl_error(&ctl, "field"), "flow");
    ctl_ok(&ctl, "oxygen start prongs 0.1L/min 0bar"); /* the gauge of an empty one */
    ctl_refused(&ctl, "oxygen change 0L/min", "RP_E_INVALID", no_flow);
    ctl_refused(&ctl, "oxygen change 2L/min water 0L", "RP_E_INVALID",
                "water 0.0 L is outside 0.5-50.0 (example: water 4L)");
    ctl_refused(&ctl, "report same spo2 90 oxygen flow 0L/min", "RP_E_INVALID", not_on_oxygen);
    ctl_refused(&ctl, "obs spo2 90 chamber+oxygen flow 0L/min", "RP_E_INVALID", not_on_oxygen);
    ctl_ok(&ctl, "obs spo2 80 air flow 0L/min");
    ctl_ok(&ctl, "oxygen reading 0bar 0L/min");
    ctl_refused(&ctl, "oxygen stop 2L/min", "RP_E_INVALID",
                "flow 2.0 L/min: after oxygen stop nothing flows (example: oxygen stop 120bar)");
    ctl_ok(&ctl, "oxygen stop 0L/min 0bar");
    ctl_refused(&ctl, "compute oxygen 0L/min 4L 210bar", "RP_E_INVALID",
                "flow 0.0 L/min is outside 0.1-25.0 (example: compute oxygen 3L/min 4L 210bar 4L "
                "160bar until 9h)");
    ctl_end(&ctl);
}

/* What comes between the phases of a session is asked for. */
static void chamber_events_keep_their_order(void **state)
{
    (void)state;
    static const struct {
        const char *line;
        bool accepted;
    } steps[] = {
        {"chamber hold ears", false}, {"chamber deflate", false},    {"chamber resume", false},
        {"chamber close", true},      {"chamber close", false},      {"chamber pressurise", true},
        {"chamber at 2psi", true},    {"chamber pressurise", false}, {"chamber hold ears", true},
        {"chamber resume", true},     {"chamber deflate", true},     {"chamber out", true},
        {"chamber out", false},       {"chamber at 2psi", false},
    };
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient A");
    ctl_ok(&ctl, "descent no dark");
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        kit_pass(&ctl.kit, 60);
        ctl_send(&ctl, steps[i].line);
        if (json_is_true(json_object_get(ctl.reply, "ok")) != steps[i].accepted) {
            fail_msg("step %zu, %s: %s", i, steps[i].line, ctl_error(&ctl, "text"));
        }
        assert_true(steps[i].accepted || strcmp(ctl_error(&ctl, "code"), "RP_E_CONFIRM") == 0);
    }
    ctl_refused(&ctl, "chamber close", "RP_E_STATE",
                "why not down? Descent is the treatment; answer first (example: descent no dark "
                "\"first light 05:40\")");
    ctl_end(&ctl);
}

static void only_answers_that_wait_are_read_back(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient A");
    ctl_ok(&ctl, "evacuate e1");
    ctl_ok(&ctl, "--by Pelle answer seen");
    ctl_send(&ctl, "readback"); /* "seen" needs none */
    assert_string_equal(ctl_error(&ctl, "code"), "RP_E_STATE");
    for (int i = 0; i < 5; i++) {
        ctl_ok(&ctl, "--by Pelle answer plan \"be at the site\"");
    }
    ctl_ok(&ctl, "readback"); /* four at once */
    assert_int_equal(
        json_array_size(json_object_get(json_object_get(ctl.reply, "data"), "records")), 4);
    ctl_ok(&ctl, "readback");
    assert_int_equal(
        json_array_size(json_object_get(json_object_get(ctl.reply, "data"), "records")), 1);
    ctl_send(&ctl, "readback");
    assert_string_equal(ctl_error(&ctl, "code"), "RP_E_STATE");
    ctl_end(&ctl);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_line_makes_this_record),
        cmocka_unit_test(a_line_with_background_makes_two_records),
        cmocka_unit_test(a_report_repeats_older_values_with_their_age),
        cmocka_unit_test(a_repeat_in_the_same_second_is_no_new_value),
        cmocka_unit_test(a_request_tells_no_old_conscious_level),
        cmocka_unit_test(a_correction_stays_within_its_episode),
        cmocka_unit_test(pain_is_a_number_from_0_to_10),
        cmocka_unit_test(a_0_is_taken_only_where_it_means_something),
        cmocka_unit_test(chamber_events_keep_their_order),
        cmocka_unit_test(only_answers_that_wait_are_read_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
