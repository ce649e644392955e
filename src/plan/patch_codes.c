/* Join codes for the transmitters that go on the air: as few as can be, so that transmitters far apart share one. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "codes.h"
#include "patch_internal.h"

#define EDGES (1u << 25)             /* pairs in each other's way up to which codes are shared at all */
#define CELLS (1u << 26)             /* nodes without a code x colours, likewise */

/* The transmitters that have a code or get one are the nodes. */
struct net {
    struct patch *patch;
    uint32_t *node_of;               /* by transmitter of the patch; PATCH_NONE */
    uint32_t *tx_of; uint32_t count; /* by node */
    uint64_t *pairs; size_t pair_count, pair_room;           /* low node first, both ways once sorted */
    uint32_t *colour, *fixed;        /* by node; fixed: that it has before */
    const char **known; uint32_t known_count;                /* codes by colour */
    bool *usable;
    uint32_t open;
    bool all_placed;                 /* every node has a position and a reach */
    bool too_many;
};

static const struct transmitter *tx_at(const struct net *net, uint32_t node)
{
    return &net->patch->show->transmitters[net->patch->transmitters[net->tx_of[node]].index];
}

static bool add_pair(struct net *net, uint32_t a, uint32_t b)
{
    if (net->pair_count == net->pair_room) {
        size_t room = net->pair_room ? net->pair_room * 2 : 256;
        uint64_t *grown = reallocarray(net->pairs, room, sizeof *grown);
        if (!grown)
            return false;
        net->pairs = grown;
        net->pair_room = room;
    }
    net->too_many |= net->pair_count >= EDGES;
    net->pairs[net->pair_count++] = (uint64_t)a << 32 | b;
    return true;
}

static bool add_both(struct net *net, uint32_t a, uint32_t b)
{
    return add_pair(net, a, b) && add_pair(net, b, a);
}

/* ---- nodes ---- */

static bool is_placed(const struct transmitter *t)
{
    return position_given(&t->pos) && !isnan(t->reach_m);
}

static bool make_nodes(struct net *net)
{
    struct patch *patch = net->patch;
    uint32_t count = patch->transmitter_count;
    net->node_of = patch__alloc(patch, count, sizeof *net->node_of);
    net->tx_of = patch__alloc(patch, count, sizeof *net->tx_of);
    net->colour = patch__alloc(patch, count, sizeof *net->colour);
    net->fixed = patch__alloc(patch, count, sizeof *net->fixed);
    net->known = patch__alloc(patch, count, sizeof *net->known);
    net->usable = patch__alloc(patch, count, sizeof *net->usable);
    if (!net->node_of || !net->tx_of || !net->colour || !net->fixed || !net->known || !net->usable)
        return false;
    for (uint32_t i = 0; i < count; i++) {
        const struct transmitter *t = &patch->show->transmitters[patch->transmitters[i].index];
        net->node_of[i] = t->code || patch->transmitters[i].used ? net->count : PATCH_NONE;
        net->open += !t->code && patch->transmitters[i].used;
        net->all_placed &= net->node_of[i] == PATCH_NONE || is_placed(t);
        if (net->node_of[i] != PATCH_NONE)
            net->tx_of[net->count++] = i;
    }
    return true;
}

/* The codes that are there, numbered by their first transmitter. */
static void make_colours(struct net *net)
{
    const struct patch *patch = net->patch;
    for (uint32_t n = 0; n < net->count; n++) {
        const char *code = tx_at(net, n)->code;
        net->fixed[n] = CODES_NONE;
        if (!code)
            continue;
        uint32_t sharers, first = n;
        const uint32_t *list = show_code_transmitters(patch->show, code, &sharers);
        for (uint32_t i = 0; i < sharers; i++) {
            uint32_t other = net->node_of[patch->transmitter_of[list[i]]];
            first = other < first ? other : first;
        }
        if (first == n) {
            net->known[net->known_count] = code;
            net->usable[net->known_count] = plan__is_code(code) && !plan_code_guessable(code);
        }
        net->fixed[n] = first == n ? net->known_count++ : net->fixed[first];
    }
}

/* ---- who could hear whom ---- */

static int by_x(const void *a, const void *b, void *context)
{
    const struct net *net = context;
    double x = tx_at(net, *(const uint32_t *)a)->pos.x_m, y = tx_at(net, *(const uint32_t *)b)->pos.x_m;
    uint32_t i = *(const uint32_t *)a, k = *(const uint32_t *)b;
    return x != y ? (x > y) - (x < y) : (i > k) - (i < k);
}

static int by_site(const void *a, const void *b, void *context)
{
    const struct net *net = context;
    uint32_t i = *(const uint32_t *)a, k = *(const uint32_t *)b;
    const char *x = tx_at(net, i)->site, *y = tx_at(net, k)->site;
    return x == y ? (i > k) - (i < k) : !x ? -1 : !y ? 1 : strcmp(x, y);
}

