/* What every test of the table has: a table with the default limits. Include after cmocka.h. */
#ifndef RIGCALL_TESTS_TABLE_TEST_H
#define RIGCALL_TESTS_TABLE_TEST_H

#include "rigcall/sacn_receive.h"

static struct sacn_table *table;

static int make_table(void **state)
{
    (void)state;
    return sacn_table_new(NULL, &table, NULL);
}

static int free_table(void **state)
{
    (void)state;
    sacn_table_free(table);
    table = NULL;
    return 0;
}

/* Slots from..to, counted from 1. */
static inline void assert_levels(const uint8_t *levels, size_t from, size_t to, uint8_t level)
{
    for (size_t slot = from; slot <= to; slot++)
        if (levels[slot - 1] != level)
            fail_msg("slot %zu is %u, expected %u", slot, levels[slot - 1], level);
}

#endif
