/* The nearest known name to one that is not known, so that a message can say what was meant. A search name by name,
 * because known names come from Lua tables as well as from lists. */
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "lua_internal.h"
#include "rigcall/nearest.h"

void near__begin(struct near *near, const char *typed)
{
    near->typed = typed;
    near->best = NULL;
    near->distance = SIZE_MAX;
}

void near__try(struct near *near, const char *name)
{
    size_t found = name_distance(near->typed, name);
    bool better = found < near->distance || (found == near->distance && near->best && strcmp(name, near->best) < 0);
    if (found == SIZE_MAX || !better)
        return;
    near->distance = found;
    near->best = name;
}

const char *near__text(struct near *near)
{
    if (!near->best || near->distance > 1 + strlen(near->typed) / 3)
        return "";
    snprintf(near->text, sizeof near->text, "; nearest: '%s'", near->best);
    return near->text;
}

const char *near__key(lua_State *L, int index, char *buffer, size_t size)
{
    size_t length;
    if (lua_type(L, index) == LUA_TSTRING) {
        const char *text = lua_tolstring(L, index, &length);
        text__clean(buffer, size, text, length);
    } else if (lua_isinteger(L, index)) {
        snprintf(buffer, size, "%lld", (long long)lua_tointeger(L, index));
    } else {
        snprintf(buffer, size, "%s", luaL_typename(L, index));
    }
    return buffer;
}
