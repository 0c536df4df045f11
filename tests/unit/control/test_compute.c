/* The numbers without a patient, as text and as data; what contradicts; what asks again. */
#include "rp_test.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "ctl.h"

/* Lines of the answer that must appear. Sources: the published vectors and tables of the clinical
 * references, beside each; the same figures are tested to the last place in unit/clinical. */
static const struct {
    const char *line, *shown;
} rows[] = {
    /* Taber 1990: 13,920 ft and 2 psi are like 8,400 ft = 2560 m. */
    {"compute chamber 13920ft 2psi", "like about 2650 m (ISA), 1600 m lower"},
    {"compute chamber 13920ft 2psi", "like about 2600 m (West 1996), 1650 m lower"},
    /* 5000 m and 2 psi: 3260 m (ISA), references 2.3. */
    {"compute chamber altitude 16404ft gauge 138hPa", "like about 3250 m (ISA)"},
    {"compute chamber 5000m 103.4mmHg", "like about 3250 m (ISA)"},
    {"compute chamber 5km 13.79kPa", "like about 3250 m (ISA)"},
    /* Bartsch et al. 1993: 4559 m and 193 mbar go down by 2250 m. */
    {"compute chamber 4559m 193mbar", "like about 2300 m (ISA), 2250 m lower"},
    {"compute chamber 4559m 193mbar", "gauge 2.8 psi (193 hPa, 145 mmHg)"},
    {"compute chamber 4559m 193mbar", "by model, not measured"},
    {"compute chamber 4559m 193mbar station-pressure 590hPa", "as measured"},
    {"compute chamber 5000m 2psi altimeter 3300m", "they agree (within 150 m)"},
    {"compute chamber 5000m 2psi altimeter 4000m", "DISAGREE by more than 150 m"},
    /* The station's own height, 5480 m. */
    {"compute chamber 2psi", "like about 3650 m (ISA)"},
    /* US Standard Atmosphere 1976: 5000 m 540.5 hPa; West 1996: 559.5 hPa; PIO2 75.0 and 78.0. */
    {"compute pressure 5000m", "5000 m: 540.5 hPa, 405.4 mmHg, inspired oxygen 75.0 mmHg (ISA)"},
    {"compute pressure 5000m", "559.5 hPa, 419.7 mmHg, inspired oxygen 78.0 mmHg (West 1996)"},
    {"compute pressure 540.5hPa", "540.5 hPa measured: about 5000 m (ISA)"},
    {"compute pressure 5000m station-pressure 548hPa", "548.0 hPa measured: about 5150 m (West"},
    /* The acceptance figure: 44.6 L/min, 23 strokes of 2 L. */
    {"compute pump 5000m -15C gauge 2psi volume 500L stroke 2L", "45 L/min of outside air, 23 "},
    {"compute pump 5000m -15C gauge 2psi volume 500L stroke 2L",
     "from full to this pressure: 123 L"},
    {"compute pump 5000m -15C gauge 2psi volume 500L stroke 2L strokes 20/min", "CO2 1.11 %"},
    {"compute pump 5000m -15C gauge 2psi volume 500L stroke 2L strokes 20/min",
     "oxygen 19.65 %, inspired oxygen 93.5 mmHg"},
    {"compute pump 5000m -15C gauge 2psi volume 500L stroke 2L distress stopped 10min",
     "10 min after a stop"},
    {"compute pump 5000m -15C gauge 2psi volume 500L stroke 2L", "common practice, no source"},
    {"compute pump 5000m -15C gauge 2psi volume 500L stroke 0.1L --sure", "would not bring"},
    /* The worked example of the references, 2.5. */
    {"compute oxygen 3L/min 4L 210bar 4L 160bar until 9h", "1400 L usable above 10 bar"},
    {"compute oxygen 3L/min 4L 210bar 4L 160bar until 9h", "7 h 46 min"},
    {"compute oxygen 3L/min 4L 210bar 4L 160bar until 9h", "2.5 L/min would last until then"},
    {"compute oxygen 3L/min 4L 210bar until 4h", "lasts until then"},
    {"compute oxygen 3L/min 4L 210bar reserve 50bar", "640 L usable above 50 bar"},
    {"compute oxygen 3L/min 4L 10bar until 4h", "no flow lasts until then"},
    /* 200 bar at +15 C read 179 bar at -15 C. */
    {"compute oxygen 2L/min 4L 179bar read-at -15C like-at 15C", "is like 200 bar at 15 C"},
    /* Density altitude 5091 m and wind chill -27 C: references 2.6. */
    {"compute weather 5000m -15C wind 40km/h", "density altitude about 5100 m"},
    {"compute weather 5000m -15C wind 40km/h", "wind chill -27 C"},
    {"compute weather 5000m -15C station-pressure 548hPa", "pressure measured"},
    /* The practical rule beside the need: 23 to 12 at 5000 m, 1.83 % CO2 (clinical references 2.4:
     * 1.78 % at 24 L/min and the 0.04 % outside). */
    {"compute pump 5000m -15C gauge 2psi volume 500L stroke 2L", "it settles at CO2 1.8 %"},
    {"compute pump 5000m -15C gauge 2psi volume 500L stroke 2L", "the need is 1.9 times that: a "
                                                                 "stroke of 2.0 L holds 1.2 L"},
    {"compute pump 5000m -15C gauge 2psi volume 500L stroke 2L", "are enough from 3.7 L a stroke"},
    {"compute pump 0m 15C gauge 2psi volume 500L stroke 4L", "enough here with strokes of 4.0 L"},
    {"compute pump 8000m -15C gauge 2psi volume 500L stroke 0.1L --sure",
     "it would not bring the oxygen used"},
    {"compute lls-1993 2/1/1/0/1", "5 of 15, 5 and more: moderate or severe"},
    {"compute lls-1993 1/1/1/0/0", "3 of 15, 3-4: mild"},
    {"compute lls-1993 1/1/-/0/0", "at least 2 of 15, INCOMPLETE"},
    {"compute cold temp 31.5 voice hace --sure", "(original Swiss system): 2"},
    {"compute cold temp 31.5 voice hace --sure", "2021, stages from memory): 2"},
    {"compute cold temp 31.5 voice hace --sure", "SUSPECTED HACE FALSIFIES"},
    {"compute cold unresponsive", "(original Swiss system): open"},
    {"compute cold unresponsive no-signs-of-life", "stages from memory): 4"},
    {"compute cold unresponsive signs-of-life", "stages from memory): 3"},
    /* GeoConvert and npm mgrs: 45RVL9265795875; npm geodesy (Vincenty): 7058.738 m, 213.857. */
    {"compute position 27.98800,86.92533", "MGRS    45R VL 92657 95875"},
    {"compute position 27.98800,86.92533", "UTM     45R 492657 3095875"},
    {"compute position 27.98800,86.92533", "27 59.280 N 086 55.520 E"},
    {"compute position \"45R VL 9265 9587\"", "MGRS    45R VL 9265 9587 (lower-left corner of a "
                                              "square of 10 m)"},
    {"compute position 28.0512,86.7123 from 28.1041,86.7523", "7059 m at 214 deg true"},
    {"compute position", "MGRS    45R VL 92657 95875"}, /* this station's own */
    {"compute daylight 89.9,18.96", "sunrise            none: the sun stays below"},
    {"compute daylight descent 4h margin 1h", "sunset less 4 h 00 min down and 1 h 00 min margin"},
    {"compute daylight descent 4h", "4 h 00 min down and 2 h 00 min margin"},
    {"compute daylight 89.9,18.96 descent 4h", "no sunset to count from"},
    {"compute", "compute chamber 5480m 2psi"},
};

