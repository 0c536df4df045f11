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
        PAPER_COLUMN, share, text, RP_TX_NONE, word, 0                                             \
    }
#define TABLE(text, rows)                                                                          \
    {                                                                                              \
        PAPER_TABLE, 0, text, RP_TX_NONE, NULL, rows                                               \
    }
#define TITLE(text)                                                                                \
    {                                                                                              \
        PAPER_TITLE, 0, text, RP_TX_NONE, NULL, 0                                                  \
    }
#define COUNT(items) (sizeof items / sizeof items[0])

#define WHO_AND_WHERE                                                                              \
    FIELD(3, RP_TX_PAPER_PATIENT, RP_TX_NONE, "patient"),                                          \
        FIELD(2, RP_TX_PAPER_EPISODE, RP_TX_NONE, NULL),                                           \
        FIELD(3, RP_TX_PAPER_CAMP, RP_TX_NONE, NULL),                                              \
        FIELD(2, RP_TX_PAPER_DATE, RP_TX_NONE, NULL),                                              \
        FIELD(2, RP_TX_PAPER_WRITTEN, RP_TX_NONE, "--by")

#define DRUGS(rows)                                                                                \
    TABLE(RP_TX_PAPER_DRUG_GIVEN, rows), COLUMN(10, RP_TX_PAPER_TIME, "--ago"),                    \
        COLUMN(28, RP_TX_PAPER_DRUG, "give"), COLUMN(12, RP_TX_PAPER_DOSE, NULL),                  \
        COLUMN(12, RP_TX_PAPER_ROUTE, NULL), COLUMN(15, RP_TX_PAPER_GIVEN_BY, "--by"),             \
        COLUMN(15, RP_TX_PAPER_CHECKED, "checked"), COLUMN(8, RP_TX_PAPER_REFUSED, "refused")

static const struct paper_item observations[] = {
    WHO_AND_WHERE,
    FIELD(12, RP_TX_PAPER_ALLERGIES, RP_TX_NONE, "allergies"),
    TABLE(RP_TX_PAPER_OBSERVATIONS, 15),
    COLUMN(7, RP_TX_PAPER_TIME, "--ago"),
    COLUMN(8, RP_TX_PAPER_CONDITION, NULL),
    COLUMN(7, RP_TX_PAPER_LEVEL, NULL),
    COLUMN(10, RP_TX_PAPER_MODE, NULL),
    COLUMN(7, RP_TX_PAPER_SPO2, "spo2"),
    COLUMN(7, RP_TX_PAPER_PULSE, "pulse"),
    COLUMN(7, RP_TX_PAPER_RESP, "resp"),
    COLUMN(9, RP_TX_PAPER_BP, "bp"),
    COLUMN(7, RP_TX_PAPER_TEMP, "temp"),
    COLUMN(6, RP_TX_PAPER_GCS, "gcs"),
    COLUMN(6, RP_TX_PAPER_ATAXIA, "ataxia"),
    COLUMN(6, RP_TX_PAPER_LLS, "lls"),
    COLUMN(6, RP_TX_PAPER_PAIN, "pain-score"),
    COLUMN(7, RP_TX_PAPER_BY, "--by"),
    DRUGS(5),
    TABLE(RP_TX_PAPER_OXYGEN, 3),
    COLUMN(10, RP_TX_PAPER_TIME, "--ago"),
    COLUMN(22, RP_TX_PAPER_O2_ACTION, "oxygen"),
    COLUMN(24, RP_TX_PAPER_O2_DEVICE, NULL),
    COLUMN(14, RP_TX_PAPER_FLOW, NULL),
    COLUMN(15, RP_TX_PAPER_CYLINDER, "cylinder"),
    COLUMN(15, RP_TX_PAPER_BAR, NULL),
    TABLE(RP_TX_PAPER_FLUIDS, 2),
    COLUMN(10, RP_TX_PAPER_TIME, "--ago"),
    COLUMN(30, RP_TX_PAPER_DRUNK, "fluids fluid"),
    COLUMN(30, RP_TX_PAPER_URINE, "urine"),
    COLUMN(30, RP_TX_PAPER_OVER, "over"),
};

