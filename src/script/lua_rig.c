/* The rig table: what scripts read of the show. */
#include <string.h>

#include "lua_internal.h"

/* ---- plain iterators: upvalues are the kind and the next index ---- */

static int plain_next(lua_State *L)
{
    enum object_kind kind = (enum object_kind)lua_tointeger(L, lua_upvalueindex(1));
    uint32_t at = (uint32_t)lua_tointeger(L, lua_upvalueindex(2));
    const struct show *show = show_of(L);
    if (at >= (kind == OBJECT_SITE ? show->site_count : show->type_count))
        return 0;
    lua_pushinteger(L, (lua_Integer)at + 1);
    lua_replace(L, lua_upvalueindex(2));
    object__push_index(L, kind, at);
    return 1;
}

static int plain_walk(lua_State *L, enum object_kind kind)
{
    lua_pushinteger(L, kind);
    lua_pushinteger(L, 0);
    lua_pushcclosure(L, plain_next, 2);
    return 1;
}

/* rig.sites() -> iterator of sites */
static int sites(lua_State *L)
{
    return plain_walk(L, OBJECT_SITE);
}

/* rig.types() -> iterator of types */
static int types(lua_State *L)
{
    return plain_walk(L, OBJECT_TYPE);
}

static int quiet_next(lua_State *L)
{
    uint32_t at = (uint32_t)lua_tointeger(L, lua_upvalueindex(1));
    const struct show *show = show_of(L);
    if (at >= show->quiet_count)
        return 0;
    lua_pushinteger(L, (lua_Integer)at + 1);
    lua_replace(L, lua_upvalueindex(1));
    lua_createtable(L, 0, 4);
    value__number(L, show->quiet[at].from_mhz);
    lua_setfield(L, -2, "from");
    value__number(L, show->quiet[at].to_mhz);
    lua_setfield(L, -2, "to");
    value__text(L, show->quiet[at].who);
    lua_setfield(L, -2, "who");
    value__text(L, show->quiet[at].note);
    lua_setfield(L, -2, "note");
    return 1;
}

/* rig.quiet() -> iterator of { from =, to =, who =, note = } in MHz */
static int quiet(lua_State *L)
{
    lua_pushinteger(L, 0);
    lua_pushcclosure(L, quiet_next, 1);
    return 1;
}

/* rig.show() -> the show */
static int show_object(lua_State *L)
{
    object__push_index(L, OBJECT_SHOW, 0);
    return 1;
}

int rig__unknown_kind(lua_State *L, const char *kind)
{
    static const enum object_kind kinds[] = { OBJECT_FIXTURE, OBJECT_TRANSMITTER, OBJECT_UNIVERSE, OBJECT_SITE, OBJECT_TYPE };
    char typed[80];
    struct near near;
    text__clean(typed, sizeof typed, kind, strlen(kind));
    near__begin(&near, typed);
    for (unsigned k = 0; k < sizeof kinds / sizeof *kinds; k++)
        near__try(&near, object__kind_name(kinds[k]));
    return luaL_argerror(L, 1, lua_pushfstring(L, "no kind '%s'%s", typed, near__text(&near)));
}

uint32_t rig__find(lua_State *L, const struct show *show, enum object_kind kind)
{
    uint32_t index = SHOW_UNKNOWN;
    bool numbered = kind == OBJECT_FIXTURE || kind == OBJECT_UNIVERSE;
    luaL_argexpected(L, lua_type(L, 2) == (numbered ? LUA_TNUMBER : LUA_TSTRING), 2, numbered ? "number" : "text");
    int64_t number = numbered ? luaL_checkinteger(L, 2) : 0;
    const char *id = numbered ? NULL : lua_tostring(L, 2);
    switch (kind) {
    case OBJECT_FIXTURE:     index = show_find_fixture(show, number); break;
    case OBJECT_UNIVERSE:    index = show_find_universe(show, number); break;
    case OBJECT_SITE:        index = show_find_site(show, id); break;
    case OBJECT_TYPE:        index = show_find_type(show, id); break;
    default:                 index = show_find_transmitter(show, id); break;
    }
    return index;
}

/* rig.get(kind, id) -> the first object of that id, or nil */
static int get(lua_State *L)
{
    const char *name = luaL_checkstring(L, 1);
    enum object_kind kind = object__kind_from_name(name);
    if (kind == OBJECT_CELL || kind == OBJECT_SHOW || kind == OBJECT_KINDS)
        return rig__unknown_kind(L, name);
    object__push_index(L, kind, rig__find(L, show_of(L), kind));
    return 1;
}

/* rig.text_length(text) -> characters (code points) */
static int text_length(lua_State *L)
{
    size_t length, good;
    luaL_argexpected(L, lua_type(L, 1) == LUA_TSTRING, 1, "text");
    const char *text = lua_tolstring(L, 1, &length);
    good = utf8_check(text, length);
    luaL_argcheck(L, good == length, 1, "text is not UTF-8");
    lua_pushinteger(L, (lua_Integer)utf8_count(text, length));
    return 1;
}

void rig__open(lua_State *L)
{
    static const luaL_Reg functions[] = {
        { "fixtures", rig__fixtures }, { "transmitters", rig__transmitters }, { "universes", rig__universes },
        { "sites", sites }, { "types", types }, { "quiet", quiet }, { "show", show_object }, { "get", get },
        { "text_length", text_length }, { NULL, NULL }
    };
    lua_createtable(L, 0, 32);
    sandbox__functions(L, functions);
    sandbox__functions(L, rig__radio);
    sandbox__functions(L, rig__before);
    plan__open(L);
    wire__open(L);
    sandbox__strict(L, "rig");
}
