/* Next-fit the plain way: stretches bounded by slots alone, each on the nearest transmitter that serves all of it and has a
 * lane left. Linear in the fixtures; when a stretch finds none, patch_stretch.c takes over with all it needs to know. */
#include <math.h>
#include <string.h>

#include "patch_internal.h"


struct box { double low[3], high[3]; bool given; };

static struct box box_of(const struct patch *patch, uint32_t first, uint32_t end)
{
    struct box box = { .low = { INFINITY, INFINITY, INFINITY }, .high = { -INFINITY, -INFINITY, -INFINITY } };
    for (uint32_t i = first; i < end; i++) {
        const struct position *pos = &patch->show->fixtures[patch->members[patch__rest(patch, i)->first]].pos;
        const double at[3] = { pos->x_m, pos->y_m, pos->z_m };
        for (int k = 0; position_given(pos) && k < 3; k++) {
            box.given = true;
            box.low[k] = fmin(box.low[k], at[k]);
            box.high[k] = fmax(box.high[k], at[k]);
        }
    }
    return box;
}

/* False only if it cannot be in reach of anything in the box. */
static bool may_reach(const struct transmitter *t, const struct box *box, const char *site)
{
    if (t->site == site)
        return true;
    if (!position_given(&t->pos) || isnan(t->reach_m) || !box->given)
        return false;
    const double at[3] = { t->pos.x_m, t->pos.y_m, t->pos.z_m };
    for (int k = 0; k < 3; k++)
        if (at[k] < box->low[k] - t->reach_m - 1 || at[k] > box->high[k] + t->reach_m + 1)
            return false;
    return true;
}

void patch__find_near(const struct patch *patch, struct patch_near *near, uint32_t first, uint32_t end)
{
    struct box box = box_of(patch, first, end);
    const char *site = patch->show->fixtures[patch->members[patch__rest(patch, first)->first]].site;
    near->count = 0;
    for (uint32_t c = 0; c < patch->column_count; c++) {
        const struct patch_transmitter *tx = &patch->transmitters[patch->columns[c].transmitter];
        if (patch->columns[c].lanes && may_reach(&patch->show->transmitters[tx->index], &box, site))
            near->columns[near->count++] = c;
    }
}

static bool has_lane(const struct patch *patch, uint32_t column)
{
    const struct patch_transmitter *tx = &patch->transmitters[patch->columns[column].transmitter];
    return (tx->chosen == PATCH_NONE || tx->chosen == column) && tx->used < patch->columns[column].lanes;
}

static bool serves_all(const struct patch *patch, uint32_t column, uint32_t first, uint32_t end)
{
    for (uint32_t i = first; i < end; i++)
        if (!patch__serves(patch, column, patch__rest(patch, i)))
            return false;
    return true;
}

/* Square of a distance: enough to tell which is nearest. INFINITY when it is not known. */
static double square_of(const struct position *a, const struct position *b)
{
    double x = a->x_m - b->x_m, y = a->y_m - b->y_m, z = a->z_m - b->z_m;
    return position_given(a) && position_given(b) ? x * x + y * y + z * z : INFINITY;
}

/* The nearest to the middle of a stretch among those not tried; its own site comes first, then the order of the columns. */
static uint32_t pick(const struct patch *patch, struct patch_near *near, uint32_t middle)
{
    const struct patch_item *item = patch__rest(patch, middle);
    const struct fixture *fixture = &patch->show->fixtures[patch->members[item->first]];
    uint32_t best = PATCH_NONE;
    double best_square = 0;
    bool best_own = false;
    for (uint32_t n = 0; n < near->count; n++) {
        uint32_t c = near->columns[n];
        if (near->tried[n])
            continue;
        const struct transmitter *t = &patch->show->transmitters[patch->transmitters[patch->columns[c].transmitter].index];
        bool own = t->site == fixture->site;
        double square = square_of(&t->pos, &fixture->pos);
        if (best == PATCH_NONE || own > best_own || (own == best_own && square < best_square)) {
            best = n;
            best_square = square;
            best_own = own;
        }
    }
    return best;
}

static uint32_t find_column(const struct patch *patch, struct patch_near *near, uint32_t first, uint32_t end)
{
    uint32_t kept = 0, n;
    for (n = 0; n < near->count; n++)
        if (has_lane(patch, near->columns[n]))
            near->columns[kept++] = near->columns[n];
    near->count = kept;
    memset(near->tried, 0, kept * sizeof *near->tried);
    while ((n = pick(patch, near, first + (end - first) / 2)) != PATCH_NONE) {
        if (serves_all(patch, near->columns[n], first, end))
            return near->columns[n];
        near->tried[n] = true;
    }
    return PATCH_NONE;
}

static int place(struct patch *patch, struct patch_near *near, uint32_t first, uint32_t end, bool *fits)
{
    uint32_t bin = patch__bin(patch, patch__rest(patch, first)->site);
    if (bin == PATCH_NONE)
        return RIG_ENOMEM;
    for (uint32_t i = first; i < end; i++)
        patch__put(patch, patch->rest[i], bin);
    if (!patch->bins[bin].wireless)
        return 0;
    uint32_t column = patch->bins[bin].column = find_column(patch, near, first, end);
    if (column == PATCH_NONE) {
        *fits = false;
        return 0;
    }
    struct patch_transmitter *tx = &patch->transmitters[patch->columns[column].transmitter];
    tx->chosen = column;
    tx->used++;
    return 0;
}

int patch__near(struct patch *patch, bool *fits)
{
    struct patch_near near = { patch__alloc(patch, patch->column_count, sizeof *near.columns),
                               patch__alloc(patch, patch->column_count, sizeof *near.tried), 0 };
    uint32_t site = PATCH_NONE;
    *fits = true;
    if (!near.columns || !near.tried)
        return RIG_ENOMEM;
    for (uint32_t i = 0, end; i < patch->rest_count && *fits; i = end) {
        uint32_t slots = 0;
        if (patch__rest(patch, i)->site != site) {
            site = patch__rest(patch, i)->site;
            patch__find_near(patch, &near, i, patch__site_end(patch, i));
        }
        for (end = i; end < patch->rest_count && patch__rest(patch, end)->site == site
                      && slots + patch__rest(patch, end)->size <= SHOW_SLOTS; end++)
            slots += patch__rest(patch, end)->size;
        *fits = end > i;
        int err = *fits ? place(patch, &near, i, end, fits) : 0;
        if (err)
            return err;
    }
    return 0;
}
