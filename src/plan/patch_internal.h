/* Shared inside the patch planner. Fixtures that share an address on purpose are one item; items stand in the order in which
 * they are patched; a bin is one universe, or what is left free in one; a column is one transmitter in one air mode. The core
 * is a packing on two levels: items into bins, bins onto the lanes of columns. */
#ifndef RIGCALL_PLAN_PATCH_INTERNAL_H
#define RIGCALL_PLAN_PATCH_INTERNAL_H

#include "plan_internal.h"

#define PATCH_NONE UINT32_MAX
#define PATCH_STEPS 2000000u         /* of each search, when the caller does not say */
#define PATCH_LAST_UNIVERSE 63999    /* ANSI E1.31-2018 6.2.7 */

/* Why an item cannot be patched. */
enum patch_trouble {
    PATCH_FITS, PATCH_TOO_LONG, PATCH_NO_AIR, PATCH_NO_REACH, PATCH_AIR_DIFFERS, PATCH_TX_UNFIT, PATCH_TWICE, PATCH_NO_LANE,
    PATCH_NO_NUMBER, PATCH_SHARED
};

struct patch_item {
    uint32_t first, count;           /* in patch.members; the first is the leader, the others share its address on purpose */
    uint32_t site;                   /* rank of its site */
    uint32_t size;                   /* slots, at least 1 */
    bool wired;
    unsigned airs;                   /* set of AIR_BIT() that all members have */
    int64_t id;                      /* of the leader */
    double along;                    /* place on the site's axis, metres; INFINITY without a position */
    uint32_t bin;                    /* PATCH_NONE: none yet */
    uint32_t address;
    enum patch_trouble trouble;
};

/* A universe of the plan, or a stretch of free slots in one that is in use. */
struct patch_bin {
    uint32_t site;
    int64_t universe;                /* SHOW_NONE until it gets a number */
    uint32_t column;                 /* PATCH_NONE: wired fixtures only, no lane */
    int64_t lane;
    uint32_t start, room, used;      /* first slot, slots, slots taken */
    uint32_t fixtures;               /* how many */
    bool wireless;                   /* holds a wireless item */
    bool is_new;                     /* its number is in no lane and no list yet */
    bool in_use;                     /* fixtures that stay are in this universe: it keeps its lane */
    bool gap;                        /* may be filled */
};

/* A lane that carries a universe already, in which no fixture stays. */
struct patch_lane { int64_t lane, universe; };

struct patch_column {
    uint32_t transmitter;            /* of patch.transmitters */
    enum air air;
    uint32_t lanes;                  /* that may take a universe, at most one for each item: the empty ones, then the free ones */
};

struct patch_transmitter {
    uint32_t index;                  /* in the show */
    uint32_t column, column_count;   /* its columns: one for each air mode it may have, the present one first */
    uint32_t chosen;                 /* column in use; PATCH_NONE while none is */
    bool usable;
    bool needs_code, needs_keep_out; /* if it is used */
    int hops;                        /* channels that stay if it is used */
    const char *code;                /* as it will be, owned by the plan; NULL while it has none */
    struct patch_lane *empty; uint32_t empty_count;          /* by universe */
    int64_t *taken; uint32_t taken_count;                    /* lane numbers of all entries, rising */
    uint32_t used;                   /* lanes that bins have taken */
};

struct patch {
    const struct show *show;
    const struct plan_patch_options *options;
    struct plan *plan;
    struct plan *scratch;            /* its memory holds everything here */
    uint32_t *members;
    struct patch_item *items; uint32_t item_count;           /* by site, then in patching order */
    bool *moves;                     /* by fixture: is to be patched */
    uint32_t site_count;             /* ranks of sites */
    struct patch_transmitter *transmitters; uint32_t transmitter_count;      /* all of the show, by id as octets */
    uint32_t *transmitter_of;        /* by index in the show: in patch.transmitters */
    struct patch_column *columns; uint32_t column_count;
    struct patch_bin *bins; uint32_t bin_count, bin_room;
    uint32_t *rest; uint32_t rest_count;                     /* items without a bin yet, in order */
    uint64_t *masks; uint32_t words;                         /* by place in rest: set of columns that serve it; all for wired ones */
    uint64_t step_limit;
    uint32_t bins_at_least;          /* with --tight: no packing opens fewer universes */
    uint32_t codes_at_least;         /* no colouring does with fewer new codes */
    bool limited;                    /* a search stopped at its step limit */
};

