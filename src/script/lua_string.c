/* The string library: find, match, gmatch and gsub from lua_pattern.c, rep and format of our own, the rest of Lua's with
 * a bound on the length of texts, because no hook fires inside a C call. */
#include <stdio.h>
#include <string.h>

#include "lua_internal.h"

#define BOUNDED_OCTETS (16u << 20)   /* of one text given to a function of Lua's own */

/* Calls Lua's function, upvalue 1, when no text is longer than the bound. */
static int bounded(lua_State *L)
{
    for (int i = lua_gettop(L) < 8 ? lua_gettop(L) : 8; i > 0; i--)
        luaL_argcheck(L, lua_type(L, i) != LUA_TSTRING || lua_rawlen(L, i) <= BOUNDED_OCTETS, i, "text is longer than 16 MiB");
    return lua_tocfunction(L, lua_upvalueindex(1))(L);
}

/* Replace some functions of the library at the top by bounded ones. */
static void bound(lua_State *L, const char *const *names)
{
    for (; *names; names++) {
        lua_getfield(L, -1, *names);
        lua_pushcclosure(L, bounded, 1);
        lua_setfield(L, -2, *names);
    }
}

/* string.rep(text, n, separator?): doubles what is there, so that its work is that of its result */
static int rep(lua_State *L)
{
    size_t length, gap;
    const char *text = luaL_checklstring(L, 1, &length);
    lua_Integer n = luaL_checkinteger(L, 2);
    const char *separator = luaL_optlstring(L, 3, "", &gap);
    const size_t limit = interp_of(L)->host->memory_limit;
    if (n <= 0 || length + gap == 0) {
        lua_pushliteral(L, "");
        return 1;
    }
    if ((lua_Unsigned)n > limit / (length + gap) + 1)
        return luaL_error(L, "resulting string too large");
    size_t total = (size_t)n * (length + gap) - gap, done = length + gap;
    luaL_Buffer buffer;
    char *out = luaL_buffinitsize(L, &buffer, total + gap);
    memcpy(out, text, length);
    memcpy(out + length, separator, gap);
    while (done < total) {
        size_t more = done < total + gap - done ? done : total + gap - done;
        memcpy(out + done, out, more);
        done += more;
    }
    luaL_pushresultsize(&buffer, total);
    return 1;
}

/* Conversion character of the directive at text, just after its %. */
static const char *conversion(const char *text, const char *end)
{
    while (text < end && *text && strchr("-+ #0123456789.", *text))
        text++;
    return text;
}

/* string.format: as Lua's, but %s prints no addresses and %p does not exist, so that two runs print the same */
static int format(lua_State *L)
{
    size_t length;
    const char *text = luaL_checklstring(L, 1, &length), *end = text + length;
    int arg = 1;
    for (const char *c = memchr(text, '%', length); c; c = memchr(c, '%', (size_t)(end - c))) {
        if (++c < end && *c == '%') {
            c++;
            continue;
        }
        c = conversion(c, end);
        arg++;
        if (c < end && *c == 'p')
            return luaL_error(L, "invalid conversion '%%p' to 'format': addresses are not shown to scripts");
        if (c < end && *c == 's' && arg <= lua_gettop(L)) {
            value__describe(L, arg, NULL);
            lua_replace(L, arg);
        }
    }
    return bounded(L);
}

void string__open(lua_State *L)
{
    static const char *const kept[] = { "byte", "lower", "upper", "reverse", "sub", "pack", "unpack", NULL };
    static const luaL_Reg functions[] = {
        { "find", pattern__find }, { "match", pattern__match }, { "gmatch", pattern__gmatch }, { "gsub", pattern__gsub },
        { "rep", rep }, { NULL, NULL }
    };
    bound(L, kept);
    lua_getfield(L, -1, "format");
    lua_pushcclosure(L, format, 1);
    lua_setfield(L, -2, "format");
    sandbox__functions(L, functions);
    lua_pushnil(L);
    lua_setfield(L, -2, "dump");
    lua_pushliteral(L, "");          /* the metatable that all texts share: nobody gets at it */
    lua_getmetatable(L, -1);
    lua_pushboolean(L, false);
    lua_setfield(L, -2, "__metatable");
    lua_pop(L, 2);
}

void utf8__open(lua_State *L)
{
    static const char *const kept[] = { "codepoint", "len", "offset", "codes", NULL };
    luaopen_utf8(L);
    bound(L, kept);
}
