/* The plan's steps: new universes, then transmitters, then fixtures, each with what a person must know to do it. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "patch_internal.h"

#define LABEL_MOST 32                /* characters, what the rule label-form allows */

static bool add_step(struct patch *patch, enum subject_kind kind, uint32_t index, const char *field, struct plan_value from,
                     struct plan_value to, const char *why)
{
    struct plan_step *step = plan__step(patch->plan, kind, index, field);
    if (!step || !why || !field)
        return false;
    step->id = SHOW_NONE;
    step->from = from;
    step->to = to;
    step->why = why;
    return true;
}

/* The plan outlives the show. */
static struct plan_value copy_text(struct patch *patch, const char *text)
{
    return plan__value(text ? plan__text(patch->plan, "%s", text) : NULL);
}

/* ---- labels ---- */

struct labels { const char **known; uint32_t count; };

static int by_text(const void *a, const void *b)
{
    const char *const *x = a, *const *y = b;
    return strcmp(*x, *y);
}

static bool collect(struct patch *patch, struct labels *labels)
{
    const struct show *show = patch->show;
    labels->known = patch__alloc(patch, show->universe_count, sizeof *labels->known);
    for (uint32_t i = 0; labels->known && i < show->universe_count; i++)
        if (show->universes[i].label)
            labels->known[labels->count++] = show->universes[i].label;
    if (labels->known)
        qsort(labels->known, labels->count, sizeof *labels->known, by_text);
    return labels->known;
}

static const char *site_name(const struct patch *patch, uint32_t item)
{
    const struct fixture *fixture = &patch->show->fixtures[patch->members[patch->items[item].first]];
    const char *name = fixture->site_index != SHOW_UNKNOWN ? patch->show->sites[fixture->site_index].name : NULL;
    return name && *name ? name : fixture->site && *fixture->site ? fixture->site : "Universe";
}

/* "North quay 3": the name is cut so that the number always shows. Numbers differ, so new labels differ from each other; a
 * label that an older universe has gets a second number. */
static const char *label_for(struct patch *patch, const struct labels *labels, uint32_t item, int64_t universe)
{
    const char *name = site_name(patch, item);
    for (unsigned again = 1;; again++) {
        char number[32];
        snprintf(number, sizeof number, again > 1 ? " %" PRId64 "-%u" : " %" PRId64, universe, again);
        size_t length = strlen(name), most = LABEL_MOST - strlen(number);
        while (length && utf8_count(name, length) > most)
            length = utf8_cut(name, length, length - 1);
        const char *label = plan__text(patch->plan, "%.*s%s", (int)length, name, number);
        if (!label || !bsearch(&label, labels->known, labels->count, sizeof *labels->known, by_text))
            return label;
    }
}

/* `first` is the first item of each bin. */
static bool universe_steps(struct patch *patch, const uint32_t *first)
{
    struct labels labels = { NULL, 0 };
    uint32_t added = 0;
    if (!collect(patch, &labels))
        return false;
    for (uint32_t b = 0; b < patch->bin_count; b++) {
        const struct patch_bin *bin = &patch->bins[b];
        if (bin->in_use || bin->used == 0 || show_find_universe(patch->show, bin->universe) != SHOW_UNKNOWN)
            continue;
        const char *label = label_for(patch, &labels, first[b], bin->universe);
        const char *why = plan__text(patch->plan, "a new universe for %" PRIu32 " %s", bin->fixtures,
                                     bin->fixtures == 1 ? "fixture" : "fixtures");
        if (!label || !add_step(patch, SUBJECT_UNIVERSE, patch->show->universe_count + added++, "label", plan__null(),
                                plan__value(label), why))
            return false;
        patch->plan->steps[patch->plan->step_count - 1].id = bin->universe;
    }
    return true;
}

/* ---- transmitters ---- */

