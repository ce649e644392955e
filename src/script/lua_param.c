/* Parameters of a script: their definitions, defaults, and --set P=V. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lua_internal.h"

#define PARAMS_LIMIT 32
#define WHOLE_LIMIT 9007199254740992.0       /* 2^53: integers beyond are not exact as numbers */
#define SET_OCTETS 1000
#define NAME_CHARACTERS "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_"

static const char *const type_names[] = { "number", "integer", "text", "boolean", "choice", NULL };
static const char *const key_names[] = { "unit", "min", "max", "default", "help", "choices", NULL };

/* Where a definition stands, for messages. */
struct place { lua_State *L; const char *file, *name; };

static int wrong(const struct place *place, const char *key, const char *expected)
{
    return luaL_error(place->L, "%s: param %s: %s is wrong; expected %s", place->file, place->name, key, expected);
}

static int get(lua_State *L, const char *key)
{
    lua_pushstring(L, key);
    return lua_rawget(L, -2);
}

/* Octets without control characters and without NUL that are UTF-8. */
static bool plain_text(const char *text, size_t length)
{
    char clean[SET_OCTETS + 1];
    return strlen(text) == length && length <= SET_OCTETS && text__clean(clean, sizeof clean, text, length) == length
        && strcmp(clean, text) == 0;
}

static void read_text(const struct place *place, const char *key, char *out, size_t size)
{
    lua_State *L = place->L;
    char expected[60];
    if (get(L, key) != LUA_TNIL) {
        size_t length = 0;
        const char *text = lua_type(L, -1) == LUA_TSTRING ? lua_tolstring(L, -1, &length) : NULL;
        snprintf(expected, sizeof expected, "text of at most %zu octets", size - 1);
        if (!text || length >= size || !plain_text(text, length))
            wrong(place, key, expected);
        memcpy(out, text, length + 1);
    }
    lua_pop(L, 1);
}

static double read_number(const struct place *place, const char *key)
{
    lua_State *L = place->L;
    double number = NAN;
    if (get(L, key) != LUA_TNIL) {
        number = lua_type(L, -1) == LUA_TNUMBER ? lua_tonumber(L, -1) : NAN;
        if (!isfinite(number))
            wrong(place, key, "a number");
    }
    lua_pop(L, 1);
    return number;
}

static void read_choices(const struct place *place, struct script_param *param)
{
    static const char expected[] = "an array of words of A-Z a-z 0-9 _ . -, together at most 160 octets";
    lua_State *L = place->L;
    size_t at = 0;
    int type = get(L, "choices");
    if ((type == LUA_TTABLE) != (param->type == PARAM_CHOICE))
        wrong(place, "choices", param->type == PARAM_CHOICE ? expected : "no choices but for a \"choice\"");
    for (lua_Integer i = 1; type == LUA_TTABLE && lua_rawgeti(L, -1, i) != LUA_TNIL; i++) {
        size_t length = 0;
        const char *word = lua_type(L, -1) == LUA_TSTRING ? lua_tolstring(L, -1, &length) : "";
        if (length == 0 || length != strspn(word, NAME_CHARACTERS ".-")
            || at + length + 2 > sizeof param->choices)
            wrong(place, "choices", expected);
        at += (size_t)snprintf(param->choices + at, sizeof param->choices - at, "%s%s", at ? " " : "", word);
        lua_pop(L, 1);
    }
    if (type == LUA_TTABLE && at == 0)
        wrong(place, "choices", expected);
    lua_settop(L, type == LUA_TTABLE ? -3 : -2);             /* the nil that ended the list, and choices */
}

static bool is_choice(const struct script_param *param, const char *word)
{
    size_t length = strlen(word);
    for (const char *at = param->choices; length && *at; at += strcspn(at, " "), at += *at == ' ')
        if (strcspn(at, " ") == length && memcmp(at, word, length) == 0)
            return true;
    return false;
}

/* Whether the value at the top is one the parameter may have. */
static bool good_value(lua_State *L, const struct script_param *param)
{
    size_t length;
    double number;
    int whole;
    switch (param->type) {
    case PARAM_NUMBER:
    case PARAM_INTEGER:
        if (lua_type(L, -1) != LUA_TNUMBER)
            return false;
        number = lua_tonumber(L, -1);
        lua_tointegerx(L, -1, &whole);
        return isfinite(number) && !(number < param->least) && !(number > param->most)
            && (param->type == PARAM_NUMBER || (whole && fabs(number) <= WHOLE_LIMIT));
    case PARAM_BOOLEAN:
        return lua_isboolean(L, -1);
    default:
        if (lua_type(L, -1) != LUA_TSTRING)
            return false;
        const char *text = lua_tolstring(L, -1, &length);
        return param->type == PARAM_CHOICE ? is_choice(param, text) : plain_text(text, length);
    }
}

