/* Methods of objects that follow from the show alone: footprints, parameters, cells, lanes, carriers, universes. */
#include <string.h>

#include "lua_internal.h"

/* ---- fixtures and cells ---- */

/* f:footprint() -> slots, or nil when its type or mode is unknown */
static int fixture_footprint_call(lua_State *L)
{
    struct object o = object__read(L, 1, KIND(FIXTURE));
    value__integer(L, fixture_footprint(object__show(L, o), object__fixture(L, o)));
    return 1;
}

/* f:last() -> last slot, or nil without address, type or mode */
static int fixture_last_call(lua_State *L)
{
    struct object o = object__read(L, 1, KIND(FIXTURE));
    value__integer(L, fixture_last(object__show(L, o), object__fixture(L, o)));
    return 1;
}

static void add_params(lua_State *L, unsigned char *seen, const struct slot *slots, uint32_t count)
{
    const struct show *show = show_of(L);
    for (uint32_t i = 0; i < count; i++) {
        uint16_t param = slots[i].param;
        if (param >= show->param_count || seen[param / 8] & 1u << param % 8)
            continue;
        seen[param / 8] |= (unsigned char)(1u << param % 8);
        lua_pushstring(L, show->params[param]);
        lua_rawseti(L, -2, (lua_Integer)lua_rawlen(L, -2) + 1);
    }
}

/* f:params(), c:params() -> array of the names of its parameters in slot order, each once; empty when the mode is
 * unknown */
static int params_call(lua_State *L)
{
    struct object o = object__check(L, 1, KIND(FIXTURE) | KIND(CELL));
    const struct mode *mode = fixture_mode(show_of(L), object__fixture(L, o));
    unsigned char seen[UINT16_MAX / 8 + 1];
    lua_createtable(L, 8, 0);
    if (!mode)
        return 1;
    memset(seen, 0, show_of(L)->param_count / 8 + 1);
    if (o.kind == OBJECT_FIXTURE)
        add_params(L, seen, mode->head, mode->head_count);
    if (mode->cells > 0)
        add_params(L, seen, mode->slots, mode->slot_count);
    if (o.kind == OBJECT_FIXTURE)
        add_params(L, seen, mode->tail, mode->tail_count);
    return 1;
}

static void add_slots(lua_State *L, const struct slot *slots, uint32_t count)
{
    const struct show *show = show_of(L);
    lua_Integer at = (lua_Integer)lua_rawlen(L, -1);
    for (uint32_t i = 0; i < count && at < SHOW_SLOTS; i++) {
        lua_pushfstring(L, "%s%s", show->params[slots[i].param], slots[i].fine ? "+fine" : "");
        lua_rawseti(L, -2, ++at);
    }
}

/* f:slots() -> array of the parameter names of its slots from its address on, "pan", "pan+fine", ...; the first 512,
 * because a universe holds no more; empty when the mode is unknown */
static int slots_call(lua_State *L)
{
    const struct mode *mode = fixture_mode(show_of(L), object__fixture(L, object__check(L, 1, KIND(FIXTURE))));
    lua_createtable(L, 32, 0);
    if (!mode)
        return 1;
    add_slots(L, mode->head, mode->head_count);
    for (int64_t c = 0; c < mode->cells && mode->slot_count > 0 && lua_rawlen(L, -1) < SHOW_SLOTS; c++)
        add_slots(L, mode->slots, mode->slot_count);
    add_slots(L, mode->tail, mode->tail_count);
    return 1;
}

static bool has_param(const struct show *show, const struct slot *slots, uint32_t count, const char *name)
{
    for (uint32_t i = 0; i < count; i++)
        if (strcmp(show->params[slots[i].param], name) == 0)
            return true;
    return false;
}

/* f:has(name), c:has(name) -> whether it has a parameter of that name */
static int has_call(lua_State *L)
{
    struct object o = object__check(L, 1, KIND(FIXTURE) | KIND(CELL));
    const char *name = luaL_checkstring(L, 2);
    const struct show *show = show_of(L);
    const struct mode *mode = fixture_mode(show, object__fixture(L, o));
    bool has = mode && mode->cells > 0 && has_param(show, mode->slots, mode->slot_count, name);
    if (mode && o.kind == OBJECT_FIXTURE)
        has = has || has_param(show, mode->head, mode->head_count, name) || has_param(show, mode->tail, mode->tail_count, name);
    lua_pushboolean(L, has);
    return 1;
}

/* f:cells() -> number of cells; 0 when the mode is unknown */
static int cells_call(lua_State *L)
{
    const struct mode *mode = fixture_mode(show_of(L), object__fixture(L, object__check(L, 1, KIND(FIXTURE))));
    lua_pushinteger(L, mode ? mode->cells : 0);
    return 1;
}

