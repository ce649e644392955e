/* string.find, match, gmatch and gsub over the counted matching of lua_match.c; what they return follows Lua 5.4's
 * lstrlib.c (see there). Plain searches use memmem(), which is linear. */
#include <ctype.h>
#include <string.h>

#include "lua_match.h"

/* ---- captures ---- */

/* Push capture l, or the whole match when the pattern has none. */
static void push_capture(struct matcher *m, int l, const char *s, const char *end)
{
    if (l >= m->level) {
        if (l != 0)
            luaL_error(m->L, "invalid capture index %%%d", l + 1);
        lua_pushlstring(m->L, s, (size_t)(end - s));
    } else if (m->captures[l].length == MATCH_POSITION) {
        lua_pushinteger(m->L, m->captures[l].start - m->source + 1);
    } else if (m->captures[l].length == MATCH_OPEN) {
        luaL_error(m->L, "unfinished capture");
    } else {
        lua_pushlstring(m->L, m->captures[l].start, (size_t)m->captures[l].length);
    }
}

static int push_captures(struct matcher *m, const char *s, const char *end)
{
    int count_pushed = m->level == 0 && s ? 1 : m->level;
    luaL_checkstack(m->L, count_pushed, "too many captures");
    for (int i = 0; i < count_pushed; i++)
        push_capture(m, i, s, end);
    return count_pushed;
}

/* Start of a search, from 0: negative positions count from the end. */
static size_t start_at(lua_State *L, int arg, size_t length)
{
    lua_Integer from = luaL_optinteger(L, arg, 1);
    if (from > 0)
        return (lua_Unsigned)from - 1 > length ? length + 1 : (size_t)from - 1;
    if (from == 0 || (lua_Unsigned)-(lua_Unsigned)from > length)
        return 0;
    return length - (size_t)-(lua_Unsigned)from;
}

/* ---- find, match ---- */

static bool has_specials(const char *pattern, size_t length)
{
    for (size_t i = 0; i < length; i++)
        if (pattern[i] && strchr("^$*+?.([%-", pattern[i]))
            return true;
    return false;
}

static int search(lua_State *L, bool find)
{
    size_t length, pattern_length;
    const char *source = luaL_checklstring(L, 1, &length), *p = luaL_checklstring(L, 2, &pattern_length);
    size_t start = start_at(L, 3, length);
    struct matcher m;
    if (start > length) {
        lua_pushnil(L);
        return 1;
    }
    if (find && (lua_toboolean(L, 4) || !has_specials(p, pattern_length))) {
        const char *found = pattern_length ? memmem(source + start, length - start, p, pattern_length) : source + start;
        if (!found) {
            lua_pushnil(L);
            return 1;
        }
        lua_pushinteger(L, found - source + 1);
        lua_pushinteger(L, found - source + (lua_Integer)pattern_length);
        return 2;
    }
    bool anchor = pattern_length > 0 && *p == '^';
    match__prepare(&m, L, source, length, p, pattern_length);
    p += anchor;
    for (const char *s = source + start; s <= m.source_end; s++) {
        const char *end = match__at(&m, s, p);
        if (end && find) {
            lua_pushinteger(L, s - source + 1);
            lua_pushinteger(L, end - source);
            return push_captures(&m, NULL, NULL) + 2;
        }
        if (end)
            return push_captures(&m, s, end);
        if (anchor)
            break;
    }
    lua_pushnil(L);
    return 1;
}

int pattern__find(lua_State *L)
{
    return search(L, true);
}

int pattern__match(lua_State *L)
{
    return search(L, false);
}

/* ---- gmatch ---- */

struct round { size_t at, last; };   /* offsets; last is the end of the match before, or SIZE_MAX */

/* Upvalues: source, pattern, struct round. */
static int gmatch_next(lua_State *L)
{
    size_t length, pattern_length;
    const char *source = lua_tolstring(L, lua_upvalueindex(1), &length);
    const char *p = lua_tolstring(L, lua_upvalueindex(2), &pattern_length);
    struct round *round = lua_touserdata(L, lua_upvalueindex(3));
    struct matcher m;
    match__prepare(&m, L, source, length, p, pattern_length);
    for (size_t at = round->at; at <= length; at++) {
        const char *end = match__at(&m, source + at, p);
        if (end && (size_t)(end - source) != round->last) {
            round->at = round->last = (size_t)(end - source);
            return push_captures(&m, source + at, end);
        }
    }
    round->at = length + 1;
    return 0;
}