static bool keep_out_step(struct patch *patch, const struct patch_transmitter *tx)
{
    struct plan_value from, to;
    return plan__keep_out(patch->plan, patch->show, &patch->show->transmitters[tx->index], &from, &to) &&
           add_step(patch, SUBJECT_TRANSMITTER, tx->index, "keep_out", from, to,
                    plan__text(patch->plan, "so it keeps every quiet band, and %d hop channels stay", tx->hops));
}

/* `bin` is the first of its bins, `next` leads to the others. */
static bool transmitter_steps(struct patch *patch, const struct patch_transmitter *tx, uint32_t bin, const uint32_t *next)
{
    const struct transmitter *t = &patch->show->transmitters[tx->index];
    enum air air = patch->columns[tx->chosen].air;
    uint32_t before = patch->plan->step_count;
    if (tx->needs_code && !add_step(patch, SUBJECT_TRANSMITTER, tx->index, "code", plan__null(), plan__value(tx->code),
                                    "it goes on the air with this code"))
        return false;
    if (t->air != air && !add_step(patch, SUBJECT_TRANSMITTER, tx->index, "air", plan__value(air_name(t->air)),
                                   plan__value(air_name(air)),
                                   air == AIR_DUAL ? "its universes need the lanes of this air mode, or its fixtures need it"
                                                   : "its fixtures need this air mode"))
        return false;
    if (tx->needs_keep_out && !keep_out_step(patch, tx))
        return false;
    for (; bin != PATCH_NONE; bin = next[bin]) {
        const struct patch_bin *b = &patch->bins[bin];
        if (b->is_new && !add_step(patch, SUBJECT_TRANSMITTER, tx->index, plan__text(patch->plan, "lane %" PRId64, b->lane),
                                   plan__null(), plan__number(b->universe),
                                   plan__text(patch->plan, "for %" PRIu32 " %s", b->fixtures, b->fixtures == 1 ? "fixture" : "fixtures")))
            return false;
    }
    patch->plan->settings += patch->plan->step_count - before;
    return true;
}

static bool all_transmitter_steps(struct patch *patch)
{
    uint32_t *head = patch__alloc(patch, patch->transmitter_count, sizeof *head);
    uint32_t *next = patch__alloc(patch, patch->bin_count, sizeof *next);
    if (!head || !next)
        return false;
    memset(head, 0xff, patch->transmitter_count * sizeof *head);
    for (uint32_t b = patch->bin_count; b-- > 0;) {
        const struct patch_bin *bin = &patch->bins[b];
        if (bin->column == PATCH_NONE || bin->in_use || bin->used == 0)
            continue;
        uint32_t *at = &head[patch->columns[bin->column].transmitter];
        next[b] = *at;
        *at = b;
    }
    for (uint32_t i = 0; i < patch->transmitter_count; i++)
        if (head[i] != PATCH_NONE && !transmitter_steps(patch, &patch->transmitters[i], head[i], next))
            return false;
    return true;
}

/* ---- fixtures ---- */

/* What is keyed into a fixture, and what for. */
struct keys { int64_t universe, address, lane; const char *code; enum air air; const char *why_patch, *why_key; };

static bool fixture_steps(struct patch *patch, uint32_t index, const struct keys *keys)
{
    const struct fixture *f = &patch->show->fixtures[index];
    uint32_t before = patch->plan->step_count;
    bool good = true, same_code = keys->code && f->code ? !strcmp(keys->code, f->code) : keys->code == f->code;
    if (f->universe != keys->universe)
        good &= add_step(patch, SUBJECT_FIXTURE, index, "universe", plan__number(f->universe), plan__number(keys->universe),
                         keys->why_patch);
    uint32_t keyed = patch->plan->step_count;
    if (f->address != keys->address)
        good &= add_step(patch, SUBJECT_FIXTURE, index, "address", plan__number(f->address), plan__number(keys->address),
                         keys->why_patch);
    if (!same_code)
        good &= add_step(patch, SUBJECT_FIXTURE, index, "code", copy_text(patch, f->code), plan__value(keys->code), keys->why_key);
    if (f->air != keys->air)
        good &= add_step(patch, SUBJECT_FIXTURE, index, "air", plan__value(air_name(f->air)), plan__value(air_name(keys->air)),
                         keys->why_key);
    if (f->lane != keys->lane)
        good &= add_step(patch, SUBJECT_FIXTURE, index, "lane", plan__number(f->lane), plan__number(keys->lane), keys->why_key);
    if (good && (before != patch->plan->step_count) && keyed != patch->plan->step_count)
        patch->plan->touched[patch->plan->touches++] = index;
    return good;
}