/* f:cell(n) -> the cell, n from 1 */
static int cell_call(lua_State *L)
{
    struct object o = object__check(L, 1, KIND(FIXTURE));
    lua_Integer number = luaL_checkinteger(L, 2);
    const struct mode *mode = fixture_mode(show_of(L), object__fixture(L, o));
    int64_t cells = mode ? mode->cells : 0;
    if (number < 1 || number > cells || number > OBJECT_CELLS_LIMIT) {
        char text[200];
        object__describe(L, o, text, sizeof text);
        return luaL_argerror(L, 2, lua_pushfstring(L, "cell %I of %s, which has %I cells", number, text, (lua_Integer)cells));
    }
    object__push(L, (struct object){ .kind = OBJECT_CELL, .index = o.index, .cell = (uint32_t)number });
    return 1;
}

/* f:type_of() -> its type, or nil when the show has no such type */
static int type_of_call(lua_State *L)
{
    const struct fixture *fixture = object__fixture(L, object__check(L, 1, KIND(FIXTURE)));
    object__push_index(L, OBJECT_TYPE, fixture->type_index);
    return 1;
}

/* f:mode_known() -> whether both its type and its mode exist */
static int mode_known_call(lua_State *L)
{
    lua_pushboolean(L, fixture_mode(show_of(L), object__fixture(L, object__check(L, 1, KIND(FIXTURE)))) != NULL);
    return 1;
}

/* ---- transmitters ---- */

static const struct transmitter *read_transmitter(lua_State *L, int arg)
{
    struct object o = object__read(L, arg, KIND(TRANSMITTER));
    return &object__show(L, o)->transmitters[o.index];
}

/* t:lanes() -> array of { lane =, universe = } in the order of the file */
static int lanes_call(lua_State *L)
{
    const struct transmitter *t = read_transmitter(L, 1);
    lua_createtable(L, (int)t->lane_count, 0);
    for (uint32_t i = 0; i < t->lane_count; i++) {
        lua_createtable(L, 0, 2);
        lua_pushinteger(L, t->lanes[i].lane);
        lua_setfield(L, -2, "lane");
        lua_pushinteger(L, t->lanes[i].universe);
        lua_setfield(L, -2, "universe");
        lua_rawseti(L, -2, (lua_Integer)i + 1);
    }
    return 1;
}

/* t:lane_count() -> lanes that its radios and air mode give */
static int lane_count_call(lua_State *L)
{
    lua_pushinteger(L, transmitter_lane_count(read_transmitter(L, 1)));
    return 1;
}

/* t:keep_out() -> array of { from =, to =, who =, note =, extras = } in MHz */
static int keep_out_call(lua_State *L)
{
    const struct transmitter *t = read_transmitter(L, 1);
    value__bands(L, t->keep_out, t->keep_out_count);
    return 1;
}

/* ---- universes and types ---- */

/* u:fixtures() -> array of its fixtures in patch order; in a sequence only those it was granted */
static int universe_fixtures_call(lua_State *L)
{
    struct object o = object__check(L, 1, KIND(UNIVERSE));
    const struct interp *interp = interp_of(L);
    const struct show *show = show_of(L);
    uint32_t count;
    const uint32_t *list = show_universe_fixtures(show, show->universes[o.index].id, &count);
    lua_Integer pushed = 0;
    lua_createtable(L, (int)count, 0);
    for (uint32_t i = 0; i < count; i++) {
        if (interp->granted && !(interp->granted[list[i] / 8] & 1u << list[i] % 8))
            continue;
        object__push_index(L, OBJECT_FIXTURE, list[i]);
        lua_rawseti(L, -2, ++pushed);
    }
    return 1;
}

/* u:carriers() -> array of { transmitter =, lane = }, spares and lanes that do not exist included */
static int carriers_call(lua_State *L)
{
    struct object o = object__check(L, 1, KIND(UNIVERSE));
    const struct show *show = show_of(L);
    uint32_t count;
    const struct carrier *carriers = show_carriers(show, show->universes[o.index].id, &count);
    lua_createtable(L, (int)count, 0);
    for (uint32_t i = 0; i < count; i++) {
        lua_createtable(L, 0, 2);
        object__push_index(L, OBJECT_TRANSMITTER, carriers[i].transmitter);
        lua_setfield(L, -2, "transmitter");
        lua_pushinteger(L, show->transmitters[carriers[i].transmitter].lanes[carriers[i].entry].lane);
        lua_setfield(L, -2, "lane");
        lua_rawseti(L, -2, (lua_Integer)i + 1);
    }
    return 1;
}

/* t:firmware_floor(air) -> text, or nil when there is none */
static int firmware_floor_call(lua_State *L)
{
    struct object o = object__read(L, 1, KIND(TYPE));
    size_t length;
    const char *word = luaL_checklstring(L, 2, &length);
    enum air air = air_from_name(word, length);
    luaL_argcheck(L, air != AIR_NONE, 2, "air mode is \"single\" or \"dual\"");
    value__text(L, object__show(L, o)->types[o.index].firmware_floor[air]);
    return 1;
}