static void answers_hold_the_published_figures(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const char *text = ctl_ok(&ctl, rows[i].line);
        if (strstr(text, rows[i].shown) == NULL) {
            fail_msg("%s: \"%s\" is not in\n%s", rows[i].line, rows[i].shown, text);
        }
    }
    ctl_end(&ctl);
}

static const struct {
    const char *line, *code, *text;
} refused[] = {
    {"compute fly", "RP_E_FORMAT",
     "compute: \"fly\" is none of chamber, pressure, pump, oxygen, daylight, position, weather, "
     "lls-1993, cold (example: compute chamber 5480m 2psi)"},
    {"compute chamber 5480m", "RP_E_FORMAT",
     "gauge is missing (example: compute chamber 5480m 2psi)"},
    {"compute chamber 5480 2psi", "RP_E_FORMAT",
     "\"5480\" is not known here; every number needs its unit (example: compute chamber 5480m "
     "2psi)"},
    {"compute chamber 5480m 20psi", "RP_E_INVALID",
     "gauge 1379.0 hPa is outside 0.0-300.0 (example: gauge 2psi)"},
    {"compute chamber 5480m 4psi", "RP_E_CONFIRM",
     "gauge 275.8 hPa is unlikely: outside 80.0-220.0; check and enter again with --sure"},
    {"compute chamber 8901m 2psi", "RP_E_INVALID",
     "altitude 8901 m is outside -450 to 8900 (example: altitude 5480m)"},
    /* A watch that shows sea-level pressure. */
    {"compute chamber 5480m 2psi station-pressure 1013hPa", "RP_E_INVALID",
     "station-pressure 1013.0 hPa is too high for 5480 m: it looks reduced to sea level; enter the "
     "pressure at this place (example: station-pressure 526hPa)"},
    {"compute chamber 5480m 2psi station-pressure 450hPa", "RP_E_CONFIRM",
     "station-pressure 450.0 hPa is unlikely at 5480 m: outside 466.8-566.5; check and enter again "
     "with --sure"},
    {"compute pump 5000m -15C gauge 2psi volume 500L", "RP_E_FORMAT",
     "stroke is missing (example: compute pump 5000m -15C gauge 2psi volume 500L stroke 2L)"},
    {"compute oxygen 3L/min", "RP_E_FORMAT",
     "water volume and pressure of a cylinder are needed (example: compute oxygen "
     "3L/min 4L 210bar 4L 160bar until 9h)"},
    {"compute oxygen 3L/min 4L 4L", "RP_E_FORMAT",
     "every cylinder is its water volume and then its pressure, at most 32 of them (example: "
     "compute oxygen 3L/min 4L 210bar 4L 160bar until 9h)"},
    {"compute oxygen 4L 210bar", "RP_E_FORMAT",
     "flow is missing (example: compute oxygen 3L/min 4L 210bar 4L 160bar until 9h)"},
    {"compute lls-1993 2/1/1/0", "RP_E_INVALID",
     "five items of 0 to 3, or - for not asked: headache, gut, fatigue, dizziness, sleep "
     "(example: compute lls-1993 2/1/1/0/1)"},
    {"compute lls-1993 2/1/4/0/1", "RP_E_INVALID",
     "five items of 0 to 3, or - for not asked: headache, gut, fatigue, dizziness, sleep "
     "(example: compute lls-1993 2/1/1/0/1)"},
    {"compute position 95.0,86.9", "RP_E_INVALID",
     "position \"95.0,86.9\": latitude is outside 90 degrees (is it the longitude?) (example: "
     "27.98800,86.92533 or 27 59.280N 86 55.520E)"},
    {"compute position 27.9,86.9 to", "RP_E_FORMAT",
     "\"to\": a position with spaces needs quotes (example: compute position \"45R VL 92657 "
     "95875\" from 28.1041,86.7523)"},
};

