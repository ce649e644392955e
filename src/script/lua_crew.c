/* crew: ask and say. */
#include <stdio.h>
#include <string.h>

#include "lua_internal.h"

int crew__push_answer(lua_State *L, const struct host_resume *resume)
{
    static const char *const words[] = { [CREW_YES] = "yes", [CREW_NO] = "no", [CREW_SKIP] = "skip" };
    lua_pushstring(L, words[resume->answer <= CREW_SKIP ? resume->answer : CREW_SKIP]);
    lua_pushlstring(L, resume->note, strnlen(resume->note, sizeof resume->note));
    return 2;
}

/* crew.ask(fixture | cell | nil, question) -> "yes" | "no" | "skip", note. All tracks stand still until the answer; it
 * sets the deadline of this one. */
static int ask(lua_State *L)
{
    struct interp *interp = interp_of(L);
    if (interp->phase == PHASE_RUNNING && interp->about.kind == SCRIPT_SWAP)
        luaL_error(L, "crew.ask() belongs to sequences; a swap policy has ask(question)");
    struct track *track = sequence__track(L, "crew.ask");
    struct host_resume resume;
    char question[QUESTION_OCTETS + 1];
    uint32_t fixture = SHOW_UNKNOWN;
    size_t length = 0;
    if (!lua_isnil(L, 1)) {
        struct object o = object__check(L, 1, KIND(FIXTURE) | KIND(CELL));
        fixture = o.index;
        if (o.kind == OBJECT_CELL)
            length = (size_t)snprintf(question, sizeof question, "cell %u: ", o.cell);
    }
    length += text__check(L, 2, question + length, sizeof question - length);
    memset(&resume, 0, sizeof resume);
    host_ask(interp->host, fixture, question, length, &resume);
    sequence__answered(interp, track, resume.now_ns);
    return crew__push_answer(L, &resume);
}

/* crew.say(text): a line for the crew, at the time of the run */
static int say(lua_State *L)
{
    char text[LINE_OCTETS + 1];
    sequence__check(L, "crew.say");
    size_t length = text__check(L, 1, text, sizeof text);
    host_queue_say(interp_of(L)->host, text, length);
    return 0;
}

void crew__open(lua_State *L)
{
    static const luaL_Reg functions[] = { { "ask", ask }, { "say", say }, { NULL, NULL } };
    lua_createtable(L, 0, 2);
    sandbox__functions(L, functions);
    sandbox__strict(L, "crew");
}
