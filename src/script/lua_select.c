/* rig.fixtures{}, rig.transmitters{} and rig.universes{}: filters and their iterators. The keys of fixtures are those of
 * --where. */
#include <stdlib.h>
#include <string.h>

#include "lua_internal.h"
#include "rigcall/radio.h"

#define VALUES_LIMIT 4096            /* of all keys of one filter */
#define KEYS_LIMIT 8

enum value_type { VALUE_TEXT, VALUE_NUMBER, VALUE_FLAG };

/* One key of a filter: how an object answers it. Exactly one of text and number is set, but for tags. */
struct filter_key {
    const char *name;
    enum value_type type;
    enum object_kind object;         /* objects that may stand for their id; OBJECT_KINDS: none */
    const char *(*text)(const struct show *show, uint32_t index);
    int64_t (*number)(const struct show *show, uint32_t index);
};

struct value { const char *text; int64_t from, to; };
struct clause { const struct filter_key *key; uint32_t first, count; };

/* The state of an iterator: Lua owns it, and a table beside it anchors the texts. */
struct walk {
    enum object_kind kind;
    const uint32_t *list;            /* NULL: indexes 0..count-1 */
    uint32_t at, count;
    bool where;
    unsigned clause_count;
    struct clause clauses[KEYS_LIMIT];
    struct value values[];
};

static int64_t fixture_id(const struct show *s, uint32_t i) { return s->fixtures[i].id; }
static int64_t fixture_universe(const struct show *s, uint32_t i) { return s->fixtures[i].universe; }
static const char *fixture_name(const struct show *s, uint32_t i) { return s->fixtures[i].name; }
static const char *fixture_type_id(const struct show *s, uint32_t i) { return s->fixtures[i].type; }
static const char *fixture_mode_id(const struct show *s, uint32_t i) { return s->fixtures[i].mode; }
static const char *fixture_site(const struct show *s, uint32_t i) { return s->fixtures[i].site; }
static const char *fixture_transmitter(const struct show *s, uint32_t i)
{
    uint32_t t = radio_transmitter_of(s, &s->fixtures[i]);
    return t == SHOW_UNKNOWN ? NULL : s->transmitters[t].id;
}
static const char *transmitter_id(const struct show *s, uint32_t i) { return s->transmitters[i].id; }
static const char *transmitter_site(const struct show *s, uint32_t i) { return s->transmitters[i].site; }
static const char *transmitter_code(const struct show *s, uint32_t i) { return s->transmitters[i].code; }
static const char *transmitter_air(const struct show *s, uint32_t i) { return air_name(s->transmitters[i].air); }
static int64_t transmitter_spare(const struct show *s, uint32_t i) { return s->transmitters[i].spare; }
static int64_t universe_id(const struct show *s, uint32_t i) { return s->universes[i].id; }

static const struct filter_key fixture_keys[] = {
    { "id", VALUE_NUMBER, OBJECT_FIXTURE, NULL, fixture_id },
    { "name", VALUE_TEXT, OBJECT_KINDS, fixture_name, NULL },
    { "type", VALUE_TEXT, OBJECT_TYPE, fixture_type_id, NULL },
    { "mode", VALUE_TEXT, OBJECT_KINDS, fixture_mode_id, NULL },
    { "site", VALUE_TEXT, OBJECT_SITE, fixture_site, NULL },
    { "tag", VALUE_TEXT, OBJECT_KINDS, NULL, NULL },
    { "universe", VALUE_NUMBER, OBJECT_UNIVERSE, NULL, fixture_universe },
    { "transmitter", VALUE_TEXT, OBJECT_TRANSMITTER, fixture_transmitter, NULL },
    { NULL, VALUE_TEXT, OBJECT_KINDS, NULL, NULL }
};
static const struct filter_key transmitter_keys[] = {
    { "id", VALUE_TEXT, OBJECT_TRANSMITTER, transmitter_id, NULL },
    { "site", VALUE_TEXT, OBJECT_SITE, transmitter_site, NULL },
    { "spare", VALUE_FLAG, OBJECT_KINDS, NULL, transmitter_spare },
    { "code", VALUE_TEXT, OBJECT_KINDS, transmitter_code, NULL },
    { "air", VALUE_TEXT, OBJECT_KINDS, transmitter_air, NULL },
    { NULL, VALUE_TEXT, OBJECT_KINDS, NULL, NULL }
};
static const struct filter_key universe_keys[] = {
    { "id", VALUE_NUMBER, OBJECT_UNIVERSE, NULL, universe_id },
    { NULL, VALUE_TEXT, OBJECT_KINDS, NULL, NULL }
};

