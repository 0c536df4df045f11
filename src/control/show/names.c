/* Times, spans and names as people read them. */
#include <stdio.h>
#include <string.h>

#include "control/show/show.h"
#include "handover/format.h"

const char *rp_show_time(uint32_t now_s, uint32_t time_s, char out_text[24])
{
    static const char *const months[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                         "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    unsigned hour = time_s / 3600 % 24, minute = time_s / 60 % 60;
    if (time_s == 0) {
        snprintf(out_text, 24, "-");
    } else if (time_s / 86400 == now_s / 86400) {
        snprintf(out_text, 24, "%02u:%02uZ", hour, minute);
    } else {
        struct rp_civil civil = rp_civil_of(time_s);
        snprintf(out_text, 24, "%u %s %02u:%02uZ", civil.day, months[civil.month - 1], hour,
                 minute);
    }
    return out_text;
}

const char *rp_show_span(uint32_t span_s, char out_text[24])
{
    uint32_t minutes = span_s / 60 + (span_s % 60 != 0);
    if (minutes < 60) {
        snprintf(out_text, 24, "%u min", minutes);
    } else if (minutes < 48 * 60) {
        snprintf(out_text, 24, "%u h %02u min", minutes / 60, minutes % 60);
    } else {
        snprintf(out_text, 24, "%u d %u h", minutes / 1440, minutes / 60 % 24);
    }
    return out_text;
}

struct twins {
    struct rp_episode_ref ref;
    bool found;
};

static int look_for_twin(void *arg, struct rp_episode_ref ref)
{
    struct twins *twins = arg;
    twins->found = twins->found || (ref.number == twins->ref.number &&
                                    ref.origin != twins->ref.origin &&
                                    ref.origin >> 9 == twins->ref.origin >> 9);
    return 0;
}

const char *rp_show_episode_name(struct rp_node *node, struct rp_episode_ref ref,
                                 char out_text[24])
{
    struct twins twins = {ref, false};
    rp_node_each_episode(node, look_for_twin, &twins);
    int len = snprintf(out_text, 24, "%u-%u", (unsigned)(ref.origin >> 9), ref.number);
    if (twins.found && len > 0) {
        snprintf(out_text + len, 24 - (size_t)len, "/%u", (unsigned)(ref.origin & 511));
    }
    return out_text;
}

const char *rp_show_record_name(struct rp_record_ref ref, char out_text[24])
{
    snprintf(out_text, 24, "%u:%lu", (unsigned)(ref.origin >> 9), (unsigned long)ref.seq);
    return out_text;
}

const char *rp_show_label(const struct rp_episode *episode, char *buf, size_t cap)
{
    static const struct {
        uint8_t bit;
        const char *word;
    } labels[] = {{RP_LABEL_HACE, "HACE"}, {RP_LABEL_HAPE, "HAPE"}, {RP_LABEL_AMS, "AMS"}};
    struct rp_text text = rp_text_on(buf, cap);
    for (size_t i = 0; i < sizeof labels / sizeof labels[0]; i++) {
        if (episode->opening.label & labels[i].bit) {
            rp_text_add(&text, "%s%s", text.len > 0 ? " + " : "", labels[i].word);
        }
    }
    if (episode->opening.label & RP_LABEL_OTHER) {
        rp_text_add(&text, "%s%s", text.len > 0 ? " + " : "", episode->opening.label_text);
    }
    if (text.len == 0) {
        rp_text_add(&text, "no label");
    }
    return buf;
}
