/* Why fixtures stay dark, one sentence each. */
#include <inttypes.h>
#include <stdio.h>

#include "swap_internal.h"

#define NAMED 256

/* How near the transmitters that may change come to serving it: out of reach, none of its air modes, only one that its firmware is
 * too old for, too few hop channels beside the quiet bands, or nothing in the way. */
enum chance { CHANCE_NONE, CHANCE_AIR, CHANCE_FIRMWARE, CHANCE_HOPS, CHANCE_SOME };

struct reason { const char *why, *rule; };

static enum chance chance_of(const struct swap *swap, const struct swap_fixture *fixture)
{
    const struct type *type = fixture_type(swap->show, &swap->show->fixtures[fixture->index]);
    enum chance chance = CHANCE_NONE;
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        const struct transmitter *transmitter = &swap->show->transmitters[swap->receivers[r].transmitter];
        unsigned airs = transmitter->airs | AIR_BIT(transmitter->air);
        if (!swap->receivers[r].may_change || !fixture->reach[swap->receivers[r].transmitter])
            continue;
        enum chance here = !(airs & fixture->airs) ? type && (airs & type->airs) ? CHANCE_FIRMWARE : CHANCE_AIR
                         : swap->receivers[r].quiet_fits ? CHANCE_SOME : CHANCE_HOPS;
        chance = here > chance ? here : chance;
    }
    return chance;
}

/* The transmitters that its universe is kept off by what was asked. @return false when there is none */
static bool name_kept_off(const struct swap *swap, uint32_t item, char *text, size_t size)
{
    size_t used = 0;
    for (uint32_t r = 0; r < swap->receiver_count && used < size; r++)
        if (swap__never(swap, item, r))
            used += (size_t)snprintf(text + used, size - used, "%s%s", used ? ", " : "",
                                     swap->show->transmitters[swap->receivers[r].transmitter].id);
    return used > 0;
}

/* Where some transmitters that stay must not change, a sentence about "those in reach" means the others. */
static const char *which(const struct swap *swap)
{
    for (uint32_t r = 0; r < swap->receiver_count; r++)
        if (!swap->receivers[r].may_change)
            return " that may change";
    return "";
}

static struct reason why_dark(const struct swap *swap, const struct swap_answer *answer, struct plan *plan,
                              const struct swap_fixture *fixture)
{
    uint32_t column = answer->column[fixture->item];
    int64_t universe = swap->items[fixture->item].universe;
    char named[NAMED];
    switch (chance_of(swap, fixture)) {
    case CHANCE_NONE:
        return (struct reason){ "no transmitter that may change reaches it", "in-reach" };
    case CHANCE_AIR:
        return (struct reason){ plan__text(plan, "no transmitter in reach%s has an air mode that it takes", which(swap)), "air-supported" };
    case CHANCE_FIRMWARE:
        return (struct reason){ plan__text(plan, "its firmware is too old for the air modes of the transmitters in reach%s", which(swap)),
                                "firmware-floor" };
    case CHANCE_HOPS:
        return (struct reason){ plan__text(plan, "the transmitters in reach%s would keep fewer than 15 hop channels beside the quiet bands",
                                           which(swap)), "hop-count" };
    case CHANCE_SOME:
        break;
    }
    if (column >= swap->column_count && name_kept_off(swap, fixture->item, named, sizeof named))
        return (struct reason){ plan__text(plan, "this plan keeps universe %" PRId64 " off %s, and no other lane that could serve it is left",
                                           universe, named), "universe-carried" };
    if (column >= swap->column_count)
        return (struct reason){ plan__text(plan, "no lane that could serve it is left for universe %" PRId64, universe),
                                swap->problem->before ? "landing" : "universe-carried" };
    show_describe(swap->show, SUBJECT_TRANSMITTER, swap->receivers[swap->column_receiver[column]].transmitter, named, sizeof named);
    return (struct reason){ plan__text(plan, "universe %" PRId64 " goes to %s, which cannot serve it: a universe is on one lane only",
                                       universe, named), "landing" };
}

int swap__explain(const struct swap *swap, const struct swap_answer *answer, struct plan *plan)
{
    uint32_t *fixture_of = plan__alloc(plan, (swap->show->fixture_count + (size_t)1) * sizeof *fixture_of);
    plan->dark_whys = plan__alloc(plan, (plan->darkened_count + (size_t)1) * sizeof *plan->dark_whys);
    plan->dark_rules = plan__alloc(plan, (plan->darkened_count + (size_t)1) * sizeof *plan->dark_rules);
    if (!fixture_of || !plan->dark_whys || !plan->dark_rules)
        return RIG_ENOMEM;
    for (uint32_t f = 0; f < swap->lost_count; f++)
        fixture_of[swap->lost[f].index] = f;
    for (uint32_t d = 0; d < plan->darkened_count; d++) {
        struct reason reason = why_dark(swap, answer, plan, &swap->lost[fixture_of[plan->darkened[d]]]);
        plan->dark_whys[d] = reason.why;
        plan->dark_rules[d] = reason.rule;
        if (!reason.why)
            return RIG_ENOMEM;
    }
    return 0;
}
