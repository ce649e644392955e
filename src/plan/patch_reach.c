/* Which transmitters may take universes, in which air modes, on how many lanes; and whom they serve. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "patch_internal.h"

/* ---- lanes ---- */

static int by_number(const void *a, const void *b)
{
    int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

static int by_universe(const void *a, const void *b)
{
    const struct patch_lane *x = a, *y = b;
    return x->universe != y->universe ? (x->universe > y->universe) - (x->universe < y->universe)
                                      : (x->lane > y->lane) - (x->lane < y->lane);
}

/* The wire number that a universe would have is another's. */
static bool is_wire_taken(const struct show *show, int64_t wire)
{
    for (uint32_t u = 0; u < show->universe_count; u++)
        if (universe_wire(&show->universes[u]) == wire)
            return true;
    return false;
}

/* A universe that one lane carries, of a transmitter that is not spare, and in which no fixture stays. */
static bool is_empty(const struct patch *patch, int64_t universe)
{
    const struct show *show = patch->show;
    uint32_t count, on = 0, known = show_find_universe(show, universe);
    int64_t wire = known == SHOW_UNKNOWN ? universe : universe_wire(&show->universes[known]);
    if (known == SHOW_UNKNOWN && is_wire_taken(show, wire))
        return false;
    const struct carrier *carriers = show_carriers(show, universe, &count);
    for (uint32_t i = 0; i < count; i++)
        on += !show->transmitters[carriers[i].transmitter].spare;
    const uint32_t *fixtures = show_universe_fixtures(show, universe, &count);
    for (uint32_t i = 0; i < count; i++)
        if (!patch->moves[fixtures[i]])
            return false;
    return on == 1 && universe >= 1 && universe <= PATCH_LAST_UNIVERSE && wire >= 1 && wire <= PATCH_LAST_UNIVERSE;
}

static int find_lanes(struct patch *patch, struct patch_transmitter *tx)
{
    const struct transmitter *t = &patch->show->transmitters[tx->index];
    int64_t top = transmitter_lane_count(t);
    tx->taken = patch__alloc(patch, t->lane_count, sizeof *tx->taken);
    tx->empty = patch__alloc(patch, t->lane_count, sizeof *tx->empty);
    if (!tx->taken || !tx->empty)
        return RIG_ENOMEM;
    for (uint32_t e = 0; e < t->lane_count; e++)
        tx->taken[e] = t->lanes[e].lane;
    qsort(tx->taken, t->lane_count, sizeof *tx->taken, by_number);
    for (uint32_t e = 0; e < t->lane_count; e++) {
        const struct lane *lane = &t->lanes[e];
        const int64_t *found = bsearch(&lane->lane, tx->taken, t->lane_count, sizeof *tx->taken, by_number);
        bool shared = (found > tx->taken && found[-1] == *found) || (found + 1 < tx->taken + t->lane_count && found[1] == *found);
        if (lane->lane >= 1 && lane->lane <= top && !shared && is_empty(patch, lane->universe))
            tx->empty[tx->empty_count++] = (struct patch_lane){ lane->lane, lane->universe };
    }
    qsort(tx->empty, tx->empty_count, sizeof *tx->empty, by_universe);
    for (uint32_t e = 0; e < t->lane_count; e++)             /* each number once */
        if (tx->taken_count == 0 || tx->taken[e] != tx->taken[tx->taken_count - 1])
            tx->taken[tx->taken_count++] = tx->taken[e];
    return 0;
}

static uint32_t count_lanes(const struct patch *patch, const struct patch_transmitter *tx, enum air air)
{
    struct transmitter as = patch->show->transmitters[tx->index];
    as.air = air;
    int64_t top = transmitter_lane_count(&as), lanes = top + tx->empty_count;
    for (uint32_t i = 0; i < tx->taken_count; i++)
        lanes -= tx->taken[i] >= 1 && tx->taken[i] <= top;
    return lanes < 0 ? 0 : lanes > patch->item_count ? patch->item_count : (uint32_t)lanes;
}

/* ---- transmitters ---- */

/* A transmitter that gets its first lane, or goes on the air, keeps out every quiet band. */
static void judge_band(const struct show *show, struct patch_transmitter *tx)
{
    struct plan__quiet quiet = plan__quiet(show, &show->transmitters[tx->index]);
    tx->needs_keep_out = quiet.missing;
    tx->hops = quiet.hops;
}

/* Fixtures may be keyed to its code already, or another transmitter has it too: then what it does now stays. */
static bool may_change_air(const struct show *show, const struct transmitter *t)
{
    uint32_t sharers = 1;
    if (t->code)
        show_code_transmitters(show, t->code, &sharers);
    return t->lane_count == 0 && sharers == 1;
}

static int add_columns(struct patch *patch, struct patch_transmitter *tx)
{
    const struct transmitter *t = &patch->show->transmitters[tx->index];
    enum air other = t->air == AIR_SINGLE ? AIR_DUAL : AIR_SINGLE;
    tx->column = patch->column_count;
    tx->chosen = PATCH_NONE;
    tx->needs_code = !t->code;
    judge_band(patch->show, tx);
    tx->usable = !t->spare && (!t->code || plan__is_code(t->code)) && tx->hops >= RADIO_FLOOR;
    if (t->air != AIR_NONE && (t->lane_count || (t->airs & AIR_BIT(t->air))))
        patch->columns[patch->column_count++] = (struct patch_column){ .air = t->air };
    if ((t->airs & AIR_BIT(other)) && may_change_air(patch->show, t))
        patch->columns[patch->column_count++] = (struct patch_column){ .air = other };
    if (t->air == AIR_NONE && (t->airs & AIR_BIT(AIR_DUAL)) && may_change_air(patch->show, t))
        patch->columns[patch->column_count++] = (struct patch_column){ .air = AIR_DUAL };
    tx->column_count = patch->column_count - tx->column;
    int err = find_lanes(patch, tx);
    for (uint32_t c = tx->column; c < patch->column_count && !err; c++) {
        patch->columns[c].transmitter = (uint32_t)(tx - patch->transmitters);
        patch->columns[c].lanes = tx->usable ? count_lanes(patch, tx, patch->columns[c].air) : 0;
    }
    if (tx->column_count == 1)
        tx->chosen = tx->column;
    return err;
}

static int by_id(const void *a, const void *b, void *context)
{
    const struct show *show = context;
    return strcmp(show->transmitters[((const struct patch_transmitter *)a)->index].id,
                  show->transmitters[((const struct patch_transmitter *)b)->index].id);
}

int patch__transmitters(struct patch *patch)
{
    const struct show *show = patch->show;
    uint32_t count = patch->transmitter_count = show->transmitter_count;
    patch->transmitters = patch__alloc(patch, count, sizeof *patch->transmitters);
    patch->transmitter_of = patch__alloc(patch, count, sizeof *patch->transmitter_of);
    patch->columns = patch__alloc(patch, count * (size_t)2, sizeof *patch->columns);
    if (!patch->transmitters || !patch->transmitter_of || !patch->columns)
        return RIG_ENOMEM;
    for (uint32_t i = 0; i < count; i++)
        patch->transmitters[i].index = i;
    qsort_r(patch->transmitters, count, sizeof *patch->transmitters, by_id, (void *)(uintptr_t)show);
    for (uint32_t i = 0; i < count; i++) {
        patch->transmitter_of[patch->transmitters[i].index] = i;
        int err = add_columns(patch, &patch->transmitters[i]);
        if (err)
            return err;
    }
    return 0;
}

/* ---- who serves whom ---- */

/* Another transmitter on the air has the same code and air mode and is in reach too: the fixture would land on both. */
static bool lands_twice(const struct patch *patch, const struct transmitter *t, enum air air, const struct fixture *fixture)
{
    const struct show *show = patch->show;
    uint32_t count;
    if (!t->code)
        return false;
    const uint32_t *sharers = show_code_transmitters(show, t->code, &count);
    for (uint32_t i = 0; i < count; i++) {
        const struct transmitter *other = &show->transmitters[sharers[i]];
        if (other != t && !other->spare && other->air == air && radio_in_reach(show, other, fixture))
            return true;
    }
    return false;
}

bool patch__serves(const struct patch *patch, uint32_t column, const struct patch_item *item)
{
    const struct patch_column *c = &patch->columns[column];
    const struct transmitter *t = &patch->show->transmitters[patch->transmitters[c->transmitter].index];
    if (item->wired)
        return true;
    if (!(item->airs & AIR_BIT(c->air)) || !patch->transmitters[c->transmitter].usable)
        return false;
    for (uint32_t m = 0; m < item->count; m++) {
        const struct fixture *fixture = &patch->show->fixtures[patch->members[item->first + m]];
        if (!radio_in_reach(patch->show, t, fixture) || lands_twice(patch, t, c->air, fixture))
            return false;
    }
    return true;
}

/* What is wrong with one transmitter for one item; the later in this order, the nearer it is to serving it. */
static enum patch_trouble trouble_with(const struct patch *patch, const struct patch_transmitter *tx, const struct patch_item *item)
{
    const struct show *show = patch->show;
    const struct transmitter *t = &show->transmitters[tx->index];
    enum patch_trouble trouble = PATCH_AIR_DIFFERS;
    if (t->spare)
        return PATCH_NO_REACH;
    for (uint32_t m = 0; m < item->count; m++)
        if (!radio_in_reach(show, t, &show->fixtures[patch->members[item->first + m]]))
            return PATCH_NO_REACH;
    if (!tx->usable)
        return PATCH_TX_UNFIT;
    for (uint32_t c = tx->column; c < tx->column + tx->column_count; c++) {
        if (patch__serves(patch, c, item) && patch->columns[c].lanes)
            return PATCH_FITS;
        if (patch__serves(patch, c, item))
            trouble = PATCH_NO_LANE;
        else if ((item->airs & AIR_BIT(patch->columns[c].air)) && trouble == PATCH_AIR_DIFFERS)
            trouble = PATCH_TWICE;
    }
    return trouble;
}

enum patch_trouble patch__trouble(const struct patch *patch, const struct patch_item *item)
{
    enum patch_trouble trouble = PATCH_NO_REACH;
    if (item->size > SHOW_SLOTS)
        return PATCH_TOO_LONG;
    if (item->wired)
        return PATCH_FITS;
    if (!item->airs)
        return PATCH_NO_AIR;
    for (uint32_t i = 0; i < patch->transmitter_count; i++) {
        enum patch_trouble here = trouble_with(patch, &patch->transmitters[i], item);
        if (here == PATCH_FITS)
            return here;
        if (here > trouble)
            trouble = here;
    }
    return trouble;
}
