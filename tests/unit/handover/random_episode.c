#include "random_episode.h"

#include <assert.h>
#include <string.h>

static struct rp_rng *rng;
static bool hostile, fullest;

static unsigned below(unsigned bound)
{
    return (unsigned)rp_rng_below(rng, bound);
}

static bool coin(void)
{
    return fullest || below(2) == 0;
}

/* Pieces of text; those from the eighth on are hostile. */
static const char *const pieces[] = {
    "wind",
    "tent 4",
    "Aa",
    "\xe6\xb0\xb4\xe6\xb0\xb4",
    "e\xcc\x81t\xc3\xa9",
    "\xe0\xa4\x95\xe0\xa5\x81",
    "supercalifragilistic-abcdefghijklmnopqrstuvwxyzabcdefghijklmnopqrstuvwxyz",
    "x",
    "\x1b[2J\x1b]0;t\x07",
    "\xff\xc0\x80\xe2\x80",
    "\xe2\x80\xae\xc2\x9b",
    "\n\r\t\x7f\x01\x1f",
};

/* A text that is on the sheet only when the sheet shows it: it begins with a number of its own. */
static void fill_text(char *field, size_t size)
{
    static unsigned serial;
    size_t len = 0, max = fullest ? size - 1 : below((unsigned)size);
    char id[12];
    unsigned digits = 0;
    for (unsigned n = ++serial % 100000 + 100000; n > 0; n /= 10) {
        id[digits++] = (char)('a' + n % 10);
    }
    for (; len < max && len < digits; len++) {
        field[len] = id[len];
    }
    while (len < max) {
        unsigned kinds = sizeof pieces / sizeof pieces[0];
        const char *piece = pieces[below(hostile ? kinds : 8)];
        size_t piece_len = strlen(piece);
        if (fullest || len + piece_len + 1 > max) {
            /* One word of 36 columns to a line of 70 makes the most lines. */
            field[len] = len % 37 == 36 ? ' ' : 'q';
            len++;
            continue;
        }
        field[len++] = ' ';
        memcpy(field + len, piece, piece_len);
        len += piece_len;
    }
    field[len] = '\0';
}
#define FILL(field) fill_text(field, sizeof(field))

static struct rp_value value(int low, int high)
{
    struct rp_value v = {fullest ? RP_MEASURED : (enum rp_measured)below(3), 0};
    v.value = (int16_t)rp_rng_between(rng, low, high);
    return v;
}

static struct rp_source source(void)
{
    static uint32_t seq;
    struct rp_source from = {.ref = {(uint16_t)(RIDGE_CAMP << 9 | 5), ++seq}};
    from.station = (uint8_t)(coin() ? 1 + below(127) : RIDGE_CAMP);
    from.ref.origin = (uint16_t)(from.station << 9 | below(512));
    from.happened_s = fullest ? T24(11, 11) : (uint32_t)rp_rng_below(rng, NOW_S + 4000);
    from.recorded_s = from.happened_s + (coin() ? 3600 : 0);
    from.unsynced = coin();
    from.via = (uint8_t)below(3);
    from.voided = fullest || below(4) == 0;
    FILL(from.by);
    return from;
}

static struct rp_known known(void)
{
    struct rp_known k = {.state = fullest ? RP_KNOWN : (enum rp_asked)below(3)};
    if (k.state == RP_KNOWN) {
        do {
            FILL(k.text);
        } while (k.text[0] == '\0');
    }
    return k;
}

static struct rp_position position(void)
{
    return (struct rp_position){coin(), (int32_t)rp_rng_between(rng, -90000000, 90000000),
                                (int32_t)rp_rng_between(rng, -180000000, 180000000), coin(),
                                (uint16_t)below(65536)};
}

static struct rp_altitude altitude(void)
{
    return (struct rp_altitude){coin(), (int16_t)rp_rng_between(rng, -450, 8900),
                                (uint8_t)below(5)};
}

