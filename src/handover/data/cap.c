#include "handover/data/cap.h"

#include "handover/build.h"
#include "handover/data/stamp.h"
#include "handover/text/say.h"
#include "handover/utf8.h"
#include "incident/assess/assess.h"
#include "ridgepost/error.h"

struct alert {
    const struct rp_sheet_facts *facts;
    const struct rp_episode *ep;
    const struct rp_texts *texts;
    struct rp_textbuf *out;
    const struct rp_request_entry *request; /* NULL: none was made */
    const struct rp_source *from;           /* of the message: request, cancel or opening */
    bool cancels;
};

void rp_xml_text(struct rp_textbuf *out, const char *text)
{
    for (const char *at = text; *at != '\0';) {
        uint32_t code;
        size_t len = rp_utf8_next(at, &code);
        switch (code) {
        case '&':
            rp_textbuf_str(out, "&amp;");
            break;
        case '<':
            rp_textbuf_str(out, "&lt;");
            break;
        case '>':
            rp_textbuf_str(out, "&gt;");
            break;
        case '"':
            rp_textbuf_str(out, "&quot;");
            break;
        case '\n':
        case '\r':
        case '\t':
            rp_textbuf_str(out, " ");
            break;
        default:
            if (rp_utf8_hostile(code)) {
                rp_textbuf_str(out, "?");
            } else {
                rp_textbuf_put(out, at, len);
            }
            break;
        }
        at += len;
    }
}

static void open(struct alert *a, const char *name)
{
    rp_textbuf_str(a->out, "<");
    rp_textbuf_str(a->out, name);
    rp_textbuf_str(a->out, ">");
}

static void close(struct alert *a, const char *name)
{
    rp_textbuf_str(a->out, "</");
    rp_textbuf_str(a->out, name);
    rp_textbuf_str(a->out, ">\n");
}

static void element(struct alert *a, const char *name, const char *text)
{
    open(a, name);
    rp_xml_text(a->out, text);
    close(a, name);
}

static void put_identifier(struct alert *a, struct rp_record_ref ref)
{
    rp_textbuf_str(a->out, "ridgepost-");
    rp_stamp_unique(a->out, ref, '.');
}

static void put_sender(struct alert *a, const struct rp_source *from)
{
    rp_textbuf_str(a->out, "ridgepost-station-");
    rp_textbuf_number(a->out, from->station, 0);
}

/* Of a revised request that is held, or of the cancelled one. */
static const struct rp_source *referred(const struct alert *a)
{
    if (a->cancels) {
        return &a->request->from;
    }
    for (size_t i = 0; a->request != NULL && i < a->ep->requests.count; i++) {
        if (rp_ref_equal(a->ep->requests.at[i].from.ref, a->request->what.revises)) {
            return &a->ep->requests.at[i].from;
        }
    }
    return NULL;
}

static void add_envelope(struct alert *a)
{
    const struct rp_source *earlier = referred(a);
    open(a, "identifier");
    put_identifier(a, a->from->ref);
    close(a, "identifier");
    open(a, "sender");
    put_sender(a, a->from);
    close(a, "sender");
    open(a, "sent");
    rp_stamp_offset(a->out, a->from->recorded_s, 0);
    close(a, "sent");
    element(a, "status", a->ep->exercise ? "Exercise" : "Actual");
    element(a, "msgType", a->cancels ? "Cancel" : earlier != NULL ? "Update" : "Alert");
    element(a, "scope", "Restricted");
    element(a, "restriction", a->texts->words[RP_TX_CAP_RESTRICTION]);
    if (a->ep->exercise) {
        element(a, "note", a->texts->words[RP_TX_EXERCISE]);
    }
    if (earlier != NULL) {
        open(a, "references");
        put_sender(a, earlier);
        rp_textbuf_str(a->out, ",");
        put_identifier(a, earlier->ref);
        rp_textbuf_str(a->out, ",");
        rp_stamp_offset(a->out, earlier->recorded_s, 0);
        close(a, "references");
    }
    open(a, "incidents");
    rp_textbuf_str(a->out, "ridgepost-");
    rp_stamp_episode(a->out, a->ep->ref);
    close(a, "incidents");
}

