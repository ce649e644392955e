/* out: set, fade, clear, slot. Everything is checked here, where the error has a line of the script, and again by the
 * engine. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lua_internal.h"
#include "rigcall/engine.h"

static char params_key;              /* its address names the registry table of parameter name -> index */

struct level { uint16_t param; double percent; };

/* What a command is for: a fixture or one of its cells. */
struct target { uint32_t fixture, cell; const struct fixture *of; const struct mode *mode; };

/* ---- checks ---- */

static bool granted(const struct interp *interp, uint32_t fixture)
{
    return !interp->granted || interp->granted[fixture / 8] & 1u << fixture % 8;
}

static struct target check_target(lua_State *L, int arg)
{
    const struct interp *interp = interp_of(L);
    struct object o = object__check(L, arg, KIND(FIXTURE) | KIND(CELL));
    struct target target = { o.index, o.kind == OBJECT_CELL ? o.cell - 1 : ENGINE_ALL_CELLS, object__fixture(L, o), NULL };
    char text[200];
    target.mode = fixture_mode(show_of(L), target.of);
    if (granted(interp, o.index) && target.mode)
        return target;
    object__describe(L, o, text, sizeof text);
    const char *trouble = target.mode ? "%s is not among the fixtures of this run" : "the mode of %s is unknown";
    luaL_argerror(L, arg, lua_pushfstring(L, trouble, text));
    return target;                   /* not reached */
}

/* An unpatched fixture has no slots: its commands are checked, then dropped. */
static bool patched(const struct target *target)
{
    return target->of->universe != SHOW_NONE && target->of->address != SHOW_NONE;
}

static bool among(const struct slot *slots, uint32_t count, uint16_t param)
{
    for (uint32_t i = 0; i < count; i++)
        if (slots[i].param == param)
            return true;
    return false;
}

static bool has(const struct target *target, uint16_t param)
{
    const struct mode *mode = target->mode;
    if (mode->cells > 0 && among(mode->slots, mode->slot_count, param))
        return true;
    return target->cell == ENGINE_ALL_CELLS
        && (among(mode->head, mode->head_count, param) || among(mode->tail, mode->tail_count, param));
}

static void try_slots(const struct show *show, struct near *near, const struct slot *slots, uint32_t count)
{
    for (uint32_t i = 0; i < count && i < LEVELS_LIMIT; i++)
        near__try(near, show->params[slots[i].param]);
}

static int bad_param(lua_State *L, const struct target *target, const char *typed)
{
    const struct show *show = show_of(L);
    const struct mode *mode = target->mode;
    bool whole = target->cell == ENGINE_ALL_CELLS;
    char clean[80], text[200];
    struct near near;
    text__clean(clean, sizeof clean, typed, strlen(typed));
    near__begin(&near, clean);
    if (mode->cells > 0)
        try_slots(show, &near, mode->slots, mode->slot_count);
    if (whole) {
        try_slots(show, &near, mode->head, mode->head_count);
        try_slots(show, &near, mode->tail, mode->tail_count);
    }
    struct object o = { .kind = whole ? OBJECT_FIXTURE : OBJECT_CELL, .index = target->fixture,
                        .cell = whole ? 0 : target->cell + 1 };
    object__describe(L, o, text, sizeof text);
    return luaL_error(L, "%s has no parameter '%s' in mode %s%s", text, clean, mode->id ? mode->id : "?", near__text(&near));
}

/* Push the table of parameter indexes, made at the first use. */
static void push_params(lua_State *L)
{
    const struct show *show = show_of(L);
    if (lua_rawgetp(L, LUA_REGISTRYINDEX, &params_key) == LUA_TTABLE)
        return;
    lua_pop(L, 1);
    lua_createtable(L, 0, (int)show->param_count);
    for (uint32_t p = 0; p < show->param_count; p++) {
        lua_pushinteger(L, p);
        lua_setfield(L, -2, show->params[p]);
    }
    lua_pushvalue(L, -1);
    lua_rawsetp(L, LUA_REGISTRYINDEX, &params_key);
}

static double check_percent(lua_State *L, int index, const char *what)
{
    double percent = lua_type(L, index) == LUA_TNUMBER ? lua_tonumber(L, index) : NAN;
    char found[80];
    if (percent >= 0 && percent <= 100)
        return percent;
    if (lua_type(L, index) == LUA_TNUMBER)
        snprintf(found, sizeof found, "%.10g", isnan(percent) ? fabs(percent) : percent);        /* no "-nan" */
    else
        near__key(L, index, found, sizeof found);
    return luaL_error(L, "level of '%s' is %s; expected 0 to 100 (per cent)", what, found);
}

static int compare_levels(const void *a, const void *b)
{
    return (int)((const struct level *)a)->param - (int)((const struct level *)b)->param;
}