static uint16_t count_of(unsigned max)
{
    return (uint16_t)(fullest ? max : below(3) == 0 ? below(max + 1) : below(4) % (max + 1));
}

#define EACH(table, entry)                                                                         \
    table.count = count_of(sizeof table.at / sizeof table.at[0]);                                  \
    table.older_dropped = coin() ? below(100) : 0;                                                 \
    for (size_t i = 0; i < table.count; i++)                                                       \
    entry(&table.at[i])

static void fill_lls(struct rp_lls_items *lls)
{
    *lls = (struct rp_lls_items){value(0, 3), value(0, 3), value(0, 3), value(0, 3)};
}

static void fill_opening(struct rp_rec_episode *o)
{
    FILL(o->patient);
    FILL(o->label_text);
    FILL(o->first_sign);
    o->sex = (uint8_t)below(5);
    o->has_age = coin();
    o->has_weight = coin();
    o->has_onset = coin();
    o->has_reached = coin();
    o->age_y = (uint8_t)below(111);
    o->weight_kg = (uint16_t)below(251);
    o->onset_s = (uint32_t)below(NOW_S + 5000);
    o->reached_s = (uint32_t)below(NOW_S + 5000);
    o->label = (uint8_t)(fullest ? 15 : below(16));
    for (size_t i = 0; i < RP_CRIT_COUNT; i++) {
        o->criteria[i] = (enum rp_finding)below(3);
    }
    fill_lls(&o->lls);
    o->altitude = altitude();
    o->position = position();
}

static void fill_dose(struct rp_dose *dose)
{
    dose->from = source();
    FILL(dose->what.name);
    FILL(dose->what.checker);
    FILL(dose->what.confirmed);
    dose->what.flags = (uint8_t)below(128);
    FILL(dose->what.text);
    dose->what.kind = (uint8_t)below(4);
    dose->what.has_dose = coin();
    dose->what.dose_milli = 1 + below(10000000);
    dose->what.dose_unit = (uint8_t)below(9);
    dose->what.route = (uint8_t)below(11);
    dose->what.refused = coin();
}

static void fill_oxygen(struct rp_oxygen_entry *entry)
{
    entry->from = source();
    entry->what.action = (uint8_t)below(5);
    entry->what.device = (uint8_t)below(5);
    entry->what.flow_dlpm = value(0, 250);
    FILL(entry->what.cylinder);
    entry->what.cylinder_bar = value(0, 350);
    entry->what.water_dl = value(5, 500);
}

static void fill_chamber(struct rp_chamber_entry *entry)
{
    entry->from = source();
    entry->what.phase = (uint8_t)below(8);
    entry->what.session = (uint8_t)(1 + below(30));
    entry->what.hold_reason = (uint8_t)below(8);
    entry->what.gauge_dhpa = value(0, 3000);
    entry->what.altimeter_m = value(-450, 8900);
    FILL(entry->what.text);
}

static void fill_session(struct rp_session *session)
{
    session->number = (uint8_t)(1 + below(30));
    session->has_closed = coin();
    session->has_pressurising = coin();
    session->has_at_pressure = coin();
    session->has_deflating = coin();
    session->has_out = coin();
    session->closed_s = (uint32_t)below(NOW_S);
    session->at_pressure_s = (uint32_t)below(NOW_S);
    session->out_s = (uint32_t)below(NOW_S);
    session->at_pressure_total_s = below(100000);
    session->holds = (uint16_t)below(50);
    session->gauge_dhpa = value(0, 3000);
    session->phase = (uint8_t)below(8);
}

static void fill_reassess(struct rp_reassess_entry *entry)
{
    entry->from = source();
    entry->what.condition = (uint8_t)below(8);
    entry->what.next = (uint8_t)below(6);
    fill_lls(&entry->what.lls);
    entry->what.functional = value(0, 3);
    entry->what.mental_change = (enum rp_finding)below(3);
    entry->what.can_walk = (enum rp_finding)below(3);
    entry->what.ataxia = value(0, 4);
    FILL(entry->what.text);
}

