/* What swap policies say: questions, then one decision. choose() and refuse() note it; when run has ended it is sent. */
#include <stdio.h>
#include <string.h>

#include "lua_internal.h"

/* Only inside run of a swap policy, and only before it has decided. */
static struct interp *check_swap(lua_State *L, const char *function)
{
    struct interp *interp = interp_of(L);
    const struct verdict *verdict = &interp->verdict;
    if (interp->phase == PHASE_LOADING)
        luaL_error(L, "%s() works only inside run, not while the file loads", function);
    if (interp->about.kind != SCRIPT_SWAP)
        luaL_error(L, "%s() belongs to swap policies; this script is a %s", function, lua__kind_names[interp->about.kind]);
    if (verdict->made && verdict->plan)
        luaL_error(L, "%s() after choose(%d): a policy decides once, and last", function, (int)verdict->plan);
    if (verdict->made)
        luaL_error(L, "%s() after refuse(): a policy decides once, and last", function);
    return interp;
}

/* -> true, so that `answer == "yes" and choose(1) or refuse("…")` says one of them. */
static int decide(lua_State *L, struct interp *interp, uint32_t plan, const char *why)
{
    interp->verdict.made = true;
    interp->verdict.plan = plan;
    snprintf(interp->verdict.why, sizeof interp->verdict.why, "%s", why);
    lua_pushboolean(L, true);
    return 1;
}

/* choose(n, why?): take plan n. -> true */
static int choose(lua_State *L)
{
    struct interp *interp = check_swap(L, "choose");
    char why[LINE_OCTETS + 1] = "";
    lua_Integer plan = luaL_checkinteger(L, 1), count = interp->host->plan_count;
    if (plan < 1 || plan > count)
        luaL_argerror(L, 1, count == 1 ? lua_pushfstring(L, "there is no plan %I, only plan 1", (LUAI_UACINT)plan)
                                       : lua_pushfstring(L, "there is no plan %I, only 1 to %I", (LUAI_UACINT)plan, (LUAI_UACINT)count));
    if (!lua_isnoneornil(L, 2))
        text__check(L, 2, why, sizeof why);
    return decide(L, interp, (uint32_t)plan, why);
}

/* refuse(why): take none. -> true */
static int refuse(lua_State *L)
{
    struct interp *interp = check_swap(L, "refuse");
    char why[LINE_OCTETS + 1];
    text__check(L, 1, why, sizeof why);
    return decide(L, interp, 0, why);
}

/* ask(question) -> "yes", "no" or "skip"; a note, "" when there is none */
static int ask(lua_State *L)
{
    struct interp *interp = check_swap(L, "ask");
    struct host_resume resume;
    char question[QUESTION_OCTETS + 1];
    size_t length = text__check(L, 1, question, sizeof question);
    if (interp->questions++ >= QUESTIONS)
        luaL_error(L, "ask() more than %d times", QUESTIONS);
    host_check(L, interp->host);
    host_ask(interp->host, SHOW_UNKNOWN, question, length, &resume);
    return crew__push_answer(L, &resume);
}

void swap__open(lua_State *L)
{
    static const luaL_Reg functions[] = { { "choose", choose }, { "refuse", refuse }, { "ask", ask }, { NULL, NULL } };
    sandbox__functions(L, functions);
}

void swap__run(lua_State *L)
{
    const struct interp *interp = interp_of(L);
    const struct host *host = interp->host;
    lua_createtable(L, (int)host->plan_count, 0);
    for (uint32_t i = 0; i < host->plan_count; i++) {
        plan__push_lazy(L, host->plans[i]);
        lua_rawseti(L, -2, (lua_Integer)i + 1);
    }
    lua_insert(L, -2);               /* run, plans, p */
    lua_call(L, 2, 0);
    if (!interp->verdict.made)
        luaL_error(L, "%s: run ended without choose(n) or refuse(why)", interp->chunk + 1);
}
