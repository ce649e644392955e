/* The guard's judgement alone, fed with light. Source of the limits: WCAG 2.x, success criterion 2.3.1 (general flash and red flash
 * thresholds; for red the wording of WCAG 2.0 and 2.1). The table of square waves and the luminance steps are hand calculations. */
#include "rig.h"

#include "engine/guard.h"

#define FINE (-1)

struct feed { struct guard *guard; double rate_hz; enum guard_kind kind; uint32_t from, to; };

static void begin(struct feed *feed, double rate_hz, double luminance, double redness, bool saturated)
{
    uint64_t is_saturated = saturated;
    feed->rate_hz = rate_hz;
    feed->guard = guard_new(1, rate_hz);
    assert_non_null(feed->guard);
    guard_start(feed->guard, 0, 1, &(struct guard_samples){ &luminance, &redness, &is_saturated });
}

static bool feed_one(struct feed *feed, uint32_t frame, double luminance, double redness, bool saturated)
{
    uint64_t is_saturated = saturated;
    bool fine = guard_feed(feed->guard, 0, 1, frame, &(struct guard_samples){ &luminance, &redness, &is_saturated },
                           &feed->kind) == 1;
    if (!fine)
        guard_window(feed->guard, 0, feed->kind, &feed->from, &feed->to);
    return fine;
}

/* Alternate between two luminances from frame `first` on. @return the frame that is refused, or FINE after 10 s */
static int square_wave(struct feed *feed, double rate_hz, double wave_hz, uint32_t first, double low, double high)
{
    int refused = FINE;
    begin(feed, rate_hz, low, 0, false);
    for (uint32_t frame = first; refused == FINE && frame < first + 10 * rate_hz; frame++) {
        long half = (long)floor((frame - first) * 2 * wave_hz / rate_hz + 1e-9);
        if (!feed_one(feed, frame, half % 2 ? low : high, 0, false))
            refused = (int)frame;
    }
    guard_free(feed->guard);
    return refused;
}

/* Square wave 0 and 100 %: flashes in any second, and whether at most three of them are seen. */
static const struct { double hz; bool passes; } square_waves[] = {
    { 1, true }, { 2, true }, { 3, true }, { 3.5, true }, { 4, false }, { 5, false }, { 10, false },
};

static void square_waves_pass_up_to_three_pairs_a_second(void **state)
{
    (void)state;
    const double rates[] = { 40, 44, 25, 30, 43.7 };
    for (size_t r = 0; r < sizeof rates / sizeof *rates; r++)
        for (size_t w = 0; w < sizeof square_waves / sizeof *square_waves; w++)
            for (uint32_t first = 0; first < 100; first += 33) {      /* the window slides */
                struct feed feed;
                int refused = square_wave(&feed, rates[r], square_waves[w].hz, first, 0, 1);
                /* 3.5 Hz has changes every 1/7 s: on frames of 43.7 Hz eight of them may fall within a second */
                if (square_waves[w].hz == 3.5 && rates[r] != 40)
                    continue;
                assert_int_equal(refused == FINE, square_waves[w].passes);
            }
}

static void the_eighth_change_within_a_second_is_refused(void **state)
{
    (void)state;
    struct feed feed;
    /* 4 Hz at 40 frames a second: a change every 5 frames; the eighth 35 frames = 0.875 s after the first */
    assert_int_equal(square_wave(&feed, 40, 4, 12, 0, 1), 12 + 35);
    assert_int_equal(feed.kind, GUARD_GENERAL);
    assert_int_equal(feed.from, 12);
    assert_int_equal(feed.to, 47);
    assert_int_equal(square_wave(&feed, 44, 11, 0, 0, 1), 14);       /* every 2 frames */
}

static void the_window_is_half_open(void **state)
{
    (void)state;
    const double rates[] = { 40, 44, 29.97, 24 };
    for (size_t r = 0; r < 4; r++)
        for (int less = 0; less < 2; less++) {
            struct feed feed;
            begin(&feed, rates[r], 0, 0, false);
            uint32_t frame = 7, last = (uint32_t)ceil(rates[r] - 1e-9) - (uint32_t)less;   /* frames that a second takes */
            for (int change = 0; change < 7; change++)
                assert_true(feed_one(&feed, frame + (uint32_t)change, change % 2 ? 0 : 1, 0, false));
            assert_int_equal(feed_one(&feed, frame + last, 0, 0, false), !less);
            guard_free(feed.guard);
        }
}

/* Luminance steps, linear scale, at 5 Hz. */
static void steps_of_10_per_cent_with_the_darker_state_under_80_count(void **state)
{
    (void)state;
    const struct { double low, high; bool passes; } steps[] = {
        { 0.85, 0.95, true },        /* darker state not under 0.80 */
        { 0.80, 0.90, true },
        { 0.75, 0.85, false },       /* exactly 10 % */
        { 0.75, 0.84, true },
        { 0, 0.09, true },
        { 0, 0.10, false },
        { 0.79, 1, false },
        { 0.45, 0.55, false },
        { 0.45, 0.5499999, true },
    };
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) {
        struct feed feed;
        assert_int_equal(square_wave(&feed, 40, 5, 0, steps[i].low, steps[i].high) == FINE, steps[i].passes);
    }
}

