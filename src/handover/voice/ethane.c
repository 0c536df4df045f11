/* ETHANE: exact location, type, hazards, access, number of casualties, emergency services. Each
 * letter's word is said always, and what hangs on it while there is time. */
#include "geo/geo.h"
#include "handover/build.h"
#include "handover/voice/script.h"
#include "handover/voice/spoken.h"
#include "incident/assess/assess.h"

/* What is left out last first. */
enum { RANK_HAZARDS = RP_SCRIPT_FIRST, RANK_OTHER, RANK_SITE, RANK_NEEDS, RANK_OBSTACLES };

static void say_instead(struct rp_script *s)
{
    rp_script_part(s, RP_SCRIPT_SAME_LINE, RP_SCRIPT_INSTEAD, false);
    rp_voice_word(&s->voice, RP_TX_SAY_SEE_SHEET);
}

/* 28 07.407 N: "two eight degrees zero seven decimal four zero seven north". */
static void say_coordinate(struct rp_voice *v, int32_t value_e6, unsigned digits,
                           enum rp_text_id side)
{
    uint32_t size_e6 = value_e6 < 0 ? (uint32_t)-value_e6 : (uint32_t)value_e6;
    uint32_t thousandths = (uint32_t)(((uint64_t)size_e6 * 60 + 500) / 1000); /* of a minute */
    char figures[16];
    struct rp_textbuf degrees = rp_textbuf_on(figures, sizeof figures - 1);
    rp_textbuf_padded(&degrees, thousandths / 60000, digits);
    figures[degrees.len] = '\0';
    rp_voice_spell(v, figures);
    rp_voice_word(v, RP_TX_SAY_DEGREES);
    if (thousandths % 60000 < 10000) {
        rp_voice_word(v, RP_TX_SAY_0);
    }
    rp_voice_number(v, thousandths % 60000, 3);
    rp_voice_word(v, side);
}

/* One place is read back, not two: the grid reference, or degrees where there is none. */
static void say_place(struct rp_script *s, const struct rp_position *position)
{
    struct rp_voice *v = &s->voice;
    const struct rp_altitude *altitude = rp_episode_altitude(s->ep);
    char grid[RP_GEO_TEXT_MAX];
    int digits = rp_geo_digits(position->has_accuracy, position->accuracy_m);
    rp_script_part(s, 'E', RP_SCRIPT_MUST, true);
    rp_voice_word(v, RP_TX_SAY_EXACT);
    if (!position->present) {
        rp_voice_word(v, RP_TX_SAY_UNKNOWN);
    } else if (rp_geo_show_mgrs(position->lat_e6, position->lon_e6, digits, grid) == 0) {
        rp_voice_spell(v, grid);
    } else {
        say_coordinate(v, position->lat_e6, 2,
                       position->lat_e6 < 0 ? RP_TX_SAY_SOUTH : RP_TX_SAY_NORTH);
        rp_voice_stop(v, ",");
        say_coordinate(v, position->lon_e6, 3,
                       position->lon_e6 < 0 ? RP_TX_SAY_WEST : RP_TX_SAY_EAST);
    }
    rp_voice_stop(v, ".");
    if (altitude->present) {
        rp_script_part(s, ' ', RP_SCRIPT_MUST, false);
        rp_voice_height(v, altitude->metres);
        rp_voice_word(v, RP_TX_SAY_METRES);
        rp_voice_stop(v, ".");
    }
}

/* A letter with words that a person entered. */
static void say_entered(struct rp_script *s, uint8_t rank, const char *text)
{
    rp_script_part(s, RP_SCRIPT_SAME_LINE, rank, false);
    rp_voice_entered(&s->voice, text);
    rp_voice_stop(&s->voice, ".");
    say_instead(s);
}

static void say_type(struct rp_script *s)
{
    const struct rp_rec_episode *o = &s->ep->opening;
    uint8_t label = s->ep->opened ? o->label : 0;
    struct rp_voice *v = &s->voice;
    rp_script_part(s, 'T', RP_SCRIPT_MUST, false);
    rp_voice_word(v, RP_TX_SAY_TYPE);
    if (label == 0) {
        rp_voice_word(v, s->ep->opened ? RP_TX_SAY_TYPE_UNKNOWN : RP_TX_SAY_UNKNOWN);
        rp_voice_stop(v, ".");
    } else {
        rp_voice_stop(v, rp_voice_illness(v, label) ? "." : "");
    }
    if ((label & RP_LABEL_OTHER) != 0) {
        rp_voice_word(v, RP_TX_SAY_OTHER);
        say_entered(s, RANK_OTHER, o->label_text);
    }
}

static void say_hazards(struct rp_script *s, const struct rp_rec_evacuation *r)
{
    rp_script_part(s, 'H', RP_SCRIPT_MUST, false);
    rp_voice_word(&s->voice, RP_TX_SAY_HAZARDS);
    if (r != NULL && r->hazards[0] != '\0') {
        say_entered(s, RANK_HAZARDS, r->hazards);
    } else {
        rp_voice_word(&s->voice, RP_TX_SAY_REPORTED);
        rp_voice_stop(&s->voice, ".");
    }
}