static const struct paper_item chamber[] = {
    WHO_AND_WHERE,
    TITLE(RP_TX_PAPER_BEFORE),
    FIELD(12, RP_TX_PAPER_WHY_NOT, RP_TX_PAPER_WHY_NOT_ANY, "descent no"),
    FIELD(12, RP_TX_PAPER_READY, RP_TX_PAPER_READY_ANY, NULL),
    TABLE(RP_TX_PAPER_SESSIONS, 3),
    COLUMN(6, RP_TX_PAPER_NUMBER, NULL),
    COLUMN(11, RP_TX_PAPER_CLOSED, "chamber close"),
    COLUMN(13, RP_TX_PAPER_PRESSURISING, "pressurise"),
    COLUMN(12, RP_TX_PAPER_AT_PRESSURE, "at"),
    COLUMN(12, RP_TX_PAPER_GAUGE, NULL),
    COLUMN(13, RP_TX_PAPER_ALTIMETER_IN, "altimeter"),
    COLUMN(12, RP_TX_PAPER_DEFLATING, "deflate"),
    COLUMN(9, RP_TX_PAPER_OUT, "out"),
    COLUMN(12, RP_TX_PAPER_STOPPED, NULL),
    TABLE(RP_TX_PAPER_IN_CHAMBER, 18),
    COLUMN(9, RP_TX_PAPER_TIME, "--ago"),
    COLUMN(10, RP_TX_PAPER_GAUGE, NULL),
    COLUMN(11, RP_TX_PAPER_ALTIMETER, "altimeter"),
    COLUMN(10, RP_TX_PAPER_HOLD, "hold"),
    COLUMN(8, RP_TX_PAPER_SPO2, "spo2"),
    COLUMN(8, RP_TX_PAPER_PULSE_SHORT, "pulse"),
    COLUMN(8, RP_TX_PAPER_RESP_SHORT, "resp"),
    COLUMN(8, RP_TX_PAPER_LEVEL, NULL),
    COLUMN(14, RP_TX_PAPER_PUMPER, "stroke"),
    COLUMN(14, RP_TX_PAPER_BY, "--by"),
    TITLE(RP_TX_PAPER_AFTER),
    FIELD(3, RP_TX_PAPER_COMPARED, RP_TX_PAPER_COMPARED_ANY, "reassess"),
    FIELD(2, RP_TX_PAPER_MENTAL, RP_TX_PAPER_YES_NO, "mental"),
    FIELD(2, RP_TX_PAPER_WALKS, RP_TX_PAPER_YES_NO, "walks"),
    FIELD(5, RP_TX_PAPER_NEXT, RP_TX_PAPER_NEXT_ANY, "next"),
    FIELD(2, RP_TX_PAPER_ATAXIA, RP_TX_NONE, "ataxia"),
    FIELD(2, RP_TX_PAPER_LLS, RP_TX_NONE, "lls"),
    FIELD(2, RP_TX_PAPER_SPO2_AIR, RP_TX_NONE, "spo2"),
    FIELD(6, RP_TX_PAPER_REMARK, RP_TX_NONE, "note"),
};