/** Zeroed scratch memory for `count` things; NULL when memory is short. */
void *patch__alloc(struct patch *patch, size_t count, size_t size);
/** Append a bin of 512 slots. @return its index, PATCH_NONE when memory is short */
uint32_t patch__bin(struct patch *patch, uint32_t site);
/** Put an item into a bin; what it needs must have been checked. */
void patch__put(struct patch *patch, uint32_t item, uint32_t bin);
/** Slots still free. */
static inline uint32_t patch__free(const struct patch_bin *bin)
{
    return bin->room - bin->used;
}
static inline struct patch_item *patch__rest(const struct patch *patch, uint32_t at)
{
    return &patch->items[patch->rest[at]];
}
/** End of the stretch of patch.rest that is of the same site as `at`. */
uint32_t patch__site_end(const struct patch *patch, uint32_t at);
/** Put the items that have neither a bin nor trouble into patch.rest. */
void patch__gather(struct patch *patch);

/* ---- the stages; each 0 or RIG_ENOMEM ---- */

/** Which fixtures are to be patched, as items. May refuse the plan. */
int patch__items(struct patch *patch);
/** Sort the items by site and hang order or id. */
int patch__order(struct patch *patch);
/** The transmitters, their columns and free lanes. */
int patch__transmitters(struct patch *patch);
/** Take out what nothing can take, whatever else happens. */
void patch__hopeless(struct patch *patch);
/** Next-fit: stretches of the order, each with a column. Items that do not fit have their trouble set. */
int patch__stretches(struct patch *patch);
/** Put what shares the address of a fixture that stays beside it, and find the free slots of universes in use if they may be
 * filled. */
int patch__in_use(struct patch *patch);
/** First-fit into the free slots. */
void patch__fill(struct patch *patch);
/** As few universes as can be. @param fits  filled: false if no such packing got its lanes; then nothing is placed */
int patch__tight(struct patch *patch, bool *fits);
/** The plain way, for rigs with room to spare. @param fits  filled: false if a stretch found no lane, and all is to be undone */
int patch__near(struct patch *patch, bool *fits);
/** Give every bin its lane and number, and every item its address. */
int patch__settle(struct patch *patch);
/** Give every transmitter in use its join code. */
int patch__codes(struct patch *patch);
/** Write down what changes. */
int patch__steps(struct patch *patch);
/** Name what does not fit, and no steps. */
int patch__dark(struct patch *patch);

/* ---- sets of columns, and bins onto lanes ---- */

/* The columns that may serve a site. */
struct patch_near { uint32_t *columns; bool *tried; uint32_t count; };
/** @param first,end  the site's items in patch.rest */
void patch__find_near(const struct patch *patch, struct patch_near *near, uint32_t first, uint32_t end);

static inline uint64_t *patch__mask(const struct patch *patch, uint32_t at)
{
    return patch->masks + (size_t)at * patch->words;
}
/** Fill patch.masks for patch.rest. */
int patch__masks(struct patch *patch);
/** `into` becomes the columns that are in both. @return false when there is none */
bool patch__narrow(const struct patch *patch, uint64_t *into, const uint64_t *with);

/* Things that each need one lane of one of some columns: at most patch_column.lanes of each column, one column of each
 * transmitter. */
struct patch_match {
    uint32_t count, room;
    uint64_t *masks;                 /* count x patch.words */
    uint32_t *weight;                /* what is lost if it gets no lane */
    uint32_t *column;                /* filled: PATCH_NONE when it got none */
    uint64_t matched;                /* filled: weight that has a lane */
    struct patch_match_work *work;
};
/** Room for `room` things. */
int patch__match_init(struct patch *patch, struct patch_match *match, uint32_t room);
void patch__match_add(const struct patch *patch, struct patch_match *match, const uint64_t *mask, uint32_t weight);
/** Find lanes for as much weight as can be, choosing air modes as well. Exact for given air modes; these are found by climbing,
 * and by trying all when at most 12 transmitters have the choice. @return true if everything got a lane */
bool patch__match(struct patch *patch, struct patch_match *match);

/** Cut patch.rest into stretches so that each gets a lane, by search: where slots alone decide, a stretch may lie across the
 * borders of two reaches. @param ends,columns  filled, for each stretch. @return RIG_ENOMEM or 0; *count 0: none was found */
int patch__search(struct patch *patch, uint32_t *ends, uint32_t *columns, uint32_t *count);

/* ---- questions ---- */

/** True if a column's transmitter in its air mode serves every member of an item. A wired item is served by all. */
bool patch__serves(const struct patch *patch, uint32_t column, const struct patch_item *item);
/** Why no column serves it; PATCH_FITS if one does. */
enum patch_trouble patch__trouble(const struct patch *patch, const struct patch_item *item);

#endif
