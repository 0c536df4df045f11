#include "page/paper.h"

/* Sources: the order of the screens (src/web/assets/panels.js), the entry words of src/control; the
 * chamber's list from clinical reference 6.1; the request's order from 4.2; the handover's from 4.1
 * (ATMIST-AMBO). */
#define FIELD(share, text, choices, word)                                                          \
    {                                                                                              \
        PAPER_FIELD, share, text, choices, word, 0                                                 \
    }
#define COLUMN(share, text, word)                                                                  \
    {                                                                                              \
        PAPER_COLUMN, share, text, NULL, word, 0                                                   \
    }
#define TABLE(text, rows)                                                                          \
    {                                                                                              \
        PAPER_TABLE, 0, text, NULL, NULL, rows                                                     \
    }
#define TITLE(text)                                                                                \
    {                                                                                              \
        PAPER_TITLE, 0, text, NULL, NULL, 0                                                        \
    }
#define COUNT(items) (sizeof items / sizeof items[0])

#define WHO_AND_WHERE                                                                              \
    FIELD(3, "Patient", NULL, "patient"), FIELD(2, "Episode", NULL, NULL),                         \
        FIELD(3, "Camp, altitude m", NULL, NULL), FIELD(2, "Date (UTC)", NULL, NULL),              \
        FIELD(2, "Written by", NULL, "--by")

#define DRUGS(rows)                                                                                \
    TABLE("Drug given", rows), COLUMN(10, "Time Z", "--ago"), COLUMN(28, "Drug", "give"),          \
        COLUMN(12, "Dose with unit", NULL), COLUMN(12, "How: po im iv sl", NULL),                  \
        COLUMN(15, "Given by", "--by"), COLUMN(15, "Checked by", "checked"),                       \
        COLUMN(8, "Refused", "refused")

static const struct paper_item observations[] = {
    WHO_AND_WHERE,
    FIELD(12, "Allergies (write NONE if asked and none)", NULL, "allergies"),
    TABLE("Observations: what was not measured stays empty, X is tried without result", 17),
    COLUMN(8, "Time Z", "--ago"),
    COLUMN(8, "B better S same W worse C critical", NULL),
    COLUMN(8, "Level A C V P U", NULL),
    COLUMN(11, "On air, oxygen, chamber, both", NULL),
    COLUMN(7, "SpO2 %", "spo2"),
    COLUMN(7, "Pulse /min", "pulse"),
    COLUMN(7, "Resp /min", "resp"),
    COLUMN(10, "Blood pressure", "bp"),
    COLUMN(8, "Temp C, site", "temp"),
    COLUMN(7, "GCS E/V/M", "gcs"),
    COLUMN(6, "Ataxia 0-4", "ataxia"),
    COLUMN(6, "LLS 0-12", "lls"),
    COLUMN(7, "By", "--by"),
    DRUGS(5),
    TABLE("Oxygen", 3),
    COLUMN(10, "Time Z", "--ago"),
    COLUMN(22, "start change reading stop", "oxygen"),
    COLUMN(24, "prongs mask reservoir", NULL),
    COLUMN(14, "Flow L/min", NULL),
    COLUMN(15, "Cylinder", "cylinder"),
    COLUMN(15, "Pressure bar", NULL),
};

