/* The counted matching of Lua patterns: shared by lua_match.c (the matching) and lua_pattern.c (the functions of the
 * string library). */
#ifndef RIGCALL_LUA_MATCH_H
#define RIGCALL_LUA_MATCH_H

#include "lua_internal.h"

#define MATCH_CAPTURES 32
#define MATCH_OPEN (-1)              /* length of a capture that is not closed */
#define MATCH_POSITION (-2)          /* of a position capture */
#define MATCH_ESCAPE '%'

struct matcher {
    lua_State *L;
    struct host *host;
    const char *source, *source_end, *pattern_end;
    uint32_t steps, check_at;
    int depth, level;
    struct { const char *start; ptrdiff_t length; } captures[MATCH_CAPTURES];
};

void match__prepare(struct matcher *m, lua_State *L, const char *source, size_t length, const char *pattern,
                    size_t pattern_length);
/** Match the pattern from p at s alone. Raises for a malformed pattern, for one too costly, and when a limit of the host is
 * passed. @return the end of the match, its captures in m, or NULL */
const char *match__at(struct matcher *m, const char *s, const char *p);
/** Count steps towards the budget. */
void match__count(struct matcher *m, size_t steps);

#endif
