/* The pacer, with a clock that is turned by hand. At 40 Hz a frame is 25 ms; its sub-ticks are spread over 12.5 ms after the lead. */
#include "rig.h"

#include "engine/output.h"
#include "engine/pacer.h"

static void frames_are_made_at_their_deadlines(void **state)
{
    (void)state;
    struct pacer pacer;
    int64_t until;
    pacer_init(&pacer, 44, 4, 0, 0);
    for (uint64_t k = 0; k < 1000; k++) {            /* 22 727 272.7 ns each: no drift */
        int64_t due = (int64_t)ceil((double)k * 1e9 / 44);
        if (k > 0) {
            assert_int_equal(pacer_next(&pacer, due - 1, &until), PACER_WAIT);
            assert_int_equal(until, due);
        }
        assert_int_equal(pacer_next(&pacer, due, &until), PACER_FRAME);
        assert_int_equal(pacer.next, k);
        pacer_made(&pacer, 4);                       /* nothing to send */
    }
    assert_int_equal(pacer.late, 0);
    assert_int_equal(pacer.late_subticks, 0);
}

/* Make the next frame at a time, and expect its sub-ticks, those that are not in `skipped`, exactly then and not before. */
static void expect_subticks(struct pacer *pacer, int64_t frame_at, const int64_t *due, uint32_t count, uint32_t skipped)
{
    uint32_t at = 0;
    int64_t until;
    while (at < count && skipped & 1u << at)
        at++;
    assert_int_equal(pacer_next(pacer, frame_at, &until), PACER_FRAME);
    pacer_made(pacer, at);
    while (at < count) {
        if (due[at] > frame_at) {
            assert_int_equal(pacer_next(pacer, due[at] - 1, &until), PACER_WAIT);
            assert_int_equal(until, due[at]);
        }
        assert_int_equal(pacer_next(pacer, due[at], &until), PACER_SUBTICK);
        assert_int_equal(pacer->at, at);
        int64_t sent_at = due[at++];
        while (at < count && skipped & 1u << at)
            at++;
        pacer_sent(pacer, sent_at, at);
    }
    assert_int_equal(pacer_next(pacer, frame_at + 24 * MS, &until), PACER_WAIT);
    assert_int_equal(until, frame_at + 25 * MS);
}

static void subticks_are_spread_over_half_a_frame(void **state)
{
    (void)state;
    struct pacer pacer;
    pacer_init(&pacer, 40, 5, 0, 0);
    const int64_t due[] = { 0, 2500000, 5000000, 7500000, 10000000 };
    expect_subticks(&pacer, 0, due, 5, 0);
}

static void the_first_subtick_leaves_after_the_lead(void **state)
{
    (void)state;
    struct pacer pacer;
    pacer_init(&pacer, 40, 2, 0, 3 * MS);
    const int64_t due[] = { 3 * MS, 9250000 };
    expect_subticks(&pacer, 0, due, 2, 0);
    pacer_init(&pacer, 40, 2, 0, 20 * MS);              /* 0.3 of 25 ms at most */
    const int64_t capped[] = { 7500000, 13750000 };
    expect_subticks(&pacer, 0, capped, 2, 0);
}

static void a_subtick_has_its_place_whatever_else_is_sent(void **state)
{
    (void)state;
    struct pacer pacer;
    pacer_init(&pacer, 40, 4, 0, MS);
    for (uint32_t skipped = 0; skipped < 16; skipped++) {
        int64_t frame = skipped * 25 * MS;
        const int64_t due[] = { frame + MS, frame + 4125000, frame + 7250000, frame + 10375000 };
        expect_subticks(&pacer, frame, due, 4, skipped);
    }
    assert_int_equal(pacer.late_subticks, 0);
}

/* Synchronisation must not wait for a place of its own: it follows the last data, and has the same place when that is not due. */
static void what_follows_the_data_follows_at_once(void **state)
{
    (void)state;
    struct pacer pacer;
    pacer_init(&pacer, 40, 2, 2, 0);
    const int64_t due[] = { 0, 6250000, 6250000, 6250000 };
    expect_subticks(&pacer, 0, due, 4, 0);
    const int64_t next[] = { 25 * MS, 31250000, 31250000, 31250000 };
    expect_subticks(&pacer, 25 * MS, next, 4, 1u << 1 | 1u << 3);
    pacer_init(&pacer, 40, 1, 2, 0);
    const int64_t one[] = { 0, 0, 0 };
    expect_subticks(&pacer, 0, one, 3, 0);
}

