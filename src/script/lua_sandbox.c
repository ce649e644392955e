/* The state of a script: which names exist. Everything is taken by name, so that nothing a build or a later version of
 * Lua adds gets in unseen; only string and utf8 are taken whole, and string.dump out of it. */
#include <string.h>

#include "lua_internal.h"

#define DATE_OCTETS 256              /* of a format for os.date */
#define NAMES_TRIED 1000             /* names that the nearest one is looked for in: a script may make any number of them */

/* ---- names that do not exist ---- */

static const struct { const char *name, *instead; } absent[] = {
    { "load", "scripts cannot make code at run time" }, { "loadstring", "scripts cannot make code at run time" },
    { "loadfile", "scripts have no files; use(\"name\") gives a lib" },
    { "dofile", "scripts have no files; use(\"name\") gives a lib" },
    { "require", "use(\"name\") gives a lib" }, { "package", "use(\"name\") gives a lib" },
    { "io", "scripts have no files" },
    { "debug", "scripts cannot look inside the engine" }, { "collectgarbage", "memory is looked after" },
    { "warn", "in a rule write warn(subject, text)" }, { "_G", "global names are reached by writing them" },
    { "unpack", "write table.unpack" }, { NULL, NULL }
};

/* Upvalues: the name of the table, or nil for global names. */
static int unknown_name(lua_State *L)
{
    char key[80];
    struct near near;
    const char *table = lua_tostring(L, lua_upvalueindex(1));
    near__key(L, 2, key, sizeof key);
    for (unsigned i = 0; !table && absent[i].name; i++)
        if (strcmp(absent[i].name, key) == 0)
            return luaL_error(L, "'%s' does not exist in scripts: %s", key, absent[i].instead);
    near__begin(&near, lua_type(L, 2) == LUA_TSTRING ? key : "");
    lua_pushnil(L);
    for (int tried = 0; lua_next(L, 1) && tried < NAMES_TRIED; tried++) {
        if (lua_type(L, -2) == LUA_TSTRING)
            near__try(&near, lua_tostring(L, -2));
        lua_pop(L, 1);
    }
    if (table)
        return luaL_error(L, "%s has no '%s'%s", table, key, near__text(&near));
    return luaL_error(L, "unknown name '%s'%s", key, near__text(&near));
}

void sandbox__strict(lua_State *L, const char *name)
{
    lua_createtable(L, 0, 2);
    value__text(L, name);
    lua_pushcclosure(L, unknown_name, 1);
    lua_setfield(L, -2, "__index");
    lua_pushboolean(L, false);
    lua_setfield(L, -2, "__metatable");
    lua_setmetatable(L, -2);
}

void sandbox__functions(lua_State *L, const luaL_Reg *list)
{
    luaL_setfuncs(L, list, 0);
}

/* ---- base functions of our own ---- */

static int print(lua_State *L)
{
    char line[LINE_OCTETS + 1];
    size_t at = 0;
    int n = lua_gettop(L);
    for (int i = 1; i <= n && at + 8 < sizeof line; i++) {
        size_t length;
        const char *text = value__describe(L, i, &length);
        if (i > 1)
            line[at++] = ' ';
        at += text__clean(line + at, sizeof line - at, text, length);
        lua_settop(L, n);
    }
    host_queue_print(interp_of(L)->host, line, at);
    host_check(L, interp_of(L)->host);
    return 0;
}

static int tostring(lua_State *L)
{
    luaL_checkany(L, 1);
    value__describe(L, 1, NULL);
    return 1;
}

/* math.randomseed(x?, y?): without numbers the fixed seed, never one from outside. Upvalue 1: Lua's own. */
static int randomseed(lua_State *L)
{
    if (lua_isnone(L, 1)) {
        lua_pushinteger(L, 1);
        lua_pushinteger(L, 0);
    }
    int arguments = lua_gettop(L);
    lua_pushvalue(L, lua_upvalueindex(1));
    lua_insert(L, 1);
    lua_call(L, arguments, 0);
    return 0;
}

/* os.date(format?, time?): Lua's own, upvalue 1, but no hook fires while it works through a format */
static int date(lua_State *L)
{
    bool good = lua_type(L, 1) != LUA_TSTRING || lua_rawlen(L, 1) <= DATE_OCTETS;
    luaL_argcheck(L, good, 1, "format is too long: over 256 octets");
    return lua_tocfunction(L, lua_upvalueindex(1))(L);
}

/* ---- opening ---- */

