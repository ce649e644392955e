/* Shared inside the engine room: how a show becomes slots (layout, patch), what a slot holds (level or fade), and who watches.
 * A slot here is one octet of one universe that is sent; it is numbered place of its universe x 512 + address - 1. */
#ifndef RIGCALL_ENGINE_INTERNAL_H
#define RIGCALL_ENGINE_INTERNAL_H

#include "guard.h"
#include "rigcall/engine.h"

#define ENGINE_GRACE_NS 1000         /* a command up to this long after a frame counts as at it */
#define ENGINE_NO_PARAM UINT16_MAX
#define ENGINE_LIGHTS (1u << 20)     /* most cells that are guarded: about 300 octets each */
#define ENGINE_AHEAD 65536u          /* most commands that wait for a later frame */
#define ENGINE_GROUPS 65536u         /* most fades of different starts or durations that run at a time */
#define ENGINE_NOTICES 1000u

/* ---- layout: the slots of a mode ---- */

/* One value of a fixture: one slot, or two for a 16-bit value. Offsets from the start of its section. */
struct value { uint16_t param; int16_t coarse, fine; double default_percent; };     /* fine: -1 when 8-bit */
struct section { struct value *values; uint32_t count; };

/* A slot, or two, that light depends on. Offsets from the fixture's address; fine -1 when 8-bit. */
struct light_term { int16_t coarse, fine; double luminance, red, green, blue; };
/* Where the light of one cell comes from. */
struct emitter {
    struct light_term *intensities; uint32_t intensity_count;       /* of the cell; multiplied */
    struct light_term *colours; uint32_t colour_count;              /* added; none: the intensity alone is the light */
    uint32_t cell;                   /* or ENGINE_ALL_CELLS: the head's own light */
};
/* The same for a cell of 8-bit red, green, blue, white and intensity at most, which nearly all are: offsets, or LIGHT_ZERO or
 * LIGHT_FULL for what it does not have. */
struct quick_emitter { uint16_t intensity, red, green, blue, white; };
#define LIGHT_ZERO SHOW_SLOTS
#define LIGHT_FULL (SHOW_SLOTS + 1)

struct layout {
    struct section head, cell, tail;
    uint32_t cells, cell_size, head_size, tail_start, footprint;
    struct emitter *emitters; uint32_t emitter_count;
    struct quick_emitter *quick;     /* NULL when an emitter is not that simple */
    struct light_term *intensities; uint32_t intensity_count;       /* of head and tail: they are every emitter's */
    struct light_term *terms;        /* what the emitters point into */
};
/** @return 0, RIG_ENOMEM. The footprint has been checked: 1..512 slots */
int layout_make(const struct show *show, const struct mode *mode, struct layout *layout);
void layout_free(struct layout *layout);
/** A parameter that is held at 0. */
bool layout_is_strobe(const char *param);

/* ---- slots ---- */

enum form { FORM_8, FORM_HIGH, FORM_LOW, FORMS };            /* an octet of its own, or half of a 16-bit value */
enum { SLOT_DRIVEN = 1, SLOT_HAZARD = 2, SLOT_STROBE = 4 };  /* patched and granted; held at default; held at 0 */

struct fade_group;
struct slot_state {
    double percent;                  /* when no fade has it */
    struct fade_group *group;
    uint32_t element;                /* in the group's block of its form */
    uint8_t form, flags;
};

/* Fades that began together and last equally long: arrays, so that a frame is a few loops without branches. */
struct fade_block { double *from, *to; uint32_t *slot; uint32_t count, room; };
struct fade_group {
    struct fade_group *next, *previous;
    int64_t start_ns, duration_ns;
    struct fade_block blocks[FORMS];
};

struct sent_universe { bool touched; uint32_t fading; uint32_t first_patched, patched_count; };

