/* The way of one script through its host: open the state, load, say what it is, run, end. Everything that can raise is
 * inside one protected call. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lua_internal.h"

/* ---- messages ---- */

/* Where the script itself stood when a lib or a message without a place raised: " (from rule.lua:12)". co is where it
 * was raised. */
static void add_origin(lua_State *L, lua_State *co, const char *message, char *out, size_t size)
{
    const char *file = interp_of(L)->chunk;
    lua_Debug ar;
    out[0] = '\0';
    if (strncmp(message, file + 1, strlen(file + 1)) == 0)
        return;
    for (int level = 0; lua_getstack(co, level, &ar); level++) {
        lua_getinfo(co, "Sl", &ar);
        if (ar.currentline > 0 && strcmp(ar.source, file) == 0) {
            snprintf(out, size, " (from %s:%d)", file + 1, ar.currentline);
            return;
        }
    }
}

void interp__message(lua_State *L, lua_State *co)
{
    char origin[160], clean[MESSAGE_OCTETS + 1];
    if (interp_of(L)->host->killed)
        return;
    if (co != L)
        lua_xmove(co, L, 1);
    size_t length;
    bool text = lua_isstring(L, -1) || luaL_getmetafield(L, -1, "__tostring") != LUA_TNIL;
    if (!text) {
        lua_pushfstring(L, "error with a %s instead of a text", luaL_typename(L, -1));
    } else if (!lua_isstring(L, -1)) {
        lua_pop(L, 1);
        luaL_tolstring(L, -1, NULL);
    }
    const char *message = lua_tolstring(L, -1, &length);
    add_origin(L, co, message, origin, sizeof origin);
    size_t at = text__clean(clean, sizeof clean - strlen(origin), message, length);
    lua_pushlstring(L, clean, at);
    lua_pushstring(L, origin);
    lua_concat(L, 2);
}

static int message_handler(lua_State *L)
{
    interp__message(L, L);
    return 1;
}

/* ---- the way of a script ---- */

static void grant(lua_State *L, struct interp *interp)
{
    const struct host *host = interp->host;
    if (!host->fixtures)
        return;
    size_t size = host->show->fixture_count / 8 + 1;
    unsigned char *bits = lua_newuserdatauv(L, size, 0);
    memset(bits, 0, size);
    for (uint32_t i = 0; i < host->fixture_count; i++)
        bits[host->fixtures[i] / 8] |= (unsigned char)(1u << host->fixtures[i] % 8);
    lua_rawsetp(L, LUA_REGISTRYINDEX, bits);
    interp->granted = bits;
}

static void run(lua_State *L, const struct interp *interp)
{
    switch (interp->about.kind) {
    case SCRIPT_RULE:
        lua_call(L, 1, 0);
        return;
    case SCRIPT_SEQUENCE:
        sequence__run(L);
        return;
    case SCRIPT_SWAP:
        swap__run(L);
        return;
    default:
        luaL_error(L, "%s: a %s cannot be run", interp->chunk + 1, lua__kind_names[interp->about.kind]);
    }
}

/* Load, describe, run. Argument: none; everything is in the interp. */
static int body(lua_State *L)
{
    struct interp *interp = interp_of(L);
    struct host *host = interp->host;
    const char *file = interp->chunk + 1;
    struct script_about about;
    sandbox__open(L);
    grant(L, interp);
    load__chunk(L, host->script->bytes, host->script->length, interp->chunk);
    lua_call(L, 0, 1);
    definition__read(L, file, &about);
    int definition = lua_gettop(L);
    lua_pushliteral(L, "run");
    lua_rawget(L, definition);
    param__read(L, definition, file, &about);
    interp->about = about;
    param__apply(L);                 /* before about: a fault in --set is known when the script has loaded */
    host_check(L, host);
    host_send_about(host, &about);
    interp->phase = PHASE_RUNNING;
    run(L, interp);
    return 0;
}

/* End the process. text NULL: well. */
static void end(struct host *host, lua_State *L, const struct verdict *verdict, const char *text, bool usage) __attribute__((noreturn));
static void end(struct host *host, lua_State *L, const struct verdict *verdict, const char *text, bool usage)
{
    host->running = NULL;
    if (host->close_state && L)
        lua_close(L);
    if (!text && verdict->made)
        host_verdict(host, verdict->plan, verdict->why, strlen(verdict->why));
    if (!text)
        host_done(host);
    host_error(host, text, usage);
}

void host_lua_main(struct host *host)
{
    struct interp interp = { .host = host };
    char text[MESSAGE_OCTETS + 200];
    lua_State *L = lua_newstate(host_alloc, host);
    if (!L) {
        host_pass_limit(host, HOST_LIMIT_MEMORY);
        end(host, NULL, &interp.verdict, host_limit_text(host), false);
    }
    *(struct interp **)lua_getextraspace(L) = &interp;
    interp.L = L;
    load__chunk_name(interp.chunk, sizeof interp.chunk, host->script->path ? host->script->path : host->script->stem);
    host->running = L;
    lua_pushcfunction(L, message_handler);
    lua_pushcfunction(L, body);
    int status = lua_pcall(L, 0, 0, 1);
    if (status == LUA_ERRMEM && !host->killed)
        host_pass_limit(host, HOST_LIMIT_MEMORY);
    if (host->killed)
        end(host, L, &interp.verdict, host_limit_text(host), false);
    if (status == LUA_OK)
        end(host, L, &interp.verdict, NULL, false);
    snprintf(text, sizeof text, "%s", lua_type(L, -1) == LUA_TSTRING ? lua_tostring(L, -1) : "error in an error handler");
    end(host, L, &interp.verdict, text, interp.usage);
}
