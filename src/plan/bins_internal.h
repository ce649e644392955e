/* Shared inside the bin packer. */
#ifndef RIGCALL_PLAN_BINS_INTERNAL_H
#define RIGCALL_PLAN_BINS_INTERNAL_H

#include "bins.h"

/* Things of one size and set are alike. */
struct kind { uint32_t size, count, first; const uint64_t *set; };      /* first: place in packing.sorted */

struct packing {
    struct bins *bins;
    struct kind *kinds; uint32_t kind_count;                 /* largest first */
    uint32_t *sorted;                /* things by kind */
    uint64_t total;                  /* of all sizes */
    uint32_t bound;                  /* bins that no packing can do without */
    uint32_t *group; uint32_t group_count;       /* by kind: things of two groups never share a bin; BINS_NONE: of no group */
    uint64_t *worth;                 /* BINS_DUALS x kind: what a thing counts, in parts of duals x capacity */
    uint16_t *all;                   /* by kind: its count */
};

#define BINS_DUALS 20

/** Fill packing.bound and what bins__least() needs. @return false when memory is short */
bool bins__bound(struct packing *packing);
void bins__bound_free(struct packing *packing);
/** Bins that no packing of what is left can do without. @param left  by kind */
uint32_t bins__least(const struct packing *packing, const uint16_t *left);
/** Look for a packing that opens `open` bins at most. @param limited  set when the step limit stopped it; refused: when `accept`
 * refused some @return false when memory is short; *found says what came out, then bins.bin is filled */
bool bins__search(struct packing *packing, uint32_t open, uint64_t *steps, bool *found, bool *limited, bool *refused);

#endif