/* A fixture patched in a universe that is sent, granted or not, in order of universe. */
struct patched {
    uint32_t fixture, slot;          /* first slot */
    struct layout *layout;
    bool granted, hazard;            /* hazard: not armed */
    uint32_t first_light;            /* its emitters, then its mean if it has more than one */
    uint32_t site;                   /* place in engine.sites, SHOW_UNKNOWN when it counts for none */
};

struct site_mean { uint32_t site, fixtures, light; int64_t sums[4]; bool touched; };

struct command {
    enum { COMMAND_FADE, COMMAND_SLOT, COMMAND_CLEAR } kind;        /* a set is a fade of 0 s */
    uint16_t param;
    uint32_t target, cell;           /* target: place in engine.patched, or the slot */
    int64_t at_ns, duration_ns;
    double percent;
};

enum notice_kind { NOTICE_TOLD, NOTICE_SAID };
struct notice { enum notice_kind kind; char *text; };

struct engine {
    const struct show *show;
    double rate_hz;
    bool allow_flash, ended, failed;

    struct engine_universe *universes; struct sent_universe *sent; uint32_t universe_count;
    uint32_t *by_id;                 /* places in universes, by id */
    struct layout **layouts;         /* by mode_first[type] + mode; NULL until used */
    uint32_t *mode_first, mode_total;
    struct patched *patched; uint32_t patched_count;
    uint32_t *patched_of;            /* by fixture: place in patched of a granted one, or SHOW_UNKNOWN */
    bool *granted;                   /* by fixture, unpatched ones too */
    bool *strobe;                    /* by param */

    struct slot_state *slots;        /* universe_count x 512, as are the three below */
    uint8_t *defaults, *levels, *next;       /* as sent; being made */
    struct fade_group *groups; uint32_t group_count;
    struct command *ahead; uint32_t ahead_count, ahead_room;        /* commands for later frames, by time */

    struct guard *guard;             /* NULL with allow_flash */
    struct guard_samples samples;    /* room for the largest fixture */
    int64_t (*means)[4];             /* of each patched fixture, in 2^-40: luminance, red, green, blue */
    struct site_mean *sites; uint32_t site_count;

    uint64_t frame;                  /* the next one */
    struct engine_violation violation;
    bool violation_mean;             /* of a fixture: the mean of its cells, not the light of its head */
    bool told_hazard, told_strobe, told_unpatched;
    struct notice *notices; uint32_t notice_count, notice_room;
};

/* ---- engine_slots.c ---- */

uint8_t slot_level(double percent, enum form form);
/** Value of a slot at a time, per cent. */
double slot_percent(const struct engine *engine, uint32_t slot, double time_ns);
/** Let a slot hold a value, now; no lock is looked at. */
void slot_put(struct engine *engine, uint32_t slot, enum form form, double percent);
/** The same by a fade. @return 0, RIG_ENOMEM or RIG_ESCRIPT (ENGINE_GROUPS), with the slot at its value of start_ns */
int slot_fade(struct engine *engine, uint32_t slot, enum form form, double from, double to, int64_t start_ns,
              int64_t duration_ns);
/** Bring all fades to a frame's time; those that are over become levels. */
void fades_step(struct engine *engine, double time_ns);
void fades_drop(struct engine *engine);

/* ---- engine_command.c ---- */

/** Carry out what waits for a frame at this time. */
int commands_due(struct engine *engine, double time_ns);

/* ---- guard_watch.c ---- */

/** Prepare the watch over all patched fixtures; the state is that of engine.levels. @return 0, RIG_ENOMEM, RIG_EINPUT */
int watch_make(struct engine *engine, struct rig_why *why);
/** Judge engine.next in the universes that are marked as changed. @return false with engine.violation filled */
bool watch_frame(struct engine *engine);

/* ---- for the players ---- */

/** Leave frames out: the next one is `frame`, if that is later. */
void engine__skip_to(struct engine *engine, uint64_t frame);
/** Keep a text for the crew or the trace. */
void engine__notice(struct engine *engine, enum notice_kind kind, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
void engine__forget_notices(struct engine *engine);

#endif
