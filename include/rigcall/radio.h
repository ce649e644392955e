/* Radio arithmetic: distance, reach, free-space loss and margin, hop channels after keep_out, quiet bands, regional power,
 * and where a fixture lands. Pure. It computes from what the show says; it does not measure and does not certify. */
#ifndef RIGCALL_RADIO_H
#define RIGCALL_RADIO_H

#include "rigcall/model.h"

#define RADIO_FIRST_MHZ 2402         /* hop channels are 2402..2480 MHz, 1 MHz apart: 79 of them */
#define RADIO_LAST_MHZ 2480
#define RADIO_CHANNELS (RADIO_LAST_MHZ - RADIO_FIRST_MHZ + 1)
#define RADIO_FLOOR 15               /* hopping channels that must stay: 47 CFR 15.247 (a)(1)(iii) */
#define RADIO_MARGIN_MHZ 2442.0      /* middle of the band, for the margin */
#define RADIO_MARGIN_DB 10.0
#define RADIO_SENSITIVITY_DBM -85.0
#define RADIO_ROUNDING_M 1e-9        /* distances this much past a limit count as at it: 0.1 m has no exact double */
#define RADIO_REGDB_EDITION "2026.05.30"     /* of wireless-regdb, behind radio_region_limit_dbm() */

/** Distance in metres; NAN if either position is not given. */
double radio_distance_m(const struct position *a, const struct position *b);

/** Free-space basic transmission loss, dB: 20 log10(4 pi d f / c). Source: ITU-R P.525 (d in m, f in MHz here).
 * @return NAN unless both are finite and > 0. Not valid closer than about one wavelength. */
double radio_free_space_loss_db(double freq_mhz, double dist_m);

/** Link margin at 2442 MHz, dB: EIRP - free-space loss - receiver sensitivity (of the fixture's type, default -85 dBm).
 * @return NAN without EIRP or either position; a distance under 0.1 m counts as 0.1 m */
double radio_margin_db(const struct show *show, const struct transmitter *transmitter, const struct fixture *fixture);

/** In reach: distance <= reach; without both positions or a reach, the same site (also if neither has one). */
bool radio_in_reach(const struct show *show, const struct transmitter *transmitter, const struct fixture *fixture);

/** A hop channel is out if from <= channel <= to of some keep_out. @param mhz 2402..2480 */
bool radio_channel_out(const struct transmitter *transmitter, int mhz);
/** Hop channels left, 0..79. */
int radio_hops(const struct transmitter *transmitter);
/** A quiet band is kept if every hop channel in it is out. A band without a hop channel is kept.
 * @param left_open_mhz  may be NULL; the lowest channel left open, if any */
bool radio_quiet_kept(const struct transmitter *transmitter, const struct band *quiet, int *left_open_mhz);

/** Highest EIRP, dBm, among the rules of a region that overlap 2402..2480 MHz; NAN for NULL and for a region that is not in
 * the table. Regions are ISO 3166 codes in capitals, "00" the world. Source: wireless-regdb (radio_region.c). */
double radio_region_limit_dbm(const char *region);

/** How badly two transmitters with one code clash; NONE when the codes differ or one has none. Spare ones are judged like any
 * other: a rule that ignores them leaves them out. *distance_m (may be NULL) is NAN without both positions.
 * RADIO_CLASH_FAIL: within the reach of either, or without positions (or reach) on one site; RADIO_CLASH_WARN: their reaches
 * overlap, so that a receiver can stand in both. */
enum radio_clash { RADIO_CLASH_NONE, RADIO_CLASH_WARN, RADIO_CLASH_FAIL };
enum radio_clash radio_clash(const struct transmitter *a, const struct transmitter *b, double *distance_m);

enum landing_state {
    LANDING_NOT_ASKED,               /* unpatched, wired, or code, air or lane not given */
    LANDING_RIGHT,                   /* on one transmitter in reach, in the universe of its patch */
    LANDING_NOWHERE,                 /* no transmitter matches, or several do and none is in reach */
    LANDING_BEYOND,                  /* exactly one matches, but it is out of reach */
    LANDING_TWICE,                   /* two or more in reach match */
    LANDING_EMPTY,                   /* the lane exists but carries no universe */
    LANDING_SHARED,                  /* the lane is given two universes */
    LANDING_OTHER_UNIVERSE
};
struct landing {
    enum landing_state state;
    uint32_t transmitter;            /* index, SHOW_UNKNOWN for NOT_ASKED and NOWHERE */
    uint32_t second;                 /* for LANDING_TWICE */
    int64_t universe;                /* what it really gets, SHOW_NONE when none or not known */
};
/** Where a fixture lands. Spare transmitters and those without code are ignored; only lanes 1..transmitter_lane_count() exist.
 * A transmitter matches if code, air mode and lane agree. */
struct landing radio_landing(const struct show *show, const struct fixture *fixture);

/** The transmitter the radio rules judge a fixture by: the one it lands on, else the only one whose code, air mode and lane
 * match. Patched or not, only what is keyed in counts; a wired fixture has none. @return index or SHOW_UNKNOWN */
uint32_t radio_transmitter_of(const struct show *show, const struct fixture *fixture);

/** Indexes of the selected fixtures in patch order, key `transmitter` included: radio_transmitter_of(), or each of those that
 * a fixture lands on at once. selection NULL selects all.
 * @param out  malloc'd array, caller frees. @return 0 or RIG_ENOMEM */
int radio_select(const struct show *show, const struct selection *selection, uint32_t **out, uint32_t *count);

#endif
