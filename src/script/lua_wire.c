/* rig.wire: what was heard on the network before the scripts began. Plain tables, so a script changes nothing by changing one. */
#include <string.h>

#include "lua_internal.h"
#include "rigcall/listen.h"

static const struct listening *wire_of(lua_State *L)
{
    return interp_of(L)->host->wire;
}

static void set_integer(lua_State *L, const char *key, uint64_t value)
{
    lua_pushinteger(L, (lua_Integer)value);
    lua_setfield(L, -2, key);
}

static void set_number(lua_State *L, const char *key, double value)
{
    lua_pushnumber(L, value);
    lua_setfield(L, -2, key);
}

static void set_boolean(lua_State *L, const char *key, bool value)
{
    lua_pushboolean(L, value);
    lua_setfield(L, -2, key);
}

static void set_text(lua_State *L, const char *key, const char *text)
{
    lua_pushstring(L, text);
    lua_setfield(L, -2, key);
}

static void push_source(lua_State *L, const struct sacn_heard_source *source)
{
    char address[SACN_ADDRESS_TEXT], cid[SACN_CID_TEXT];
    sacn_address_text(&source->from, address);
    lua_createtable(L, 0, 23);
    set_text(L, "name", source->name);
    sacn_cid_text(source->cid, cid);
    set_text(L, "cid", cid);
    set_text(L, "address", address);
    set_text(L, "state", sacn_source_state_name(source->state));
    set_boolean(L, "wins", source->wins);
    set_boolean(L, "preview", source->preview);
    set_integer(L, "priority", source->priority);
    set_integer(L, "slots", source->slot_count);
    set_integer(L, "sync_address", source->sync_address);
    set_integer(L, "packets", source->packets);
    set_integer(L, "missing", source->missing);
    set_integer(L, "late", source->late);
    set_integer(L, "repeated", source->repeated);
    set_integer(L, "restarts", source->restarts);
    set_integer(L, "losses", source->losses);
    set_integer(L, "other_start_codes", source->other_start_codes);
    set_integer(L, "name_changes", source->name_changes);
    set_integer(L, "address_changes", source->address_changes);
    set_number(L, "rate_hz", source->rate_hz);
    set_number(L, "rate_most_hz", wire_rate_most(source->slot_count));
    set_number(L, "jitter_ms", source->jitter_ms);
    set_number(L, "gap_s", source->gap_ms / 1e3);
    set_number(L, "silent_s", (double)(wire_of(L)->now_ns - source->last_ns) / 1e9);
}

/* Names of the sources that announce a universe. */
static void push_announced(lua_State *L, uint16_t universe)
{
    const struct sacn_announcer *announcers;
    size_t count = sacn_table_announcers(wire_of(L)->table, &announcers);
    lua_Integer at = 0;
    lua_newtable(L);
    for (size_t i = 0; i < count; i++)
        if (sacn_table_announces(wire_of(L)->table, i, universe)) {
            lua_pushstring(L, announcers[i].name);
            lua_rawseti(L, -2, ++at);
        }
}

static void push_universe(lua_State *L, uint16_t universe)
{
    struct sacn_heard heard;
    if (!sacn_table_universe(wire_of(L)->table, universe, &heard))
        memset(&heard, 0, sizeof heard);         /* never heard of: no sources */
    lua_createtable(L, 0, 8);
    set_integer(L, "wire", universe);
    set_integer(L, "winners", heard.winners);
    set_integer(L, "turned_away", heard.turned_away);
    set_text(L, "sync", sacn_sync_state_name(heard.sync));
    set_boolean(L, "held", heard.held);
    if (heard.winners)
        set_integer(L, "priority", heard.priority);
    lua_createtable(L, (int)heard.source_count, 0);
    for (uint32_t i = 0; i < heard.source_count; i++) {
        push_source(L, heard.sources[i]);
        lua_rawseti(L, -2, (lua_Integer)i + 1);
    }
    lua_setfield(L, -2, "sources");
    push_announced(L, universe);
    lua_setfield(L, -2, "announced");
}

/* A universe of the show, or a wire number. */
static uint16_t check_universe(lua_State *L, int arg)
{
    struct object object;
    int64_t wire = 0;
    if (object__at(L, arg, &object) && object.kind == OBJECT_UNIVERSE)
        wire = universe_wire(&show_of(L)->universes[object.index]);
    else if (lua_type(L, arg) == LUA_TNUMBER)
        wire = luaL_checkinteger(L, arg);
    else
        luaL_argerror(L, arg, lua_pushfstring(L, "a universe or a wire number expected, got %s", luaL_typename(L, arg)));
    luaL_argcheck(L, wire >= SACN_FIRST_UNIVERSE && wire <= SACN_LAST_UNIVERSE, arg, "wire numbers are 1 to 63999");
    return (uint16_t)wire;
}

/* rig.wire.universe(u) -> table: what was heard of a universe; without sources when nothing was */
static int universe(lua_State *L)
{
    push_universe(L, check_universe(L, 1));
    return 1;
}

/* rig.wire.level(u, slot) -> per cent as receivers would put out now, or nil when nobody sends the universe */
static int level(lua_State *L)
{
    struct sacn_heard heard;
    uint16_t number = check_universe(L, 1);
    lua_Integer slot = luaL_checkinteger(L, 2);
    luaL_argcheck(L, slot >= 1 && slot <= SACN_SLOTS, 2, "slots are 1 to 512");
    if (!sacn_table_universe(wire_of(L)->table, number, &heard) || heard.winners == 0)
        lua_pushnil(L);
    else
        lua_pushnumber(L, heard.levels[slot - 1] * 100 / 255.0);
    return 1;
}

static int next_universe(lua_State *L)
{
    const uint16_t *universes;
    size_t count = sacn_table_universes(wire_of(L)->table, &universes);
    lua_Integer at = lua_tointeger(L, lua_upvalueindex(1));
    if (at >= (lua_Integer)count)
        return 0;
    lua_pushinteger(L, at + 1);
    lua_replace(L, lua_upvalueindex(1));
    push_universe(L, universes[at]);
    return 1;
}

/* rig.wire.universes() -> iterator of all that were heard, by wire number */
static int universes(lua_State *L)
{
    lua_pushinteger(L, 0);
    lua_pushcclosure(L, next_universe, 1);
    return 1;
}

void wire__open(lua_State *L)
{
    static const luaL_Reg functions[] = { { "universe", universe }, { "universes", universes }, { "level", level }, { NULL, NULL } };
    const struct listening *wire = wire_of(L);
    if (wire) {
        lua_createtable(L, 0, 8);
        sandbox__functions(L, functions);
        set_number(L, "seconds", wire->seconds);
        set_integer(L, "dropped", wire->receiver.dropped);
        sandbox__strict(L, "rig.wire");
    } else {
        lua_pushboolean(L, false);
    }
    lua_setfield(L, -2, "wire");
}
