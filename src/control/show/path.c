/* A radio link before it is tried: loss on the way, margin at each spreading factor. An estimate.
 */
#include "control/show/path.h"

#include <math.h>
#include <stdio.h>

#include "control/show/show.h"
#include "radio/plan/link.h"

struct estimate {
    double slant_m; /* from antenna to antenna */
    double free_db, ground_db, above_m, edge_db;
    double received_dbm, near_dbm; /* in clear view; near the ground */
};

static struct estimate estimate(const struct rp_path_ask *ask)
{
    const struct rp_path_end *a = &ask->ends[0], *b = &ask->ends[1];
    double height_a_m = a->ground_m + a->antenna_m, height_b_m = b->ground_m + b->antenna_m;
    struct estimate out = {.slant_m = hypot(ask->distance_m, height_b_m - height_a_m)};
    out.free_db = rp_link_free_space_db(out.slant_m, ask->freq_hz);
    if (ask->has_ridge) {
        struct rp_link_ridge ridge = {height_a_m, height_b_m, ask->ridge_top_m, ask->ridge_at_m,
                                      ask->distance_m - ask->ridge_at_m};
        out.above_m = rp_link_ridge_above_m(&ridge);
        out.edge_db = rp_link_edge_db(
            rp_link_edge_v(out.above_m, ridge.from_a_m, ridge.from_b_m, ask->freq_hz));
    }
    out.ground_db = rp_link_near_ground_db(out.slant_m, ask->freq_hz);
    out.received_dbm = ask->power_dbm + a->gain_dbi + b->gain_dbi - out.free_db - out.edge_db;
    out.near_dbm = out.received_dbm + out.free_db - out.ground_db;
    return out;
}

static void link_text(struct rp_text *text, const struct rp_path_ask *ask,
                      const struct estimate *est)
{
    const struct rp_path_end *a = &ask->ends[0], *b = &ask->ends[1];
    rp_text_add(text, "ESTIMATE of a link%s%s%s%s\n", a->name[0] != '\0' ? " from " : "", a->name,
                b->name[0] != '\0' ? " to " : "", b->name);
    char bearing[24] = "";
    if (!ask->has_distance) {
        snprintf(bearing, sizeof bearing, " towards %03d true",
                 (int)lround(ask->bearing_deg) % 360);
    }
    rp_text_add(text,
                "ground   %.2f km%s, from %.0f m to %.0f m%s; antennas %.1f m and %.1f m up\n",
                ask->distance_m / 1000, bearing, a->ground_m, b->ground_m,
                a->has_ground ? "" : " (level: no altitude known)", a->antenna_m, b->antenna_m);
    rp_text_add(text, "radio    %.3f MHz, %u kHz, %.1f dBm, %.2f dBi and %.2f dBi\n",
                ask->freq_hz / 1e6, (unsigned)(ask->bandwidth_hz / 1000), ask->power_dbm,
                a->gain_dbi, b->gain_dbi);
    rp_text_add(text,
                "way      %.2f km: %.1f dB in clear view (ITU-R P.525), %.1f dB near the ground "
                "(Oulu 2015)\n",
                est->slant_m / 1000, est->free_db, est->ground_db);
    if (ask->has_ridge) {
        rp_text_add(text,
                    "ridge    %.1f dB: its top at %.2f km is %.1f m %s the line (ITU-R P.526, one "
                    "knife edge)\n",
                    est->edge_db, ask->ridge_at_m / 1000, fabs(est->above_m),
                    est->above_m < 0 ? "below" : "above");
    }
    rp_text_add(text,
                "arrives  %.1f dBm in clear view, %.1f dBm near the ground\n"
                "                  in clear view          near the ground\n"
                "      needs      margin  frames lost    margin  frames lost\n",
                est->received_dbm, est->near_dbm);
}

static void loss_text(char *buf, size_t cap, double loss_pct)
{
    snprintf(buf, cap, "%s%.*f %%", loss_pct < 0.1 ? "below " : "", loss_pct < 10 ? 1 : 0,
             loss_pct < 0.1 ? 0.1 : loss_pct);
}

static void margin_line(struct rp_show *show, json_t *array, uint8_t factor,
                        const struct rp_path_ask *ask, const struct estimate *est)
{
    int16_t needs_dbm = 0;
    if (!rp_link_sensitivity_dbm(factor, ask->bandwidth_hz, &needs_dbm)) {
        return;
    }
    double margin_db = est->received_dbm - needs_dbm;
    double loss_pct = rp_link_expected_loss_pct(margin_db);
    bool present = factor == rp_node_config(show->entry->node)->net.profile.spreading_factor;
    double near_db = est->near_dbm - needs_dbm;
    double near_pct = rp_link_expected_loss_pct(near_db);
    char loss[24], near[24];
    loss_text(loss, sizeof loss, loss_pct);
    loss_text(near, sizeof near, near_pct);
    rp_text_add(show->text, "SF%-2u%s %d dBm %+6.1f dB  %-13s %+6.1f dB  %s\n", factor,
                present ? "*" : " ", needs_dbm, margin_db, loss, near_db, near);
    json_array_append_new(array, json_pack("{s:i,s:i,s:f,s:f,s:f,s:f}", "spreading_factor", factor,
                                           "sensitivity_dbm", needs_dbm, "margin_db", margin_db,
                                           "expected_loss_pct", loss_pct, "near_ground_margin_db",
                                           near_db, "near_ground_loss_pct", near_pct));
}

int rp_show_path(struct rp_show *show)
{
    struct rp_path_ask ask;
    int code = rp_path_read(show->entry, &ask);
    if (code < 0) {
        return code;
    }
    struct estimate est = estimate(&ask);
    link_text(show->text, &ask, &est);
    json_t *factors = json_array();
    for (uint8_t factor = 7; factor <= 12; factor++) {
        margin_line(show, factors, factor, &ask, &est);
    }
    rp_text_add(
        show->text,
        "* in use. An ESTIMATE, not a promise. In clear view: nothing near the line between "
        "the antennas,\nas from ridge to ridge. Near the ground: antennas at head height "
        "over open land, as measured\nfrom a car (Oulu 2015; spread 7.8 dB). Most links lie "
        "between. Needs by data sheet (SX1272).\nSnow, trees, bodies and a second ridge take "
        "more. Try the link before you rely on it.\n");
    json_t *data =
        json_pack("{s:b,s:f,s:f,s:f,s:f,s:f,s:o}", "estimate", 1, "distance_m", ask.distance_m,
                  "slant_m", est.slant_m, "free_space_db", est.free_db, "near_ground_db",
                  est.ground_db, "received_dbm", est.received_dbm, "spreading_factors", factors);
    if (ask.has_ridge) {
        json_object_set_new(data, "ridge_above_m", json_real(est.above_m));
        json_object_set_new(data, "ridge_db", json_real(est.edge_db));
    }
    json_object_update(show->data, data);
    json_decref(data);
    return RP_OK;
}
