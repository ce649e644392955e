/* Graph colouring: saturation first (the node with the fewest colours left goes next; D. Brelaz, 1979), as a greedy answer and
 * as the order of an exact search by branch and bound. */
#include <stdlib.h>
#include <string.h>

#include "codes.h"

struct colouring {
    struct codes_graph *graph;
    uint32_t *open, open_count;      /* nodes to colour, those that hang together side by side */
    uint32_t begin, end;             /* the part of open in question: parts do not concern each other */
    uint32_t *rank;                  /* by node: place in open, CODES_NONE when it had a colour */
    uint32_t *degree;                /* by place in open: neighbours */
    uint32_t width;                  /* known colours + as many new ones as can be needed: one more than neighbours */
    uint32_t *blocked;               /* by place in open x width: how many neighbours have that colour */
    uint32_t *saturation;            /* by place in open: colours that neighbours have */
    uint32_t *best, best_added, at_least;    /* of the part */
    uint64_t steps;
    bool limited;
};

static bool is_allowed(const struct colouring *c, uint32_t place, uint32_t colour)
{
    return c->blocked[(size_t)place * c->width + colour] == 0 && (colour >= c->graph->known || c->graph->usable[colour]);
}

/* Tell the neighbours of a node that it has (or no longer has) a colour. */
static void spread(struct colouring *c, uint32_t node, uint32_t colour, bool on)
{
    for (uint32_t e = c->graph->first[node]; e < c->graph->first[node + 1]; e++) {
        uint32_t place = c->rank[c->graph->edges[e]];
        if (place == CODES_NONE)
            continue;
        uint32_t *blocked = &c->blocked[(size_t)place * c->width + colour];
        c->saturation[place] += on && *blocked == 0;
        *blocked += on ? 1 : UINT32_MAX;
        c->saturation[place] -= !on && *blocked == 0;
    }
}

static void paint(struct colouring *c, uint32_t place, uint32_t colour)
{
    c->graph->colour[c->open[place]] = colour;
    spread(c, c->open[place], colour, true);
}

static void unpaint(struct colouring *c, uint32_t place)
{
    uint32_t node = c->open[place], colour = c->graph->colour[node];
    spread(c, node, colour, false);
    c->graph->colour[node] = CODES_NONE;
}

/* The most saturated node without a colour; then the one with most neighbours, then the first. */
static uint32_t pick(const struct colouring *c)
{
    uint32_t best = CODES_NONE;
    for (uint32_t p = c->begin; p < c->end; p++) {
        if (c->graph->colour[c->open[p]] != CODES_NONE)
            continue;
        if (best == CODES_NONE || c->saturation[p] > c->saturation[best]
            || (c->saturation[p] == c->saturation[best] && c->degree[p] > c->degree[best]))
            best = p;
    }
    return best;
}

static void keep(struct colouring *c, uint32_t added)
{
    c->best_added = added;
    for (uint32_t p = c->begin; p < c->end; p++)
        c->best[p] = c->graph->colour[c->open[p]];
}

static void greedy(struct colouring *c)
{
    uint32_t added = 0, place;
    while ((place = pick(c)) != CODES_NONE) {
        uint32_t colour = 0;
        while (!is_allowed(c, place, colour))
            colour++;
        paint(c, place, colour);
        if (colour >= c->graph->known + added)
            added = colour - c->graph->known + 1;
    }
    keep(c, added);
    for (uint32_t p = c->begin; p < c->end; p++)
        unpaint(c, p);
}

static void search(struct colouring *c, uint32_t added)
{
    uint32_t place = pick(c), known = c->graph->known;
    if (place == CODES_NONE) {
        keep(c, added);
        return;
    }
    for (uint32_t colour = 0; colour <= known + added && colour < c->width; colour++) {
        uint32_t now = colour == known + added ? added + 1 : added;
        if (now >= c->best_added || c->best_added == c->at_least || c->limited)
            return;
        if (!is_allowed(c, place, colour))
            continue;
        if (c->steps++ >= c->graph->step_limit) {
            c->limited = true;
            return;
        }
        paint(c, place, colour);
        search(c, now);
        unpaint(c, place);
    }
}

/* ---- what no colouring can do without: nodes that are all neighbours, less the known colours that they could take ---- */

static uint32_t bound_of(const struct colouring *c, const uint32_t *clique, uint32_t count)
{
    uint32_t usable = 0;
    for (uint32_t colour = 0; colour < c->graph->known && usable < count; colour++) {
        bool any = false;
        for (uint32_t i = 0; i < count && !any; i++)
            any = is_allowed(c, clique[i], colour);
        usable += any;
    }
    return count - usable;
}

/* Grow a clique from `start`. near[place] counts the members that it is a neighbour of. */
static uint32_t grow(const struct colouring *c, uint32_t start, uint32_t *near, uint32_t *clique)
{
    uint32_t count = 0, next = start;
    memset(near + c->begin, 0, (c->end - c->begin) * sizeof *near);
    while (next != CODES_NONE) {
        clique[count++] = next;
        uint32_t node = c->open[next];
        for (uint32_t e = c->graph->first[node]; e < c->graph->first[node + 1]; e++)
            if (c->rank[c->graph->edges[e]] != CODES_NONE)
                near[c->rank[c->graph->edges[e]]]++;
        next = CODES_NONE;
        for (uint32_t p = c->begin; p < c->end; p++)
            if (near[p] == count && (next == CODES_NONE || c->degree[p] > c->degree[next]))
                next = p;
    }
    return count;
}

