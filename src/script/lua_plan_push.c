/* Plans as tables. Numbers are there at once; the lists are long. */
#include <string.h>

#include "lua_internal.h"

static void set_integer(lua_State *L, const char *key, lua_Integer number)
{
    lua_pushinteger(L, number);
    lua_setfield(L, -2, key);
}

static void set_text(lua_State *L, const char *key, const char *text)
{
    char clean[FINDING_OCTETS + 1];
    if (!text)
        return;
    text__clean(clean, sizeof clean, text, strlen(text));
    lua_pushstring(L, clean);
    lua_setfield(L, -2, key);
}

static void set_value(lua_State *L, const char *key, const struct plan_value *value)
{
    if (value->kind == PLAN_NUMBER)
        set_integer(L, key, value->number);
    else if (value->kind == PLAN_TEXT)
        set_text(L, key, value->text);
}

static void set_cost(lua_State *L, lua_Integer dark, lua_Integer disturbed, lua_Integer touches, lua_Integer settings)
{
    set_integer(L, "dark", dark);
    set_integer(L, "disturbed", disturbed);
    set_integer(L, "touches", touches);
    set_integer(L, "settings", settings);
}

static void push_step(lua_State *L, const struct plan_step *step)
{
    static const enum object_kind kinds[] = { [SUBJECT_FIXTURE] = OBJECT_FIXTURE, [SUBJECT_SHOW] = OBJECT_SHOW, [SUBJECT_SITE] = OBJECT_SITE,
                                              [SUBJECT_TRANSMITTER] = OBJECT_TRANSMITTER, [SUBJECT_TYPE] = OBJECT_TYPE,
                                              [SUBJECT_UNIVERSE] = OBJECT_UNIVERSE };
    bool new = step->subject.kind == SUBJECT_UNIVERSE && step->subject.index >= show_of(L)->universe_count;
    lua_createtable(L, 0, 8);
    set_text(L, "action", step->clear ? "clear" : "set");
    set_text(L, "kind", subject_kind_name(step->subject.kind));
    set_text(L, "field", step->field);
    set_value(L, "from", &step->from);
    set_value(L, "to", &step->to);
    set_text(L, "why", step->why);
    if (new) {
        set_integer(L, "id", step->id);
        return;
    }
    object__push(L, (struct object){ .kind = kinds[step->subject.kind], .index = step->subject.index });
    lua_getfield(L, -1, "id");
    lua_setfield(L, -3, "id");
    lua_setfield(L, -2, "subject");
}

static void push_steps(lua_State *L, const struct plan *plan)
{
    lua_createtable(L, (int)plan->step_count, 0);
    for (uint32_t i = 0; i < plan->step_count; i++) {
        push_step(L, &plan->steps[i]);
        lua_rawseti(L, -2, (lua_Integer)i + 1);
        if (i % CHECK_EVERY == 0)
            host_check(L, interp_of(L)->host);
    }
}

static void push_fixtures(lua_State *L, const uint32_t *indexes, uint32_t count)
{
    lua_createtable(L, (int)count, 0);
    for (uint32_t i = 0; i < count; i++) {
        object__push_index(L, OBJECT_FIXTURE, indexes[i]);
        lua_rawseti(L, -2, (lua_Integer)i + 1);
    }
}

static void push_touched(lua_State *L, const struct plan *plan)
{
    push_fixtures(L, plan->touched, plan->touched_count);
}

static void push_dark(lua_State *L, const struct plan *plan)
{
    push_fixtures(L, plan->darkened, plan->darkened_count);
}

static void push_disturbed(lua_State *L, const struct plan *plan)
{
    push_fixtures(L, plan->disturbed_fixtures, plan->disturbed_count);
}

static void push_failing(lua_State *L, const struct plan *plan)
{
    push_fixtures(L, plan->failing, plan->failing_count);
}

static void push_universes_dark(lua_State *L, const struct plan *plan)
{
    lua_createtable(L, (int)plan->universes_dark_count, 0);
    for (uint32_t i = 0; i < plan->universes_dark_count; i++) {
        lua_pushinteger(L, plan->universes_dark[i]);
        lua_rawseti(L, -2, (lua_Integer)i + 1);
    }
}

/* why_dark[i] is the reason of fixtures_dark[i]; "" where there is none. */
static void push_why_dark(lua_State *L, const struct plan *plan)
{
    char clean[FINDING_OCTETS + 1];
    lua_createtable(L, (int)plan->darkened_count, 0);
    for (uint32_t i = 0; i < plan->darkened_count; i++) {
        const char *why = plan->dark_whys && plan->dark_whys[i] ? plan->dark_whys[i] : "";
        text__clean(clean, sizeof clean, why, strlen(why));
        lua_pushstring(L, clean);
        lua_rawseti(L, -2, (lua_Integer)i + 1);
    }
}

/* Lost transmitters that go off the air. Their steps come first, those of one together. */
static void push_out(lua_State *L, const struct plan *plan)
{
    lua_Integer count = 0;
    lua_createtable(L, 0, 0);
    for (uint32_t i = 0; i < plan->step_count && plan->steps[i].clear; i++) {
        if (i > 0 && plan->steps[i].subject.index == plan->steps[i - 1].subject.index)
            continue;
        object__push_index(L, OBJECT_TRANSMITTER, plan->steps[i].subject.index);
        lua_rawseti(L, -2, ++count);
    }
}