static const struct paper_item chamber[] = {
    WHO_AND_WHERE,
    TITLE("Before each session"),
    FIELD(12, "Why not down now?", "dark|weather|terrain|no carriers|condition|other",
          "descent no"),
    FIELD(12, "Ready",
          "flat place, mat|pump and spare valve|urinated|sharp things, boots, lighter out|ears "
          "explained|signals: tap 1 well, 2 ears, 3 out|vomit bag|oximeter, light, altimeter in",
          NULL),
    TABLE("Sessions", 3),
    COLUMN(6, "No.", NULL),
    COLUMN(11, "Closed Z", "chamber close"),
    COLUMN(13, "Pressurising Z", "pressurise"),
    COLUMN(12, "At pressure Z", "at"),
    COLUMN(12, "Gauge, unit", NULL),
    COLUMN(13, "Altimeter in m", "altimeter"),
    COLUMN(12, "Deflating Z", "deflate"),
    COLUMN(9, "Out Z", "out"),
    COLUMN(12, "Stopped why", NULL),
    TABLE("In the chamber: look and talk every 5 min, signs every 15 min, pumper changed every 10 "
          "to 15 min. Hold: ears, vomit, panic, pain, pump, other",
          18),
    COLUMN(9, "Time Z", "--ago"),
    COLUMN(10, "Gauge, unit", NULL),
    COLUMN(11, "Altimeter m", "altimeter"),
    COLUMN(10, "Hold, why", "hold"),
    COLUMN(8, "SpO2 %", "spo2"),
    COLUMN(8, "Pulse", "pulse"),
    COLUMN(8, "Resp", "resp"),
    COLUMN(8, "Level A C V P U", NULL),
    COLUMN(14, "Pumper", "stroke"),
    COLUMN(14, "By", "--by"),
    TITLE("Out: sit 5 min, warm; then"),
    FIELD(3, "Compared with before", "better|same|worse", "reassess"),
    FIELD(2, "Mental change", "yes|no", "mental"),
    FIELD(2, "Walks", "yes|no", "walks"),
    FIELD(5, "Next", "session|descend|evacuate|watch", "next"),
    FIELD(2, "Ataxia 0-4", NULL, "ataxia"),
    FIELD(2, "LLS 0-12", NULL, "lls"),
    FIELD(2, "SpO2 % on air", NULL, "spo2"),
    FIELD(6, "Remark", NULL, "note"),
};

static const struct paper_item evacuation[] = {
    WHO_AND_WHERE,
    FIELD(12, "How urgent", "E1 now: life in danger|E2 within the hour|E3 today|E4 when possible",
          "e1 e2 e3 e4"),
    TITLE("Where"),
    FIELD(6, "Patient: position, WGS 84", NULL, "at"),
    FIELD(2, "Altitude m", NULL, "altitude"),
    FIELD(4, "Altitude from", "GPS|map|barometer", NULL),
    FIELD(12, "Landing place: position, WGS 84", NULL, "site"),
    TITLE("Patients"),
    FIELD(2, "Patients", NULL, "patients"),
    FIELD(2, "kg with kit", NULL, "weight"),
    FIELD(4, "Mobility", "stretcher|sitting|walking", NULL),
    FIELD(2, "Conscious", "yes|no", "conscious"),
    FIELD(2, "Oxygen needed", "yes|no", "oxygen"),
    FIELD(2, "Can lie flat", "yes|no", "flat"),
    FIELD(2, "Stay behind", NULL, "party"),
    FIELD(8, "What is wanted", "doctor|oxygen|stretcher|hoist", "needs"),
    TITLE("Landing place"),
    FIELD(3, "Flat area m x m", NULL, "area"),
    FIELD(5, "Surface", "snow|ice|rock|grass|sand", "surface"),
    FIELD(2, "Slope deg", NULL, "slope"),
    FIELD(2, "Marked", "yes|no", "marked"),
    FIELD(12, "Obstacles (wires, tents, flags, stones, seracs)", NULL, "obstacles"),
    FIELD(12, "Hazards (avalanche, rockfall, loose snow)", NULL, "hazards"),
    TITLE("Weather"),
    FIELD(3, "Wind km/h", NULL, "wind"),
    FIELD(3, "From, degrees true", NULL, "from"),
    FIELD(3, "Gust km/h", NULL, "gust"),
    FIELD(3, "Air C", NULL, "temp"),
    FIELD(3, "Visibility m", NULL, "visibility"),
    FIELD(3, "Cloud base m", NULL, "cloud"),
    FIELD(6, "Sky, trend", NULL, "weather"),
    TITLE("On the ground"),
    FIELD(9, "Contact: name, frequency, light or colour", NULL, "contact"),
    FIELD(3, "Daylight left h", NULL, "daylight"),
    FIELD(6, "Insurance, with whom", NULL, "insurance"),
    FIELD(6, "If nobody comes", NULL, "fallback"),
    TABLE("Answers: what base said, read back", 4),
    COLUMN(10, "Time Z", NULL),
    COLUMN(42, "Seen, accepted, expected (from whom, when), refused", "answer"),
    COLUMN(32, "Read back in these words", "readback"),
    COLUMN(16, "By", "--by"),
};

