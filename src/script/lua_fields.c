/* Fields of objects. Each pushes one value, nil for what the file does not give. */
#include <math.h>

#include "lua_internal.h"

#define FIXTURE(L, o) (&object__show(L, o)->fixtures[(o).index])
#define TRANSMITTER(L, o) (&object__show(L, o)->transmitters[(o).index])
#define UNIVERSE(L, o) (&object__show(L, o)->universes[(o).index])
#define SITE(L, o) (&object__show(L, o)->sites[(o).index])
#define TYPE(L, o) (&object__show(L, o)->types[(o).index])

static int get_kind(lua_State *L, struct object o)
{
    lua_pushstring(L, object__kind_name(o.kind));
    return 1;
}

static int get_id(lua_State *L, struct object o)
{
    switch (o.kind) {
    case OBJECT_FIXTURE:     lua_pushinteger(L, FIXTURE(L, o)->id); break;
    case OBJECT_TRANSMITTER: value__text(L, TRANSMITTER(L, o)->id); break;
    case OBJECT_UNIVERSE:    lua_pushinteger(L, UNIVERSE(L, o)->id); break;
    case OBJECT_SITE:        value__text(L, SITE(L, o)->id); break;
    default:                 value__text(L, TYPE(L, o)->id); break;
    }
    return 1;
}

static int get_name(lua_State *L, struct object o)
{
    switch (o.kind) {
    case OBJECT_FIXTURE:     value__text(L, FIXTURE(L, o)->name); break;
    case OBJECT_TRANSMITTER: value__text(L, TRANSMITTER(L, o)->name); break;
    case OBJECT_SITE:        value__text(L, SITE(L, o)->name); break;
    case OBJECT_TYPE:        value__text(L, TYPE(L, o)->name); break;
    default:                 value__text(L, object__show(L, o)->name); break;
    }
    return 1;
}

static int get_note(lua_State *L, struct object o)
{
    switch (o.kind) {
    case OBJECT_FIXTURE:     value__text(L, FIXTURE(L, o)->note); break;
    case OBJECT_TRANSMITTER: value__text(L, TRANSMITTER(L, o)->note); break;
    case OBJECT_UNIVERSE:    value__text(L, UNIVERSE(L, o)->note); break;
    case OBJECT_SITE:        value__text(L, SITE(L, o)->note); break;
    case OBJECT_TYPE:        value__text(L, TYPE(L, o)->note); break;
    default:                 value__text(L, object__show(L, o)->note); break;
    }
    return 1;
}

/* ---- fixtures and transmitters ---- */

static int get_site(lua_State *L, struct object o)
{
    value__text(L, o.kind == OBJECT_FIXTURE ? FIXTURE(L, o)->site : TRANSMITTER(L, o)->site);
    return 1;
}

static int get_code(lua_State *L, struct object o)
{
    value__text(L, o.kind == OBJECT_FIXTURE ? FIXTURE(L, o)->code : TRANSMITTER(L, o)->code);
    return 1;
}

static int get_air(lua_State *L, struct object o)
{
    value__text(L, air_name(o.kind == OBJECT_FIXTURE ? FIXTURE(L, o)->air : TRANSMITTER(L, o)->air));
    return 1;
}

static int get_firmware(lua_State *L, struct object o)
{
    value__text(L, o.kind == OBJECT_FIXTURE ? FIXTURE(L, o)->firmware : TRANSMITTER(L, o)->firmware);
    return 1;
}

static int get_pos(lua_State *L, struct object o)
{
    const struct position *pos = o.kind == OBJECT_FIXTURE ? &FIXTURE(L, o)->pos : &TRANSMITTER(L, o)->pos;
    if (!position_given(pos))
        return 0;
    lua_createtable(L, 0, 3);
    value__number(L, pos->x_m);
    lua_setfield(L, -2, "x");
    value__number(L, pos->y_m);
    lua_setfield(L, -2, "y");
    value__number(L, pos->z_m);
    lua_setfield(L, -2, "z");
    return 1;
}

/* ---- fixtures and cells ---- */

static int get_type(lua_State *L, struct object o)
{
    value__text(L, FIXTURE(L, o)->type);
    return 1;
}

