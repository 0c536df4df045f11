/* Lines that are refused, each with the exact code, field and sentence: the sentence names what is
 * wrong, the bound and an example. The bounds are those of clinical/range.h, which are checked
 * against their sources there. All are typed into one station with one open episode, 7-1. */
#include "rp_test.h"

#include <stdio.h>
#include <string.h>

#include "ctl.h"

struct row {
    const char *line, *code, *field, *text;
};

/* clang-format off */
static const struct row rows[] = {
    {"fly 7-1", "RP_E_NOT_FOUND", "command",
     "\"fly\" is no command; ridgepost --help lists them (example: board)"},
    {"open hace", "RP_E_INVALID", "patient",
     "patient: a name or a label is needed (example: patient \"A\")"},
    {"open hace patient", "RP_E_FORMAT", "patient",
     "patient: something is missing after it (example: patient \"A\")"},
    {"open hace patient \"A name that is longer than twenty-four\"", "RP_E_TOO_LONG", "patient",
     "patient: 38 bytes, at most 24 fit; put the rest into a note (example: note 7-1 "
     "\"the rest\")"},
    {"open hace patient A sex x", "RP_E_INVALID", "sex",
     "sex: \"x\" is none of f, m, female, male, other (example: sex f)"},
    {"open hace patient A age 111", "RP_E_INVALID", "age",
     "age 111 y is outside 0-110 (example: age 34)"},
    {"open hace patient A age -1", "RP_E_INVALID", "age",
     "age \"-1\": not a number; units: y (example: 34y)"},
    {"open hace patient A age 34kg", "RP_E_INVALID", "age",
     "age \"34kg\": not a unit of it; units: y (example: 34y)"},
    {"open hace patient A weight 1kg", "RP_E_INVALID", "weight",
     "weight 1 kg is outside 2-250 (example: weight 71kg)"},
    {"open hace patient A weight 251kg", "RP_E_INVALID", "weight",
     "weight 251 kg is outside 2-250 (example: weight 71kg)"},
    {"open hace patient A onset 31d", "RP_E_INVALID", "onset",
     "onset: \"31d\" is no time; say UTC with Z or a span of at most 30 days (example: "
     "onset 14:05Z, or onset 1h30)"},
    {"open hace patient A onset 25:00Z", "RP_E_INVALID", "onset",
     "onset: \"25:00Z\" is no time; say UTC with Z or a span of at most 30 days "
     "(example: onset 14:05Z, or onset 1h30)"},
    {"open hace patient A onset soon", "RP_E_INVALID", "onset",
     "onset: \"soon\" is no time; say UTC with Z or a span of at most 30 days (example: "
     "onset 14:05Z, or onset 1h30)"},
    {"open hace patient A altitude 8901m", "RP_E_INVALID", "altitude",
     "altitude 8901 m is outside -450 to 8900 (example: altitude 5480m gps)"},
    {"open hace patient A altitude -451m", "RP_E_INVALID", "altitude",
     "altitude -451 m is outside -450 to 8900 (example: altitude 5480m gps)"},
    {"open hace patient A at 91,0", "RP_E_INVALID", "position",
     "position \"91,0\": latitude is outside 90 degrees (is it the longitude?) "
     "(example: 27.98800,86.92533 or 27 59.280N 86 55.520E)"},
    {"open hace patient A yes ataxia,dizzy", "RP_E_INVALID", "yes",
     "yes: \"dizzy\" is none of gain, mental, ataxia, breathless, cough, weakness, "
     "tightness, crackles, cyanosis, fast-breathing, fast-pulse (example: yes gain)"},
    {"open hace patient A no", "RP_E_FORMAT", "no",
     "no: something is missing after it (example: no cough)"},
    {"open hace patient A lls 3/2/1", "RP_E_FORMAT", "lls",
     "lls: \"3/2/1\" is not headache/gut/fatigue/dizziness, each 0-3 or - when not "
     "asked (example: lls 3/2/-/1)"},
    {"open hace patient A lls 3/2/4/1", "RP_E_INVALID", "lls-item",
     "lls-item 4 is outside 0-3 (example: lls 3/2/-/1)"},
    {"open hace patient A staggering", "RP_E_FORMAT", "staggering",
     "\"staggering\" is not known here; words: ams, hace, hape, other, patient, sex, "
     "age, weight, onset, reached, altitude, at, sign, yes, no ... (example: patient "
     "\"A\")"},
    {"open hace patient A other", "RP_E_FORMAT", "other",
     "other: something is missing after it (example: other \"chest infection\")"},
    {"open hace patient A allergies", "RP_E_FORMAT", "allergies",
     "allergies: something is missing after it (example: allergies none)"},
    {"background 7-1", "RP_E_FORMAT", "background",
     "background: say what is known (example: background 7-1 allergies none medicines "
     "\"ibuprofen 400 mg\")"},
    {"background 7-1 allergies", "RP_E_FORMAT", "allergies",
     "allergies: something is missing after it (example: allergies none)"},
    {"background 7-1 blood A", "RP_E_FORMAT", "blood",
     "\"blood\" is not known here; words: allergies, medicines, history, meal, contact "
     "(example: allergies none)"},
    {"obs 7-9 spo2 71 air", "RP_E_NOT_FOUND", "episode",
     "episode 7-9 is not known here; the board lists them"},
    {"obs 7-1 spo2", "RP_E_FORMAT", "spo2",
     "spo2: something is missing after it (example: spo2 71 air)"},
    {"obs 7-1 spo2 101 air", "RP_E_INVALID", "spo2",
     "spo2 101 % is outside 0-100 (example: spo2 71 air)"},
    {"obs 7-1 spo2 -1 air", "RP_E_INVALID", "spo2",
     "spo2 \"-1\": not a number; units: % (example: 71%)"},
    {"obs 7-1 spo2 71mmHg air", "RP_E_INVALID", "spo2",
     "spo2 \"71mmHg\": not a unit of it; units: % (example: 71%)"},
    {"obs 7-1 spo2 49 air", "RP_E_CONFIRM", "spo2",
     "spo2 49 % is unlikely: outside 50-100; check and enter again with --sure"},
    {"obs 7-1 spo2 71", "RP_E_INVALID", "spo2",
     "spo2 means nothing without its mode: air, oxygen, chamber or chamber+oxygen "
     "(example: spo2 71 air)"},
    {"obs 7-1 pulse 301", "RP_E_INVALID", "pulse",
     "pulse 301 /min is outside 0-300 (example: pulse 118)"},
    {"obs 7-1 pulse 34", "RP_E_CONFIRM", "pulse",
     "pulse 34 /min is unlikely: outside 35-180; check and enter again with --sure"},
    {"obs 7-1 pulse 181", "RP_E_CONFIRM", "pulse",
     "pulse 181 /min is unlikely: outside 35-180; check and enter again with --sure"},
    {"obs 7-1 resp 91", "RP_E_INVALID", "resp",
     "resp 91 /min is outside 0-90 (example: resp 28)"},
    {"obs 7-1 resp 7", "RP_E_CONFIRM", "resp",
     "resp 7 /min is unlikely: outside 8-50; check and enter again with --sure"},
    {"obs 7-1 resp 51", "RP_E_CONFIRM", "resp",
     "resp 51 /min is unlikely: outside 8-50; check and enter again with --sure"},
    {"obs 7-1 bp 132", "RP_E_FORMAT", "bp",
     "bp: \"132\" is not systolic/diastolic (example: bp 132/84)"},
    {"obs 7-1 bp 84/132", "RP_E_INVALID", "diastolic", /* impossible before unlikely */
     "diastolic 132 mmHg is not below systolic 84 mmHg (example: bp 118/74)"},
    {"obs 7-1 bp 150/132", "RP_E_CONFIRM", "diastolic",
     "diastolic 132 mmHg is unlikely: outside 40-120; check and enter again with --sure"},
    {"obs 7-1 bp 301/84", "RP_E_INVALID", "systolic",
     "systolic 301 mmHg is outside 30-300 (example: bp 132/84)"},
    {"obs 7-1 bp 29/20", "RP_E_INVALID", "systolic",
     "systolic 29 mmHg is outside 30-300 (example: bp 132/84)"},
    {"obs 7-1 bp 132/9", "RP_E_INVALID", "diastolic",
     "diastolic 9 mmHg is outside 10-200 (example: bp 132/84)"},
    {"obs 7-1 bp 79/50", "RP_E_CONFIRM", "systolic",
     "systolic 79 mmHg is unlikely: outside 80-200; check and enter again with --sure"},
    {"obs 7-1 temp 36.4", "RP_E_INVALID", "temp",
     "temp needs its site: oral, tympanic or oesophageal (example: temp 36.4 oral)"},
    {"obs 7-1 temp 9.9 oral", "RP_E_INVALID", "temp",
     "temp 9.9 C is outside 10.0-45.0 (example: temp 36.4 oral)"},
    {"obs 7-1 temp 45.1 oral", "RP_E_INVALID", "temp",
     "temp 45.1 C is outside 10.0-45.0 (example: temp 36.4 oral)"},
    {"obs 7-1 temp 33.9 oral", "RP_E_CONFIRM", "temp",
     "temp 33.9 C is unlikely: outside 34.0-40.5; check and enter again with --sure"},
    {"obs 7-1 airway open", "RP_E_INVALID", "airway",
     "airway: \"open\" is none of clear, at-risk, noisy, blocked, device (example: airway clear)"},
    {"obs 7-1 gcs 15", "RP_E_FORMAT", "gcs",
     "gcs: \"15\" is not eye/verbal/motor (example: gcs 4/5/6)"},
    {"obs 7-1 gcs 5/5/6", "RP_E_INVALID", "gcs-eye",
     "gcs-eye 5 is outside 1-4 (example: gcs 4/5/6)"},
    {"obs 7-1 gcs 4/0/6", "RP_E_INVALID", "gcs-verbal",
     "gcs-verbal 0 is outside 1-5 (example: gcs 4/5/6)"},
    {"obs 7-1 lls 13", "RP_E_INVALID", "lls",
     "lls 13 is outside 0-12 (example: lls 7)"},
    {"obs 7-1 ataxia 5", "RP_E_INVALID", "ataxia",
     "ataxia 5 is outside 0-4 (example: ataxia 2)"},
    {"obs 7-1 flow 25.1L/min", "RP_E_INVALID", "flow",
     "flow 25.1 L/min is outside 0.0-25.0 (example: flow 2L/min)"},
    {"obs 7-1 flow 8.1L/min", "RP_E_CONFIRM", "flow",
     "flow 8.1 L/min is unlikely: outside 0.0-8.0; check and enter again with --sure"},
    {"obs 7-1 cylinder 351bar", "RP_E_INVALID", "cylinder",
     "cylinder 351 bar is outside 0-350 (example: cylinder 140bar)"},
    {"obs 7-1 cylinder 301bar", "RP_E_CONFIRM", "cylinder",
     "cylinder 301 bar is unlikely: outside 0-300; check and enter again with --sure"},
    {"obs 7-1 fine", "RP_E_FORMAT", "fine",
     "\"fine\" is not known here; words: well/better/same/worse/critical/dead, spo2, "
     "air/oxygen/chamber/chamber+oxygen, pulse, resp, bp ... (example: spo2 71 air)"},
    {"report 7-1 temp 36.4 axilla", "RP_E_FORMAT", "axilla",
     "\"axilla\" is not known here; words: well/better/same/worse/critical/dead, spo2, "
     "air/oxygen/chamber/chamber+oxygen, pulse, resp, bp ... (example: spo2 71 air)"},
    {"chamber 7-1", "RP_E_FORMAT", "chamber",
     "chamber: something is missing after it (example: chamber 7-1 at 2psi)"},
    {"chamber 7-1 inflate", "RP_E_INVALID", "chamber",
     "chamber: \"inflate\" is none of close, pressurise, at, resume, hold, deflate, out "
     "(example: chamber close)"},
    {"chamber 7-1 at 2psi", "RP_E_CONFIRM", "chamber",
     "chamber at after \"not in chamber\" is unlikely: enter what was missed first, or "
     "again with --sure"},
    {"chamber 7-1 out", "RP_E_CONFIRM", "chamber",
     "chamber out after \"not in chamber\" is unlikely: enter what was missed first, or "
     "again with --sure"},
    {"chamber 7-1 close", "RP_E_STATE", "chamber",
     "why not down? Descent is the treatment; answer first (example: descent no dark "
     "\"first light 05:40\")"},
    {"give 7-1", "RP_E_FORMAT", "give",
     "give: something is missing after it (example: give 7-1 dexamethasone 8mg im)"},
    {"give 7-1 dexamethasone 8mg", "RP_E_INVALID", "route",
     "a dose needs its route: po, sl, im, iv, sc, inhaled, pr, nasal, topical "
     "(example: give 7-1 dexamethasone 8mg im)"},
    {"give 7-1 dexamethasone 8stone im", "RP_E_INVALID", "dose",
     "dose \"8stone\": not a unit of dose; units: mg, g, mcg, mL, L, tablet, puff, IU "
     "(example: 8mg)"},
    {"give 7-1 dexamethasone 0mg im", "RP_E_INVALID", "dose",
     "dose \"0mg\": outside 0.001-10000 of its unit; units: mg, g, mcg, mL, L, tablet, "
     "puff, IU (example: 8mg)"},
    {"give 7-1 dexamethasone 10001g im", "RP_E_INVALID", "dose",
     "dose \"10001g\": outside 0.001-10000 of its unit; units: mg, g, mcg, mL, L, "
     "tablet, puff, IU (example: 8mg)"},
    {"give 7-1 dexamethasone 8mg eye", "RP_E_FORMAT", "eye",
     "\"eye\" is not known here; words: po/oral/sl/im/iv/sc/inhaled/pr/nasal/topical, "
     "refused, checked, by, confirmed, because (example: checked Jory)"},
    {"give 7-1 \"a drug name of more than 24 bytes\" 8mg im", "RP_E_TOO_LONG", "drug",
     "drug: 33 bytes, at most 24 fit; put the rest into a note (example: note 7-1 "
     "\"the rest\")"},
    {"give 7-1 dexamethasone 8mg im checked", "RP_E_FORMAT", "checked",
     "checked: something is missing after it (example: checked Jory)"},
    {"oxygen 7-1", "RP_E_FORMAT", "oxygen",
     "oxygen: something is missing after it (example: oxygen 7-1 start prongs 2L/min "
     "cylinder A 180bar)"},
    {"oxygen 7-1 begin", "RP_E_INVALID", "oxygen",
     "oxygen: \"begin\" is none of start, change, stop, reading (example: oxygen start)"},
    {"oxygen 7-1 start prongs", "RP_E_INVALID", "flow",
     "oxygen start needs a flow with its unit (example: 2L/min)"},
    {"oxygen 7-1 start prongs 2", "RP_E_FORMAT", "2",
     "\"2\" is not known here; words: prongs/mask/reservoir, cylinder, water (example: "
     "2L/min)"},
    {"oxygen 7-1 start prongs 2L", "RP_E_FORMAT", "2L",
     "\"2L\" is not known here; words: prongs/mask/reservoir, cylinder, water (example: "
     "2L/min)"},
    {"oxygen 7-1 start prongs 26L/min", "RP_E_INVALID", "flow",
     "flow 26.0 L/min is outside 0.0-25.0 (example: 2L/min)"},
    {"oxygen 7-1 start prongs 9L/min", "RP_E_CONFIRM", "flow",
     "flow 9.0 L/min is unlikely: outside 0.0-8.0; check and enter again with --sure"},
    {"oxygen 7-1 start prongs 2L/min 351bar", "RP_E_INVALID", "cylinder",
     "cylinder 351 bar is outside 0-350 (example: 180bar)"},
    {"oxygen 7-1 start prongs 2L/min water 51L", "RP_E_INVALID", "water",
     "water 51.0 L is outside 0.5-50.0 (example: water 4L)"},
    {"reassess 7-1", "RP_E_INVALID", "reassess",
     "reassess: better, same or worse? (example: reassess 7-1 better)"},
    {"reassess 7-1 fine", "RP_E_FORMAT", "fine",
     "\"fine\" is not known here; words: well/better/same/worse/critical/dead, next, "
     "lls, functional, ataxia, mental, walks; or a text of several words in quotes "
     "(example: next session)"},
    {"report 7-1 same next 4min", "RP_E_INVALID", "next",
     "next 240 s is outside 300-7200 (example: next 15min)"},
    {"report 7-1 same next 3h", "RP_E_INVALID", "next",
     "next 10800 s is outside 300-7200 (example: next 15min)"},
    {"report 7-1 same next", "RP_E_FORMAT", "next",
     "next: something is missing after it (example: next 15min)"},
    {"reassess 7-1 better next flight", "RP_E_INVALID", "next",
     "next: \"flight\" is none of session, descend, evacuate, watch (example: next "
     "session)"},
    {"reassess 7-1 better functional 4", "RP_E_INVALID", "functional",
     "functional 4 is outside 0-3 (example: functional 2)"},
    {"reassess 7-1 better walks perhaps", "RP_E_INVALID", "walks",
     "walks: \"perhaps\" is none of no, yes (example: walks no)"},
    {"reassess 7-1 better lls 1/2", "RP_E_FORMAT", "lls",
     "lls: \"1/2\" is not headache/gut/fatigue/dizziness, each 0-3 or - when not asked "
     "(example: lls 3/2/-/1)"},
    {"descent 7-1", "RP_E_FORMAT", "descent",
     "descent: something is missing after it (example: descent 7-1 no dark)"},
    {"descent 7-1 perhaps", "RP_E_INVALID", "descent",
     "descent: \"perhaps\" is none of no, yes (example: descent no)"},
    {"descent 7-1 no", "RP_E_INVALID", "descent",
     "why not down? One of dark, weather, terrain, carriers, condition, other "
     "(example: descent 7-1 no dark)"},
    {"descent 7-1 no tired", "RP_E_FORMAT", "tired",
     "\"tired\" is not known here; words: "
     "dark/weather/terrain/carriers/condition/other, again, takes; or a text of several "
     "words in quotes (example: again 60min)"},
    {"descent 7-1 no dark again 59s", "RP_E_INVALID", "again",
     "again 59 s is outside 60-86400 (example: again 60min)"},
    {"descent 7-1 no dark again 25h", "RP_E_INVALID", "again",
     "again 90000 s is outside 60-86400 (example: again 60min)"},
    {"note 7-1", "RP_E_FORMAT", "note",
     "note: the text is missing (example: note 7-1 \"vomited once\")"},
    {"note 9-1 x", "RP_E_NOT_FOUND", "episode",
     "episode 9-1 is not known here; the board lists them"},
    {"evacuate 7-1", "RP_E_INVALID", "urgency",
     "how urgent? e1 now, e2 within an hour of light or weather, e3 today, e4 routine "
     "(example: evacuate 7-1 e1 stretcher)"},
    {"evacuate 7-1 e5", "RP_E_FORMAT", "e5",
     "\"e5\" is not known here; words: e1/e2/e3/e4, walking/sitting/stretcher, "
     "patients, weight, conscious, oxygen, flat, at, altitude ... (example: patients "
     "1)"},
    {"evacuate 7-1 revise cloud 5900m", "RP_E_STATE", "evacuate",
     "evacuate: nothing to revise; make the request first (example: evacuate 7-1 e1 "
     "stretcher)"},
    {"evacuate 7-1 cancel \"walking down\"", "RP_E_STATE", "evacuate",
     "evacuate: no request is in force that could be cancelled (example: evacuate 7-1 "
     "e1 stretcher)"},
    {"evacuate 7-1 e1 patients 0", "RP_E_INVALID", "patients",
     "patients 0 is outside 1-50 (example: patients 1)"},
    {"evacuate 7-1 e1 patients 51", "RP_E_INVALID", "patients",
     "patients 51 is outside 1-50 (example: patients 1)"},
    {"evacuate 7-1 e1 area 40", "RP_E_FORMAT", "area",
     "area: \"40\" is not length x width in metres (example: area 40x40)"},
    {"evacuate 7-1 e1 area 0x40", "RP_E_INVALID", "site-length",
     "site-length 0 m is outside 1-1000 (example: area 40x40)"},
    {"evacuate 7-1 e1 area 40x1001", "RP_E_INVALID", "site-width",
     "site-width 1001 m is outside 1-1000 (example: area 40x40)"},
    {"evacuate 7-1 e1 surface mud", "RP_E_INVALID", "surface",
     "surface: \"mud\" is none of snow, ice, rock, grass, sand (example: surface snow)"},
    {"evacuate 7-1 e1 slope 61", "RP_E_INVALID", "slope",
     "slope 61 degrees is outside 0-60 (example: slope 4)"},
    {"evacuate 7-1 e1 wind 251km/h", "RP_E_INVALID", "wind",
     "wind 251 km/h is outside 0-250 (example: wind 15km/h)"},
    {"evacuate 7-1 e1 from 360", "RP_E_INVALID", "from",
     "from 360 degrees is outside 0-359 (example: from 270)"},
    {"evacuate 7-1 e1 gust 251km/h", "RP_E_INVALID", "gust",
     "gust 251 km/h is outside 0-250 (example: gust 30km/h)"},
    {"evacuate 7-1 e1 temp -71C", "RP_E_INVALID", "temp",
     "temp -71 C is outside -70 to 50 (example: temp -15C)"},
    {"evacuate 7-1 e1 temp 51C", "RP_E_INVALID", "temp",
     "temp 51 C is outside -70 to 50 (example: temp -15C)"},
    {"evacuate 7-1 e1 visibility 51km", "RP_E_INVALID", "visibility",
     "visibility 51000 m is outside 0-50000 (example: visibility 5km)"},
    {"evacuate 7-1 e1 cloud 12001m", "RP_E_INVALID", "cloud",
     "cloud 12001 m is outside 0-12000 (example: cloud 6200m)"},
    {"evacuate 7-1 e1 needs doctor,priest", "RP_E_INVALID", "needs",
     "needs: \"priest\" is none of doctor, oxygen, stretcher, hoist (example: needs "
     "doctor)"},
    {"evacuate 7-1 e1 party 101", "RP_E_INVALID", "party",
     "party 101 is outside 0-100 (example: party 3)"},
    {"evacuate 7-1 e1 daylight dusk", "RP_E_INVALID", "daylight",
     "daylight: \"dusk\" is no time; say UTC with Z or a span of at most 30 days "
     "(example: daylight 14:05Z, or daylight 1h30)"},
    {"evacuate 7-1 e1 site north", "RP_E_INVALID", "position",
     "position \"north\": each coordinate needs N, S, E or W behind it, or both a comma "
     "between them (example: 27.98800,86.92533 or 27 59.280N 86 55.520E)"},
    {"fluids 7-1", "RP_E_FORMAT", "fluids",
     "fluids: how much urine, or how much drunk? (example: fluids 7-1 urine 300mL over 4h fluid "
     "500mL)"},
    {"fluids 7-1 urine 300mL", "RP_E_INVALID", "over",
     "urine means nothing without its time: over what? (example: fluids 7-1 urine 300mL over 4h)"},
    {"fluids 7-1 urine 3001mL over 4h", "RP_E_INVALID", "urine",
     "urine 3001 mL is outside 0-3000 (example: urine 300mL)"},
    {"fluids 7-1 fluid 5001mL", "RP_E_INVALID", "fluid",
     "fluid 5001 mL is outside 0-5000 (example: fluid 500mL)"},
    {"answer 7-1 seen", "RP_E_INVALID", "by",
     "an answer needs a name: --by NAME (example: --by Pelle answer 7-1 seen)"},
    {"--by Pelle answer 7-1", "RP_E_FORMAT", "answer",
     "answer: something is missing after it (example: answer 7-1 seen)"},
    {"--by Pelle answer 7-1 maybe", "RP_E_INVALID", "answer",
     "answer: \"maybe\" is none of seen, passed-on, accepted, refused, eta, plan, "
     "advice (example: answer seen)"},
    {"--by Pelle answer 7-1 eta", "RP_E_INVALID", "arrives",
     "eta: when? (example: answer 7-1 eta arrives 09:30Z from \"Valley Air 3\")"},
    {"--by Pelle answer 7-1 eta arrives later", "RP_E_INVALID", "arrives",
     "arrives: \"later\" is no time; say UTC with Z or a span of at most 30 days "
     "(example: arrives 14:05Z, or arrives 1h30)"},
    {"--by Pelle answer 7-1 passed-on", "RP_E_INVALID", "whom",
     "passed on: whom? (example: answer 7-1 passed-on to \"Valley Air 3\", or accepted "
     "from \"Valley Air 3\")"},
    {"--by Pelle answer 7-1 accepted", "RP_E_INVALID", "whom",
     "accepted: whom? (example: answer 7-1 passed-on to \"Valley Air 3\", or accepted "
     "from \"Valley Air 3\")"},
    {"--by Pelle answer 7-1 plan", "RP_E_INVALID", "text",
     "plan: the text is missing (example: answer 7-1 plan \"be at the site 09:15Z\")"},
    {"--by Pelle answer 7-1 advice", "RP_E_INVALID", "text",
     "advice: the text is missing (example: answer 7-1 plan \"be at the site 09:15Z\")"},
    {"--by Pelle answer 9:5 seen", "RP_E_NOT_FOUND", "record",
     "record 9:5 is not held here; the log lists them"},
    {"readback 7-1", "RP_E_STATE", "readback",
     "readback: no answer waits for one (example, once there is: readback 7-1 \"09:30Z "
     "at the lower site\")"},
    {"taken 7-1", "RP_E_INVALID", "taken",
     "taken: who took over? (example: taken 7-1 team \"Valley Air 3\" person \"Dr "
     "Lindqvist\" sheet 2)"},
    {"taken 7-1 team \"Valley Air 3\"", "RP_E_INVALID", "taken",
     "taken: who took over? (example: taken 7-1 team \"Valley Air 3\" person \"Dr "
     "Lindqvist\" sheet 2)"},
    {"taken 7-1 team \"Valley Air 3\" person \"Dr Lindqvist\" sheet 0", "RP_E_INVALID", "sheet",
     "sheet: \"0\" is no sheet number of 1 to 65535 (example: sheet 3 K7QP)"},
    {"taken 7-1 team \"Valley Air 3\" person \"Dr Lindqvist\" sheet 65536", "RP_E_INVALID", "sheet",
     "sheet: \"65536\" is no sheet number of 1 to 65535 (example: sheet 3 K7QP)"},
    {"taken 7-1 team \"Valley Air 3\" person \"Dr Lindqvist\" sheet first", "RP_E_INVALID", "sheet",
     "sheet: \"first\" is no sheet number of 1 to 65535 (example: sheet 3 K7QP)"},
    {"correct", "RP_E_FORMAT", "correct",
     "correct: something is missing after it (example: correct 7:12 void \"wrong "
     "patient\")"},
    {"correct 7:2", "RP_E_FORMAT", "correct",
     "correct: something is missing after it (example: correct 7:12 void \"wrong "
     "patient\")"},
    {"correct 7:2 strike \"x\"", "RP_E_FORMAT", "correct",
     "correct: say void or with RECORD (example: correct 7:12 void \"wrong patient\")"},
    {"correct 7:2 void", "RP_E_FORMAT", "reason",
     "reason: something is missing after it (example: correct 7:12 void \"wrong "
     "patient\")"},
    {"correct 7:99 void \"x\"", "RP_E_NOT_FOUND", "record",
     "record 7:99 is not held here; the log lists them"},
    {"correct 9:2 void \"x\"", "RP_E_NOT_FOUND", "record",
     "record 9:2 is not held here; the log lists them"},
    {"correct x void \"x\"", "RP_E_FORMAT", "record",
     "\"x\" is not a record (example: 7:42, station and sequence)"},
    {"correct 7:2 with", "RP_E_FORMAT", "with",
     "with: something is missing after it (example: correct 7:12 with 7:15 \"dose was "
     "4 mg\")"},
    {"correct 7:2 with 7:99 \"x\"", "RP_E_NOT_FOUND", "record",
     "record 7:99 is not held here; the log lists them"},
    {"close 7-1", "RP_E_FORMAT", "close",
     "close: something is missing after it (example: close 7-1 handed-over)"},
    {"close 7-1 gone", "RP_E_INVALID", "close",
     "close: \"gone\" is none of handed-over, descended, recovered, died, other "
     "(example: close handed-over)"},
    {"--ago 8d note 7-1 x", "RP_E_INVALID", "ago",
     "ago 691200 s is outside 0-604800 (example: --ago 15min)"},
    {"--ago 25h note 7-1 x", "RP_E_CONFIRM", "ago",
     "ago 90000 s is unlikely: outside 0-86400; check and enter again with --sure"},
    {"--ago soon note 7-1 x", "RP_E_INVALID", "ago",
     "ago \"soon\": not a duration; units: s, min, h, d (example: 1h30)"},
    {"--via radio note 7-1 x", "RP_E_INVALID", "via",
     "via: \"radio\" is none of entered, paper, voice (example: via entered)"},
    {"--by \"A name that is longer than twenty-four\" note 7-1 x", "RP_E_TOO_LONG", "by",
     "by: 38 bytes, at most 24 fit; put the rest into a note (example: note 7-1 \"the "
     "rest\")"},
    {"episode 9-1", "RP_E_NOT_FOUND", "episode",
     "episode 9-1 is not known here; the board lists them"},
    {"delivery 9-1", "RP_E_NOT_FOUND", "episode",
     "episode 9-1 is not known here; the board lists them"},
    {"log 9-1", "RP_E_NOT_FOUND", "episode",
     "episode 9-1 is not known here; the board lists them"},
    {"handover 9-1", "RP_E_NOT_FOUND", "episode",
     "episode 9-1 is not known here; the board lists them"},
    {"open hace patient A allergies none blood A", "RP_E_FORMAT", "blood",
     "\"blood\" is not known here; words: ams, hace, hape, other, patient, sex, age, "
     "weight, onset, reached, altitude, at, sign, yes, no ... (example: patient \"A\")"},
    {"obs 7-1 x x x x x x x x x x x x x x x x x x x x x x x x x x x x x x ", "RP_E_FORMAT", "x",
     "\"x\" is not known here; words: well/better/same/worse/critical/dead, spo2, "
     "air/oxygen/chamber/chamber+oxygen, pulse, resp, bp ... (example: spo2 71 air)"},
    {"chamber 7-1 hold eras", "RP_E_CONFIRM", "chamber",
     "chamber hold after \"not in chamber\" is unlikely: enter what was missed first, "
     "or again with --sure"},
    {"chamber", "RP_E_FORMAT", "chamber",
     "chamber: something is missing after it (example: chamber 7-1 at 2psi)"},
    {"note", "RP_E_FORMAT", "note",
     "note: the text is missing (example: note 7-1 \"vomited once\")"},
    {"obs 7-1 spo2 50.5 air", "RP_E_INVALID", "spo2",
     "spo2 \"50.5\": a whole number is needed; units: % (example: 71%)"},
    {"open hace patient A sign "
     "\"xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx"
     "xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx\"", "RP_E_TOO_LONG", "sign",
     "sign: 121 bytes, at most 120 fit; put the rest into a note (example: note 7-1 "
     "\"the rest\")"},
    {"--by Pelle answer 7-1 plan \"x x x x x x x x x x x x x x x x x x x x x x x x x x "
     "x x x x x x x x x x x x x x x x x x x x x x x x x x x x x x x x x x x \"", "RP_E_TOO_LONG", "text",
     "text: 122 bytes, at most 120 fit; put the rest into a note (example: note 7-1 "
     "\"the rest\")"},
};
/* clang-format on */

