/* Plans for scripts: rig.plan_swap{}, rig.plan_patch{}, rig.plan_move{}, rig.spare_for(). They are computed here, in the host, and
 * come as plain tables: what a script does to one changes no plan and no show. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "lua_internal.h"

#define FILE_LEAST (-2147483648.0)   /* numbers of a show file */
#define FILE_MOST 2147483647.0

/* ---- options ---- */

/* The options table at 1: only these keys. @param keys  ends with NULL */
static void check_keys(lua_State *L, const char *const *keys)
{
    luaL_checktype(L, 1, LUA_TTABLE);
    for (lua_pushnil(L); lua_next(L, 1); lua_pop(L, 1)) {
        const char *key = lua_type(L, -2) == LUA_TSTRING ? lua_tostring(L, -2) : NULL;
        bool known = false;
        for (int k = 0; keys[k] && key && !known; k++)
            known = !strcmp(keys[k], key);
        if (known)
            continue;
        char typed[80];
        struct near near;
        near__begin(&near, near__key(L, -2, typed, sizeof typed));
        for (int k = 0; keys[k]; k++)
            near__try(&near, keys[k]);
        luaL_argerror(L, 1, lua_pushfstring(L, "no option '%s'%s", typed, near__text(&near)));
    }
}

/* Push the option; its type, or LUA_TNIL. */
static int option(lua_State *L, const char *key)
{
    lua_pushstring(L, key);
    return lua_rawget(L, 1);
}

static bool flag(lua_State *L, const char *key)
{
    int type = option(L, key);
    if (type != LUA_TNIL && type != LUA_TBOOLEAN)
        luaL_argerror(L, 1, lua_pushfstring(L, "%s is a %s; expected true or false", key, lua_typename(L, type)));
    bool set = lua_toboolean(L, -1);
    lua_pop(L, 1);
    return set;
}

/* The object of a kind that the value at the top stands for, by itself or by its id; pops it. */
static uint32_t take_object(lua_State *L, const char *key, enum object_kind kind)
{
    const struct show *show = show_of(L);
    struct object o;
    char text[120];
    uint32_t index = SHOW_UNKNOWN;
    if (object__at(L, -1, &o) && o.kind == kind) {
        index = o.index;
    } else if (lua_type(L, -1) == LUA_TSTRING) {
        const char *id = lua_tostring(L, -1);
        index = kind == OBJECT_SITE ? show_find_site(show, id) : show_find_transmitter(show, id);
        if (index == SHOW_UNKNOWN)
            luaL_argerror(L, 1, lua_pushfstring(L, "%s: no %s '%s'", key, object__kind_name(kind), near__key(L, -1, text, sizeof text)));
    } else {
        luaL_argerror(L, 1, lua_pushfstring(L, "%s is a %s; expected a %s or its id", key, luaL_typename(L, -1), object__kind_name(kind)));
    }
    lua_pop(L, 1);
    return index;
}

/* One site. @return SHOW_UNKNOWN when it is not given */
static uint32_t site_option(lua_State *L, const char *key)
{
    if (option(L, key) == LUA_TNIL) {
        lua_pop(L, 1);
        return SHOW_UNKNOWN;
    }
    return take_object(L, key, OBJECT_SITE);
}

/* One transmitter or an array of them. Lua owns the list, which is left on the stack; each stands in it once. */
static const uint32_t *transmitters_option(lua_State *L, const char *key, uint32_t *count)
{
    const struct show *show = show_of(L);
    uint32_t *list = lua_newuserdatauv(L, (show->transmitter_count + (size_t)1) * sizeof *list, 0);
    int type = option(L, key), given = lua_gettop(L);
    lua_Unsigned length = type == LUA_TTABLE ? lua_rawlen(L, given) : type != LUA_TNIL;
    *count = 0;
    for (lua_Unsigned i = 1; i <= length; i++) {
        if (type == LUA_TTABLE)
            lua_rawgeti(L, given, (lua_Integer)i);
        else
            lua_pushvalue(L, given);
        uint32_t index = take_object(L, key, OBJECT_TRANSMITTER);
        bool again = false;
        for (uint32_t k = 0; k < *count && !again; k++)
            again = list[k] == index;
        if (!again)
            list[(*count)++] = index;
        if (i % CHECK_EVERY == 0)
            host_check(L, interp_of(L)->host);
    }
    lua_pop(L, 1);
    return list;
}

