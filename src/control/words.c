#include "control/words.h"

#include <stdio.h>
#include <string.h>

#include "node/node.h"
#include "wire/record.h"

const struct rp_word rp_words_condition[] = {{"well", RP_COND_WELL},
                                             {"better", RP_COND_BETTER},
                                             {"same", RP_COND_SAME},
                                             {"worse", RP_COND_WORSE},
                                             {"critical", RP_COND_CRITICAL},
                                             {"dead", RP_COND_DEAD},
                                             {NULL, 0}};
const struct rp_word rp_words_mode[] = {{"air", RP_MODE_AIR},
                                        {"oxygen", RP_MODE_OXYGEN},
                                        {"chamber", RP_MODE_CHAMBER},
                                        {"chamber+oxygen", RP_MODE_CHAMBER_OXYGEN},
                                        {NULL, 0}};
const struct rp_word rp_words_acvpu[] = {
    {"alert", RP_ACVPU_ALERT}, {"confused", RP_ACVPU_CONFUSED},         {"voice", RP_ACVPU_VOICE},
    {"pain", RP_ACVPU_PAIN},   {"unresponsive", RP_ACVPU_UNRESPONSIVE}, {NULL, 0}};
const struct rp_word rp_words_airway[] = {
    {"clear", RP_AIRWAY_CLEAR},     {"at-risk", RP_AIRWAY_AT_RISK}, {"noisy", RP_AIRWAY_NOISY},
    {"blocked", RP_AIRWAY_BLOCKED}, {"device", RP_AIRWAY_DEVICE},   {NULL, 0}};
const struct rp_word rp_words_site[] = {{"oral", RP_SITE_ORAL},
                                        {"tympanic", RP_SITE_TYMPANIC},
                                        {"oesophageal", RP_SITE_OESOPHAGEAL},
                                        {NULL, 0}};
const struct rp_word rp_words_label[] = {{"ams", RP_LABEL_AMS},
                                         {"hace", RP_LABEL_HACE},
                                         {"hape", RP_LABEL_HAPE},
                                         {"other", RP_LABEL_OTHER},
                                         {NULL, 0}};
const struct rp_word rp_words_sex[] = {{"f", RP_SEX_FEMALE},      {"m", RP_SEX_MALE},
                                       {"female", RP_SEX_FEMALE}, {"male", RP_SEX_MALE},
                                       {"other", RP_SEX_OTHER},   {NULL, 0}};
const struct rp_word rp_words_altitude_source[] = {
    {"gps", RP_ALT_GPS}, {"map", RP_ALT_MAP}, {"barometer", RP_ALT_BAROMETER}, {NULL, 0}};
const struct rp_word rp_words_route[] = {{"po", RP_ROUTE_ORAL},
                                         {"oral", RP_ROUTE_ORAL},
                                         {"sl", RP_ROUTE_SUBLINGUAL},
                                         {"im", RP_ROUTE_IM},
                                         {"iv", RP_ROUTE_IV},
                                         {"sc", RP_ROUTE_SUBCUTANEOUS},
                                         {"inhaled", RP_ROUTE_INHALED},
                                         {"pr", RP_ROUTE_RECTAL},
                                         {"nasal", RP_ROUTE_NASAL},
                                         {"topical", RP_ROUTE_TOPICAL},
                                         {NULL, 0}};
const struct rp_word rp_words_oxygen_action[] = {{"start", RP_O2_START},
                                                 {"change", RP_O2_CHANGE},
                                                 {"stop", RP_O2_STOP},
                                                 {"reading", RP_O2_READING},
                                                 {NULL, 0}};
const struct rp_word rp_words_oxygen_device[] = {
    {"prongs", RP_O2_PRONGS}, {"mask", RP_O2_MASK}, {"reservoir", RP_O2_RESERVOIR_MASK}, {NULL, 0}};
const struct rp_word rp_words_hold[] = {{"ears", RP_HOLD_EARS},
                                        {"vomit", RP_HOLD_VOMIT},
                                        {"panic", RP_HOLD_PANIC},
                                        {"pain", RP_HOLD_PAIN},
                                        {"pump", RP_HOLD_PUMP},
                                        {"other", RP_HOLD_OTHER},
                                        {NULL, 0}};
const struct rp_word rp_words_next[] = {{"session", RP_NEXT_SESSION},
                                        {"descend", RP_NEXT_DESCEND},
                                        {"evacuate", RP_NEXT_EVACUATE},
                                        {"watch", RP_NEXT_WATCH},
                                        {NULL, 0}};
const struct rp_word rp_words_why_not[] = {{"dark", RP_WHY_DARK},
                                           {"weather", RP_WHY_WEATHER},
                                           {"terrain", RP_WHY_TERRAIN},
                                           {"carriers", RP_WHY_NO_CARRIERS},
                                           {"condition", RP_WHY_CONDITION},
                                           {"other", RP_WHY_OTHER},
                                           {NULL, 0}};
const struct rp_word rp_words_urgency[] = {{"e1", RP_URG_E1_NOW},
                                           {"e2", RP_URG_E2_HOUR},
                                           {"e3", RP_URG_E3_TODAY},
                                           {"e4", RP_URG_E4_ROUTINE},
                                           {NULL, 0}};
const struct rp_word rp_words_mobility[] = {{"walking", RP_MOB_WALKING},
                                            {"sitting", RP_MOB_SITTING},
                                            {"stretcher", RP_MOB_STRETCHER},
                                            {NULL, 0}};
