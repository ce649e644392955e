/* What follows from where things stand: distance, loss, margin, reach, and two transmitters in each other's way. */
#include <math.h>

#include "rigcall/radio.h"

#define LIGHT_M_S 299792458.0        /* exact, SI */
#define NEAREST_M 0.1                /* about one wavelength at 2442 MHz: free-space loss is not valid closer */

double radio_distance_m(const struct position *a, const struct position *b)
{
    if (!position_given(a) || !position_given(b))
        return NAN;
    return hypot(hypot(a->x_m - b->x_m, a->y_m - b->y_m), a->z_m - b->z_m);
}

double radio_free_space_loss_db(double freq_mhz, double dist_m)
{
    if (!isfinite(freq_mhz) || !isfinite(dist_m) || freq_mhz <= 0 || dist_m <= 0)
        return NAN;
    return 20 * log10(4 * M_PI * dist_m * freq_mhz * 1e6 / LIGHT_M_S);
}

double radio_margin_db(const struct show *show, const struct transmitter *transmitter, const struct fixture *fixture)
{
    const struct type *type = fixture_type(show, fixture);
    double sensitivity = type && !isnan(type->sensitivity_dbm) ? type->sensitivity_dbm : RADIO_SENSITIVITY_DBM;
    double dist_m = radio_distance_m(&transmitter->pos, &fixture->pos);
    if (isnan(dist_m))
        return NAN;
    return transmitter->eirp_dbm - radio_free_space_loss_db(RADIO_MARGIN_MHZ, fmax(dist_m, NEAREST_M)) - sensitivity;
}

/* Site ids are interned, so one site is one pointer, whether the show defines it or not. */
static bool within(const struct transmitter *transmitter, const struct position *pos, const char *site)
{
    double dist_m = radio_distance_m(&transmitter->pos, pos);
    if (isnan(dist_m) || isnan(transmitter->reach_m))
        return transmitter->site == site;
    return dist_m <= transmitter->reach_m + RADIO_ROUNDING_M;
}

bool radio_in_reach(const struct show *show, const struct transmitter *transmitter, const struct fixture *fixture)
{
    (void)show;                      /* part of the interface beside radio_margin_db(); reach needs the two objects only */
    return within(transmitter, &fixture->pos, fixture->site);
}

enum radio_clash radio_clash(const struct transmitter *a, const struct transmitter *b, double *distance_m)
{
    double dist_m = radio_distance_m(&a->pos, &b->pos);
    if (distance_m)
        *distance_m = dist_m;
    if (!a->code || a->code != b->code)
        return RADIO_CLASH_NONE;
    if (within(a, &b->pos, b->site) || within(b, &a->pos, a->site))
        return RADIO_CLASH_FAIL;
    return dist_m <= a->reach_m + b->reach_m + RADIO_ROUNDING_M ? RADIO_CLASH_WARN : RADIO_CLASH_NONE;
}