static const struct paper_item evacuation[] = {
    WHO_AND_WHERE,
    FIELD(12, RP_TX_PAPER_URGENCY, RP_TX_PAPER_URGENCY_ANY, "e1 e2 e3 e4"),
    TITLE(RP_TX_PAPER_WHERE),
    FIELD(6, RP_TX_PAPER_POSITION, RP_TX_NONE, "at"),
    FIELD(2, RP_TX_PAPER_ALTITUDE, RP_TX_NONE, "altitude"),
    FIELD(4, RP_TX_PAPER_ALTITUDE_FROM, RP_TX_PAPER_ALTITUDE_ANY, NULL),
    FIELD(12, RP_TX_PAPER_SITE, RP_TX_NONE, "site"),
    TITLE(RP_TX_PAPER_PATIENTS),
    FIELD(2, RP_TX_PAPER_PATIENTS, RP_TX_NONE, "patients"),
    FIELD(2, RP_TX_PAPER_WEIGHT, RP_TX_NONE, "weight"),
    FIELD(4, RP_TX_PAPER_MOBILITY, RP_TX_PAPER_MOBILITY_ANY, NULL),
    FIELD(2, RP_TX_PAPER_CONSCIOUS, RP_TX_PAPER_YES_NO, "conscious"),
    FIELD(2, RP_TX_PAPER_OXYGEN_NEEDED, RP_TX_PAPER_YES_NO, "oxygen"),
    FIELD(2, RP_TX_PAPER_FLAT, RP_TX_PAPER_YES_NO, "flat"),
    FIELD(2, RP_TX_PAPER_PARTY, RP_TX_NONE, "party"),
    FIELD(8, RP_TX_PAPER_NEEDS, RP_TX_PAPER_NEEDS_ANY, "needs"),
    TITLE(RP_TX_PAPER_LANDING),
    FIELD(3, RP_TX_PAPER_AREA, RP_TX_NONE, "area"),
    FIELD(5, RP_TX_PAPER_SURFACE, RP_TX_PAPER_SURFACE_ANY, "surface"),
    FIELD(2, RP_TX_PAPER_SLOPE, RP_TX_NONE, "slope"),
    FIELD(2, RP_TX_PAPER_MARKED, RP_TX_PAPER_YES_NO, "marked"),
    FIELD(12, RP_TX_PAPER_OBSTACLES, RP_TX_NONE, "obstacles"),
    FIELD(12, RP_TX_PAPER_HAZARDS, RP_TX_NONE, "hazards"),
    TITLE(RP_TX_PAPER_WEATHER),
    FIELD(3, RP_TX_PAPER_WIND, RP_TX_NONE, "wind"),
    FIELD(3, RP_TX_PAPER_WIND_FROM, RP_TX_NONE, "from"),
    FIELD(3, RP_TX_PAPER_GUST, RP_TX_NONE, "gust"),
    FIELD(3, RP_TX_PAPER_AIR, RP_TX_NONE, "temp"),
    FIELD(3, RP_TX_PAPER_VISIBILITY, RP_TX_NONE, "visibility"),
    FIELD(3, RP_TX_PAPER_CLOUD, RP_TX_NONE, "cloud"),
    FIELD(6, RP_TX_PAPER_SKY, RP_TX_NONE, "weather"),
    TITLE(RP_TX_PAPER_GROUND),
    FIELD(9, RP_TX_PAPER_CONTACT, RP_TX_NONE, "contact"),
    FIELD(3, RP_TX_PAPER_DAYLIGHT, RP_TX_NONE, "daylight"),
    FIELD(6, RP_TX_PAPER_INSURANCE, RP_TX_NONE, "insurance"),
    FIELD(6, RP_TX_PAPER_FALLBACK, RP_TX_NONE, "fallback"),
    TABLE(RP_TX_PAPER_ANSWERS, 4),
    COLUMN(10, RP_TX_PAPER_TIME, NULL),
    COLUMN(42, RP_TX_PAPER_ANSWER, "answer"),
    COLUMN(32, RP_TX_PAPER_READ_BACK, "readback"),
    COLUMN(16, RP_TX_PAPER_BY, "--by"),
};