static void find_bound(struct colouring *c, uint32_t *near, uint32_t *clique)
{
    uint32_t count = c->end - c->begin, starts = count <= CODES_EXACT ? count : 8;
    c->at_least = 0;
    for (uint32_t s = 0; s < starts; s++) {
        uint32_t start = c->begin + (uint32_t)((uint64_t)s * count / starts);
        uint32_t bound = bound_of(c, clique, grow(c, start, near, clique));
        c->at_least = bound > c->at_least ? bound : c->at_least;
    }
}

/* ---- parts ---- */

/* Put the nodes without a colour that hang together side by side. @return the most neighbours that one has */
static uint32_t order(struct colouring *c)
{
    const struct codes_graph *graph = c->graph;
    uint32_t most = 0;
    for (uint32_t n = 0; n < graph->count; n++)
        c->rank[n] = CODES_NONE;
    for (uint32_t n = 0; n < graph->count; n++) {
        uint32_t head = c->open_count;
        if (graph->colour[n] != CODES_NONE || c->rank[n] != CODES_NONE)
            continue;
        c->rank[n] = c->open_count;
        c->open[c->open_count++] = n;
        for (; head < c->open_count; head++) {
            uint32_t at = c->open[head], degree = graph->first[at + 1] - graph->first[at];
            most = degree > most ? degree : most;
            for (uint32_t e = graph->first[at]; e < graph->first[at + 1]; e++) {
                uint32_t next = graph->edges[e];
                if (graph->colour[next] != CODES_NONE || c->rank[next] != CODES_NONE)
                    continue;
                c->rank[next] = c->open_count;
                c->open[c->open_count++] = next;
            }
        }
    }
    return most;
}

static uint32_t end_of_part(const struct colouring *c, uint32_t begin)
{
    uint32_t end = begin + 1;
    for (uint32_t p = begin; p < end; p++)
        for (uint32_t e = c->graph->first[c->open[p]]; e < c->graph->first[c->open[p] + 1]; e++) {
            uint32_t place = c->rank[c->graph->edges[e]];
            if (place != CODES_NONE && place >= end)
                end = place + 1;
        }
    return end;
}

static void colour_part(struct colouring *c, uint32_t *near, uint32_t *clique)
{
    struct codes_graph *graph = c->graph;
    bool exact = c->end - c->begin <= CODES_EXACT;
    c->steps = 0;
    c->limited = false;
    find_bound(c, near, clique);
    greedy(c);
    if (exact)
        search(c, 0);
    if (exact && !c->limited)
        c->at_least = c->best_added;
    graph->added = c->best_added > graph->added ? c->best_added : graph->added;
    graph->at_least = c->at_least > graph->at_least ? c->at_least : graph->at_least;
}

static bool allocate(struct colouring *c)
{
    const struct codes_graph *graph = c->graph;
    c->open = calloc(graph->count + (size_t)1, sizeof *c->open);
    c->rank = calloc(graph->count + (size_t)1, sizeof *c->rank);
    if (!c->open || !c->rank)
        return false;
    c->width = order(c) + 1;
    c->width = graph->known + (c->width < c->open_count ? c->width : c->open_count);
    c->degree = calloc(c->open_count + (size_t)1, sizeof *c->degree);
    c->saturation = calloc(c->open_count + (size_t)1, sizeof *c->saturation);
    c->best = calloc(c->open_count + (size_t)1, sizeof *c->best);
    c->blocked = calloc((size_t)c->open_count * c->width + 1, sizeof *c->blocked);
    return c->degree && c->saturation && c->best && c->blocked;
}

bool codes_colour(struct codes_graph *graph)
{
    struct colouring c = { .graph = graph };
    graph->added = graph->at_least = 0;
    bool good = allocate(&c);
    uint32_t *near = calloc(c.open_count + (size_t)1, sizeof *near), *clique = calloc(c.open_count + (size_t)1, sizeof *clique);
    good = good && near && clique;
    if (good) {
        for (uint32_t n = 0; n < graph->count; n++)
            if (c.rank[n] == CODES_NONE)
                spread(&c, n, graph->colour[n], true);
        for (uint32_t p = 0; p < c.open_count; p++)
            c.degree[p] = graph->first[c.open[p] + 1] - graph->first[c.open[p]];
        for (c.begin = 0; c.begin < c.open_count; c.begin = c.end) {
            c.end = end_of_part(&c, c.begin);
            colour_part(&c, near, clique);
        }
        graph->proved = graph->added == graph->at_least;
        for (uint32_t p = 0; p < c.open_count; p++)
            graph->colour[c.open[p]] = c.best[p];
    }
    free(c.open);
    free(c.rank);
    free(c.degree);
    free(c.saturation);
    free(c.best);
    free(c.blocked);
    free(near);
    free(clique);
    return good;
}
