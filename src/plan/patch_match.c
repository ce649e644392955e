/* Bins onto lanes: a bipartite matching in which a column takes as many bins as it has lanes. Augmenting paths, heaviest bin
 * first: what can have a lane is a matroid, so the weight without a lane is least for the given air modes. */
#include <stdlib.h>
#include <string.h>

#include "patch_internal.h"

#define ALL_CHOICES 12               /* transmitters whose air modes are tried in every combination */

struct patch_match_work {
    uint32_t *chosen;                /* column in use, by transmitter */
    uint32_t *load, *head;           /* by column: how many bins, the first of them */
    uint32_t *next;                  /* by bin: the next of its column */
    uint32_t *order;                 /* bins, heaviest first */
    uint32_t *queue, *via;           /* by column: the bin that would come here */
    uint32_t *seen, stamp;           /* by column */
    uint32_t *best;                  /* by bin: the best columns so far */
    uint32_t *open, open_count;      /* transmitters with a choice that some bin could use */
    uint64_t steps;
};

bool patch__narrow(const struct patch *patch, uint64_t *into, const uint64_t *with)
{
    uint64_t any = 0;
    for (uint32_t w = 0; w < patch->words; w++)
        any |= into[w] &= with[w];
    return any;
}

int patch__match_init(struct patch *patch, struct patch_match *match, uint32_t room)
{
    struct patch_match_work *work = match->work = patch__alloc(patch, 1, sizeof *work);
    uint32_t columns = patch->column_count, transmitters = patch->transmitter_count;
    match->count = 0;
    match->room = room;
    match->masks = patch__alloc(patch, (size_t)room * patch->words, sizeof *match->masks);
    uint32_t **const by_bin[] = { &match->weight, &match->column, &work->next, &work->order, &work->best };
    uint32_t **const by_column[] = { &work->load, &work->head, &work->queue, &work->via, &work->seen };
    uint32_t **const by_transmitter[] = { &work->chosen, &work->open };
    if (!work || !match->masks)
        return RIG_ENOMEM;
    for (unsigned i = 0; i < 5; i++)
        if (!(*by_bin[i] = patch__alloc(patch, room, sizeof(uint32_t)))
            || !(*by_column[i] = patch__alloc(patch, columns, sizeof(uint32_t))))
            return RIG_ENOMEM;
    for (unsigned i = 0; i < 2; i++)
        if (!(*by_transmitter[i] = patch__alloc(patch, transmitters, sizeof(uint32_t))))
            return RIG_ENOMEM;
    return 0;
}

void patch__match_add(const struct patch *patch, struct patch_match *match, const uint64_t *mask, uint32_t weight)
{
    memcpy(match->masks + (size_t)match->count * patch->words, mask, patch->words * sizeof *mask);
    match->weight[match->count++] = weight;
}

static bool has(const struct patch *patch, const struct patch_match *match, uint32_t bin, uint32_t column)
{
    return match->masks[(size_t)bin * patch->words + column / 64] >> column % 64 & 1;
}

static void link_bin(struct patch_match *match, uint32_t bin, uint32_t column)
{
    struct patch_match_work *work = match->work;
    match->column[bin] = column;
    work->next[bin] = work->head[column];
    work->head[column] = bin;
    work->load[column]++;
}

static void unlink_bin(struct patch_match *match, uint32_t bin)
{
    struct patch_match_work *work = match->work;
    uint32_t *at = &work->head[match->column[bin]];
    while (*at != bin)
        at = &work->next[*at];
    *at = work->next[bin];
    work->load[match->column[bin]]--;
}

/* Walk the columns that `bin` could go to. @return the first with room, after noting the way; PATCH_NONE */
static uint32_t reach(const struct patch *patch, struct patch_match *match, uint32_t bin, uint32_t *tail)
{
    struct patch_match_work *work = match->work;
    for (uint32_t w = 0; w < patch->words; w++)
        for (uint64_t bits = match->masks[(size_t)bin * patch->words + w]; bits; bits &= bits - 1) {
            uint32_t c = w * 64 + (uint32_t)__builtin_ctzll(bits);
            work->steps++;
            if (c >= patch->column_count || work->seen[c] == work->stamp || work->chosen[patch->columns[c].transmitter] != c)
                continue;
            work->seen[c] = work->stamp;
            work->via[c] = bin;
            if (work->load[c] < patch->columns[c].lanes)
                return c;
            work->queue[(*tail)++] = c;
        }
    return PATCH_NONE;
}

