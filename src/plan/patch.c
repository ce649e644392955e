/* Gives what is not patched its universe, address, transmitter, lane, air mode and code. */
#include <string.h>

#include "patch_internal.h"

void *patch__alloc(struct patch *patch, size_t count, size_t size)
{
    return count > SIZE_MAX / 2 / size ? NULL : plan__alloc(patch->scratch, (count ? count : 1) * size);
}

uint32_t patch__bin(struct patch *patch, uint32_t site)
{
    if (patch->bin_count == patch->bin_room) {
        uint32_t room = patch->bin_room ? patch->bin_room * 2 : 64;
        struct patch_bin *bins = patch__alloc(patch, room, sizeof *bins);
        if (!bins)
            return PATCH_NONE;
        if (patch->bin_count)
            memcpy(bins, patch->bins, patch->bin_count * sizeof *bins);
        patch->bins = bins;
        patch->bin_room = room;
    }
    patch->bins[patch->bin_count] = (struct patch_bin){ .site = site, .universe = SHOW_NONE, .column = PATCH_NONE,
                                                        .lane = SHOW_NONE, .start = 1, .room = SHOW_SLOTS };
    return patch->bin_count++;
}

void patch__put(struct patch *patch, uint32_t item, uint32_t bin)
{
    struct patch_item *it = &patch->items[item];
    struct patch_bin *to = &patch->bins[bin];
    it->bin = bin;
    it->trouble = PATCH_FITS;
    to->used += it->size;
    to->fixtures += it->count;
    to->wireless |= !it->wired;
}

static bool fits(const struct patch *patch)
{
    for (uint32_t i = 0; i < patch->item_count; i++)
        if (patch->items[i].trouble)
            return false;
    return true;
}

/* Next-fit, or the fewest universes; what the latter cannot place, the former may. */
static int place(struct patch *patch)
{
    bool fits = false;
    int err = patch__in_use(patch);
    if (err)
        return err;
    patch__gather(patch);
    if (patch->options->tight) {
        patch__hopeless(patch);
        if ((err = patch__tight(patch, &fits)) || fits)
            return err;
    }
    if (patch->options->fill)
        patch__fill(patch);
    return patch__stretches(patch);
}

static void count_universes(struct patch *patch)
{
    struct plan *plan = patch->plan;
    plan->has_bins = patch->options->tight;
    for (uint32_t b = 0; b < patch->bin_count && plan->has_bins; b++)
        plan->universes += patch->bins[b].used && !patch->bins[b].in_use;
    plan->universes_at_least = plan->has_bins ? patch->bins_at_least : 0;
    plan->proved &= !plan->has_bins || plan->universes == plan->universes_at_least;
}

static int solve(struct patch *patch)
{
    int err = patch__items(patch);
    patch->plan->has_bins = patch->options->tight;
    if (err || patch->plan->refused || patch->item_count == 0)
        return err;
    if ((err = patch__transmitters(patch)) || (err = patch__order(patch)))
        return err;
    patch->rest = patch__alloc(patch, patch->item_count, sizeof *patch->rest);
    if (!patch->rest)
        return RIG_ENOMEM;
    if ((err = place(patch)))
        return err;
    patch->plan->proved = !patch->limited;
    if (fits(patch) && (err = patch__settle(patch)))
        return err;
    if (!fits(patch))
        return patch__dark(patch);
    count_universes(patch);
    if ((err = patch__codes(patch)))
        return err;
    patch->plan->proved &= patch->options->tight || patch->plan->codes == patch->plan->codes_at_least;
    err = patch__steps(patch);
    return err ? err : plan__name_failing(patch->show, patch->plan);
}

int plan_patch(const struct show *show, const struct plan_patch_options *options, struct plan **out, struct rig_why *why)
{
    struct patch patch = { .show = show, .options = options, .plan = plan__new(PLAN_PATCH), .scratch = plan__new(PLAN_PATCH),
                           .step_limit = options->step_limit ? options->step_limit : PATCH_STEPS };
    int err = patch.plan && patch.scratch ? 0 : RIG_ENOMEM;
    *out = NULL;
    if (!err && options->site != SHOW_UNKNOWN && options->site >= show->site_count)
        err = rig_fail(why, RIG_EUSAGE, "site %u is not in the show: it has %u", options->site, show->site_count);
    else if (!err)
        err = solve(&patch);
    if (err == RIG_ENOMEM)
        rig_fail(why, err, "no memory for the plan");
    plan_free(patch.scratch);
    if (err)
        plan_free(patch.plan);
    else
        *out = patch.plan;
    return err;
}
