/* The nearest known name to one that is not known, so that a message can say what was meant. */
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "lua_internal.h"

#define NAME_LIMIT 48

static size_t least(size_t a, size_t b)
{
    return a < b ? a : b;
}

/* Optimal string alignment: insertions, removals, changes, and swaps of neighbours count one each. */
static size_t distance(const char *a, const char *b)
{
    size_t n = strlen(a), m = strlen(b);
    size_t rows[3][NAME_LIMIT + 1];
    size_t *before = rows[0], *above = rows[1], *row = rows[2];
    if (n > NAME_LIMIT || m > NAME_LIMIT)
        return SIZE_MAX;
    for (size_t j = 0; j <= m; j++)
        above[j] = j;
    for (size_t i = 1; i <= n; i++) {
        row[0] = i;
        for (size_t j = 1; j <= m; j++) {
            row[j] = least(least(above[j], row[j - 1]) + 1, above[j - 1] + (a[i - 1] != b[j - 1]));
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                row[j] = least(row[j], before[j - 2] + 1);
        }
        size_t *spare = before;
        before = above;
        above = row;
        row = spare;
    }
    return above[m];
}

void near__begin(struct near *near, const char *typed)
{
    near->typed = typed;
    near->best = NULL;
    near->distance = SIZE_MAX;
}

void near__try(struct near *near, const char *name)
{
    size_t found = distance(near->typed, name);
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