/* Texts that all fixtures of a bin share. */
static bool explain(struct patch *patch, struct patch_bin *bin, const char **patched, const char **keyed)
{
    *patched = plan__text(patch->plan, "it is in universe %" PRId64, bin->universe);
    if (!*patched || bin->column == PATCH_NONE)
        return *patched;
    const struct patch_transmitter *tx = &patch->transmitters[patch->columns[bin->column].transmitter];
    *keyed = plan__text(patch->plan, "universe %" PRId64 " is on %s, lane %" PRId64, bin->universe, patch->show->transmitters[tx->index].id,
                        bin->lane);
    return *keyed;
}

static bool item_steps(struct patch *patch, const struct patch_item *item, const char *patched, const char *keyed)
{
    const struct patch_bin *bin = &patch->bins[item->bin];
    struct keys keys = { .universe = bin->universe, .address = item->address, .lane = SHOW_NONE, .why_patch = item->wired ? patched : keyed, .why_key = keyed };
    if (item->wired) {
        keys.why_patch = plan__text(patch->plan, "%s; it is wired: no code, air mode or lane", patched);
        keys.why_key = "it is wired: it joins no transmitter";
    } else {
        const struct patch_column *column = &patch->columns[bin->column];
        keys.lane = bin->lane;
        keys.air = column->air;
        keys.code = patch->transmitters[column->transmitter].code;
    }
    for (uint32_t m = 0; m < item->count; m++)
        if (!fixture_steps(patch, patch->members[item->first + m], &keys))
            return false;
    return true;
}

/* Items by bin: counted, laid out, filled; within a bin they keep their order. */
static bool all_fixture_steps(struct patch *patch, const uint32_t *first, const uint32_t *next)
{
    for (uint32_t b = 0; b < patch->bin_count; b++) {
        const char *patched = NULL, *keyed = NULL;
        if (first[b] == PATCH_NONE)
            continue;
        if (!explain(patch, &patch->bins[b], &patched, &keyed))
            return false;
        for (uint32_t i = first[b]; i != PATCH_NONE; i = next[i])
            if (!item_steps(patch, &patch->items[i], patched, keyed))
                return false;
    }
    return true;
}

int patch__steps(struct patch *patch)
{
    uint32_t *first = patch__alloc(patch, patch->bin_count, sizeof *first);
    uint32_t *next = patch__alloc(patch, patch->item_count, sizeof *next);
    uint32_t *touched = patch->plan->touched = plan__alloc(patch->plan, (patch->show->fixture_count + (size_t)1) * sizeof *touched);
    if (!first || !next || !touched)
        return RIG_ENOMEM;
    memset(first, 0xff, patch->bin_count * sizeof *first);
    for (uint32_t i = patch->item_count; i-- > 0;) {
        next[i] = first[patch->items[i].bin];
        first[patch->items[i].bin] = i;
    }
    if (!universe_steps(patch, first) || !all_transmitter_steps(patch) || !all_fixture_steps(patch, first, next))
        return RIG_ENOMEM;
    patch->plan->touched = plan__fixtures(patch->plan, patch->show, touched, patch->plan->touches);
    patch->plan->touched_count = patch->plan->touches;
    return patch->plan->touched ? 0 : RIG_ENOMEM;
}