static void each_wrong_line_is_refused_in_these_words(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient \"M. Tarn\"");
    uint32_t writes = memory_store_writes(ctl.kit.store);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        ctl_refused(&ctl, rows[i].line, rows[i].code, rows[i].text);
        assert_string_equal(ctl_error(&ctl, "field"), rows[i].field);
    }
    assert_int_equal(memory_store_writes(ctl.kit.store), writes); /* nothing was recorded */
    ctl_end(&ctl);
}

/* Texts at and just above their bounds. */
/* Blanks are no name and no answer: they would stand as a second person, or hide a gap. */
static void blanks_are_no_text(void **state)
{
    (void)state;
    static const struct {
        const char *line, *field;
    } cases[] = {
        {"open ams patient \" \"", "patient"},
        {"background 7-1 allergies \"  \"", "allergies"},
        {"--by Ines give 7-1 tea 1g po confirmed \"  \"", "confirmed"},
        {"taken 7-1 team \" \" person \" \"", "team"},
        {"evacuate 7-1 e1 contact \" \"", "contact"},
        {"--by \"  \" note 7-1 x", "by"},
        {"correct 7:2 void \" \"", "reason"},
    };
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient \"M. Tarn\"");
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[120];
        snprintf(text, sizeof text,
                 "%s: nothing but spaces; leave it out, or say what it is (example: %s \"two "
                 "words\")",
                 cases[i].field, cases[i].field);
        ctl_refused(&ctl, cases[i].line, "RP_E_INVALID", text);
    }
    ctl_refused(&ctl, "correct 7:2 void \"\"", "RP_E_FORMAT",
                "reason: something is missing after it (example: correct 7:12 void \"wrong "
                "patient\")");
    ctl_end(&ctl);
}