/* ---- a plan's memory goes with a box that no script sees ---- */

struct plan_box { struct plan *plan; };

static int box_free(lua_State *L)
{
    struct plan_box *box = lua_touserdata(L, 1);
    plan_free(box->plan);
    box->plan = NULL;
    return 0;
}

static struct plan_box *push_box(lua_State *L)
{
    struct plan_box *box = lua_newuserdatauv(L, sizeof *box, 0);
    box->plan = NULL;
    lua_createtable(L, 0, 1);
    lua_pushcfunction(L, box_free);
    lua_setfield(L, -2, "__gc");
    lua_setmetatable(L, -2);
    return box;
}

/* The plan that was just made into box, as a table. */
static int give(lua_State *L, struct plan_box *box, int err, const struct rig_why *why)
{
    struct host *host = interp_of(L)->host;
    if (err == RIG_ENOMEM)
        host_pass_limit(host, HOST_LIMIT_MEMORY);
    host_check(L, host);
    if (err)
        return luaL_argerror(L, 1, why->text);
    plan__push(L, box->plan);
    plan_free(box->plan);
    box->plan = NULL;
    return 1;
}

/* ---- functions ---- */

/* rig.plan_swap{ out =, into =, keep_working = } -> plan */
static int plan_swap_of(lua_State *L)
{
    static const char *const keys[] = { "out", "into", "keep_working", NULL };
    struct plan_swap_options options = { 0 };
    struct rig_why why;
    check_keys(L, keys);
    lua_settop(L, 1);
    options.out = transmitters_option(L, "out", &options.out_count);
    options.in = transmitters_option(L, "into", &options.in_count);
    options.keep_working = flag(L, "keep_working");
    luaL_argcheck(L, options.out_count > 0, 1, "out is missing: the transmitter that is lost");
    struct plan_box *box = push_box(L);
    return give(L, box, plan_swap(show_of(L), &options, &box->plan, &why), &why);
}

/* rig.plan_patch{ all =, site =, order = "hang" or "id", tight =, fill = } -> plan */
static int plan_patch_of(lua_State *L)
{
    static const char *const keys[] = { "all", "site", "order", "tight", "fill", NULL };
    struct plan_patch_options options = { 0 };
    struct rig_why why;
    if (lua_isnoneornil(L, 1)) {
        lua_settop(L, 0);
        lua_createtable(L, 0, 0);
    }
    check_keys(L, keys);
    lua_settop(L, 1);
    options.all = flag(L, "all");
    options.tight = flag(L, "tight");
    options.fill = flag(L, "fill");
    options.site = site_option(L, "site");
    if (option(L, "order") != LUA_TNIL) {
        const char *order = lua_type(L, -1) == LUA_TSTRING ? lua_tostring(L, -1) : "";
        options.by_id = !strcmp(order, "id");
        luaL_argcheck(L, options.by_id || !strcmp(order, "hang"), 1, "order is neither \"hang\" nor \"id\"");
    }
    struct plan_box *box = push_box(L);
    return give(L, box, plan_patch(show_of(L), &options, &box->plan, &why), &why);
}

/* The fixture that the key at `index` stands for: itself or its id. */
static uint32_t position_key(lua_State *L, int index)
{
    struct object o;
    char text[120];
    uint32_t found = SHOW_UNKNOWN;
    if (object__at(L, index, &o) && o.kind == OBJECT_FIXTURE)
        found = o.index;
    else if (lua_isinteger(L, index))
        found = show_find_fixture(show_of(L), lua_tointeger(L, index));
    if (found == SHOW_UNKNOWN)
        luaL_argerror(L, 1, lua_pushfstring(L, "positions: no fixture '%s'", near__key(L, index, text, sizeof text)));
    return found;
}