static void push_slots(lua_State *L, const struct show *show, const struct slot *slots, uint32_t count)
{
    lua_createtable(L, (int)count, 0);
    for (uint32_t i = 0; i < count; i++) {
        lua_createtable(L, 0, 2);
        lua_pushfstring(L, "%s%s", show->params[slots[i].param], slots[i].fine ? "+fine" : "");
        lua_setfield(L, -2, "name");
        value__number(L, slots[i].default_percent);
        lua_setfield(L, -2, "default");
        lua_rawseti(L, -2, (lua_Integer)i + 1);
        if (i % CHECK_EVERY == 0)
            host_check(L, interp_of(L)->host);
    }
}

/* y:mode(id) -> the first mode of that id, { id =, name =, note =, cells =, footprint =, head =, slots =, tail =, extras = },
 * the lists of { name =, default = }; or nil */
static int mode_call(lua_State *L)
{
    struct object o = object__read(L, 1, KIND(TYPE));
    const char *id = luaL_checkstring(L, 2);
    const struct show *show = object__show(L, o);
    const struct type *type = &show->types[o.index];
    const struct mode *mode = NULL;
    for (uint32_t i = 0; i < type->mode_count && !mode; i++)
        if (strcmp(type->modes[i].id, id) == 0)
            mode = &type->modes[i];
    if (!mode) {
        lua_pushnil(L);
        return 1;
    }
    lua_createtable(L, 0, 9);
    value__text(L, mode->id);
    lua_setfield(L, -2, "id");
    value__text(L, mode->name);
    lua_setfield(L, -2, "name");
    value__text(L, mode->note);
    lua_setfield(L, -2, "note");
    lua_pushinteger(L, mode->cells);
    lua_setfield(L, -2, "cells");
    lua_pushinteger(L, mode_footprint(mode));
    lua_setfield(L, -2, "footprint");
    push_slots(L, show, mode->head, mode->head_count);
    lua_setfield(L, -2, "head");
    push_slots(L, show, mode->slots, mode->slot_count);
    lua_setfield(L, -2, "slots");
    push_slots(L, show, mode->tail, mode->tail_count);
    lua_setfield(L, -2, "tail");
    value__extras(L, &mode->extras);
    lua_setfield(L, -2, "extras");
    return 1;
}

/* ---- the show, and all but cells ---- */

/* s:quiet() -> array of { from =, to =, who =, note =, extras = } in MHz */
static int quiet_call(lua_State *L)
{
    const struct show *show = object__show(L, object__read(L, 1, KIND(SHOW)));
    value__bands(L, show->quiet, show->quiet_count);
    return 1;
}

/* o:extras() -> table of its keys that begin with x_, each as text in the notation of the file */
static int extras_call(lua_State *L)
{
    value__extras(L, object__extras(L, object__read(L, 1, KIND_ANY & ~KIND(CELL))));
    return 1;
}

/* t:used() -> whether a fixture uses the type */
static int used_call(lua_State *L)
{
    struct object o = object__check(L, 1, KIND(TYPE));
    struct interp *interp = interp_of(L);
    const struct show *show = show_of(L);
    if (!interp->used_types) {
        unsigned char *used = lua_newuserdatauv(L, show->type_count / 8 + 1, 0);
        lua_rawsetp(L, LUA_REGISTRYINDEX, &interp->used_types);
        memset(used, 0, show->type_count / 8 + 1);
        for (uint32_t i = 0; i < show->fixture_count; i++) {
            uint32_t type = show->fixtures[i].type_index;
            if (type != SHOW_UNKNOWN)
                used[type / 8] |= (unsigned char)(1u << type % 8);
        }
        interp->used_types = used;
    }
    lua_pushboolean(L, interp->used_types[o.index / 8] & 1u << o.index % 8);
    return 1;
}

const struct member members__methods[] = {
    { "footprint", KIND(FIXTURE), NULL, fixture_footprint_call },
    { "last", KIND(FIXTURE), NULL, fixture_last_call },
    { "params", KIND(FIXTURE) | KIND(CELL), NULL, params_call },
    { "slots", KIND(FIXTURE), NULL, slots_call },
    { "has", KIND(FIXTURE) | KIND(CELL), NULL, has_call },
    { "cells", KIND(FIXTURE), NULL, cells_call },
    { "cell", KIND(FIXTURE), NULL, cell_call },
    { "type_of", KIND(FIXTURE), NULL, type_of_call },
    { "mode_known", KIND(FIXTURE), NULL, mode_known_call },
    { "lanes", KIND(TRANSMITTER), NULL, lanes_call },
    { "lane_count", KIND(TRANSMITTER), NULL, lane_count_call },
    { "keep_out", KIND(TRANSMITTER), NULL, keep_out_call },
    { "fixtures", KIND(UNIVERSE), NULL, universe_fixtures_call },
    { "carriers", KIND(UNIVERSE), NULL, carriers_call },
    { "firmware_floor", KIND(TYPE), NULL, firmware_floor_call },
    { "used", KIND(TYPE), NULL, used_call },
    { "mode", KIND(TYPE), NULL, mode_call },
    { "quiet", KIND(SHOW), NULL, quiet_call },
    { "extras", KIND_ANY & ~KIND(CELL), NULL, extras_call },
    { NULL, 0, NULL, NULL }
};
