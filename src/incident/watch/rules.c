/* The table of watch rules. Triggers are those of the clinical references, section 6.4, which are
 * design judgement there ("ours"), unless the row names another source. What to do next reminds of
 * the party's own card and of the treating clinician; it never prescribes. */
#include <string.h>

#include "incident/watch/rules.h"

#define SNOOZE_S 300 /* clinical references 6.4: at most 5 min, and logged */
/* What ends at once when it is done cannot be silenced for long: ours. */
#define SNOOZE_SHORT_S 60
#define CAMP           RP_WATCH_CAMP
#define BASE           RP_WATCH_BASE

const struct rp_watch_rule rp_watch_rules[] = {
    {1, CAMP, SNOOZE_SHORT_S, false, true, "pump", "no stroke told for 60 s, fast after 120 s",
     "pump now, wake the crew; pressure and fresh air fall",
     "6.4 H1 (ours); continuous pumping clears CO2: US military altitude guideline", rp_check_pump},
    {2, CAMP, SNOOZE_SHORT_S, false, true, "pressure",
     "gauge 15 hPa below the target for 60 s, or above the maximum",
     "look at gauge, valves and zip; pump, or let off what is too much", "6.4 H2 (ours)",
     rp_check_pressure},
    {3, CAMP, SNOOZE_S, false, true, "conscious", "a step down ACVPU, or 2 of the coma scale",
     "look at the patient: airway, breathing; tell base and the treating clinician",
     "6.4 H3 (ours); ACVPU: NEWS2 2017", rp_check_conscious},
    {4, CAMP, SNOOZE_S, true, true, "spo2-band", "SpO2 on air below the band of this altitude",
     "warm the finger, measure 60 s; then the card and the treating clinician",
     "6.4 H4, band 3.2 (ours, by eye)", rp_check_spo2_band},
    {5, CAMP, SNOOZE_S, true, true, "spo2-fall", "SpO2 5 or more below an earlier one, same mode",
     "warm the finger, measure 60 s; check oxygen and mask; tell the treating clinician",
     "6.4 H4 (ours); like with like: Luks and Swenson 2011", rp_check_spo2_fall},
    {6, CAMP, SNOOZE_S, true, true, "spo2-no-rise",
     "15 min at pressure and SpO2 not 5 above the one before, same oxygen",
     "check gauge and mask; no effect is a reason to go down: ask the treating clinician",
     "6.4 H4 (ours); rise seen: Imray 2001", rp_check_spo2_no_rise},
    {7, CAMP, SNOOZE_S, true, true, "resp", "respiration 30 or more, or 8 or fewer",
     "count 30 s twice; then the card and the treating clinician", "6.4 H5 (ours)", rp_check_resp},
    {8, CAMP, SNOOZE_S, true, true, "pulse", "pulse 130 or more, or 40 or fewer",
     "feel the pulse for 30 s; then the card and the treating clinician", "6.4 H5 (ours)",
     rp_check_pulse},
    {9, CAMP, SNOOZE_S, false, true, "hold", "a hold for ears, vomit, panic or pain",
     "talk to the patient; record what is done next; ask the treating clinician", "6.4 H6 (ours)",
     rp_check_hold},
    {10, CAMP, SNOOZE_S, false, true, "obs", "no observations: 15 min in chamber, 30 unstable, 60",
     "take SpO2, pulse, respiration and conscious level, or enter that you are unable",
     "6.4 H7 (ours)", rp_check_obs},
    {11, CAMP, SNOOZE_S, true, true, "session", "15 min before the session's time, and at it",
     "prepare the exit; out, sit, reassess on air after 10 min; why not down?",
     "6.4 H8; 1 h then reassess: pararescue handbook 8th ed.", rp_check_session},
    {12, CAMP, SNOOZE_S, true, true, "drug", "10 min before an interval is over, 15 min after",
     "look at the protocol table; the treating clinician decides", "6.4 H9 (ours)", rp_check_drugs},
    {13, CAMP, SNOOZE_S, true, true, "oxygen", "oxygen for 60, 30 or 10 min left",
     "check flow and cylinder with the treating clinician; tell base", "6.4 H10 (ours)",
     rp_check_oxygen},
    {14, CAMP, SNOOZE_S, true, true, "oxygen-eta", "oxygen ends before the expected arrival",
     "check flow and cylinder with the treating clinician; tell base what is left",
     "6.4 H10 (ours)", rp_check_oxygen_eta},
    {15, CAMP, SNOOZE_S, false, true, "rotation", "one person has pumped for 12 min",
     "change the pumper; warm hands and drink", "6.4 H11 (ours)", rp_check_rotation},
    {16, CAMP, SNOOZE_SHORT_S, false, true, "dead-man",
     "in the chamber, nothing entered or told for 10 min",
     "wake the crew: the patient is never alone in the chamber", "6.4 H12 (ours)",
     rp_check_dead_man},
    {17, CAMP, SNOOZE_S, false, true, "rebound", "after the chamber: 30 min for 2 h, then hourly",
     "SpO2 and conscious level; worse again is a relapse: tell the treating clinician",
     "6.4 H13 (ours); worse by 11 h: Keller 1995", rp_check_rebound},
    {18, CAMP, SNOOZE_S, true, true, "unacked", "an urgent record not at base after 5, 15 min",
     "move the radio or its aerial, try another channel or a runner", "6.4 H14 (ours)",
     rp_check_unacked},
    {19, CAMP, SNOOZE_S, true, false, "clock", "the clock is not synchronised",
     "compare with a watch or a satellite receiver; say times by voice", "6.4 H15 (ours)",
     rp_check_clock},
    {20, CAMP, SNOOZE_S, true, false, "disk", "the database could not be written",
     "free the disk; until then keep notes on paper", "6.4 H15 (ours)", rp_check_store},
    {21, CAMP, SNOOZE_S, true, true, "last-descent", "90 and 30 min before the last safe start",
     "decide now: go down, or prepare for the night", "6.4 H16, light less 1.5 descents (ours)",
     rp_check_descent},
    {22, CAMP, SNOOZE_S, true, true, "eta", "60 and 15 min before the expected arrival",
     "out of the chamber in time, kit tied down, site marked, patient held", "6.4 H17 (ours)",
     rp_check_eta_camp},
    {23, CAMP, SNOOZE_S, false, true, "why-not-down", "no answer for an hour, or the time you set",
     "answer: descent no dark, or descent yes; descent is the treatment",
     "6.5 1 (ours); descent first: UIAA MedCom, WMS 2019", rp_check_why_not},
    {24, CAMP, SNOOZE_S, true, true, "head-up", "in the chamber, suspected HAPE or breathless",
     "is the head end raised? acknowledge when it is", "1.4, usual teaching (from memory)",
     rp_check_head_up},
    {25, CAMP, SNOOZE_S, true, false, "radio", "the modem has not answered for 5 min",
     "look at cable and power; records are kept meanwhile", "6.4 H14, B9 (ours)", rp_check_radio},
    {26, CAMP, SNOOZE_S, true, false, "battery", "the station's battery at 20 %, loud at 10 %",
     "charge it or change it; keep the radio on, put the rest off", "6.4 H15 (ours)",
     rp_check_battery},
    {27, CAMP, SNOOZE_S, true, true, "dose-soon", "two doses of a drug closer than they may be",
     "ask who gave it; tell the treating clinician; a correction mends the record", "6.4 H9 (ours)",
     rp_check_dose_twice},
    {28, CAMP, SNOOZE_S, true, false, "clock-back",
     "the clock set back, nobody vouches for the time",
     "compare with a watch or a satellite receiver; trust the order, not the times",
     "6.4 H15, 6.5 16 (ours)", rp_check_clock_back},
    {101, BASE, SNOOZE_S, false, true, "request", "an evacuation request nobody has seen by name",
     "answer seen under your name, pass it on, say what comes", "6.4 B1 (ours)", rp_check_request},
    {102, BASE, SNOOZE_S, true, true, "critical", "the camp reports critical",
     "acknowledge by name; call the camp and the clinician", "6.4 B1 (ours)", rp_check_critical},
    {103, BASE, SNOOZE_S, true, true, "report", "a report is late by 10, 20, 40 min",
     "10: call. 20: try the relays. 40: act on the plan for silence", "6.4 B2 (ours)",
     rp_check_report},
    {104, BASE, SNOOZE_S, true, true, "score-up", "Lake Louise score 2 or more higher",
     "tell the clinician; ask the camp what it plans", "6.4 B3 (ours); Lake Louise 2018",
     rp_check_lls},
    {105, BASE, SNOOZE_S, true, true, "news2-up", "NEWS2 without SpO2 2 or more higher, same mode",
     "tell the clinician; not validated at this altitude", "6.4 B3, 3.1 (ours); NEWS2 2017",
     rp_check_news2},
    {106, BASE, SNOOZE_S, true, true, "spo2-fall-base", "SpO2 5 or more lower, same mode",
     "tell the clinician; ask the camp to measure again, warm finger",
     "6.4 B3 (ours); like with like: Luks and Swenson 2011", rp_check_spo2_fall},
    {107, BASE, SNOOZE_S, true, true, "conscious-base", "a step down ACVPU, or 2 of the coma scale",
     "tell the clinician and the rescue service now", "6.4 B3 (ours); ACVPU: NEWS2 2017",
     rp_check_conscious},
    {108, BASE, SNOOZE_S, true, true, "spo2-band-base", "SpO2 on air below the band of its height",
     "tell the clinician; ask the camp to measure again, warm finger",
     "6.4 B3, band 3.2 (ours, by eye)", rp_check_spo2_band},
    {109, BASE, SNOOZE_S, true, true, "oxygen-eta-base", "oxygen ends before the expected arrival",
     "ask for oxygen to be brought or an earlier time; tell the treating clinician",
     "6.4 B4 (ours)", rp_check_oxygen_eta},
    {110, BASE, SNOOZE_S, true, true, "not-accepted", "10 min after the request nobody accepted",
     "press the rescue service, find another; tell the camp", "6.4 B5 (ours)", rp_check_accepted},
    {111, BASE, SNOOZE_S, true, true, "eta-passed",
     "the expected arrival has passed, not confirmed",
     "call the team and the camp; give a new time", "6.4 B6 (ours)", rp_check_eta_passed},
    {112, BASE, SNOOZE_S, true, true, "dose-twice", "two doses of a drug closer than they may be",
     "ask the camp which is right; a correction mends the record", "6.4 B7 (ours)",
     rp_check_dose_twice},
    {113, BASE, SNOOZE_S, true, true, "altitude", "two heights of the patient differ by 500 m",
     "ask the camp for height and position again", "6.4 B7, 3.5 (ours)", rp_check_altitude},
    {114, BASE, SNOOZE_S, true, true, "time", "a record from more than 2 min ahead",
     "compare clocks by voice; trust the order, not the times", "6.4 B7, 3.5 (ours)",
     rp_check_time},
    {115, BASE, SNOOZE_S, true, false, "radio-base", "the modem has not answered for 5 min",
     "look at cable and power: silence is no good news now", "6.4 B9 (ours)", rp_check_radio},
    {116, BASE, SNOOZE_S, true, true, "handover-open", "closed as handed over, no receipt held",
     "ask team and camp who took the patient and which sheet", "6.4 B10 (ours)", rp_check_handover},
    {117, BASE, SNOOZE_S, true, true, "daylight", "a request is open and light ends within 60 min",
     "ask the rescue service whether it still comes today; plan the night", "6.4 B11 (ours)",
     rp_check_daylight},
    {118, BASE, SNOOZE_S, true, true, "contradiction", "two records that cannot both be right",
     "ask the camp which is right; a correction mends the record", "6.4 B7, 3.5 (ours)",
     rp_check_contradiction},
    {119, BASE, SNOOZE_S, true, true, "crew",
     "who pumps now: over 90 min in 12 h, or 30 min without a change",
     "ask the camp who can relieve them; send people, or end the session", "6.4 B8 (ours)",
     rp_check_crew},
    {120, BASE, SNOOZE_S, true, true, "drug-eta", "a drug in use ends before the expected arrival",
     "ask for more to be brought or an earlier time; tell the treating clinician", "6.4 B4 (ours)",
     rp_check_drugs_eta},
    {121, BASE, SNOOZE_S, true, false, "battery-base", "base's battery at 20 %, loud at 10 %",
     "charge it or change it: base must hear", "6.4 B9 (ours)", rp_check_battery},
    {122, BASE, SNOOZE_S, true, false, "hop-lost", "a link that was good is silent for 60 min",
     "call it by voice; its records may take another way or none", "6.4 B9 (ours)",
     rp_check_hop_lost},
    {123, BASE, SNOOZE_S, true, false, "hop-weak", "of a link that was good under 30 % get through",
     "move or turn an aerial; ask for reports by voice too", "6.4 B9 (ours)", rp_check_hop_weak},
    {124, BASE, SNOOZE_S, true, false, "hop-battery", "a station heard here has a battery at 20 %",
     "ask who can charge it or change it before it is silent", "6.4 B9 (ours)",
     rp_check_hop_battery},
    {125, BASE, SNOOZE_S, true, true, "weather",
     "a request is open and its weather closes, or is 60 min old",
     "tell the rescue service; ask the camp for wind, visibility and cloud now",
     "6.4 B11 (ours); bounds: ICAO Annex 2 and 3, from memory", rp_check_weather},
    {126, BASE, SNOOZE_S, true, false, "clock-back-base",
     "base's clock set back, nobody vouches for the time",
     "compare with a watch or a satellite receiver; trust the order, not the times",
     "6.4 H15, 6.5 16 (ours)", rp_check_clock_back},
};
const size_t rp_watch_rule_count = sizeof rp_watch_rules / sizeof rp_watch_rules[0];

/* Every rule raises one alarm at most, but for two of drugs, three of hops, and four of weather. */
_Static_assert(sizeof rp_watch_rules / sizeof rp_watch_rules[0] - 6 + 2 * RP_DRUGS_MAX +
                       3 * RP_WATCH_HOPS_MAX + 4 <=
                   RP_ALARMS_MAX,
               "an alarm could be left out");

const struct rp_watch_rule *rp_watch_rule_of(uint8_t number)
{
    for (size_t i = 0; i < rp_watch_rule_count; i++) {
        if (rp_watch_rules[i].number == number) {
            return &rp_watch_rules[i];
        }
    }
    return NULL;
}

const char *rp_watch_rule_word(uint8_t number)
{
    const struct rp_watch_rule *rule = rp_watch_rule_of(number);
    return rule != NULL ? rule->word : "?";
}

const char *rp_sound_word(enum rp_sound sound)
{
    static const char *const words[] = {"soft", "loud", "fast"};
    return words[sound];
}