static void say_access(struct rp_script *s, const struct rp_rec_evacuation *r)
{
    struct rp_voice *v = &s->voice;
    rp_script_part(s, 'A', RP_SCRIPT_MUST, false);
    rp_voice_word(v, RP_TX_SAY_ACCESS);
    if (r == NULL || (!r->has_site_size && r->surface == RP_SURF_UNSAID)) {
        rp_voice_word(v, RP_TX_SAY_REPORTED);
        rp_voice_stop(v, ".");
    } else {
        rp_script_part(s, RP_SCRIPT_SAME_LINE, RANK_SITE, false);
        rp_voice_word(v, RP_TX_SAY_LANDING);
        rp_voice_stop(v, ",");
        if (r->surface != RP_SURF_UNSAID) {
            rp_voice_word(v, rp_text_pick(RP_TX_SURF_UNSAID, RP_TX_SURF_SAND, r->surface));
            rp_voice_stop(v, r->has_site_size ? "," : "");
        }
        if (r->has_site_size) {
            rp_voice_number(v, r->site_length_m, 0);
            rp_voice_word(v, RP_TX_SAY_BY);
            rp_voice_number(v, r->site_width_m, 0);
            rp_voice_word(v, RP_TX_SAY_METRES);
        }
        rp_voice_stop(v, ".");
        say_instead(s);
    }
    if (r != NULL && r->obstacles[0] != '\0') {
        rp_script_part(s, RP_SCRIPT_SAME_LINE, RANK_OBSTACLES, false);
        rp_script_topic(s, RP_TX_LEFT_OBSTACLES);
        rp_voice_word(v, RP_TX_SAY_OBSTACLES);
        rp_voice_entered(v, r->obstacles);
        rp_voice_stop(v, ".");
    }
}

static void say_numbers(struct rp_script *s, const struct rp_rec_evacuation *r)
{
    struct rp_voice *v = &s->voice;
    rp_script_part(s, 'N', RP_SCRIPT_MUST, false);
    rp_voice_word(v, RP_TX_SAY_CASUALTIES);
    if (r != NULL && r->has_patients) {
        rp_voice_number(v, r->patients, 0);
    } else {
        rp_voice_word(v, RP_TX_SAY_AT_LEAST_ONE); /* this one */
    }
    if (r != NULL && r->mobility != RP_MOB_UNSAID) {
        rp_voice_stop(v, ",");
        rp_voice_word(v, rp_text_pick(RP_TX_MOB_UNSAID, RP_TX_MOB_STRETCHER, r->mobility));
    }
    rp_voice_stop(v, ".");
}

static void say_services(struct rp_script *s, const struct rp_rec_evacuation *r)
{
    static const enum rp_text_id needs[] = {RP_TX_NEED_DOCTOR, RP_TX_NEED_OXYGEN,
                                            RP_TX_NEED_STRETCHER, RP_TX_NEED_HOIST};
    struct rp_voice *v = &s->voice;
    rp_script_part(s, 'E', RP_SCRIPT_MUST, false);
    rp_voice_word(v, RP_TX_SAY_EMERGENCY);
    if (r == NULL) {
        rp_voice_word(v, RP_TX_SAY_NO_REQUEST);
        rp_voice_stop(v, ".");
        return;
    }
    rp_voice_word(v, rp_text_pick(RP_TX_URG_UNSAID, RP_TX_URG_E4, r->urgency));
    rp_voice_stop(v, ".");
    if (!r->has_needs || r->needs == 0) {
        return;
    }
    bool first = true;
    rp_script_part(s, RP_SCRIPT_SAME_LINE, RANK_NEEDS, false);
    rp_script_topic(s, RP_TX_LEFT_NEEDS);
    for (unsigned i = 0; i < 4; i++) {
        if ((r->needs >> i & 1) != 0) {
            rp_voice_stop(v, first ? "" : ",");
            rp_voice_word(v, needs[i]);
            first = false;
        }
    }
    rp_voice_stop(v, ".");
}

int rp_ethane_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                     size_t cap)
{
    struct rp_script s;
    rp_script_begin(&s, facts, texts);
    s.elsewhere = true;
    const struct rp_request_entry *request = rp_sheet_request_now(s.ep);
    const struct rp_rec_evacuation *r = request != NULL ? &request->what : NULL;
    say_place(&s, r != NULL && r->position.present ? &r->position : &s.ep->opening.position);
    say_type(&s);
    say_hazards(&s, r);
    say_access(&s, r);
    say_numbers(&s, r);
    say_services(&s, r);
    rp_script_part(&s, ' ', RP_SCRIPT_POINTER, false);
    rp_script_part(&s, ' ', RP_SCRIPT_MUST, true);
    rp_voice_word(&s.voice, RP_TX_SAY_READ_BACK_PLACE);
    return rp_script_end(&s, RP_TX_ETHANE_TITLE, RP_ETHANE_WORDS_MAX, buf, cap);
}