static double reach_or_none(const struct transmitter *t)
{
    return isnan(t->reach_m) ? 0 : t->reach_m;
}

/* Those with a position, along x: only those near enough there are compared. One without a reach can still be within that of
 * another, which is a clash. */
static bool pair_by_distance(struct net *net, uint32_t *list)
{
    uint32_t count = 0;
    double most_m = 0;
    for (uint32_t n = 0; n < net->count; n++) {
        if (!position_given(&tx_at(net, n)->pos))
            continue;
        list[count++] = n;
        most_m = fmax(most_m, reach_or_none(tx_at(net, n)));
    }
    qsort_r(list, count, sizeof *list, by_x, net);
    for (uint32_t i = 0; i < count; i++) {
        const struct transmitter *a = tx_at(net, list[i]);
        for (uint32_t k = i + 1; k < count && !net->too_many; k++) {
            const struct transmitter *b = tx_at(net, list[k]);
            if (b->pos.x_m - a->pos.x_m > reach_or_none(a) + most_m + 1)
                break;
            if (radio_distance_m(&a->pos, &b->pos) <= reach_or_none(a) + reach_or_none(b) + 2 * RADIO_ROUNDING_M
                && !add_both(net, list[i], list[k]))
                return false;
        }
    }
    return true;
}

/* Where one of the two has no position or reach, the site decides. */
static bool pair_by_site(struct net *net, uint32_t *list)
{
    for (uint32_t n = 0; n < net->count; n++)
        list[n] = n;
    qsort_r(list, net->count, sizeof *list, by_site, net);
    for (uint32_t i = 0; i < net->count; i++)
        for (uint32_t k = i + 1; k < net->count && tx_at(net, list[k])->site == tx_at(net, list[i])->site && !net->too_many; k++)
            if ((!is_placed(tx_at(net, list[i])) || !is_placed(tx_at(net, list[k]))) && !add_both(net, list[i], list[k]))
                return false;
    return true;
}

/* ---- colouring ---- */

static int by_pair(const void *a, const void *b)
{
    uint64_t x = *(const uint64_t *)a, y = *(const uint64_t *)b;
    return (x > y) - (x < y);
}

static bool colour(struct net *net)
{
    uint32_t *first = calloc(net->count + (size_t)1, sizeof *first), *edges;
    size_t kept = 0;
    if (net->pair_count)
        qsort(net->pairs, net->pair_count, sizeof *net->pairs, by_pair);
    for (size_t i = 0; i < net->pair_count; i++)
        if (kept == 0 || net->pairs[i] != net->pairs[kept - 1])
            net->pairs[kept++] = net->pairs[i];
    net->pair_count = kept;
    edges = calloc(kept + 1, sizeof *edges);
    bool good = first && edges;
    for (size_t i = 0; good && i < kept; i++) {
        edges[i] = (uint32_t)net->pairs[i];
        first[(net->pairs[i] >> 32) + 1]++;
    }
    for (uint32_t n = 0; good && n < net->count; n++)
        first[n + 1] += first[n];
    if (good) {
        memcpy(net->colour, net->fixed, net->count * sizeof *net->colour);
        struct codes_graph graph = { .count = net->count, .first = first, .edges = edges, .colour = net->colour,
                                     .known = net->known_count, .usable = net->usable, .step_limit = net->patch->step_limit };
        good = codes_colour(&graph);
        net->patch->codes_at_least = graph.at_least;
    }
    free(first);
    free(edges);
    return good;
}

/* Every transmitter its own code: always right, if not the fewest. */
static void all_different(struct net *net)
{
    uint32_t next = net->known_count;
    for (uint32_t n = 0; n < net->count; n++)
        net->colour[n] = net->fixed[n] == CODES_NONE ? next++ : net->fixed[n];
    net->patch->codes_at_least = 0;
}

/* ---- fixtures that would hear two after all, as can be where positions are missing ---- */

struct sharers { uint32_t *first, *nodes; };

/* Nodes by colour. */
static bool group(const struct net *net, struct sharers *by, uint32_t colours)
{
    by->first = calloc(colours + (size_t)2, sizeof *by->first);
    by->nodes = calloc(net->count + (size_t)1, sizeof *by->nodes);
    if (!by->first || !by->nodes)
        return false;
    for (uint32_t n = 0; n < net->count; n++)
        by->first[net->colour[n] + 2]++;
    for (uint32_t c = 1; c <= colours; c++)
        by->first[c + 1] += by->first[c];
    for (uint32_t n = 0; n < net->count; n++)
        by->nodes[by->first[net->colour[n] + 1]++] = n;
    return true;
}