/* "a number from 0 to 10", for messages. */
static const char *describe(const struct script_param *param, char *out, size_t size)
{
    static const char *const words[] = { "a number", "a whole number", "text", "true or false", "one of: " };
    int at = snprintf(out, size, "%s", words[param->type]);
    size_t used = (size_t)at;
    if (!isnan(param->least))
        used += (size_t)snprintf(out + used, size - used, " from %.10g", param->least);
    if (!isnan(param->most))
        used += (size_t)snprintf(out + used, size - used, " up to %.10g", param->most);
    if (param->type == PARAM_CHOICE)
        snprintf(out + used, size - used, "%s", param->choices);
    return out;
}

/* The value at the top as --set would spell it. */
static void spell(lua_State *L, char *out, size_t size)
{
    if (lua_isboolean(L, -1)) {
        snprintf(out, size, "%s", lua_toboolean(L, -1) ? "true" : "false");
    } else if (lua_type(L, -1) == LUA_TNUMBER && !lua_isinteger(L, -1)) {
        double number = lua_tonumber(L, -1);
        for (int digits = 1; digits <= 17; digits++) {       /* the shortest that reads back as the same number */
            snprintf(out, size, "%.*g", digits, number);
            if (strtod(out, NULL) == number)
                break;
        }
    } else {
        lua_pushvalue(L, -1);
        snprintf(out, size, "%s", lua_tostring(L, -1));
        lua_pop(L, 1);
    }
}

static bool known_key(lua_State *L, const char *key)
{
    bool known = lua_isinteger(L, -2) && lua_tointeger(L, -2) == 1;
    for (unsigned k = 0; lua_type(L, -2) == LUA_TSTRING && key_names[k]; k++)
        known = known || strcmp(key_names[k], key) == 0;
    return known;
}

/* Of several unknown keys the first by octets is named, so that two runs say the same. */
static void check_keys(const struct place *place)
{
    lua_State *L = place->L;
    char key[80], worst[80] = "";
    struct near near;
    bool bad = false;
    for (lua_pushnil(L); lua_next(L, -2); lua_pop(L, 1)) {
        near__key(L, -2, key, sizeof key);
        if (known_key(L, key))
            continue;
        if (!bad || strcmp(key, worst) < 0)
            memcpy(worst, key, sizeof worst);
        bad = true;
    }
    if (!bad)
        return;
    near__begin(&near, worst);
    for (unsigned k = 0; key_names[k]; k++)
        near__try(&near, key_names[k]);
    luaL_error(L, "%s: param %s has no key '%s'%s", place->file, place->name, worst, near__text(&near));
}

static void read_type(const struct place *place, struct script_param *param)
{
    lua_State *L = place->L;
    unsigned t = 0;
    lua_rawgeti(L, -1, 1);
    const char *type = lua_type(L, -1) == LUA_TSTRING ? lua_tostring(L, -1) : "";
    while (type_names[t] && strcmp(type_names[t], type) != 0)
        t++;
    if (!type_names[t])
        wrong(place, "its type", "\"number\", \"integer\", \"text\", \"boolean\" or \"choice\" as first value");
    param->type = t;
    lua_pop(L, 1);
}

static void read_range(const struct place *place, struct script_param *param)
{
    param->least = read_number(place, "min");
    param->most = read_number(place, "max");
    bool given = !isnan(param->least) || !isnan(param->most);
    if (given && param->type != PARAM_NUMBER && param->type != PARAM_INTEGER)
        wrong(place, "min or max", "none but for numbers");
    if (param->least > param->most)
        wrong(place, "max", "a number not under min");
}

static void read_default(const struct place *place, int values, struct script_param *param)
{
    lua_State *L = place->L;
    char text[240];
    if (get(L, "default") != LUA_TNIL) {
        if (!good_value(L, param))
            wrong(place, "default", describe(param, text, sizeof text));
        if (lua_type(L, -1) == LUA_TSTRING && lua_rawlen(L, -1) >= sizeof param->default_text)
            wrong(place, "default", "text of at most 160 octets");
        spell(L, param->default_text, sizeof param->default_text);
        lua_pushvalue(L, -1);
        lua_setfield(L, values, param->name);
    }
    lua_pop(L, 1);
}

/* Read one definition, the table at the top; its default goes into the table at `values`. */
static void read_param(const struct place *place, int values, struct script_param *param)
{
    snprintf(param->name, sizeof param->name, "%s", place->name);
    check_keys(place);
    read_type(place, param);
    read_text(place, "unit", param->unit, sizeof param->unit);
    read_text(place, "help", param->help, sizeof param->help);
    read_range(place, param);
    read_choices(place, param);
    read_default(place, values, param);
}

