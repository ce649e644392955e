/* pcall, xpcall and coroutine.*, so that a passed limit goes through all of them: a script can catch errors, not limits.
 * They also keep host->running true, because the limit's hook has to be armed on the coroutine that runs. */
#include <stdatomic.h>

#include "lua_internal.h"

#define CLOSING_LIMIT 10             /* Lua 5.4.4 does not count C calls across lua_resetthread */

void protect__after(lua_State *L, int status)
{
    struct host *host = interp_of(L)->host;
    if (status == LUA_ERRMEM)
        host_pass_limit(host, HOST_LIMIT_MEMORY);
    host_check(L, host);
}

/* ---- pcall, xpcall ---- */

static int finish_call(lua_State *L, int status, lua_KContext extra)
{
    protect__after(L, status);
    if (status != LUA_OK && status != LUA_YIELD) {
        lua_pushboolean(L, false);
        lua_pushvalue(L, -2);
        return 2;
    }
    return lua_gettop(L) - (int)extra;
}

/* pcall(f, ...) -> true, results | false, error */
int protect__pcall(lua_State *L)
{
    luaL_checkany(L, 1);
    host_check(L, interp_of(L)->host);
    lua_pushboolean(L, true);
    lua_insert(L, 1);
    return finish_call(L, lua_pcallk(L, lua_gettop(L) - 2, LUA_MULTRET, 0, 0, finish_call), 0);
}

/* The script's handler, upvalue 1, but never after a limit: hooks do not fire in it then. */
static int message_handler(lua_State *L)
{
    if (interp_of(L)->host->killed)
        return 1;
    lua_settop(L, 1);
    lua_pushvalue(L, lua_upvalueindex(1));
    lua_insert(L, 1);
    lua_call(L, 1, 1);
    return 1;
}

/* xpcall(f, handler, ...) */
int protect__xpcall(lua_State *L)
{
    int arguments = lua_gettop(L) - 2;
    luaL_checktype(L, 2, LUA_TFUNCTION);
    host_check(L, interp_of(L)->host);
    lua_pushvalue(L, 2);
    lua_pushcclosure(L, message_handler, 1);
    lua_replace(L, 2);
    lua_pushboolean(L, true);
    lua_pushvalue(L, 1);
    lua_rotate(L, 3, 2);             /* below the arguments: f, handler, true, f, ... */
    return finish_call(L, lua_pcallk(L, arguments, LUA_MULTRET, 2, 2, finish_call), 2);
}

/* ---- coroutines ---- */

int coroutine__resume(lua_State *L, lua_State *co, int arguments, int *results)
{
    struct host *host = interp_of(L)->host;
    lua_State *before = host->running;
    host->running = co;
    atomic_signal_fence(memory_order_seq_cst);       /* a limit before this is seen below; one after it arms its hook on co */
    int status = host->killed ? LUA_ERRRUN : lua_resume(co, L, arguments, results);
    host->running = before;
    atomic_signal_fence(memory_order_seq_cst);
    protect__after(L, status);
    return status;
}

static lua_State *check_coroutine(lua_State *L)
{
    lua_State *co = lua_tothread(L, 1);
    luaL_argexpected(L, co, 1, "coroutine");
    return co;
}

enum coroutine_state { CO_RUNNING, CO_DEAD, CO_SUSPENDED, CO_NORMAL };
static const char *const state_names[] = { "running", "dead", "suspended", "normal" };

static enum coroutine_state state_of(lua_State *L, lua_State *co)
{
    lua_Debug ar;
    if (L == co)
        return CO_RUNNING;
    if (lua_status(co) == LUA_YIELD)
        return CO_SUSPENDED;
    if (lua_status(co) != LUA_OK)
        return CO_DEAD;
    if (lua_getstack(co, 0, &ar))
        return CO_NORMAL;
    return lua_gettop(co) == 0 ? CO_DEAD : CO_SUSPENDED;
}

/* @return results moved to L, or -1 with the error moved to L */
static int move_and_resume(lua_State *L, lua_State *co, int arguments)
{
    int results;
    enum coroutine_state state = state_of(L, co);
    if (state != CO_SUSPENDED) {
        lua_pushfstring(L, "cannot resume a coroutine that is %s", state_names[state]);
        return -1;
    }
    if (!lua_checkstack(co, arguments)) {
        lua_pushliteral(L, "too many arguments to resume");
        return -1;
    }
    lua_xmove(L, co, arguments);
    int status = coroutine__resume(L, co, arguments, &results);
    if (status != LUA_OK && status != LUA_YIELD) {
        lua_xmove(co, L, 1);
        return -1;
    }
    if (!lua_checkstack(L, results + 1)) {
        lua_pop(co, results);
        lua_pushliteral(L, "too many results to resume");
        return -1;
    }
    lua_xmove(co, L, results);
    return results;
}

