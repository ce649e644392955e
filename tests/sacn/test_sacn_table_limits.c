/* Floods: what gets a place in the table, what gives way, how much memory it takes, and what happens without memory. Limits and
 * who gives way: rigcall/sacn_receive.h; that a receiver declares them: ANSI E1.31-2018 6.2.3.5. Octets are counted at malloc(). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "rigcall/sacn_receive.h"
#include "sacn/table_rig.h"

/* ---- memory that is counted, and runs out on demand ---- */

#define HEAD 16                      /* octets before each block: its size */
static size_t taken, peak;
static long left = -1;               /* allocations that still succeed; below 0: all */

void *__real_calloc(size_t count, size_t size);
void __real_free(void *block);
void *__wrap_calloc(size_t count, size_t size);
void __wrap_free(void *block);

void *__wrap_calloc(size_t count, size_t size)
{
    if (left == 0)
        return NULL;
    left -= left > 0;
    size_t octets = count * size;
    char *block = __real_calloc(1, HEAD + octets);
    if (!block)
        return NULL;
    memcpy(block, &octets, sizeof octets);
    taken += octets;
    peak = taken > peak ? taken : peak;
    return block + HEAD;
}

void __wrap_free(void *block)
{
    size_t octets;
    if (!block)
        return;
    memcpy(&octets, (char *)block - HEAD, sizeof octets);
    taken -= octets;
    __real_free((char *)block - HEAD);
}

/* Other ways to memory would escape the count: the table uses none. */
void *__wrap_malloc(size_t size);
void *__wrap_realloc(void *block, size_t size);
void *__wrap_malloc(size_t size) { return __wrap_calloc(1, size); }
void *__wrap_realloc(void *block, size_t size)
{
    (void)block;
    (void)size;
    abort();
}

static struct sacn_table *table;

static void make(struct sacn_table_limits limits)
{
    taken = peak = 0;
    assert_int_equal(sacn_table_new(&limits, &table, NULL), 0);
}

static int free_table(void **state)
{
    (void)state;
    left = -1;
    sacn_table_free(table);
    table = NULL;
    return taken == 0 ? 0 : -1;
}

static uint32_t random_state;
static uint32_t below(uint32_t limit)
{
    random_state = random_state * 1664525u + 1013904223u;
    return (uint32_t)((uint64_t)(random_state >> 4) * limit >> 28);
}

static void announce(int64_t ms, int number, int host, size_t page)
{
    static const uint16_t universes[] = { 1, 2, 3 };
    uint8_t packet[SACN_DISCOVERY_SIZE];
    struct sacn_source source = source_of(number, NULL);
    union sacn_address from = host_address(host);
    size_t length = sacn_discovery_page(packet, &source, universes, 3, 0);
    packet[118] = (uint8_t)page;
    packet[119] = 3;
    sacn_table_take(table, ms * MS, packet, length, &from);
}

/* One datagram of anything, from few or many. */
static void flood(int64_t ms, uint32_t many)
{
    int number = (int)below(many), host = 1 + (int)below(9);
    switch (below(8)) {
    case 0:
        tell_sync(table, ms, number, (uint16_t)(1 + below(many)), (uint8_t)below(256));
        break;
    case 1:
        announce(ms, number, host, below(4));
        break;
    default:
        TELL(table, ms, .source = number, .universe = (uint16_t)(1 + below(many)), .sequence = (uint8_t)below(256),
             .priority = 1 + (int)below(200), .sync = (uint16_t)(below(2) * (1 + below(many))), .level = (uint8_t)below(256),
             .preview = below(8) == 0, .terminated = below(8) == 0, .force_sync = below(2), .slots = (int)below(513),
             .start_code = (uint8_t)(below(8) == 0), .host = host, .name = below(2) ? "one" : "another");
    }
}

/* ---- memory ---- */