static void a_transition_is_dated_where_it_first_reaches_the_step(void **state)
{
    (void)state;
    struct feed feed;
    uint32_t frame = 0;
    begin(&feed, 40, 0, 0, false);
    /* triangles of 10 frames up, 10 frames down in steps of 0.05: each change reaches 10 % two frames after its peak or valley */
    bool fine = true;
    for (frame = 1; frame < 200 && fine; frame++) {
        uint32_t phase = frame % 20;
        fine = feed_one(&feed, frame, (phase <= 10 ? phase : 20 - phase) * 0.05, 0, false);
    }
    assert_true(fine);                               /* 2 Hz */
    guard_free(feed.guard);
    begin(&feed, 40, 0, 0, false);
    for (frame = 1, fine = true; frame < 200 && fine; frame++) {     /* 4 frames up, 4 frames down in steps of 0.05: 5 Hz */
        uint32_t phase = frame % 8;
        fine = feed_one(&feed, frame, (phase <= 4 ? phase : 8 - phase) * 0.05, 0, false);
    }
    assert_false(fine);
    assert_int_equal(feed.from, 2);                  /* 0.10 at frame 2; then every 4 frames; the eighth at 2 + 28 */
    assert_int_equal(feed.to, 30);
    guard_free(feed.guard);
}

static void small_ripples_do_not_hide_a_slow_change(void **state)
{
    (void)state;
    struct feed feed;
    begin(&feed, 40, 0.5, 0, false);
    bool fine = true;
    uint32_t frame = 0;
    /* seven changes of 0.2 that each wobble by 0.03 on their way; wobbles are no transitions */
    for (int change = 0; change < 7; change++)
        for (int i = 1; i <= 4; i++, frame++)
            fine &= feed_one(&feed, frame, (change % 2 ? 0.7 - 0.05 * i : 0.5 + 0.05 * i) + (i % 2 ? 0.03 : 0), 0, false);
    assert_true(fine);
    fine = true;
    for (int i = 1; i <= 4 && fine; i++, frame++)
        fine = feed_one(&feed, frame, 0.7 - 0.05 * i, 0, false);
    assert_false(fine);
    guard_free(feed.guard);
}

static void a_fall_counts_once_it_is_under_80_and_keeps_its_date(void **state)
{
    (void)state;
    struct feed feed;
    uint32_t frame = 10;
    begin(&feed, 40, 1, 0, false);
    assert_true(feed_one(&feed, frame, 0.9, 0, false));      /* 10 %, but the darker state is 0.9 */
    assert_true(feed_one(&feed, frame + 5, 0.79, 0, false)); /* now it counts, from frame 10 */
    for (int change = 0; change < 6; change++)
        assert_true(feed_one(&feed, frame + 10 + (uint32_t)change, change % 2 ? 0.5 : 1, 0, false));
    assert_false(feed_one(&feed, frame + 39, 1, 0, false));  /* the eighth, 39 frames after the first */
    assert_int_equal(feed.from, 10);
    assert_int_equal(feed.to, 49);
    guard_free(feed.guard);
}

static void uncounted_changes_in_between_are_not_flashes(void **state)
{
    (void)state;
    struct feed feed;
    begin(&feed, 40, 0.5, 0, false);
    uint32_t frame = 0;
    assert_true(feed_one(&feed, frame++, 1, 0, false));
    for (int i = 0; i < 10; i++) {                   /* bright flicker, darker state 0.85 */
        assert_true(feed_one(&feed, frame++, 0.85, 0, false));
        assert_true(feed_one(&feed, frame++, 1, 0, false));
    }
    for (int i = 0; i < 6; i++)
        assert_true(feed_one(&feed, frame++, i % 2 ? 1 : 0.5, 0, false));
    assert_false(feed_one(&feed, frame++, 0.5, 0, false));
    assert_int_equal(feed.from, 0);
    guard_free(feed.guard);
}

static int red_wave(struct feed *feed, double low, bool low_saturated, double high, bool high_saturated)
{
    int refused = FINE;
    begin(feed, 40, 0.3, low, low_saturated);
    for (uint32_t frame = 0; refused == FINE && frame < 80; frame++) {
        bool up = frame / 4 % 2 == 0;                /* 5 Hz */
        if (!feed_one(feed, frame, 0.3, up ? high : low, up ? high_saturated : low_saturated))
            refused = (int)frame;
    }
    guard_free(feed->guard);
    return refused;
}

