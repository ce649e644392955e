/* Universe discovery in the table of what is heard (ANSI E1.31-2018 4.3, 8, 12). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "rigcall/sacn_receive.h"
#include "sacn/samples.h"
#include "sacn/table_rig.h"

static struct sacn_table *table;

static int make_table(void **state)
{
    (void)state;
    return sacn_table_new(&(struct sacn_table_limits){ .announcers = 8 }, &table, NULL);
}

static int free_table(void **state)
{
    (void)state;
    sacn_table_free(table);
    table = NULL;
    return 0;
}

/* Universes first, first + step, ... */
static void announce(int64_t ms, int source_number, int host, uint16_t first, uint16_t step, size_t count, size_t page)
{
    static uint16_t universes[2048];
    uint8_t packet[SACN_DISCOVERY_SIZE];
    struct sacn_source source = source_of(source_number, NULL);
    union sacn_address from = host_address(host);
    for (size_t i = 0; i < count; i++)
        universes[i] = (uint16_t)(first + i * step);
    size_t length = sacn_discovery_page(packet, &source, universes, count, page);
    assert_int_equal(sacn_table_take(table, ms * MS, packet, length, &from), SACN_ACCEPT);
}

static struct sacn_announcer announcer_at(int64_t ms, size_t count, size_t index)
{
    const struct sacn_announcer *announcers;
    sacn_table_advance(table, ms * MS);
    assert_int_equal(sacn_table_announcers(table, &announcers), count);
    return announcers[index];
}

static void assert_list(int64_t ms, size_t universe_count, bool whole)
{
    struct sacn_announcer announcer = announcer_at(ms, 1, 0);
    size_t announced = 0;
    for (uint32_t universe = 0; universe <= UINT16_MAX; universe++)
        announced += sacn_table_announces(table, 0, (uint16_t)universe);
    assert_int_equal(announcer.universe_count, universe_count);
    assert_int_equal(announced, universe_count);
    assert_int_equal(announcer.whole, whole);
}

static void take_sample(int64_t ms, const char *name)
{
    uint8_t octets[SAMPLE_SIZE];
    union sacn_address from = host_address(1);
    size_t length = sample_read(name, octets);
    assert_int_equal(sacn_table_take(table, ms * MS, octets, length, &from), SACN_ACCEPT);
}

/* tests/sacn/samples/README.md tells the lists. */
static void the_samples_are_collected(void **state)
{
    (void)state;
    static const uint16_t few[] = { 1, 2, 513, 7001, 63999 };
    take_sample(0, "discovery");
    assert_list(0, 5, true);
    for (size_t i = 0; i < 5; i++)
        assert_true(sacn_table_announces(table, 0, few[i]));
    assert_false(sacn_table_announces(table, 0, 3));
    assert_false(sacn_table_announces(table, 1, 1));
    struct sacn_announcer announcer = announcer_at(0, 1, 0);
    assert_string_equal(announcer.name, "rigcall reference");
    assert_int_equal(announcer.cid[0], 0x8f);
    take_sample(10000, "discovery-page1");
    assert_list(10000, 5, true);                       /* the list before stays until the new one is whole */
    take_sample(10001, "discovery-page0");
    assert_list(10001, 600, true);
    assert_true(sacn_table_announces(table, 0, 600) && !sacn_table_announces(table, 0, 601));
    take_sample(20000, "discovery-empty");             /* 12.1 */
    assert_list(20000, 0, true);
    assert_int_equal(sacn_table_counts(table)->discovery, 4);
}

static void what_came_of_a_first_list_is_told(void **state)
{
    (void)state;
    announce(0, 1, 1, 1, 1, 1300, 2);
    assert_list(0, 1300 - 1024, false);
    announce(1, 1, 1, 1, 1, 1300, 0);
    assert_list(1, 1300 - 512, false);
    announce(2, 1, 1, 1, 1, 1300, 1);
    assert_list(2, 1300, true);
}

