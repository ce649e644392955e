/* The show that the tests of the Lua side look at, built by hand so that every field has a known value. */
#ifndef TESTS_LUA_SHOW_H
#define TESTS_LUA_SHOW_H

#include <math.h>
#include <string.h>

#include "rigcall/model.h"

static inline const char *tx(struct show *show, const char *text)
{
    return show_text(show, text, strlen(text));
}

static inline struct slot *slots_of(struct show *show, const char *const *names, uint32_t count)
{
    struct slot *slots = show_alloc(show, count * sizeof *slots);
    for (uint32_t i = 0; i < count; i++) {
        const char *plus = strchr(names[i], '+');
        size_t length = plus ? (size_t)(plus - names[i]) : strlen(names[i]);
        slots[i] = (struct slot){ (uint16_t)show_param(show, names[i], length), plus != NULL, NAN };
    }
    return slots;
}

static inline struct type *type_with_mode(struct show *show, const char *id, const char *name, const char *mode_id,
                                          int64_t cells)
{
    struct type *type = show_add_type(show);
    type->id = tx(show, id);
    type->name = tx(show, name);
    type->modes = show_alloc(show, sizeof *type->modes);
    type->mode_count = 1;
    type->modes->id = tx(show, mode_id);
    type->modes->cells = cells;
    return type;
}

static inline void lua_show_types(struct show *show)
{
    static const char *const cell[] = { "intensity", "red", "green", "blue" }, *const tail[] = { "strobe" },
                      *const head[] = { "pan", "pan+fine", "tilt", "tilt+fine", "intensity" };
    struct type *batten = type_with_mode(show, "batten", "Batten, 3 cells", "cells", 3);
    batten->airs = AIR_BIT(AIR_SINGLE) | AIR_BIT(AIR_DUAL);
    batten->firmware_floor[AIR_DUAL] = tx(show, "3.1");
    batten->watts = 40;
    batten->battery_wh = 320.5;
    batten->sensitivity_dbm = -85;
    batten->note = tx(show, "hire");
    batten->modes->slots = slots_of(show, cell, 4);
    batten->modes->slot_count = 4;
    batten->modes->tail = slots_of(show, tail, 1);
    batten->modes->tail_count = 1;
    struct type *mover = type_with_mode(show, "mover", "Mover", "m", 0);
    mover->hazard = HAZARD_MOTION;
    mover->modes->head = slots_of(show, head, 5);
    mover->modes->head_count = 5;
    type_with_mode(show, "unused", "Unused", "m", 0);
}

static inline struct transmitter *transmitter(struct show *show, const char *id, const char *name, double x_m,
                                              const char *code)
{
    struct transmitter *t = show_add_transmitter(show);
    t->id = tx(show, id);
    t->name = tx(show, name);
    t->site = tx(show, "quay");
    t->pos = (struct position){ x_m, 0, 0 };
    t->reach_m = 50;
    t->eirp_dbm = 20;
    t->radios = 1;
    t->airs = AIR_BIT(AIR_SINGLE) | AIR_BIT(AIR_DUAL);
    t->air = AIR_DUAL;
    t->code = tx(show, code);
    return t;
}

static inline struct lane *lane_list(struct show *show, int64_t lane, int64_t universe, int64_t second)
{
    struct lane *lanes = show_alloc(show, 2 * sizeof *lanes);
    lanes[0] = (struct lane){ lane, universe };
    lanes[1] = (struct lane){ lane + 1, second };
    return lanes;
}

