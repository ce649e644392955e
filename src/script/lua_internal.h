/* Shared inside the Lua side of a script host (lua_*.c): the state of one script, objects as light userdata, texts,
 * errors. Nothing here is known outside; host.h is the border to the process side. */
#ifndef RIGCALL_LUA_INTERNAL_H
#define RIGCALL_LUA_INTERNAL_H

#include <lauxlib.h>
#include <lua.h>
#include <lualib.h>

#include "host.h"

#define MESSAGE_OCTETS 900           /* longest error message */
#define FINDING_OCTETS 1000
#define FINDING_OTHERS 1000
#define LINE_OCTETS 400              /* print, crew.say */
#define QUESTION_OCTETS 1000
#define QUESTIONS 100                /* of one swap policy */
#define LEVELS_LIMIT 512             /* parameters of one out.set or out.fade */
#define TRACKS_LIMIT 1000
#define TRACK_NONE UINT16_MAX
#define WAIT_LIMIT_S 86400.0
#define CHECK_EVERY 1024             /* steps of a loop in C between two looks at the limits */

/* One coroutine of a sequence. Tracks that run are a list in the order of their start. */
struct track {
    lua_State *co;                   /* NULL: free; anchored in the registry table of tracks */
    double due_s;                    /* the last deadline; waits add to it */
    int64_t due_ns;                  /* the same, rounded: what is compared and sent */
    uint64_t round;                  /* the last round it ran in: once a round */
    int values;                      /* arguments of its first resume that are on its stack */
    uint16_t before, after;          /* neighbours in the list, TRACK_NONE at its ends; after also links free ones */
};

struct schedule {
    uint16_t first, last, free, live;
    uint64_t round;
    struct track tracks[TRACKS_LIMIT];
};

enum interp_phase { PHASE_LOADING, PHASE_RUNNING };

/* The Lua side of one host. Every lua_State of it finds it in its extra space. */
struct interp {
    struct host *host;
    lua_State *L;                    /* the main state: rules run in it, sequences in coroutines */
    enum interp_phase phase;
    struct script_about about;       /* valid from PHASE_RUNNING */
    struct verdict { bool made; uint32_t plan; char why[LINE_OCTETS + 1]; } verdict;     /* of a swap policy; plan 0: none of them */
    unsigned questions;              /* that a swap policy has asked */
    bool usage;                      /* the error that is being raised is a fault in --set */
    int closing;                     /* coroutine.close within coroutine.close */
    struct track *track;             /* of a sequence: the one that runs */
    struct schedule *schedule;       /* Lua owns it */
    const unsigned char *granted;    /* of a sequence: one bit a fixture; Lua owns it */
    unsigned char *used_types;       /* one bit a type, made at the first t:used(); Lua owns it */
    char chunk[128];                 /* chunk name of the script: "@file.lua" */
};

static inline struct interp *interp_of(lua_State *L)
{
    return *(struct interp **)lua_getextraspace(L);
}

/* The show that is judged. Objects of the show before need object__show(). */
static inline const struct show *show_of(lua_State *L)
{
    return interp_of(L)->host->show;
}

/* ---- objects (lua_object.c): light userdata that encode kind, index and cell; plain Lua cannot make one ---- */

enum object_kind {
    OBJECT_FIXTURE, OBJECT_CELL, OBJECT_TRANSMITTER, OBJECT_UNIVERSE, OBJECT_SITE, OBJECT_TYPE, OBJECT_SHOW, OBJECT_KINDS
};
#define KIND(name) (1u << OBJECT_##name)
#define KIND_ANY ((1u << OBJECT_KINDS) - 1)
#define OBJECT_CELLS_LIMIT 0xffffffu /* cells of a fixture that can be addressed */

/* before: of the kept show before this one, which rig.before() gives. Those are there to be read: they are no subjects, are
 * not driven, and nothing is computed from them. */
struct object { enum object_kind kind; uint32_t index, cell; bool before; };        /* cell counts from 1, 0 for all but cells */