static const struct paper_item handover[] = {
    WHO_AND_WHERE,
    FIELD(4, RP_TX_PAPER_AGE, RP_TX_NONE, "age sex"),
    FIELD(4, RP_TX_PAPER_ONSET, RP_TX_NONE, "onset"),
    FIELD(4, RP_TX_PAPER_REACHED, RP_TX_NONE, "reached"),
    FIELD(6, RP_TX_PAPER_SUSPECTED, RP_TX_PAPER_SUSPECTED_ANY, "open"),
    FIELD(6, RP_TX_PAPER_FIRST_SIGN, RP_TX_NONE, "sign"),
    FIELD(12, RP_TX_PAPER_FOUND, RP_TX_PAPER_FOUND_ANY, "yes no"),
    TABLE(RP_TX_PAPER_SIGNS, 3),
    COLUMN(11, RP_TX_PAPER_TIME, NULL),
    COLUMN(17, RP_TX_PAPER_MODE, NULL),
    COLUMN(11, RP_TX_PAPER_SPO2, "spo2"),
    COLUMN(11, RP_TX_PAPER_PULSE, "pulse"),
    COLUMN(11, RP_TX_PAPER_RESP, "resp"),
    COLUMN(14, RP_TX_PAPER_BP, "bp"),
    COLUMN(12, RP_TX_PAPER_TEMP, "temp"),
    COLUMN(13, RP_TX_PAPER_LEVEL, NULL),
    FIELD(6, RP_TX_PAPER_AIRWAY, RP_TX_PAPER_AIRWAY_ANY, "airway"),
    FIELD(6, RP_TX_PAPER_BREATHING, RP_TX_NONE, NULL),
    DRUGS(6),
    FIELD(6, RP_TX_PAPER_OXYGEN_GIVEN, RP_TX_NONE, "oxygen"),
    FIELD(6, RP_TX_PAPER_CHAMBER_GIVEN, RP_TX_NONE, "chamber"),
    FIELD(12, RP_TX_PAPER_DESCENT, RP_TX_NONE, "descent"),
    FIELD(12, RP_TX_PAPER_ALLERGIES_A, RP_TX_NONE, "allergies"),
    FIELD(6, RP_TX_PAPER_MEDICINES, RP_TX_NONE, "medicines"),
    FIELD(6, RP_TX_PAPER_HISTORY, RP_TX_NONE, "history meal"),
    FIELD(12, RP_TX_PAPER_OTHER, RP_TX_NONE, "contact"),
    FIELD(12, RP_TX_PAPER_UNKNOWN, RP_TX_NONE, NULL),
    TITLE(RP_TX_PAPER_TAKEN),
    FIELD(3, RP_TX_PAPER_TEAM, RP_TX_NONE, "taken team"),
    FIELD(3, RP_TX_PAPER_PERSON, RP_TX_NONE, "person"),
    FIELD(2, RP_TX_PAPER_TIME, RP_TX_NONE, "--ago"),
    FIELD(4, RP_TX_PAPER_PRINTED, RP_TX_NONE, "sheet"),
    FIELD(12, RP_TX_PAPER_ASKED, RP_TX_NONE, "asked"),
};

const struct paper_form paper_forms[] = {
    {"observations", RP_TX_PAPER_T_OBSERVATIONS,
     "ridgepost --via paper --by \"Ines Okafor\" --ago 40min report 7-1 worse confused spo2 62 air "
     "pulse 124 resp 30",
     observations, COUNT(observations)},
    {"chamber", RP_TX_PAPER_T_CHAMBER,
     "ridgepost --via paper --by \"Ines Okafor\" --ago 1h chamber 7-1 at 2psi altimeter 3420m",
     chamber, COUNT(chamber)},
    {"request", RP_TX_PAPER_T_REQUEST,
     "ridgepost --via paper --by \"Ines Okafor\" --ago 20min evacuate 7-1 e1 stretcher site "
     "28.1046,86.7531 wind 15km/h from 270",
     evacuation, COUNT(evacuation)},
    {"handover", RP_TX_PAPER_T_HANDOVER,
     "ridgepost --via paper --by \"Ines Okafor\" taken 7-1 team \"Valley Air 3\" person \"Dr "
     "Lindqvist\"",
     handover, COUNT(handover)},
};
const size_t paper_form_count = COUNT(paper_forms);