/* coroutine.resume(co, ...) -> true, results | false, error */
static int resume(lua_State *L)
{
    lua_State *co = check_coroutine(L);
    int results = move_and_resume(L, co, lua_gettop(L) - 1);
    lua_pushboolean(L, results >= 0);
    lua_insert(L, results >= 0 ? -(results + 1) : -2);
    return results >= 0 ? results + 1 : 2;
}

/* Run the closing of variables that co has pending. @return status, with the error on co's stack */
static int reset(lua_State *L, lua_State *co)
{
    struct interp *interp = interp_of(L);
    struct host *host = interp->host;
    lua_State *before = host->running;
    host_check(L, host);             /* after a limit no hook fires in the closing functions of a coroutine */
    if (interp->closing >= CLOSING_LIMIT)
        luaL_error(L, "more than %d coroutine.close within each other", CLOSING_LIMIT);
    interp->closing++;
    host->running = co;
    atomic_signal_fence(memory_order_seq_cst);
    int status = host->killed ? LUA_ERRRUN : lua_resetthread(co);
    host->running = before;
    atomic_signal_fence(memory_order_seq_cst);
    interp->closing--;
    protect__after(L, status);
    return status;
}

static int wrapped(lua_State *L)
{
    lua_State *co = lua_tothread(L, lua_upvalueindex(1));
    int results = move_and_resume(L, co, lua_gettop(L));
    if (results >= 0)
        return results;
    int status = lua_status(co);
    if (status != LUA_OK && status != LUA_YIELD) {           /* it broke: close its variables, whose error would win */
        status = reset(L, co);
        if (status != LUA_OK)
            lua_xmove(co, L, 1);
    }
    return lua_error(L);             /* as it is: Lua's own would put the place of this call before the place it names */
}

/* coroutine.create(f) */
static int create(lua_State *L)
{
    luaL_checktype(L, 1, LUA_TFUNCTION);
    lua_State *co = lua_newthread(L);
    lua_pushvalue(L, 1);
    lua_xmove(L, co, 1);
    return 1;
}

/* coroutine.wrap(f) */
static int wrap(lua_State *L)
{
    create(L);
    lua_pushcclosure(L, wrapped, 1);
    return 1;
}

/* coroutine.yield(...) */
static int yield(lua_State *L)
{
    if (sequence__is_own(L))
        return luaL_error(L, "coroutine.yield works only inside a coroutine that the script made");
    return lua_yield(L, lua_gettop(L));
}

/* coroutine.status(co) */
static int status_name(lua_State *L)
{
    lua_pushstring(L, state_names[state_of(L, check_coroutine(L))]);
    return 1;
}

/* coroutine.isyieldable() */
static int isyieldable(lua_State *L)
{
    lua_pushboolean(L, !sequence__is_own(L) && lua_isyieldable(L));
    return 1;
}

/* coroutine.running() -> co, false; in the script's own main or a track nil, true, so that nobody resumes those by hand */
static int running(lua_State *L)
{
    bool own = sequence__is_own(L);
    if (own)
        lua_pushnil(L);
    else
        lua_pushthread(L);
    lua_pushboolean(L, own);
    return 2;
}

/* coroutine.close(co) -> true | false, error */
static int close_coroutine(lua_State *L)
{
    lua_State *co = check_coroutine(L);
    enum coroutine_state state = state_of(L, co);
    if (state != CO_DEAD && state != CO_SUSPENDED)
        return luaL_error(L, "cannot close a coroutine that is %s", state_names[state]);
    if (reset(L, co) == LUA_OK) {
        lua_pushboolean(L, true);
        return 1;
    }
    lua_pushboolean(L, false);
    lua_xmove(co, L, 1);
    return 2;
}

void coroutine__open(lua_State *L)
{
    static const luaL_Reg functions[] = {
        { "create", create }, { "resume", resume }, { "wrap", wrap }, { "yield", yield }, { "status", status_name },
        { "isyieldable", isyieldable }, { "running", running }, { "close", close_coroutine }, { NULL, NULL }
    };
    lua_createtable(L, 0, 8);
    sandbox__functions(L, functions);
}
