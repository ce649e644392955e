/* Rate, jitter and the longest interval of a source, worked out by hand: the arithmetic stands beside each value. */
#include <math.h>
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

static void assert_measured(int64_t ms, double rate_hz, double jitter_ms, double gap_ms)
{
    struct sacn_heard heard = hear(table, ms, 1);
    const struct sacn_heard_source *source = heard.sources[0];
    if (fabs(source->rate_hz - rate_hz) > 1e-9 || fabs(source->jitter_ms - jitter_ms) > 1e-9 ||
        fabs(source->gap_ms - gap_ms) > 1e-9)
        fail_msg("at %lld ms: %.9f Hz, %.9f ms, %.9f ms; expected %.9f, %.9f, %.9f", (long long)ms, source->rate_hz,
                 source->jitter_ms, source->gap_ms, rate_hz, jitter_ms, gap_ms);
}

static void the_rate_is_that_of_the_last_full_second(void **state)
{
    (void)state;
    uint8_t number = 0;
    for (int64_t ms = 0; ms < 1000; ms += 25)
        TELL(table, ms, .source = 1, .sequence = number++);
    assert_measured(999, 0, 0, 25);
    TELL(table, 1000, .source = 1, .sequence = number++);
    assert_measured(1000, 40, 0, 25);                  /* 40 packets after the first in 1.000 s */
    for (int64_t ms = 1040; ms < 2000; ms += 40)
        TELL(table, ms, .source = 1, .sequence = number++);
    assert_measured(1999, 40, hear(table, 1999, 1).sources[0]->jitter_ms, 40);
    TELL(table, 2050, .source = 1, .sequence = number++);        /* 24 up to 1960, and this one: 25 in 1.050 s */
    assert_measured(2050, 25 / 1.05, hear(table, 2050, 1).sources[0]->jitter_ms, 90);
}

/* Intervals of 20, 36, 20 ms. Mean: 20; 20 + 16/16 = 21; 21 - 1/16. Deviations: 16, then 1. Jitter: 16/16 = 1; 1 + (1 - 1)/16 = 1.
 * Then 20.9375 (the mean): deviation 0, jitter 1 - 1/16. */
static void the_jitter_is_the_smoothed_deviation(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 0);
    TELL(table, 20, .source = 1, .sequence = 1);
    assert_measured(20, 0, 0, 20);
    TELL(table, 56, .source = 1, .sequence = 2);
    assert_measured(56, 0, 1, 36);
    TELL(table, 76, .source = 1, .sequence = 3);
    assert_measured(76, 0, 1, 36);
    uint8_t packet[SACN_DATA_SIZE];
    union sacn_address from = host_address(1);
    struct told told = { .source = 1, .sequence = 4 };
    size_t length = told_packet(&told, packet);
    sacn_table_take(table, 76 * MS + 20937500, packet, length, &from);
    assert_measured(97, 0, 0.9375, 36);
}

/* Late, repeated and other packets are no levels; an interval that ended a source is no gap. */
static void only_levels_are_measured(void **state)
{
    (void)state;
    TELL(table, 0, .source = 1, .sequence = 10);
    TELL(table, 10, .source = 1, .sequence = 9);
    TELL(table, 20, .source = 1, .sequence = 11, .start_code = 0xdd);
    TELL(table, 30, .source = 1, .sequence = 10);
    TELL(table, 600, .source = 1, .sequence = 12);
    assert_measured(600, 0, 0, 600);
    TELL(table, 1200, .source = 1, .sequence = 13);
    assert_measured(1200, 2 / 1.2, 0, 600);
    assert_measured(3699, 2 / 1.2, 0, 600);
    assert_measured(3700, 0, 0, 600);                  /* lost */
    TELL(table, 5000, .source = 1, .sequence = 14);
    TELL(table, 5700, .source = 1, .sequence = 15);
    assert_measured(5700, 0, 0, 700);
    TELL(table, 6100, .source = 1, .sequence = 16);    /* mean 700; deviation 300 */
    assert_measured(6100, 2 / 1.1, 300.0 / 16, 700);
    TELL(table, 6200, .source = 1, .sequence = 17, .terminated = true);
    assert_measured(6200, 0, 300.0 / 16, 700);
    TELL(table, 7900, .source = 1, .sequence = 18);
    assert_measured(7900, 0, 300.0 / 16, 700);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, make_table, free_table)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(the_rate_is_that_of_the_last_full_second),
        TEST(the_jitter_is_the_smoothed_deviation),
        TEST(only_levels_are_measured),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
