/* Objects of the show, and of the show before it, as light userdata: kind, index and cell in 64 bits. No allocation per
 * object, == and table keys work, and plain Lua has no way to make one. All light userdata of the state share the metatable
 * made here. */
#include <stdio.h>
#include <string.h>

#include "lua_internal.h"

_Static_assert(sizeof(void *) == 8 && sizeof(uintptr_t) == 8, "objects need 64-bit pointers");

#define BEFORE 0x80u                 /* in the octet of the kind: of the show before */
#define CELL_SPREAD 0x9e3779b1u      /* Lua hashes only the low 32 bits of a light userdata: spread a fixture's cells there */

static const char *const kind_names[OBJECT_KINDS] = { "fixture", "cell", "transmitter", "universe", "site", "type", "show" };

/* From the top: 1 bit before, 7 bits kind + 1, 24 bits cell, 32 bits index mixed with the cell. */
void object__push(lua_State *L, struct object object)
{
    uint32_t low = object.index + object.cell * CELL_SPREAD;
    uint64_t top = (uint64_t)(object.kind + 1) | (object.before ? BEFORE : 0);
    uint64_t bits = top << 56 | (uint64_t)object.cell << 32 | low;
    lua_pushlightuserdata(L, (void *)(uintptr_t)bits);
}

void object__push_index(lua_State *L, enum object_kind kind, uint32_t index)
{
    if (index == SHOW_UNKNOWN)
        lua_pushnil(L);
    else
        object__push(L, (struct object){ .kind = kind, .index = index });
}

uint32_t object__count(const struct show *show, enum object_kind kind)
{
    switch (kind) {
    case OBJECT_FIXTURE:
    case OBJECT_CELL:        return show->fixture_count;
    case OBJECT_TRANSMITTER: return show->transmitter_count;
    case OBJECT_UNIVERSE:    return show->universe_count;
    case OBJECT_SITE:        return show->site_count;
    case OBJECT_TYPE:        return show->type_count;
    case OBJECT_SHOW:        return 1;
    default:                 return 0;
    }
}

const struct show *object__show(lua_State *L, struct object object)
{
    return object.before ? interp_of(L)->host->before : show_of(L);
}

/* An object of either show. */
static bool any_at(lua_State *L, int arg, struct object *object)
{
    if (!lua_islightuserdata(L, arg))
        return false;
    uint64_t bits = (uint64_t)(uintptr_t)lua_touserdata(L, arg);
    uint32_t kind = (uint32_t)(bits >> 56) & (BEFORE - 1), cell = (uint32_t)(bits >> 32) & OBJECT_CELLS_LIMIT;
    if (kind == 0 || kind > OBJECT_KINDS)
        return false;
    *object = (struct object){ (enum object_kind)(kind - 1), (uint32_t)bits - cell * CELL_SPREAD, cell, bits >> 63 };
    const struct show *show = object__show(L, *object);
    return show && object->index < object__count(show, object->kind) && (object->kind == OBJECT_CELL) == (cell > 0);
}

bool object__at(lua_State *L, int arg, struct object *object)
{
    return any_at(L, arg, object) && !object->before;
}

const char *object__kind_name(enum object_kind kind)
{
    return kind_names[kind];
}

enum object_kind object__kind_from_name(const char *name)
{
    for (unsigned k = 0; k < OBJECT_KINDS; k++)
        if (strcmp(kind_names[k], name) == 0)
            return (enum object_kind)k;
    return OBJECT_KINDS;
}

static struct object check(lua_State *L, int arg, unsigned kinds, bool before)
{
    struct object object;
    bool known = any_at(L, arg, &object);
    if (known && kinds & 1u << object.kind && (before || !object.before))
        return object;
    char wanted[96] = "object of the show", found[128];
    size_t at = 0;
    for (unsigned k = 0; kinds != KIND_ANY && k < OBJECT_KINDS; k++)
        if (kinds & 1u << k)
            at += (size_t)snprintf(wanted + at, sizeof wanted - at, "%s%s", at ? " or " : "", kind_names[k]);
    if (known) {
        size_t length = object__describe(L, object, found, sizeof found - 24);
        snprintf(found + length, sizeof found - length, "%s", object.before ? " of the show before" : "");
    } else
        snprintf(found, sizeof found, "%s", lua_isnone(L, arg) ? "nothing" : luaL_typename(L, arg));
    luaL_argerror(L, arg, lua_pushfstring(L, "%s expected, got %s", wanted, found));
    return object;                   /* not reached */
}

struct object object__check(lua_State *L, int arg, unsigned kinds)
{
    return check(L, arg, kinds, false);
}

struct object object__read(lua_State *L, int arg, unsigned kinds)
{
    return check(L, arg, kinds, true);
}

static const enum subject_kind subjects[OBJECT_KINDS] = {
    [OBJECT_FIXTURE] = SUBJECT_FIXTURE, [OBJECT_CELL] = SUBJECT_FIXTURE, [OBJECT_TRANSMITTER] = SUBJECT_TRANSMITTER,
    [OBJECT_UNIVERSE] = SUBJECT_UNIVERSE, [OBJECT_SITE] = SUBJECT_SITE, [OBJECT_TYPE] = SUBJECT_TYPE, [OBJECT_SHOW] = SUBJECT_SHOW
};

struct subject object__subject(struct object object)
{
    return (struct subject){ subjects[object.kind], object.index };
}

