/* The kept show before this one (SHOW~), for rules that compare the two, and walks over either in the order of its file. */
#include <string.h>

#include "lua_internal.h"

static const struct show *before_of(lua_State *L)
{
    return interp_of(L)->host->before;
}

static enum object_kind check_kind(lua_State *L)
{
    const char *name = luaL_checkstring(L, 1);
    enum object_kind kind = object__kind_from_name(name);
    if (kind == OBJECT_CELL || kind == OBJECT_KINDS)
        rig__unknown_kind(L, name);
    return kind;
}

static int push_before(lua_State *L, enum object_kind kind, uint32_t index)
{
    if (index == SHOW_UNKNOWN)
        lua_pushnil(L);
    else
        object__push(L, (struct object){ .kind = kind, .index = index, .before = true });
    return 1;
}

/* rig.has_before() -> true; or false and why the kept show cannot be read, nil when none is kept */
static int has_before(lua_State *L)
{
    const struct host *host = interp_of(L)->host;
    char clean[FINDING_OCTETS + 1];
    lua_pushboolean(L, host->before != NULL);
    if (host->before || !host->before_trouble)
        return 1;
    text__clean(clean, sizeof clean, host->before_trouble, strlen(host->before_trouble));
    lua_pushstring(L, clean);
    return 2;
}

/* rig.before(kind, id) -> the first object of that id in the kept show, or nil; rig.before("show") -> that show, or nil */
static int before(lua_State *L)
{
    const struct show *show = before_of(L);
    enum object_kind kind = check_kind(L);
    if (kind == OBJECT_SHOW)
        return push_before(L, kind, show ? 0 : SHOW_UNKNOWN);
    uint32_t index = rig__find(L, show ? show : show_of(L), kind);       /* a wrong id is an error without a kept show, too */
    return push_before(L, kind, show ? index : SHOW_UNKNOWN);
}

/* ---- all of a kind: upvalues are the kind, the next index and whether it is the kept show ---- */

static int next_of_all(lua_State *L)
{
    struct object o = { .kind = (enum object_kind)lua_tointeger(L, lua_upvalueindex(1)),
                        .before = lua_toboolean(L, lua_upvalueindex(3)) };
    lua_Integer at = lua_tointeger(L, lua_upvalueindex(2));
    const struct show *show = object__show(L, o);
    if (!show || at >= object__count(show, o.kind))
        return 0;
    lua_pushinteger(L, at + 1);
    lua_replace(L, lua_upvalueindex(2));
    o.index = (uint32_t)at;
    object__push(L, o);
    return 1;
}

static int walk_all(lua_State *L, bool of_before)
{
    lua_pushinteger(L, check_kind(L));
    lua_pushinteger(L, 0);
    lua_pushboolean(L, of_before);
    lua_pushcclosure(L, next_of_all, 3);
    return 1;
}

/* rig.each(kind) -> iterator of all objects of that kind, in the order of the file */
static int each(lua_State *L)
{
    return walk_all(L, false);
}

/* rig.each_before(kind) -> the same of the kept show; of none when nothing is kept */
static int each_before(lua_State *L)
{
    return walk_all(L, true);
}

const luaL_Reg rig__before[] = {
    { "has_before", has_before }, { "before", before }, { "each", each }, { "each_before", each_before }, { NULL, NULL }
};
