/* The show in memory: sites, quiet bands, types, transmitters, universes, fixtures, and the indexes that keep every rule
 * out of a quadratic walk. Pure: no clock, no I/O, no globals. It holds what a file said, right or wrong; judging is the
 * rules' work. All memory belongs to the show and goes with show_free(). */
#ifndef RIGCALL_MODEL_H
#define RIGCALL_MODEL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "rigcall/error.h"

#define SHOW_NONE INT64_MIN          /* an integer that the file does not give */
#define SHOW_UNKNOWN UINT32_MAX      /* an index of something that does not exist */
#define SHOW_SLOTS 512               /* slots of a universe, ANSI E1.11 */

enum air { AIR_NONE = 0, AIR_SINGLE = 1, AIR_DUAL = 2 };     /* the value is the universes one radio carries */
#define AIR_BIT(air) (1u << (air))                           /* for sets of air modes */

enum hazard { HAZARD_NONE, HAZARD_MOTION, HAZARD_LASER, HAZARD_FLAME, HAZARD_FOG, HAZARD_OTHER };
enum input { INPUT_NONE, INPUT_MULTICAST, INPUT_UNICAST };   /* INPUT_NONE: the file says nothing, which means multicast */

enum subject_kind {                  /* sorted as findings are: by these names, which are alphabetical */
    SUBJECT_FIXTURE, SUBJECT_SHOW, SUBJECT_SITE, SUBJECT_TRANSMITTER, SUBJECT_TYPE, SUBJECT_UNIVERSE
};

/* A key beginning with x_, kept untouched. value is the canonical Lua text of the value ("{ 1, 2 }", "\"text\""). */
struct extra { const char *key, *value; };
struct extras { struct extra *items; uint32_t count; };

/* Texts are UTF-8, NUL-terminated, interned in the show: equal texts are equal pointers. NULL: not given.
 * Numbers that the file does not give are NAN (double) or SHOW_NONE (int64_t). */
struct position { double x_m, y_m, z_m; };                  /* x_m is NAN when there is no position */
struct band { double from_mhz, to_mhz; const char *who, *note; struct extras extras; };
struct site { const char *id, *name, *note; struct extras extras; };
struct lane { int64_t lane, universe; };

struct slot {
    uint16_t param;                  /* index into show.params */
    bool fine;                       /* the low octet of a 16-bit value */
    double default_percent;          /* 0..100; NAN when not given, which means 0. On a coarse slot: of the 16-bit value */
};

struct mode {
    const char *id, *name, *note;
    int64_t cells;                   /* >= 0; as large as the file says, so multiply in 64 bit only */
    struct slot *head, *slots, *tail;
    uint32_t head_count, slot_count, tail_count;
    struct extras extras;
};

struct type {
    const char *id, *name, *note;
    unsigned airs;                   /* set of AIR_BIT() */
    const char *firmware_floor[3];   /* by enum air; NULL when none */
    double watts, battery_wh, sensitivity_dbm;
    enum hazard hazard;
    struct mode *modes;
    uint32_t mode_count;
    struct extras extras;
};

struct transmitter {
    const char *id, *name, *site, *code, *firmware, *host, *note;
    struct position pos;
    double reach_m, eirp_dbm;
    int64_t radios;
    unsigned airs;
    enum air air;
    enum input input;
    bool spare;
    struct lane *lanes;
    uint32_t lane_count;
    struct band *keep_out;
    uint32_t keep_out_count;
    struct extras extras;
    uint32_t site_index;             /* by show_index(): into show.sites, or SHOW_UNKNOWN */
};

struct universe {
    int64_t id, priority, wire;      /* priority and wire SHOW_NONE when not given: 100 and id */
    const char *label, *note;
    struct extras extras;
};

struct fixture {
    int64_t id, universe, address, lane, same_as;
    const char *name, *type, *mode, *site, *code, *firmware, *note;
    const char **tags;
    uint32_t tag_count;
    enum air air;
    bool wired;
    struct position pos;
    struct extras extras;
    uint32_t type_index, mode_index, site_index;    /* by show_index(), or SHOW_UNKNOWN; mode_index is within the type */
};

