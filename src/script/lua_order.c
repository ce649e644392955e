/* pairs and next in one fixed order. Lua's own order of text keys changes from process to process, and a script that
 * walks a table must give the same answer every time. The order: 1, 2, 3, ...; other integers; other numbers; texts by
 * octets; booleans; objects of the show; then the rest in Lua's order. */
#include <stdlib.h>
#include <string.h>

#include "lua_internal.h"

enum rank { RANK_INDEX, RANK_INTEGER, RANK_NUMBER, RANK_TEXT, RANK_BOOLEAN, RANK_OBJECT, RANK_REST };

struct key {
    enum rank rank;
    size_t length;                   /* of a text */
    union { lua_Integer integer; lua_Number number; const char *text; uint64_t bits; } value;
    lua_Integer place;               /* in Lua's order */
};

/* The key at an index; a text stays borrowed from the table that holds it. */
static struct key key_at(lua_State *L, int index)
{
    struct key key = { .rank = RANK_REST };
    switch (lua_type(L, index)) {
    case LUA_TNUMBER:
        if (lua_isinteger(L, index)) {
            key.value.integer = lua_tointeger(L, index);
            key.rank = key.value.integer > 0 ? RANK_INDEX : RANK_INTEGER;
        } else {
            key.value.number = lua_tonumber(L, index);
            key.rank = RANK_NUMBER;
        }
        break;
    case LUA_TSTRING:
        key.value.text = lua_tolstring(L, index, &key.length);
        key.rank = RANK_TEXT;
        break;
    case LUA_TBOOLEAN:
        key.value.bits = (uint64_t)lua_toboolean(L, index);
        key.rank = RANK_BOOLEAN;
        break;
    case LUA_TLIGHTUSERDATA:
        key.value.bits = (uint64_t)(uintptr_t)lua_touserdata(L, index);
        key.rank = RANK_OBJECT;
        break;
    default:
        break;
    }
    return key;
}

static int compare_texts(const struct key *a, const struct key *b)
{
    int order = memcmp(a->value.text, b->value.text, a->length < b->length ? a->length : b->length);
    return order ? order : (a->length > b->length) - (a->length < b->length);
}

#define ORDER(x, y) (((x) > (y)) - ((x) < (y)))

static int compare(const struct key *a, const struct key *b)
{
    if (a->rank != b->rank)
        return ORDER(a->rank, b->rank);
    switch (a->rank) {
    case RANK_INDEX:
    case RANK_INTEGER: return ORDER(a->value.integer, b->value.integer);
    case RANK_NUMBER:  return ORDER(a->value.number, b->value.number);
    case RANK_TEXT:    return compare_texts(a, b);
    case RANK_BOOLEAN:
    case RANK_OBJECT:  return ORDER(a->value.bits, b->value.bits);
    default:           return 0;
    }
}

static int compare_placed(const void *a, const void *b)
{
    int order = compare(a, b);
    return order ? order : ORDER(((const struct key *)a)->place, ((const struct key *)b)->place);
}

/* ---- next ---- */

static int raw_next(lua_State *L)
{
    luaL_checktype(L, 1, LUA_TTABLE);
    lua_settop(L, 2);
    if (lua_next(L, 1))
        return 2;
    lua_pushnil(L);
    return 1;
}

/* Among the rest there is no order of ours: after `key` in Lua's order, or the first. Expects the key at 2. */
static int next_rest(lua_State *L, bool first)
{
    if (first)
        lua_pushnil(L);
    else
        lua_pushvalue(L, 2);
    while (lua_next(L, 1)) {
        if (key_at(L, -2).rank == RANK_REST)
            return 2;
        lua_pop(L, 1);
    }
    lua_pushnil(L);
    return 1;
}

/* Leave at 3 the least key of the table at 1 that comes after `key`, or of all when `key` is NULL. @return false if there is none
 * but for the rest */
static bool least_after(lua_State *L, const struct key *key)
{
    struct host *host = interp_of(L)->host;
    struct key best = { .rank = RANK_REST };
    uint32_t count = 0;
    lua_settop(L, 3);
    for (lua_pushnil(L); lua_next(L, 1); lua_pop(L, 1)) {
        struct key found = key_at(L, -2);
        if (++count % CHECK_EVERY == 0)
            host_check(L, host);
        if (found.rank == RANK_REST || (key && compare(&found, key) <= 0)
            || (best.rank != RANK_REST && compare(&found, &best) >= 0))
            continue;
        best = found;
        lua_pushvalue(L, -2);
        lua_replace(L, 3);
    }
    return best.rank != RANK_REST;
}

