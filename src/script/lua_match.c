/* Matching of Lua patterns with a budget of steps. It follows Lua 5.4's lstrlib.c (Copyright 1994-2022 Lua.org, PUC-Rio,
 * MIT licence, the terms of this project's LICENSE), because scripts expect its answers; what is new is that every step
 * is counted: stock Lua runs a 26-character pattern for seconds in one C call, where no hook fires. */
#include <ctype.h>
#include <string.h>

#include "lua_match.h"

#define STEPS_LIMIT 10000000u        /* a call of find, match and gsub, or a round of gmatch */
#define STEPS_CHECK 16384u           /* steps between two looks at the limits of the host */
#define DEPTH 200

static const char *match(struct matcher *m, const char *s, const char *p);

void match__count(struct matcher *m, size_t steps)
{
    m->steps += steps > STEPS_LIMIT ? STEPS_LIMIT : (uint32_t)steps;
    if (m->steps < m->check_at)
        return;
    if (m->steps >= STEPS_LIMIT)
        luaL_error(m->L, "pattern too costly: more than %d steps", (int)STEPS_LIMIT);
    host_check(m->L, m->host);
    m->check_at = m->steps + STEPS_CHECK;
}

/* ---- single characters ---- */

static const char *class_end(struct matcher *m, const char *p)
{
    const char *start = p;
    if (*p++ == MATCH_ESCAPE) {
        if (p == m->pattern_end)
            luaL_error(m->L, "malformed pattern (ends with '%%')");
        return p + 1;
    }
    if (p[-1] != '[')
        return p;
    if (*p == '^')
        p++;
    do {
        if (p == m->pattern_end)
            luaL_error(m->L, "malformed pattern (missing ']')");
        if (*p++ == MATCH_ESCAPE && p < m->pattern_end)
            p++;
    } while (p == m->pattern_end || *p != ']');
    match__count(m, (size_t)(p - start) / 8);
    return p + 1;
}

static bool single_class(int c, int class)
{
    bool found;
    switch (tolower(class)) {
    case 'a': found = isalpha(c); break;
    case 'c': found = iscntrl(c); break;
    case 'd': found = isdigit(c); break;
    case 'g': found = isgraph(c); break;
    case 'l': found = islower(c); break;
    case 'p': found = ispunct(c); break;
    case 's': found = isspace(c); break;
    case 'u': found = isupper(c); break;
    case 'w': found = isalnum(c); break;
    case 'x': found = isxdigit(c); break;
    case 'z': found = c == 0; break;           /* of older Lua; its own still knows it */
    default: return class == c;
    }
    return isupper(class) ? !found : found;
}

/* p is at '[', end at its ']'. */
static bool in_set(struct matcher *m, int c, const char *p, const char *end)
{
    bool sense = true;
    if (p[1] == '^') {
        sense = false;
        p++;
    }
    while (++p < end) {
        match__count(m, 1);
        if (*p == MATCH_ESCAPE) {
            p++;
            if (single_class(c, (unsigned char)*p))
                return sense;
        } else if (p[1] == '-' && p + 2 < end) {
            p += 2;
            if ((unsigned char)p[-2] <= c && c <= (unsigned char)*p)
                return sense;
        } else if ((unsigned char)*p == c) {
            return sense;
        }
    }
    return !sense;
}

static bool single_match(struct matcher *m, const char *s, const char *p, const char *end)
{
    if (s >= m->source_end)
        return false;
    int c = (unsigned char)*s;
    match__count(m, 1);
    switch (*p) {
    case '.':    return true;
    case MATCH_ESCAPE: return single_class(c, (unsigned char)p[1]);
    case '[':    return in_set(m, c, p, end - 1);
    default:     return (unsigned char)*p == c;
    }
}

/* ---- items ---- */

static const char *match_balance(struct matcher *m, const char *s, const char *p)
{
    if (p >= m->pattern_end - 1)
        luaL_error(m->L, "malformed pattern (missing arguments to '%%b')");
    if (s >= m->source_end || *s != *p)
        return NULL;
    int depth = 1, open = *p, close = p[1];
    while (++s < m->source_end) {
        match__count(m, 1);
        if (*s == close) {
            if (--depth == 0)
                return s + 1;
        } else if (*s == open) {
            depth++;
        }
    }
    return NULL;
}

static const char *max_expand(struct matcher *m, const char *s, const char *p, const char *end)
{
    ptrdiff_t i = 0;
    while (single_match(m, s + i, p, end))
        i++;
    for (; i >= 0; i--) {
        const char *found = match(m, s + i, end + 1);
        if (found)
            return found;
    }
    return NULL;
}

static const char *min_expand(struct matcher *m, const char *s, const char *p, const char *end)
{
    for (;;) {
        const char *found = match(m, s, end + 1);
        if (found)
            return found;
        if (!single_match(m, s, p, end))
            return NULL;
        s++;
    }
}