static const struct paper_item handover[] = {
    WHO_AND_WHERE,
    FIELD(4, "A  Age, sex, weight", NULL, "age sex"),
    FIELD(4, "T  First symptom, when", NULL, "onset"),
    FIELD(4, "T  This altitude reached, when", NULL, "reached"),
    FIELD(6, "M  Suspected", "AMS|HACE|HAPE|other", "open"),
    FIELD(6, "First sign", NULL, "sign"),
    FIELD(12, "I  Found",
          "change of mental state|ataxia|breathless at rest|cough|crackles|blue lips", "yes no"),
    TABLE("S  Signs, the last three", 3),
    COLUMN(11, "Time Z", NULL),
    COLUMN(17, "On air, oxygen, chamber, both", NULL),
    COLUMN(11, "SpO2 %", "spo2"),
    COLUMN(11, "Pulse /min", "pulse"),
    COLUMN(11, "Resp /min", "resp"),
    COLUMN(14, "Blood pressure", "bp"),
    COLUMN(12, "Temp C, site", "temp"),
    COLUMN(13, "Level A C V P U", NULL),
    FIELD(6, "Airway", "clear|at risk|noisy|blocked|device", "airway"),
    FIELD(6, "Breathing", NULL, NULL),
    DRUGS(6),
    FIELD(6, "T  Oxygen: L/min, from, until, bar left", NULL, "oxygen"),
    FIELD(6, "T  Chamber: sessions, minutes, pressure", NULL, "chamber"),
    FIELD(12, "T  Descent", NULL, "descent"),
    FIELD(12, "A  Allergies (write NONE if asked and none)", NULL, "allergies"),
    FIELD(6, "M  Own medicines", NULL, "medicines"),
    FIELD(6, "B  History, last meal", NULL, "history meal"),
    FIELD(12, "O  Next of kin, belongings, other", NULL, "contact"),
    FIELD(12, "Not asked, not known, silences", NULL, NULL),
    TITLE("Taken over"),
    FIELD(3, "Team", NULL, "taken team"),
    FIELD(3, "By whom", NULL, "person"),
    FIELD(2, "Time Z", NULL, "--ago"),
    FIELD(4, "Printed sheet: number, check", NULL, "sheet"),
    FIELD(12, "Asked and answered", NULL, "asked"),
};

const struct paper_form paper_forms[] = {
    {"observations", "Observations",
     "ridgepost --via paper --by \"Ines Okafor\" --ago 40min report 7-1 worse confused spo2 62 air "
     "pulse 124 resp 30",
     observations, COUNT(observations)},
    {"chamber", "Chamber record",
     "ridgepost --via paper --by \"Ines Okafor\" --ago 1h chamber 7-1 at 2psi altimeter 3420m",
     chamber, COUNT(chamber)},
    {"request", "Evacuation request",
     "ridgepost --via paper --by \"Ines Okafor\" --ago 20min evacuate 7-1 e1 stretcher site "
     "28.1046,86.7531 wind 15km/h from 270",
     evacuation, COUNT(evacuation)},
    {"handover", "Handover",
     "ridgepost --via paper --by \"Ines Okafor\" taken 7-1 team \"Valley Air 3\" person \"Dr "
     "Lindqvist\"",
     handover, COUNT(handover)},
};
const size_t paper_form_count = COUNT(paper_forms);