static void texts_are_bounded(void **state)
{
    (void)state;
    static const struct {
        const char *before, *after;
        size_t longest;
    } cases[] = {
        {"open ams patient ", "", 24},
        {"open ams patient B sign ", "", 120},
        {"background 7-1 history ", "", 120},
        {"give 7-1 ", " 8mg im", 24},
        {"give 7-1 tea checked ", "", 24},
        {"oxygen 7-1 start 2L/min cylinder ", "", 24},
        {"note 7-1 ", "", 1000},
        {"evacuate 7-1 e1 hazards ", "", 120},
        {"close 7-1 other ", "", 120},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct ctl ctl = ctl_new();
        char text[1002], line[1200];
        ctl_ok(&ctl, "open hace patient \"M. Tarn\"");
        memset(text, 'x', sizeof text);
        text[cases[i].longest + 1] = '\0';
        snprintf(line, sizeof line, "%s%s%s", cases[i].before, text, cases[i].after);
        ctl_send(&ctl, line);
        assert_string_equal(ctl_error(&ctl, "code"), "RP_E_TOO_LONG");
        text[cases[i].longest] = '\0';
        snprintf(line, sizeof line, "%s%s%s", cases[i].before, text, cases[i].after);
        ctl_ok(&ctl, line);
        ctl_end(&ctl);
    }
}