static const char *start_capture(struct matcher *m, const char *s, const char *p, ptrdiff_t what)
{
    if (m->level >= MATCH_CAPTURES)
        luaL_error(m->L, "too many captures");
    m->captures[m->level].start = s;
    m->captures[m->level].length = what;
    m->level++;
    const char *found = match(m, s, p);
    if (!found)
        m->level--;
    return found;
}

static const char *end_capture(struct matcher *m, const char *s, const char *p)
{
    int l = m->level - 1;
    while (l >= 0 && m->captures[l].length != MATCH_OPEN)
        l--;
    if (l < 0)
        luaL_error(m->L, "invalid pattern capture");
    m->captures[l].length = s - m->captures[l].start;
    const char *found = match(m, s, p);
    if (!found)
        m->captures[l].length = MATCH_OPEN;
    return found;
}

static const char *match_capture(struct matcher *m, const char *s, int digit)
{
    int l = digit - '1';
    if (l < 0 || l >= m->level || m->captures[l].length == MATCH_OPEN)
        luaL_error(m->L, "invalid capture index %%%d", l + 1);
    if (m->captures[l].length == MATCH_POSITION)
        return NULL;                 /* a position has no text to repeat */
    size_t length = (size_t)m->captures[l].length;
    match__count(m, 1 + length / 16);
    if ((size_t)(m->source_end - s) >= length && memcmp(m->captures[l].start, s, length) == 0)
        return s + length;
    return NULL;
}

static bool at_frontier(struct matcher *m, const char *s, const char *p, const char *end)
{
    int before = s == m->source ? 0 : (unsigned char)s[-1];
    int here = s == m->source_end ? 0 : (unsigned char)*s;
    return !in_set(m, before, p, end - 1) && in_set(m, here, p, end - 1);
}

/* A single character with an optional repetition. *s and *p move on when the caller is to go on with the rest.
 * @return true to go on, false when *result is final */
static bool match_default(struct matcher *m, const char **s, const char **p, const char **result)
{
    const char *end = class_end(m, *p);
    char repeat = end < m->pattern_end ? *end : '\0';
    *result = NULL;
    if (!single_match(m, *s, *p, end)) {
        if (repeat != '*' && repeat != '?' && repeat != '-')
            return false;
        *p = end + 1;
        return true;
    }
    switch (repeat) {
    case '?':
        *result = match(m, *s + 1, end + 1);
        if (*result)
            return false;
        *p = end + 1;
        return true;
    case '+':
        *result = max_expand(m, *s + 1, *p, end);
        return false;
    case '*':
        *result = max_expand(m, *s, *p, end);
        return false;
    case '-':
        *result = min_expand(m, *s, *p, end);
        return false;
    default:
        (*s)++;
        *p = end;
        return true;
    }
}

/* An item that begins with the escape. As match_default(). */
static bool match_escape(struct matcher *m, const char **s, const char **p, const char **result)
{
    int item = *p + 1 < m->pattern_end ? (unsigned char)(*p)[1] : 0;
    if (item == 'b') {
        *s = match_balance(m, *s, *p + 2);
        *p += 4;
    } else if (item == 'f') {
        *p += 2;
        if (*p >= m->pattern_end || **p != '[')
            luaL_error(m->L, "missing '[' after '%%f' in pattern");
        const char *end = class_end(m, *p);
        if (!at_frontier(m, *s, *p, end))
            *s = NULL;
        *p = end;
    } else if (isdigit(item)) {
        *s = match_capture(m, *s, item);
        *p += 2;
    } else {
        return match_default(m, s, p, result);
    }
    *result = NULL;
    return *s != NULL;
}

/* @return end of the match of the pattern from p at s, or NULL */
static const char *match(struct matcher *m, const char *s, const char *p)
{
    const char *result = NULL;
    bool more = true;
    if (m->depth-- == 0)
        luaL_error(m->L, "pattern too complex");
    while (more) {
        match__count(m, 1);
        if (p == m->pattern_end) {
            result = s;
            break;
        }
        if (*p == '(') {
            bool position = p + 1 < m->pattern_end && p[1] == ')';
            result = position ? start_capture(m, s, p + 2, MATCH_POSITION) : start_capture(m, s, p + 1, MATCH_OPEN);
            more = false;
        } else if (*p == ')') {
            result = end_capture(m, s, p + 1);
            more = false;
        } else if (*p == '$' && p + 1 == m->pattern_end) {
            result = s == m->source_end ? s : NULL;
            more = false;
        } else if (*p == MATCH_ESCAPE) {
            more = match_escape(m, &s, &p, &result);
        } else {
            more = match_default(m, &s, &p, &result);
        }
    }
    m->depth++;
    return result;
}

void match__prepare(struct matcher *m, lua_State *L, const char *source, size_t length, const char *pattern,
                    size_t pattern_length)
{
    m->L = L;
    m->host = interp_of(L)->host;
    m->source = source;
    m->source_end = source + length;
    m->pattern_end = pattern + pattern_length;
    m->steps = 0;
    m->check_at = STEPS_CHECK;
}

const char *match__at(struct matcher *m, const char *s, const char *p)
{
    m->level = 0;
    m->depth = DEPTH;
    return match(m, s, p);
}
