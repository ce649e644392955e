/* Bin completion (R. E. Korf, "A new algorithm for optimal bin packing", 2002): one bin after the other, each with the largest
 * thing left and as much else as fits: a bin into which more would go is never better than the fuller one. What may stay
 * unused in all bins together is known, and cuts most branches. States that led nowhere are remembered. */
#include <stdlib.h>
#include <string.h>

#include "bins_internal.h"

#define REMEMBER (1u << 16)          /* states, and */
#define REMEMBER_OCTETS (1u << 23)   /* what they may take */
#define REFUSALS 2000                /* before a level is given up */

struct search {
    struct packing *p;
    uint32_t open;
    uint16_t *left;                  /* by kind; one more in front */
    uint32_t remaining;              /* things */
    uint64_t waste, allowed;         /* slots that stay unused in closed bins; at most */
    uint32_t *taken; uint32_t taken_count;       /* kinds, in the order taken */
    uint32_t *ends;                  /* by bin: taken_count when it was closed */
    uint64_t *masks;                 /* by depth: what the things of the bin have in common */
    uint64_t *sets;                  /* of the bins opened, for accept */
    uint16_t *states; uint32_t *slots; uint32_t state_count, state_room, most_states;    /* failed */
    uint64_t *steps;
    uint32_t refusals;
    bool limited;
};

/* ---- failed states ---- */

/* Where a state is, or would be. @param state  bin and what is left, by kind */
static uint32_t slot_of(const struct search *s, const uint16_t *state)
{
    uint32_t width = s->p->kind_count + 1, size = 2 * s->state_room;
    uint64_t hash = UINT64_C(0xcbf29ce484222325);
    for (uint32_t i = 0; i < width; i++)
        hash = (hash ^ state[i]) * UINT64_C(0x100000001b3);
    for (uint32_t slot = (uint32_t)((hash >> 20) % size);; slot = (slot + 1) % size)
        if (!s->slots[slot] || !memcmp(s->states + (size_t)(s->slots[slot] - 1) * width, state, width * sizeof *state))
            return slot;
}

/* The table doubles; when it may not, or memory is short, nothing more is remembered. */
static void grow(struct search *s)
{
    uint32_t width = s->p->kind_count + 1, room = s->state_room ? s->state_room * 2 : 256;
    if (room > s->most_states)
        return;
    uint16_t *states = reallocarray(s->states, (size_t)room * width, sizeof *states);
    uint32_t *slots = states ? calloc(2 * (size_t)room, sizeof *slots) : NULL;
    s->states = states ? states : s->states;
    if (!slots)
        return;
    free(s->slots);
    s->slots = slots;
    s->state_room = room;
    for (uint32_t i = 0; i < s->state_count; i++)
        s->slots[slot_of(s, s->states + (size_t)i * width)] = i + 1;
}

/* The present state: left[-1] is the number of the bin. */
static const uint16_t *state_at(struct search *s, uint32_t bin)
{
    s->left[-1] = (uint16_t)bin;
    return s->left - 1;
}

static bool has_failed(struct search *s, uint32_t bin)
{
    return s->state_room && s->slots[slot_of(s, state_at(s, bin))];
}

static void remember(struct search *s, uint32_t bin)
{
    uint32_t width = s->p->kind_count + 1;
    if (s->state_count == s->state_room)
        grow(s);
    if (s->state_count == s->state_room)
        return;
    memcpy(s->states + (size_t)s->state_count * width, state_at(s, bin), width * sizeof *s->states);
    s->slots[slot_of(s, s->states + (size_t)s->state_count * width)] = s->state_count + 1;
    s->state_count++;
}

/* ---- bins ---- */

static bool fits(const struct search *s, uint32_t kind, uint32_t room, const uint64_t *mask)
{
    if (!s->left[kind] || s->p->kinds[kind].size > room)
        return false;
    for (uint32_t w = 0; w < s->p->bins->words; w++)
        if (mask[w] & s->p->kinds[kind].set[w])
            return true;
    return false;
}

