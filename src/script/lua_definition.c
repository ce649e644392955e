/* The table a script returns: its keys, their types and ranges. All access is raw: a metatable on it changes nothing. */
#include <stdio.h>
#include <string.h>

#include "lua_internal.h"

const char *const lua__kind_names[] = { "rule", "sequence", "swap", "sheet", "lib", NULL };
const char *const lua__severity_names[] = { "fail", "warn", "note", NULL };

#define FOR(kind) (1u << SCRIPT_##kind)
#define FOR_RUN (FOR(RULE) | FOR(SEQUENCE) | FOR(SWAP) | FOR(SHEET))

static const struct { const char *name; unsigned kinds; } keys[] = {
    { "kind", FOR_RUN | FOR(LIB) }, { "name", FOR_RUN | FOR(LIB) }, { "about", FOR_RUN | FOR(LIB) }, { "params", FOR_RUN },
    { "run", FOR_RUN }, { "severity", FOR(RULE) }, { "exports", FOR(LIB) }
};
#define KEY_COUNT (sizeof keys / sizeof *keys)

static int get(lua_State *L, const char *key)
{
    lua_pushstring(L, key);
    return lua_rawget(L, -2);
}

/* A text value at the top, popped; NULL when it is nil. It lives as long as the table. */
static const char *text_value(lua_State *L, const char *file, const char *key, size_t most)
{
    size_t length;
    const char *text = NULL;
    int type = get(L, key);
    if (type == LUA_TSTRING) {
        char clean[320];            /* more than any `most` */
        text = lua_tolstring(L, -1, &length);
        if (length > most)
            luaL_error(L, "%s: %s has %d octets; at most %d are allowed", file, key, (int)length, (int)most);
        text__clean(clean, sizeof clean, text, length);
        if (strcmp(clean, text) != 0 || strlen(text) != length)
            luaL_error(L, "%s: %s is not UTF-8 text without control characters", file, key);
    } else if (type != LUA_TNIL) {
        luaL_error(L, "%s: %s is a %s; expected text", file, key, luaL_typename(L, -1));
    }
    lua_pop(L, 1);
    return text;
}

/* The word under a key as its place in a list; `missing` when it is not given. */
static int word_value(lua_State *L, const char *file, const char *key, const char *const *words, int missing)
{
    const char *text = text_value(L, file, key, 80);
    struct near near;
    if (!text)
        return missing;
    near__begin(&near, text);
    for (int i = 0; words[i]; i++) {
        if (strcmp(words[i], text) == 0)
            return i;
        near__try(&near, words[i]);
    }
    if (*near__text(&near))
        return luaL_error(L, "%s: %s \"%s\" is not known%s", file, key, text, near__text(&near));
    lua_pushstring(L, words[0]);
    for (int i = 1; words[i]; i++) {
        lua_pushfstring(L, "%s, %s", lua_tostring(L, -1), words[i]);
        lua_remove(L, -2);
    }
    return luaL_error(L, "%s: %s \"%s\" is not known; expected one of %s", file, key, text, lua_tostring(L, -1));
}

static bool known_key(lua_State *L, enum script_kind kind, struct near *near)
{
    const char *key = lua_type(L, -2) == LUA_TSTRING ? lua_tostring(L, -2) : NULL;
    for (unsigned k = 0; k < KEY_COUNT; k++) {
        if (!(keys[k].kinds & 1u << kind))
            continue;
        if (key && strcmp(keys[k].name, key) == 0)
            return true;
        if (near)
            near__try(near, keys[k].name);
    }
    return false;
}

/* Unknown keys are an error; of several, the first in the order of pairs() is named, so that two runs say the same. */
static void check_keys(lua_State *L, const char *file, enum script_kind kind)
{
    char key[80], worst[80] = "";
    struct near near;
    bool bad = false;
    for (lua_pushnil(L); lua_next(L, -2); lua_pop(L, 1)) {
        if (known_key(L, kind, NULL))
            continue;
        near__key(L, -2, key, sizeof key);
        if (!bad || strcmp(key, worst) < 0)
            memcpy(worst, key, sizeof worst);
        bad = true;
    }
    if (!bad)
        return;
    near__begin(&near, worst);
    lua_pushnil(L);
    lua_pushnil(L);                  /* no key: only the nearest name is wanted */
    known_key(L, kind, &near);
    luaL_error(L, "%s: a %s has no key '%s'%s", file, lua__kind_names[kind], worst, near__text(&near));
}

static bool name_good(const char *name)
{
    size_t length = strlen(name);
    return length >= 1 && length <= 64
        && strspn(name, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_.-") == length;
}

static void check_body(lua_State *L, const char *file, enum script_kind kind)
{
    const char *key = kind == SCRIPT_LIB ? "exports" : "run";
    int wanted = kind == SCRIPT_LIB ? LUA_TTABLE : LUA_TFUNCTION;
    if (get(L, key) != wanted)
        luaL_error(L, "%s: %s is a %s; expected a %s", file, key, luaL_typename(L, -1), lua_typename(L, wanted));
    lua_pop(L, 1);
}

void definition__read(lua_State *L, const char *file, struct script_about *about)
{
    memset(about, 0, sizeof *about);
    if (!lua_istable(L, -1))
        luaL_error(L, "%s: returned a %s; a script returns one table { kind = ..., name = ..., run = function ... }", file,
                   luaL_typename(L, -1));
    int kind = word_value(L, file, "kind", lua__kind_names, -1);
    if (kind < 0)
        luaL_error(L, "%s: kind is missing; expected \"rule\", \"sequence\", \"swap\", \"sheet\" or \"lib\"", file);
    about->kind = (enum script_kind)kind;
    check_keys(L, file, about->kind);
    const char *name = text_value(L, file, "name", 200), *words = text_value(L, file, "about", sizeof about->about - 1);
    if (!name)
        luaL_error(L, "%s: name is missing", file);
    if (!name_good(name))
        luaL_error(L, "%s: name \"%s\" is not 1 to 64 of A-Z a-z 0-9 _ . -", file, name);
    snprintf(about->name, sizeof about->name, "%s", name);
    snprintf(about->about, sizeof about->about, "%s", words ? words : "");
    about->severity = (enum severity)word_value(L, file, "severity", lua__severity_names, SEVERITY_FAIL);
    check_body(L, file, about->kind);
}