void object__push(lua_State *L, struct object object);
/** Push the object of a kind and index, nil for SHOW_UNKNOWN. */
void object__push_index(lua_State *L, enum object_kind kind, uint32_t index);
/** @return false when the value is no object of this show; those of the show before are not */
bool object__at(lua_State *L, int arg, struct object *object);
/** The object at arg, or an argument error that names the wanted kinds and what was found. */
struct object object__check(lua_State *L, int arg, unsigned kinds);
/** The same, but also an object of the show before: for what only reads it, by object__show(). */
struct object object__read(lua_State *L, int arg, unsigned kinds);
/** How many objects of a kind a show has. */
uint32_t object__count(const struct show *show, enum object_kind kind);
/** The show that an object belongs to. */
const struct show *object__show(lua_State *L, struct object object);
const char *object__kind_name(enum object_kind kind);
/** Kind of a name of any length; OBJECT_KINDS when there is none. */
enum object_kind object__kind_from_name(const char *name);
size_t object__describe(lua_State *L, struct object object, char *buffer, size_t size);
const struct fixture *object__fixture(lua_State *L, struct object object);         /* of a fixture or a cell */
const struct extras *object__extras(lua_State *L, struct object object);           /* NULL for a cell */
struct subject object__subject(struct object object);        /* a cell gives its fixture */
/** Install the metatable that all objects share. [-0, +0, m] */
void object__open(lua_State *L);

/* A member of objects: a field (get) or a method (call), for the kinds it belongs to. Lists end with name NULL. */
struct member {
    const char *name;
    unsigned kinds;
    int (*get)(lua_State *L, struct object object);          /* pushes one value */
    lua_CFunction call;
};
extern const struct member members__fields[], members__methods[], members__radio[];

/* ---- values and texts (lua_value.c) ---- */

void value__text(lua_State *L, const char *text);            /* nil for NULL */
void value__integer(lua_State *L, int64_t number);           /* nil for SHOW_NONE */
/** Push a number of the file: nil for NAN, an integer when it is one, so that 40 prints as 40. */
void value__number(lua_State *L, double number);
/** Push a table of x_ keys, each as text in the notation of the file. [-0, +1, m] */
void value__extras(lua_State *L, const struct extras *extras);
/** Push an array of { from =, to =, who =, note =, extras = }, in MHz. [-0, +1, m] */
void value__bands(lua_State *L, const struct band *bands, uint32_t count);
/** Push how a value prints: __tostring, or the name of its type without an address, so that two runs print the same.
 * [-0, +1, e] */
const char *value__describe(lua_State *L, int index, size_t *length);
/** Copy text, at most size - 1 octets, cut at a character border; what is no UTF-8 and control characters become '?', tabs
 * and line ends a space. @return octets written, without the NUL */
size_t text__clean(char *out, size_t size, const char *text, size_t length);
/** The text argument at arg, cleaned into buffer; an argument error when it is no text or empty. @return its length */
size_t text__check(lua_State *L, int arg, char *buffer, size_t size);
/** A finite number argument in a range, or an argument error that names the range. */
double number__check(lua_State *L, int arg, double least, double most, const char *what);

/* ---- the nearest known name, for messages ---- */

struct near { const char *typed; const char *best; size_t distance; char text[84]; };
/** Begin a search. typed may hold anything. */
void near__begin(struct near *near, const char *typed);
void near__try(struct near *near, const char *name);
/** @return "; nearest: 'name'" or "" */
const char *near__text(struct near *near);
/** For an unknown key at the top of the stack: how to write it in a message, bounded and clean. Static buffer in the caller. */
const char *near__key(lua_State *L, int index, char *buffer, size_t size);

/* ---- sandbox ---- */

/** Open the state: everything that scripts see of plain Lua, and our bindings. [-0, +0, m] */
void sandbox__open(lua_State *L);
/** Push a new environment for one chunk: a copy of the base names, with an error for unknown ones. [-0, +1, m] */
void sandbox__push_environment(lua_State *L);
/** Set functions of a list in the table at the top. */
void sandbox__functions(lua_State *L, const luaL_Reg *list);
/** Give the table at the top a metatable that raises for unknown names: "rig has no 'x'". [-0, +0, m] */
void sandbox__strict(lua_State *L, const char *name);

int protect__pcall(lua_State *L);
int protect__xpcall(lua_State *L);
/** Push the coroutine library. */
void coroutine__open(lua_State *L);
/** Resume with host->running kept true; raises when a limit is passed. @return status of lua_resume */
int coroutine__resume(lua_State *L, lua_State *co, int arguments, int *results);
/** After lua_pcallk or lua_resume: turn a failed allocation into a passed limit, and raise for any passed limit. */
void protect__after(lua_State *L, int status);

