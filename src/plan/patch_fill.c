/* What may still go into universes in which fixtures stay. */
#include <string.h>

#include "patch_internal.h"

/* Where such a universe is: on one lane, or on none for wired fixtures. @return false if it is not to be touched */
static bool find_lane(const struct patch *patch, int64_t universe, uint32_t *column, int64_t *lane)
{
    const struct show *show = patch->show;
    uint32_t count, on = 0, shared = 0;
    const struct carrier *carriers = show_carriers(show, universe, &count);
    *column = PATCH_NONE;
    *lane = SHOW_NONE;
    for (uint32_t i = 0; i < count; i++) {
        const struct transmitter *t = &show->transmitters[carriers[i].transmitter];
        const struct patch_transmitter *tx = &patch->transmitters[patch->transmitter_of[carriers[i].transmitter]];
        if (t->spare)
            continue;
        *column = tx->column;
        *lane = t->lanes[carriers[i].entry].lane;
        for (uint32_t e = 0; e < t->lane_count; e++)
            shared += t->lanes[e].lane == *lane;
        if (++on > 1 || shared > 1 || !tx->usable || !t->code || tx->column_count != 1 || *lane < 1
            || *lane > transmitter_lane_count(t))
            return false;
    }
    return true;
}

static uint32_t add_bin(struct patch *patch, uint32_t site, int64_t universe, uint32_t start, uint32_t room)
{
    uint32_t column, bin;
    int64_t lane;
    if (!find_lane(patch, universe, &column, &lane) || (bin = patch__bin(patch, site)) == PATCH_NONE)
        return PATCH_NONE;
    struct patch_bin *b = &patch->bins[bin];
    b->universe = universe;
    b->column = column;
    b->lane = lane;
    b->start = start;
    b->room = room;
    b->in_use = true;
    return bin;
}

/* ---- same_as a fixture that stays ---- */

static bool is_wired(const struct show *show, const struct fixture *f)
{
    return f->wired || !f->code || !fixture_type(show, f) || !fixture_type(show, f)->airs;
}

static void join(struct patch *patch, struct patch_item *item, uint32_t index)
{
    const struct show *show = patch->show;
    const struct fixture *leader = &show->fixtures[patch->members[item->first]];
    uint32_t root = leader->same_as == SHOW_NONE ? SHOW_UNKNOWN : show_find_fixture(show, leader->same_as);
    const struct fixture *f = root == SHOW_UNKNOWN ? NULL : &show->fixtures[root];
    if (!f || patch->moves[root] || f->universe == SHOW_NONE || f->site != leader->site || is_wired(show, f) != item->wired
        || fixture_footprint(show, f) != item->size || f->address < 1 || fixture_last(show, f) > SHOW_SLOTS)
        return;
    struct landing landing = radio_landing(show, f);
    if (!item->wired && landing.state != LANDING_RIGHT)
        return;
    uint32_t bin = add_bin(patch, item->site, f->universe, (uint32_t)f->address, item->size);
    if (bin == PATCH_NONE)
        return;
    uint32_t column = patch->bins[bin].column;
    if (!item->wired && (column == PATCH_NONE || !patch__serves(patch, column, item)))
        return;
    patch__put(patch, index, bin);
}

/* ---- free slots ---- */

/* One universe: `list` are its fixtures, by address. Those that move make room. */
static bool find_gaps(struct patch *patch, const uint32_t *list, uint32_t count, uint32_t site)
{
    const struct show *show = patch->show;
    int64_t next = 1;
    for (uint32_t i = 0; i <= count; i++) {
        const struct fixture *f = i < count ? &show->fixtures[list[i]] : NULL;
        if (f && patch->moves[list[i]])
            continue;
        int64_t end = f ? f->address : SHOW_SLOTS + 1;
        if (end > next) {
            uint32_t bin = add_bin(patch, site, show->fixtures[list[0]].universe, (uint32_t)next, (uint32_t)(end - next));
            if (bin == PATCH_NONE)
                return false;
            patch->bins[bin].gap = true;
        }
        if (f && fixture_last(show, f) + 1 > next)
            next = fixture_last(show, f) + 1;
    }
    return true;
}

/* The rank of the site of all fixtures that stay in a universe; PATCH_NONE if it has none, several, or holds what cannot be
 * measured, or if no item is of that site. @param first_of  by rank of site: any item of it */
static uint32_t site_of(const struct patch *patch, const uint32_t *list, uint32_t count, const uint32_t *first_of)
{
    const struct show *show = patch->show;
    const char *site = NULL;
    bool any = false;
    for (uint32_t i = 0; i < count; i++) {
        const struct fixture *f = &show->fixtures[list[i]];
        if (patch->moves[list[i]])
            continue;
        if ((any && f->site != site) || !fixture_mode(show, f) || f->address == SHOW_NONE || f->address < 1
            || fixture_last(show, f) > SHOW_SLOTS)
            return PATCH_NONE;
        site = f->site;
        any = true;
    }
    for (uint32_t s = 0; s < patch->site_count && any; s++)
        if (first_of[s] != PATCH_NONE && show->fixtures[patch->members[patch->items[first_of[s]].first]].site == site)
            return s;
    return PATCH_NONE;
}

int patch__in_use(struct patch *patch)
{
    const struct show *show = patch->show;
    const uint32_t *order = show_patch_order(show);
    uint32_t *first_of = patch__alloc(patch, patch->site_count, sizeof *first_of);
    if (!first_of)
        return RIG_ENOMEM;
    memset(first_of, 0xff, patch->site_count * sizeof *first_of);
    for (uint32_t i = patch->item_count; i-- > 0;) {
        first_of[patch->items[i].site] = i;
        join(patch, &patch->items[i], i);
    }
    for (uint32_t i = 0, end; i < show->fixture_count && patch->options->fill; i = end) {
        int64_t universe = show->fixtures[order[i]].universe;
        uint32_t column;
        int64_t lane;
        for (end = i + 1; end < show->fixture_count && show->fixtures[order[end]].universe == universe; end++)
            ;
        if (universe < 1 || universe > PATCH_LAST_UNIVERSE || !find_lane(patch, universe, &column, &lane))
            continue;
        uint32_t site = site_of(patch, order + i, end - i, first_of);
        if (site != PATCH_NONE && !find_gaps(patch, order + i, end - i, site))
            return RIG_ENOMEM;
    }
    return 0;
}

static bool takes(const struct patch *patch, const struct patch_bin *bin, const struct patch_item *item)
{
    return bin->gap && bin->site == item->site && patch__free(bin) >= item->size
           && (item->wired || (bin->column != PATCH_NONE && patch__serves(patch, bin->column, item)));
}

void patch__fill(struct patch *patch)
{
    uint32_t *from = patch__alloc(patch, patch->site_count, sizeof *from), gaps = patch->bin_count;
    for (uint32_t i = 0; from && i < patch->rest_count; i++) {
        struct patch_item *item = patch__rest(patch, i);
        uint32_t *b = &from[item->site];                     /* first bin of the site that is not full */
        while (*b < gaps && (patch->bins[*b].site != item->site || !patch->bins[*b].gap || !patch__free(&patch->bins[*b])))
            ++*b;
        for (uint32_t at = *b; at < gaps && item->bin == PATCH_NONE; at++)
            if (takes(patch, &patch->bins[at], item))
                patch__put(patch, patch->rest[i], at);
    }
    patch__gather(patch);
}