static void red_flashes_are_counted_beside_general_ones(void **state)
{
    (void)state;
    struct feed feed;
    assert_int_equal(red_wave(&feed, 0, false, 1, true), 28);
    assert_int_equal(feed.kind, GUARD_RED);
    assert_int_equal(feed.from, 0);
    assert_int_equal(feed.to, 28);
    assert_int_equal(red_wave(&feed, 0.2, true, 0.6, false), 28);    /* to or from: either end */
    assert_int_equal(red_wave(&feed, 0, false, 1, false), FINE);     /* neither is saturated */
    assert_int_equal(red_wave(&feed, 0, false, 0.0625, true), FINE); /* 20/320 is not more than 20/320 */
    assert_int_equal(red_wave(&feed, 0, false, 0.0626, true), 28);
    assert_int_equal(red_wave(&feed, 0.5, true, 0.5, true), FINE);
}

static void saturation_is_by_the_share_of_red(void **state)
{
    (void)state;
    assert_true(guard_saturated(1, 0, 0));
    assert_true(guard_saturated(0.5, 0, 0));
    assert_true(guard_saturated(0.8, 0.2, 0));
    assert_true(guard_saturated(0.8, 0.1, 0.1));
    assert_false(guard_saturated(0.79, 0.21, 0));
    assert_false(guard_saturated(1, 1, 1));
    assert_false(guard_saturated(0, 0, 0));          /* black is never */
    assert_true(fabs(guard_redness(1, 0.25, 0.25) - 0.5) < 1e-12);
    assert_true(guard_redness(0.5, 0.5, 0.5) == 0);
}

/* Of two equal values on an extreme the saturated one counts, rising and falling. */
static void a_saturated_state_on_an_extreme_counts_in_any_order(void **state)
{
    (void)state;
    for (int order = 0; order < 2; order++)
        for (int falling = 0; falling < 2; falling++) {
            struct feed feed;
            bool fine = true;
            begin(&feed, 40, 0.3, 0.3, false);
            for (uint32_t k = 0; k < 8 && fine; k++) {
                double value = (int)(k % 2) == falling ? 0.6 : 0.3;
                bool extreme = k % 2 == 0;           /* the upper extreme, or the lower one, holds both kinds of state */
                fine = feed_one(&feed, 3 * k, 0.3, value, extreme && order == 0) &&
                       feed_one(&feed, 3 * k + 1, 0.3, value, extreme && order == 1);
            }
            assert_int_equal(fine, falling);         /* falling first, the first state is the start: one transition fewer */
            if (fine)
                assert_false(feed_one(&feed, 24, 0.3, 0.3, true) && feed_one(&feed, 27, 0.3, 0.6, false));
            guard_free(feed.guard);
        }
}

static void lights_are_judged_each_for_itself(void **state)
{
    (void)state;
    enum { LIGHTS = 131 };
    struct guard *guard = guard_new(LIGHTS, 40);
    double luminance[LIGHTS] = { 0 }, redness[LIGHTS] = { 0 };
    uint64_t saturated[LIGHTS] = { 0 };
    struct guard_samples samples = { luminance, redness, saturated };
    enum guard_kind kind;
    guard_start(guard, 0, LIGHTS, &samples);
    for (uint32_t frame = 0; frame < 28; frame++) {
        luminance[100] = frame / 4 % 2 ? 0 : 1;      /* 5 Hz */
        luminance[130] = frame / 8 % 2 ? 0 : 1;      /* 2.5 Hz */
        assert_int_equal(guard_feed(guard, 0, LIGHTS, frame, &samples, &kind), LIGHTS);
    }
    luminance[100] = 0;
    assert_int_equal(guard_feed(guard, 0, LIGHTS, 28, &samples, &kind), 100);
    guard_free(guard);
}

static void long_runs_keep_only_what_counts(void **state)
{
    (void)state;
    struct feed feed;
    begin(&feed, 40, 0, 0, false);
    uint32_t frame = 0;
    for (; frame < 40 * 60; frame++)                 /* 2.857 Hz: a change every 7 frames, for a minute */
        assert_true(feed_one(&feed, frame, frame / 7 % 2 ? 0 : 1, 0, false));
    bool fine = true;
    for (uint32_t end = frame + 40; frame < end && fine; frame++)
        fine = feed_one(&feed, frame, frame / 4 % 2 ? 0 : 1, 0, false);
    assert_false(fine);
    guard_free(feed.guard);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(square_waves_pass_up_to_three_pairs_a_second),
        cmocka_unit_test(the_eighth_change_within_a_second_is_refused),
        cmocka_unit_test(the_window_is_half_open),
        cmocka_unit_test(steps_of_10_per_cent_with_the_darker_state_under_80_count),
        cmocka_unit_test(a_transition_is_dated_where_it_first_reaches_the_step),
        cmocka_unit_test(small_ripples_do_not_hide_a_slow_change),
        cmocka_unit_test(a_fall_counts_once_it_is_under_80_and_keeps_its_date),
        cmocka_unit_test(uncounted_changes_in_between_are_not_flashes),
        cmocka_unit_test(red_flashes_are_counted_beside_general_ones),
        cmocka_unit_test(saturation_is_by_the_share_of_red),
        cmocka_unit_test(a_saturated_state_on_an_extreme_counts_in_any_order),
        cmocka_unit_test(lights_are_judged_each_for_itself),
        cmocka_unit_test(long_runs_keep_only_what_counts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
