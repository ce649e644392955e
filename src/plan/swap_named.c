/* Universes that leave the air: a plan names them, so that a check afterwards says nothing new. */
#include <stdlib.h>

#include "swap_internal.h"

static int compare_numbers(const void *a, const void *b)
{
    const int64_t *x = a, *y = b;
    return (*x > *y) - (*x < *y);
}

/* A lane of a transmitter that stays carries it. Whether that one has a join code is the landing's matter. */
static bool stays_carried(const struct swap *swap, int64_t universe)
{
    uint32_t count;
    const struct carrier *carriers = show_carriers(swap->show, universe, &count);
    for (uint32_t i = 0; i < count; i++) {
        const struct transmitter *transmitter = &swap->show->transmitters[carriers[i].transmitter];
        int64_t lane = transmitter->lanes[carriers[i].entry].lane;
        if (!swap->problem->gone[carriers[i].transmitter] && !transmitter->spare && lane >= 1 &&
            lane <= transmitter_lane_count(transmitter))
            return true;
    }
    return false;
}

int swap__name_universes(const struct swap *swap, const struct swap_answer *answer, struct plan *plan)
{
    plan->universes_dark = plan__alloc(plan, (swap->listed_count + (size_t)1) * sizeof *plan->universes_dark);
    if (!plan->universes_dark)
        return RIG_ENOMEM;
    for (uint32_t i = 0; i < swap->listed_count; i++) {
        int64_t universe = swap->items[swap->listed[i]].universe;
        if (answer->column[swap->listed[i]] >= swap->column_count && !stays_carried(swap, universe))
            plan->universes_dark[plan->universes_dark_count++] = universe;
    }
    qsort(plan->universes_dark, plan->universes_dark_count, sizeof *plan->universes_dark, compare_numbers);
    return 0;
}
