/* Graph colouring of join codes against brute force on small graphs, and on graphs whose number of colours is known. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "plan/codes.h"

#define MOST 64

struct graph { uint32_t count; bool edge[MOST][MOST]; uint32_t colour[MOST], known; bool usable[MOST]; };

static uint64_t state_of_random = 88172645463325252u;

/* xorshift64 (G. Marsaglia, 2003): the same cases every time. */
static uint32_t roll(uint32_t below)
{
    state_of_random ^= state_of_random << 13;
    state_of_random ^= state_of_random >> 7;
    state_of_random ^= state_of_random << 17;
    return (uint32_t)(state_of_random >> 33) % below;
}

static void join(struct graph *g, uint32_t a, uint32_t b)
{
    g->edge[a][b] = g->edge[b][a] = true;
}

static struct codes_graph colour(const struct graph *g, uint32_t *out, uint64_t limit)
{
    static uint32_t first[MOST + 1], edges[MOST * MOST];
    uint32_t at = 0;
    for (uint32_t a = 0; a < g->count; a++) {
        first[a] = at;
        for (uint32_t b = 0; b < g->count; b++)
            if (g->edge[a][b])
                edges[at++] = b;
    }
    first[g->count] = at;
    memcpy(out, g->colour, sizeof g->colour);
    struct codes_graph graph = { .count = g->count, .first = first, .edges = edges, .colour = out, .known = g->known,
                                 .usable = g->usable, .step_limit = limit };
    assert_true(codes_colour(&graph));
    for (uint32_t a = 0; a < g->count; a++) {
        assert_true(out[a] < g->known + graph.added);
        if (g->colour[a] != CODES_NONE)
            assert_int_equal(out[a], g->colour[a]);
        else if (out[a] < g->known)
            assert_true(g->usable[out[a]]);
        for (uint32_t b = 0; b < g->count; b++)
            if (g->edge[a][b] && (g->colour[a] == CODES_NONE || g->colour[b] == CODES_NONE))
                assert_int_not_equal(out[a], out[b]);
    }
    return graph;
}

/* All ways to colour node `at` and those after it with `added` new colours: the plain definition, no bound and no order. */
static bool can_colour(const struct graph *g, uint32_t *colours, uint32_t at, uint32_t added)
{
    if (at == g->count)
        return true;
    if (g->colour[at] != CODES_NONE)
        return can_colour(g, colours, at + 1, added);
    for (uint32_t c = 0; c < g->known + added; c++) {
        bool good = c >= g->known || g->usable[c];
        for (uint32_t b = 0; b < g->count && good; b++)
            good = !g->edge[at][b] || colours[b] != c;
        if (!good)
            continue;
        colours[at] = c;
        if (can_colour(g, colours, at + 1, added))
            return true;
        colours[at] = CODES_NONE;
    }
    return false;
}

static uint32_t brute(const struct graph *g)
{
    uint32_t added = 0, colours[MOST];
    for (;; added++) {
        memcpy(colours, g->colour, sizeof colours);
        if (can_colour(g, colours, 0, added))
            return added;
    }
}

static void as_few_as_brute_force_on_small_graphs(void **state)
{
    (void)state;
    for (int run = 0; run < 2000; run++) {
        struct graph g = { .count = 1 + roll(10), .known = roll(4) };
        uint32_t out[MOST], dense = 10 + roll(80);
        for (uint32_t c = 0; c < g.known; c++)
            g.usable[c] = roll(5) != 0;
        for (uint32_t a = 0; a < g.count; a++) {
            g.colour[a] = g.known && roll(3) == 0 ? roll(g.known) : CODES_NONE;
            for (uint32_t b = 0; b < a; b++)
                if (roll(100) < dense)
                    join(&g, a, b);
        }
        struct codes_graph graph = colour(&g, out, 1000000);
        assert_true(graph.proved);
        assert_int_equal(graph.added, brute(&g));
    }
}

static struct graph open_graph(uint32_t count)
{
    struct graph g = { .count = count };
    memset(g.colour, 0xff, sizeof g.colour);
    return g;
}

/* Complete graphs take as many colours as nodes, odd rings 3, even rings 2 (by definition). */
static void rings_and_complete_graphs(void **state)
{
    (void)state;
    uint32_t out[MOST];
    for (uint32_t n = 3; n <= 40; n++) {
        struct graph ring = open_graph(n), full = open_graph(n);
        for (uint32_t a = 0; a < n; a++) {
            join(&ring, a, (a + 1) % n);
            for (uint32_t b = 0; b < a; b++)
                join(&full, a, b);
        }
        struct codes_graph graph = colour(&ring, out, 1000000);
        assert_true(graph.proved);
        assert_int_equal(graph.added, n % 2 ? 3 : 2);
        graph = colour(&full, out, 1000000);
        assert_true(graph.proved);
        assert_int_equal(graph.added, n);
    }
}

/* The Grötzsch graph: 11 nodes, no triangle, 4 colours (H. Grötzsch, 1959), so that cliques prove nothing. */
static void a_graph_without_triangles_that_takes_four(void **state)
{
    (void)state;
    struct graph g = open_graph(11);
    uint32_t out[MOST];
    for (uint32_t a = 0; a < 5; a++) {                       /* Mycielski's construction on the ring of five */
        join(&g, a, (a + 1) % 5);
        join(&g, 5 + a, (a + 1) % 5);
        join(&g, 5 + a, (a + 4) % 5);
        join(&g, 10, 5 + a);
    }
    struct codes_graph graph = colour(&g, out, 1000000);
    assert_true(graph.proved);
    assert_int_equal(graph.added, 4);
    graph = colour(&g, out, 1);                              /* stopped at once: still a colouring, and it says so */
    assert_false(graph.proved);
    assert_in_range(graph.at_least, 2, 4);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(as_few_as_brute_force_on_small_graphs),
        cmocka_unit_test(rings_and_complete_graphs),
        cmocka_unit_test(a_graph_without_triangles_that_takes_four),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