/* Everything has a bin: write it down. @return true if it is accepted */
static bool finish(struct search *s, uint32_t bins_used)
{
    struct bins *bins = s->p->bins;
    uint32_t words = bins->words, opened = bins_used > bins->gap_count ? bins_used - bins->gap_count : 0;
    for (uint32_t k = 0; k < s->p->kind_count; k++)
        s->left[k] = 0;
    memset(s->sets, 0xff, (size_t)opened * words * sizeof *s->sets);
    for (uint32_t i = 0, bin = 0; i < s->taken_count; i++) {
        while (i >= s->ends[bin])
            bin++;
        const struct kind *kind = &s->p->kinds[s->taken[i]];
        bins->bin[s->p->sorted[kind->first + s->left[s->taken[i]]++]] = bin;
        for (uint32_t w = 0; bin >= bins->gap_count && w < words; w++)
            s->sets[(size_t)(bin - bins->gap_count) * words + w] &= kind->set[w];
    }
    for (uint32_t k = 0; k < s->p->kind_count; k++)
        s->left[k] = 0;
    bins->opened = opened;
    if (!bins->accept || bins->accept(bins->context, s->sets, bins->bin, opened))
        return true;
    s->limited |= ++s->refusals >= REFUSALS;
    return false;
}

static bool next_bin(struct search *s, uint32_t bin);

/* What the things of a bin but two of them have in common, with a kind from outside. */
static bool meets_others(const struct search *s, uint32_t bin, uint32_t first, uint32_t a, uint32_t b, uint32_t kind)
{
    const struct bins *bins = s->p->bins;
    for (uint32_t w = 0; w < bins->words; w++) {
        uint64_t mask = s->p->kinds[kind].set[w];
        if (bin < bins->gap_count)
            mask &= bins->gap_sets[(size_t)bin * bins->words + w];
        for (uint32_t i = first; i < s->taken_count && mask; i++)
            if (i != a && i != b)
                mask &= s->p->kinds[s->taken[i]].set[w];
        if (mask)
            return true;
    }
    return false;
}

static bool may_replace(const struct search *s, uint32_t inside, uint32_t outside)
{
    for (uint32_t w = 0; w < s->p->bins->words; w++)
        if (s->p->kinds[outside].set[w] & ~s->p->kinds[inside].set[w])
            return false;
    return true;
}

/* A thing left outside is larger than one in the bin, or at least as large as two, and would fit in their place, and they in
 * its place: then the bin with it is as good (the dominance of Martello and Toth). The thing that every bin must hold stays. */
static bool is_dominated(const struct search *s, uint32_t bin, uint32_t room)
{
    uint32_t begin = bin ? s->ends[bin - 1] : 0, first = begin + (bin >= s->p->bins->gap_count);
    for (uint32_t i = first; i < s->taken_count; i++)
        for (uint32_t j = i; j < s->taken_count; j++) {
            uint32_t a = s->p->kinds[s->taken[i]].size, out = i == j ? a : a + s->p->kinds[s->taken[j]].size;
            for (uint32_t k = 0; k < s->p->kind_count && s->p->kinds[k].size >= out + (i == j); k++)
                if (s->left[k] && s->p->kinds[k].size <= out + room && may_replace(s, s->taken[i], k)
                    && may_replace(s, s->taken[j], k) && meets_others(s, bin, begin, i, j, k))
                    return true;
        }
    return false;
}

static bool close_bin(struct search *s, uint32_t bin, uint32_t room, const uint64_t *mask)
{
    for (uint32_t k = 0; k < s->p->kind_count; k++)
        if (fits(s, k, room, mask))
            return false;
    if (s->waste + room > s->allowed || is_dominated(s, bin, room))
        return false;
    s->waste += room;
    s->ends[bin] = s->taken_count;
    bool found = next_bin(s, bin + 1);
    s->waste -= room;
    return found;
}