static void fill_descent(struct rp_descent_entry *entry)
{
    entry->from = source();
    entry->what.descending = coin();
    entry->what.why_not = (uint8_t)below(8);
    entry->what.has_ask_again = coin();
    entry->what.ask_again_min = (uint16_t)(1 + below(1440));
    FILL(entry->what.text);
}

static void fill_note(struct rp_note_entry *note)
{
    note->from = source();
    FILL(note->text);
}

static void fill_obs(struct rp_obs *obs)
{
    obs->from = source();
    obs->taken_s = obs->from.happened_s;
    obs->mode = (uint8_t)below(6);
    obs->temp_site = (uint8_t)below(5);
    obs->spo2_pct = value(0, 100);
    obs->pulse_bpm = value(0, 300);
    obs->resp_rpm = value(0, 90);
    obs->acvpu = value(0, 5);
    obs->gcs_eye = value(1, 4);
    obs->gcs_verbal = value(1, 5);
    obs->gcs_motor = value(1, 6);
    obs->systolic_mmhg = value(30, 300);
    obs->diastolic_mmhg = value(10, 200);
    obs->temp_dc = value(100, 450);
    obs->lls = value(0, 12);
    obs->ataxia = value(0, 4);
    obs->airway = value(0, 5);
    obs->pain = value(0, 10);
}

static void fill_request(struct rp_request_entry *entry)
{
    struct rp_rec_evacuation *what = &entry->what;
    entry->from = source();
    entry->cancel_from = source();
    entry->cancelled = coin();
    FILL(entry->cancel_reason);
    what->urgency = (uint8_t)below(6);
    what->mobility = (uint8_t)below(5);
    what->surface = (uint8_t)below(7);
    what->has_patients = what->has_weight = what->has_site_size = coin();
    what->has_wind = coin();
    what->has_wind_dir = what->has_gust = coin();
    what->has_temp = what->has_visibility = what->has_cloud_base = coin();
    what->has_slope = what->has_party = what->has_daylight = what->has_needs = coin();
    what->visibility_m = below(50001);
    what->daylight_end_s = below(NOW_S + 90000);
    what->needs = (uint8_t)(fullest ? 15 : below(16));
    what->position = position();
    what->site = position();
    what->altitude = altitude();
    what->insurance = known();
    FILL(what->obstacles);
    FILL(what->weather);
    FILL(what->hazards);
    FILL(what->ground_contact);
    FILL(what->fallback);
}

static void fill_answer(struct rp_answer_entry *entry)
{
    entry->from = source();
    entry->what.kind = (uint8_t)(1 + below(8));
    entry->what.has_eta = coin();
    entry->what.eta_s = below(NOW_S + 90000);
    entry->read_back = coin();
    FILL(entry->what.whom);
    FILL(entry->what.text);
}

static void fill_readback(struct rp_readback_entry *entry)
{
    entry->from = source();
    FILL(entry->what.text);
}

static void fill_handover(struct rp_handover_entry *entry)
{
    entry->from = source();
    entry->what.has_sheet = coin();
    entry->what.sheet = below(100000);
    FILL(entry->what.team);
    FILL(entry->what.taken_by);
    FILL(entry->what.sheet_check);
    FILL(entry->what.text);
}

static void fill_correction(struct rp_correction_entry *entry)
{
    entry->from = source();
    entry->what.replacement.origin = (uint16_t)below(65536);
    FILL(entry->what.reason);
}

static void fill_opening_entry(struct rp_opening_entry *entry)
{
    entry->from = source();
    fill_opening(&entry->what);
}

static void fill_cancel(struct rp_cancel_entry *entry)
{
    entry->from = source();
    FILL(entry->what.reason);
}