/* next(table, key?) -> the next key in the fixed order and its value. A step is one walk over the table, but for 1, 2, 3, ...;
 * pairs sorts once. */
int order__next(lua_State *L)
{
    luaL_checktype(L, 1, LUA_TTABLE);
    lua_settop(L, 2);
    bool first = lua_isnil(L, 2);
    struct key key = key_at(L, 2);
    if (first || key.rank == RANK_INDEX) {
        lua_pushinteger(L, first ? 1 : (lua_Integer)((lua_Unsigned)key.value.integer + 1));
        lua_pushvalue(L, 3);
        if (lua_rawget(L, 1) != LUA_TNIL)
            return 2;
        lua_settop(L, 2);
    }
    if (!first && key.rank == RANK_REST)
        return next_rest(L, false);
    if (!least_after(L, first ? NULL : &key))
        return next_rest(L, true);
    lua_pushvalue(L, 3);
    lua_rawget(L, 1);
    return 2;
}

/* ---- pairs ---- */

/* Upvalues: sorted keys, the last place. */
static int sorted_next(lua_State *L)
{
    lua_Integer at = lua_tointeger(L, lua_upvalueindex(2));
    luaL_checktype(L, 1, LUA_TTABLE);
    for (;;) {
        lua_settop(L, 1);
        if (lua_rawgeti(L, lua_upvalueindex(1), ++at) == LUA_TNIL)
            return 1;
        lua_pushvalue(L, 2);
        if (lua_rawget(L, 1) == LUA_TNIL)
            continue;                /* removed during the walk */
        lua_pushinteger(L, at);
        lua_replace(L, lua_upvalueindex(2));
        return 2;
    }
}

/* @return number of keys of the table at 1 when Lua's order is not ours, otherwise 0 */
static lua_Integer count_unsorted(lua_State *L)
{
    struct host *host = interp_of(L)->host;
    struct key last = { .rank = RANK_INDEX };
    lua_Integer count = 0;
    bool sorted = true;
    for (lua_pushnil(L); lua_next(L, 1); lua_pop(L, 1)) {
        struct key key = key_at(L, -2);
        if (++count % CHECK_EVERY == 0)
            host_check(L, host);
        sorted = sorted && compare(&last, &key) <= 0;
        last = key;
    }
    return sorted ? 0 : count;
}

static void push_sorted(lua_State *L, lua_Integer count)
{
    struct key few[16], *keys = few;
    if (count > (lua_Integer)(sizeof few / sizeof *few))
        keys = lua_newuserdatauv(L, (size_t)count * sizeof *keys, 0);
    lua_createtable(L, (int)count, 0);
    lua_createtable(L, (int)count, 0);                       /* Lua's order below, ours above */
    lua_Integer i = 0;
    for (lua_pushnil(L); i < count && lua_next(L, 1); i++) {
        lua_pop(L, 1);
        keys[i] = key_at(L, -1);
        keys[i].place = i + 1;
        lua_pushvalue(L, -1);
        lua_rawseti(L, -4, i + 1);
    }
    if (i == count)
        lua_pop(L, 1);               /* the last key; lua_next took it otherwise */
    qsort(keys, (size_t)i, sizeof *keys, compare_placed);
    for (lua_Integer k = 0; k < i; k++) {
        lua_rawgeti(L, -2, keys[k].place);
        lua_rawseti(L, -2, k + 1);
    }
}

static int pairs_continue(lua_State *L, int status, lua_KContext context)
{
    (void)L, (void)status, (void)context;
    return 3;
}

/* pairs(table) -> iterator in the fixed order; __pairs is honoured */
int order__pairs(lua_State *L)
{
    luaL_checkany(L, 1);
    if (luaL_getmetafield(L, 1, "__pairs") != LUA_TNIL) {
        lua_pushvalue(L, 1);
        lua_callk(L, 1, 3, 0, pairs_continue);
        return 3;
    }
    luaL_checktype(L, 1, LUA_TTABLE);
    lua_settop(L, 1);
    lua_Integer count = count_unsorted(L);
    if (count == 0) {
        lua_pushcfunction(L, raw_next);
    } else {
        push_sorted(L, count);
        lua_pushinteger(L, 0);
        lua_pushcclosure(L, sorted_next, 2);
    }
    lua_pushvalue(L, 1);
    lua_pushnil(L);
    return 3;
}
