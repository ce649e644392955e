/* What no packing can do without. */
#include <stdlib.h>
#include <string.h>

#include "bins_internal.h"

/* The bound of S. Martello and P. Toth ("Lower bounds and reduction procedures for the bin packing problem", 1990): for each
 * size a up to half a bin, things above capacity - a take a bin each, things above half take one each as well, and what is at
 * least a must go into the room that the latter leave. @param things  how many of each size, 0..capacity */
static uint32_t bound_of(const uint32_t *things, uint32_t capacity)
{
    uint32_t best = 0;
    for (uint32_t a = 0; a <= capacity / 2; a++) {
        if (a && !things[a])
            continue;
        uint64_t alone = 0, large = 0, room = 0, small = 0;
        for (uint32_t s = a ? a : 1; s <= capacity; s++) {
            if (s > capacity - a) {
                alone += things[s];
            } else if (2 * s > capacity) {
                large += things[s];
                room += (uint64_t)things[s] * (capacity - s);
            } else {
                small += (uint64_t)things[s] * s;
            }
        }
        uint64_t more = small > room ? (small - room + capacity - 1) / capacity : 0;
        if (alone + large + more > best)
            best = (uint32_t)(alone + large + more);
    }
    return best;
}

static bool is_within(const uint64_t *a, const uint64_t *b, uint32_t words)
{
    for (uint32_t w = 0; w < words; w++)
        if (a[w] & ~b[w])
            return false;
    return true;
}

static bool meet(const uint64_t *a, const uint64_t *b, uint32_t words)
{
    for (uint32_t w = 0; w < words; w++)
        if (a[w] & b[w])
            return true;
    return false;
}

/* Sets that have nothing in common, the heaviest first; what lies within one of them is its group. The bounds of groups add up,
 * because their things never share a bin. @param weight  by kind: slots of all that lies within its set */
static void find_groups(struct packing *p, uint64_t *weight)
{
    uint32_t words = p->bins->words;
    for (uint32_t k = 0; k < p->kind_count; k++) {
        p->group[k] = BINS_NONE;
        weight[k] = 0;
        for (uint32_t j = 0; j < p->kind_count; j++)
            if (is_within(p->kinds[j].set, p->kinds[k].set, words))
                weight[k] += (uint64_t)p->kinds[j].size * p->kinds[j].count;
        bool everywhere = weight[k] == p->total;             /* one group of all says nothing more than no group */
        weight[k] = everywhere ? 0 : weight[k];
    }
    for (;;) {
        uint32_t best = BINS_NONE;
        for (uint32_t k = 0; k < p->kind_count; k++)
            if (weight[k] && (best == BINS_NONE || weight[k] > weight[best]))
                best = k;
        if (best == BINS_NONE)
            return;
        for (uint32_t k = 0; k < p->kind_count; k++) {
            if (p->group[k] == BINS_NONE && is_within(p->kinds[k].set, p->kinds[best].set, words))
                p->group[k] = p->group_count;
            if (meet(p->kinds[k].set, p->kinds[best].set, words))
                weight[k] = 0;
        }
        p->group_count++;
    }
}

/* Dual feasible functions u(k) of S. P. Fekete and J. Schepers ("New classes of fast lower bounds for bin packing problems",
 * 2001): a thing of size x counts x / capacity where (k + 1) x is a multiple of the capacity, else floor((k + 1) x / capacity)
 * / k; what shares a bin never counts more than 1. */
static void find_worth(struct packing *p)
{
    uint64_t capacity = p->bins->capacity;
    for (uint32_t d = 1; d <= BINS_DUALS; d++)
        for (uint32_t k = 0; k < p->kind_count; k++) {
            uint64_t x = (uint64_t)p->kinds[k].size * (d + 1);
            p->worth[(size_t)(d - 1) * p->kind_count + k] = x % capacity ? x / capacity * capacity : (uint64_t)p->kinds[k].size * d;
        }
}

static uint32_t least_of(const struct packing *p, const uint16_t *left, uint32_t group)
{
    uint64_t best = 0, slots = 0, capacity = p->bins->capacity;
    for (uint32_t k = 0; k < p->kind_count; k++)
        if (group == BINS_NONE || p->group[k] == group)
            slots += (uint64_t)left[k] * p->kinds[k].size;
    best = (slots + capacity - 1) / capacity;
    for (uint32_t d = 1; d <= BINS_DUALS; d++) {
        const uint64_t *worth = p->worth + (size_t)(d - 1) * p->kind_count;
        uint64_t sum = 0, bound;
        for (uint32_t k = 0; k < p->kind_count; k++)
            if (group == BINS_NONE || p->group[k] == group)
                sum += left[k] * worth[k];
        bound = (sum + d * capacity - 1) / (d * capacity);
        best = bound > best ? bound : best;
    }
    return (uint32_t)best;
}

uint32_t bins__least(const struct packing *p, const uint16_t *left)
{
    uint32_t all = least_of(p, left, BINS_NONE), sum = 0;
    for (uint32_t g = 0; g < p->group_count; g++)
        sum += least_of(p, left, g);
    return sum > all ? sum : all;
}

/* The bound of Martello and Toth for everything, and for the groups. */
static uint32_t classic(const struct packing *p, uint32_t *things, uint32_t group)
{
    memset(things, 0, (p->bins->capacity + (size_t)1) * sizeof *things);
    for (uint32_t k = 0; k < p->kind_count; k++)
        if (group == BINS_NONE || p->group[k] == group)
            things[p->kinds[k].size] += p->kinds[k].count;
    return bound_of(things, p->bins->capacity);
}

static void raise_bound(struct packing *p, uint32_t bound)
{
    p->bound = bound > p->bound ? bound : p->bound;
}

bool bins__bound(struct packing *p)
{
    const struct bins *bins = p->bins;
    uint64_t gaps = 0, *weight = calloc(p->kind_count + (size_t)1, sizeof *weight);
    uint32_t *things = calloc(bins->capacity + (size_t)1, sizeof *things), sum = 0;
    p->group = calloc(p->kind_count + (size_t)1, sizeof *p->group);
    p->worth = calloc((size_t)BINS_DUALS * p->kind_count + 1, sizeof *p->worth);
    p->all = calloc(p->kind_count + (size_t)1, sizeof *p->all);
    bool good = things && weight && p->group && p->worth && p->all;
    for (uint32_t g = 0; g < bins->gap_count; g++)
        gaps += bins->gap_room[g];
    p->bound = p->total > gaps ? (uint32_t)((p->total - gaps + bins->capacity - 1) / bins->capacity) : 0;
    if (good && bins->count <= BINS_EXACT) {
        find_groups(p, weight);
        find_worth(p);
        for (uint32_t k = 0; k < p->kind_count; k++)
            p->all[k] = (uint16_t)p->kinds[k].count;
    }
    if (good && bins->gap_count == 0) {
        raise_bound(p, classic(p, things, BINS_NONE));
        for (uint32_t g = 0; g < p->group_count; g++)
            sum += classic(p, things, g);
        raise_bound(p, sum);
        if (bins->count <= BINS_EXACT)
            raise_bound(p, bins__least(p, p->all));
    }
    free(things);
    free(weight);
    return good;
}

void bins__bound_free(struct packing *p)
{
    free(p->group);
    free(p->worth);
    free(p->all);
}