static void what_cannot_be_computed_is_explained(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
        ctl_refused(&ctl, refused[i].line, refused[i].code, refused[i].text);
    }
    ctl_end(&ctl);
}

static double number(const struct ctl *ctl, const char *key)
{
    return json_number_value(json_object_get(json_object_get(ctl->reply, "data"), key));
}

static void answers_are_data_too(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "compute oxygen 3L/min 4L 210bar 4L 160bar until 9h");
    assert_int_equal(number(&ctl, "lasts_s"), 28000);
    assert_true(fabs(number(&ctl, "flow_until_lpm") - 2.5) < 1e-9);
    ctl_ok(&ctl, "compute position 28.0512,86.7123 from 28.1041,86.7523");
    assert_true(fabs(number(&ctl, "distance_m") - 7058.738) < 0.1);
    ctl_ok(&ctl, "compute weather 5000m -15C wind 20km/h");
    assert_true(fabs(number(&ctl, "wind_chill_c") + 24) < 0.5);
    ctl_end(&ctl);
}

static struct rp_view view_of(const char *text)
{
    return (struct rp_view){(const uint8_t *)text, strlen(text)};
}

/* Without a station only numbers are computed. */
static void numbers_need_no_station(void **state)
{
    (void)state;
    static struct rp_control control;
    static const char pressure[] = "{\"command\":\"compute\",\"args\":[\"pressure\",\"5000m\"]}";
    static const char home[] = "{\"command\":\"compute\",\"args\":[\"position\"]}";
    static const char board[] = "{\"command\":\"board\"}";
    struct rp_moment moment = {.unix_s = 1767225600 + 1000};
    char *reply = rp_control_handle(&control, view_of(pressure), moment);
    assert_non_null(strstr(reply, "540.5 hPa"));
    free(reply);
    reply = rp_control_handle(&control, view_of(home), moment);
    assert_non_null(strstr(reply, "a position is missing"));
    free(reply);
    reply = rp_control_handle(&control, view_of(board), moment);
    assert_non_null(strstr(reply, "board needs the station's daemon"));
    free(reply);
}