/* A page that is there already begins the next list; so does another number of pages, and time. */
static void pages_of_different_lists_are_not_mixed(void **state)
{
    (void)state;
    announce(0, 1, 1, 1, 1, 1024, 0);                  /* page 1 is lost */
    announce(10000, 1, 1, 2000, 1, 1024, 0);
    announce(10001, 1, 1, 2000, 1, 1024, 1);
    assert_list(10001, 1024, true);
    assert_true(sacn_table_announces(table, 0, 2000) && !sacn_table_announces(table, 0, 1));
    announce(20000, 1, 1, 5000, 1, 1024, 1);           /* page 0 is lost */
    announce(30000, 1, 1, 9000, 1, 1024, 0);           /* and 10 s later page 1 */
    assert_list(30000, 1024, true);
    assert_true(sacn_table_announces(table, 0, 2000));
    announce(30100, 1, 1, 9000, 1, 512, 0);            /* one page now */
    assert_list(30100, 512, true);
    assert_true(sacn_table_announces(table, 0, 9000) && !sacn_table_announces(table, 0, 2000));
    announce(30200, 1, 1, 100, 1, 600, 0);             /* 600, then 601 universes: both of two pages */
    announce(30300, 1, 1, 100, 1, 601, 0);
    announce(30301, 1, 1, 100, 1, 601, 1);
    assert_list(30301, 601, true);
}

/* Our choice: pages 5 s apart are of two lists. */
static void a_list_does_not_take_five_seconds(void **state)
{
    (void)state;
    announce(0, 1, 1, 1, 1, 600, 0);
    announce(4999, 1, 1, 1, 1, 600, 1);
    assert_list(4999, 600, true);
    announce(10000, 1, 1, 2000, 1, 600, 0);
    announce(15000, 1, 1, 2000, 1, 600, 1);
    assert_list(15000, 600, true);
    assert_false(sacn_table_announces(table, 0, 2000));
    announce(15001, 1, 1, 2000, 1, 600, 0);
    assert_list(15001, 600, true);
    assert_true(sacn_table_announces(table, 0, 2000));
}

/* 12.2: two intervals, and a half for the packet itself. */
static void announcers_are_forgotten(void **state)
{
    (void)state;
    announce(0, 1, 1, 1, 1, 5, 0);
    announce(1000, 2, 2, 1, 1, 6, 0);
    announce(2000, 3, 3, 1, 1, 7, 0);
    announce(10000, 1, 1, 1, 1, 5, 0);
    assert_int_equal(announcer_at(25999, 3, 1).universe_count, 6);
    assert_int_equal(announcer_at(26000, 2, 1).universe_count, 7);
    assert_int_equal(announcer_at(27000, 1, 0).universe_count, 5);
    assert_int_equal(announcer_at(34999, 1, 0).last_ns, 10000 * MS);
    const struct sacn_announcer *announcers;
    sacn_table_advance(table, 35000 * MS);
    assert_int_equal(sacn_table_announcers(table, &announcers), 0);
    assert_false(sacn_table_announces(table, 0, 1));
}

/* A list that was whole once and never again is not believed for ever, though pages come. */
static void an_old_list_is_not_whole_any_more(void **state)
{
    (void)state;
    announce(0, 1, 1, 1, 1, 600, 0);
    announce(1, 1, 1, 1, 1, 600, 1);
    announce(10000, 1, 1, 1, 1, 600, 0);
    announce(20000, 1, 1, 1, 1, 600, 0);
    assert_list(25000, 600, true);
    assert_list(25001, 512, false);
    announce(30000, 1, 1, 1, 1, 600, 0);
    announce(30000, 1, 1, 1, 1, 600, 1);
    assert_list(30000, 600, true);
}

/* A flood of announcers: half of the places for one host, no living one is pushed out. */
static void announcers_are_bounded(void **state)
{
    (void)state;
    announce(0, 1, 1, 1, 1, 3, 0);
    for (int i = 0; i < 100; i++)
        announce(1, 1000 + i, 99, 1, 1, 4, 0);
    assert_int_equal(announcer_at(1, 5, 0).universe_count, 3);
    for (int i = 0; i < 100; i++)
        announce(2, 2000 + i, 98, 1, 1, 4, 0);
    announcer_at(2, 8, 7);
    announce(10000, 1, 1, 1, 1, 2, 0);
    assert_int_equal(announcer_at(10000, 8, 0).universe_count, 2);
    assert_int_equal(sacn_table_counts(table)->turned_away, 96 + 97);
    announce(26000, 2, 2, 1, 1, 9, 0);                 /* the flood is over */
    assert_int_equal(announcer_at(26000, 2, 1).universe_count, 9);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_table, free_table)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(the_samples_are_collected),
        TEST(what_came_of_a_first_list_is_told),
        TEST(pages_of_different_lists_are_not_mixed),
        TEST(a_list_does_not_take_five_seconds),
        TEST(announcers_are_forgotten),
        TEST(an_old_list_is_not_whole_any_more),
        TEST(announcers_are_bounded),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
