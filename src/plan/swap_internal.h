/* Shared inside the swap and move planner: the problem as items to be put on lanes, and receivers with a few ways each to be set
 * up ("options"). Given one option for every receiver, what remains is an assignment problem. */
#ifndef RIGCALL_PLAN_SWAP_INTERNAL_H
#define RIGCALL_PLAN_SWAP_INTERNAL_H

#include "assign.h"
#include "plan_internal.h"

/* What a fixture is to the plan. */
enum swap_role { ROLE_NONE, ROLE_LOST, ROLE_WORKING, ROLE_FAILING };

/* What is asked; all borrowed. A swap and a move differ in nothing else. */
struct swap_problem {
    const struct show *show;         /* as it would be without a plan: for a move with the fixtures at their new site */
    const struct show *before;       /* a move: as it is; its texts are those of `show`, fixture by fixture. Else NULL */
    const bool *gone;                /* by transmitter: goes off the air */
    const bool *may_change;          /* by transmitter */
    const unsigned char *role;       /* by fixture, enum swap_role; failing ones only where a plan could make them worse */
    const bool *listed;              /* by transmitter: its universes are to be carried (swap); NULL: those of lost fixtures (move) */
    const struct plan_never *never;  uint32_t never_count;   /* where lost universes are not to be put */
    bool touches_first;              /* touches count before disturbed fixtures */
    const int64_t *first;  uint32_t first_count;             /* universes whose dark fixtures count before all others */
    uint64_t step_limit;
};

struct swap_fixture {
    uint32_t index, item, home;      /* home: transmitter it lands on, SHOW_UNKNOWN for lost ones */
    unsigned airs;                   /* set of AIR_BIT() it can be keyed to */
    bool parks;                      /* lands in another universe on a lane that no plan changes, unless it is keyed anew */
    const char *code;
    enum air air;
    int64_t lane;
    const unsigned char *reach;      /* by transmitter */
};

/* A universe that is to be put on a lane, or may be moved. */
struct swap_item {
    int64_t universe;
    uint32_t lost, lost_count;       /* first of them, and how many */
    uint32_t working, working_count;
    bool must;                       /* carried by a transmitter that stays: it stays carried */
    bool listed;                     /* part of the list that decides ties. Neither this nor `must`: it may stay on a transmitter
                                      * that comes on the air, and is put on no other lane */
    bool first;                      /* its dark fixtures count before all others */
    bool tied;                       /* carried on a lane that no plan changes: only there */
};

enum swap_content {
    LANE_FREE,
    LANE_ITEM,                       /* holds an item */
    LANE_GOES,                       /* of a transmitter that carries nothing yet, and somebody else carries the universe */
    LANE_PINNED                      /* no plan changes it */
};

struct swap_lane {
    int64_t number, universe;
    enum swap_content content;
    uint32_t item;                   /* SHOW_UNKNOWN when the content is none */
    bool carrying;                   /* before the plan */
    bool shared;                     /* given two universes */
    uint32_t working;                /* fixtures that land rightly here */
};

/* One way to set a receiver up. */
struct swap_option {
    const char *code;                /* interned, or the receiver's `fresh`: compare pointers; NULL: off the air */
    enum air air;
    bool used;                       /* takes lanes; otherwise they only keep what they have */
    bool keep_out;                   /* gets the quiet bands */
    int64_t top;                     /* lanes it has */
    bool recheck;                    /* failing fixtures are keyed to its code: what may come depends on the others */
    uint32_t dead;                   /* no answer of use has it: depth of the node where that was seen, from 1; 0: not seen */
    uint32_t fixed;                  /* settings that it costs in any case */
    plan_cost *table;                /* items x lanes */
};

struct swap_receiver {
    uint32_t transmitter, first, lane_count;     /* first: its first column */
    bool may_change, on;             /* on: before the plan */
    bool pinned;                     /* has a lane that no plan changes: code and air stay */
    bool quiet_needed, quiet_missing, quiet_fits;
    char fresh[1];                   /* only its address counts */
    uint32_t carrying;               /* lanes that it carries before the plan */
    struct swap_lane *lanes;         /* rising numbers; one column each */
    struct swap_option *options;
    uint32_t option_count, option_room;
    uint32_t *order;                 /* of its options, while the search tries them */
    plan_cost *estimate;
    uint32_t fixed;                  /* the least of all options */
    plan_cost *relaxed;              /* items x lanes: for every pair the least that any option can make of it */
};