static void control_characters_are_refused(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient \"M. Tarn\"");
    ctl_refused(&ctl, "note 7-1 a\x1b[2Jb", "RP_E_INVALID",
                "note: byte 2 is a control character; only plain text is taken (example: note "
                "\"two words\")");
    ctl_refused(&ctl, "note 7-1 \x7f", "RP_E_INVALID",
                "note: byte 1 is a control character; only plain text is taken (example: note "
                "\"two words\")");
    ctl_refused(&ctl, "open ams patient A\tB", "RP_E_INVALID",
                "patient: byte 2 is a control character; only plain text is taken (example: "
                "patient \"two words\")");
    ctl_refused(&ctl, "--by A\nB note 7-1 x", "RP_E_INVALID",
                "by: byte 2 is a control character; only plain text is taken (example: by \"two "
                "words\")");
    ctl_end(&ctl);
}

/* Unlikely values are recorded when confirmed. */
static void sure_confirms_what_is_unlikely_but_not_what_is_impossible(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient \"M. Tarn\"");
    ctl_ok(&ctl, "obs 7-1 spo2 49 air pulse 181 resp 51 temp 33.9 oral --sure");
    assert_int_equal(ctl_last(&ctl).as.status.spo2_pct.value, 49);
    assert_int_equal(ctl_last(&ctl).as.status.temp_dc.value, 339);
    ctl_ok(&ctl, "--ago 25h note 7-1 x --sure");
    assert_int_equal(ctl_last(&ctl).ago_s, 90000);
    ctl_ok(&ctl, "chamber 7-1 out --sure");
    ctl_refused(&ctl, "obs 7-1 spo2 101 air --sure", "RP_E_INVALID",
                "spo2 101 % is outside 0-100 (example: spo2 71 air)");
    ctl_end(&ctl);
}

