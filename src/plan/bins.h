/* Bin packing with sets: things of a size into bins of one capacity, as few bins as can be. Each thing has a set of places that
 * could take it, and what shares a bin must have a place in common. Gaps are bins that are there already and cost nothing. */
#ifndef RIGCALL_PLAN_BINS_H
#define RIGCALL_PLAN_BINS_H

#include <stdbool.h>
#include <stdint.h>

#define BINS_NONE UINT32_MAX
#define BINS_EXACT 1000              /* things up to which an exact search is tried */

struct bins {
    uint32_t count;
    const uint32_t *size;            /* 1..capacity */
    uint32_t words;                  /* 64-bit words of a set */
    const uint64_t *sets;            /* count x words, none empty */
    uint32_t capacity;
    uint32_t gap_count;
    const uint32_t *gap_room;
    const uint64_t *gap_sets;        /* gap_count x words */
    /** May refuse a packing, for reasons that sizes and sets do not tell. `sets` are those of the bins opened, in common.
     * NULL: all are good. */
    bool (*accept)(void *context, const uint64_t *sets, const uint32_t *bin, uint32_t opened);
    void *context;
    uint64_t step_limit;
    uint32_t *bin;                   /* filled: by thing; below gap_count a gap, from there on the bins opened */
    uint32_t opened;                 /* filled */
    uint32_t at_least;               /* filled: no packing opens fewer */
    bool proved;                     /* filled: opened is the least */
    bool accepted;                   /* filled: false if no packing was found that `accept` takes; bin is one that it refused */
};

/** @return false when memory is short */
bool bins_pack(struct bins *bins);

#endif