int meta__set(lua_State *L);
int meta__get(lua_State *L);
int order__pairs(lua_State *L);
int order__next(lua_State *L);
/** Change the string library at the top of the stack into ours. */
void string__open(lua_State *L);
/** Push the utf8 and the table library. */
void utf8__open(lua_State *L);
void table__open(lua_State *L);

int pattern__find(lua_State *L);
int pattern__match(lua_State *L);
int pattern__gmatch(lua_State *L);
int pattern__gsub(lua_State *L);

/* ---- bindings ---- */

void rig__open(lua_State *L);        /* push the rig table */
int rig__fixtures(lua_State *L);
int rig__transmitters(lua_State *L);
int rig__universes(lua_State *L);
/** Raise for a first argument that names no kind that can be asked for. */
int rig__unknown_kind(lua_State *L, const char *kind);
/** Index of the first object of a kind (fixture, transmitter, universe, site, type) with the id that is argument 2. */
uint32_t rig__find(lua_State *L, const struct show *show, enum object_kind kind);
extern const luaL_Reg rig__before[];
extern const luaL_Reg rig__radio[];
/** Add the planning functions to the rig table at the top. */
void plan__open(lua_State *L);
/** Add wire to the rig table at the top: false, or what was heard. */
void wire__open(lua_State *L);
/** Push a plan as a plain table. The plan is borrowed: free it by a box with __gc, this may raise. [-0, +1, m] */
void plan__push(lua_State *L, const struct plan *plan);
/** The same for a plan that outlives the state: its lists are made when they are first asked for. [-0, +1, m] */
void plan__push_lazy(lua_State *L, const struct plan *plan);

/** Add finding, fail, warn and note to the table at the top. */
void rule__open(lua_State *L);
/** Add wait, settle, now, start, out and crew to the table at the top. */
void sequence__open(lua_State *L);
/** Push the out and the crew table. */
void out__open(lua_State *L);
void crew__open(lua_State *L);
/** Push "yes", "no" or "skip", and the note. @return 2 */
int crew__push_answer(lua_State *L, const struct host_resume *resume);
/** Raise unless the script is a sequence that runs. function is for the message. */
void sequence__check(lua_State *L, const char *function);
/** Raise unless this is a track of the sequence itself. @return the track */
struct track *sequence__track(lua_State *L, const char *function);
/** True for the main state and for tracks, which scripts must neither yield nor resume by hand. */
bool sequence__is_own(lua_State *L);
/** Set the track's deadline to an answer's time; the other tracks stood still meanwhile. */
void sequence__answered(struct interp *interp, struct track *track, int64_t now_ns);
/** Run the function below its one argument at the top of the stack as the first track, until no track is left. [-2, +0, e] */
void sequence__run(lua_State *L);

/** Add choose, refuse and ask to the table at the top. */
void swap__open(lua_State *L);
/** Run the policy whose run function and parameters are at the top of the stack; afterwards interp->verdict is made. [-2, +0, e] */
void swap__run(lua_State *L);

/* ---- loading ---- */

extern const char *const lua__kind_names[];           /* by enum script_kind; ends with NULL */
extern const char *const lua__severity_names[];       /* by enum severity; ends with NULL */

/** Load a text chunk with an environment of its own. name is a chunk name ("@file.lua"). [-0, +1, e] */
void load__chunk(lua_State *L, const char *bytes, size_t length, const char *name);
/** Chunk name of a path: "@" and its last part. */
void load__chunk_name(char *buffer, size_t size, const char *path);
/** Add use() to the table at the top. */
void load__open(lua_State *L);
/** Check the table at the top that a script returned. file is for messages. [-0, +0, e] */
void definition__read(lua_State *L, const char *file, struct script_about *about);
/** Read params of the definition at index into about, and push a table of the defaults. [-0, +1, e] */
void param__read(lua_State *L, int definition, const char *file, struct script_about *about);
/** Apply --set to the table of values at the top and make unknown names of it an error. [-0, +0, e] */
void param__apply(lua_State *L);

/** Message handler of the outermost call: a bounded, clean line. co is where the error was raised. [-1, +1, m] */
void interp__message(lua_State *L, lua_State *co);

#endif