struct show {
    const char *name, *date, *region, *note;
    bool has_call;
    double call_hours, call_level;   /* NAN when not given; level is per cent */
    struct extras extras;
    struct site *sites;                uint32_t site_count;
    struct band *quiet;                uint32_t quiet_count;
    struct type *types;                uint32_t type_count;
    struct transmitter *transmitters;  uint32_t transmitter_count;
    struct universe *universes;        uint32_t universe_count;
    struct fixture *fixtures;          uint32_t fixture_count;
    const char **params;               uint32_t param_count;     /* names of parameters, each once, "+fine" removed */
    struct show_index *index;        /* opaque; NULL until show_index() */
    struct show_memory *memory;      /* opaque */
};

/* ---- making ---- */

/** Make an empty show. @return NULL when memory is short */
struct show *show_new(void);
/** Free a show and all that came from it. NULL is fine. */
void show_free(struct show *show);

/** A copy of everything, indexed, that shares nothing with the show. @return NULL when memory is short */
struct show *show_copy(const struct show *show);

/** Memory that lives as long as the show, zeroed, aligned for any type. @return NULL when memory is short */
void *show_alloc(struct show *show, size_t size);
/** Intern a text of `length` octets without NUL. @return the one copy of it in this show, or NULL when memory is short */
const char *show_text(struct show *show, const char *text, size_t length);
/** Intern a parameter name. @return its index in show.params, or SHOW_UNKNOWN (memory, or more than 65534 names) */
uint32_t show_param(struct show *show, const char *name, size_t length);

/** Append one zeroed object, with numbers "not given" (NAN, SHOW_NONE) and indexes SHOW_UNKNOWN, and return it.
 * The pointer dies at the next append of that kind. NULL when memory is short or 2^31 objects are there. */
struct site *show_add_site(struct show *show);
struct band *show_add_quiet(struct show *show);
struct type *show_add_type(struct show *show);
struct transmitter *show_add_transmitter(struct show *show);
struct universe *show_add_universe(struct show *show);
struct fixture *show_add_fixture(struct show *show);

/** Resolve names and build the indexes. Call after the last change and again after any later one; until then the queries
 * below must not be called. Objects that repeat an id stay in their arrays; look-ups find the first of them.
 * @return 0 or RIG_ENOMEM */
int show_index(struct show *show);

/* ---- queries; all O(1) or O(log n); indexes are into the arrays of the show; SHOW_UNKNOWN when there is none ---- */

uint32_t show_find_site(const struct show *show, const char *id);
uint32_t show_find_type(const struct show *show, const char *id);
uint32_t show_find_transmitter(const struct show *show, const char *id);
uint32_t show_find_universe(const struct show *show, int64_t id);
uint32_t show_find_fixture(const struct show *show, int64_t id);
/** Any kind by its id as text ("101", "T1"); SUBJECT_SHOW gives 0. */
uint32_t show_find(const struct show *show, enum subject_kind kind, const char *id);

/** Fixtures in patch order: by universe, address, id, place in the file; unpatched ones last, by id.
 * @return fixture_count indexes into show.fixtures, owned by the show */
const uint32_t *show_patch_order(const struct show *show);
/** The stretch of the patch order that holds universe `id`. @return its first entry; *count may be 0 */
const uint32_t *show_universe_fixtures(const struct show *show, int64_t id, uint32_t *count);
/** The fixtures whose join code is `code` (any text), in file order. */
const uint32_t *show_code_fixtures(const struct show *show, const char *code, uint32_t *count);
/** The transmitters whose join code is `code`, spare ones too, in file order. */
const uint32_t *show_code_transmitters(const struct show *show, const char *code, uint32_t *count);

/* One lane entry of one transmitter. */
struct carrier { int64_t universe; uint32_t transmitter, entry; };
/** The lane entries that name universe `id`, spare transmitters and lanes that do not exist included, by transmitter. */
const struct carrier *show_carriers(const struct show *show, int64_t id, uint32_t *count);

const struct type *fixture_type(const struct show *show, const struct fixture *fixture);    /* NULL when unknown */
const struct mode *fixture_mode(const struct show *show, const struct fixture *fixture);    /* NULL when unknown */