/* Of one pricing, by lane. */
struct swap_scratch { uint32_t lit, touches, disturbed, parked, bad, base; int64_t only; };

struct swap_weights { plan_cost setting, touch, disturbed, dark, first, forbidden; };     /* first: dark, in a universe that comes first */

/* An answer. */
struct swap_answer {
    bool found;
    plan_cost cost;
    uint32_t *choice;                /* option of each receiver */
    uint32_t *column;                /* of each item; column_count: not carried */
};

struct swap {
    const struct swap_problem *problem;
    const struct show *show;
    bool disturb;                    /* working fixtures may be keyed anew */
    struct swap_fixture *lost, *working;
    uint32_t lost_count, working_count;
    struct swap_item *items;  uint32_t item_count;
    struct swap_receiver *receivers;  uint32_t receiver_count;   /* by id as octets */
    uint32_t *receiver_of;           /* by transmitter; SHOW_UNKNOWN when it is gone */
    uint32_t column_count;
    uint32_t *column_receiver, *column_lane;
    const char **codes;  uint32_t code_count;    /* that a receiver may adopt */
    unsigned *code_airs;             /* by code: airs in which adopting it can save a touch */
    int64_t *key_lanes;  uint32_t key_lane_count;
    uint32_t *torn;  uint32_t torn_count;        /* failing fixtures that hear two transmitters: if one leaves they hear the other */
    uint32_t barred;                 /* lanes that failing fixtures may bar, at most */
    uint32_t *listed;  uint32_t listed_count;    /* items of the list, by universe */
    struct swap_weights weights;
    struct swap_scratch *scratch;    /* as many as the receiver with the most lanes has */
    struct swap_answer best;
    plan_cost *leaf_table;           /* prices of one receiver, made anew */
    plan_cost limit;                 /* only answers cheaper than this are of use */
    bool limited;                    /* the step limit was hit */
    plan_cost open;                  /* the least bound among what was not searched */
    uint64_t steps, step_limit;
    struct swap_block *blocks;       /* owns every array here */
};

#define SWAP_SCALE 720720            /* settings are counted in parts of this: the least common multiple of 1..16 */
#define SWAP_STEPS 120000000u        /* default limit of a search, cells: some 0.3 to 0.4 s */
#define SWAP_WORK 60000000u          /* prices that are still computed before the search begins */

void *swap__alloc(struct swap *swap, size_t count, size_t size);     /* zeroed; NULL when memory is short */
uint32_t swap__find_item(const struct swap *swap, int64_t universe);  /* SHOW_UNKNOWN when there is none */

/** Sort the fixtures, find the items and the receivers with their lanes. @return 0 or RIG_ENOMEM */
int swap__model(struct swap *swap, const struct swap_problem *problem, bool disturb);
void swap__fini(struct swap *swap);
/** The ways to set each receiver up, without those that never help. @param too_large  more than can be computed: nothing is done
 * @return 0 or RIG_ENOMEM */
int swap__options(struct swap *swap, bool *too_large);

/** Make the relaxation of a receiver from its options that are not dead. */
void swap__relax(const struct swap *swap, struct swap_receiver *receiver);

/* ---- one option ---- */

/** Lanes up to which another transmitter on the air answers to `fixture` with this code and air mode; 0 when none.
 * @param choice  options of the receivers; NULL or SHOW_UNKNOWN entries: not decided, and counted only where they have one option */
int64_t swap__other_top(const struct swap *swap, uint32_t receiver, const struct swap_option *option, const uint32_t *choice,
                        uint32_t fixture);
/** Prices of all pairs of an item and a lane under an option. @param fixed  filled with the option's settings in any case */
void swap__price(const struct swap *swap, uint32_t receiver, uint32_t option, const uint32_t *choice, plan_cost *table,
                 uint32_t *fixed);
/** Price of an item that is not carried. */
plan_cost swap__alone(const struct swap *swap, uint32_t item);
/** True if the item is not to be put on the receiver. */
bool swap__never(const struct swap *swap, uint32_t item, uint32_t receiver);
/** True if two receivers may have these options at once. */
bool swap__compatible(const struct swap *swap, uint32_t a, uint32_t option_a, uint32_t b, uint32_t option_b);
/** True if the option clashes with what no plan changes, or lands a fixture twice that must keep working. */
bool swap__option_clashes(const struct swap *swap, uint32_t receiver, const struct swap_option *option);
/** True if a failing fixture that heard two transmitters would now land in another universe than its own, on a lane that no plan
 * changes. @param choice  all decided */