static void fill_close(struct rp_close_entry *entry)
{
    entry->from = source();
    entry->what.outcome = (uint8_t)below(7);
    FILL(entry->what.text);
}

static void fill_known_entry(struct rp_known_entry *entry)
{
    entry->from = source();
    entry->what = known();
}

static void fill_fluids(struct rp_fluids_entry *entry)
{
    entry->from = source();
    entry->what.urine_ml = value(0, 3000);
    entry->what.drunk_ml = value(0, 5000);
    entry->what.has_span = coin();
    entry->what.span_min = (uint16_t)(1 + below(1440));
}

static void fill_pumping(struct rp_pumping_entry *entry)
{
    entry->from = source();
    FILL(entry->what.pumper);
    entry->what.strokes = (uint16_t)(1 + below(3000));
    entry->what.spell_s = (uint16_t)below(3601);
}

static void fill_singles(struct rp_episode *e)
{
    e->opened = coin();
    e->opening_from = source();
    fill_opening(&e->opening);
    e->background = (struct rp_rec_background){known(), known(), known(), known(), known()};
    e->has_status = coin();
    e->status_from = source();
    e->status.condition = (uint8_t)below(8);
    e->status.phase = (uint8_t)below(8);
    e->status.oxygen_flow_dlpm = value(0, 250);
    e->has_latest = coin();
    e->latest_s = (uint32_t)below(NOW_S);
    e->latest_from = source();
    e->has_word = coin();
    e->word_from = source();
    e->word_from.happened_s = (uint32_t)below(NOW_S);
    e->closed = coin();
    e->close_from = source();
    e->close.outcome = (uint8_t)below(7);
    FILL(e->close.text);
    e->evac_state = (uint8_t)below(9);
    e->request_now = (int16_t)(e->requests.count > 0 ? (int)below(e->requests.count + 1u) - 1 : -1);
    e->eta_answer = (int16_t)(e->answers.count > 0 ? (int)below(e->answers.count + 1u) - 1 : -1);
}

/* Half of the read-backs and corrections point at something. */
static void link_up(struct rp_episode *e)
{
    for (size_t i = 0; i < e->readbacks.count; i++) {
        if (e->answers.count > 0 && coin()) {
            e->readbacks.at[i].what.about = e->answers.at[below(e->answers.count)].from.ref;
        }
    }
    for (size_t i = 0; i < e->corrections.count; i++) {
        if (e->doses.count > 0 && coin()) {
            e->corrections.at[i].what.about = e->doses.at[below(e->doses.count)].from.ref;
        }
    }
}

/* Logs with holes, and stretches without word. */
static void fill_completeness(struct scenario *s)
{
    struct rp_episode *e = &s->episode;
    s->input.holdings = s->holdings;
    s->input.holding_count = count_of(sizeof s->holdings / sizeof s->holdings[0]);
    for (size_t i = 0; i < s->input.holding_count; i++) {
        s->holdings[i].origin = (uint16_t)below(65536);
        s->holdings[i].known = below(1000000);
        s->holdings[i].held = coin() ? s->holdings[i].known / 2 : s->holdings[i].known;
    }
    e->heard.count = count_of(40);
    uint32_t at_s = fullest ? T24(11, 11) - 40 * 4000 : 0;
    for (size_t i = 0; i < e->heard.count; i++) {
        at_s += fullest ? 4000 : below(6000);
        e->heard.at[i] = (struct rp_heard){at_s, {RIDGE_CAMP << 9 | 5, (uint32_t)i + 1}, coin()};
    }
    e->undecodable = coin() ? below(100) : 0;
    e->records = below(100000);
}

