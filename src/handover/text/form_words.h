/* Words of the forms beside the sheet: requests, cards, and what is said aloud. Part of the one
 * table of texts.h. */
#ifndef RP_HANDOVER_TEXT_FORM_WORDS_H
#define RP_HANDOVER_TEXT_FORM_WORDS_H

/* X(key, english) */
#define RP_FORM_WORDS(X)                                                                           \
    /* ISBAR, the evacuation request, the pilot card. */                                           \
    X(ISBAR_TITLE, "ISBAR FOR A DOCTOR")                                                           \
    X(ISBAR_I, "I - IDENTIFY")                                                                     \
    X(ISBAR_S, "S - SITUATION")                                                                    \
    X(ISBAR_B, "B - BACKGROUND")                                                                   \
    X(ISBAR_A, "A - ASSESSMENT: what was found and done")                                          \
    X(ISBAR_R, "R - RECOMMENDATION AND READ-BACK")                                                 \
    X(L_ASK, "ASK")                                                                                \
    X(ISBAR_ASK, "What shall we do now? What must we not do? What would make you change that? "    \
                 "When shall we call again?")                                                      \
    X(L_READ_BACK, "READ BACK")                                                                    \
    X(ISBAR_READ_BACK, "Repeat the doctor's words, name and time, then record them as an answer.") \
    X(REQUEST_TITLE, "EVACUATION REQUEST")                                                         \
    X(PILOT_TITLE, "PILOT CARD")                                                                   \
    X(L_SITE_GRID, "SITE")                                                                         \
    X(L_DENSITY, "DENSITY")                                                                        \
    X(DENSITY_ALTITUDE, "density altitude about")                                                  \
    X(DENSITY_BASIS, "computed from altitude and air temperature; no pressure was measured")       \
    X(DENSITY_UNKNOWN, "density altitude NOT KNOWN:")                                              \
    X(L_LIGHT, "LIGHT")                                                                            \
    X(FIRST_LIGHT, "first light")                                                                  \
    X(SUNRISE, "sunrise")                                                                          \
    X(SUNSET, "sunset")                                                                            \
    X(LAST_LIGHT, "last light")                                                                    \
    X(LIGHT_BASIS, "computed for a flat horizon: ridges take the sun earlier")                     \
    X(LIGHT_UNKNOWN, "NOT KNOWN without a position")                                               \
    X(LIGHT_POLAR, "the sun does not cross the horizon on that day")                               \
    X(P_PATIENT, "PATIENT AT")                                                                     \
    X(P_ELEVATION, "ELEVATION")                                                                    \
    X(P_SITE, "LANDING SITE")                                                                      \
    X(P_HAZARDS, "HAZARDS")                                                                        \
    X(P_WIND, "WIND")                                                                              \
    X(P_AIR, "AIR")                                                                                \
    X(P_CONTACT, "CONTACT")                                                                        \
    X(P_LOAD, "LOAD")                                                                              \
    X(P_NEEDS, "NEEDS")                                                                            \
    X(P_TOLD, "AS TOLD AT")                                                                        \
    X(NOT_REPORTED, "NOT REPORTED")                                                                \
    X(U_FT, "ft")                                                                                  \
    X(U_KT, "kt")                                                                                  \
    X(LATE, "LATE:")                                                                               \
    X(AFTER_HANDOVER, "ENTERED AFTER THE HANDOVER")                                                \
    X(L_LATE, "LATE")                                                                              \
    X(LATE_COUNT, "records entered after the handover of")                                         \
    X(LATE_WARN, "the team that left may not know them")                                           \
    /* Said aloud. */                                                                              \
    X(SPOKEN_TITLE, "SPOKEN HANDOVER")                                                             \
    X(ETHANE_TITLE, "ETHANE CALL-OUT")                                                             \
    X(SPOKEN_HOW, "Say the lines with a bar. Pause where > stands and have it read back.")         \
    X(SPOKEN_WORDS, "words, about")                                                                \
    X(SPOKEN_SECONDS, "s at 150 words a minute. The sheet says more:")                             \
    X(SPOKEN_REST, "hand it over too.")                                                            \
    X(SAY_EXERCISE, "Exercise, exercise, exercise.")                                               \
    X(SAY_0, "zero")                                                                               \
    X(SAY_1, "one")                                                                                \
    X(SAY_2, "two")                                                                                \
    X(SAY_3, "three")                                                                              \
    X(SAY_4, "four")                                                                               \
    X(SAY_5, "five")                                                                               \
    X(SAY_6, "six")                                                                                \
    X(SAY_7, "seven")                                                                              \
    X(SAY_8, "eight")                                                                              \
    X(SAY_9, "niner")                                                                              \
    X(SAY_DECIMAL, "decimal")                                                                      \
    X(SAY_MINUS, "minus")                                                                          \
    X(SAY_THOUSAND, "thousand")                                                                    \
    X(SAY_HUNDRED, "hundred")                                                                      \
    X(SAY_ZULU, "Zulu")                                                                            \
    X(SAY_DAY, "day")                                                                              \
    X(SAY_SHEET, "sheet")                                                                          \
    X(SAY_CHECK, "check")                                                                          \
    X(SAY_I_SPELL, "I spell")                                                                      \
    X(SAY_YEARS, "years")                                                                          \
    X(SAY_KILOS, "kilos")                                                                          \
    X(SAY_METRES, "metres")                                                                        \
    X(SAY_MINUTES, "minutes")                                                                      \
    X(SAY_HOURS, "hours")                                                                          \
    X(SAY_OLD, "old")                                                                              \
    X(SAY_PERCENT, "percent")                                                                      \
    X(SAY_SUSPECTED, "Suspected")                                                                  \
    X(SAY_AND, "and")                                                                              \
    X(SAY_NO_LABEL, "No working label.")                                                           \
    X(SAY_NOT_OPENED, "Fragments only: opening not received.")                                     \
    X(SAY_OTHER, "Other illness:")                                                                 \
    X(SAY_PATIENT, "Patient")                                                                      \
    X(SAY_NO_NAME, "no name")                                                                      \
    X(SAY_AGE_UNKNOWN, "age not asked")                                                            \
    X(SAY_ALLERGIES, "Allergies:")                                                                 \
    X(SAY_ALLERGIC, "Allergic to:")                                                                \
    X(SAY_NONE_KNOWN, "none known, asked")                                                         \
    X(SAY_NOT_ASKED, "not asked, not known")                                                       \
    X(SAY_DRUGS, "Drugs recorded:")                                                                \
    X(SAY_NO_DRUGS, "No drug recorded.")                                                           \
    X(SAY_MORE_ON_SHEET, "Others: on sheet.")                                                      \
    X(SAY_REFUSED, "refused")                                                                      \
    X(SAY_DOSE_UNKNOWN, "dose not recorded")                                                       \
    X(SAY_DOSE_NONE, "")                                                                           \
    X(SAY_DOSE_MG, "milligrams")                                                                   \
    X(SAY_DOSE_G, "grams")                                                                         \
    X(SAY_DOSE_MCG, "micrograms")                                                                  \
    X(SAY_DOSE_ML, "millilitres")                                                                  \
    X(SAY_DOSE_TABLET, "tablets")                                                                  \
    X(SAY_DOSE_PUFF, "puffs")                                                                      \
    X(SAY_DOSE_IU, "units")                                                                        \
    X(SAY_AIRWAY, "Airway")                                                                        \
    X(SAY_NOT_MEASURED, "not recorded")                                                            \
    X(SAY_NO_RESULT, "tried, no result")                                                           \
    X(SAY_SPO2, "Saturation")                                                                      \
    X(SAY_PULSE, "pulse")                                                                          \
    X(SAY_RESP, "breathing")                                                                       \
    X(SAY_ONSET, "First symptom")                                                                  \
    X(SAY_GAINED, "Altitude gained")                                                               \
    X(SAY_IN_CHAMBER, "In chamber,")                                                               \
    X(SAY_CHAMBER_DONE, "Chamber sessions:")                                                       \
    X(SAY_AT_PRESSURE, "minutes at pressure")                                                      \
    X(SAY_OXYGEN, "Oxygen")                                                                        \
    X(SAY_LITRES, "litres per minute")                                                             \
    X(SAY_OXYGEN_OFF, "Oxygen off.")                                                               \
    X(SAY_SILENCES, "Silences in reports:")                                                        \
    X(SAY_NONE, "none")                                                                            \
    X(SAY_MORE_THAN, "more than")                                                                  \
    X(SAY_FROM, "From")                                                                            \
    X(SAY_TO, "to")                                                                                \
    X(SAY_READ_BACK, "Read back allergies and drugs.")                                             \
    X(SAY_NO_RELIABLE, "Ask for the sheet.")                                                       \
    X(SAY_EXACT, "Exact location:")                                                                \
    X(SAY_GRID, "Grid")                                                                            \
    X(SAY_NORTH, "north")                                                                          \
    X(SAY_SOUTH, "south")                                                                          \
    X(SAY_EAST, "east")                                                                            \
    X(SAY_WEST, "west")                                                                            \
    X(SAY_DEGREES, "degrees")                                                                      \
    X(SAY_UNKNOWN, "not known")                                                                    \
    X(SAY_TYPE, "Type: altitude illness.")                                                         \
    X(SAY_HAZARDS, "Hazards:")                                                                     \
    X(SAY_ACCESS, "Access:")                                                                       \
    X(SAY_LANDING, "landing site")                                                                 \
    X(SAY_BY, "by")                                                                                \
    X(SAY_CASUALTIES, "Number of casualties:")                                                     \
    X(SAY_EMERGENCY, "Emergency services:")                                                        \
    X(SAY_NEEDED, "needed:")                                                                       \
    X(SAY_NO_REQUEST, "none requested yet")                                                        \
    X(SAY_REPORTED, "not reported")                                                                \
    X(SAY_READ_BACK_PLACE, "Read back the location.")

#endif
