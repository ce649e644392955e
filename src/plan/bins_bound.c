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

static bool meet(const uint64_t *a, const uint64_t *b, uint32_t words)
{
    for (uint32_t w = 0; w < words; w++)
        if (a[w] & b[w])
            return true;
    return false;
}

static bool is_full(const uint64_t *set, uint32_t words)
{
    for (uint32_t w = 0; w < words; w++)
        if (~set[w])
            return false;
    return true;
}

/* Kinds that cannot meet, even by way of others, never share a bin: their bounds add up. Kinds that go anywhere are left out. */
static uint32_t split_bound(const struct packing *p, uint32_t *things, uint32_t *part)
{
    const struct bins *bins = p->bins;
    uint32_t sum = 0;
    for (uint32_t k = 0; k < p->kind_count; k++)
        part[k] = is_full(p->kinds[k].set, bins->words) ? BINS_NONE : k;
    for (uint32_t k = 0; k < p->kind_count; k++)
        for (uint32_t j = 0; j < k && part[k] != BINS_NONE; j++) {
            if (part[j] == BINS_NONE || part[j] == part[k] || !meet(p->kinds[k].set, p->kinds[j].set, bins->words))
                continue;
            for (uint32_t i = 0, from = part[j], to = part[k]; i <= k; i++)
                part[i] = part[i] == from ? to : part[i];
        }
    for (uint32_t k = 0; k < p->kind_count; k++) {
        bool first = part[k] != BINS_NONE;
        for (uint32_t j = 0; j < k && first; j++)
            first = part[j] != part[k];
        if (!first)
            continue;
        memset(things, 0, (bins->capacity + (size_t)1) * sizeof *things);
        for (uint32_t j = k; j < p->kind_count; j++)
            if (part[j] == part[k])
                things[p->kinds[j].size] += p->kinds[j].count;
        sum += bound_of(things, bins->capacity);
    }
    return sum;
}

bool bins__bound(struct packing *p)
{
    const struct bins *bins = p->bins;
    uint64_t gaps = 0;
    uint32_t *things = calloc(bins->capacity + (size_t)1, sizeof *things), *part = calloc(p->kind_count + (size_t)1, sizeof *part);
    bool good = things && part;
    for (uint32_t g = 0; g < bins->gap_count; g++)
        gaps += bins->gap_room[g];
    p->bound = p->total > gaps ? (uint32_t)((p->total - gaps + bins->capacity - 1) / bins->capacity) : 0;
    if (good && bins->gap_count == 0) {
        for (uint32_t k = 0; k < p->kind_count; k++)
            things[p->kinds[k].size] += p->kinds[k].count;
        uint32_t bound = bound_of(things, bins->capacity);
        p->bound = bound > p->bound ? bound : p->bound;
        bound = p->kind_count <= BINS_EXACT ? split_bound(p, things, part) : 0;
        p->bound = bound > p->bound ? bound : p->bound;
    }
    free(things);
    free(part);
    return good;
}