static void fill_all(struct scenario *s)
{
    struct rp_episode *e = &s->episode;
    scenario_empty(s);
    e->exercise = coin();
    s->input.has_local = coin();
    EACH(e->openings, fill_opening_entry);
    EACH(e->doses, fill_dose);
    EACH(e->oxygen, fill_oxygen);
    EACH(e->chamber, fill_chamber);
    EACH(e->sessions, fill_session);
    EACH(e->reassess, fill_reassess);
    EACH(e->descent, fill_descent);
    EACH(e->fluids, fill_fluids);
    EACH(e->pumping, fill_pumping);
    EACH(e->notes, fill_note);
    EACH(e->requests, fill_request);
    EACH(e->answers, fill_answer);
    EACH(e->readbacks, fill_readback);
    EACH(e->handovers, fill_handover);
    EACH(e->corrections, fill_correction);
    EACH(e->cancels, fill_cancel);
    EACH(e->closes, fill_close);
    EACH(e->obs, fill_obs);
    for (size_t k = 0; k < RP_BG_COUNT; k++) {
        EACH(e->known[k], fill_known_entry);
    }
    fill_singles(e);
    link_up(e);
    fill_completeness(s);
}

void random_episode(struct scenario *s, struct rp_rng *with, bool with_hostile)
{
    rng = with;
    hostile = with_hostile;
    fullest = false;
    fill_all(s);
}

void fullest_episode(struct scenario *s)
{
    struct rp_rng fixed = rp_rng_seeded(1);
    rng = &fixed;
    hostile = false;
    fullest = true;
    fill_all(s);
    rng = NULL;
}

#define CHECK_EACH(table, what, field)                                                             \
    for (size_t i = 0; i < table.count; i++)                                                       \
    check(arg, what, table.at[i].field)

void each_entered(const struct scenario *s,
                  void (*check)(void *arg, const char *what, const char *text), void *arg)
{
    const struct rp_episode *e = &s->episode;
    CHECK_EACH(e->doses, "dose name", what.name);
    CHECK_EACH(e->doses, "dose checker", what.checker);
    CHECK_EACH(e->doses, "dose confirmed", what.confirmed);
    CHECK_EACH(e->doses, "dose text", what.text);
    CHECK_EACH(e->doses, "dose by", from.by);
    CHECK_EACH(e->oxygen, "cylinder", what.cylinder);
    CHECK_EACH(e->chamber, "chamber text", what.text);
    CHECK_EACH(e->reassess, "reassess text", what.text);
    CHECK_EACH(e->descent, "descent text", what.text);
    CHECK_EACH(e->notes, "note", text);
    CHECK_EACH(e->requests, "obstacles", what.obstacles);
    CHECK_EACH(e->requests, "weather", what.weather);
    CHECK_EACH(e->requests, "hazards", what.hazards);
    CHECK_EACH(e->requests, "ground contact", what.ground_contact);
    CHECK_EACH(e->requests, "fallback", what.fallback);
    CHECK_EACH(e->answers, "answer by", from.by);
    CHECK_EACH(e->answers, "answer whom", what.whom);
    CHECK_EACH(e->answers, "answer text", what.text);
    CHECK_EACH(e->readbacks, "readback text", what.text);
    CHECK_EACH(e->handovers, "handover team", what.team);
    CHECK_EACH(e->handovers, "handover taken by", what.taken_by);
    CHECK_EACH(e->handovers, "handover text", what.text);
    CHECK_EACH(e->corrections, "correction reason", what.reason);
    CHECK_EACH(e->cancels, "cancel reason", what.reason);
    CHECK_EACH(e->closes, "close text", what.text);
    CHECK_EACH(e->openings, "earlier first sign", what.first_sign);
    for (size_t k = 0; k < RP_BG_COUNT; k++) {
        CHECK_EACH(e->known[k], "background", what.text);
    }
    check(arg, "allergies", e->background.allergies.text);
    check(arg, "medicines", e->background.medicines.text);
    check(arg, "history", e->background.history.text);
    check(arg, "last meal", e->background.last_meal.text);
    check(arg, "contact", e->background.contact.text);
    if (e->opened) {
        check(arg, "patient", e->opening.patient);
        check(arg, "first sign", e->opening.first_sign);
    }
}
