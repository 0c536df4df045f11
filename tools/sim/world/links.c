#include "sim/world/links.h"

#include <math.h>

#define POWER_DBM   14.0 /* as the net file's default, node/net.h */
#define ANTENNA_DBI 2.0  /* as in the measurements of the land model, below */
#define FREQ_MHZ    869.525
#define FADE_DB     2.0 /* standard deviation from frame to frame: slow drift of +-2 dB; ours */
#define ONE_WAY_DB  1.0 /* difference of the two directions: noise at the receivers; ours */
#define NEAR_KM     0.01
#define DISTURBS_DB                                                                                \
    (-6.0) /* the strength needed above an interferer of the same spreading factor:                \
            * Bor et al., MSWiM 2016 */

struct path_loss {
    double at_1_km_db, per_decade_db, shadow_db;
};

/* land: Petajajarvi et al. 2015, measured with a car around Oulu, as FLoRa's LoRaPathLossOulu.ned
 * has it (n = 2.32, sigma 7.8 dB). free: ITU-R P.525, 32.44 + 20 log d + 20 log f; its shadowing is
 * the least of the fits in the literature (3.6 dB, Bor et al. 2016: 3.57). */
static const struct path_loss models[] = {
    [SIM_PATH_LAND] = {128.95, 23.2, 7.8}, [SIM_PATH_FREE] = {91.22, 20.0, 3.6}, /* 32.44 + 20 log
                                                                                    869.525 */
};

double sim_links_path_loss_db(enum sim_path_loss model, double d_km)
{
    double far_km = d_km > NEAR_KM ? d_km : NEAR_KM;
    return models[model].at_1_km_db + models[model].per_decade_db * log10(far_km);
}

double sim_links_sensitivity_dbm(uint8_t spreading_factor, uint32_t bandwidth_hz)
{
    /* SX1272/73 data sheet rev 2 (2014), RFS_L125, RFS_L250, RFS_L500; SF7 to SF12. */
    static const int16_t dbm[3][6] = {{-124, -127, -130, -133, -135, -137},
                                      {-122, -125, -128, -130, -132, -135},
                                      {-116, -119, -122, -125, -128, -129}};
    unsigned row = bandwidth_hz == 125000 ? 0 : bandwidth_hz == 250000 ? 1 : 2;
    return dbm[row][spreading_factor - 7];
}

uint16_t sim_links_loss(double margin_db)
{
    double lost = 0.5 * erfc(margin_db / FADE_DB / sqrt(2.0));
    return (uint16_t)(lost * SIM_LOSS_ONE + 0.5);
}

double sim_links_margin_db(uint16_t loss)
{
    double wanted = loss == 0 ? 0.5 : loss >= SIM_LOSS_ONE ? SIM_LOSS_ONE - 0.5 : loss;
    double low_db = -5 * FADE_DB, high_db = 5 * FADE_DB;
    for (unsigned i = 0; i < 40; i++) { /* halving: far below a hundredth of a dB */
        double middle_db = (low_db + high_db) / 2;
        double lost = 0.5 * erfc(middle_db / FADE_DB / sqrt(2.0)) * SIM_LOSS_ONE;
        low_db = lost > wanted ? middle_db : low_db;
        high_db = lost > wanted ? high_db : middle_db;
    }
    return low_db;
}

/* A standard normal draw that belongs to two stations and the terrain (Box and Muller 1958). */
static double normal_of(uint64_t terrain_seed, unsigned a, unsigned b)
{
    struct rp_rng rng = rp_rng_seeded(terrain_seed * 1000003 + a * 1009 + b);
    double u = ((double)(rp_rng_next(&rng) >> 11) + 1) / 9007199254740992.0;
    double v = (double)(rp_rng_next(&rng) >> 11) / 9007199254740992.0;
    return sqrt(-2 * log(u)) * cos(6.283185307179586 * v);
}

double sim_links_power_dbm(const struct sim_topology *topology, const struct sim_settings *settings,
                           unsigned from, unsigned to)
{
    const struct sim_station *a = &topology->stations[from], *b = &topology->stations[to];
    double x = a->x_m - b->x_m, y = a->y_m - b->y_m, z = a->z_m - b->z_m;
    double d_km = sqrt(x * x + y * y + z * z) / 1000;
    unsigned low = from < to ? from : to, high = from < to ? to : from;
    double shadow_db =
        models[settings->path_loss].shadow_db * normal_of(settings->terrain_seed, low, high);
    double one_way_db = ONE_WAY_DB * normal_of(settings->terrain_seed ^ 0xd1eec7ed, from, to);
    return POWER_DBM + 2 * ANTENNA_DBI - sim_links_path_loss_db(settings->path_loss, d_km) -
           shadow_db - one_way_db;
}

void sim_links_resolve(struct sim_topology *topology, const struct sim_settings *settings)
{
    double sensitivity_dbm =
        sim_links_sensitivity_dbm(settings->spreading_factor, settings->bandwidth_hz);
    for (unsigned from = 0; from < topology->count; from++) {
        for (unsigned to = 0; to < topology->count; to++) {
            struct sim_link *link = &topology->links[from][to];
            if (link->kind != SIM_LINK_MODEL) {
                continue;
            }
            double margin_db = sim_links_power_dbm(topology, settings, from, to) - sensitivity_dbm;
            link->kind = margin_db > DISTURBS_DB ? SIM_LINK_LOSS : SIM_LINK_NONE;
            link->loss = link->kind == SIM_LINK_LOSS ? sim_links_loss(margin_db) : 0;
        }
    }
}

/* Strength for capture: by position, or such that fading gives the loss that was fixed. */
static int16_t power_cdbm(const struct sim_topology *topology, const struct sim_settings *settings,
                          unsigned from, unsigned to)
{
    bool placed = topology->stations[from].has_position && topology->stations[to].has_position;
    double power_dbm =
        placed ? sim_links_power_dbm(topology, settings, from, to)
               : sim_links_sensitivity_dbm(settings->spreading_factor, settings->bandwidth_hz) +
                     sim_links_margin_db(topology->links[from][to].loss);
    return (int16_t)(power_dbm * 100);
}

void sim_links_fill(struct sim_channel *channel, const struct sim_topology *topology,
                    const struct sim_settings *settings)
{
    for (unsigned from = 0; from < topology->count; from++) {
        for (unsigned to = 0; to < topology->count; to++) {
            const struct sim_link *link = &topology->links[from][to];
            struct sim_path *path = sim_channel_path(channel, from, to);
            path->audible = from != to && link->kind == SIM_LINK_LOSS;
            path->loss = link->loss;
            path->power_cdbm = path->audible ? power_cdbm(topology, settings, from, to) : 0;
            sim_channel_changed(channel, from, to);
        }
    }
}
