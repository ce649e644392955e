/* What a plan must name beside the fixtures that stay dark, so that a check afterwards says nothing new: universes that leave the
 * air, and fixtures that did not land rightly before and now have no transmitter at all. */
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
        if (!swap->problem->gone[carriers[i].transmitter] && !transmitter->spare && lane >= 1 && lane <= transmitter_lane_count(transmitter))
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

/* The rule landing says nothing of it now: what is wrong is another rule's matter. */
static bool is_silent(enum landing_state state)
{
    return state == LANDING_BEYOND || state == LANDING_SHARED;
}

/* The rule landing leaves it to another rule whatever happens. */
static bool is_excused(const struct show *show, const struct fixture *fixture)
{
    const struct type *type = fixture_type(show, fixture);
    return !fixture_mode(show, fixture) || !(type->airs & AIR_BIT(fixture->air)) || !plan__is_code(fixture->code);
}

static uint32_t find_silent(const struct show *show, uint32_t *list)
{
    uint32_t count = 0;
    for (uint32_t f = 0; f < show->fixture_count; f++)
        if (is_silent(radio_landing(show, &show->fixtures[f]).state) && !is_excused(show, &show->fixtures[f]))
            list[count++] = f;
    return count;
}

int swap__name_failing(const struct show *show, struct plan *plan)
{
    struct show *after = NULL;
    uint32_t *list = malloc((show->fixture_count + (size_t)1) * sizeof *list);
    uint32_t count = list ? find_silent(show, list) : 0, kept = 0;
    int err = list ? 0 : RIG_ENOMEM;
    if (count)                       /* rare, so that the copy is made only then */
        err = plan_apply(plan, show, &after, NULL);
    for (uint32_t i = 0; i < count && !err; i++) {
        enum landing_state state = radio_landing(after, &after->fixtures[list[i]]).state;
        if (!is_silent(state) && state != LANDING_RIGHT)
            list[kept++] = list[i];
    }
    if (!err && !(plan->failing = plan__fixtures(plan, show, list, kept)))
        err = RIG_ENOMEM;
    plan->failing_count = err ? 0 : kept;
    show_free(after);
    free(list);
    return err;
}
