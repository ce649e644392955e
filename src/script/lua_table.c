/* The table library: raw access, lengths from lua_rawlen, looks at the limits in every loop. Lua's own asks metamethods
 * for lengths, so that a table could claim 2^62 entries and keep C busy for ever. */
#include <string.h>

#include "lua_internal.h"

#define MOVE_LIMIT 10000000          /* entries of one table.move */

static lua_Integer length_of(lua_State *L, int arg)
{
    luaL_checktype(L, arg, LUA_TTABLE);
    return (lua_Integer)lua_rawlen(L, arg);
}

static void look(lua_State *L, lua_Integer step)
{
    if (step % CHECK_EVERY == 0)
        host_check(L, interp_of(L)->host);
}

/* Move entries first..last up or down by one place. */
static void shift(lua_State *L, lua_Integer first, lua_Integer last, bool up)
{
    lua_Integer count = last - first + 1;
    for (lua_Integer k = 0; k < count; k++) {
        lua_Integer from = up ? last - k : first + k;
        look(L, k);
        lua_rawgeti(L, 1, from);
        lua_rawseti(L, 1, up ? from + 1 : from - 1);
    }
}

/* table.insert(t, [pos,] value) */
static int insert(lua_State *L)
{
    lua_Integer length = length_of(L, 1), place = length + 1;
    switch (lua_gettop(L)) {
    case 2:
        break;
    case 3:
        place = luaL_checkinteger(L, 2);
        luaL_argcheck(L, place >= 1 && place <= length + 1, 2, "position out of bounds");
        shift(L, place, length, true);
        break;
    default:
        return luaL_error(L, "wrong number of arguments to 'insert'");
    }
    lua_rawseti(L, 1, place);
    return 0;
}

/* table.remove(t, pos?) -> the removed value */
static int take_out(lua_State *L)
{
    lua_Integer length = length_of(L, 1), place = luaL_optinteger(L, 2, length);
    if (lua_gettop(L) > 1)
        luaL_argcheck(L, (place >= 1 && place <= length + 1) || (length == 0 && place == 0), 2, "position out of bounds");
    lua_rawgeti(L, 1, place);
    if (place >= 1 && place <= length) {
        shift(L, place + 1, length, false);
        place = length;
    }
    lua_pushnil(L);
    lua_rawseti(L, 1, place);
    return 1;
}

/* table.concat(t, separator?, i?, j?) */
static int concat(lua_State *L)
{
    lua_Integer length = length_of(L, 1);
    size_t gap;
    const char *separator = luaL_optlstring(L, 2, "", &gap);
    lua_Integer i = luaL_optinteger(L, 3, 1), last = luaL_optinteger(L, 4, length);
    luaL_Buffer buffer;
    luaL_buffinit(L, &buffer);
    for (; i <= last; i++) {
        look(L, i);
        lua_rawgeti(L, 1, i);
        if (!lua_isstring(L, -1))
            return luaL_error(L, "invalid value (at index %I) in table for 'concat'", i);
        luaL_addvalue(&buffer);
        if (i == last)
            break;                   /* i + 1 may not exist */
        luaL_addlstring(&buffer, separator, gap);
    }
    luaL_pushresult(&buffer);
    return 1;
}

/* table.pack(...) */
static int pack(lua_State *L)
{
    int n = lua_gettop(L);
    lua_createtable(L, n, 1);
    lua_insert(L, 1);
    for (int i = n; i >= 1; i--)
        lua_rawseti(L, 1, i);
    lua_pushinteger(L, n);
    lua_setfield(L, 1, "n");
    return 1;
}

/* table.unpack(t, i?, j?) */
static int unpack(lua_State *L)
{
    lua_Integer length = length_of(L, 1);
    lua_Integer i = luaL_optinteger(L, 2, 1), last = luaL_optinteger(L, 3, length);
    if (i > last)
        return 0;
    lua_Unsigned n = (lua_Unsigned)last - (lua_Unsigned)i;
    if (n >= INT32_MAX || !lua_checkstack(L, (int)(n + 1)))
        return luaL_error(L, "too many results to unpack");
    for (; i < last; i++)
        lua_rawgeti(L, 1, i);
    lua_rawgeti(L, 1, last);
    return (int)n + 1;
}