/* An altimeter, a height and a place that do not fit ask again; when sure they are stored and
 * flagged. */
static void contradictions_are_stored_and_flagged(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient A sex m age 34");
    ctl_ok(&ctl, "descent 7-1 no dark");
    ctl_ok(&ctl, "chamber 7-1 close");
    ctl_ok(&ctl, "chamber 7-1 pressurise");
    ctl_refused(&ctl, "chamber 7-1 at 2psi altimeter 2500m", "RP_E_CONFIRM",
                "altimeter 2500 m and gauge disagree by more than 150 m: "
                "one of them is wrong; check and enter again with --sure");
    assert_non_null(strstr(ctl_ok(&ctl, "chamber 7-1 at 2psi altimeter 2500m --sure"),
                           "\nCONFLICT: altimeter inside and gauge disagree by more than 150 m; "
                           "what was entered is kept, a correction mends it\n"));
    assert_non_null(strstr(ctl_ok(&ctl, "obs 7-1 alert gcs 1/1/1 chamber"),
                           "CONFLICT: conscious level and coma scale do not fit"));
    ctl_refused(&ctl, "evacuate 7-1 e1 stretcher altitude 4900m", "RP_E_CONFIRM",
                "altitude 4900 m is unlikely: outside 4980-5980; check "
                "and enter again with --sure");
    ctl_refused(&ctl, "evacuate 7-1 e1 stretcher at 28.05,86.92533", "RP_E_CONFIRM",
                "at: more than 5 km from the position before (6.9 km); "
                "check and enter again with --sure");
    const char *text =
        ctl_ok(&ctl, "evacuate 7-1 e1 stretcher altitude 4900m at 28.05,86.92533 --sure");
    assert_non_null(strstr(text, "CONFLICT with 7:2: two heights of the patient"));
    assert_non_null(strstr(text, "CONFLICT with 7:2: two positions of the patient"));
    assert_non_null(strstr(ctl_ok(&ctl, "board"), "4 CONFLICTS in the records: see episode 7-1"));
    text = ctl_ok(&ctl, "episode 7-1");
    assert_non_null(strstr(text, "CONFLICT: two heights of the patient, more than 500 m apart (7:2 "
                                 "and "));
    assert_non_null(strstr(ctl_ok(&ctl, "handover 7-1"), "CONFLICT"));
    ctl_end(&ctl);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(answers_hold_the_published_figures),
        cmocka_unit_test(what_cannot_be_computed_is_explained),
        cmocka_unit_test(answers_are_data_too),
        cmocka_unit_test(numbers_need_no_station),
        cmocka_unit_test(contradictions_are_stored_and_flagged),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
