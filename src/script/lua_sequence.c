/* Sequences: tracks are coroutines, resumed in order of due time, ties in the order of their start. Time is the
 * engine's; here it is only counted. A wait counts from the track's last deadline, as a double in seconds, and is
 * rounded to nanoseconds when it is sent, so that a thousand waits of 1/44 s end where they should. */
#include <math.h>
#include <string.h>

#include "lua_internal.h"

static char tracks_key;              /* its address names the registry table that anchors the coroutines, by place */

/* ---- who may call ---- */

void sequence__check(lua_State *L, const char *function)
{
    const struct interp *interp = interp_of(L);
    if (interp->phase == PHASE_LOADING)
        luaL_error(L, "%s() works only inside run, not while the file loads", function);
    if (interp->about.kind != SCRIPT_SEQUENCE)
        luaL_error(L, "%s() belongs to sequences; this script is a %s", function, lua__kind_names[interp->about.kind]);
}

bool sequence__is_own(lua_State *L)
{
    const struct interp *interp = interp_of(L);
    return L == interp->L || (interp->track && interp->track->co == L);
}

struct track *sequence__track(lua_State *L, const char *function)
{
    struct interp *interp = interp_of(L);
    sequence__check(L, function);
    if (!interp->track || interp->track->co != L)
        luaL_error(L, "%s() works only in the sequence itself or a start()ed track, not inside coroutine.create or wrap",
                   function);
    return interp->track;
}

/* ---- the list of tracks ---- */

static void schedule_init(struct schedule *s)
{
    memset(s, 0, sizeof *s);
    s->first = s->last = TRACK_NONE;
    for (uint16_t i = 0; i < TRACKS_LIMIT; i++)
        s->tracks[i].after = i + 1 < TRACKS_LIMIT ? i + 1 : TRACK_NONE;
}

/* Append a track that runs co, which is at the top of L and is anchored here. */
static struct track *track_add(lua_State *L, lua_State *co, int values, double due_s)
{
    struct schedule *s = interp_of(L)->schedule;
    uint16_t place = s->free;
    struct track *track = &s->tracks[place];
    lua_rawgetp(L, LUA_REGISTRYINDEX, &tracks_key);
    lua_insert(L, -2);
    lua_rawseti(L, -2, place + 1);
    lua_pop(L, 1);
    s->free = track->after;
    *track = (struct track){ .co = co, .due_s = due_s, .due_ns = llround(due_s * 1e9), .values = values,
                             .before = s->last, .after = TRACK_NONE };
    if (s->last == TRACK_NONE)
        s->first = place;
    else
        s->tracks[s->last].after = place;
    s->last = place;
    s->live++;
    return track;
}

static void track_remove(lua_State *L, struct track *track)
{
    struct schedule *s = interp_of(L)->schedule;
    uint16_t place = (uint16_t)(track - s->tracks);
    if (track->before == TRACK_NONE)
        s->first = track->after;
    else
        s->tracks[track->before].after = track->after;
    if (track->after == TRACK_NONE)
        s->last = track->before;
    else
        s->tracks[track->after].before = track->before;
    lua_rawgetp(L, LUA_REGISTRYINDEX, &tracks_key);
    lua_pushnil(L);
    lua_rawseti(L, -2, place + 1);
    lua_pop(L, 1);
    track->co = NULL;
    track->after = s->free;
    s->free = place;
    s->live--;
}

/* ---- running ---- */

enum track_outcome { TRACK_WAITS, TRACK_ENDED, TRACK_BROKE };

static enum track_outcome track_resume(lua_State *L, struct track *track)
{
    struct interp *interp = interp_of(L);
    int results = 0, values = track->values;
    track->values = 0;
    interp->track = track;
    int status = coroutine__resume(L, track->co, values, &results);
    interp->track = NULL;
    if (status == LUA_YIELD) {
        lua_pop(track->co, results);
        return TRACK_WAITS;
    }
    return status == LUA_OK ? TRACK_ENDED : TRACK_BROKE;
}

/* Resume every track that is due at the round's time, once each; a track that one of them starts runs in this round too. */
static void run_round(lua_State *L, int64_t now_ns)
{
    struct schedule *s = interp_of(L)->schedule;
    s->round++;
    for (uint16_t place = s->first; place != TRACK_NONE;) {
        struct track *track = &s->tracks[place];
        bool due = track->due_ns <= now_ns && track->round != s->round;
        enum track_outcome outcome = TRACK_WAITS;
        if (due) {
            track->round = s->round;
            outcome = track_resume(L, track);
        }
        if (outcome == TRACK_BROKE) {
            interp__message(L, track->co);
            lua_error(L);
        }
        place = track->after;
        if (outcome == TRACK_ENDED)
            track_remove(L, track);
    }
}