static void a_flood_stays_below_the_bound(void **state)
{
    (void)state;
    static const struct sacn_table_limits shapes[] = {
        { 1, 1, 1, 1 }, { 2, 3, 2, 1 }, { 5, 40, 16, 2 }, { 40, 40, 3, 4 }, { 300, 100, 4, 9 }, { 3, 700, 256, 3 }
    };
    for (size_t shape = 0; shape < sizeof shapes / sizeof *shapes; shape++) {
        size_t bound = sacn_table_bound(&shapes[shape]);
        int64_t ms = 0;
        random_state = (uint32_t)shape;
        make(shapes[shape]);
        for (int i = 0; i < 20000; i++) {
            ms += below(4) == 0 ? below(40) : 0;
            ms += below(2000) == 0 ? 70000 : 0;
            flood(ms, i % 2000 < 1000 ? 12 : 2000);
            if (taken > bound)
                fail_msg("shape %zu: %zu octets after %d datagrams, the bound is %zu", shape, taken, i + 1, bound);
        }
        assert_in_range(peak, 1, bound);
        assert_int_equal(free_table(NULL), 0);
    }
}

/* The bound is not only true but near: a table whose every place is taken takes 98 % of it and more. */
static void a_full_table_takes_what_the_bound_says(void **state)
{
    (void)state;
    size_t bound = sacn_table_bound(NULL);
    make((struct sacn_table_limits){ 0, 0, 0, 0 });
    for (int i = 0; i < 16384; i++)
        TELL(table, 0, .source = i, .universe = (uint16_t)(1 + i % 8192), .sync = (uint16_t)(1 + i % 8192),
             .host = i / 2 % 2 ? 101 : 1);
    for (int i = 0; i < 256; i++)
        announce(0, i, 1 + i % 2, 0);
    assert_int_equal(sacn_table_counts(table)->turned_away, 0);
    assert_in_range(taken, bound / 100 * 98, bound);
    TELL(table, 1, .source = 20000, .universe = 1, .priority = 150);        /* a newcomer in a full table: one goes */
    assert_in_range(peak, bound / 100 * 98, bound);
    struct sacn_heard heard = hear(table, 1, 1);
    assert_int_equal(heard.source_count, 2);
    assert_int_equal(heard.priority, 150);
}

static void limits_have_defaults_and_most(void **state)
{
    (void)state;
    const struct sacn_table_limits standard = { 8192, 16384, 16, 256 }, wild = { UINT32_MAX, UINT32_MAX, UINT32_MAX, UINT32_MAX };
    const struct sacn_table_limits most = { 63999, 1u << 20, 256, 4096 };
    assert_int_equal(sacn_table_bound(NULL), sacn_table_bound(&standard));
    assert_int_equal(sacn_table_bound(&wild), sacn_table_bound(&most));
}

/* ---- who gives way ---- */

/* New CIDs from one host at the priority of the rig: half of the places of the universe, no living source goes. */
static void a_flood_of_identifiers_pushes_nobody_out(void **state)
{
    (void)state;
    make((struct sacn_table_limits){ .sources_a_universe = 6 });
    TELL(table, 0, .source = 1, .sequence = 1, .level = 10);
    for (int i = 0; i < 1000; i++)
        TELL(table, 1, .source = 1000 + i, .host = 99, .level = 5);
    struct sacn_heard heard = hear(table, 1, 1);
    assert_int_equal(heard.source_count, 4);
    assert_int_equal(heard.turned_away, 997);
    assert_int_equal(sacn_table_counts(table)->turned_away, 997);
    for (int host = 2; host < 200; host++)             /* and from many hosts: until it is full */
        TELL(table, 2, .source = 2000 + host, .host = host, .priority = 90);
    heard = hear(table, 2, 1);
    assert_int_equal(heard.source_count, 6);
    assert_int_equal(source_in(&heard, 1)->packets, 1);
    assert_true(source_in(&heard, 1)->wins);
    TELL(table, 3, .source = 1, .sequence = 2, .level = 20);
    heard = hear(table, 3, 1);
    assert_int_equal(source_in(&heard, 1)->packets, 2);
}

