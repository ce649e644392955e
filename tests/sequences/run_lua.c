/* Runs one Lua test file with the plain Lua libraries and what a test here needs besides: json(text), which gives the value of
 * a JSON text by jansson, and the names PROGRAM and SOURCE. An error in the file is a failed test. The interpreter itself is a
 * package of its own, which the tests so do without. */
#include <jansson.h>
#include <lauxlib.h>
#include <lua.h>
#include <lualib.h>
#include <stdio.h>
#include <stdlib.h>

static void push_json(lua_State *L, const json_t *value)
{
    const char *key;
    json_t *item;
    luaL_checkstack(L, 4, "JSON nested too deep");
    switch (json_typeof(value)) {
    case JSON_OBJECT:
        lua_newtable(L);
        json_object_foreach((json_t *)value, key, item) {
            push_json(L, item);
            lua_setfield(L, -2, key);
        }
        return;
    case JSON_ARRAY:
        lua_newtable(L);
        for (size_t i = 0; i < json_array_size(value); i++) {
            push_json(L, json_array_get(value, i));
            lua_rawseti(L, -2, (lua_Integer)i + 1);
        }
        return;
    case JSON_STRING: lua_pushlstring(L, json_string_value(value), json_string_length(value)); return;
    case JSON_INTEGER: lua_pushinteger(L, json_integer_value(value)); return;
    case JSON_REAL: lua_pushnumber(L, json_real_value(value)); return;
    case JSON_TRUE: lua_pushboolean(L, 1); return;
    case JSON_FALSE: lua_pushboolean(L, 0); return;
    case JSON_NULL: break;
    }
    lua_pushnil(L);
}

static int l_json(lua_State *L)
{
    size_t length;
    const char *text = luaL_checklstring(L, 1, &length);
    json_error_t error;
    json_t *value = json_loadb(text, length, JSON_REJECT_DUPLICATES | JSON_DECODE_ANY, &error);
    if (!value)
        return luaL_error(L, "no JSON: line %d column %d: %s", error.line, error.column, error.text);
    push_json(L, value);
    json_decref(value);
    return 1;
}

static int traceback(lua_State *L)
{
    luaL_traceback(L, L, lua_tostring(L, 1), 1);
    return 1;
}

int main(int argc, char **argv)
{
    if (argc != 2) {
        fputs("usage: run_lua FILE.lua\n", stderr);
        return 2;
    }
    lua_State *L = luaL_newstate();
    if (!L)
        return 2;
    luaL_openlibs(L);
    lua_pushliteral(L, RIGCALL_PROGRAM);
    lua_setglobal(L, "PROGRAM");
    lua_pushliteral(L, RIGCALL_SOURCE_DIR);
    lua_setglobal(L, "SOURCE");
    lua_register(L, "json", l_json);
    lua_pushcfunction(L, traceback);
    int failed = luaL_loadfile(L, argv[1]) || lua_pcall(L, 0, 0, -2);
    if (failed)
        fprintf(stderr, "%s\n", lua_tostring(L, -1));
    lua_close(L);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
