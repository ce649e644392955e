/* Synchronisation in the table of what is heard (ANSI E1.31-2018 6.2.4, 6.2.6, 6.3.3, 11). The clauses are known here from public
 * texts that follow the standard one by one; what they leave open is decided in rigcall/sacn_receive.h. */
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
#include "sacn/table_test.h"

/* What universe 1, or another one, shows in every slot. */
static void assert_shows(int64_t ms, uint16_t universe, uint8_t level, enum sacn_sync_state sync, bool held)
{
    struct sacn_heard heard = hear(table, ms, universe);
    for (int slot = 0; slot < SACN_SLOTS; slot++)
        assert_int_equal(heard.levels[slot], level);
    assert_int_equal(heard.sync, sync);
    assert_int_equal(heard.held, held);
}

/* 6.2.4.1, 11.1.1: data acts at once until the first synchronisation packet of its address came. */
static void data_acts_at_once_before_the_first_packet(void **state)
{
    (void)state;
    tell_sync(table, 0, 1, 7001, 1);                   /* nobody names the address yet: not remembered */
    TELL(table, 1, .source = 1, .sequence = 1, .sync = 7001, .level = 10);
    assert_shows(1, 1, 10, SACN_FREE, false);
    TELL(table, 2, .source = 1, .sequence = 2, .sync = 7001, .level = 20);
    assert_shows(2, 1, 20, SACN_FREE, false);
    tell_sync(table, 3, 1, 7002, 1);                   /* another address */
    TELL(table, 4, .source = 1, .sequence = 3, .sync = 7001, .level = 30);
    assert_shows(4, 1, 30, SACN_FREE, false);
    tell_sync(table, 5, 1, 7001, 2);
    assert_shows(5, 1, 30, SACN_SYNCED, false);
    TELL(table, 6, .source = 1, .sequence = 4, .sync = 7001, .level = 40);
    assert_shows(6, 1, 30, SACN_SYNCED, true);
    assert_int_equal(sacn_table_counts(table)->sync, 3);
}

/* 6.2.4.1: held until the packet of its address; the newest data is what is released (11.2.1). */
static void data_is_held_until_its_packet(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 1, .sync = 9, .level = 10);
    tell_sync(table, 1, 1, 9, 1);
    TELL(table, 2, .source = 1, .sequence = 2, .sync = 9, .level = 20);
    TELL(table, 3, .source = 1, .sequence = 3, .sync = 9, .level = 30, .slots = 100);
    tell_sync(table, 4, 1, 8, 2);
    assert_shows(4, 1, 10, SACN_SYNCED, true);
    tell_sync(table, 5, 1, 9, 2);
    struct sacn_heard heard = hear(table, 5, 1);
    assert_int_equal(heard.levels[99], 30);
    assert_int_equal(heard.levels[100], 0);
    assert_false(heard.held);
    tell_sync(table, 6, 1, 9, 3);                      /* nothing waits: nothing changes */
    heard = hear(table, 6, 1);
    assert_int_equal(heard.levels[99], 30);
}

static void all_universes_of_an_address_change_at_once(void **state)
{
    (void)state;
    for (uint8_t frame = 1; frame < 4; frame++) {
        for (uint16_t universe = 1; universe <= 40; universe++)
            TELL(table, frame * 100, .source = 1, .universe = universe, .sequence = frame, .sync = universe > 30 ? 78 : 77,
                 .level = (uint8_t)(10 * frame));
        for (uint16_t universe = 1; universe <= 40; universe++)
            assert_shows(frame * 100, universe, (uint8_t)(frame == 1 ? 10 : 10 * (frame - 1)),
                         frame == 1 ? SACN_FREE : SACN_SYNCED, frame > 1);
        tell_sync(table, frame * 100 + 1, 1, 77, frame);
        for (uint16_t universe = 1; universe <= 30; universe++)
            assert_shows(frame * 100 + 1, universe, (uint8_t)(10 * frame), SACN_SYNCED, false);
        tell_sync(table, frame * 100 + 1, 1, 78, frame);
        assert_shows(frame * 100 + 1, 40, (uint8_t)(10 * frame), SACN_SYNCED, false);
    }
}

