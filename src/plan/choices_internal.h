/* Shared by the files that find several plans for one loss. */
#ifndef RIGCALL_PLAN_CHOICES_INTERNAL_H
#define RIGCALL_PLAN_CHOICES_INTERNAL_H

#include "swap_internal.h"

/* What one asking narrows. */
struct way {
    const uint32_t *in; uint32_t in_count;                   /* transmitters that may change, by rising index */
    const struct plan_never *never; uint32_t never_count;    /* sorted */
    const int64_t *first; uint32_t first_count;              /* universes that come first, rising */
    bool keep_working, touches_first;
};

struct choice { struct plan *plan; uint32_t way; bool opened; };

struct choices {
    const struct show *show;
    const struct plan_swap_options *options;
    struct plan *notes;              /* owns every array here, and is nothing else */
    const int64_t *lost; uint32_t lost_count;                /* universes that lost transmitters carry */
    struct way ways[PLAN_TRIES]; uint32_t way_count;
    struct choice found[PLAN_CHOICES]; uint32_t count;       /* as they were found */
    struct rig_why *why;
};

/** Fill why. @return RIG_ENOMEM */
int choices__no_memory(const struct choices *choices);
/** Ask in this way, if it is a new one and there is room; keep the plan if it is new. @return 0 or the code in why */
int choices__try(struct choices *choices, const struct way *way);
/** The best plans for what may be needed most: each universe and tag that the first plan leaves dark, each site alone.
 * @return as choices__try() */
int choices__try_needs(struct choices *choices);

#endif
