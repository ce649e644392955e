/* Which fixtures are to be patched, and which of them are one item because they share an address on purpose. */
#include <math.h>

#include "patch_internal.h"

#define CHAIN 64                     /* same_as of same_as of ...: followed this far */

static bool is_refused(struct patch *patch, const char *rule, enum subject_kind kind, uint32_t index, const char *what)
{
    char name[128];
    show_describe(patch->show, kind, index, name, sizeof name);
    return plan__refuse(patch->plan, rule, "%s %s", name, what);
}

/* Repeated ids make "this fixture" mean two. @return false when memory is short */
static bool refuse_repeated(struct patch *patch)
{
    const struct show *show = patch->show;
    for (uint32_t i = 0; i < show->fixture_count; i++)
        if (show_find_fixture(show, show->fixtures[i].id) != i)
            return is_refused(patch, "ids-unique", SUBJECT_FIXTURE, i, "has the id of another fixture");
    for (uint32_t i = 0; i < show->transmitter_count; i++)
        if (show_find_transmitter(show, show->transmitters[i].id) != i)
            return is_refused(patch, "ids-unique", SUBJECT_TRANSMITTER, i, "has the id of another transmitter");
    for (uint32_t i = 0; i < show->universe_count; i++)
        if (show_find_universe(show, show->universes[i].id) != i)
            return is_refused(patch, "ids-unique", SUBJECT_UNIVERSE, i, "has the id of another universe");
    return true;
}

static bool is_wired(const struct show *show, const struct fixture *fixture)
{
    const struct type *type = fixture_type(show, fixture);
    return fixture->wired || !type || !type->airs;
}

/* What is patched stays, wired fixtures even with --all: their cables hang already. */
static bool is_to_move(const struct patch *patch, const struct fixture *fixture)
{
    const struct show *show = patch->show;
    if (patch->options->site != SHOW_UNKNOWN && fixture->site_index != patch->options->site)
        return false;
    if (fixture->universe == SHOW_NONE)
        return true;
    return patch->options->all && fixture->code && !is_wired(show, fixture);
}

static unsigned airs_of(const struct show *show, const struct fixture *fixture)
{
    const struct type *type = fixture_type(show, fixture);
    unsigned airs = 0;
    for (enum air air = AIR_SINGLE; air <= AIR_DUAL; air++) {
        const char *floor = type->firmware_floor[air];
        if ((type->airs & AIR_BIT(air)) && !(floor && fixture->firmware && plan__is_below(fixture->firmware, floor)))
            airs |= AIR_BIT(air);
    }
    return airs;
}

static bool are_alike(const struct show *show, uint32_t a, uint32_t b)
{
    const struct fixture *x = &show->fixtures[a], *y = &show->fixtures[b];
    return x->site == y->site && is_wired(show, x) == is_wired(show, y) && fixture_footprint(show, x) == fixture_footprint(show, y);
}

/* The fixture whose address this one shares on purpose, if both move and are alike; otherwise itself. Fixtures that name each
 * other in a circle are on their own. */
static uint32_t leader_of(const struct patch *patch, uint32_t fixture)
{
    const struct show *show = patch->show;
    uint32_t at = fixture;
    for (int hops = 0; hops < CHAIN; hops++) {
        int64_t same_as = show->fixtures[at].same_as;
        uint32_t next = same_as == SHOW_NONE ? SHOW_UNKNOWN : show_find_fixture(show, same_as);
        if (next == SHOW_UNKNOWN || !patch->moves[next])
            return are_alike(show, fixture, at) ? at : fixture;
        at = next;
    }
    return fixture;
}

static void fill_item(const struct patch *patch, struct patch_item *item, uint32_t leader)
{
    const struct show *show = patch->show;
    const struct fixture *fixture = &show->fixtures[leader];
    int64_t slots = fixture_footprint(show, fixture);
    item->size = slots < 1 ? 1 : slots > SHOW_SLOTS ? SHOW_SLOTS + 1 : (uint32_t)slots;
    item->id = fixture->id;
    item->wired = is_wired(show, fixture);
    item->airs = AIR_BIT(AIR_SINGLE) | AIR_BIT(AIR_DUAL);
    item->bin = PATCH_NONE;
    item->along = INFINITY;
}

/* Group the fixtures by leader: count, then lay out, then fill. */
static int make_items(struct patch *patch, uint32_t moving)
{
    const struct show *show = patch->show;
    uint32_t *leader = patch__alloc(patch, show->fixture_count, sizeof *leader);
    uint32_t *item_of = patch__alloc(patch, show->fixture_count, sizeof *item_of), at = 0;
    patch->items = patch__alloc(patch, moving, sizeof *patch->items);
    patch->members = patch__alloc(patch, moving, sizeof *patch->members);
    if (!leader || !item_of || !patch->items || !patch->members)
        return RIG_ENOMEM;
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        if (!patch->moves[f] || (leader[f] = leader_of(patch, f)) != f)
            continue;
        item_of[f] = patch->item_count;
        fill_item(patch, &patch->items[patch->item_count++], f);
    }
    for (uint32_t f = 0; f < show->fixture_count; f++)
        if (patch->moves[f])
            patch->items[item_of[leader[f]]].count++;
    for (uint32_t i = 0; i < patch->item_count; i++) {
        patch->items[i].first = at;
        at += patch->items[i].count;
        patch->items[i].count = 0;
    }
    for (int pass = 0; pass < 2; pass++)                     /* the leader first */
        for (uint32_t f = 0; f < show->fixture_count; f++) {
            if (!patch->moves[f] || (leader[f] == f) != (pass == 0))
                continue;
            struct patch_item *item = &patch->items[item_of[leader[f]]];
            patch->members[item->first + item->count++] = f;
            item->airs &= airs_of(show, &show->fixtures[f]);
        }
    return 0;
}

int patch__items(struct patch *patch)
{
    const struct show *show = patch->show;
    uint32_t moving = 0;
    if (!refuse_repeated(patch))
        return RIG_ENOMEM;
    patch->moves = patch__alloc(patch, show->fixture_count, sizeof *patch->moves);
    if (!patch->moves)
        return RIG_ENOMEM;
    for (uint32_t f = 0; f < show->fixture_count && !patch->plan->refused; f++) {
        if (!(patch->moves[f] = is_to_move(patch, &show->fixtures[f])))
            continue;
        moving++;
        if (!fixture_mode(show, &show->fixtures[f])
            && !is_refused(patch, "type-known", SUBJECT_FIXTURE, f, "has a type or mode that the show does not define"))
            return RIG_ENOMEM;
    }
    return patch->plan->refused ? 0 : make_items(patch, moving);
}
