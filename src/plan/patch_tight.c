/* The fewest universes: each site is packed into bins, and a packing counts only if all bins, those of the sites before it
 * too, get their lanes. */
#include <string.h>

#include "bins.h"
#include "patch_internal.h"

struct tight {
    struct patch *patch;
    struct patch_match match;        /* bins of the sites so far that need a lane, then those of the packing in question */
    uint32_t settled;                /* how many of them are of the sites before */
    uint32_t first, end;             /* the site's items in patch.rest */
    uint32_t *gaps;                  /* its gaps, as bins of the patch */
    uint32_t *fixtures;              /* by bin opened */
    uint32_t *matched_bin;           /* by place in match: the bin of the patch */
};

/* Wired things go anywhere; the bit after the last column stands for "no lane at all", which only they have. */
static bool needs_lane(const struct patch *patch, const uint64_t *set)
{
    return !(set[patch->column_count / 64] >> patch->column_count % 64 & 1);
}

static bool accept(void *context, const uint64_t *sets, const uint32_t *bin, uint32_t opened)
{
    struct tight *tight = context;
    struct patch *patch = tight->patch;
    bool limited = patch->limited;
    (void)bin;
    tight->match.count = tight->settled;
    for (uint32_t b = 0; b < opened; b++)
        if (needs_lane(patch, sets + (size_t)b * patch->words))
            patch__match_add(patch, &tight->match, sets + (size_t)b * patch->words, 1);
    bool good = patch__match(patch, &tight->match);
    patch->limited = limited;                                /* another packing may do */
    return good;
}

/* Make the packing real: bins in the order of their first item. */
static int put(struct tight *tight, const struct bins *bins)
{
    struct patch *patch = tight->patch;
    uint32_t *made = patch__alloc(patch, bins->opened, sizeof *made);
    uint64_t *mask = patch__alloc(patch, patch->words, sizeof *mask);
    if (!made || !mask)
        return RIG_ENOMEM;
    memset(made, 0xff, bins->opened * sizeof *made);
    for (uint32_t i = 0; i < bins->count; i++) {
        uint32_t to = bins->bin[i] < bins->gap_count ? tight->gaps[bins->bin[i]] : made[bins->bin[i] - bins->gap_count];
        if (to == PATCH_NONE && (to = made[bins->bin[i] - bins->gap_count] = patch__bin(patch, patch__rest(patch, tight->first)->site))
                                == PATCH_NONE)
            return RIG_ENOMEM;
        patch__put(patch, patch->rest[tight->first + i], to);
    }
    tight->match.count = tight->settled;
    for (uint32_t b = 0; b < bins->opened; b++) {
        memset(mask, 0xff, patch->words * sizeof *mask);
        for (uint32_t i = 0; i < bins->count; i++)
            if (bins->bin[i] == bins->gap_count + b)
                patch__narrow(patch, mask, patch__mask(patch, tight->first + i));
        if (!needs_lane(patch, mask))
            continue;
        tight->matched_bin[tight->match.count] = made[b];
        patch__match_add(patch, &tight->match, mask, 1);
    }
    tight->settled = tight->match.count;
    return 0;
}

/* The gaps of the site, as bins that are there. */
static int find_gaps(struct tight *tight, struct bins *bins)
{
    struct patch *patch = tight->patch;
    uint32_t site = patch__rest(patch, tight->first)->site, count = 0;
    for (uint32_t b = 0; b < patch->bin_count; b++)
        count += patch->bins[b].gap && patch->bins[b].site == site;
    uint32_t *room = patch__alloc(patch, count, sizeof *room);
    uint64_t *sets = patch__alloc(patch, (size_t)count * patch->words, sizeof *sets);
    tight->gaps = patch__alloc(patch, count, sizeof *tight->gaps);
    if (!room || !sets || !tight->gaps)
        return RIG_ENOMEM;
    for (uint32_t b = 0; b < patch->bin_count; b++) {
        const struct patch_bin *bin = &patch->bins[b];
        uint32_t bit = bin->column == PATCH_NONE ? patch->column_count : bin->column;
        if (!bin->gap || bin->site != site)
            continue;
        sets[(size_t)bins->gap_count * patch->words + bit / 64] |= UINT64_C(1) << bit % 64;
        room[bins->gap_count] = patch__free(bin);
        tight->gaps[bins->gap_count++] = b;
    }
    bins->gap_room = room;
    bins->gap_sets = sets;
    return 0;
}

/* @param fits  set to false if no packing of this site gets its lanes */
static int pack_site(struct tight *tight, bool *fits)
{
    struct patch *patch = tight->patch;
    struct bins bins = { .count = tight->end - tight->first, .words = patch->words, .sets = patch__mask(patch, tight->first),
                         .capacity = SHOW_SLOTS, .accept = accept, .context = tight, .step_limit = patch->step_limit };
    uint32_t *size = patch__alloc(patch, bins.count, sizeof *size);
    bins.bin = patch__alloc(patch, bins.count, sizeof *bins.bin);
    if (!size || !bins.bin || find_gaps(tight, &bins))
        return RIG_ENOMEM;
    for (uint32_t i = 0; i < bins.count; i++)
        size[i] = patch__rest(patch, tight->first + i)->size;
    bins.size = size;
    if (!bins_pack(&bins))
        return RIG_ENOMEM;
    patch->bins_at_least += bins.at_least;
    *fits = bins.accepted;
    return *fits ? put(tight, &bins) : 0;
}

/* Take everything out again. */
static void undo(struct patch *patch, uint32_t bins)
{
    patch->bin_count = bins;
    for (uint32_t i = 0; i < patch->rest_count; i++)
        patch__rest(patch, i)->bin = PATCH_NONE;
    for (uint32_t b = 0; b < bins; b++)
        if (patch->bins[b].gap)
            patch->bins[b].used = patch->bins[b].fixtures = 0;
}

int patch__tight(struct patch *patch, bool *fits)
{
    struct tight tight = { .patch = patch };
    uint32_t before = patch->bin_count;
    int err = patch__masks(patch);
    *fits = true;
    if (err || (err = patch__match_init(patch, &tight.match, patch->rest_count)))
        return err;
    tight.matched_bin = patch__alloc(patch, patch->rest_count, sizeof *tight.matched_bin);
    if (!tight.matched_bin)
        return RIG_ENOMEM;
    for (uint32_t i = 0; i < patch->rest_count && *fits; i = tight.end) {
        tight.first = i;
        tight.end = patch__site_end(patch, i);
        if ((err = pack_site(&tight, fits)))
            return err;
    }
    tight.match.count = tight.settled;
    *fits = *fits && patch__match(patch, &tight.match);
    for (uint32_t m = 0; m < tight.settled && *fits; m++)
        patch->bins[tight.matched_bin[m]].column = tight.match.column[m];
    if (!*fits)
        undo(patch, before);
    return 0;
}
