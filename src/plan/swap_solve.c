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

static int compare_counts(const void *a, const void *b)
{
    const uint32_t *x = a, *y = b;
    return (*x > *y) - (*x < *y);
}

/* Lanes that receivers could have at most, less those that carry something now: what is carried stays carried. */
static int64_t count_room(const struct swap *swap)
{
    int64_t room = 0;
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        const struct swap_receiver *receiver = &swap->receivers[r];
        struct transmitter copy = swap->show->transmitters[receiver->transmitter];
        if (!receiver->may_change)
            continue;
        room -= receiver->carrying;
        if (copy.airs & AIR_BIT(AIR_DUAL))
            copy.air = AIR_DUAL;
        room += transmitter_lane_count(&copy);
    }
    return room;
}

/* Fixtures that stay dark whatever is done: those that no transmitter could serve, and of the universes for which there are not
 * lanes enough the smallest ones. @return 0 or RIG_ENOMEM */
static int count_hopeless(const struct swap *swap, uint32_t *dark)
{
    uint32_t *counts = calloc(swap->item_count + (size_t)1, sizeof *counts), items = 0;
    int64_t room = count_room(swap);
    *dark = 0;
    if (!counts)
        return RIG_ENOMEM;
    for (uint32_t i = 0; i < swap->item_count; i++) {
        const struct swap_item *item = &swap->items[i];
        uint32_t able = 0;
        for (uint32_t f = item->lost; f < item->lost + item->lost_count; f++)
            able += could_serve(swap, &swap->lost[f]);
        *dark += item->lost_count - able;
        if (!item->must && !item->tied)
            counts[items++] = able;
    }
    qsort(counts, items, sizeof *counts, compare_counts);
    for (uint32_t k = 0; k < items && (int64_t)(items - k) > room; k++)
        *dark += counts[k];
    free(counts);
    return 0;
}

/* Nothing is known but what must stay dark. */
static void set_weak_bounds(struct plan *plan, uint32_t dark)
{
    plan->proved = false;
    plan->dark_at_least = dark;
    plan->disturbed_at_least = plan->touches_at_least = plan->settings_at_least = 0;
}

static void set_bounds(const struct swap *swap, struct plan *plan)
{
    plan_cost least = swap->limited && swap->open < swap->best.cost ? swap->open : swap->best.cost;
    struct swap_parts parts = swap__parts(swap, least);
    plan->proved = least == swap->best.cost;
    if (!plan->proved && swap->problem->first_count) {       /* a plan that lights less of those may have fewer dark in all */
        set_weak_bounds(plan, (uint32_t)(least / swap->weights.first));
        return;
    }
    plan->dark_at_least = parts.dark;
    plan->disturbed_at_least = parts.disturbed;
    plan->touches_at_least = parts.touches;
    plan->settings_at_least = parts.settings;
}

static int write(const struct swap *swap, struct plan *plan)
{
    int err = swap__write(swap, &swap->best, plan);
    set_bounds(swap, plan);
    plan->lost = swap->lost_count;
    if (!err)
        err = swap__name_universes(swap, &swap->best, plan);
    return err ? err : swap__explain(swap, &swap->best, plan);
}

/* With disturbing; keeps `plan` if nothing lights more. */
static int solve_disturbing(const struct swap_problem *problem, struct plan **plan, uint32_t hopeless)
{
    struct swap swap;
    struct plan *better = NULL;
    bool too_large = false;
    int err = swap__model(&swap, problem, true);
    if (!err && swap.working_count == 0)
        goto out;                    /* nobody can make room: the first phase was all there is */
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
    bool too_large = false, ordered = problem->touches_first || problem->first_count;
    bool one_phase = keep_working || ordered;        /* the order of cost alone decides: there is no cheaper first phase */
    int err = swap__model(&swap, problem, ordered && !keep_working);
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
        if (!err)
            err = count_hopeless(&swap, &hopeless);
    }
    swap__fini(&swap);
    if (!err && !too_large && !one_phase && plan->dark > hopeless)
        err = solve_disturbing(problem, &plan, hopeless);
    if (err) {
        plan_free(plan);
        plan = NULL;
    }
    *out = plan;
    return err;
}
