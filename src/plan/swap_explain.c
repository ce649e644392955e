/* Why fixtures stay dark, one sentence each. */
#include <inttypes.h>

#include "swap_internal.h"

#define NAMED 256

/* The transmitters that reach it: none, one or more that lack its air modes, or some that would do. */
enum chance { CHANCE_NONE, CHANCE_AIR, CHANCE_SOME };

static enum chance chance_of(const struct swap *swap, const struct swap_fixture *fixture)
{
    enum chance chance = CHANCE_NONE;
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        const struct transmitter *transmitter = &swap->show->transmitters[swap->receivers[r].transmitter];
        if (!swap->receivers[r].may_change || !fixture->reach[swap->receivers[r].transmitter])
            continue;
        if ((transmitter->airs | AIR_BIT(transmitter->air)) & fixture->airs)
            return CHANCE_SOME;
        chance = CHANCE_AIR;
    }
    return chance;
}

static const char *why_dark(const struct swap *swap, const struct swap_answer *answer, struct plan *plan,
                            const struct swap_fixture *fixture)
{
    uint32_t column = answer->column[fixture->item];
    int64_t universe = swap->items[fixture->item].universe;
    char named[NAMED];
    enum chance chance = chance_of(swap, fixture);
    if (chance == CHANCE_NONE)
        return "no transmitter that may change reaches it";
    if (chance == CHANCE_AIR)
        return "no transmitter in reach has an air mode that it takes";
    if (column >= swap->column_count)
        return plan__text(plan, "no lane that could serve it is left for universe %" PRId64, universe);
    show_describe(swap->show, SUBJECT_TRANSMITTER, swap->receivers[swap->column_receiver[column]].transmitter, named, sizeof named);
    return plan__text(plan, "universe %" PRId64 " goes to %s, which cannot serve it: a universe is on one lane only", universe, named);
}

int swap__explain(const struct swap *swap, const struct swap_answer *answer, struct plan *plan)
{
    uint32_t *fixture_of = plan__alloc(plan, (swap->show->fixture_count + (size_t)1) * sizeof *fixture_of);
    plan->dark_whys = plan__alloc(plan, (plan->darkened_count + (size_t)1) * sizeof *plan->dark_whys);
    if (!fixture_of || !plan->dark_whys)
        return RIG_ENOMEM;
    for (uint32_t f = 0; f < swap->lost_count; f++)
        fixture_of[swap->lost[f].index] = f;
    for (uint32_t d = 0; d < plan->darkened_count; d++) {
        plan->dark_whys[d] = why_dark(swap, answer, plan, &swap->lost[fixture_of[plan->darkened[d]]]);
        if (!plan->dark_whys[d])
            return RIG_ENOMEM;
    }
    return 0;
}
