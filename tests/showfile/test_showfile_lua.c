/* The second opinion on what a literal means: the packaged Lua. Made-up spellings of texts, numbers and tables are read by both;
 * what Lua refuses the reader must refuse, and what the reader takes must mean the same to Lua, before and after writing. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include <lauxlib.h>
#include <lua.h>
#include <lualib.h>

#include "rigcall/showfile.h"
#include "support/program.h"

static uint64_t random_at = 88172645463325252u;      /* xorshift64, the same numbers every time */
static uint32_t up_to(uint32_t most)
{
    random_at ^= random_at << 13;
    random_at ^= random_at >> 7;
    random_at ^= random_at << 17;
    return (uint32_t)(random_at >> 32) % (most + 1);
}

static const char same_source[] =
    "local function same(a, b)\n"
    "  if type(a) ~= 'table' or type(b) ~= 'table' then return a == b and math.type(a) == math.type(b) end\n"
    "  for k, v in pairs(a) do if not same(v, b[k]) then return false end end\n"
    "  for k in pairs(b) do if a[k] == nil then return false end end\n"
    "  return true\n"
    "end\n"
    "return same\n";

/* Push the value of a literal. @return false if Lua refuses it */
static bool lua_takes(lua_State *L, const char *literal, size_t length)
{
    char *chunk = malloc(length + 16);
    memcpy(chunk, "return ", 7);
    memcpy(chunk + 7, literal, length);
    bool good = luaL_loadbufferx(L, chunk, length + 7, "literal", "t") == LUA_OK && lua_pcall(L, 0, 1, 0) == LUA_OK;
    free(chunk);
    if (!good)
        lua_pop(L, 1);
    return good;
}

static size_t compared;

static void compare(lua_State *L, const char *literal)
{
    char text[1024];
    struct show *show = NULL;
    int length = snprintf(text, sizeof text, "return { rigcall = 1, name = 'n', x_a = %s }", literal);
    assert_true(length > 0 && (size_t)length < sizeof text);
    int top = lua_gettop(L);
    bool lua_good = lua_takes(L, literal, strlen(literal));
    bool ours = showfile_parse("a", text, (size_t)length, &show, NULL) == 0;
    if (ours && !lua_good)
        print_error("only the reader takes %s\n", literal);
    assert_true(lua_good || !ours);
    if (ours) {
        const char *canonical = show->extras.items[0].value;
        assert_true(lua_takes(L, canonical, strlen(canonical)));
        lua_pushvalue(L, 1);
        lua_insert(L, -3);
        assert_int_equal(lua_pcall(L, 2, 1, 0), LUA_OK);
        if (!lua_toboolean(L, -1))
            print_error("%s is not %s\n", literal, canonical);
        assert_true(lua_toboolean(L, -1));
        compared++;
    }
    lua_settop(L, top);
    show_free(show);
}

static lua_State *new_lua(void)
{
    lua_State *L = luaL_newstate();
    luaL_openlibs(L);
    assert_int_equal(luaL_loadstring(L, same_source) || lua_pcall(L, 0, 1, 0), LUA_OK);
    compared = 0;
    return L;
}

/* A literal of random parts. */
static void build(char *out, size_t size, const char *const *parts, uint32_t count, uint32_t most)
{
    size_t used = 0;
    out[0] = '\0';
    for (uint32_t i = 1 + up_to(most - 1); i > 0 && used + 20 < size; i--)
        used += (size_t)snprintf(out + used, size - used, "%s", parts[up_to(count - 1)]);
}
#define COUNT(parts) (uint32_t)(sizeof(parts) / sizeof *(parts))

static void numbers_mean_what_lua_says(void **state)
{
    (void)state;
    static const char *const parts[] = { "0", "1", "9", "12", "305", ".", ".", "e", "E", "p", "P", "+", "-", "0x", "0X", "a", "F", "e5", "e-3", "p2", "p-4", " ", "00", "_" };
    lua_State *L = new_lua();
    for (int i = 0; i < 20000; i++) {
        char literal[256];
        build(literal, sizeof literal, parts, COUNT(parts), 4);
        compare(L, literal);
    }
    assert_true(compared > 2000);
    lua_close(L);
}

static void texts_mean_what_lua_says(void **state)
{
    (void)state;
    static const char *const parts[] = { "a", "b", "'", "\"", "\\\\", "\\'", "\\\"", "\\n", "\\t", "\\065", "\\9", "\\100", "\\x41", "\\u{20AC}", "\\u{10FFFF}", "\\z  \n ",
                                         "\\\n", "\\\r\n", "\n", "[[", "]]", "]=]", "=", "]", "\xc3\xa9", "\\xc3\\xa9", "\\xff", "--", "\\q", "\\300", "\\u{}", "\r\n" };
    static const char *const quotes[][2] = { { "'", "'" }, { "\"", "\"" }, { "[[", "]]" }, { "[=[", "]=]" }, { "[==[\n", "]==]" } };
    lua_State *L = new_lua();
    for (int i = 0; i < 20000; i++) {
        char inside[256], literal[300];
        uint32_t quote = up_to(4);
        build(inside, sizeof inside, parts, COUNT(parts), 6);
        snprintf(literal, sizeof literal, "%s%s%s", quotes[quote][0], inside, quotes[quote][1]);
        compare(L, literal);
    }
    assert_true(compared > 8000);
    lua_close(L);
}

static void tables_mean_what_lua_says(void **state)
{
    (void)state;
    static const char *const parts[] = { "{", "{", "}", "}", "1", "-2.5", "true", "false", "nil", "'a'", ",", ",", ";", "a", "b =", "end =", "['c'] =", "[\"end\"] =", "[1] =", "=",
                                         "--[[ c ]]", "-- d\n", " ", "{}", "a = 1," };
    lua_State *L = new_lua();
    for (int i = 0; i < 50000; i++) {
        char inside[256], literal[300];
        build(inside, sizeof inside, parts, COUNT(parts), 9);
        snprintf(literal, sizeof literal, "{%s}", inside);
        compare(L, literal);
    }
    assert_true(compared > 2000);
    lua_close(L);
}

/* What the writer writes is Lua that any Lua loads, and means the same as what was read. */
static void a_saved_show_is_the_same_data_to_lua(void **state)
{
    (void)state;
    struct show *show;
    char *text, *source = program_read(RIGCALL_SOURCE_DIR "/tests/showfile/harbour.show.lua");
    size_t length;
    lua_State *L = new_lua();
    assert_int_equal(showfile_parse("a", source, strlen(source), &show, NULL), 0);
    assert_int_equal(showfile_format(show, &text, &length, NULL), 0);
    assert_int_equal(luaL_loadstring(L, source) || lua_pcall(L, 0, 1, 0), LUA_OK);
    lua_getfield(L, -1, "transmitters");               /* the one value that is written nowhere: spare = false is the default */
    lua_geti(L, -1, 1);
    lua_pushnil(L);
    lua_setfield(L, -2, "spare");
    lua_pop(L, 2);
    assert_int_equal(luaL_loadstring(L, text) || lua_pcall(L, 0, 1, 0), LUA_OK);
    assert_int_equal(lua_pcall(L, 2, 1, 0), LUA_OK);
    assert_true(lua_toboolean(L, -1));
    lua_close(L);
    free(text);
    free(source);
    show_free(show);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_mean_what_lua_says),
        cmocka_unit_test(texts_mean_what_lua_says),
        cmocka_unit_test(tables_mean_what_lua_says),
        cmocka_unit_test(a_saved_show_is_the_same_data_to_lua),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