/* A higher priority wins a full universe: the lowest gives way, preview and levels that never came below all, then the youngest. */
static void a_higher_priority_finds_a_place(void **state)
{
    (void)state;
    make((struct sacn_table_limits){ .sources_a_universe = 4 });
    TELL(table, 0, .source = 1, .priority = 100, .level = 1);
    TELL(table, 1, .source = 2, .priority = 90, .level = 2);
    TELL(table, 2, .source = 3, .priority = 90, .level = 3);
    TELL(table, 3, .source = 4, .priority = 200, .level = 4, .preview = true);
    TELL(table, 4, .source = 5, .priority = -1, .level = 5);           /* for the preview */
    TELL(table, 5, .source = 6, .priority = -1, .level = 6);           /* for nobody: 0 is not above 0 */
    TELL(table, 5, .source = 7, .priority = 200, .preview = true);
    TELL(table, 5, .source = 8, .priority = 200, .start_code = 0xdd);
    struct sacn_heard heard = hear(table, 5, 1);
    assert_int_equal(heard.source_count, 4);
    assert_non_null(source_in(&heard, 5));
    assert_int_equal(heard.turned_away, 3);
    TELL(table, 6, .source = 6, .priority = 95, .level = 6);           /* for source 5 at 0 */
    TELL(table, 7, .source = 9, .priority = 94, .level = 9);           /* for source 3: 90 and younger than source 2 */
    TELL(table, 8, .source = 10, .priority = 150, .level = 10);        /* for source 2 */
    heard = hear(table, 8, 1);
    assert_int_equal(heard.source_count, 4);
    assert_true(source_in(&heard, 1) && source_in(&heard, 6) && source_in(&heard, 9) && source_in(&heard, 10));
    assert_int_equal(heard.levels[0], 10);
}

/* Beyond its half a host pushes out only its own. */
static void a_host_at_its_half_replaces_its_own(void **state)
{
    (void)state;
    make((struct sacn_table_limits){ .sources_a_universe = 4 });
    TELL(table, 0, .source = 1, .host = 1, .priority = 50, .level = 1);
    TELL(table, 1, .source = 2, .host = 9, .priority = 60, .level = 2);
    TELL(table, 2, .source = 3, .host = 9, .priority = 70, .level = 3);
    TELL(table, 3, .source = 4, .host = 9, .priority = 60, .level = 4);
    struct sacn_heard heard = hear(table, 3, 1);
    assert_int_equal(heard.source_count, 3);
    assert_null(source_in(&heard, 4));
    TELL(table, 4, .source = 5, .host = 9, .priority = 200, .level = 5);
    heard = hear(table, 4, 1);
    assert_int_equal(heard.source_count, 3);
    assert_true(source_in(&heard, 1) && source_in(&heard, 3) && source_in(&heard, 5));
}

static void ended_sources_give_way_first(void **state)
{
    (void)state;
    make((struct sacn_table_limits){ .sources_a_universe = 4 });
    for (int i = 1; i <= 4; i++)
        TELL(table, i, .source = i, .sequence = 1, .priority = 100 - i);
    TELL(table, 10, .source = 2, .sequence = 2, .terminated = true);
    TELL(table, 11, .source = 1, .sequence = 2, .terminated = true);
    TELL(table, 12, .source = 5, .sequence = 1, .priority = 1);        /* for source 2, that ended first */
    struct sacn_heard heard = hear(table, 12, 1);
    assert_int_equal(heard.source_count, 4);
    assert_null(source_in(&heard, 2));
    TELL(table, 13, .source = 2, .sequence = 3, .priority = 1);        /* for source 1 */
    TELL(table, 14, .source = 6, .sequence = 1, .priority = 1);
    heard = hear(table, 14, 1);
    assert_null(source_in(&heard, 1));
    assert_non_null(source_in(&heard, 2));
    assert_int_equal(heard.turned_away, 1);
    TELL(table, 15, .source = 5, .sequence = 2, .terminated = true);   /* one that ended comes back to its own place */
    TELL(table, 16, .source = 5, .sequence = 3);
    heard = hear(table, 16, 1);
    assert_int_equal(source_in(&heard, 5)->packets, 3);
}