static inline void lua_show_transmitters(struct show *show)
{
    struct transmitter *t = transmitter(show, "T1", "Mast", 0, "40718263");
    t->firmware = tx(show, "3.1");
    t->host = tx(show, "10.0.0.1");
    t->input = INPUT_UNICAST;
    t->note = tx(show, "on the roof");
    t->lanes = lane_list(show, 1, 1, 2);
    t->lane_count = 2;
    t->keep_out = show_alloc(show, sizeof *t->keep_out);
    t->keep_out[0] = (struct band){ .from_mhz = 2402, .to_mhz = 2423 };
    t->keep_out_count = 1;
    t = transmitter(show, "T2", "Pier", 60, "40718263");
    t->lanes = lane_list(show, 1, 7, 8);
    t->lane_count = 2;
    t = transmitter(show, "T9", "Case", 0, "11112222");
    t->spare = true;
    t->site = NULL;
    t->pos.x_m = t->reach_m = t->eirp_dbm = NAN;
}

static inline struct fixture *fixture(struct show *show, int64_t id, const char *name, const char *type, const char *mode,
                                      int64_t address)
{
    struct fixture *f = show_add_fixture(show);
    f->id = id;
    f->name = tx(show, name);
    f->type = tx(show, type);
    f->mode = tx(show, mode);
    f->universe = 1;
    f->address = address;
    return f;
}

static inline struct extra extra(struct show *show, const char *key, const char *value)
{
    return (struct extra){ tx(show, key), tx(show, value) };
}

static inline void lua_show_fixtures(struct show *show)
{
    struct fixture *f = fixture(show, 102, "Rail 2", "batten", "cells", 14);
    f->site = tx(show, "quay");
    f->code = tx(show, "40718263");
    f->air = AIR_DUAL;
    f->lane = 2;
    f->pos = (struct position){ 3, 4, 0 };
    f = fixture(show, 101, "Rail 1", "batten", "cells", 1);
    f->site = tx(show, "quay");
    f->code = tx(show, "40718263");
    f->air = AIR_DUAL;
    f->lane = 1;
    f->firmware = tx(show, "3.0");
    f->pos = (struct position){ 3, 4, 0.5 };
    f->note = tx(show, "dented");
    f->tags = show_alloc(show, 2 * sizeof *f->tags);
    f->tags[0] = tx(show, "rail");
    f->tags[1] = tx(show, "front");
    f->tag_count = 2;
    f->extras.items = show_alloc(show, 4 * sizeof *f->extras.items);
    f->extras.items[0] = extra(show, "x_case", "\"A \\\"7\\\"\"");
    f->extras.items[1] = extra(show, "x_weight", "12.5");
    f->extras.items[2] = extra(show, "x_list", "{ 1, 2, { k = true } }");
    f->extras.items[3] = extra(show, "x_odd", "not lua at all");
    f->extras.count = 4;
    f = fixture(show, 201, "Head", "mover", "m", 100);
    f->wired = true;
    f->universe = 2;
    f = fixture(show, 301, "Spare batten", "batten", "cells", SHOW_NONE);
    f->universe = SHOW_NONE;
    f = fixture(show, 401, "Ghost", "nothing", "cells", 500);
    f->same_as = 101;
}

/* Fixtures 101 and 102 (battens on universe 1, codes of T1 and T2), 201 (mover on universe 2), 301 (not patched), 401
 * (unknown type). */
static inline struct show *lua_show(void)
{
    struct show *show = show_new();
    show->name = tx(show, "Harbour");
    show->date = tx(show, "2027-03-06");
    show->region = tx(show, "GB");
    show->has_call = true;
    show->call_hours = 10;
    show->call_level = 62.5;
    struct site *site = show_add_site(show);
    site->id = tx(show, "quay");
    site->name = tx(show, "North quay");
    struct band *band = show_add_quiet(show);
    band->from_mhz = 2402;
    band->to_mhz = 2423;
    band->who = tx(show, "camera");
    lua_show_types(show);
    lua_show_transmitters(show);
    struct universe *universe = show_add_universe(show);
    universe->id = 1;
    universe->label = tx(show, "Rail");
    universe->priority = 120;
    universe->wire = 11;
    show_add_universe(show)->id = 2;
    lua_show_fixtures(show);
    return show_index(show) == 0 ? show : NULL;
}

#endif