const struct rp_word rp_words_surface[] = {{"snow", RP_SURF_SNOW}, {"ice", RP_SURF_ICE},
                                           {"rock", RP_SURF_ROCK}, {"grass", RP_SURF_GRASS},
                                           {"sand", RP_SURF_SAND}, {NULL, 0}};
const struct rp_word rp_words_needs[] = {{"doctor", RP_NEED_DOCTOR},
                                         {"oxygen", RP_NEED_OXYGEN},
                                         {"stretcher", RP_NEED_STRETCHER},
                                         {"hoist", RP_NEED_HOIST},
                                         {NULL, 0}};
const struct rp_word rp_words_answer[] = {
    {"seen", RP_ANS_SEEN},         {"passed-on", RP_ANS_PASSED_ON},
    {"accepted", RP_ANS_ACCEPTED}, {"refused", RP_ANS_REFUSED},
    {"eta", RP_ANS_ETA},           {"plan", RP_ANS_PLAN},
    {"advice", RP_ANS_ADVICE},     {NULL, 0}};
const struct rp_word rp_words_outcome[] = {{"handed-over", RP_OUT_HANDED_OVER},
                                           {"descended", RP_OUT_DESCENDED},
                                           {"recovered", RP_OUT_RECOVERED},
                                           {"died", RP_OUT_DIED},
                                           {"other", RP_OUT_OTHER},
                                           {NULL, 0}};
const struct rp_word rp_words_criteria[] = {{"gain", RP_CRIT_ALTITUDE_GAIN},
                                            {"mental", RP_CRIT_MENTAL_CHANGE},
                                            {"ataxia", RP_CRIT_ATAXIA},
                                            {"breathless", RP_CRIT_DYSPNOEA_REST},
                                            {"cough", RP_CRIT_COUGH},
                                            {"weakness", RP_CRIT_WEAKNESS},
                                            {"tightness", RP_CRIT_CHEST_TIGHTNESS},
                                            {"crackles", RP_CRIT_CRACKLES},
                                            {"cyanosis", RP_CRIT_CYANOSIS},
                                            {"fast-breathing", RP_CRIT_TACHYPNOEA},
                                            {"fast-pulse", RP_CRIT_TACHYCARDIA},
                                            {NULL, 0}};
const struct rp_word rp_words_finding[] = {
    {"no", RP_FINDING_NO}, {"yes", RP_FINDING_YES}, {NULL, 0}};
const struct rp_word rp_words_phase_event[] = {
    {"close", RP_PHASE_CLOSED},   {"pressurise", RP_PHASE_PRESSURISING},
    {"at", RP_PHASE_AT_PRESSURE}, {"resume", RP_PHASE_AT_PRESSURE},
    {"hold", RP_PHASE_HOLD},      {"deflate", RP_PHASE_DEFLATING},
    {"out", RP_PHASE_OUT},        {NULL, 0}};
const struct rp_word rp_words_via[] = {
    {"entered", RP_VIA_ENTERED}, {"paper", RP_VIA_PAPER}, {"voice", RP_VIA_VOICE}, {NULL, 0}};
const struct rp_word rp_words_role[] = {
    {"camp", RP_ROLE_CAMP}, {"relay", RP_ROLE_RELAY}, {"base", RP_ROLE_BASE}, {NULL, 0}};
const struct rp_word rp_words_delivery[] = {
    {"queued", RP_DEL_QUEUED},   {"on air", RP_DEL_ON_AIR}, {"heard by a relay", RP_DEL_HEARD},
    {"at base", RP_DEL_AT_BASE}, {"seen", RP_DEL_SEEN},     {NULL, 0}};

const struct rp_word rp_words_alarm[] = {
    {"snooze", RP_ALARM_SNOOZE}, {"ack", RP_ALARM_ACK}, {NULL, 0}};

int rp_word_find(const struct rp_word *table, const char *word)
{
    for (; table->word != NULL; table++) {
        if (strcmp(table->word, word) == 0) {
            return table->value;
        }
    }
    return -1;
}

const char *rp_word_of(const struct rp_word *table, int value)
{
    for (; table->word != NULL; table++) {
        if (table->value == value) {
            return table->word;
        }
    }
    return "";
}

void rp_words_list(const struct rp_word *table, char *buf, size_t cap)
{
    size_t len = 0;
    buf[0] = '\0';
    for (; table->word != NULL; table++) {
        size_t need = strlen(table->word) + (len > 0 ? 2 : 0);
        if (len + need + 1 > cap) {
            return;
        }
        len += (size_t)sprintf(buf + len, "%s%s", len > 0 ? ", " : "", table->word);
    }
}

#define X(name, number, word)                                                                      \
    if (value == number) {                                                                         \
        return word;                                                                               \
    }

const char *rp_phase_word(int value)
{
    RP_PHASES(X)
    return "?";
}

const char *rp_condition_word(int value)
{
    RP_CONDITIONS(X)
    return "?";
}

const char *rp_mode_word(int value)
{
    RP_MODES(X)
    return "?";
}

const char *rp_acvpu_word(int value)
{
    RP_ACVPU(X)
    return "?";
}

const char *rp_airway_word(int value)
{
    RP_AIRWAYS(X)
    return "?";
}

const char *rp_evac_word(int value)
{
    RP_EVAC_STATES(X)
    return "?";
}

const char *rp_answer_word(int value)
{
    RP_ANSWERS(X)
    return "?";
}