/* An end does not make room for more living sources than a host may have: coming back is asked for as well. */
static void coming_back_is_bounded_too(void **state)
{
    (void)state;
    make((struct sacn_table_limits){ .sources_a_universe = 8 });
    for (int i = 0; i < 8; i++) {
        TELL(table, i, .source = 1 + i, .host = 9, .sequence = 1);
        TELL(table, i, .source = 1 + i, .host = 9, .sequence = 2, .terminated = true);
    }
    for (int i = 0; i < 8; i++)
        TELL(table, 10, .source = 1 + i, .host = 9, .sequence = 3);
    struct sacn_heard heard = hear(table, 10, 1);
    int living = 0;
    for (uint32_t i = 0; i < heard.source_count; i++)
        living += heard.sources[i]->state == SACN_LIVE;
    assert_int_equal(heard.source_count, 8);
    assert_int_equal(living, 4);
    assert_int_equal(heard.turned_away, 4);
}

/* One host that sends every universe has half of them; universes where nobody lives give way, the one idle longest first. */
static void a_flood_of_universes_leaves_place_for_others(void **state)
{
    (void)state;
    const uint16_t *universes;
    struct sacn_heard heard;
    make((struct sacn_table_limits){ .universes = 20 });
    for (int i = 0; i < 1000; i++)
        TELL(table, 0, .source = 1, .host = 99, .universe = (uint16_t)(100 + i));
    assert_int_equal(sacn_table_universes(table, &universes), 10);
    for (int i = 0; i < 10; i++)
        TELL(table, 1, .source = 2, .host = 1, .universe = (uint16_t)(1 + i));
    assert_int_equal(sacn_table_universes(table, &universes), 20);
    TELL(table, 2, .source = 3, .host = 2, .universe = 50);
    assert_false(sacn_table_universe(table, 50, &heard));
    TELL(table, 3, .source = 2, .host = 1, .universe = 4, .sequence = 1, .terminated = true);
    TELL(table, 4, .source = 2, .host = 1, .universe = 3, .sequence = 1, .terminated = true);
    TELL(table, 5, .source = 3, .host = 2, .universe = 50);
    assert_true(sacn_table_universe(table, 50, &heard));
    assert_true(sacn_table_universe(table, 3, &heard));
    assert_false(sacn_table_universe(table, 4, &heard));
    assert_int_equal(sacn_table_counts(table)->turned_away, 990 + 1);
}

/* The same for sources over all universes, and the oldest end of the table gives way. */
static void a_flood_of_sources_leaves_place_for_others(void **state)
{
    (void)state;
    struct sacn_heard heard;
    make((struct sacn_table_limits){ .universes = 100, .sources = 20, .sources_a_universe = 16 });
    for (int i = 0; i < 40; i++)
        TELL(table, 0, .source = 100 + i, .host = 99, .universe = (uint16_t)(100 + i % 10));
    for (int i = 0; i < 10; i++)
        TELL(table, 1, .source = 2 + i % 2, .host = 1 + i % 2, .universe = (uint16_t)(1 + i / 2));
    assert_int_equal(sacn_table_counts(table)->turned_away, 30);
    TELL(table, 2, .source = 4, .host = 3, .universe = 50);
    assert_false(sacn_table_universe(table, 50, &heard));
    TELL(table, 3, .source = 4, .host = 3, .universe = 1, .priority = 150);  /* above those of its own universe */
    heard = hear(table, 3, 1);
    assert_int_equal(heard.source_count, 2);
    assert_int_equal(heard.priority, 150);
    TELL(table, 4, .source = 2, .host = 1, .universe = 5, .sequence = 1, .terminated = true);
    TELL(table, 5, .source = 4, .host = 3, .universe = 50);
    assert_true(sacn_table_universe(table, 50, &heard));
    heard = hear(table, 5, 5);
    assert_int_equal(heard.source_count, 1);
}