/* Give `bin` a lane, moving others along the shortest way that makes room. */
static bool augment(const struct patch *patch, struct patch_match *match, uint32_t bin)
{
    struct patch_match_work *work = match->work;
    uint32_t tail = 0;
    work->stamp++;
    uint32_t end = reach(patch, match, bin, &tail);
    for (uint32_t head = 0; head < tail && end == PATCH_NONE; head++)
        for (uint32_t b = work->head[work->queue[head]]; b != PATCH_NONE && end == PATCH_NONE; b = work->next[b])
            end = reach(patch, match, b, &tail);
    while (end != PATCH_NONE) {
        uint32_t mover = work->via[end], from = match->column[mover];
        if (mover != bin)
            unlink_bin(match, mover);
        link_bin(match, mover, end);
        if (mover == bin)
            return true;
        end = from;
    }
    return false;
}

static uint64_t run(const struct patch *patch, struct patch_match *match)
{
    struct patch_match_work *work = match->work;
    uint64_t matched = 0;
    memset(work->load, 0, patch->column_count * sizeof *work->load);
    memset(work->head, 0xff, patch->column_count * sizeof *work->head);
    memset(match->column, 0xff, match->count * sizeof *match->column);
    for (uint32_t i = 0; i < match->count; i++)
        if (augment(patch, match, work->order[i]))
            matched += match->weight[work->order[i]];
    return matched;
}

/* Keep the present assignment if it is the best so far. */
static bool keep(struct patch_match *match, uint64_t matched)
{
    if (match->matched != UINT64_MAX && matched <= match->matched)
        return false;
    match->matched = matched;
    memcpy(match->work->best, match->column, match->count * sizeof *match->column);
    return true;
}

static void flip(const struct patch *patch, struct patch_match_work *work, uint32_t transmitter)
{
    const struct patch_transmitter *tx = &patch->transmitters[transmitter];
    work->chosen[transmitter] = tx->column + (work->chosen[transmitter] == tx->column);
}

static void find_open(const struct patch *patch, struct patch_match *match)
{
    struct patch_match_work *work = match->work;
    work->open_count = 0;
    for (uint32_t t = 0; t < patch->transmitter_count; t++) {
        const struct patch_transmitter *tx = &patch->transmitters[t];
        bool used = false;
        work->chosen[t] = tx->column_count ? tx->column : PATCH_NONE;
        for (uint32_t b = 0; b < match->count && tx->column_count == 2 && !used; b++)
            used = has(patch, match, b, tx->column) || has(patch, match, b, tx->column + 1);
        if (used)
            work->open[work->open_count++] = t;
    }
}

static int by_weight(const void *a, const void *b, void *context)
{
    const struct patch_match *match = context;
    uint32_t x = *(const uint32_t *)a, y = *(const uint32_t *)b;
    return match->weight[x] != match->weight[y] ? (match->weight[x] < match->weight[y]) - (match->weight[x] > match->weight[y])
                                                : (x > y) - (x < y);
}

bool patch__match(struct patch *patch, struct patch_match *match)
{
    struct patch_match_work *work = match->work;
    uint64_t all = 0, limit = work->steps + patch->step_limit;
    for (uint32_t i = 0; i < match->count; i++) {
        work->order[i] = i;
        all += match->weight[i];
    }
    qsort_r(work->order, match->count, sizeof *work->order, by_weight, match);
    find_open(patch, match);
    match->matched = UINT64_MAX;
    keep(match, run(patch, match));
    for (bool better = true; better && match->matched < all && work->steps < limit;) {
        better = false;
        for (uint32_t i = 0; i < work->open_count && match->matched < all && work->steps < limit; i++) {
            flip(patch, work, work->open[i]);
            if (keep(match, run(patch, match)))
                better = true;
            else
                flip(patch, work, work->open[i]);
        }
    }
    /* One change a time, in the order of a Gray code, from wherever the climb ended. */
    for (uint32_t code = 1; work->open_count <= ALL_CHOICES && code < 1u << work->open_count && match->matched < all && work->steps < limit;
         code++) {
        flip(patch, work, work->open[__builtin_ctz(code)]);
        keep(match, run(patch, match));
    }
    patch->limited |= match->matched < all && (work->steps >= limit || work->open_count > ALL_CHOICES);
    memcpy(match->column, work->best, match->count * sizeof *match->column);
    return match->matched == all;
}