/* Those that are set up anew, each once; lost ones that are cleared do not count. Steps of one stand together. */
static void push_transmitters(lua_State *L, const struct plan *plan)
{
    uint32_t last = SHOW_UNKNOWN;
    lua_Integer count = 0;
    lua_createtable(L, 0, 0);
    for (uint32_t i = 0; i < plan->step_count; i++) {
        const struct plan_step *step = &plan->steps[i];
        if (step->clear || step->subject.kind != SUBJECT_TRANSMITTER || step->subject.index == last)
            continue;
        last = step->subject.index;
        object__push_index(L, OBJECT_TRANSMITTER, last);
        lua_rawseti(L, -2, ++count);
    }
}

static const struct plan_list { const char *key; void (*push)(lua_State *L, const struct plan *plan); } lists[] = {
    { "steps", push_steps }, { "out", push_out }, { "transmitters", push_transmitters },
    { "fixtures_touched", push_touched }, { "fixtures_dark", push_dark },
    { "fixtures_disturbed", push_disturbed }, { "why_dark", push_why_dark },
    { "fixtures_failing", push_failing }, { "universes_dark", push_universes_dark },
};
#define LISTS (sizeof lists / sizeof *lists)

static void push_numbers(lua_State *L, const struct plan *plan)
{
    static const char *const kinds[] = { [PLAN_PATCH] = "patch", [PLAN_SWAP] = "swap", [PLAN_MOVE] = "move" };
    const struct plan *quiet = plan->undisturbing;
    lua_createtable(L, 0, 16);
    set_text(L, "kind", kinds[plan->kind]);
    set_cost(L, plan->dark, plan->disturbed, plan->touches, plan->settings);
    set_integer(L, "lost", plan->lost);
    lua_pushboolean(L, plan->proved);
    lua_setfield(L, -2, "proved");
    set_text(L, "refused", plan->refused);
    set_text(L, "rule", plan->refused ? plan->refused_rule : NULL);
    if (plan->has_bins) {
        set_integer(L, "universes", plan->universes);
        set_integer(L, "universes_at_least", plan->universes_at_least);
    } else if (!plan->proved) {
        lua_createtable(L, 0, 4);
        set_cost(L, plan->dark_at_least, plan->disturbed_at_least, plan->touches_at_least, plan->settings_at_least);
        lua_setfield(L, -2, "at_least");
    }
    if (quiet) {
        lua_createtable(L, 0, 4);
        set_cost(L, quiet->dark, quiet->disturbed, quiet->touches, quiet->settings);
        lua_setfield(L, -2, "undisturbing");
    }
}

void plan__push(lua_State *L, const struct plan *plan)
{
    luaL_checkstack(L, 12, NULL);
    push_numbers(L, plan);
    for (size_t i = 0; i < LISTS; i++) {
        lists[i].push(L, plan);
        lua_setfield(L, -2, lists[i].key);
    }
}

/* ---- plans whose lists are made when they are first asked for: a policy gets many and looks at few ---- */

/* What a plan has only now and then: nil is an answer. */
static const char *const numbers[] = { "kind", "dark", "disturbed", "touches", "settings", "lost", "proved", "at_least", "undisturbing",
                                       "refused", "rule", "universes", "universes_at_least" };

/* A key that no plan has is a slip of the script. */
static int no_key(lua_State *L)
{
    char typed[80];
    struct near near;
    near__begin(&near, near__key(L, 2, typed, sizeof typed));
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
        near__try(&near, numbers[i]);
    for (size_t i = 0; i < LISTS; i++)
        near__try(&near, lists[i].key);
    return luaL_error(L, "a plan has no '%s'%s", typed, near__text(&near));
}

/* __index of a plan: make the list and keep it. Upvalue: the plan. */
static int lazy_index(lua_State *L)
{
    const struct plan *plan = lua_touserdata(L, lua_upvalueindex(1));
    const char *key = lua_type(L, 2) == LUA_TSTRING ? lua_tostring(L, 2) : "";
    for (size_t i = 0; i < LISTS; i++)
        if (!strcmp(lists[i].key, key)) {
            luaL_checkstack(L, 12, NULL);
            lists[i].push(L, plan);
            lua_pushvalue(L, -1);
            lua_setfield(L, 1, key);
            return 1;
        }
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++)
        if (!strcmp(numbers[i], key))
            return 0;
    return no_key(L);
}

static void push_closure(lua_State *L, lua_CFunction function, const struct plan *plan, const char *key)
{
    lua_pushlightuserdata(L, (void *)plan);
    lua_pushcclosure(L, function, 1);
    lua_setfield(L, -2, key);
}

/* Push a metatable without __pairs. */
static void push_strict(lua_State *L, const struct plan *plan)
{
    lua_createtable(L, 0, 3);
    push_closure(L, lazy_index, plan, "__index");
    lua_pushboolean(L, false);
    lua_setfield(L, -2, "__metatable");
}

/* __pairs: make what is not there yet; from then on it is walked as any table. Upvalue: the plan. */
static int lazy_pairs(lua_State *L)
{
    const struct plan *plan = lua_touserdata(L, lua_upvalueindex(1));
    luaL_checkstack(L, 12, NULL);
    for (size_t i = 0; i < LISTS; i++) {
        lua_pushstring(L, lists[i].key);
        if (lua_rawget(L, 1) == LUA_TNIL) {
            lists[i].push(L, plan);
            lua_setfield(L, 1, lists[i].key);
        }
        lua_pop(L, 1);
    }
    push_strict(L, plan);
    lua_setmetatable(L, 1);
    return order__pairs(L);
}

void plan__push_lazy(lua_State *L, const struct plan *plan)
{
    luaL_checkstack(L, 12, NULL);
    push_numbers(L, plan);
    push_strict(L, plan);
    push_closure(L, lazy_pairs, plan, "__pairs");
    lua_setmetatable(L, -2);
}