/* A source that changes its name or address with every packet stays one source. */
static void a_flood_of_names_is_one_source(void **state)
{
    (void)state;
    char name[16];
    make((struct sacn_table_limits){ .universes = 4 });
    size_t before = 0;
    for (int i = 0; i < 1000; i++) {
        snprintf(name, sizeof name, "name %d", i);
        TELL(table, i, .source = 1, .sequence = (uint8_t)i, .name = name, .host = 1 + i % 3);
        before = i == 0 ? taken : before;
        assert_int_equal(taken, before);
    }
    struct sacn_heard heard = hear(table, 999, 1);
    assert_int_equal(heard.source_count, 1);
    assert_int_equal(heard.sources[0]->name_changes, 999);
    assert_int_equal(heard.sources[0]->address_changes, 999);
}

/* ---- without memory ---- */

static void a_table_without_memory_is_refused(void **state)
{
    (void)state;
    struct rig_why why;
    int error = RIG_ENOMEM;
    long successes = 0;
    taken = 0;
    for (; error; successes++) {
        left = successes;
        error = sacn_table_new(NULL, &table, &why);
        left = -1;
        if (error) {
            assert_int_equal(error, RIG_ENOMEM);
            assert_null(table);
            assert_string_equal(why.text, "no memory for a table of 8192 universes and 16384 sources");
            assert_int_equal(taken, 0);
        }
    }
    assert_in_range(successes, 4, 20);
}

/* Whatever allocation fails, the datagram is turned away or acts without what was to be remembered; the next one is taken. */
static void a_datagram_without_memory_is_turned_away(void **state)
{
    (void)state;
    int failed = 0;
    for (long successes = 0; successes < 30; successes++) {
        make((struct sacn_table_limits){ .universes = 4, .sources = 8, .sources_a_universe = 2, .announcers = 2 });
        left = successes;
        random_state = 7;
        for (int i = 0; i < 300; i++)
            flood(i, 6);
        failed += left == 0;
        left = -1;
        TELL(table, 100000, .source = 1, .sequence = 1, .sync = 9, .level = 42);
        tell_sync(table, 100000, 1, 9, 1);
        announce(100000, 1, 1, 0);
        struct sacn_heard heard = hear(table, 100000, 1);
        const struct sacn_announcer *announcers;
        assert_int_equal(heard.levels[0], 42);
        assert_int_equal(heard.sync, SACN_SYNCED);
        assert_int_equal(sacn_table_announcers(table, &announcers), 1);
        assert_int_equal(free_table(NULL), 0);
    }
    assert_in_range(failed, 10, 30);
}

/* Without memory for its address, data is not held. */
static void synchronisation_without_memory_acts_at_once(void **state)
{
    (void)state;
    make((struct sacn_table_limits){ 0, 0, 0, 0 });
    left = 2;                                          /* the source and its universe */
    TELL(table, 0, .source = 1, .sequence = 1, .sync = 9, .level = 10);
    tell_sync(table, 1, 1, 9, 1);
    TELL(table, 2, .source = 1, .sequence = 2, .sync = 9, .level = 20);
    struct sacn_heard heard = hear(table, 2, 1);
    assert_int_equal(heard.levels[0], 20);
    assert_int_equal(heard.sync, SACN_FREE);
    assert_int_equal(heard.sources[0]->sync_address, 9);
}

#define TEST(name) cmocka_unit_test_teardown(name, free_table)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_flood_stays_below_the_bound),
        TEST(a_full_table_takes_what_the_bound_says),
        TEST(limits_have_defaults_and_most),
        TEST(a_flood_of_identifiers_pushes_nobody_out),
        TEST(a_higher_priority_finds_a_place),
        TEST(a_host_at_its_half_replaces_its_own),
        TEST(ended_sources_give_way_first),
        TEST(coming_back_is_bounded_too),
        TEST(a_flood_of_universes_leaves_place_for_others),
        TEST(a_flood_of_sources_leaves_place_for_others),
        TEST(a_flood_of_names_is_one_source),
        TEST(a_table_without_memory_is_refused),
        TEST(a_datagram_without_memory_is_turned_away),
        TEST(synchronisation_without_memory_acts_at_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
