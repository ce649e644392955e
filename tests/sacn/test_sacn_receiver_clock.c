/* Wall-clock times of arrival brought to the monotonic clock. Expected values by hand: monotonic = wall - (wall now - monotonic
 * now). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "sacn/sacn_receiver_internal.h"

#define SECOND INT64_C(1000000000)
#define MS INT64_C(1000000)

/* Both clocks at a moment: the wall clock is 1000 s ahead, and more by `jump`. */
static int64_t arrival(struct sacn__clock *clock, int64_t stamp_mono, int64_t stamp_jump, int64_t now_mono, int64_t jump)
{
    int64_t real = now_mono + 1000 * SECOND + jump;
    int64_t at = sacn__arrival(clock, stamp_mono + 1000 * SECOND + stamp_jump, real, now_mono);
    clock->offset_ns = real - now_mono;           /* as after a batch */
    return at;
}

static void an_arrival_is_told_on_the_monotonic_clock(void **state)
{
    (void)state;
    struct sacn__clock clock = { .started = false };
    assert_int_equal(arrival(&clock, 5 * SECOND, 0, 5 * SECOND + 3 * MS, 0), 5 * SECOND);
    assert_int_equal(arrival(&clock, 5 * SECOND + 7, 0, 5 * SECOND + 3 * MS, 0), 5 * SECOND + 7);
    assert_int_equal(arrival(&clock, 5 * SECOND + 7, 0, 6 * SECOND, 0), 5 * SECOND + 7);
    assert_int_equal(arrival(&clock, 5 * SECOND + 9 * MS, MS / 2, 6 * SECOND, MS / 2), 5 * SECOND + 9 * MS);    /* slewed, followed */
}

static void an_arrival_is_never_later_than_now_or_before_the_last(void **state)
{
    (void)state;
    struct sacn__clock clock = { .started = false };
    assert_int_equal(arrival(&clock, 9 * SECOND, 0, 5 * SECOND, 0), 5 * SECOND);
    assert_int_equal(arrival(&clock, 4 * SECOND, 0, 6 * SECOND, 0), 5 * SECOND);
    int64_t real = 1007 * SECOND;
    assert_int_equal(sacn__arrival(&clock, 0, real, 7 * SECOND), 7 * SECOND);        /* no stamp */
}

/* Stamped before the jump, read after it; what is still waiting from before it comes after that. */
static void a_jump_of_the_wall_clock_moves_an_arrival_to_its_reading(void **state)
{
    (void)state;
    static const int64_t jumps[] = { 3600 * SECOND, -3600 * SECOND, 2 * MS, -2 * MS };
    for (size_t i = 0; i < sizeof jumps / sizeof *jumps; i++) {
        struct sacn__clock clock = { .started = false };
        assert_int_equal(arrival(&clock, 5 * SECOND, 0, 5 * SECOND + MS, 0), 5 * SECOND);
        assert_int_equal(arrival(&clock, 6 * SECOND, 0, 6 * SECOND + 5 * MS, jumps[i]), 6 * SECOND + 5 * MS);
        int64_t left = arrival(&clock, 6 * SECOND + MS, 0, 6 * SECOND + 6 * MS, jumps[i]);
        assert_in_range(left, 6 * SECOND + 5 * MS, 6 * SECOND + 6 * MS);
        assert_int_equal(arrival(&clock, 6 * SECOND + 7 * MS, jumps[i], 6 * SECOND + 8 * MS, jumps[i]), 6 * SECOND + 7 * MS);
    }
}

int main(void)
{
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_arrival_is_told_on_the_monotonic_clock),
        cmocka_unit_test(an_arrival_is_never_later_than_now_or_before_the_last),
        cmocka_unit_test(a_jump_of_the_wall_clock_moves_an_arrival_to_its_reading),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
