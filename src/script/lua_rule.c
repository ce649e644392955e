/* What rules say: finding, fail, warn, note. */
#include <string.h>

#include "lua_internal.h"

static void check_rule(lua_State *L, const char *function)
{
    const struct interp *interp = interp_of(L);
    if (interp->phase == PHASE_LOADING)
        luaL_error(L, "%s() works only inside run, not while the file loads", function);
    if (interp->about.kind != SCRIPT_RULE)
        luaL_error(L, "%s() belongs to rules; this script is a %s", function, lua__kind_names[interp->about.kind]);
}

/* The others at arg: nothing, one object, or an array of objects. @return how many, at most FINDING_OTHERS */
static uint32_t read_others(lua_State *L, int arg, struct subject *others)
{
    if (lua_isnoneornil(L, arg))
        return 0;
    if (!lua_istable(L, arg)) {
        others[0] = object__subject(object__check(L, arg, KIND_ANY));
        return 1;
    }
    lua_Unsigned length = lua_rawlen(L, arg);
    uint32_t count = length > FINDING_OTHERS ? FINDING_OTHERS : (uint32_t)length;
    for (uint32_t i = 0; i < count; i++) {
        struct object o;
        lua_rawgeti(L, arg, (lua_Integer)i + 1);
        if (!object__at(L, -1, &o))
            luaL_argerror(L, arg, lua_pushfstring(L, "entry %d is a %s, not an object of the show", (int)i + 1,
                                                  luaL_typename(L, -1)));
        others[i] = object__subject(o);
        lua_pop(L, 1);
    }
    return count;
}

static int report(lua_State *L, const char *function, bool own, enum severity severity)
{
    struct interp *interp = interp_of(L);
    struct subject others[FINDING_OTHERS];
    char text[FINDING_OCTETS + 1];
    check_rule(L, function);
    struct subject subject = object__subject(object__check(L, 1, KIND_ANY));
    size_t length = text__check(L, 2, text, sizeof text);
    uint32_t count = read_others(L, 3, others);
    host_send_finding(interp->host, own ? interp->about.severity : severity, subject, others, count, text, length);
    host_check(L, interp->host);
    return 0;
}

/* finding(subject, text, others?): with the severity of the rule */
static int finding(lua_State *L)
{
    return report(L, "finding", true, SEVERITY_FAIL);
}

/* fail(subject, text, others?) */
static int fail(lua_State *L)
{
    return report(L, "fail", false, SEVERITY_FAIL);
}

/* warn(subject, text, others?) */
static int warn(lua_State *L)
{
    return report(L, "warn", false, SEVERITY_WARN);
}

/* note(subject, text, others?) */
static int note(lua_State *L)
{
    return report(L, "note", false, SEVERITY_NOTE);
}

void rule__open(lua_State *L)
{
    static const luaL_Reg functions[] = {
        { "finding", finding }, { "fail", fail }, { "warn", warn }, { "note", note }, { NULL, NULL }
    };
    sandbox__functions(L, functions);
}
