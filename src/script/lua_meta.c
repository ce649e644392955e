/* setmetatable and getmetatable by copies: a metatable never holds __gc, __mode or, below Lua 5.4.5, __concat, and
 * nobody can add them later. Finalizers and weak tables run where no hook fires; __concat of Lua 5.4.4 can read freed
 * memory. */
#include <string.h>

#include "lua_internal.h"

static bool forbidden(lua_State *L, int index)
{
    if (lua_type(L, index) != LUA_TSTRING)
        return false;
    const char *key = lua_tostring(L, index);
    if (strcmp(key, "__gc") == 0 || strcmp(key, "__mode") == 0)
        return true;
#if LUA_VERSION_RELEASE_NUM < 50405
    return strcmp(key, "__concat") == 0;
#else
    return false;
#endif
}

/* Push a copy of the table at index. */
static void copy(lua_State *L, int index)
{
    struct host *host = interp_of(L)->host;
    uint32_t count = 0;
    lua_newtable(L);
    for (lua_pushnil(L); lua_next(L, index);) {
        if (++count % CHECK_EVERY == 0)
            host_check(L, host);
        if (forbidden(L, -2)) {
            lua_pop(L, 1);
            continue;
        }
        lua_pushvalue(L, -2);
        lua_insert(L, -2);           /* copy, key, key, value */
        lua_rawset(L, -4);
    }
}

/* setmetatable(table, metatable | nil) -> table */
int meta__set(lua_State *L)
{
    int type = lua_type(L, 2);
    luaL_checktype(L, 1, LUA_TTABLE);
    luaL_argexpected(L, type == LUA_TNIL || type == LUA_TTABLE, 2, "nil or table");
    if (luaL_getmetafield(L, 1, "__metatable") != LUA_TNIL)
        return luaL_error(L, "cannot change a protected metatable");
    lua_settop(L, 2);
    if (type == LUA_TTABLE)
        copy(L, 2);
    lua_setmetatable(L, 1);
    lua_settop(L, 1);
    return 1;
}

/* getmetatable(value) -> a copy of its metatable, or what its __metatable holds, or nil */
int meta__get(lua_State *L)
{
    luaL_checkany(L, 1);
    if (!lua_getmetatable(L, 1)) {
        lua_pushnil(L);
        return 1;
    }
    if (luaL_getmetafield(L, 1, "__metatable") != LUA_TNIL)
        return 1;
    copy(L, lua_gettop(L));
    return 1;
}
