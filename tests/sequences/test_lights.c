/* scripts/lib/lights.lua keeps a table of roles of its own, because scripts are not told roles: it must say of every parameter
 * what the one table of the model says. Loaded here by plain Lua. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include <lauxlib.h>
#include <lua.h>
#include <lualib.h>

#include "rigcall/model.h"

static const char *role_in_lua(lua_State *L, const char *param)
{
    lua_getfield(L, -1, "role");
    lua_pushstring(L, param);
    assert_int_equal(lua_pcall(L, 1, 1, 0), LUA_OK);
    return lua_tostring(L, -1);
}

static void every_parameter_has_the_role_of_the_model(void **state)
{
    (void)state;
    size_t count;
    const struct parameter *table = parameter_table(&count);
    lua_State *L = luaL_newstate();
    luaL_openlibs(L);
    assert_int_equal(luaL_dofile(L, RIGCALL_SOURCE_DIR "/scripts/lib/lights.lua"), LUA_OK);
    lua_getfield(L, -1, "exports");
    assert_true(count > 0);
    for (size_t i = 0; i < count; i++) {
        const char *role = role_in_lua(L, table[i].name);
        switch (table[i].role) {
        case ROLE_INTENSITY: assert_string_equal(role, "intensity"); break;
        case ROLE_COLOUR:    assert_string_equal(role, "colour"); break;
        case ROLE_STROBE:    assert_string_equal(role, "strobe"); break;
        case ROLE_MOTION:    assert_string_equal(role, "motion"); break;
        case ROLE_OTHER:     assert_true(!strcmp(role, "optics") || !strcmp(role, "service")); break;
        }
        lua_pop(L, 1);
    }
    assert_string_equal(role_in_lua(L, "sparkle"), "service");
    lua_close(L);
}

/* What can do harm or harm the fixture is nobody's optics. */
static void lamps_power_fog_and_macros_are_service(void **state)
{
    (void)state;
    static const char *const names[] = { "control", "effects", "fan", "fog", "lamp", "macro", "power", "speed" };
    lua_State *L = luaL_newstate();
    luaL_openlibs(L);
    assert_int_equal(luaL_dofile(L, RIGCALL_SOURCE_DIR "/scripts/lib/lights.lua"), LUA_OK);
    lua_getfield(L, -1, "exports");
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        assert_non_null(parameter_find(names[i]));
        assert_string_equal(role_in_lua(L, names[i]), "service");
        lua_pop(L, 1);
    }
    lua_close(L);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_parameter_has_the_role_of_the_model),
        cmocka_unit_test(lamps_power_fog_and_macros_are_service),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