/* The node that a fixture belongs to: that of its bin, or any with the code that it keeps; PATCH_NONE: none. */
static uint32_t home_of(const struct net *net, uint32_t fixture, const uint32_t *home)
{
    const struct show *show = net->patch->show;
    const struct fixture *f = &show->fixtures[fixture];
    uint32_t count = 0;
    if (net->patch->moves[fixture])
        return home[fixture];
    if (f->universe == SHOW_NONE || f->wired || !f->code)
        return PATCH_NONE;
    const uint32_t *list = show_code_transmitters(show, f->code, &count);
    return count ? net->node_of[net->patch->transmitter_of[list[0]]] : PATCH_NONE;
}

/* Forbid each pair that a fixture would hear with one code, where one of the two has it newly. @return false: memory */
static bool forbid(struct net *net, const struct sharers *by, const uint32_t *home)
{
    const struct show *show = net->patch->show;
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        uint32_t at = home_of(net, f, home);
        if (at == PATCH_NONE || (net->all_placed && net->patch->moves[f] && position_given(&show->fixtures[f].pos)))
            continue;                                        /* in reach of both, it would be nearer than both reaches together */
        for (uint32_t i = by->first[net->colour[at]]; i < by->first[net->colour[at] + 1]; i++) {
            uint32_t other = by->nodes[i];
            if (other == at || (net->fixed[other] != CODES_NONE && net->fixed[at] != CODES_NONE) || tx_at(net, other)->spare
                || !radio_in_reach(show, tx_at(net, other), &show->fixtures[f]))
                continue;
            if (!add_both(net, at, other))
                return false;
        }
    }
    return true;
}

static bool settle(struct net *net, const uint32_t *home)
{
    for (bool again = true; again;) {
        struct sharers by = { NULL, NULL };
        size_t before;
        if (!colour(net))
            return false;
        before = net->pair_count;
        uint32_t colours = net->known_count + net->open;
        bool good = group(net, &by, colours) && forbid(net, &by, home);
        free(by.first);
        free(by.nodes);
        if (!good)
            return false;
        again = net->pair_count > before;
    }
    return true;
}

/* ---- all together ---- */

static uint32_t *find_homes(const struct net *net)
{
    struct patch *patch = net->patch;
    uint32_t *home = patch__alloc(patch, patch->show->fixture_count, sizeof *home);
    if (!home)
        return NULL;
    memset(home, 0xff, patch->show->fixture_count * sizeof *home);
    for (uint32_t i = 0; i < patch->item_count; i++) {
        const struct patch_item *item = &patch->items[i];
        uint32_t column = item->wired ? PATCH_NONE : patch->bins[item->bin].column;
        for (uint32_t m = 0; column != PATCH_NONE && m < item->count; m++)
            home[patch->members[item->first + m]] = net->node_of[patch->columns[column].transmitter];
    }
    return home;
}

/* Texts for the colours, in the order in which the transmitters get them. */
static bool hand_out(struct net *net)
{
    struct patch *patch = net->patch;
    uint32_t colours = net->known_count + net->open, added = 0;
    const char **texts = patch__alloc(patch, colours, sizeof *texts);
    char (*fresh)[9] = patch__alloc(patch, net->open, sizeof *fresh);
    if (!texts || !fresh)
        return false;
    plan__fresh_codes(patch->show, net->open, fresh);
    for (uint32_t n = 0; n < net->count; n++) {
        uint32_t c = net->colour[n];
        if (!texts[c])
            texts[c] = plan__text(patch->plan, "%s", c < net->known_count ? net->known[c] : fresh[added++]);
        if (!texts[c])
            return false;
        patch->transmitters[net->tx_of[n]].code = texts[c];
    }
    patch->plan->codes = added;
    patch->plan->codes_at_least = added < patch->codes_at_least ? added : patch->codes_at_least;
    return true;
}

int patch__codes(struct patch *patch)
{
    struct net net = { .patch = patch, .all_placed = true };
    bool good = make_nodes(&net);
    uint32_t *list = good ? patch__alloc(patch, net.count, sizeof *list) : NULL, *home = good ? find_homes(&net) : NULL;
    good = list && home;
    if (good)
        make_colours(&net);
    if (good && net.open) {
        net.too_many = (uint64_t)net.open * (net.known_count + net.open) > CELLS;
        good = net.too_many || (pair_by_distance(&net, list) && pair_by_site(&net, list));
    }
    if (good && net.too_many)
        all_different(&net);
    else if (good && net.open)
        good = settle(&net, home);
    else if (good)
        memcpy(net.colour, net.fixed, net.count * sizeof *net.colour);
    good = good && hand_out(&net);
    free(net.pairs);
    return good ? 0 : RIG_ENOMEM;
}