static int get_mode(lua_State *L, struct object o)
{
    value__text(L, FIXTURE(L, o)->mode);
    return 1;
}

static int get_universe(lua_State *L, struct object o)
{
    value__integer(L, FIXTURE(L, o)->universe);
    return 1;
}

static int get_address(lua_State *L, struct object o)
{
    value__integer(L, FIXTURE(L, o)->address);
    return 1;
}

static int get_lane(lua_State *L, struct object o)
{
    value__integer(L, FIXTURE(L, o)->lane);
    return 1;
}

static int get_same_as(lua_State *L, struct object o)
{
    value__integer(L, FIXTURE(L, o)->same_as);
    return 1;
}

static int get_wired(lua_State *L, struct object o)
{
    lua_pushboolean(L, FIXTURE(L, o)->wired);
    return 1;
}

static int get_tags(lua_State *L, struct object o)
{
    const struct fixture *fixture = FIXTURE(L, o);
    lua_createtable(L, (int)fixture->tag_count, 0);
    for (uint32_t i = 0; i < fixture->tag_count; i++) {
        lua_pushstring(L, fixture->tags[i]);
        lua_rawseti(L, -2, (lua_Integer)i + 1);
    }
    return 1;
}

static int get_hazard(lua_State *L, struct object o)
{
    const struct type *type = o.kind == OBJECT_FIXTURE ? fixture_type(object__show(L, o), FIXTURE(L, o)) : TYPE(L, o);
    value__text(L, type ? hazard_name(type->hazard) : NULL);
    return 1;
}

static int get_fixture(lua_State *L, struct object o)
{
    object__push_index(L, OBJECT_FIXTURE, o.index);
    return 1;
}

static int get_number(lua_State *L, struct object o)
{
    lua_pushinteger(L, o.cell);
    return 1;
}

/* ---- transmitters, universes, types, show ---- */

static int get_reach(lua_State *L, struct object o)
{
    value__number(L, TRANSMITTER(L, o)->reach_m);
    return 1;
}

static int get_eirp(lua_State *L, struct object o)
{
    value__number(L, TRANSMITTER(L, o)->eirp_dbm);
    return 1;
}

static int get_radios(lua_State *L, struct object o)
{
    value__integer(L, TRANSMITTER(L, o)->radios);
    return 1;
}

static int get_airs(lua_State *L, struct object o)
{
    unsigned airs = o.kind == OBJECT_TRANSMITTER ? TRANSMITTER(L, o)->airs : TYPE(L, o)->airs;
    lua_Integer count = 0;
    lua_createtable(L, 2, 0);
    for (unsigned air = AIR_SINGLE; air <= AIR_DUAL; air++)
        if (airs & AIR_BIT(air)) {
            lua_pushstring(L, air_name((enum air)air));
            lua_rawseti(L, -2, ++count);
        }
    return 1;
}

static int get_host(lua_State *L, struct object o)
{
    value__text(L, TRANSMITTER(L, o)->host);
    return 1;
}

static int get_input(lua_State *L, struct object o)
{
    lua_pushstring(L, TRANSMITTER(L, o)->input == INPUT_UNICAST ? "unicast" : "multicast");
    return 1;
}

static int get_spare(lua_State *L, struct object o)
{
    lua_pushboolean(L, TRANSMITTER(L, o)->spare);
    return 1;
}

static int get_label(lua_State *L, struct object o)
{
    value__text(L, UNIVERSE(L, o)->label);
    return 1;
}

static int get_priority(lua_State *L, struct object o)
{
    lua_pushinteger(L, universe_priority(UNIVERSE(L, o)));
    return 1;
}

static int get_wire(lua_State *L, struct object o)
{
    lua_pushinteger(L, universe_wire(UNIVERSE(L, o)));
    return 1;
}

static int get_watts(lua_State *L, struct object o)
{
    value__number(L, TYPE(L, o)->watts);
    return 1;
}

static int get_battery(lua_State *L, struct object o)
{
    value__number(L, TYPE(L, o)->battery_wh);
    return 1;
}

