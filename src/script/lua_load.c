/* Chunks of text, their environments, and use("name"). */
#include <stdio.h>
#include <string.h>

#include "lua_internal.h"

static char libs_key;                /* its address names the table of loaded libs: exports, or true while one loads */

void load__chunk_name(char *buffer, size_t size, const char *path)
{
    const char *last = strrchr(path, '/');
    char clean[100];
    last = last ? last + 1 : path;
    text__clean(clean, sizeof clean, last, strlen(last));
    snprintf(buffer, size, "@%s", clean);
}

void load__chunk(lua_State *L, const char *bytes, size_t length, const char *name)
{
    if (length >= 3 && memcmp(bytes, "\xef\xbb\xbf", 3) == 0) {          /* a byte order mark */
        bytes += 3;
        length -= 3;
    }
    if (length > SCRIPT_BYTES)
        luaL_error(L, "%s: longer than %d octets", name + 1, (int)SCRIPT_BYTES);
    if (length > 0 && bytes[0] == LUA_SIGNATURE[0])
        luaL_error(L, "%s: a compiled chunk; only text is loaded", name + 1);
    int status = luaL_loadbufferx(L, bytes, length, name, "t");
    protect__after(L, status);
    if (status != LUA_OK) {
        const char *message = lua_tostring(L, -1);
        if (message && strncmp(message, name + 1, strlen(name + 1)) != 0)
            lua_pushfstring(L, "%s: %s", name + 1, message);           /* "C stack overflow" has no place of its own */
        lua_error(L);
    }
    sandbox__push_environment(L);
    lua_setupvalue(L, -2, 1);
}

static const struct host_lib *find_lib(lua_State *L, const char *name)
{
    const struct host *host = interp_of(L)->host;
    char typed[80];
    struct near near;
    for (size_t i = 0; i < host->lib_count; i++)
        if (strcmp(host->libs[i].name, name) == 0)
            return &host->libs[i];
    text__clean(typed, sizeof typed, name, strlen(name));
    near__begin(&near, typed);
    for (size_t i = 0; i < host->lib_count; i++)
        near__try(&near, host->libs[i].name);
    luaL_argerror(L, 1, lua_pushfstring(L, "no lib '%s' is shipped or beside this script%s", typed, near__text(&near)));
    return NULL;                     /* not reached */
}

/* Load a lib whose table is at the top and leave its exports there. */
static void check_lib(lua_State *L, const struct host_lib *lib, const char *file)
{
    struct script_about about;
    definition__read(L, file, &about);
    if (about.kind != SCRIPT_LIB)
        luaL_error(L, "%s: kind is \"%s\"; use() gives only scripts of kind \"lib\"", file, lua__kind_names[about.kind]);
    if (strcmp(about.name, lib->name) != 0)
        luaL_error(L, "%s: name is \"%s\"; a lib is named like its file, \"%s\"", file, about.name, lib->name);
    lua_pushliteral(L, "exports");
    lua_rawget(L, -2);
    lua_replace(L, -2);
}

/* use("name") -> the exports of a lib; the same table every time in one script */
static int use(lua_State *L)
{
    const char *name = luaL_checkstring(L, 1);
    char chunk[128];
    lua_settop(L, 1);
    lua_rawgetp(L, LUA_REGISTRYINDEX, &libs_key);
    lua_pushvalue(L, 1);
    int type = lua_rawget(L, 2);
    if (type == LUA_TTABLE)
        return 1;
    const struct host_lib *lib = find_lib(L, name);
    load__chunk_name(chunk, sizeof chunk, lib->path ? lib->path : lib->name);
    if (type == LUA_TBOOLEAN)
        return luaL_error(L, "lib '%s' uses itself in a circle", lib->name);
    lua_settop(L, 2);
    lua_pushvalue(L, 1);
    lua_pushboolean(L, true);
    lua_rawset(L, 2);
    load__chunk(L, lib->bytes, lib->length, chunk);
    lua_call(L, 0, 1);
    check_lib(L, lib, chunk + 1);
    lua_pushvalue(L, 1);
    lua_pushvalue(L, -2);
    lua_rawset(L, 2);
    return 1;
}

void load__open(lua_State *L)
{
    lua_newtable(L);
    lua_rawsetp(L, LUA_REGISTRYINDEX, &libs_key);
    lua_pushcfunction(L, use);
    lua_setfield(L, -2, "use");
}
