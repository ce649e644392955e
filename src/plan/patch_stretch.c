/* Next-fit: each universe is one stretch of the order. Slots alone set the borders where that leads to a lane for every
 * stretch; otherwise a stretch also ends where no transmitter reaches both sides; otherwise the borders are searched for. */
#include <string.h>

#include "patch_internal.h"

uint32_t patch__site_end(const struct patch *patch, uint32_t at)
{
    uint32_t end = at;
    while (end < patch->rest_count && patch__rest(patch, end)->site == patch__rest(patch, at)->site)
        end++;
    return end;
}

void patch__gather(struct patch *patch)
{
    patch->rest_count = 0;
    for (uint32_t i = 0; i < patch->item_count; i++)
        if (patch->items[i].bin == PATCH_NONE && !patch->items[i].trouble)
            patch->rest[patch->rest_count++] = i;
}

int patch__masks(struct patch *patch)
{
    struct patch_near near = { patch__alloc(patch, patch->column_count, sizeof *near.columns), NULL, 0 };
    patch->words = patch->column_count / 64 + 1;
    patch->masks = patch__alloc(patch, (size_t)patch->rest_count * patch->words, sizeof *patch->masks);
    if (!near.columns || !patch->masks)
        return RIG_ENOMEM;
    for (uint32_t i = 0, end; i < patch->rest_count; i = end) {
        end = patch__site_end(patch, i);
        patch__find_near(patch, &near, i, end);
        for (uint32_t k = i; k < end; k++) {
            uint64_t *mask = patch__mask(patch, k);
            if (patch__rest(patch, k)->wired)
                memset(mask, 0xff, patch->words * sizeof *mask);
            for (uint32_t n = 0; n < near.count && !patch__rest(patch, k)->wired; n++)
                if (patch__serves(patch, near.columns[n], patch__rest(patch, k)))
                    mask[near.columns[n] / 64] |= UINT64_C(1) << near.columns[n] % 64;
        }
    }
    return 0;
}

void patch__hopeless(struct patch *patch)
{
    for (uint32_t i = 0; i < patch->rest_count; i++)
        patch__rest(patch, i)->trouble = patch__trouble(patch, patch__rest(patch, i));
    patch__gather(patch);
}

/* Undo what the plain way did. */
static void start_again(struct patch *patch)
{
    while (patch->bin_count > 0 && !patch->bins[patch->bin_count - 1].in_use)
        patch->bin_count--;
    for (uint32_t i = 0; i < patch->rest_count; i++)
        patch__rest(patch, i)->bin = PATCH_NONE;
    for (uint32_t t = 0; t < patch->transmitter_count; t++) {
        struct patch_transmitter *tx = &patch->transmitters[t];
        tx->used = 0;
        tx->chosen = tx->column_count == 1 ? tx->column : PATCH_NONE;
    }
    patch__hopeless(patch);
}

static int put_all(struct patch *patch, const uint32_t *ends, const uint32_t *columns, uint32_t count)
{
    for (uint32_t s = 0, at = 0; s < count; s++) {
        uint32_t bin = patch__bin(patch, patch__rest(patch, at)->site);
        if (bin == PATCH_NONE)
            return RIG_ENOMEM;
        for (; at < ends[s]; at++)
            patch__put(patch, patch->rest[at], bin);
        patch->bins[bin].column = patch->bins[bin].wireless ? columns[s] : PATCH_NONE;
    }
    return 0;
}

/* Borders by slots and reach. @param match  filled with the stretches that need a lane */
static int cut(struct patch *patch, struct patch_match *match, uint32_t *ends, uint32_t *of, uint32_t *count)
{
    uint64_t *mask = patch__alloc(patch, patch->words, sizeof *mask), *before = patch__alloc(patch, patch->words, sizeof *before);
    *count = 0;
    if (!mask || !before)
        return RIG_ENOMEM;
    for (uint32_t i = 0; i < patch->rest_count; i = ends[(*count)++]) {
        uint32_t end = i, slots = 0, fixtures = 0, site = patch__rest(patch, i)->site;
        bool wireless = false;
        memset(mask, 0xff, patch->words * sizeof *mask);
        for (; end < patch->rest_count && patch__rest(patch, end)->site == site; end++) {
            const struct patch_item *item = patch__rest(patch, end);
            memcpy(before, mask, patch->words * sizeof *mask);
            if (slots + item->size > SHOW_SLOTS || !patch__narrow(patch, mask, patch__mask(patch, end))) {
                memcpy(mask, before, patch->words * sizeof *mask);
                break;
            }
            slots += item->size;
            fixtures += item->count;
            wireless |= !item->wired;
        }
        ends[*count] = end;
        of[*count] = wireless ? match->count : PATCH_NONE;
        if (wireless)
            patch__match_add(patch, match, mask, fixtures);
    }
    return 0;
}

/* Name the stretches that got no lane. */
static void tell(struct patch *patch, const struct patch_match *match, const uint32_t *ends, const uint32_t *of, uint32_t count)
{
    for (uint32_t s = 0, at = 0; s < count; s++)
        for (; at < ends[s]; at++)
            if (of[s] != PATCH_NONE && match->column[of[s]] == PATCH_NONE && !patch__rest(patch, at)->wired)
                patch__rest(patch, at)->trouble = PATCH_NO_LANE;
}

static int by_reach(struct patch *patch)
{
    struct patch_match match;
    uint32_t *ends = patch__alloc(patch, patch->rest_count, sizeof *ends), *of = patch__alloc(patch, patch->rest_count, sizeof *of);
    uint32_t *columns = patch__alloc(patch, patch->rest_count, sizeof *columns), count, found = 0;
    int err = ends && of && columns ? patch__masks(patch) : RIG_ENOMEM;
    if (err || (err = patch__match_init(patch, &match, patch->rest_count)) || (err = cut(patch, &match, ends, of, &count)))
        return err;
    if (patch__match(patch, &match)) {
        for (uint32_t s = 0; s < count; s++)
            columns[s] = of[s] == PATCH_NONE ? PATCH_NONE : match.column[of[s]];
        return put_all(patch, ends, columns, count);
    }
    tell(patch, &match, ends, of, count);
    patch->limited = false;                                  /* the search is the last word, whatever the matching gave up */
    if ((err = patch__search(patch, ends, columns, &found)) || !found)
        return err;
    for (uint32_t i = 0; i < patch->rest_count; i++)
        patch__rest(patch, i)->trouble = PATCH_FITS;
    return put_all(patch, ends, columns, found);
}

int patch__stretches(struct patch *patch)
{
    bool fits;
    int err = patch__near(patch, &fits);
    if (err || fits)
        return err;
    start_again(patch);
    return patch->rest_count ? by_reach(patch) : 0;
}