/* The table of levels at arg, by parameter index, so that two runs send the same. @return how many */
static int read_levels(lua_State *L, int arg, const struct target *target, struct level levels[LEVELS_LIMIT])
{
    const char *worst = NULL;
    int count = 0;
    luaL_checktype(L, arg, LUA_TTABLE);
    push_params(L);
    for (lua_pushnil(L); lua_next(L, arg); lua_pop(L, 1)) {
        luaL_argcheck(L, lua_type(L, -2) == LUA_TSTRING, arg, "expected { parameter = level, ... }");
        const char *name = lua_tostring(L, -2);
        lua_pushvalue(L, -2);
        bool known = lua_rawget(L, -4) == LUA_TNUMBER && has(target, (uint16_t)lua_tointeger(L, -1));
        uint16_t param = (uint16_t)lua_tointeger(L, -1);
        lua_pop(L, 1);
        if (!known) {
            worst = !worst || strcmp(name, worst) < 0 ? name : worst;
            continue;
        }
        if (count == LEVELS_LIMIT)
            luaL_argerror(L, arg, "more than 512 parameters");
        levels[count++] = (struct level){ param, check_percent(L, -1, name) };
    }
    if (worst)
        bad_param(L, target, worst);
    lua_pop(L, 1);
    qsort(levels, (size_t)count, sizeof *levels, compare_levels);
    return count;
}

/* ---- commands ---- */

/* out.set(fixture | cell, { parameter = per cent, ... }) */
static int set(lua_State *L)
{
    struct interp *interp = interp_of(L);
    struct level levels[LEVELS_LIMIT];
    sequence__check(L, "out.set");
    struct target target = check_target(L, 1);
    int count = read_levels(L, 2, &target, levels);
    for (int i = 0; i < count && patched(&target); i++)
        host_queue_set(interp->host, interp->track->due_ns, target.fixture, target.cell, levels[i].param, levels[i].percent);
    return 0;
}

/* out.fade(fixture | cell, { parameter = per cent, ... }, seconds) */
static int fade(lua_State *L)
{
    struct interp *interp = interp_of(L);
    struct level levels[LEVELS_LIMIT];
    sequence__check(L, "out.fade");
    struct target target = check_target(L, 1);
    int count = read_levels(L, 2, &target, levels);
    int64_t duration_ns = llround(number__check(L, 3, 0, WAIT_LIMIT_S, "seconds") * 1e9);
    for (int i = 0; i < count && patched(&target); i++)
        host_queue_fade(interp->host, interp->track->due_ns, target.fixture, target.cell, levels[i].param, levels[i].percent,
                        duration_ns);
    return 0;
}

/* out.clear(fixture | cell): back to the defaults */
static int clear(lua_State *L)
{
    struct interp *interp = interp_of(L);
    sequence__check(L, "out.clear");
    struct target target = check_target(L, 1);
    if (patched(&target))
        host_queue_clear(interp->host, interp->track->due_ns, target.fixture, target.cell);
    return 0;
}

/* Whether a fixture of this run has the slot. The stretch of a universe is sorted by start address. */
static bool slot_patched(lua_State *L, int64_t universe, int64_t slot)
{
    const struct interp *interp = interp_of(L);
    const struct show *show = show_of(L);
    uint32_t count;
    const uint32_t *list = show_universe_fixtures(show, universe, &count);
    for (uint32_t i = 0; i < count; i++) {
        const struct fixture *fixture = &show->fixtures[list[i]];
        int64_t last = fixture_last(show, fixture);
        if (fixture->address != SHOW_NONE && fixture->address > slot)
            return false;
        if (last != SHOW_NONE && last >= slot && granted(interp, list[i]))
            return true;
    }
    return false;
}

/* out.slot(universe id | universe, slot, per cent) */
static int slot(lua_State *L)
{
    struct interp *interp = interp_of(L);
    struct object o;
    sequence__check(L, "out.slot");
    bool object = object__at(L, 1, &o) && o.kind == OBJECT_UNIVERSE;
    lua_Integer universe = object ? show_of(L)->universes[o.index].id : luaL_checkinteger(L, 1);
    lua_Integer number = luaL_checkinteger(L, 2);
    luaL_argcheck(L, number >= 1 && number <= SHOW_SLOTS, 2, "slot is outside 1..512");
    luaL_checktype(L, 3, LUA_TNUMBER);
    double percent = check_percent(L, 3, "slot");
    if (!slot_patched(L, universe, number))
        return luaL_error(L, "slot %I of universe %I belongs to no fixture of this run", number, universe);
    host_queue_slot(interp->host, interp->track->due_ns, universe, number, percent);
    return 0;
}

void out__open(lua_State *L)
{
    static const luaL_Reg functions[] = {
        { "set", set }, { "fade", fade }, { "clear", clear }, { "slot", slot }, { NULL, NULL }
    };
    lua_createtable(L, 0, 4);
    sandbox__functions(L, functions);
    sandbox__strict(L, "out");
}
