/* Bindings of the radio arithmetic. */
#include <math.h>

#include "lua_internal.h"
#include "rigcall/radio.h"

#define FILE_LEAST (-2147483648.0)   /* numbers of a show file: a rule may pass on any band of it */
#define FILE_MOST 2147483647.0

static const struct transmitter *check_transmitter(lua_State *L, int arg)
{
    return &show_of(L)->transmitters[object__check(L, arg, KIND(TRANSMITTER)).index];
}

static const struct fixture *check_fixture(lua_State *L, int arg)
{
    return object__fixture(L, object__check(L, arg, KIND(FIXTURE) | KIND(CELL)));
}

static void push_double(lua_State *L, double number)
{
    if (isnan(number))
        lua_pushnil(L);
    else
        lua_pushnumber(L, number);
}

static const struct position *check_position(lua_State *L, int arg)
{
    struct object o = object__read(L, arg, KIND(FIXTURE) | KIND(CELL) | KIND(TRANSMITTER));
    return o.kind == OBJECT_TRANSMITTER ? &object__show(L, o)->transmitters[o.index].pos : &object__fixture(L, o)->pos;
}

/* rig.distance(a, b) -> metres, or nil without both positions */
static int distance(lua_State *L)
{
    const struct position *a = check_position(L, 1), *b = check_position(L, 2);
    push_double(L, radio_distance_m(a, b));
    return 1;
}

/* rig.in_reach(transmitter, fixture) -> boolean */
static int in_reach(lua_State *L)
{
    const struct transmitter *transmitter = check_transmitter(L, 1);
    lua_pushboolean(L, radio_in_reach(show_of(L), transmitter, check_fixture(L, 2)));
    return 1;
}

/* rig.margin_db(transmitter, fixture) -> dB at 2442 MHz, or nil without EIRP or positions */
static int margin_db(lua_State *L)
{
    const struct transmitter *transmitter = check_transmitter(L, 1);
    push_double(L, radio_margin_db(show_of(L), transmitter, check_fixture(L, 2)));
    return 1;
}

/* rig.hops(transmitter) -> hop channels left, 0..79 */
static int hops(lua_State *L)
{
    lua_pushinteger(L, radio_hops(check_transmitter(L, 1)));
    return 1;
}

/* rig.clash(a, b) -> nil | "warn" | "fail", distance in metres or nil */
static int clash(lua_State *L)
{
    static const char *const words[] = { [RADIO_CLASH_NONE] = NULL, [RADIO_CLASH_WARN] = "warn", [RADIO_CLASH_FAIL] = "fail" };
    const struct transmitter *a = check_transmitter(L, 1), *b = check_transmitter(L, 2);
    double distance_m = NAN;
    enum radio_clash found = radio_clash(a, b, &distance_m);
    value__text(L, words[found]);
    push_double(L, distance_m);
    return 2;
}

/* rig.with_code(code) -> array of the transmitters with that join code, spare ones too, in the order of the file */
static int with_code(lua_State *L)
{
    uint32_t count;
    luaL_argexpected(L, lua_type(L, 1) == LUA_TSTRING, 1, "text");
    const uint32_t *list = show_code_transmitters(show_of(L), lua_tostring(L, 1), &count);
    lua_createtable(L, (int)count, 0);
    for (uint32_t i = 0; i < count; i++) {
        object__push_index(L, OBJECT_TRANSMITTER, list[i]);
        lua_rawseti(L, -2, (lua_Integer)i + 1);
    }
    return 1;
}

/* rig.region_limit_dbm() -> highest 2.4 GHz EIRP of the show's region, or nil */
static int region_limit_dbm(lua_State *L)
{
    const char *region = show_of(L)->region;
    value__number(L, region ? radio_region_limit_dbm(region) : NAN);
    return 1;
}

/* t:keeps(from, to) -> true, or false and the lowest channel left open (MHz) */
static int keeps(lua_State *L)
{
    const struct transmitter *t = check_transmitter(L, 1);
    struct band band = { .from_mhz = number__check(L, 2, FILE_LEAST, FILE_MOST, "frequency") };
    int open_mhz = 0;
    band.to_mhz = number__check(L, 3, FILE_LEAST, FILE_MOST, "frequency");
    luaL_argcheck(L, band.from_mhz <= band.to_mhz, 3, "the band ends below its start");
    bool kept = radio_quiet_kept(t, &band, &open_mhz);
    lua_pushboolean(L, kept);
    if (kept)
        return 1;
    lua_pushinteger(L, open_mhz);
    return 2;
}

/* f:landing() -> state, transmitter or nil, universe id or nil, second transmitter or nil */
static int landing(lua_State *L)
{
    static const char *const words[] = {
        [LANDING_NOT_ASKED] = "none", [LANDING_RIGHT] = "right", [LANDING_NOWHERE] = "nowhere", [LANDING_BEYOND] = "beyond",
        [LANDING_TWICE] = "twice", [LANDING_EMPTY] = "empty", [LANDING_SHARED] = "shared", [LANDING_OTHER_UNIVERSE] = "other"
    };
    struct landing found = radio_landing(show_of(L), object__fixture(L, object__check(L, 1, KIND(FIXTURE))));
    lua_pushstring(L, words[found.state]);
    object__push_index(L, OBJECT_TRANSMITTER, found.transmitter);
    value__integer(L, found.universe);
    object__push_index(L, OBJECT_TRANSMITTER, found.state == LANDING_TWICE ? found.second : SHOW_UNKNOWN);
    return 4;
}

/* f:transmitter() -> the transmitter that rules judge it by, or nil */
static int transmitter_of(lua_State *L)
{
    const struct fixture *fixture = object__fixture(L, object__check(L, 1, KIND(FIXTURE)));
    object__push_index(L, OBJECT_TRANSMITTER, radio_transmitter_of(show_of(L), fixture));
    return 1;
}

const luaL_Reg rig__radio[] = {
    { "distance", distance }, { "in_reach", in_reach }, { "margin_db", margin_db }, { "hops", hops },
    { "clash", clash }, { "with_code", with_code }, { "region_limit_dbm", region_limit_dbm }, { NULL, NULL }
};

const struct member members__radio[] = {
    { "landing", KIND(FIXTURE), NULL, landing },
    { "transmitter", KIND(FIXTURE), NULL, transmitter_of },
    { "keeps", KIND(TRANSMITTER), NULL, keeps },
    { NULL, 0, NULL, NULL }
};