size_t object__describe(lua_State *L, struct object object, char *buffer, size_t size)
{
    char text[600];
    size_t length = show_describe(object__show(L, object), subjects[object.kind], object.index, text, sizeof text - 24);
    if (object.kind == OBJECT_CELL)
        length += (size_t)snprintf(text + length, sizeof text - length, ", cell %u", object.cell);
    return text__clean(buffer, size, text, length);
}

const struct fixture *object__fixture(lua_State *L, struct object object)
{
    return &object__show(L, object)->fixtures[object.index];
}

/* ---- the metatable ---- */

static int object_tostring(lua_State *L)
{
    char text[600];
    size_t length = object__describe(L, object__read(L, 1, KIND_ANY), text, sizeof text);
    lua_pushlstring(L, text, length);
    return 1;
}

static int object_newindex(lua_State *L)
{
    char text[200];
    object__describe(L, object__read(L, 1, KIND_ANY), text, sizeof text);
    return luaL_error(L, "%s: the show is read-only for scripts", text);
}

const struct extras *object__extras(lua_State *L, struct object object)
{
    const struct show *show = object__show(L, object);
    switch (object.kind) {
    case OBJECT_FIXTURE:     return &show->fixtures[object.index].extras;
    case OBJECT_TRANSMITTER: return &show->transmitters[object.index].extras;
    case OBJECT_UNIVERSE:    return &show->universes[object.index].extras;
    case OBJECT_SITE:        return &show->sites[object.index].extras;
    case OBJECT_TYPE:        return &show->types[object.index].extras;
    case OBJECT_SHOW:        return &show->extras;
    default:                 return NULL;
    }
}

/* The value of an x_ key. Its text is Lua's own notation for plain data, so Lua reads it; what it cannot read comes as
 * text. */
static int extra_push(lua_State *L, const char *value)
{
    size_t length = strlen(value);
    if (length > SCRIPT_BYTES - 16) {
        lua_pushlstring(L, value, length);
        return 1;
    }
    const char *source = lua_pushfstring(L, "return %s", value);
    lua_createtable(L, 0, 0);        /* an environment without names: nothing can be called */
    if (luaL_loadbufferx(L, source, length + 7, "=x_", "t") != LUA_OK) {
        lua_pushlstring(L, value, length);
        return 1;
    }
    lua_insert(L, -2);
    lua_setupvalue(L, -2, 1);
    lua_call(L, 0, 1);
    return 1;
}

static int unknown_member(lua_State *L, struct object object)
{
    char key[80], text[200];
    struct near near;
    near__key(L, 2, key, sizeof key);
    near__begin(&near, lua_type(L, 2) == LUA_TSTRING ? key : "");
    const struct member *const lists[] = { members__fields, members__methods, members__radio };
    for (unsigned l = 0; l < 3; l++)
        for (const struct member *m = lists[l]; m->name; m++)
            if (m->kinds & 1u << object.kind)
                near__try(&near, m->name);
    object__describe(L, object, text, sizeof text);
    return luaL_error(L, "%s has no field '%s'%s", text, key, near__text(&near));
}

/* Upvalue 1: name -> light userdata of the member, or its closure. */
static int object_index(lua_State *L)
{
    struct object object;
    if (!any_at(L, 1, &object))
        return luaL_error(L, "no object of this show");
    lua_settop(L, 2);
    lua_pushvalue(L, 2);
    lua_rawget(L, lua_upvalueindex(1 + (int)object.kind));
    const struct member *member = lua_touserdata(L, 3);      /* NULL for a closure and for nil */
    if (member)
        return member->get(L, object);
    if (!lua_isnil(L, 3))
        return 1;
    size_t length;
    const char *key = lua_type(L, 2) == LUA_TSTRING ? lua_tolstring(L, 2, &length) : "";
    if (strncmp(key, "x_", 2) != 0)
        return unknown_member(L, object);
    const struct extras *extras = object__extras(L, object);
    for (uint32_t i = 0; extras && i < extras->count; i++)
        if (strcmp(extras->items[i].key, key) == 0)
            return extra_push(L, extras->items[i].value);
    return 0;
}

static void add_members(lua_State *L, int tables, const struct member *list)
{
    for (const struct member *m = list; m->name; m++) {
        if (m->get)
            lua_pushlightuserdata(L, (void *)(uintptr_t)m);
        else
            lua_pushcfunction(L, m->call);
        for (int k = 0; k < OBJECT_KINDS; k++)
            if (m->kinds & 1u << k) {
                lua_pushvalue(L, -1);
                lua_setfield(L, tables + k, m->name);
            }
        lua_pop(L, 1);
    }
}

void object__open(lua_State *L)
{
    lua_pushlightuserdata(L, NULL);
    lua_createtable(L, 0, 8);
    int tables = lua_gettop(L) + 1;
    luaL_checkstack(L, OBJECT_KINDS + 8, NULL);
    for (int k = 0; k < OBJECT_KINDS; k++)
        lua_createtable(L, 0, 32);
    add_members(L, tables, members__fields);
    add_members(L, tables, members__methods);
    add_members(L, tables, members__radio);
    lua_pushcclosure(L, object_index, OBJECT_KINDS);
    lua_setfield(L, -2, "__index");
    lua_pushcfunction(L, object_newindex);
    lua_setfield(L, -2, "__newindex");
    lua_pushcfunction(L, object_tostring);
    lua_setfield(L, -2, "__tostring");
    lua_pushboolean(L, false);
    lua_setfield(L, -2, "__metatable");
    lua_setmetatable(L, -2);
    lua_pop(L, 1);
}