static int64_t earliest(const struct schedule *s)
{
    int64_t due_ns = INT64_MAX;
    for (uint16_t place = s->first; place != TRACK_NONE; place = s->tracks[place].after)
        if (s->tracks[place].due_ns < due_ns)
            due_ns = s->tracks[place].due_ns;
    return due_ns;
}

void sequence__run(lua_State *L)
{
    struct interp *interp = interp_of(L);
    struct host_resume resume;
    int64_t now_ns = 0;
    interp->schedule = lua_newuserdatauv(L, sizeof *interp->schedule, 0);
    schedule_init(interp->schedule);
    lua_rawsetp(L, LUA_REGISTRYINDEX, interp->schedule);
    lua_createtable(L, 8, 0);
    lua_rawsetp(L, LUA_REGISTRYINDEX, &tracks_key);
    lua_State *co = lua_newthread(L);
    lua_insert(L, -3);
    lua_xmove(L, co, 2);
    track_add(L, co, 1, 0);
    for (;;) {
        run_round(L, now_ns);
        if (interp->schedule->live == 0)
            return;
        now_ns = earliest(interp->schedule);
        host_wait(interp->host, now_ns, &resume);
    }
}

/* ---- time ---- */

/* Move the track's deadline, in the limits of a run. */
static void set_due(lua_State *L, struct track *track, double due_s)
{
    if (!(due_s <= WAIT_LIMIT_S))
        luaL_error(L, "a run lasts at most %d s", (int)WAIT_LIMIT_S);
    track->due_s = due_s;
    track->due_ns = llround(due_s * 1e9);
}

static void check_yieldable(lua_State *L, const char *function)
{
    if (!lua_isyieldable(L))
        luaL_error(L, "%s() does not work inside a function that sort, gsub, a filter or a metamethod calls", function);
}

/* wait(seconds): from the last deadline; wait(0) sends what is queued */
static int wait(lua_State *L)
{
    struct track *track = sequence__track(L, "wait");
    double seconds = number__check(L, 1, 0, WAIT_LIMIT_S, "seconds");
    check_yieldable(L, "wait");
    set_due(L, track, track->due_s + seconds);
    return lua_yield(L, 0);
}

static int settle_more(lua_State *L, int status, lua_KContext context)
{
    (void)status, (void)context;
    struct interp *interp = interp_of(L);
    struct track *track = interp->track;
    int64_t end_ns = host_fades_end(interp->host, track->due_ns);
    if (end_ns <= track->due_ns)
        return 0;
    set_due(L, track, (double)end_ns / 1e9);
    track->due_ns = end_ns;          /* exactly, whatever the division rounded */
    return lua_yieldk(L, 0, 0, settle_more);
}

/* settle(): until no fade of this script runs; another track may have begun one meanwhile */
static int settle(lua_State *L)
{
    sequence__track(L, "settle");
    check_yieldable(L, "settle");
    return settle_more(L, LUA_OK, 0);
}

/* now() -> seconds since the start: the track's last deadline */
static int now(lua_State *L)
{
    const struct interp *interp = interp_of(L);
    sequence__check(L, "now");
    lua_pushnumber(L, interp->track->due_s);
    return 1;
}

/* start(f): run f as a track of its own from now on */
static int start(lua_State *L)
{
    struct interp *interp = interp_of(L);
    sequence__check(L, "start");
    luaL_checktype(L, 1, LUA_TFUNCTION);
    if (interp->schedule->live == TRACKS_LIMIT)
        return luaL_error(L, "more than %d tracks at a time", TRACKS_LIMIT);
    lua_State *co = lua_newthread(L);
    lua_pushvalue(L, 1);
    lua_xmove(L, co, 1);
    struct track *track = track_add(L, co, 0, interp->track->due_s);
    track->due_ns = interp->track->due_ns;
    return 0;
}

void sequence__answered(struct interp *interp, struct track *track, int64_t now_ns)
{
    struct schedule *s = interp->schedule;
    if (now_ns <= track->due_ns)
        return;
    double late_s = (double)now_ns / 1e9 - track->due_s;
    for (uint16_t place = s->first; place != TRACK_NONE; place = s->tracks[place].after) {
        struct track *other = &s->tracks[place];
        other->due_s += late_s;
        other->due_ns = llround(other->due_s * 1e9);
    }
    track->due_s = (double)now_ns / 1e9;
    track->due_ns = now_ns;
}

void sequence__open(lua_State *L)
{
    static const luaL_Reg functions[] = {
        { "wait", wait }, { "settle", settle }, { "now", now }, { "start", start }, { NULL, NULL }
    };
    sandbox__functions(L, functions);
    out__open(L);
    lua_setfield(L, -2, "out");
    crew__open(L);
    lua_setfield(L, -2, "crew");
}
