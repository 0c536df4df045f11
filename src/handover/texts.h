/* Every fixed English word of the sheet, in one table: a translation is a second table.
 *
 * Words that belong to the records (conditions, phases, modes ...) come from the lists of
 * src/wire/record.h; the others stand here. Fixed words are ASCII, so that any printer has them.
 * A text id is also the stable key that the sheet's check covers, so a translated sheet has the
 * same check. */
#ifndef RP_HANDOVER_TEXTS_H
#define RP_HANDOVER_TEXTS_H

#include "handover/text/form_words.h"
#include "incident/assess/assess.h"
#include "wire/record.h"

/* X(key, english) */
#define RP_SHEET_WORDS(X)                                                                          \
    X(NONE, "")                                                                                    \
    X(ODD, "(unknown code of a newer version)")                                                    \
    /* Banner, head, legend. */                                                                    \
    X(EXERCISE, "EXERCISE - NOT REAL - EXERCISE - NOT REAL - EXERCISE")                            \
    X(SHEET, "HANDOVER SHEET")                                                                     \
    X(EPISODE, "episode")                                                                          \
    X(PRINTED, "printed")                                                                          \
    X(CHECK, "check")                                                                              \
    X(LEGEND_LOCAL, "Z = UTC, (local) = UTC")                                                      \
    X(LEGEND_UTC, "Z = UTC, local time not set")                                                   \
    X(LEGEND_DAY, "Where not said:")                                                               \
    /* Labels, at most 10 columns. */                                                              \
    X(L_WHERE, "WHERE")                                                                            \
    X(L_CONDITION, "STATE")                                                                        \
    X(L_NOW, "NOW")                                                                                \
    X(L_EVAC, "EVAC")                                                                              \
    X(L_NEWS, "NEWS")                                                                              \
    X(L_HANDED, "HANDED")                                                                          \
    X(L_CLOSED, "CLOSED")                                                                          \
    X(L_PATIENT, "PATIENT")                                                                        \
    X(L_TIME, "TIME")                                                                              \
    X(L_COMPLAINT, "ILLNESS")                                                                      \
    X(L_YES, "YES")                                                                                \
    X(L_NO, "NO")                                                                                  \
    X(L_SCORES, "SCORES")                                                                          \
    X(L_SIGNS, "SIGNS")                                                                            \
    X(L_LATEST, "ALSO")                                                                            \
    X(L_AIRWAY, "AIRWAY")                                                                          \
    X(L_BREATHING, "BREATHING")                                                                    \
    X(L_GIVEN, "GIVEN")                                                                            \
    X(L_OXYGEN, "OXYGEN")                                                                          \
    X(L_CHAMBER, "CHAMBER")                                                                        \
    X(L_DESCENT, "DESCENT")                                                                        \
    X(L_REASSESS, "REVIEW")                                                                        \
    X(L_ALLERGIES, "ALLERGY")                                                                      \
    X(L_MEDICINES, "OWN MED")                                                                      \
    X(L_HISTORY, "HISTORY")                                                                        \
    X(L_NOTES, "NOTES")                                                                            \
    X(L_CONTACT, "CONTACT")                                                                        \
    X(L_REQUEST, "REQUEST")                                                                        \
    X(L_PLACE, "PLACE")                                                                            \
    X(L_SITE, "LANDING")                                                                           \
    X(L_WEATHER, "WEATHER")                                                                        \
    X(L_GROUND, "GROUND")                                                                          \
    X(L_MISSING, "MISSING")                                                                        \
    X(L_ANSWERS, "ANSWERS")                                                                        \
    X(L_EARLIER, "BEFORE")                                                                         \
    X(L_GRID, "GRID")                                                                              \
    X(L_NEWS2, "NEWS2")                                                                            \
    X(L_SPO2, "SPO2")                                                                              \
    X(L_COLD, "COLD")                                                                              \
    X(L_CONFLICT, "CONFLICT")                                                                      \
    X(L_CORRECTED, "STRUCK")                                                                       \
    X(L_RECORDS, "RECORDS")                                                                        \
    X(L_UNKNOWN, "UNKNOWN")                                                                        \
    X(L_CAUTION, "CAUTION:")                                                                       \
    /* States. */                                                                                  \
    X(NOT_ASKED, "NOT ASKED")                                                                      \
    X(YES_LIST, "YES:")                                                                            \
    X(NO_LIST, "NO:")                                                                              \
    X(NOT_ASKED_LIST, "NOT ASKED:")                                                                \
    X(ALLERGIC, "*** ALLERGIC TO ***")                                                             \
    X(INDENT, "-")                                                                                 \
    X(REASON, "reason:")                                                                           \
    X(BREATHING_RATE, "BREATHING")                                                                 \
    X(NOT_ASKED_LOUD, "*** NOT ASKED - NOT KNOWN ***")                                             \
    X(OR_NOT_RECEIVED, "or the answer was not received")                                           \
    X(NONE_KNOWN, "NONE KNOWN (asked)")                                                            \
    X(NOT_MEASURED, "NOT MEASURED")                                                                \
    X(UNABLE, "tried, NO RESULT")                                                                  \
    X(NOT_RECORDED, "NOT RECORDED")                                                                \
    X(NOT_SAID, "not said")                                                                        \
    X(YES, "yes")                                                                                  \
    X(NO, "no")                                                                                    \
    X(YES_MET, "yes:")                                                                             \
    X(CORRECTED_WAS, "CORRECTED: was")                                                             \
    X(NO_REASON, "no reason said")                                                                 \
    X(CORRECTION_MISSING, "correction not held here")                                              \
    X(OLDER_DROPPED, "OLDER ENTRIES NOT SHOWN: no room was left for them")                         \
    X(CLOCK_UNSET, "CLOCK NOT SYNCHRONISED")                                                       \
    X(ENTERED_AT, "entered")                                                                       \
    X(BY, "by")                                                                                    \
    X(AT_STATION, "at")                                                                            \
    X(BY_NOT_SAID, "by: not said")                                                                 \
    X(STATION, "station")                                                                          \
    X(AGE_OLD, "old")                                                                              \
    X(AGE_AHEAD, "ahead of this clock")                                                            \
    X(AGO, "ago")                                                                                  \
    X(IN_FUTURE, "in")                                                                             \
    X(UNDER_MINUTE, "<1 min")                                                                      \
    /* Headline. */                                                                                \
    X(SUSPECTED, "SUSPECTED")                                                                      \
    X(PLUS, "+")                                                                                   \
    X(AMS, "AMS")                                                                                  \
    X(HACE, "HACE")                                                                                \
    X(HAPE, "HAPE")                                                                                \
    X(OTHER_ILLNESS, "OTHER:")                                                                     \
    X(NO_LABEL, "NO WORKING LABEL YET")                                                            \
    X(NOT_OPENED, "OPENING RECORD NOT HELD: FRAGMENTS ONLY")                                       \
    X(NAME_NOT_SAID, "name/label not said")                                                        \
    X(AGE_NOT_ASKED, "age NOT ASKED")                                                              \
    X(WEIGHT_NOT_ASKED, "weight NOT ASKED")                                                        \
    X(IDENTITY_NOT_HELD, "name, sex, age, weight NOT HELD")                                        \
    X(TIMES_NOT_HELD, "first symptom, altitude reached: NOT HELD")                                 \
    X(CRITERIA_NOT_HELD, "criteria, first sign: NOT HELD")                                         \
    X(POSITION_UNKNOWN, "position NOT KNOWN")                                                      \
    X(DATUM, "WGS 84")                                                                             \
    X(REPORTED_AT, "at")                                                                           \
    X(NOT_IN_REQUEST, "from the request:")                                                         \
    X(OPENED_AT, "at opening")                                                                     \
    X(ALTITUDE_UNKNOWN, "altitude NOT KNOWN")                                                      \
    X(ALTITUDE_AT, "at")                                                                           \
    X(ACCURACY, "+/-")                                                                             \
    X(POSITION_OF, "as of")                                                                        \
    X(CONDITION_UNSAID, "condition not said")                                                      \
    X(IN_CHAMBER, "IN CHAMBER")                                                                    \
    X(NOT_IN_CHAMBER, "not in chamber")                                                            \
    X(OUT_OF_CHAMBER, "out of chamber")                                                            \
    X(SESSION, "session")                                                                          \
    X(SINCE, "since")                                                                              \
    X(AT_PRESSURE_FOR, "at pressure")                                                              \
    X(REPORTED_ELAPSED, "running")                                                                 \
    X(ON_OXYGEN, "OXYGEN")                                                                         \
    X(OFF_OXYGEN, "no oxygen running")                                                             \
    X(OXYGEN_UNKNOWN, "oxygen NOT RECORDED")                                                       \
    X(CHAMBER_UNKNOWN, "chamber NOT RECORDED")                                                     \
    X(FLOW_UNKNOWN, "flow not said")                                                               \
    X(ETA, "ETA")                                                                                  \
    X(NO_ETA, "NO ETA")                                                                            \
    X(PASSED, "PASSED")                                                                            \
    X(READ_BACK, "read back")                                                                      \
    X(NOT_READ_BACK, "NOT READ BACK")                                                              \
    X(NO_NEWS, "NO RECORD HELD")                                                                   \
    X(NO_NEWS_SINCE, "NO NEWS SINCE")                                                              \
    /* A, T, M, I. */                                                                              \
    X(ONSET, "first symptom")                                                                      \
    X(ONSET_UNKNOWN, "first symptom: time NOT ASKED")                                              \
    X(REACHED, "reached this altitude")                                                            \
    X(REACHED_UNKNOWN, "altitude reached: time NOT ASKED")                                         \
    X(OPENED, "opened")                                                                            \
    X(FIRST_SIGN, "First sign:")                                                                   \
    X(FIRST_SIGN_UNKNOWN, "First sign NOT RECORDED")                                               \
    X(ASKED_NONE_YES, "no criterion answered yes")                                                 \
    X(LLS_2018, "Lake Louise 2018 total")                                                          \
    X(LLS_INCOMPLETE, "INCOMPLETE")                                                                \
    X(HEADACHE, "head")                                                                            \
    X(GUT, "gut")                                                                                  \
    X(FATIGUE, "fatigue")                                                                          \
    X(DIZZINESS, "dizzy")                                                                          \
    X(ATAXIA_HEEL, "ataxia")                                                                       \
    X(AT_OPENING, "At opening:")                                                                   \
    X(FUNCTIONAL, "functional score")                                                              \
    /* S. */                                                                                       \
    X(LAST_SETS, "of")                                                                             \
    X(TABLE_KEY, "- not measured; X no result; ty/or/oe ear/mouth/gullet")                         \
    X(NO_SETS, "NO OBSERVATIONS HELD")                                                             \
    X(C_TIME, "time")                                                                              \
    X(C_AGE, "age")                                                                                \
    X(C_MODE, "mode")                                                                              \
    X(C_SPO2, "SpO2")                                                                              \
    X(C_PULSE, "HR")                                                                               \
    X(C_RESP, "RR")                                                                                \
    X(C_BP, "BP")                                                                                  \
    X(C_TEMP, "temp C")                                                                            \
    X(C_ACVPU, "ACVPU")                                                                            \
    X(C_GCS, "E-V-M")                                                                              \
    X(C_ATAXIA, "atx")                                                                             \
    X(C_LLS, "LLS")                                                                                \
    X(DASH, "-")                                                                                   \
    X(CROSS, "X")                                                                                  \
    X(SPO2, "SpO2")                                                                                \
    X(PULSE, "pulse")                                                                              \
    X(RESP, "resp")                                                                                \
    X(BP, "BP")                                                                                    \
    X(TEMP, "temp")                                                                                \
    X(CONSCIOUS_LEVEL, "conscious level")                                                          \
    X(GCS, "GCS")                                                                                  \
    /* T. */                                                                                       \
    X(NO_DOSE, "NO DRUG RECORDED: no proof that none was given")                                   \
    X(DOSE_UNKNOWN, "DOSE NOT RECORDED")                                                           \
    X(REFUSED_BY_PATIENT, "PATIENT REFUSED")                                                       \
    X(CHECKED_BY, "checked")                                                                       \
    X(NO_CHECKER, "no second check")                                                               \
    X(CONFIRMED_BY, "confirmed by")                                                                \
    X(AGAINST, "although")                                                                         \
    X(FLAG_EARLY, "TOO EARLY")                                                                     \
    X(FLAG_DOUBLE, "PERHAPS GIVEN TWICE")                                                          \
    X(FLAG_OVER_SINGLE, "ABOVE LARGEST DOSE")                                                      \
    X(FLAG_OVER_DAY, "ABOVE MOST IN 24 H")                                                         \
    X(FLAG_ALLERGY, "ALLERGY")                                                                     \
    X(FLAG_VASODILATORS, "SECOND PULMONARY VASODILATOR")                                           \
    X(FLAG_ROUTE, "UNUSUAL ROUTE")                                                                 \
    X(IN_ALL, "in all")                                                                            \
    X(REBOUND_UNTIL, "watch for relapse until")                                                    \
    X(CYLINDER, "cylinder")                                                                        \
    X(MINUTES_AT_PRESSURE, "at pressure")                                                          \
    X(CLOSED_AT, "closed")                                                                         \
    X(PRESSURISING_AT, "pressurising")                                                             \
    X(PRESSURE_FROM, "at pressure")                                                                \
    X(DEFLATING_AT, "deflating")                                                                   \
    X(OUT_AT, "out")                                                                               \
    X(STILL_IN, "STILL IN")                                                                        \
    X(END_UNKNOWN, "end NOT RECORDED")                                                             \
    X(GAUGE_MAX, "up to")                                                                          \
    X(GAUGE_UNKNOWN, "gauge NOT MEASURED")                                                         \
    X(ALTIMETER, "altimeter inside")                                                               \
    X(HOLD_AT, "at")                                                                               \
    X(HOLDS, "holds")                                                                              \
    X(EQUIVALENT, "like about")                                                                    \
    X(EQUIVALENT_OR, "or")                                                                         \
    X(LLS_ITEMS, "LLS")                                                                            \
    X(EQUALS, "=")                                                                                 \
    X(U_M_ISA, "m (ISA)")                                                                          \
    X(UTM, "UTM")                                                                                  \
    X(MGRS, "MGRS")                                                                                \
    X(AT_LEAST, "AT LEAST")                                                                        \
    X(WITHOUT_SPO2, "without SpO2")                                                                \
    X(NEWS2_UNDER_16, "not meant for those under 16 years")                                        \
    X(NEWS2_LIMIT, "Not validated above 2600 m")                                                   \
    X(NEWS2_NO, "NO")                                                                              \
    X(MIND, "mind")                                                                                \
    X(SPO2_ON_AIR, "on air")                                                                       \
    X(BAND_BELOW, "below")                                                                         \
    X(BAND_IN, "not below")                                                                        \
    X(BAND_AT, "by eye for")                                                                       \
    X(SPO2_INACCURATE, "inaccurate")                                                               \
    X(CRITERIA_1991, "By the criteria of 1991:")                                                   \
    X(MET_NOT, "not met")                                                                          \
    X(MET, "met")                                                                                  \
    X(MET_OPEN, "open")                                                                            \
    X(STAGE_CORE, "stage by temperature")                                                          \
    X(STAGE_RESPONSE, "by response")                                                               \
    X(STAGE_FALSE, "SUSPECTED HACE FALSIFIES THE STAGE BY RESPONSE")                               \
    X(OXYGEN_LEFT, "lasts until")                                                                  \
    X(OXYGEN_LEFT_AT, "at")                                                                        \
    X(OXYGEN_TO_ETA, "past the ETA")                                                               \
    X(OXYGEN_SHORT, "NOT UNTIL THE ETA; what would last:")                                         \
    X(OXYGEN_NO_FLOW, "NOT UNTIL THE ETA AT ANY FLOW")                                             \
    X(CONFLICT_RECORDS, "records")                                                                 \
    X(CONFLICT_AND, "and")                                                                         \
    X(U_M_WEST, "m (West 1996)")                                                                   \
    X(DESCENDING, "GOING DOWN")                                                                    \
    X(NOT_DESCENDING, "NOT GOING DOWN:")                                                           \
    X(ASK_AGAIN, "ask again after")                                                                \
    X(NEXT, "next:")                                                                               \
    X(MENTAL_CHANGE, "mental change")                                                              \
    X(CAN_WALK, "can walk")                                                                        \
    X(NOT_RECORDED_LIST, "NO RECORD HELD OF:")                                                     \
    X(NOT_HELD_LIST, "NOT HELD:")                                                                  \
    X(W_OXYGEN, "oxygen")                                                                          \
    X(W_CHAMBER, "chamber session")                                                                \
    X(W_DESCENT, "descent decision")                                                               \
    X(W_REASSESS, "reassessment")                                                                  \
    X(AS_REPORTED, "as reported")                                                                  \
    /* B, O. */                                                                                    \
    X(HISTORY, "")                                                                                 \
    X(LAST_MEAL, "Last meal:")                                                                     \
    X(NO_NOTES, "none")                                                                            \
    /* Evacuation. */                                                                              \
    X(NO_CRITERION_ASKED, "NO CRITERION ASKED")                                                    \
    X(LAST, "last")                                                                                \
    X(TRIED_LIST, "TRIED, NO RESULT:")                                                             \
    X(NO_REQUEST_HERE, "no request held here")                                                     \
    X(REQUEST_NOT_HERE, "the request itself is NOT HELD HERE")                                     \
    X(EARLIER_ANSWER, "BEFORE THAT:")                                                              \
    X(EARLIER_OPENING, "opening of")                                                               \
    X(CANCEL_OF, "cancel of record")                                                               \
    X(NO_REQUEST, "NO EVACUATION REQUEST HELD")                                                    \
    X(NO_REQUEST_IN_FORCE, "NO EVACUATION REQUEST IN FORCE")                                       \
    X(URGENCY, "urgency")                                                                          \
    X(REVISES, "revises")                                                                          \
    X(CANCELLED, "CANCELLED")                                                                      \
    X(PATIENTS, "patients")                                                                        \
    X(WITH_KIT, "with kit")                                                                        \
    X(CONSCIOUS, "conscious")                                                                      \
    X(OXYGEN_NEEDED, "oxygen needed")                                                              \
    X(LIES_FLAT, "lies flat")                                                                      \
    X(SITE_POSITION, "landing site position")                                                      \
    X(SITE_SIZE, "landing area")                                                                   \
    X(SURFACE, "surface")                                                                          \
    X(SLOPE, "slope")                                                                              \
    X(OBSTACLES, "obstacles:")                                                                     \
    X(SITE_MARKED, "marked")                                                                       \
    X(WIND, "wind")                                                                                \
    X(WIND_FROM, "from")                                                                           \
    X(GUST, "gust")                                                                                \
    X(AIR_TEMP, "air")                                                                             \
    X(VISIBILITY, "visibility")                                                                    \
    X(CLOUD_BASE, "cloud base")                                                                    \
    X(WEATHER, "sky:")                                                                             \
    X(HAZARDS, "HAZARDS:")                                                                         \
    X(GROUND_CONTACT, "contact:")                                                                  \
    X(NEEDS, "needs:")                                                                             \
    X(PARTY, "stay behind")                                                                        \
    X(PEOPLE, "people")                                                                            \
    X(DAYLIGHT_END, "dark from")                                                                   \
    X(INSURANCE, "insurance:")                                                                     \
    X(FALLBACK, "IF NOBODY COMES:")                                                                \
    X(NONE_MISSING, "nothing")                                                                     \
    X(NO_ANSWERS, "NO ANSWER HELD")                                                                \
    X(ABOUT, "about record")                                                                       \
    X(TAKEN_BY, "taken by")                                                                        \
    X(TO_TEAM, "to")                                                                               \
    X(WITH_SHEET, "sheet")                                                                         \
    /* Names of missing fields. */                                                                 \
    X(F_URGENCY, "urgency")                                                                        \
    X(F_PATIENTS, "number of patients")                                                            \
    X(F_WEIGHT, "weight with kit")                                                                 \
    X(F_MOBILITY, "walking/sitting/stretcher")                                                     \
    X(F_POSITION, "patient position")                                                              \
    X(F_ALTITUDE, "altitude")                                                                      \
    X(F_OBSTACLES, "obstacles")                                                                    \
    X(F_SKY, "sky")                                                                                \
    X(F_HAZARDS, "hazards")                                                                        \
    X(F_CONTACT, "ground contact")                                                                 \
    X(F_NEEDS, "needs")                                                                            \
    X(F_PARTY, "people who stay")                                                                  \
    X(F_DAYLIGHT, "end of daylight")                                                               \
    X(F_INSURANCE, "insurance")                                                                    \
    X(F_FALLBACK, "fallback plan")                                                                 \
    X(F_WIND_FROM, "wind direction")                                                               \
    X(F_AIR_TEMP, "air temperature")                                                               \
    X(F_MARKED, "site marked")                                                                     \
    X(F_ALLERGIES, "ALLERGIES")                                                                    \
    X(F_MEDICINES, "own medicines")                                                                \
    X(F_HISTORY, "history")                                                                        \
    X(F_LAST_MEAL, "last meal")                                                                    \
    X(F_NEXT_OF_KIN, "contact")                                                                    \
    X(F_SEX, "sex")                                                                                \
    X(F_AGE, "age")                                                                                \
    X(F_PATIENT_WEIGHT, "weight")                                                                  \
    X(F_ONSET, "onset")                                                                            \
    X(F_REACHED, "time altitude reached")                                                          \
    X(F_CONSCIOUS, "conscious level")                                                              \
    X(F_TEMP, "temperature")                                                                       \
    X(F_ATAXIA, "ataxia")                                                                          \
    X(F_LLS, "Lake Louise score")                                                                  \
    X(F_AIRWAY, "airway")                                                                          \
    /* Completeness and end. */                                                                    \
    X(PARTS_OF, "of")                                                                              \
    X(PARTS_HELD, "log entries held")                                                              \
    X(ALL_HELD, "none known missing")                                                              \
    X(PARTS_MISSING, "MISSING")                                                                    \
    X(FROM_LOG, "from")                                                                            \
    X(HOLDING_UNKNOWN, "number of records missing: NOT KNOWN")                                     \
    X(OF_PATIENT, "records of this patient")                                                       \
    X(UNREADABLE, "UNREADABLE HERE (newer version)")                                               \
    X(NO_REPORT, "NO REPORT")                                                                      \
    X(TO_NOW, "to now")                                                                            \
    X(RANGE, "-")                                                                                  \
    X(MORE_GAPS, "later silences not listed")                                                      \
    X(NO_GAPS, "no silence over 40 min")                                                           \
    X(CORRECTION_OF, "record")                                                                     \
    X(REPLACED_BY, "replaced by")                                                                  \
    X(IN_ERROR, "entered in error, nothing replaces it")                                           \
    X(CAUTIONS, "Not a medical device: check the patient. A chamber is never a substitute for "    \
                "descent. Follow the treating clinician, local protocols and licensed practice. "  \
                "Radio use follows local law.")                                                    \
    X(PRINTED_BY, "by")                                                                            \
    X(SUPERSEDES, "Supersedes earlier sheets.")                                                    \
    X(END_OF_SHEET, "END OF SHEET")                                                                \
    /* Units. */                                                                                   \
    X(U_PCT, "%")                                                                                  \
    X(U_PER_MIN, "/min")                                                                           \
    X(U_YEARS, "y")                                                                                \
    X(U_KG, "kg")                                                                                  \
    X(U_M, "m")                                                                                    \
    X(U_MMHG, "mmHg")                                                                              \
    X(U_C, "C")                                                                                    \
    X(U_LPM, "L/min")                                                                              \
    X(U_BAR, "bar")                                                                                \
    X(U_LITRE, "L")                                                                                \
    X(U_PSI, "psi")                                                                                \
    X(U_HPA, "hPa")                                                                                \
    X(U_MIN, "min")                                                                                \
    X(U_HOUR, "h")                                                                                 \
    X(U_DAY, "d")                                                                                  \
    X(U_KMH, "km/h")                                                                               \
    X(U_DEG, "deg")                                                                                \
    X(U_DEG_TRUE, "deg true")                                                                      \
    X(U_M_AMSL, "m above sea level")                                                               \
    X(U_OF_12, "of 12")                                                                            \
    X(U_OF_4, "of 4")                                                                              \
    X(U_OF_3, "of 3")                                                                              \
    X(BY_AREA, "x")                                                                                \
    /* Choices, in the order of their enums in wire/record.h. */                                   \
    X(SEX_UNSAID, "sex not said")                                                                  \
    X(SEX_FEMALE, "female")                                                                        \
    X(SEX_MALE, "male")                                                                            \
    X(SEX_OTHER, "other sex")                                                                      \
    X(ALT_UNSAID, "source not said")                                                               \
    X(ALT_GPS, "GPS")                                                                              \
    X(ALT_MAP, "map")                                                                              \
    X(ALT_BAROMETER, "barometer")                                                                  \
    X(VIA_ENTERED, "later")                                                                        \
    X(VIA_PAPER, "from paper")                                                                     \
    X(VIA_VOICE, "from voice")                                                                     \
    X(SITE_UNSAID, "site not said")                                                                \
    X(SITE_ORAL, "oral")                                                                           \
    X(SITE_TYMPANIC, "tympanic")                                                                   \
    X(SITE_OESOPHAGEAL, "oesophageal")                                                             \
    X(SITE_SHORT_UNSAID, "?")                                                                      \
    X(SITE_SHORT_ORAL, "or")                                                                       \
    X(SITE_SHORT_TYMPANIC, "ty")                                                                   \
    X(SITE_SHORT_OESOPHAGEAL, "oe")                                                                \
    X(MODE_SHORT_UNSAID, "?")                                                                      \
    X(MODE_SHORT_AIR, "air")                                                                       \
    X(MODE_SHORT_OXYGEN, "oxygen")                                                                 \
    X(MODE_SHORT_CHAMBER, "chamber")                                                               \
    X(MODE_SHORT_CHAMBER_OXYGEN, "cham+O2")                                                        \
    X(ACVPU_SHORT_ALERT, "A")                                                                      \
    X(ACVPU_SHORT_CONFUSED, "C")                                                                   \
    X(ACVPU_SHORT_VOICE, "V")                                                                      \
    X(ACVPU_SHORT_PAIN, "P")                                                                       \
    X(ACVPU_SHORT_UNRESPONSIVE, "U")                                                               \
    X(DOSE_NONE, "")                                                                               \
    X(DOSE_MG, "mg")                                                                               \
    X(DOSE_G, "g")                                                                                 \
    X(DOSE_MCG, "microgram")                                                                       \
    X(DOSE_ML, "ml")                                                                               \
    X(DOSE_TABLET, "tablet")                                                                       \
    X(DOSE_PUFF, "puff")                                                                           \
    X(DOSE_IU, "IU")                                                                               \
    X(ROUTE_UNSAID, "route not said")                                                              \
    X(ROUTE_ORAL, "oral")                                                                          \
    X(ROUTE_SUBLINGUAL, "under tongue")                                                            \
    X(ROUTE_IM, "IM")                                                                              \
    X(ROUTE_IV, "IV")                                                                              \
    X(ROUTE_SUBCUTANEOUS, "subcutaneous")                                                          \
    X(ROUTE_INHALED, "inhaled")                                                                    \
    X(ROUTE_RECTAL, "rectal")                                                                      \
    X(ROUTE_NASAL, "nasal")                                                                        \
    X(ROUTE_TOPICAL, "on skin")                                                                    \
    X(TREAT_DRUG, "")                                                                              \
    X(TREAT_FLUID, "fluid:")                                                                       \
    X(TREAT_OTHER, "other:")                                                                       \
    X(O2_UNSAID, "device not said")                                                                \
    X(O2_PRONGS, "prongs")                                                                         \
    X(O2_MASK, "mask")                                                                             \
    X(O2_RESERVOIR, "reservoir mask")                                                              \
    X(O2_START, "start")                                                                           \
    X(O2_CHANGE, "change")                                                                         \
    X(O2_STOP, "STOP")                                                                             \
    X(O2_READING, "reading")                                                                       \
    X(HOLD_UNSAID, "reason not said")                                                              \
    X(HOLD_EARS, "ears")                                                                           \
    X(HOLD_VOMIT, "vomiting")                                                                      \
    X(HOLD_PANIC, "panic")                                                                         \
    X(HOLD_PAIN, "pain")                                                                           \
    X(HOLD_PUMP, "pump")                                                                           \
    X(HOLD_OTHER, "other")                                                                         \
    X(NEXT_UNSAID, "not said")                                                                     \
    X(NEXT_SESSION, "another session")                                                             \
    X(NEXT_DESCEND, "descend")                                                                     \
    X(NEXT_EVACUATE, "evacuate")                                                                   \
    X(NEXT_WATCH, "watch")                                                                         \
    X(WHY_UNSAID, "reason not said")                                                               \
    X(WHY_DARK, "dark")                                                                            \
    X(WHY_WEATHER, "weather")                                                                      \
    X(WHY_TERRAIN, "terrain")                                                                      \
    X(WHY_NO_CARRIERS, "no carriers")                                                              \
    X(WHY_CONDITION, "condition of patient")                                                       \
    X(WHY_OTHER, "other reason")                                                                   \
    X(URG_UNSAID, "not said")                                                                      \
    X(URG_E1, "E1 NOW")                                                                            \
    X(URG_E2, "E2 WITHIN 1 H")                                                                     \
    X(URG_E3, "E3 TODAY")                                                                          \
    X(URG_E4, "E4 ROUTINE")                                                                        \
    X(MOB_UNSAID, "mobility not said")                                                             \
    X(MOB_WALKING, "walking")                                                                      \
    X(MOB_SITTING, "sitting")                                                                      \
    X(MOB_STRETCHER, "stretcher")                                                                  \
    X(SURF_UNSAID, "not said")                                                                     \
    X(SURF_SNOW, "snow")                                                                           \
    X(SURF_ICE, "ice")                                                                             \
    X(SURF_ROCK, "rock")                                                                           \
    X(SURF_GRASS, "grass")                                                                         \
    X(SURF_SAND, "sand")                                                                           \
    X(NEED_DOCTOR, "doctor")                                                                       \
    X(NEED_OXYGEN, "oxygen")                                                                       \
    X(NEED_STRETCHER, "stretcher")                                                                 \
    X(NEED_HOIST, "hoist")                                                                         \
    X(NEED_NONE, "nothing")                                                                        \
    X(OUT_UNSAID, "outcome not said")                                                              \
    X(OUT_HANDED_OVER, "handed over")                                                              \
    X(OUT_DESCENDED, "descended")                                                                  \
    X(OUT_RECOVERED, "recovered")                                                                  \
    X(OUT_DIED, "died")                                                                            \
    X(OUT_OTHER, "other")                                                                          \
    X(MONTH_1, "Jan")                                                                              \
    X(MONTH_2, "Feb")                                                                              \
    X(MONTH_3, "Mar")                                                                              \
    X(MONTH_4, "Apr")                                                                              \
    X(MONTH_5, "May")                                                                              \
    X(MONTH_6, "Jun")                                                                              \
    X(MONTH_7, "Jul")                                                                              \
    X(MONTH_8, "Aug")                                                                              \
    X(MONTH_9, "Sep")                                                                              \
    X(MONTH_10, "Oct")                                                                             \
    X(MONTH_11, "Nov")                                                                             \
    X(MONTH_12, "Dec")                                                                             \
    X(NORTH, "N")                                                                                  \
    X(SOUTH, "S")                                                                                  \
    X(EAST, "E")                                                                                   \
    X(WEST, "W")

