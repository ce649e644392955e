/* Both phases: first without disturbing what works; then, if fixtures stay dark that some transmitter could serve, with it. */
#include <stdlib.h>
#include <string.h>

#include "swap_internal.h"

/* Some transmitter could light it, if lanes and codes were no matter. */
static bool could_serve(const struct swap *swap, const struct swap_fixture *fixture)
{
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        const struct transmitter *transmitter = &swap->show->transmitters[swap->receivers[r].transmitter];
        unsigned airs = swap->receivers[r].may_change ? transmitter->airs | AIR_BIT(transmitter->air) : AIR_BIT(transmitter->air);
        if (fixture->reach[swap->receivers[r].transmitter] && (airs & fixture->airs & (AIR_BIT(AIR_SINGLE) | AIR_BIT(AIR_DUAL))))
            return true;
    }
    return false;
}

static uint32_t count_hopeless(const struct swap *swap)
{
    uint32_t count = 0;
    for (uint32_t f = 0; f < swap->lost_count; f++)
        count += !could_serve(swap, &swap->lost[f]);
    return count;
}

static void set_bounds(const struct swap *swap, struct plan *plan)
{
    plan_cost least = swap->limited && swap->open < swap->best.cost ? swap->open : swap->best.cost;
    struct swap_parts parts = swap__parts(swap, least);
    plan->proved = least == swap->best.cost;
    plan->dark_at_least = parts.dark;
    plan->disturbed_at_least = parts.disturbed;
    plan->touches_at_least = parts.touches;
    plan->settings_at_least = parts.settings;
}

/* Nothing is known but what no transmitter can serve. */
static void set_weak_bounds(struct plan *plan, uint32_t dark)
{
    plan->proved = false;
    plan->dark_at_least = dark;
    plan->disturbed_at_least = plan->touches_at_least = plan->settings_at_least = 0;
}

static int write(const struct swap *swap, struct plan *plan)
{
    int err = swap__write(swap, &swap->best, plan);
    set_bounds(swap, plan);
    return err ? err : swap__explain(swap, &swap->best, plan);
}

/* With disturbing; keeps `plan` if nothing lights more. */
static int solve_disturbing(const struct swap_problem *problem, struct plan **plan, uint32_t hopeless)
{
    struct swap swap;
    struct plan *better = NULL;
    bool too_large = false;
    int err = swap__model(&swap, problem, true);
    if (!err)
        err = swap__options(&swap, &too_large);
    if (err || too_large)
        goto out;
    swap.limit = swap.weights.dark * (*plan)->dark;          /* only what lights more is better */
    err = swap__search(&swap);
    if (err || !swap.best.found) {
        if (!err && swap.limited && swap.open < swap.limit)
            set_weak_bounds(*plan, swap__parts(&swap, swap.open).dark);
        goto out;
    }
    better = plan__new((*plan)->kind);
    err = better ? write(&swap, better) : RIG_ENOMEM;
    if (!err) {
        better->undisturbing = *plan;
        *plan = better;
        better = NULL;
    }
out:
    if (!err && too_large)
        set_weak_bounds(*plan, hopeless);
    plan_free(better);
    swap__fini(&swap);
    return err;
}

int swap__solve(const struct swap_problem *problem, enum plan_kind kind, bool keep_working, struct plan **out)
{
    struct swap swap;
    struct plan *plan = plan__new(kind);
    uint32_t hopeless = 0;
    bool too_large = false;
    int err = swap__model(&swap, problem, false);
    if (!err)
        err = swap__options(&swap, &too_large);
    if (!err && !plan)
        err = RIG_ENOMEM;
    if (!err && too_large)
        err = plan__refuse(plan, NULL, "%u universes on %u lanes are more than can be planned at once", swap.item_count,
                           swap.column_count) ? 0 : RIG_ENOMEM;
    else if (!err)
        err = swap__search(&swap);
    if (!err && !too_large) {
        err = write(&swap, plan);
        hopeless = count_hopeless(&swap);
    }
    swap__fini(&swap);
    if (!err && !too_large && !keep_working && plan->dark > hopeless)
        err = solve_disturbing(problem, &plan, hopeless);
    if (err) {
        plan_free(plan);
        plan = NULL;
    }
    *out = plan;
    return err;
}
