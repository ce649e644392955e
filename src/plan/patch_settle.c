/* Lanes, numbers and addresses: what follows once every item has its bin and every bin its column. */
#include <string.h>

#include "patch_internal.h"

#define NUMBERS (PATCH_LAST_UNIVERSE + 1)

static void mark(unsigned char *used, int64_t number)
{
    if (number >= 1 && number <= PATCH_LAST_UNIVERSE)
        used[number] = 1;
}

/* Numbers and wire numbers that anything in the show names already. */
static void mark_all(const struct show *show, unsigned char *used)
{
    for (uint32_t i = 0; i < show->universe_count; i++) {
        mark(used, show->universes[i].id);
        mark(used, universe_wire(&show->universes[i]));
    }
    for (uint32_t i = 0; i < show->transmitter_count; i++)
        for (uint32_t e = 0; e < show->transmitters[i].lane_count; e++)
            mark(used, show->transmitters[i].lanes[e].universe);
    for (uint32_t i = 0; i < show->fixture_count; i++)
        mark(used, show->fixtures[i].universe);
}

/* The next lane of a transmitter: first those that carry an empty universe already, then free ones. `lane` is the last free one
 * that was given, 0 at first. */
static void take_lane(const struct patch_transmitter *tx, uint32_t nth, int64_t *lane, struct patch_bin *bin)
{
    if (nth < tx->empty_count) {
        bin->lane = tx->empty[nth].lane;
        bin->universe = tx->empty[nth].universe;
        return;
    }
    uint32_t at = 0;
    ++*lane;
    while (at < tx->taken_count && tx->taken[at] <= *lane)
        *lane += tx->taken[at++] == *lane;
    bin->lane = *lane;
}

int patch__settle(struct patch *patch)
{
    unsigned char *used = patch__alloc(patch, NUMBERS, 1);
    int64_t *lanes = patch__alloc(patch, patch->transmitter_count, sizeof *lanes), next = 1;
    if (!used || !lanes)
        return RIG_ENOMEM;
    mark_all(patch->show, used);
    for (uint32_t i = 0; i < patch->transmitter_count; i++)
        patch->transmitters[i].used = 0;
    for (uint32_t b = 0; b < patch->bin_count; b++) {
        struct patch_bin *bin = &patch->bins[b];
        if (bin->in_use || bin->used == 0)
            continue;
        if (bin->column != PATCH_NONE) {
            uint32_t at = patch->columns[bin->column].transmitter;
            struct patch_transmitter *tx = &patch->transmitters[at];
            tx->chosen = bin->column;
            take_lane(tx, tx->used++, &lanes[at], bin);
        }
        bin->is_new = bin->universe == SHOW_NONE;
        while (bin->is_new && next <= PATCH_LAST_UNIVERSE && used[next])
            next++;
        if (bin->is_new)
            bin->universe = next++;
    }
    for (uint32_t b = 0; b < patch->bin_count; b++)
        patch->bins[b].used = 0;
    for (uint32_t i = 0; i < patch->item_count; i++) {
        struct patch_bin *bin = &patch->bins[patch->items[i].bin];
        patch->items[i].address = bin->start + bin->used;
        bin->used += patch->items[i].size;
        if (bin->universe > PATCH_LAST_UNIVERSE)
            patch->items[i].trouble = PATCH_NO_NUMBER;
    }
    return 0;
}