/* ---- reading a filter ---- */

static bool read_range(const char *text, struct value *value)
{
    char *end;
    if (*text < '0' || *text > '9')
        return false;
    value->from = value->to = strtoll(text, &end, 10);       /* saturates; beyond any id of a file */
    if (*end == '-' && end[1] >= '0' && end[1] <= '9')
        value->to = strtoll(end + 1, &end, 10);
    return !*end && value->from <= value->to;
}

/* Read the value at the top of the stack and pop it; its text is kept in the table at `anchor`. */
static void read_value(lua_State *L, int anchor, const struct filter_key *key, struct value *value)
{
    static const char *const wanted[] = { "text", "a number or a range \"a-b\"", "true or false" };
    struct object o;
    bool good = false;
    if (key->type == VALUE_FLAG && lua_isboolean(L, -1)) {
        value->from = value->to = lua_toboolean(L, -1);
        good = true;
    } else if (key->object != OBJECT_KINDS && object__at(L, -1, &o) && o.kind == key->object) {
        lua_getfield(L, -1, "id");
        lua_replace(L, -2);
    }
    if (key->type == VALUE_NUMBER && lua_type(L, -1) == LUA_TNUMBER) {
        int whole;
        value->from = value->to = lua_tointegerx(L, -1, &whole);
        good = whole;
    } else if (key->type == VALUE_NUMBER && lua_type(L, -1) == LUA_TSTRING) {
        good = read_range(lua_tostring(L, -1), value);
    } else if (key->type == VALUE_TEXT && lua_type(L, -1) == LUA_TSTRING) {
        value->text = lua_tostring(L, -1);
        good = true;
    }
    if (!good) {
        char found[80];
        luaL_error(L, "filter '%s' is %s; expected %s, or an array of them", key->name, near__key(L, -1, found, sizeof found),
                   wanted[key->type]);
    }
    lua_rawseti(L, anchor, (lua_Integer)lua_rawlen(L, anchor) + 1);
}

static const struct filter_key *find_key(lua_State *L, const struct filter_key *keys, const char *function)
{
    char typed[80];
    struct near near;
    near__key(L, -2, typed, sizeof typed);
    for (const struct filter_key *key = keys; lua_type(L, -2) == LUA_TSTRING && key->name; key++)
        if (strcmp(key->name, typed) == 0)
            return key;
    near__begin(&near, typed);
    for (const struct filter_key *key = keys; key->name; key++)
        near__try(&near, key->name);
    near__try(&near, "where");
    luaL_error(L, "%s has no filter '%s'%s", function, typed, near__text(&near));
    return NULL;                     /* not reached */
}

static bool is_where(lua_State *L, int index)
{
    return lua_type(L, index) == LUA_TSTRING && strcmp(lua_tostring(L, index), "where") == 0;
}

/* Check the keys of the filter at 1 and count its values. */
static uint32_t count_values(lua_State *L, const struct filter_key *keys, const char *function)
{
    lua_Unsigned count = 0;
    for (lua_pushnil(L); lua_next(L, 1); lua_pop(L, 1)) {
        if (is_where(L, -2)) {
            if (!lua_isfunction(L, -1))
                luaL_error(L, "filter 'where' is %s; expected a function", luaL_typename(L, -1));
            continue;
        }
        find_key(L, keys, function);
        count += lua_istable(L, -1) ? lua_rawlen(L, -1) : 1;
        if (count > VALUES_LIMIT)
            luaL_error(L, "%s: more than %d values in a filter", function, VALUES_LIMIT);
    }
    return (uint32_t)count;
}

/* The key at -2 and value at -1 of the filter become a clause. */
static void read_clause(lua_State *L, int anchor, const struct filter_key *keys, const char *function, struct walk *walk,
                        uint32_t *used)
{
    struct clause *clause = &walk->clauses[walk->clause_count++];
    clause->key = find_key(L, keys, function);
    clause->first = *used;
    if (lua_istable(L, -1)) {
        lua_Integer length = (lua_Integer)lua_rawlen(L, -1);
        for (lua_Integer i = 1; i <= length; i++) {
            lua_rawgeti(L, -1, i);
            read_value(L, anchor, clause->key, &walk->values[(*used)++]);
        }
    } else {
        lua_pushvalue(L, -1);
        read_value(L, anchor, clause->key, &walk->values[(*used)++]);
    }
    clause->count = *used - clause->first;
}

/* ---- walking ---- */