/* 6.2.4.1: data without an address drops what waits and acts at once. */
static void data_without_an_address_drops_what_waits(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 1, .sync = 9, .level = 10);
    tell_sync(table, 1, 1, 9, 1);
    TELL(table, 2, .source = 1, .sequence = 2, .sync = 9, .level = 20);
    TELL(table, 3, .source = 1, .sequence = 3, .level = 30);
    assert_shows(3, 1, 30, SACN_FREE, false);
    tell_sync(table, 4, 1, 9, 2);
    assert_shows(4, 1, 30, SACN_FREE, false);
}

/* 11.1.2, 6.2.6: with Force_Synchronization 0 the last look stays until packets come again. */
static void lost_synchronisation_holds_the_last_look(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 1, .sync = 9, .level = 10);
    tell_sync(table, 1000, 1, 9, 1);
    for (int i = 1; i < 5; i++)
        TELL(table, 1000 * i, .source = 1, .sequence = (uint8_t)(1 + i), .sync = 9, .level = (uint8_t)(10 + i));
    assert_shows(4000, 1, 10, SACN_SYNC_LOST, true);
    TELL(table, 4100, .source = 1, .sequence = 7, .sync = 9, .level = 77);
    assert_shows(4100, 1, 10, SACN_SYNC_LOST, true);
    tell_sync(table, 4200, 1, 9, 1);                   /* silent for 2.5 s: any number */
    assert_shows(4200, 1, 77, SACN_SYNCED, false);
}

/* The moment: 2.5 s after the last packet, not before. With Force_Synchronization 1 what waits acts then, and the rest at once. */
static void lost_synchronisation_lets_forced_data_go(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 1, .sync = 9, .level = 10, .force_sync = true);
    tell_sync(table, 1000, 1, 9, 1);
    TELL(table, 2000, .source = 1, .sequence = 2, .sync = 9, .level = 20, .force_sync = true);
    assert_shows(3499, 1, 10, SACN_SYNCED, true);
    assert_shows(3500, 1, 20, SACN_SYNC_LOST, false);
    TELL(table, 3600, .source = 1, .sequence = 3, .sync = 9, .level = 30, .force_sync = true);
    assert_shows(3600, 1, 30, SACN_SYNC_LOST, false);
    TELL(table, 3700, .source = 1, .sequence = 4, .sync = 9, .level = 40, .force_sync = false);
    assert_shows(3700, 1, 30, SACN_SYNC_LOST, true);
    tell_sync(table, 3800, 1, 9, 2);
    assert_shows(3800, 1, 40, SACN_SYNCED, false);
}

/* 6.7.2: numbers of synchronisation packets are counted apart from data, and for each sender. */
static void packets_are_judged_by_their_own_numbers(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .universe = 9, .sequence = 200, .sync = 9, .level = 1);
    tell_sync(table, 1, 1, 9, 50);
    TELL(table, 2, .source = 1, .universe = 9, .sequence = 201, .sync = 9, .level = 2);
    tell_sync(table, 3, 1, 9, 50);                     /* repeated */
    tell_sync(table, 3, 1, 9, 40);                     /* late */
    assert_shows(3, 9, 1, SACN_SYNCED, true);
    tell_sync(table, 4, 2, 9, 40);                     /* another sender */
    assert_shows(4, 9, 2, SACN_SYNCED, false);
    TELL(table, 5, .source = 1, .universe = 9, .sequence = 202, .sync = 9, .level = 3);
    tell_sync(table, 6, 1, 9, 30);                     /* 20 back: a restart */
    assert_shows(6, 9, 3, SACN_SYNCED, false);
    for (int i = 0; i < 5; i++)
        tell_sync(table, 100 + 500 * i, 1, 9, 30);     /* discarded packets do not keep synchronisation alive */
    TELL(table, 2504, .source = 1, .universe = 9, .sequence = 203, .sync = 9, .level = 4);
    assert_shows(2505, 9, 3, SACN_SYNCED, true);
    assert_shows(2506, 9, 3, SACN_SYNC_LOST, true);
}

