/* Values and texts between the model and Lua. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "link.h"
#include "lua_internal.h"

void value__text(lua_State *L, const char *text)
{
    if (text)
        lua_pushstring(L, text);
    else
        lua_pushnil(L);
}

void value__integer(lua_State *L, int64_t number)
{
    if (number == SHOW_NONE)
        lua_pushnil(L);
    else
        lua_pushinteger(L, number);
}

void value__number(lua_State *L, double number)
{
    if (isnan(number))
        lua_pushnil(L);
    else if (fabs(number) < 9007199254740992.0 && floor(number) == number)      /* 2^53: every integer below is exact */
        lua_pushinteger(L, (lua_Integer)number);
    else
        lua_pushnumber(L, number);
}

void value__extras(lua_State *L, const struct extras *extras)
{
    lua_createtable(L, 0, (int)extras->count);
    for (uint32_t i = 0; i < extras->count; i++) {
        lua_pushstring(L, extras->items[i].value);
        lua_setfield(L, -2, extras->items[i].key);
    }
}

void value__bands(lua_State *L, const struct band *bands, uint32_t count)
{
    lua_createtable(L, (int)count, 0);
    for (uint32_t i = 0; i < count; i++) {
        lua_createtable(L, 0, 5);
        value__number(L, bands[i].from_mhz);
        lua_setfield(L, -2, "from");
        value__number(L, bands[i].to_mhz);
        lua_setfield(L, -2, "to");
        value__text(L, bands[i].who);
        lua_setfield(L, -2, "who");
        value__text(L, bands[i].note);
        lua_setfield(L, -2, "note");
        value__extras(L, &bands[i].extras);
        lua_setfield(L, -2, "extras");
        lua_rawseti(L, -2, (lua_Integer)i + 1);
    }
}

const char *value__describe(lua_State *L, int index, size_t *length)
{
    index = lua_absindex(L, index);
    int type = lua_type(L, index);
    bool reference = type == LUA_TTABLE || type == LUA_TFUNCTION || type == LUA_TTHREAD || type == LUA_TUSERDATA;
    if (!reference)
        return luaL_tolstring(L, index, length);
    if (luaL_getmetafield(L, index, "__tostring") != LUA_TNIL) {
        lua_pop(L, 1);
        return luaL_tolstring(L, index, length);
    }
    if (luaL_getmetafield(L, index, "__name") == LUA_TSTRING)
        return lua_tolstring(L, -1, length);
    lua_pushstring(L, lua_typename(L, type));
    return lua_tolstring(L, -1, length);
}

size_t text__clean(char *out, size_t size, const char *text, size_t length)
{
    return link_text_spaced(out, size, text, length, "\t\n\r");
}

size_t text__check(lua_State *L, int arg, char *buffer, size_t size)
{
    size_t length;
    luaL_argexpected(L, lua_type(L, arg) == LUA_TSTRING || lua_type(L, arg) == LUA_TNUMBER, arg, "text");
    const char *text = lua_tolstring(L, arg, &length);
    luaL_argcheck(L, length > 0, arg, "text is empty");
    return text__clean(buffer, size, text, length);
}

double number__check(lua_State *L, int arg, double least, double most, const char *what)
{
    double number = luaL_checknumber(L, arg);
    if (!(number >= least && number <= most)) {              /* NaN fails too */
        char text[160];
        snprintf(text, sizeof text, "%s %.10g is outside %.10g..%.10g", what, isnan(number) ? fabs(number) : number, least, most);
        luaL_argerror(L, arg, text);
    }
    return number;
}
