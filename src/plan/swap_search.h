/* The state of the branch and bound, shared by swap_search.c and swap_try.c. */
#ifndef RIGCALL_PLAN_SWAP_SEARCH_H
#define RIGCALL_PLAN_SWAP_SEARCH_H

#include "swap_dual.h"

struct search {
    struct swap *swap;
    struct assign assign;
    struct swap_dual dual;
    plan_cost *prices;               /* of the items, by depth: where the prices of a child begin */
    bool plain;                      /* by the relaxed assignment alone */
    uint32_t depth;
    plan_cost polished;              /* the cost of the answer that was bettered last */
    plan_cost floor;                 /* what is known of the node from those above it */
    uint32_t *choice, *trial;        /* options decided; SHOW_UNKNOWN: not yet */
    uint32_t *tried;                 /* the last trial by choices */
    uint32_t base;                   /* settings in any case */
};

/** What the present assignment really costs on a receiver under each of its options, as receiver->estimate.
 * @param least  the option that costs least. @return its cost over the relaxed price */
plan_cost swap__estimate(const struct search *search, uint32_t receiver, uint32_t *least);
/** True if an option clashes with none that `choice` has decided. */
bool swap__fits(const struct search *search, const uint32_t *choice, uint32_t receiver, uint32_t option);
/** Complete the node by the options that suit the present assignment best. @return 0 or RIG_ENOMEM, as all that follow */
int swap__try_completion(struct search *search);
/** Complete it by what the receivers choose at the present prices. */
int swap__try_choices(struct search *search);
/** Better the best answer by one receiver at a time, as long as that helps. */
int swap__polish(struct search *search);

#endif
