/* What does not fit, and which limit it meets. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "patch_internal.h"

/* The transmitter that is nearest to serving an item: the nearest by distance, else the first of its site; PATCH_NONE: none. */
static uint32_t nearest(const struct patch *patch, const struct patch_item *item, bool in_reach, double *distance_m)
{
    const struct show *show = patch->show;
    const struct fixture *fixture = &show->fixtures[patch->members[item->first]];
    uint32_t best = PATCH_NONE;
    *distance_m = INFINITY;
    for (uint32_t i = 0; i < patch->transmitter_count; i++) {
        const struct transmitter *t = &show->transmitters[patch->transmitters[i].index];
        double d = radio_distance_m(&t->pos, &fixture->pos);
        if (t->spare || radio_in_reach(show, t, fixture) != in_reach || (!in_reach && isnan(d)))
            continue;
        if (best == PATCH_NONE || d < *distance_m) {
            best = i;
            *distance_m = isnan(d) ? INFINITY : d;
        }
    }
    return best;
}

static const char *too_far(struct patch *patch, const struct patch_item *item)
{
    double distance_m;
    uint32_t tx = nearest(patch, item, false, &distance_m);
    char name[128];
    if (tx == PATCH_NONE)
        return "no transmitter is in reach of it (spares do not count)";
    const struct transmitter *t = &patch->show->transmitters[patch->transmitters[tx].index];
    show_describe(patch->show, SUBJECT_TRANSMITTER, patch->transmitters[tx].index, name, sizeof name);
    return isnan(t->reach_m) ? plan__text(patch->plan, "no transmitter is in reach of it: %s has no reach and is of another site", name)
                             : plan__text(patch->plan, "no transmitter is in reach of it: %s is %.1f m away, its reach is %g m", name,
                                          distance_m, t->reach_m);
}

static const char *no_lane(struct patch *patch, const struct patch_item *item)
{
    char list[160] = "";
    size_t length = 0;
    uint32_t count = 0;
    for (uint32_t i = 0; i < patch->transmitter_count; i++) {
        const struct patch_transmitter *tx = &patch->transmitters[i];
        const char *id = patch->show->transmitters[tx->index].id;
        bool serves = false;
        for (uint32_t c = tx->column; c < tx->column + tx->column_count; c++)
            serves |= patch__serves(patch, c, item);
        if (serves && ++count <= 3 && length < sizeof list)
            length += (size_t)snprintf(list + length, sizeof list - length, "%s%s", *list ? ", " : "", id);
    }
    const char *more = count > 3 ? plan__text(patch->plan, " and %" PRIu32 " more", count - 3) : "";
    return more ? plan__text(patch->plan, "no lane is left on a transmitter in reach of it (%s%s)", list, more) : NULL;
}

/* Why, and the rule that judges it. */
struct reason { const char *why, *rule; };

static struct reason unfit(struct patch *patch, const struct patch_item *item)
{
    double distance_m;
    char name[128];
    uint32_t at = nearest(patch, item, true, &distance_m);
    if (at == PATCH_NONE)
        return (struct reason){ "no transmitter is in reach of it", "in-reach" };
    const struct patch_transmitter *tx = &patch->transmitters[at];
    show_describe(patch->show, SUBJECT_TRANSMITTER, tx->index, name, sizeof name);
    if (tx->hops >= RADIO_FLOOR)
        return (struct reason){ plan__text(patch->plan, "%s has a join code that is not eight digits", name), "code-form" };
    return (struct reason){ plan__text(patch->plan, "%s would keep %d hop channel%s, %d are needed", name, tx->hops, tx->hops == 1 ? "" : "s",
                                       RADIO_FLOOR), "hop-count" };
}

static struct reason explain(struct patch *patch, const struct patch_item *item)
{
    switch (item->trouble) {
    case PATCH_TOO_LONG:
        return (struct reason){ "it takes more than the 512 slots of a universe", "address-fits" };
    case PATCH_NO_AIR:
        return (struct reason){ "its firmware is below what its type needs for every air mode", "firmware-floor" };
    case PATCH_NO_REACH:
        return (struct reason){ too_far(patch, item), "in-reach" };
    case PATCH_AIR_DIFFERS:
        return (struct reason){ "no transmitter in reach of it can take an air mode that it has", "air-supported" };
    case PATCH_TX_UNFIT:
        return unfit(patch, item);
    case PATCH_TWICE:
        return (struct reason){ "two transmitters in reach of it have one join code: it would land on both", "landing" };
    case PATCH_NO_NUMBER:
        return (struct reason){ "no universe number up to 63999 is left", "universe-number" };
    default:
        return (struct reason){ no_lane(patch, item), "lane-exists" };
    }
}

struct dark { int64_t id; uint32_t fixture; struct reason reason; bool for_sure; };

static int by_id(const void *a, const void *b)
{
    const struct dark *x = a, *y = b;
    return (x->id > y->id) - (x->id < y->id);
}

int patch__dark(struct patch *patch)
{
    struct plan *plan = patch->plan;
    struct dark *list = patch__alloc(patch, patch->show->fixture_count, sizeof *list);
    uint32_t count = 0, for_sure = 0;
    if (!list)
        return RIG_ENOMEM;
    for (uint32_t i = 0; i < patch->item_count; i++) {
        const struct patch_item *item = &patch->items[i];
        struct reason reason = { NULL, NULL };
        if (item->trouble && !(reason = explain(patch, item)).why)
            return RIG_ENOMEM;
        for (uint32_t m = 0; item->trouble && m < item->count; m++) {
            uint32_t fixture = patch->members[item->first + m];
            list[count++] = (struct dark){ patch->show->fixtures[fixture].id, fixture, reason, item->trouble != PATCH_NO_LANE };
        }
    }
    qsort(list, count, sizeof *list, by_id);
    plan->darkened = plan__alloc(plan, (count + (size_t)1) * sizeof *plan->darkened);
    plan->dark_whys = plan__alloc(plan, (count + (size_t)1) * sizeof *plan->dark_whys);
    plan->dark_rules = plan__alloc(plan, (count + (size_t)1) * sizeof *plan->dark_rules);
    if (!plan->darkened || !plan->dark_whys || !plan->dark_rules)
        return RIG_ENOMEM;
    for (uint32_t i = 0; i < count; i++) {
        plan->darkened[i] = list[i].fixture;
        plan->dark_whys[i] = list[i].reason.why;
        plan->dark_rules[i] = list[i].reason.rule;
        for_sure += list[i].for_sure;
    }
    plan->dark = plan->darkened_count = count;
    plan->dark_at_least = for_sure + (plan->proved && for_sure < count);      /* that not all of the others fit is all that is proved */
    return 0;
}
