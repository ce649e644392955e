/* Join codes as colours: things that could be heard in one place get different ones, and as few are used as can be. */
#ifndef RIGCALL_PLAN_CODES_H
#define RIGCALL_PLAN_CODES_H

#include <stdbool.h>
#include <stdint.h>

#define CODES_NONE UINT32_MAX
#define CODES_EXACT 64               /* nodes that hang together up to which the number of new colours is searched for */

/* An undirected graph; some nodes have a colour already. */
struct codes_graph {
    uint32_t count;
    const uint32_t *first;           /* count + 1 places in `edges`; every edge stands at both its nodes */
    const uint32_t *edges;
    uint32_t *colour;                /* below `known`, or CODES_NONE: then it is filled */
    uint32_t known;                  /* colours that are there already */
    const bool *usable;              /* by known colour: other nodes may take it too */
    uint64_t step_limit;
    uint32_t added;                  /* filled: new colours, numbered from `known` */
    uint32_t at_least;               /* filled: new colours that no colouring can do without */
    bool proved;                     /* filled: added is the least */
};

/** Colour the nodes that have no colour with as few new colours as can be. @return false when memory is short */
bool codes_colour(struct codes_graph *graph);

#endif