/* table.move(a1, first, last, place, a2?) -> a2 */
static int move(lua_State *L)
{
    lua_Integer first = luaL_checkinteger(L, 2), last = luaL_checkinteger(L, 3), place = luaL_checkinteger(L, 4);
    int to = lua_isnoneornil(L, 5) ? 1 : 5;
    luaL_checktype(L, 1, LUA_TTABLE);
    luaL_checktype(L, to, LUA_TTABLE);
    if (last >= first) {
        luaL_argcheck(L, (lua_Unsigned)last - (lua_Unsigned)first < MOVE_LIMIT, 3, "too many elements to move");
        lua_Integer count = last - first + 1;
        luaL_argcheck(L, place <= LUA_MAXINTEGER - count + 1, 4, "destination wrap around");
        bool down = place > last || place <= first || !lua_rawequal(L, 1, to);
        for (lua_Integer k = 0; k < count; k++) {
            lua_Integer offset = down ? k : count - 1 - k;
            look(L, k);
            lua_rawgeti(L, 1, first + offset);
            lua_rawseti(L, to, place + offset);
        }
    }
    lua_pushvalue(L, to);
    return 1;
}

/* ---- sort: bottom-up merge sort, stable, n log n whatever the comparison says ---- */

/* Whether the value at -1 (later) must go before the one at -2 (earlier). */
static bool later_first(lua_State *L)
{
    if (lua_isnil(L, 2))
        return lua_compare(L, -1, -2, LUA_OPLT);
    lua_pushvalue(L, 2);
    lua_pushvalue(L, -2);
    lua_pushvalue(L, -4);
    lua_call(L, 2, 1);
    bool first = lua_toboolean(L, -1);
    lua_pop(L, 1);
    return first;
}

/* Merge from[a..b) and from[b..c) into to[a..c). */
static void merge(lua_State *L, int from, int to, lua_Integer a, lua_Integer b, lua_Integer c)
{
    lua_Integer left = a, right = b;
    for (lua_Integer out = a; out < c; out++) {
        look(L, out);
        bool take_right = left >= b;
        if (!take_right && right < c) {
            lua_rawgeti(L, from, left);
            lua_rawgeti(L, from, right);
            take_right = later_first(L);
            lua_pop(L, 2);
        }
        lua_rawgeti(L, from, take_right ? right++ : left++);
        lua_rawseti(L, to, out);
    }
}

/* table.sort(t, before?) */
static int sort(lua_State *L)
{
    lua_Integer n = length_of(L, 1);
    luaL_argcheck(L, n < INT32_MAX, 1, "array too big");
    if (!lua_isnoneornil(L, 2))
        luaL_checktype(L, 2, LUA_TFUNCTION);
    lua_settop(L, 2);
    lua_createtable(L, (int)n, 0);
    lua_createtable(L, (int)n, 0);
    for (lua_Integer i = 1; i <= n; i++) {                   /* a comparison that changes t cannot disturb what is merged */
        look(L, i);
        lua_rawgeti(L, 1, i);
        lua_rawseti(L, 3, i);
    }
    int from = 3, to = 4;
    for (lua_Integer width = 1; width < n; width *= 2) {
        for (lua_Integer a = 1; a <= n; a += 2 * width) {
            lua_Integer b = a + width <= n ? a + width : n + 1, c = a + 2 * width <= n ? a + 2 * width : n + 1;
            merge(L, from, to, a, b, c);
        }
        from = to;
        to = 7 - from;               /* 3 and 4 change places */
    }
    for (lua_Integer i = 1; i <= n; i++) {
        look(L, i);
        lua_rawgeti(L, from, i);
        lua_rawseti(L, 1, i);
    }
    return 0;
}

void table__open(lua_State *L)
{
    static const luaL_Reg functions[] = {
        { "insert", insert }, { "remove", take_out }, { "concat", concat }, { "pack", pack }, { "unpack", unpack },
        { "move", move }, { "sort", sort }, { NULL, NULL }
    };
    lua_createtable(L, 0, 8);
    sandbox__functions(L, functions);
}