static int compare_names(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* The keys of the table at the top, sorted. They live as long as the table. @return how many */
static uint32_t read_names(lua_State *L, const char *file, const char *names[PARAMS_LIMIT])
{
    uint32_t count = 0;
    for (lua_pushnil(L); lua_next(L, -2); lua_pop(L, 1)) {
        char key[80];
        size_t length = 0;
        const char *name = lua_type(L, -2) == LUA_TSTRING ? lua_tolstring(L, -2, &length) : "";
        if (length == 0 || length > 32 || strspn(name, NAME_CHARACTERS) != length || (name[0] >= '0' && name[0] <= '9'))
            luaL_error(L, "%s: param name '%s' is not 1 to 32 of a-z A-Z 0-9 _", file, near__key(L, -2, key, sizeof key));
        if (!lua_istable(L, -1))
            luaL_error(L, "%s: param %s is a %s; expected a table { \"number\", ... }", file, name, luaL_typename(L, -1));
        if (count == PARAMS_LIMIT)
            luaL_error(L, "%s: more than %d params", file, PARAMS_LIMIT);
        names[count++] = name;
    }
    qsort(names, count, sizeof *names, compare_names);
    return count;
}

void param__read(lua_State *L, int definition, const char *file, struct script_about *about)
{
    const char *names[PARAMS_LIMIT];
    lua_newtable(L);
    int values = lua_gettop(L);
    lua_pushvalue(L, definition);
    int type = get(L, "params");
    if (type != LUA_TNIL && type != LUA_TTABLE)
        luaL_error(L, "%s: params is a %s; expected a table", file, luaL_typename(L, -1));
    if (type == LUA_TTABLE) {
        uint32_t count = read_names(L, file, names);
        for (uint32_t i = 0; i < count; i++) {
            struct place place = { L, file, names[i] };
            get(L, names[i]);
            read_param(&place, values, &about->params[i]);
            lua_pop(L, 1);
        }
        about->param_count = count;
    }
    lua_settop(L, values);
}

/* ---- --set ---- */

static const struct script_param *find_param(lua_State *L, const char *name)
{
    const struct script_about *about = &interp_of(L)->about;
    char typed[80];
    struct near near;
    for (uint32_t i = 0; i < about->param_count; i++)
        if (strcmp(about->params[i].name, name) == 0)
            return &about->params[i];
    text__clean(typed, sizeof typed, name, strlen(name));
    near__begin(&near, typed);
    for (uint32_t i = 0; i < about->param_count; i++)
        near__try(&near, about->params[i].name);
    luaL_error(L, "--set %s: script %s has no such parameter%s", typed, about->name, near__text(&near));
    return NULL;                     /* not reached */
}

/* Push the value that a --set spells. */
static void push_set(lua_State *L, const struct script_param *param, const char *text)
{
    if (param->type == PARAM_BOOLEAN && (strcmp(text, "true") == 0 || strcmp(text, "false") == 0))
        lua_pushboolean(L, text[0] == 't');
    else if ((param->type != PARAM_NUMBER && param->type != PARAM_INTEGER) || !lua_stringtonumber(L, text))
        lua_pushstring(L, text);     /* of the wrong type for a number: the check says so */
    if (param->type == PARAM_INTEGER && lua_type(L, -1) == LUA_TNUMBER && !lua_isinteger(L, -1)) {
        int whole;
        lua_Integer number = lua_tointegerx(L, -1, &whole);  /* 2.0 is 2 */
        if (whole) {
            lua_pushinteger(L, number);
            lua_replace(L, -2);
        }
    }
}

/* p.name of a name that is no parameter. Upvalue: none. */
static int unknown_param(lua_State *L)
{
    char key[80];
    const struct script_about *about = &interp_of(L)->about;
    struct near near;
    near__key(L, 2, key, sizeof key);
    near__begin(&near, key);
    for (uint32_t i = 0; i < about->param_count; i++) {
        if (strcmp(about->params[i].name, key) == 0)
            return 0;                /* it has no default and was not set */
        near__try(&near, about->params[i].name);
    }
    return luaL_error(L, "the script has no parameter '%s'%s", key, near__text(&near));
}

void param__apply(lua_State *L)
{
    struct interp *interp = interp_of(L);
    const struct host *host = interp->host;
    bool given[PARAMS_LIMIT] = { false };
    char text[240];
    interp->usage = true;
    for (size_t i = 0; i < host->set_count; i++) {
        const struct script_set *set = &host->sets[i];
        const struct script_param *param = find_param(L, set->name);
        if (given[param - interp->about.params])
            luaL_error(L, "--set %s is given twice", param->name);
        given[param - interp->about.params] = true;
        push_set(L, param, set->value);
        if (!good_value(L, param))
            luaL_error(L, "--set %s=%s: expected %s", param->name, set->value, describe(param, text, sizeof text));
        lua_setfield(L, -2, param->name);
    }
    interp->usage = false;
    lua_createtable(L, 0, 1);
    lua_pushcfunction(L, unknown_param);
    lua_setfield(L, -2, "__index");
    lua_setmetatable(L, -2);
}