enum rp_text_id {
#define RP_TEXT_ENUM(key, english) RP_TX_##key,
    RP_SHEET_WORDS(RP_TEXT_ENUM) RP_FORM_WORDS(RP_TEXT_ENUM)
#undef RP_TEXT_ENUM
#define X(name, number, word) RP_TX_COND_##name,
        RP_CONDITIONS(X)
#undef X
#define X(name, number, word) RP_TX_PHASE_##name,
            RP_PHASES(X)
#undef X
#define X(name, number, word) RP_TX_EVAC_##name,
                RP_EVAC_STATES(X)
#undef X
#define X(name, number, word) RP_TX_MODE_##name,
                    RP_MODES(X)
#undef X
#define X(name, number, word) RP_TX_ACVPU_##name,
                        RP_ACVPU(X)
#undef X
#define X(name, number, word) RP_TX_ANS_##name,
                            RP_ANSWERS(X)
#undef X
#define X(name, number, word) RP_TX_AIRWAY_##name,
                                RP_AIRWAYS(X)
#undef X
#define X(name, sentence) RP_TX_CONTRA_##name,
                                    RP_CONTRADICTIONS(X)
#undef X
#define X(name, word) RP_TX_CRIT_##name,
                                        RP_CRITERIA(X)
#undef X
                                            RP_TX_COUNT
};

/* One language. */
struct rp_texts {
    const char *words[RP_TX_COUNT];
};
extern const struct rp_texts rp_texts_english;

/* The stable key of a text, "MODE_AIR": what the check of a sheet covers in place of the words. */
const char *rp_text_key(enum rp_text_id id);
/* The text of choice `value` in the run first..last of ids; RP_TX_ODD outside of it. */
enum rp_text_id rp_text_pick(enum rp_text_id first, enum rp_text_id last, int value);

#endif