/* One coordinate of the table at the top: pos.x, or pos[1]. */
static double coordinate(lua_State *L, const char *name, int place)
{
    if (lua_type(L, -1) != LUA_TTABLE)
        luaL_argerror(L, 1, lua_pushfstring(L, "positions: a place is a %s; expected { x, y, z }", luaL_typename(L, -1)));
    lua_pushstring(L, name);
    if (lua_rawget(L, -2) == LUA_TNIL) {
        lua_pop(L, 1);
        lua_rawgeti(L, -1, place);
    }
    double metres = lua_type(L, -1) == LUA_TNUMBER ? lua_tonumber(L, -1) : NAN;
    luaL_argcheck(L, metres >= FILE_LEAST && metres <= FILE_MOST, 1, "positions: a place is { x, y, z }, in metres");
    lua_pop(L, 1);
    return metres;
}

static int by_fixture(const void *a, const void *b)
{
    const struct plan_position *x = a, *y = b;
    return (x->fixture > y->fixture) - (x->fixture < y->fixture);
}

/* positions = { [fixture] = { x, y, z } }. Lua owns the list, which is left on the stack; a fixture stands in it once. */
static const struct plan_position *positions_option(lua_State *L, uint32_t *count)
{
    int type = option(L, "positions"), given = lua_gettop(L);
    lua_Unsigned room = 1;
    *count = 0;
    if (type == LUA_TNIL)
        return NULL;
    if (type != LUA_TTABLE)
        luaL_argerror(L, 1, lua_pushfstring(L, "positions is a %s; expected { [fixture] = { x, y, z } }", luaL_typename(L, given)));
    for (lua_pushnil(L); lua_next(L, given); lua_pop(L, 1))
        room++;
    struct plan_position *list = lua_newuserdatauv(L, room * sizeof *list, 0);
    for (lua_pushnil(L); lua_next(L, given); lua_pop(L, 1)) {
        struct plan_position *one = &list[(*count)++];
        one->fixture = position_key(L, -2);
        one->pos = (struct position){ coordinate(L, "x", 1), coordinate(L, "y", 2), coordinate(L, "z", 3) };
    }
    qsort(list, *count, sizeof *list, by_fixture);
    for (uint32_t i = 1; i < *count; i++)
        luaL_argcheck(L, list[i].fixture != list[i - 1].fixture, 1, "positions: a fixture has two places, by itself and by its id");
    return list;
}

/* rig.plan_move{ from =, to =, positions = } -> plan */
static int plan_move_of(lua_State *L)
{
    static const char *const keys[] = { "from", "to", "positions", NULL };
    struct plan_move_options options = { 0 };
    struct rig_why why;
    check_keys(L, keys);
    lua_settop(L, 1);
    options.from = site_option(L, "from");
    options.to = site_option(L, "to");
    luaL_argcheck(L, options.from != SHOW_UNKNOWN && options.to != SHOW_UNKNOWN, 1, "from and to are needed: two sites");
    luaL_argcheck(L, options.from != options.to, 1, "from and to are one site");
    options.positions = positions_option(L, &options.position_count);
    struct plan_box *box = push_box(L);
    return give(L, box, plan_move(show_of(L), &options, &box->plan, &why), &why);
}

/* rig.spare_for(transmitter) -> the first spare that can take its place with 0 touches, or nil */
static int spare_for(lua_State *L)
{
    uint32_t lost = object__check(L, 1, KIND(TRANSMITTER)).index, spare = SHOW_UNKNOWN;
    if (!plan_spare_ready(show_of(L), lost, &spare))
        spare = SHOW_UNKNOWN;
    host_check(L, interp_of(L)->host);
    object__push_index(L, OBJECT_TRANSMITTER, spare);
    return 1;
}

void plan__open(lua_State *L)
{
    static const luaL_Reg functions[] = {
        { "plan_swap", plan_swap_of }, { "plan_patch", plan_patch_of }, { "plan_move", plan_move_of }, { "spare_for", spare_for },
        { NULL, NULL }
    };
    sandbox__functions(L, functions);
}