/* A sender that was silent for 2.5 s begins anew, at that moment and not before. */
static void a_silent_sender_begins_anew(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 1, .sync = 9, .level = 10);
    tell_sync(table, 0, 2, 9, 7);
    tell_sync(table, 1000, 3, 9, 7);
    TELL(table, 2000, .source = 1, .sequence = 2, .sync = 9, .level = 20);
    tell_sync(table, 2499, 2, 9, 7);                   /* repeated */
    assert_shows(2499, 1, 10, SACN_SYNCED, true);
    tell_sync(table, 2500, 2, 9, 7);
    assert_shows(2500, 1, 20, SACN_SYNCED, false);
}

/* Four senders have a place, two of one host; the silent give way. */
static void senders_are_bounded(void **state)
{
    (void)state;
    uint8_t packet[SACN_SYNC_SIZE];
    union sacn_address flood = host_address(99);
    TELL(table, 0, .source = 1, .sequence = 1, .sync = 9, .level = 10);
    for (int i = 0; i < 10; i++) {
        struct sacn_source source = source_of(1000 + i, NULL);
        sacn_sync_init(packet, &source, 9);
        sacn_table_take(table, i * MS, packet, sizeof packet, &flood);
    }
    assert_int_equal(sacn_table_counts(table)->turned_away, 8);
    tell_sync(table, 20, 3, 9, 1);
    TELL(table, 20, .source = 1, .sequence = 2, .sync = 9, .level = 20);
    tell_sync(table, 21, 4, 9, 1);
    assert_shows(21, 1, 20, SACN_SYNCED, false);
    TELL(table, 22, .source = 1, .sequence = 3, .sync = 9, .level = 30);
    tell_sync(table, 23, 5, 9, 1);                     /* the fifth */
    assert_shows(23, 1, 20, SACN_SYNCED, true);
    assert_int_equal(sacn_table_counts(table)->turned_away, 9);
    tell_sync(table, 2501, 5, 9, 2);                   /* the first two have been silent for 2.5 s */
    assert_shows(2501, 1, 30, SACN_SYNCED, false);
}

/* What waits ends with its source: the last look is what was output. */
static void what_waits_ends_with_its_source(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 1, .sync = 9, .level = 10);
    tell_sync(table, 1, 1, 9, 1);
    TELL(table, 2, .source = 1, .sequence = 2, .sync = 9, .level = 20);
    TELL(table, 3, .source = 1, .sequence = 3, .sync = 9, .level = 30, .terminated = true);
    assert_shows(3, 1, 10, SACN_FREE, false);
    tell_sync(table, 4, 1, 9, 2);
    assert_shows(4, 1, 10, SACN_FREE, false);
    TELL(table, 5, .source = 1, .sequence = 4, .sync = 9, .level = 40);
    assert_shows(5, 1, 10, SACN_SYNCED, true);         /* it waits again: its address was watched all the time */
    tell_sync(table, 6, 1, 9, 3);
    assert_shows(6, 1, 40, SACN_SYNCED, false);
}

/* A source whose first levels wait does not win before they act, whatever its priority; a known one changes its priority at
 * once. */
static void priority_acts_at_once_and_levels_when_released(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 1, .sync = 9, .level = 10);
    tell_sync(table, 1, 1, 9, 1);
    TELL(table, 2, .source = 2, .sequence = 1, .sync = 9, .level = 50, .priority = 150);
    struct sacn_heard heard = hear(table, 2, 1);
    assert_int_equal(heard.priority, 100);
    assert_true(heard.held);
    assert_shows(2, 1, 10, SACN_SYNCED, true);
    tell_sync(table, 3, 1, 9, 2);
    assert_shows(3, 1, 50, SACN_SYNCED, false);
    TELL(table, 4, .source = 1, .sequence = 2, .sync = 9, .level = 20, .priority = 160);
    assert_shows(4, 1, 10, SACN_SYNCED, true);
    heard = hear(table, 4, 1);
    assert_int_equal(heard.priority, 160);
    TELL(table, 5, .source = 2, .sequence = 2, .sync = 9, .level = 60, .priority = 150);
    tell_sync(table, 6, 1, 9, 3);
    assert_shows(6, 1, 20, SACN_SYNCED, false);
    TELL(table, 7, .source = 2, .sequence = 3, .sync = 9, .level = 70, .priority = 150);
    assert_shows(7, 1, 20, SACN_SYNCED, false);        /* only a loser's levels wait */
}