static int get_sensitivity(lua_State *L, struct object o)
{
    value__number(L, TYPE(L, o)->sensitivity_dbm);
    return 1;
}

static int get_modes(lua_State *L, struct object o)
{
    const struct type *type = TYPE(L, o);
    lua_createtable(L, (int)type->mode_count, 0);
    for (uint32_t i = 0; i < type->mode_count; i++) {
        value__text(L, type->modes[i].id);
        lua_rawseti(L, -2, (lua_Integer)i + 1);
    }
    return 1;
}

static int get_date(lua_State *L, struct object o)
{
    value__text(L, object__show(L, o)->date);
    return 1;
}

static int get_region(lua_State *L, struct object o)
{
    value__text(L, object__show(L, o)->region);
    return 1;
}

static int get_call_hours(lua_State *L, struct object o)
{
    value__number(L, object__show(L, o)->call_hours);
    return 1;
}

static int get_call_level(lua_State *L, struct object o)
{
    value__number(L, object__show(L, o)->call_level);
    return 1;
}

const struct member members__fields[] = {
    { "kind", KIND_ANY, get_kind, NULL },
    { "id", KIND(FIXTURE) | KIND(TRANSMITTER) | KIND(UNIVERSE) | KIND(SITE) | KIND(TYPE), get_id, NULL },
    { "name", KIND(FIXTURE) | KIND(TRANSMITTER) | KIND(SITE) | KIND(TYPE) | KIND(SHOW), get_name, NULL },
    { "note", KIND_ANY & ~KIND(CELL), get_note, NULL },
    { "site", KIND(FIXTURE) | KIND(TRANSMITTER), get_site, NULL },
    { "code", KIND(FIXTURE) | KIND(TRANSMITTER), get_code, NULL },
    { "air", KIND(FIXTURE) | KIND(TRANSMITTER), get_air, NULL },
    { "firmware", KIND(FIXTURE) | KIND(TRANSMITTER), get_firmware, NULL },
    { "pos", KIND(FIXTURE) | KIND(TRANSMITTER), get_pos, NULL },
    { "type", KIND(FIXTURE), get_type, NULL },
    { "mode", KIND(FIXTURE), get_mode, NULL },
    { "universe", KIND(FIXTURE), get_universe, NULL },
    { "address", KIND(FIXTURE), get_address, NULL },
    { "lane", KIND(FIXTURE), get_lane, NULL },
    { "same_as", KIND(FIXTURE), get_same_as, NULL },
    { "wired", KIND(FIXTURE), get_wired, NULL },
    { "tags", KIND(FIXTURE), get_tags, NULL },
    { "hazard", KIND(FIXTURE) | KIND(TYPE), get_hazard, NULL },
    { "fixture", KIND(CELL), get_fixture, NULL },
    { "number", KIND(CELL), get_number, NULL },
    { "reach", KIND(TRANSMITTER), get_reach, NULL },
    { "eirp_dbm", KIND(TRANSMITTER), get_eirp, NULL },
    { "radios", KIND(TRANSMITTER), get_radios, NULL },
    { "airs", KIND(TRANSMITTER) | KIND(TYPE), get_airs, NULL },
    { "host", KIND(TRANSMITTER), get_host, NULL },
    { "input", KIND(TRANSMITTER), get_input, NULL },
    { "spare", KIND(TRANSMITTER), get_spare, NULL },
    { "label", KIND(UNIVERSE), get_label, NULL },
    { "priority", KIND(UNIVERSE), get_priority, NULL },
    { "wire", KIND(UNIVERSE), get_wire, NULL },
    { "watts", KIND(TYPE), get_watts, NULL },
    { "battery_wh", KIND(TYPE), get_battery, NULL },
    { "sensitivity_dbm", KIND(TYPE), get_sensitivity, NULL },
    { "modes", KIND(TYPE), get_modes, NULL },
    { "date", KIND(SHOW), get_date, NULL },
    { "region", KIND(SHOW), get_region, NULL },
    { "call_hours", KIND(SHOW), get_call_hours, NULL },
    { "call_level", KIND(SHOW), get_call_level, NULL },
    { NULL, 0, NULL, NULL }
};
