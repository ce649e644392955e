/* Values and texts between the model and Lua. */
#include <math.h>
#include <stdio.h>
#include <string.h>

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

/* Length of the character at text, 0 when it is none (octets that are no UTF-8). */
static size_t character(const char *text, size_t length)
{
    unsigned char first = (unsigned char)text[0];
    size_t size = first < 0x80 ? 1 : first >= 0xf0 ? 4 : first >= 0xe0 ? 3 : 2;
    return size <= length && utf8_check(text, size) == size ? size : 0;
}

/* Characters that could steer a reader's terminal or turn its text round: C0, DEL, C1, line and paragraph separators,
 * directional marks, embeddings, overrides and isolates. */
static bool steers(const char *text, size_t size)
{
    unsigned char a = (unsigned char)text[0];
    if (size == 1)
        return a < 0x20 || a == 0x7f;
    unsigned char b = (unsigned char)text[1];
    if (size == 2)
        return a == 0xc2 && b < 0xa0;
    unsigned char c = (unsigned char)text[2];
    if (size == 3 && a == 0xe2)
        return (b == 0x80 && ((c >= 0xa8 && c <= 0xae) || c == 0x8e || c == 0x8f)) || (b == 0x81 && c >= 0xa6 && c <= 0xa9);
    return false;
}

size_t text__clean(char *out, size_t size, const char *text, size_t length)
{
    size_t at = 0;
    for (size_t i = 0; i < length;) {
        size_t octets = character(text + i, length - i);
        size_t width = octets ? octets : 1;
        bool keep = octets && !steers(text + i, octets);
        if (at + (keep ? width : 1) >= size)
            break;
        if (keep)
            memcpy(out + at, text + i, width);
        else
            out[at] = text[i] == '\n' || text[i] == '\t' || text[i] == '\r' ? ' ' : '?';
        at += keep ? width : 1;
        i += width;
    }
    out[at] = '\0';
    return at;
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