bool swap__tears(const struct swap *swap, const uint32_t *choice);
/** True if another receiver that is decided has the option's code and air mode. */
bool swap__shares_code(const struct swap *swap, uint32_t receiver, const uint32_t *choice);

/* ---- search ---- */

/** Find the best answer, or the best within the step limit. @return 0 or RIG_ENOMEM */
int swap__search(struct swap *swap);
/** Put a receiver's prices into the assignment. */
void swap__set_columns(const struct swap *swap, struct assign *assign, uint32_t receiver, const plan_cost *table);
/** All options are decided: find the best assignment with parking counted. Improves swap->best.
 * @param base  settings of the options in any case. @return 0 or RIG_ENOMEM */
int swap__leaf(struct swap *swap, struct assign *assign, const uint32_t *choice, uint32_t base);
/** True if no assignment can be better than the best answer so far: by its cost, or at an equal cost by its list.
 * @param bound  filled with the least cost it can have */
bool swap__hopeless(const struct swap *swap, struct assign *assign, uint32_t base, plan_cost *bound);
/** True if the step limit is hit and there is an answer: then the bound of what is left is noted. */
bool swap__out_of_steps(struct swap *swap, const struct assign *assign, plan_cost bound);
/** Keep an answer if it is better than the best so far. */
void swap__keep(struct swap *swap, plan_cost cost, const uint32_t *choice, const uint32_t *column);

/* ---- what an answer does to each fixture ---- */

struct swap_fate {
    bool dark, park, touched, disturbed;
    uint32_t column;                 /* where it lands, or where it would if it were not parked; SHOW_UNKNOWN: nowhere */
};
/** What becomes of a lost or working fixture. */
struct swap_fate swap__fate(const struct swap *swap, const uint32_t *choice, const uint32_t *column, const uint32_t *item_of,
                            const struct swap_fixture *fixture);
/** Universe on a column afterwards, SHOW_NONE when it is empty.
 * @param item_of  of each column; item_count or more: none */
int64_t swap__content(const struct swap *swap, const uint32_t *item_of, uint32_t column);
/** True if a fixture, keyed as an option has it, lands on this lane of the receiver and nowhere else. */
bool swap__lights(const struct swap *swap, uint32_t receiver, const uint32_t *choice, int64_t lane,
                  const struct swap_fixture *fixture);
/** The column where the fixture's present settings land it if nobody keys it anew, or SHOW_UNKNOWN: nowhere, twice, or on a lane
 * that no plan changes. */
uint32_t swap__old_column(const struct swap *swap, const uint32_t *choice, const struct swap_fixture *fixture);
/** Set fields of the plan and append the steps for transmitters, then those for fixtures. */
int swap__write(const struct swap *swap, const struct swap_answer *answer, struct plan *plan);

/* A receiver, and one that has its new code and is to be switched off before; SHOW_UNKNOWN: none. */
struct swap_order { uint32_t receiver, off_first; };
/** The order in which receivers are set, so that no code is on the air twice in between.
 * @param set  by receiver: the answer may change it   @param out  as many as there are receivers. @return 0 or RIG_ENOMEM */
int swap__order(const struct swap *swap, const uint32_t *choice, const bool *set, struct swap_order *out);

/* The parts of a cost. */
struct swap_parts { uint32_t dark, disturbed, touches, settings; };
struct swap_parts swap__parts(const struct swap *swap, plan_cost cost);

/** Solve a problem in both phases; in one if touches or some universes come first. @param keep_working  the first phase only
 * @param out  caller frees with plan_free(). @return 0 or RIG_ENOMEM */
int swap__solve(const struct swap_problem *problem, enum plan_kind kind, bool keep_working, struct plan **out);
/** Sentences why fixtures stay dark and the rules that judge it, in the plan's order of them. @return 0 or RIG_ENOMEM */
int swap__explain(const struct swap *swap, const struct swap_answer *answer, struct plan *plan);
/** plan->universes_dark. @return 0 or RIG_ENOMEM */
int swap__name_universes(const struct swap *swap, const struct swap_answer *answer, struct plan *plan);

#endif