/* Our four steps of urgency: clinical references 4.3. */
static void add_grades(struct alert *a)
{
    static const struct {
        const char *urgency, *severity;
    } grades[] = {
        [RP_URG_UNSAID] = {"Unknown", "Unknown"},  [RP_URG_E1_NOW] = {"Immediate", "Extreme"},
        [RP_URG_E2_HOUR] = {"Expected", "Severe"}, [RP_URG_E3_TODAY] = {"Future", "Moderate"},
        [RP_URG_E4_ROUTINE] = {"Future", "Minor"},
    };
    uint8_t urgency = a->request != NULL ? a->request->what.urgency : RP_URG_UNSAID;
    urgency = urgency <= RP_URG_E4_ROUTINE ? urgency : RP_URG_UNSAID;
    bool past = a->cancels || a->ep->evac_state == RP_EVAC_HANDED_OVER;
    element(a, "urgency", past ? "Past" : grades[urgency].urgency);
    element(a, "severity", grades[urgency].severity);
    element(a, "certainty", a->request != NULL ? "Observed" : "Unknown");
}

static void say(struct alert *a, enum rp_text_id label, const char *text)
{
    if (text[0] != '\0') {
        rp_xml_text(a->out, a->texts->words[label]);
        rp_textbuf_str(a->out, label != RP_TX_NONE ? " " : "");
        rp_xml_text(a->out, text);
        rp_textbuf_str(a->out, ". ");
    }
}

static void add_description(struct alert *a)
{
    static const enum rp_text_id needs[] = {RP_TX_NEED_DOCTOR, RP_TX_NEED_OXYGEN,
                                            RP_TX_NEED_STRETCHER, RP_TX_NEED_HOIST};
    const struct rp_rec_evacuation *r = &a->request->what;
    open(a, "description");
    say(a, RP_TX_NONE, a->ep->exercise ? a->texts->words[RP_TX_EXERCISE] : "");
    if (r->has_patients) {
        rp_xml_text(a->out, a->texts->words[RP_TX_CAP_PATIENTS]);
        rp_textbuf_str(a->out, " ");
        rp_textbuf_number(a->out, r->patients, 0);
        rp_textbuf_str(a->out, ". ");
    }
    say(a, RP_TX_NONE,
        a->texts->words[rp_text_pick(RP_TX_MOB_UNSAID, RP_TX_MOB_STRETCHER, r->mobility)]);
    for (unsigned i = 0; r->has_needs && i < 4; i++) {
        say(a, RP_TX_CAP_NEEDS, (r->needs >> i & 1) != 0 ? a->texts->words[needs[i]] : "");
    }
    say(a, RP_TX_CAP_HAZARDS, r->hazards);
    say(a, RP_TX_CAP_OBSTACLES, r->obstacles);
    say(a, RP_TX_CAP_WEATHER, r->weather);
    say(a, RP_TX_CAP_FALLBACK, r->fallback);
    say(a, RP_TX_CAP_CANCELLED, a->cancels ? a->request->cancel_reason : "");
    say(a, RP_TX_NONE,
        rp_episode_is_late(a->ep, a->from) ? a->texts->words[RP_TX_AFTER_HANDOVER] : "");
    close(a, "description");
}

/* Where the care facts are, and who speaks for the ground. */
static void add_instruction(struct alert *a)
{
    char text[600];
    struct rp_textbuf out = rp_textbuf_on(text, sizeof text - 1);
    const struct rp_rec_evacuation *r = a->request != NULL ? &a->request->what : NULL;
    rp_say_elsewhere(&out, a->texts, a->facts);
    const char *note = a->texts->words[RP_TX_TRANSLATION_NOTE];
    rp_textbuf_str(&out, note[0] != '\0' ? " " : "");
    rp_textbuf_str(&out, note);
    text[out.len] = '\0';
    element(a, "instruction", text);
    if (r != NULL && r->ground_contact[0] != '\0') {
        element(a, "contact", r->ground_contact);
    }
}