/* Copy some functions of the table at -1 into the table at -2. */
static void copy_names(lua_State *L, const char *const *names)
{
    for (; *names; names++) {
        lua_getfield(L, -1, *names);
        lua_setfield(L, -3, *names);
    }
}

static void push_library(lua_State *L, lua_CFunction open)
{
    lua_pushcfunction(L, open);
    lua_call(L, 0, 1);
}

static void open_base(lua_State *L)
{
    static const char *const kept[] = {
        "assert", "error", "ipairs", "rawequal", "rawget", "rawlen", "rawset", "select", "tonumber", "type", "_VERSION", NULL
    };
    static const luaL_Reg own[] = {
        { "pcall", protect__pcall }, { "xpcall", protect__xpcall }, { "print", print }, { "tostring", tostring },
        { "setmetatable", meta__set }, { "getmetatable", meta__get }, { "pairs", order__pairs }, { "next", order__next },
        { NULL, NULL }
    };
    push_library(L, luaopen_base);
    copy_names(L, kept);
    lua_pop(L, 1);
    sandbox__functions(L, own);
    lua_newtable(L);                 /* what luaopen_base filled is dropped: load, dofile and their kind are gone */
    lua_rawseti(L, LUA_REGISTRYINDEX, LUA_RIDX_GLOBALS);
}

static void open_math(lua_State *L)
{
    static const char *const kept[] = {
        "abs", "acos", "asin", "atan", "ceil", "cos", "deg", "exp", "floor", "fmod", "huge", "log", "max", "maxinteger",
        "min", "mininteger", "modf", "pi", "rad", "random", "randomseed", "sin", "sqrt", "tan", "tointeger", "type", "ult", NULL
    };
    lua_createtable(L, 0, 32);
    push_library(L, luaopen_math);
    copy_names(L, kept);
    lua_pop(L, 1);
    lua_getfield(L, -1, "randomseed");
    lua_pushcclosure(L, randomseed, 1);
    lua_pushvalue(L, -1);
    lua_setfield(L, -3, "randomseed");
    lua_call(L, 0, 0);
    lua_setfield(L, -2, "math");
}

static void open_os(lua_State *L)
{
    static const char *const kept[] = { "clock", "date", NULL };
    lua_createtable(L, 0, 2);
    push_library(L, luaopen_os);
    copy_names(L, kept);
    lua_pop(L, 1);
    lua_getfield(L, -1, "date");
    lua_pushcclosure(L, date, 1);
    lua_setfield(L, -2, "date");
    sandbox__strict(L, "os");
    lua_setfield(L, -2, "os");
}

/* Where Lua looks for the names of functions in messages ("bad argument #1 to 'string.rep'"). The base names are at the
 * top. */
static void name_functions(lua_State *L)
{
    static const char *const tables[] = { "string", "utf8", "table", "coroutine", "math", "os", "rig", "out", "crew", NULL };
    luaL_getsubtable(L, LUA_REGISTRYINDEX, LUA_LOADED_TABLE);
    for (const char *const *name = tables; *name; name++) {
        lua_getfield(L, -2, *name);
        lua_setfield(L, -2, *name);
    }
    lua_pushvalue(L, -2);
    lua_setfield(L, -2, LUA_GNAME);
    lua_pop(L, 1);
}

static char base_key;                /* its address names the table of base names in the registry */

void sandbox__open(lua_State *L)
{
    object__open(L);
    lua_createtable(L, 0, 48);
    open_base(L);
    open_math(L);
    open_os(L);
    push_library(L, luaopen_string);
    string__open(L);
    lua_setfield(L, -2, "string");
    utf8__open(L);
    lua_setfield(L, -2, "utf8");
    table__open(L);
    lua_setfield(L, -2, "table");
    coroutine__open(L);
    lua_setfield(L, -2, "coroutine");
    rig__open(L);
    lua_setfield(L, -2, "rig");
    rule__open(L);
    sequence__open(L);
    swap__open(L);
    load__open(L);
    name_functions(L);
    lua_rawsetp(L, LUA_REGISTRYINDEX, &base_key);
}

void sandbox__push_environment(lua_State *L)
{
    lua_createtable(L, 0, 64);
    lua_rawgetp(L, LUA_REGISTRYINDEX, &base_key);
    for (lua_pushnil(L); lua_next(L, -2);) {
        lua_pushvalue(L, -2);
        lua_insert(L, -2);           /* environment, base, key, key, value */
        lua_rawset(L, -5);
    }
    lua_pop(L, 1);
    sandbox__strict(L, NULL);
}