int pattern__gmatch(lua_State *L)
{
    size_t length;
    luaL_checklstring(L, 1, &length);
    luaL_checkstring(L, 2);
    size_t start = start_at(L, 3, length);
    lua_settop(L, 2);
    struct round *round = lua_newuserdatauv(L, sizeof *round, 0);
    round->at = start;
    round->last = SIZE_MAX;
    lua_pushcclosure(L, gmatch_next, 3);
    return 1;
}

/* ---- gsub ---- */

static void add_template(struct matcher *m, luaL_Buffer *buffer, const char *s, const char *end)
{
    size_t length;
    const char *text = lua_tolstring(m->L, 3, &length), *stop = text + length;
    for (const char *escape; (escape = memchr(text, MATCH_ESCAPE, (size_t)(stop - text))); text = escape + 2) {
        luaL_addlstring(buffer, text, (size_t)(escape - text));
        char next = escape + 1 < stop ? escape[1] : '\0';
        match__count(m, 1);
        if (next == MATCH_ESCAPE) {
            luaL_addchar(buffer, MATCH_ESCAPE);
        } else if (next == '0') {
            luaL_addlstring(buffer, s, (size_t)(end - s));
        } else if (isdigit((unsigned char)next)) {
            push_capture(m, next - '1', s, end);
            luaL_tolstring(m->L, -1, NULL);
            lua_remove(m->L, -2);
            luaL_addvalue(buffer);
        } else {
            luaL_error(m->L, "invalid use of '%%' in replacement string");
        }
    }
    luaL_addlstring(buffer, text, (size_t)(stop - text));
}

/* Add the replacement of one match. @return whether it differs from the match */
static bool add_replacement(struct matcher *m, luaL_Buffer *buffer, const char *s, const char *end, int type)
{
    lua_State *L = m->L;
    if (type == LUA_TFUNCTION) {
        lua_pushvalue(L, 3);
        lua_call(L, push_captures(m, s, end), 1);
    } else if (type == LUA_TTABLE) {
        push_capture(m, 0, s, end);
        lua_gettable(L, 3);
    } else {
        add_template(m, buffer, s, end);
        return true;
    }
    if (!lua_toboolean(L, -1)) {
        lua_pop(L, 1);
        luaL_addlstring(buffer, s, (size_t)(end - s));
        return false;
    }
    if (!lua_isstring(L, -1))
        luaL_error(L, "invalid replacement value (a %s)", luaL_typename(L, -1));
    luaL_addvalue(buffer);
    return true;
}

int pattern__gsub(lua_State *L)
{
    size_t length, pattern_length;
    const char *s = luaL_checklstring(L, 1, &length), *p = luaL_checklstring(L, 2, &pattern_length), *last = NULL;
    int type = lua_type(L, 3);
    lua_Integer most = luaL_optinteger(L, 4, (lua_Integer)length + 1), done = 0;
    bool anchor = pattern_length > 0 && *p == '^', changed = false;
    struct matcher m;
    luaL_Buffer buffer;
    luaL_argexpected(L, type == LUA_TNUMBER || type == LUA_TSTRING || type == LUA_TFUNCTION || type == LUA_TTABLE, 3,
                     "string/function/table");
    match__prepare(&m, L, s, length, p, pattern_length);
    p += anchor;
    luaL_buffinit(L, &buffer);
    while (done < most) {
        const char *end = match__at(&m, s, p);
        if (end && end != last) {
            done++;
            changed = add_replacement(&m, &buffer, s, end, type) || changed;
            s = last = end;
        } else if (s < m.source_end) {
            luaL_addchar(&buffer, *s++);
        } else {
            break;
        }
        if (anchor)
            break;
    }
    luaL_addlstring(&buffer, s, (size_t)(m.source_end - s));
    luaL_pushresult(&buffer);
    if (!changed) {                  /* the same text: no second copy */
        lua_pop(L, 1);
        lua_pushvalue(L, 1);
    }
    lua_pushinteger(L, done);
    return 2;
}