static void preview_data_is_never_released(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 1, .sync = 9, .level = 10);
    tell_sync(table, 1, 1, 9, 1);
    TELL(table, 2, .source = 1, .sequence = 2, .sync = 9, .level = 20, .preview = true);
    tell_sync(table, 3, 1, 9, 2);
    assert_shows(3, 1, 10, SACN_FREE, false);
    TELL(table, 4, .source = 1, .sequence = 3, .sync = 9, .level = 30);
    assert_shows(4, 1, 10, SACN_SYNCED, true);
    tell_sync(table, 5, 1, 9, 3);
    assert_shows(5, 1, 30, SACN_SYNCED, false);
}

/* Merged sources may wait for different addresses, or for none. */
static void equals_are_released_apart(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 1, .sync = 9, .level = 10);
    TELL(table, 0, .source = 2, .sequence = 1, .sync = 8, .level = 5);
    tell_sync(table, 1, 1, 9, 1);
    tell_sync(table, 1, 2, 8, 1);
    TELL(table, 2, .source = 1, .sequence = 2, .sync = 9, .level = 50);
    TELL(table, 2, .source = 2, .sequence = 2, .sync = 8, .level = 70);
    assert_shows(2, 1, 10, SACN_SYNCED, true);
    tell_sync(table, 3, 1, 9, 2);
    assert_shows(3, 1, 50, SACN_SYNCED, true);
    tell_sync(table, 4, 2, 8, 2);
    assert_shows(4, 1, 70, SACN_SYNCED, false);
    TELL(table, 5, .source = 2, .sequence = 3, .sync = 9, .level = 80);
    assert_shows(5, 1, 70, SACN_SYNCED, true);
    tell_sync(table, 6, 1, 9, 3);
    assert_shows(6, 1, 80, SACN_SYNCED, false);
}

/* tests/sacn/samples: data-short names address 7001 with Force_Synchronization, sync.hex is a packet of it. */
static void the_samples_are_synchronised(void **state)
{
    (void)state;
    uint8_t data[SAMPLE_SIZE], sync[SAMPLE_SIZE];
    union sacn_address from = host_address(1);
    size_t data_length = sample_read("data-short", data), sync_length = sample_read("sync", sync);
    assert_int_equal(sync_length, 49);
    sacn_table_take(table, 0, data, data_length, &from);
    sacn_table_take(table, 1, sync, sync_length, &from);
    data[111] = 0;                                     /* the next number after 255 */
    data[126] = 99;
    sacn_table_take(table, 2, data, data_length, &from);
    struct sacn_heard heard = hear(table, 1, 1);
    assert_int_equal(heard.levels[0], 10);
    assert_true(heard.held);
    sync[44]++;
    sacn_table_take(table, 2 * MS, sync, sync_length, &from);
    heard = hear(table, 2, 1);
    assert_int_equal(heard.levels[0], 99);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_table, free_table)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(data_acts_at_once_before_the_first_packet),
        TEST(data_is_held_until_its_packet),
        TEST(all_universes_of_an_address_change_at_once),
        TEST(data_without_an_address_drops_what_waits),
        TEST(lost_synchronisation_holds_the_last_look),
        TEST(lost_synchronisation_lets_forced_data_go),
        TEST(packets_are_judged_by_their_own_numbers),
        TEST(a_silent_sender_begins_anew),
        TEST(senders_are_bounded),
        TEST(what_waits_ends_with_its_source),
        TEST(priority_acts_at_once_and_levels_when_released),
        TEST(preview_data_is_never_released),
        TEST(equals_are_released_apart),
        TEST(the_samples_are_synchronised),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
