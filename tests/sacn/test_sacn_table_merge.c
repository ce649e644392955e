/* Who wins a universe and what results: arbitration by priority and merging of equals (ANSI E1.31-2018 6.2.3), preview data
 * (6.2.6) and alternate START codes (7.7). Levels are worked out by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "rigcall/sacn_receive.h"
#include "sacn/table_rig.h"
#include "sacn/table_test.h"

static void the_highest_priority_wins(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 1, .level = 200, .priority = 100);
    TELL(table, 0, .source = 2, .sequence = 1, .level = 30, .priority = 101);
    TELL(table, 0, .source = 3, .sequence = 1, .level = 255, .priority = -1);
    struct sacn_heard heard = hear(table, 1, 1);
    assert_int_equal(heard.winners, 1);
    assert_int_equal(heard.priority, 101);
    assert_levels(heard.levels, 1, 512, 30);
    assert_int_equal(heard.sources[0]->priority, 101);
    assert_int_equal(heard.sources[1]->priority, 100);
    assert_int_equal(heard.sources[2]->priority, 0);
    assert_true(heard.sources[0]->wins && !heard.sources[1]->wins && !heard.sources[2]->wins);
    TELL(table, 2, .source = 2, .sequence = 2, .terminated = true);
    heard = hear(table, 2, 1);
    assert_int_equal(heard.priority, 100);
    assert_levels(heard.levels, 1, 512, 200);
    TELL(table, 3, .source = 1, .sequence = 2, .terminated = true);
    heard = hear(table, 3, 1);
    assert_int_equal(heard.priority, 0);               /* of a winner: the lowest usable priority wins too */
    assert_int_equal(heard.winners, 1);
    assert_levels(heard.levels, 1, 512, 255);
}

static void a_change_of_priority_is_followed(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 1, .level = 1, .priority = 100);
    TELL(table, 0, .source = 2, .sequence = 1, .level = 2, .priority = 90);
    TELL(table, 1, .source = 2, .sequence = 2, .level = 2, .priority = 110);
    struct sacn_heard heard = hear(table, 1, 1);
    assert_levels(heard.levels, 1, 512, 2);
    assert_int_equal(source_in(&heard, 2)->priority_changes, 1);
    TELL(table, 2, .source = 2, .sequence = 3, .level = 2, .priority = 80);
    heard = hear(table, 2, 1);
    assert_levels(heard.levels, 1, 512, 1);
}

/* Highest takes precedence, slot by slot; what a source does not send counts as 0. */
static void equals_are_merged_slot_by_slot(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 1, .level = 40);
    TELL(table, 0, .source = 2, .sequence = 1, .level = 90, .slots = 10);
    TELL(table, 0, .source = 3, .sequence = 1, .level = 255, .priority = 99);
    TELL(table, 0, .source = 4, .sequence = 1, .slots = -1);
    struct sacn_heard heard = hear(table, 1, 1);
    assert_int_equal(heard.winners, 3);
    assert_levels(heard.levels, 1, 10, 90);
    assert_levels(heard.levels, 11, 512, 40);
    TELL(table, 2, .source = 2, .sequence = 2, .level = 90, .slots = 4);    /* fewer: the rest goes */
    TELL(table, 2, .source = 1, .sequence = 2, .level = 100, .slots = 2);
    heard = hear(table, 2, 1);
    assert_levels(heard.levels, 1, 2, 100);
    assert_levels(heard.levels, 3, 4, 90);
    assert_levels(heard.levels, 5, 512, 0);
}

/* 6.2.6: preview data is not for live output, at any priority. */
static void preview_data_never_wins(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 1, .level = 10, .preview = true, .priority = 200);
    struct sacn_heard heard = hear(table, 0, 1);
    assert_int_equal(heard.winners, 0);
    assert_levels(heard.levels, 1, 512, 0);
    TELL(table, 0, .source = 2, .sequence = 1, .level = 20, .priority = 100);
    TELL(table, 0, .source = 3, .sequence = 1, .level = 30, .preview = true, .priority = 100);
    heard = hear(table, 1, 1);
    assert_int_equal(heard.winners, 1);
    assert_levels(heard.levels, 1, 512, 20);
    TELL(table, 2, .source = 2, .sequence = 2, .level = 99, .preview = true, .priority = 100);
    heard = hear(table, 2, 1);
    assert_int_equal(heard.winners, 0);
    assert_levels(heard.levels, 1, 512, 20);           /* the last look */
    TELL(table, 3, .source = 1, .sequence = 2, .level = 11, .priority = 200);
    heard = hear(table, 3, 1);
    assert_levels(heard.levels, 1, 512, 11);
}

/* 7.7: no levels, so nothing to win with; but the source is heard. */
static void other_start_codes_are_counted_and_not_merged(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 1, .level = 10, .start_code = 0xdd, .priority = 200);
    TELL(table, 0, .source = 2, .sequence = 1, .level = 20);
    struct sacn_heard heard = hear(table, 0, 1);
    assert_int_equal(heard.source_count, 2);
    assert_int_equal(heard.winners, 1);
    assert_levels(heard.levels, 1, 512, 20);
    TELL(table, 2000, .source = 1, .sequence = 2, .start_code = 0xdd, .priority = 200);
    TELL(table, 2000, .source = 2, .sequence = 2, .start_code = 0xdd, .level = 99);
    heard = hear(table, 4499, 1);
    assert_int_equal(source_in(&heard, 2)->state, SACN_LIVE);
    assert_levels(heard.levels, 1, 512, 20);
    assert_int_equal(source_in(&heard, 2)->packets, 1);
    assert_int_equal(source_in(&heard, 1)->other_start_codes, 2);
    TELL(table, 4499, .source = 2, .sequence = 3, .start_code = 0xdd, .terminated = true);
    heard = hear(table, 4499, 1);
    assert_int_equal(source_in(&heard, 2)->state, SACN_TERMINATED);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_table, free_table)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(the_highest_priority_wins),
        TEST(a_change_of_priority_is_followed),
        TEST(equals_are_merged_slot_by_slot),
        TEST(preview_data_never_wins),
        TEST(other_start_codes_are_counted_and_not_merged),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