/* Add things of kind `from` and later ones to a bin, in every way; then leave it at that. */
static bool extend(struct search *s, uint32_t bin, uint32_t from, uint32_t room, const uint64_t *mask)
{
    uint32_t words = s->p->bins->words;
    uint64_t *inner = s->masks + (size_t)(s->taken_count + bin + 1) * words;
    for (uint32_t k = from; k < s->p->kind_count; k++) {
        const struct kind *kind = &s->p->kinds[k];
        if (!fits(s, k, room, mask))
            continue;
        if (++*s->steps > s->p->bins->step_limit)
            s->limited = true;
        if (s->limited)
            return false;
        for (uint32_t w = 0; w < words; w++)
            inner[w] = mask[w] & kind->set[w];
        s->left[k]--;
        s->remaining--;
        s->taken[s->taken_count++] = k;
        if (extend(s, bin, k, room - kind->size, inner))
            return true;
        s->taken_count--;
        s->remaining++;
        s->left[k]++;
        if (bin >= s->p->bins->gap_count && room == s->p->bins->capacity)
            return false;                                    /* the largest thing left is in this bin or nowhere */
    }
    return close_bin(s, bin, room, mask);
}

static bool next_bin(struct search *s, uint32_t bin)
{
    const struct bins *bins = s->p->bins;
    uint32_t words = bins->words, refusals = s->refusals, room = bins->capacity;
    uint64_t *mask = s->masks + (size_t)(s->taken_count + bin) * words;
    if (s->remaining == 0)
        return finish(s, bin);
    if (bin == bins->gap_count + s->open || has_failed(s, bin)
        || (bin >= bins->gap_count && bins__least(s->p, s->left) > bins->gap_count + s->open - bin))
        return false;
    memset(mask, 0xff, words * sizeof *mask);
    if (bin < bins->gap_count) {
        memcpy(mask, bins->gap_sets + (size_t)bin * words, words * sizeof *mask);
        room = bins->gap_room[bin];
    }
    if (extend(s, bin, 0, room, mask))
        return true;
    if (!s->limited && refusals == s->refusals)
        remember(s, bin);
    return false;
}

bool bins__search(struct packing *p, uint32_t open, uint64_t *steps, bool *found, bool *limited, bool *refused)
{
    const struct bins *bins = p->bins;
    uint32_t most = bins->gap_count + open, words = bins->words;
    struct search s = { .p = p, .open = open, .steps = steps, .remaining = bins->count, .allowed = (uint64_t)open * bins->capacity };
    for (uint32_t g = 0; g < bins->gap_count; g++)
        s.allowed += bins->gap_room[g];
    *found = *limited = *refused = false;
    if (s.allowed < p->total || most > UINT16_MAX)
        return true;
    s.allowed -= p->total;
    uint16_t *left = calloc(p->kind_count + (size_t)2, sizeof *left);
    s.taken = calloc(bins->count + (size_t)1, sizeof *s.taken);
    s.ends = calloc(most + (size_t)1, sizeof *s.ends);
    s.masks = calloc((bins->count + (size_t)most + 2) * words, sizeof *s.masks);
    s.sets = calloc((open + (size_t)1) * words, sizeof *s.sets);
    s.most_states = REMEMBER_OCTETS / sizeof *s.states / (p->kind_count + 1);
    s.most_states = s.most_states > REMEMBER ? REMEMBER : s.most_states;
    bool good = left && s.taken && s.ends && s.masks && s.sets;
    s.left = good ? left + 1 : NULL;
    for (uint32_t k = 0; good && k < p->kind_count; k++)
        s.left[k] = (uint16_t)p->kinds[k].count;
    if (good)
        *found = next_bin(&s, 0);
    *limited = s.limited;
    *refused = s.refusals;
    free(left);
    free(s.taken);
    free(s.ends);
    free(s.masks);
    free(s.sets);
    free(s.states);
    free(s.slots);
    return good;
}
