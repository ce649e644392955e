/* The packer: first-fit-decreasing for an answer, a bound, and between the two an exact search from below. */
#include <stdlib.h>
#include <string.h>

#include "bins_internal.h"

static int by_kind(const void *a, const void *b, void *context)
{
    const struct bins *bins = context;
    uint32_t x = *(const uint32_t *)a, y = *(const uint32_t *)b;
    if (bins->size[x] != bins->size[y])
        return bins->size[x] < bins->size[y] ? 1 : -1;
    int order = memcmp(bins->sets + (size_t)x * bins->words, bins->sets + (size_t)y * bins->words, bins->words * sizeof *bins->sets);
    return order ? order : (x > y) - (x < y);
}

static bool make_kinds(struct packing *p)
{
    struct bins *bins = p->bins;
    p->sorted = calloc(bins->count + (size_t)1, sizeof *p->sorted);
    p->kinds = calloc(bins->count + (size_t)1, sizeof *p->kinds);
    if (!p->sorted || !p->kinds)
        return false;
    for (uint32_t i = 0; i < bins->count; i++) {
        p->sorted[i] = i;
        p->total += bins->size[i];
    }
    qsort_r(p->sorted, bins->count, sizeof *p->sorted, by_kind, bins);
    for (uint32_t i = 0; i < bins->count; i++) {
        const uint64_t *set = bins->sets + (size_t)p->sorted[i] * bins->words;
        struct kind *last = p->kind_count ? &p->kinds[p->kind_count - 1] : NULL;
        if (!last || last->size != bins->size[p->sorted[i]] || memcmp(last->set, set, bins->words * sizeof *set)) {
            last = &p->kinds[p->kind_count++];
            *last = (struct kind){ bins->size[p->sorted[i]], 0, i, set };
        }
        last->count++;
    }
    return true;
}

/* Each thing, largest first, into the first bin that takes it. Things of a kind never look again at what did not take one of
 * them. @param masks,room  by bin, gap_count + count of them */
static void first_fit(struct packing *p, uint64_t *masks, uint32_t *room)
{
    struct bins *bins = p->bins;
    uint32_t used = bins->gap_count, words = bins->words;
    for (uint32_t k = 0; k < p->kind_count; k++)
        for (uint32_t i = 0, b = 0; i < p->kinds[k].count; i++) {
            for (; b < used; b++) {
                uint64_t any = 0;
                for (uint32_t w = 0; w < words; w++)
                    any |= masks[(size_t)b * words + w] & p->kinds[k].set[w];
                if (any && room[b] >= p->kinds[k].size)
                    break;
            }
            used += b == used;
            for (uint32_t w = 0; w < words; w++)
                masks[(size_t)b * words + w] &= p->kinds[k].set[w];
            room[b] -= p->kinds[k].size;
            bins->bin[p->sorted[p->kinds[k].first + i]] = b;
        }
    bins->opened = used - bins->gap_count;
}

static bool start(struct packing *p)
{
    struct bins *bins = p->bins;
    size_t most = bins->gap_count + (size_t)bins->count;
    uint64_t *masks = calloc((most + 1) * bins->words, sizeof *masks);
    uint32_t *room = calloc(most + 1, sizeof *room);
    bool good = masks && room;
    if (good) {
        memset(masks, 0xff, most * bins->words * sizeof *masks);
        for (size_t b = 0; b < most; b++)
            room[b] = b < bins->gap_count ? bins->gap_room[b] : bins->capacity;
        if (bins->gap_count)
            memcpy(masks, bins->gap_sets, (size_t)bins->gap_count * bins->words * sizeof *masks);
        first_fit(p, masks, room);
        bins->accepted = !bins->accept || bins->accept(bins->context, masks + (size_t)bins->gap_count * bins->words, bins->bin, bins->opened);
    }
    free(masks);
    free(room);
    return good;
}

/* From the bound upwards. A level that was searched to its end without a packing moves the bound. */
static bool improve(struct packing *p)
{
    struct bins *bins = p->bins;
    uint32_t *best = calloc(bins->count + (size_t)1, sizeof *best), most = bins->opened;
    uint64_t steps = 0;
    bool good = best, clean = true, limited = false;
    if (good)
        memcpy(best, bins->bin, bins->count * sizeof *best);
    for (uint32_t open = p->bound; good && !limited && (open < most || (!bins->accepted && open <= most)); open++) {
        bool found, refused;
        good = bins__search(p, open, &steps, &found, &limited, &refused);
        if (good && found) {
            most = bins->opened;
            bins->accepted = true;
            memcpy(best, bins->bin, bins->count * sizeof *best);
            break;
        }
        clean &= !limited && !refused;
        if (clean)
            bins->at_least = open + 1;
    }
    bins->opened = most;
    if (good)
        memcpy(bins->bin, best, bins->count * sizeof *best);
    free(best);
    return good;
}

bool bins_pack(struct bins *bins)
{
    struct packing p = { .bins = bins };
    bool good = make_kinds(&p) && bins__bound(&p) && start(&p);
    bins->at_least = p.bound;
    if (good && bins->count <= BINS_EXACT && (bins->opened > p.bound || !bins->accepted))
        good = improve(&p);
    bins->proved = bins->accepted && bins->opened == bins->at_least;
    bins__bound_free(&p);
    free(p.sorted);
    free(p.kinds);
    return good;
}