/** Slots a mode takes: head + cells x slots + tail; INT64_MAX when it does not fit 63 bits. */
int64_t mode_footprint(const struct mode *mode);
/** Slots a fixture takes, or SHOW_NONE when its type or mode is unknown. */
int64_t fixture_footprint(const struct show *show, const struct fixture *fixture);
/** Last slot of a patched fixture (address + footprint - 1), or SHOW_NONE without address, type or mode. */
int64_t fixture_last(const struct show *show, const struct fixture *fixture);
/** sACN universe of a universe: its wire number, default its id. */
int64_t universe_wire(const struct universe *universe);
/** E1.31 priority of a universe, default 100. */
int64_t universe_priority(const struct universe *universe);
/** Lanes of a transmitter with its air mode: radios x 1 or 2 (common practice: four radios in dual carry eight). 0 if radios <= 0. */
int64_t transmitter_lane_count(const struct transmitter *transmitter);
bool position_given(const struct position *position);

const char *air_name(enum air air);                          /* "single", "dual"; NULL for AIR_NONE */
enum air air_from_name(const char *name, size_t length);     /* AIR_NONE when it is neither */
const char *hazard_name(enum hazard hazard);                 /* NULL for HAZARD_NONE */
enum hazard hazard_from_name(const char *name, size_t length);
const char *subject_kind_name(enum subject_kind kind);       /* "fixture", … */

/** Write how people name an object: "fixture 101 Rail 1", "transmitter T1 Quay mast", "universe 1 Quay rail A", "show Harbour Lanterns".
 * @param size  of buffer; the result is cut at a character border and always terminated. @return its length */
size_t show_describe(const struct show *show, enum subject_kind kind, uint32_t index, char *buffer, size_t size);

/* ---- UTF-8 ---- */

/** Check UTF-8 (RFC 3629: no overlong forms, surrogates, or values past U+10FFFF).
 * @return length when all is right, otherwise the offset of the first wrong octet */
size_t utf8_check(const char *text, size_t length);
/** Characters (code points) of checked text. */
size_t utf8_count(const char *text, size_t length);
/** Longest prefix that has at most `limit` octets and does not end inside a character; text is checked but may itself have been
 * cut inside its last character. */
size_t utf8_cut(const char *text, size_t length, size_t limit);

/* ---- numbers ---- */

#define NUMBER_TEXT 40               /* octets that any number needs, NUL included */

/** Write a finite number in its shortest form that reads back as the same number, with a point whatever the locale says: as it
 * stands in show files, CSV and plans. @param out filled and terminated. @return its length */
size_t number_format(double number, char out[NUMBER_TEXT]);

/* ---- parameters: one table of names, E1.20 slot IDs and GDTF attributes ---- */

struct parameter {
    const char *name;                /* "red" */
    uint16_t slot_id;                /* ANSI E1.20 Table C-2; 0xFFFF where E1.20 has none */
    const char *gdtf;                /* DIN SPEC 15800 attribute, or NULL */
    enum parameter_role {
        ROLE_OTHER, ROLE_INTENSITY, ROLE_COLOUR, ROLE_STROBE, ROLE_MOTION
    } role;
};
/** @return the entry of a known name, or NULL */
const struct parameter *parameter_find(const char *name);
/** The whole table. @return its first entry; *count entries */
const struct parameter *parameter_table(size_t *count);

/* ---- selections: --where and rig.fixtures{} ---- */

/** Select fixtures by 'key=value[,value]; key=…'. Keys: id (numbers, ranges a-b), name, type, mode, site, tag, universe
 * (numbers, ranges), transmitter (the one it lands on is not computed here: see radio_select()).
 * Values may be quoted with "…" to hold , ; or spaces at their ends. All keys must hold; one of the values of each. */
struct selection;
/** @param out caller frees with selection_free(). @return 0, RIG_EUSAGE with the wrong part, or RIG_ENOMEM */
int selection_parse(const char *text, struct selection **out, struct rig_why *why);
void selection_free(struct selection *selection);
/** True when the fixture meets every key but `transmitter`. */
bool selection_matches(const struct selection *selection, const struct fixture *fixture);
/** The values of key `transmitter`: *count texts, 0 when the key is absent. Owned by the selection. */
const char *const *selection_transmitters(const struct selection *selection, size_t *count);

#endif
