/* The bound by prices, inside the swap planner; see swap_dual.c. */
#ifndef RIGCALL_PLAN_SWAP_DUAL_H
#define RIGCALL_PLAN_SWAP_DUAL_H

#include "swap_internal.h"

/* Receivers of which no two may be on the air with one code. */
struct swap_clique { const char *code; bool *member; };

struct swap_dual {
    struct swap *swap;
    struct swap_clique *cliques;  uint32_t clique_count;
    uint32_t count;                  /* of prices: items, then cliques */
    plan_cost *price, *best_price;   /* of each item, and what a member of each clique pays for the code */
    plan_cost *alone;                /* of each item: when it is not carried */
    int32_t *taken;                  /* of each item and clique: how often it is taken at these prices; an item once alone */
    uint32_t *chosen;                /* by receiver: the option that leaves it best off; SHOW_UNKNOWN: it has none */
    plan_cost *least;                /* by receiver: what it pays then */
    plan_cost **toll;                /* by receiver and option: what it pays for its code */
    plan_cost **value;               /* by receiver and option: the least that it pays with it; `forbidden`: it may not be */
    plan_cost bound, best_bound;
    struct assign assign;            /* of one receiver: rows are its lanes, columns the items that pay */
    uint32_t *packed;                /* those items */
    uint32_t *packed_at;             /* by item: its column there, SHOW_UNKNOWN when it has none */
    plan_cost *lane_least;           /* by lane of one receiver */
    uint32_t *lane_item, *kept;      /* by lane of one receiver: item taken */
    plan_cost *extra;                /* items x columns: what a pair costs over the bound at least */
    plan_cost most_extra;            /* of pairs that are kept */
    uint64_t steps;                  /* cells looked at */
};

/** Cover the pairs that clash, code by code. @return false when memory is short */
bool swap__find_cliques(struct swap_dual *dual);
/** @return 0 or RIG_ENOMEM; swap__dual_fini() is fine then too */
int swap__dual_init(struct swap_dual *dual, struct swap *swap);
void swap__dual_fini(struct swap_dual *dual);
/** Improve the prices for a node and leave the best of them, with what the receivers choose.
 * @param choice  options decided; SHOW_UNKNOWN: not yet
 * @param aim  the cost that the bound is to pass: it stops there
 * @return false if some receiver has no option left */
bool swap__dual_improve(struct swap_dual *dual, const uint32_t *choice, uint32_t rounds, plan_cost aim);
/** Fill `extra` for all pairs that cost at most `slack` over the bound; others get more than that. */
void swap__dual_extras(struct swap_dual *dual, const uint32_t *choice, plan_cost slack);
/** What an item costs at least over the bound when it is not carried. */
plan_cost swap__dual_alone(const struct swap_dual *dual, uint32_t item);
/** Mark options that no answer as cheap as `most` has as dead. Needs swap__dual_improve() for the node.
 * @param mark  what `dead` becomes */
void swap__dual_drop(struct swap_dual *dual, const uint32_t *choice, plan_cost most, uint32_t mark);
/** Take out for good the pairs that no answer as cheap as `most` has. Needs swap__dual_improve() for the root. */
void swap__dual_forbid(struct swap_dual *dual, const uint32_t *choice, plan_cost most);

#endif