static bool meets(const struct show *show, const struct walk *walk, const struct clause *clause, uint32_t index)
{
    const struct filter_key *key = clause->key;
    const struct value *value = &walk->values[clause->first], *end = value + clause->count;
    if (key->type != VALUE_TEXT) {
        int64_t number = key->number(show, index);
        for (; value < end; value++)
            if (number != SHOW_NONE && number >= value->from && number <= value->to)
                return true;
        return false;
    }
    uint32_t tags = key->text ? 1 : show->fixtures[index].tag_count;
    for (uint32_t t = 0; t < tags; t++) {
        const char *text = key->text ? key->text(show, index) : show->fixtures[index].tags[t];
        for (const struct value *v = value; text && v < end; v++)
            if (strcmp(text, v->text) == 0)
                return true;
    }
    return false;
}

/* Upvalues: the walk, the anchor of its texts, the where function or nil. */
static int walk_next(lua_State *L)
{
    struct walk *walk = lua_touserdata(L, lua_upvalueindex(1));
    struct interp *interp = interp_of(L);
    const struct show *show = interp->host->show;
    while (walk->at < walk->count) {
        uint32_t index = walk->list ? walk->list[walk->at] : walk->at;
        bool good = true;
        walk->at++;
        if (walk->at % CHECK_EVERY == 0)
            host_check(L, interp->host);
        for (unsigned c = 0; good && c < walk->clause_count; c++)
            good = meets(show, walk, &walk->clauses[c], index);
        if (!good)
            continue;
        if (walk->where) {
            lua_pushvalue(L, lua_upvalueindex(3));
            object__push_index(L, walk->kind, index);
            lua_call(L, 1, 1);
            good = lua_toboolean(L, -1);
            lua_pop(L, 1);
            if (!good)
                continue;
        }
        object__push_index(L, walk->kind, index);
        return 1;
    }
    return 0;
}

/* Make the iterator of the filter at 1 (or none) over the objects of a kind. */
static struct walk *walk_push(lua_State *L, enum object_kind kind, const struct filter_key *keys, const char *function)
{
    bool filtered = !lua_isnoneornil(L, 1);
    if (filtered)
        luaL_checktype(L, 1, LUA_TTABLE);
    lua_settop(L, 1);
    uint32_t values = filtered ? count_values(L, keys, function) : 0, used = 0;
    struct walk *walk = lua_newuserdatauv(L, sizeof *walk + values * sizeof *walk->values, 0);
    memset(walk, 0, sizeof *walk);
    walk->kind = kind;
    lua_createtable(L, 0, 0);
    if (filtered) {
        for (lua_pushnil(L); lua_next(L, 1); lua_pop(L, 1))
            if (!is_where(L, -2))
                read_clause(L, 3, keys, function, walk, &used);
        lua_getfield(L, 1, "where");
    } else {
        lua_pushnil(L);
    }
    walk->where = !lua_isnil(L, -1);
    lua_pushcclosure(L, walk_next, 3);
    return walk;
}

/* The only value of a clause by its key name, or NULL. */
static const struct value *single(const struct walk *walk, const char *name)
{
    for (unsigned c = 0; c < walk->clause_count; c++)
        if (strcmp(walk->clauses[c].key->name, name) == 0 && walk->clauses[c].count == 1)
            return &walk->values[walk->clauses[c].first];
    return NULL;
}

/* rig.fixtures{ filters } -> iterator in patch order; in a sequence over the fixtures it was granted */
int rig__fixtures(lua_State *L)
{
    struct walk *walk = walk_push(L, OBJECT_FIXTURE, fixture_keys, "rig.fixtures");
    const struct host *host = interp_of(L)->host;
    const struct value *universe = single(walk, "universe");
    if (host->fixtures) {
        walk->list = host->fixtures;
        walk->count = host->fixture_count;
    } else if (universe && universe->from == universe->to) {
        walk->list = show_universe_fixtures(host->show, universe->from, &walk->count);
    } else {
        walk->list = show_patch_order(host->show);
        walk->count = host->show->fixture_count;
    }
    return 1;
}

/* rig.transmitters{ filters } -> iterator in the order of the file */
int rig__transmitters(lua_State *L)
{
    struct walk *walk = walk_push(L, OBJECT_TRANSMITTER, transmitter_keys, "rig.transmitters");
    const struct value *code = single(walk, "code");
    walk->count = show_of(L)->transmitter_count;
    if (code)
        walk->list = show_code_transmitters(show_of(L), code->text, &walk->count);
    return 1;
}

/* rig.universes{ filters } -> iterator in the order of the file */
int rig__universes(lua_State *L)
{
    struct walk *walk = walk_push(L, OBJECT_UNIVERSE, universe_keys, "rig.universes");
    walk->count = show_of(L)->universe_count;
    return 1;
}