/* Of a line that makes two records, what was recorded before the failure is said. */
static void a_half_recorded_entry_says_so(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    memory_store_fail(ctl.kit.store, (struct memory_fault){1, 1, RP_E_NO_SPACE, false});
    ctl_refused(&ctl, "open hace patient A allergies none", "RP_E_NO_SPACE",
                "recorded 7:2 episode opened, episode 7-1; the rest was NOT recorded: nothing was "
                "recorded: the database cannot be written (the disk is full); write it on paper "
                "and try again");
    memory_store_fail(ctl.kit.store, (struct memory_fault){0, 1, RP_E_IO, false});
    ctl_refused(&ctl, "note 7-1 x", "RP_E_IO",
                "nothing was recorded: the database cannot be written (input or output failed); "
                "write it on paper and try again");
    ctl_ok(&ctl, "background 7-1 allergies none");
    ctl_end(&ctl);
}

static void reads_that_fail_are_told(void **state)
{
    (void)state;
    struct ctl ctl = ctl_new();
    ctl_ok(&ctl, "open hace patient A");
    memory_store_fail_reads(ctl.kit.store, RP_E_CORRUPT);
    static const char *const lines[] = {"board",        "episode 7-1", "delivery",
                                        "handover 7-1", "log 7-1",     "obs 7-1 spo2 71 air"};
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        ctl_send(&ctl, lines[i]);
        assert_string_equal(ctl_error(&ctl, "code"), "RP_E_CORRUPT");
        assert_string_not_equal(ctl_error(&ctl, "text"), "");
    }
    ctl_end(&ctl);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_wrong_line_is_refused_in_these_words),
        cmocka_unit_test(blanks_are_no_text),
        cmocka_unit_test(texts_are_bounded),
        cmocka_unit_test(control_characters_are_refused),
        cmocka_unit_test(sure_confirms_what_is_unlikely_but_not_what_is_impossible),
        cmocka_unit_test(a_half_recorded_entry_says_so),
        cmocka_unit_test(reads_that_fail_are_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
