/* Small shows for the radio tests. Functions are inline so that a test may leave some unused. */
#ifndef TESTS_RADIO_SHOW_H
#define TESTS_RADIO_SHOW_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "rigcall/radio.h"

static inline const char *text(struct show *show, const char *bytes)
{
    return bytes ? show_text(show, bytes, strlen(bytes)) : NULL;
}

static inline struct position at(double x_m, double y_m, double z_m)
{
    return (struct position){ x_m, y_m, z_m };
}

static inline void assert_near(double value, double expected, double tolerance)
{
    if (!(fabs(value - expected) <= tolerance))
        fail_msg("%.9g is not within %g of %.9g", value, tolerance, expected);
}

/* A transmitter with four radios in dual, reach 100 m, at a place on the x axis (NAN: no position). */
static inline struct transmitter *add_transmitter(struct show *show, const char *id, const char *code, double x_m)
{
    struct transmitter *transmitter = show_add_transmitter(show);
    assert_non_null(transmitter);
    transmitter->id = text(show, id);
    transmitter->code = text(show, code);
    transmitter->site = text(show, "quay");
    transmitter->radios = 4;
    transmitter->air = AIR_DUAL;
    transmitter->airs = AIR_BIT(AIR_SINGLE) | AIR_BIT(AIR_DUAL);
    transmitter->reach_m = 100;
    if (!isnan(x_m))
        transmitter->pos = at(x_m, 0, 0);
    return transmitter;
}

static inline void give_lane(struct show *show, struct transmitter *transmitter, int64_t lane, int64_t universe)
{
    struct lane *lanes = show_alloc(show, (transmitter->lane_count + 1) * sizeof *lanes);
    assert_non_null(lanes);
    for (uint32_t i = 0; i < transmitter->lane_count; i++)
        lanes[i] = transmitter->lanes[i];
    lanes[transmitter->lane_count++] = (struct lane){ lane, universe };
    transmitter->lanes = lanes;
}

static inline void keep_out(struct show *show, struct transmitter *transmitter, double from_mhz, double to_mhz)
{
    struct band *bands = show_alloc(show, (transmitter->keep_out_count + 1) * sizeof *bands);
    assert_non_null(bands);
    for (uint32_t i = 0; i < transmitter->keep_out_count; i++)
        bands[i] = transmitter->keep_out[i];
    bands[transmitter->keep_out_count].from_mhz = from_mhz;
    bands[transmitter->keep_out_count++].to_mhz = to_mhz;
    transmitter->keep_out = bands;
}

/* A wireless fixture in dual, patched in a universe at address 1, at a place on the x axis. */
static inline struct fixture *add_fixture(struct show *show, int64_t id, int64_t universe, const char *code, int64_t lane, double x_m)
{
    struct fixture *fixture = show_add_fixture(show);
    assert_non_null(fixture);
    fixture->id = id;
    fixture->universe = universe;
    fixture->address = 1;
    fixture->code = text(show, code);
    fixture->air = AIR_DUAL;
    fixture->lane = lane;
    fixture->type = text(show, "wash");
    fixture->mode = text(show, "plain");
    fixture->site = text(show, "quay");
    if (!isnan(x_m))
        fixture->pos = at(x_m, 0, 0);
    return fixture;
}

#endif