static void a_late_subtick_is_sent_before_the_next_frame(void **state)
{
    (void)state;
    struct pacer pacer;
    int64_t until;
    pacer_init(&pacer, 40, 3, 0, 0);
    assert_int_equal(pacer_next(&pacer, 0, &until), PACER_FRAME);
    pacer_made(&pacer, 0);
    assert_int_equal(pacer_next(&pacer, 1 * MS, &until), PACER_SUBTICK);
    pacer_sent(&pacer, 1 * MS, 1);
    assert_int_equal(pacer.late_subticks, 0);        /* not by more than 1 ms */
    for (uint32_t i = 1; i < 3; i++) {
        assert_int_equal(pacer_next(&pacer, 26 * MS, &until), PACER_SUBTICK);
        assert_int_equal(pacer.at, i);
        pacer_sent(&pacer, 26 * MS, i + 1);
    }
    assert_int_equal(pacer.late_subticks, 2);
    assert_int_equal(pacer_next(&pacer, 26 * MS, &until), PACER_FRAME);
    assert_int_equal(pacer.next, 1);
    assert_int_equal(pacer.late, 0);
}

static void a_frame_late_by_its_length_is_left_out_and_counted(void **state)
{
    (void)state;
    struct pacer pacer;
    int64_t until;
    pacer_init(&pacer, 40, 1, 0, 0);
    assert_int_equal(pacer_next(&pacer, 24 * MS, &until), PACER_FRAME);      /* late, but not by a frame */
    assert_int_equal(pacer.next, 0);
    pacer_made(&pacer, 1);
    assert_int_equal(pacer_next(&pacer, 50 * MS, &until), PACER_FRAME);      /* frame 1 was over when frame 2 began */
    assert_int_equal(pacer.next, 2);
    assert_int_equal(pacer.late, 1);
    pacer_made(&pacer, 1);
    assert_int_equal(pacer_next(&pacer, 1010 * MS, &until), PACER_FRAME);    /* frame 40 */
    assert_int_equal(pacer.next, 40);
    assert_int_equal(pacer.late, 1 + 37);
    pacer_made(&pacer, 1);
    assert_int_equal(pacer_next(&pacer, 1010 * MS, &until), PACER_WAIT);     /* not bunched */
    assert_int_equal(until, 1025 * MS);
}

/* The process stood still for 100 ms in the midst of a frame's sub-ticks: what is left of that frame goes out, then one frame. */
static void after_a_pause_one_frame_goes_out_not_four(void **state)
{
    (void)state;
    struct pacer pacer;
    int64_t until, now = 103 * MS;
    int frames = 0, subticks = 0;
    pacer_init(&pacer, 40, 8, 0, MS);
    assert_int_equal(pacer_next(&pacer, 0, &until), PACER_FRAME);
    pacer_made(&pacer, 0);
    for (enum pacer_kind kind; (kind = pacer_next(&pacer, now, &until)) != PACER_WAIT;) {
        if (kind == PACER_FRAME) {
            pacer_made(&pacer, 0);
            frames++;
        } else {
            pacer_sent(&pacer, now, pacer.at + 1);
            subticks++;
        }
    }
    assert_int_equal(frames, 1);
    assert_int_equal(pacer.made, 4);                 /* that of 100 ms; those of 25, 50 and 75 ms are over */
    assert_int_equal(pacer.late, 3);
    assert_int_equal(subticks, 8 + 2);               /* at 101 and 102.5625 ms */
    assert_int_equal(until, 104125000);
}

/* ANSI E1.31-2018 6.6.2: one packet every 800 to 1000 ms. The frames are chosen nearest to 0.9 s. */
static void keep_alive_is_within_0_8_to_1_second(void **state)
{
    (void)state;
    assert_int_equal(output_keep_alive(40), 36);
    assert_int_equal(output_keep_alive(44), 40);             /* 39.6: 40 / 44 = 0.909 */
    assert_int_equal(output_keep_alive(10), 9);
    assert_int_equal(output_keep_alive(5), 4);               /* 0.8 and 1.0 are equally near: the earlier */
    assert_int_equal(output_keep_alive(1), 1);
    assert_int_equal(output_keep_alive(1.2), 1);             /* 0.833 */
    assert_int_equal(output_keep_alive(1.5), 1);             /* 0.667 or 1.333: none within; the longest not above 1 s */
    assert_int_equal(output_keep_alive(1.9), 1);
    for (double rate = 3; rate <= 44; rate += 0.1) {
        double period = (double)output_keep_alive(rate) / rate;
        assert_true(period > 0.65 && period < 1 + 1e-9);
        if (rate >= 5)
            assert_true(period > 0.8 - 1e-9);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(frames_are_made_at_their_deadlines),
        cmocka_unit_test(subticks_are_spread_over_half_a_frame),
        cmocka_unit_test(the_first_subtick_leaves_after_the_lead),
        cmocka_unit_test(a_subtick_has_its_place_whatever_else_is_sent),
        cmocka_unit_test(what_follows_the_data_follows_at_once),
        cmocka_unit_test(a_late_subtick_is_sent_before_the_next_frame),
        cmocka_unit_test(a_frame_late_by_its_length_is_left_out_and_counted),
        cmocka_unit_test(after_a_pause_one_frame_goes_out_not_four),
        cmocka_unit_test(keep_alive_is_within_0_8_to_1_second),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