static const struct rp_position *place_of(const struct alert *a)
{
    return a->request != NULL && a->request->what.position.present ? &a->request->what.position
                                                                   : &a->ep->opening.position;
}

/* A circle of the accuracy of the fix, 100 m when that is not known (ours); height in feet above
 * mean sea level, as the standard has it (1 ft = 0.3048 m). */
static void add_area(struct alert *a)
{
    const struct rp_position *place = place_of(a);
    const struct rp_altitude *altitude = rp_episode_altitude(a->ep);
    open(a, "area");
    open(a, "areaDesc");
    if (place->present) {
        char text[64];
        struct rp_textbuf shown = rp_textbuf_on(text, sizeof text);
        rp_format_position(&shown, a->texts, place->lat_e6, place->lon_e6);
        for (size_t i = 0; i < shown.len; i++) {
            rp_textbuf_put(a->out, text[i] == RP_NO_BREAK_BYTE ? " " : &text[i], 1);
        }
        rp_textbuf_str(a->out, " ");
        rp_xml_text(a->out, a->texts->words[RP_TX_DATUM]);
    } else {
        rp_xml_text(a->out, a->texts->words[RP_TX_POSITION_UNKNOWN]);
    }
    close(a, "areaDesc");
    if (place->present) {
        open(a, "circle");
        rp_textbuf_number(a->out, place->lat_e6, 6);
        rp_textbuf_str(a->out, ",");
        rp_textbuf_number(a->out, place->lon_e6, 6);
        rp_textbuf_str(a->out, " ");
        rp_textbuf_number(a->out, place->has_accuracy ? place->accuracy_m : 100, 3);
        close(a, "circle");
    }
    if (place->present && altitude->present) {
        open(a, "altitude");
        rp_textbuf_number(a->out, (int64_t)altitude->metres * 10000 / 3048, 0);
        close(a, "altitude");
    }
    close(a, "area");
}

static void add_info(struct alert *a)
{
    open(a, "info");
    element(a, "language", a->texts->words[RP_TX_LANGUAGE_CODE]);
    element(a, "category", "Rescue");
    element(a, "category", "Health");
    element(a, "event",
            a->texts->words[a->request != NULL ? RP_TX_CAP_REQUEST : RP_TX_CAP_NO_REQUEST]);
    add_grades(a);
    element(a, "senderName", a->texts->words[RP_TX_CAP_SENDER]);
    if (a->request != NULL) {
        add_description(a);
    }
    add_instruction(a);
    add_area(a);
    close(a, "info");
}

static void choose(struct alert *a)
{
    a->request = rp_sheet_request_now(a->ep);
    for (size_t i = a->ep->requests.count; i > 0 && a->request == NULL; i--) {
        if (a->ep->requests.at[i - 1].cancelled && !a->ep->requests.at[i - 1].from.voided) {
            a->request = &a->ep->requests.at[i - 1];
            a->cancels = true;
        }
    }
    a->from = a->cancels           ? &a->request->cancel_from
              : a->request != NULL ? &a->request->from
                                   : &a->ep->opening_from;
}

int rp_cap_render(const struct rp_sheet_facts *facts, const struct rp_texts *texts, char *buf,
                  size_t cap)
{
    if (cap == 0) {
        return RP_E_TOO_LONG;
    }
    struct rp_textbuf out = rp_textbuf_on(buf, cap - 1);
    struct alert a = {.facts = facts, .ep = facts->input->episode, .texts = texts, .out = &out};
    choose(&a);
    rp_textbuf_str(&out, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
                         "<alert xmlns=\"urn:oasis:names:tc:emergency:cap:1.2\">\n");
    add_envelope(&a);
    add_info(&a);
    rp_textbuf_str(&out, "</alert>\n");
    buf[out.full ? 0 : out.len] = '\0';
    return out.full ? RP_E_TOO_LONG : (int)out.len;
}
