/* The pacer, with a clock that is turned by hand. At 40 Hz a frame is 25 ms and its first part, over which batches are spread, 12.5. */
#include "rig.h"

#include "engine/output.h"
#include "engine/pacer.h"

static void frames_are_made_at_their_deadlines(void **state)
{
    (void)state;
    struct pacer pacer;
    int64_t until;
    pacer_init(&pacer, 44);
    for (uint64_t k = 0; k < 1000; k++) {            /* 22 727 272.7 ns each: no drift */
        int64_t due = (int64_t)ceil((double)k * 1e9 / 44);
        if (k > 0) {
            assert_int_equal(pacer_next(&pacer, due - 1, &until), PACER_WAIT);
            assert_int_equal(until, due);
        }
        assert_int_equal(pacer_next(&pacer, due, &until), PACER_FRAME);
        assert_int_equal(pacer.next, k);
        pacer_made(&pacer, 0);
    }
    assert_int_equal(pacer.late, 0);
}

static void batches_are_spread_over_the_first_half(void **state)
{
    (void)state;
    struct pacer pacer;
    int64_t until;
    pacer_init(&pacer, 40);
    assert_int_equal(pacer_next(&pacer, 0, &until), PACER_FRAME);
    pacer_made(&pacer, 5);
    const int64_t due[] = { 0, 2500000, 5000000, 7500000, 10000000 };
    for (int b = 0; b < 5; b++) {
        if (b > 0) {
            assert_int_equal(pacer_next(&pacer, due[b] - 1, &until), PACER_WAIT);
            assert_int_equal(until, due[b]);
        }
        assert_int_equal(pacer_next(&pacer, due[b], &until), PACER_BATCH);
        assert_int_equal(pacer.sent, b);
        pacer_sent(&pacer);
    }
    assert_int_equal(pacer_next(&pacer, 11 * MS, &until), PACER_WAIT);
    assert_int_equal(until, 25 * MS);
}

static void a_late_batch_is_sent_before_the_next_frame(void **state)
{
    (void)state;
    struct pacer pacer;
    int64_t until;
    pacer_init(&pacer, 40);
    assert_int_equal(pacer_next(&pacer, 0, &until), PACER_FRAME);
    pacer_made(&pacer, 2);
    assert_int_equal(pacer_next(&pacer, 0, &until), PACER_BATCH);
    pacer_sent(&pacer);
    assert_int_equal(pacer_next(&pacer, 26 * MS, &until), PACER_BATCH);
    pacer_sent(&pacer);
    assert_int_equal(pacer_next(&pacer, 26 * MS, &until), PACER_FRAME);
    assert_int_equal(pacer.next, 1);
    assert_int_equal(pacer.late, 0);
}

static void a_frame_late_by_its_length_is_left_out_and_counted(void **state)
{
    (void)state;
    struct pacer pacer;
    int64_t until;
    pacer_init(&pacer, 40);
    assert_int_equal(pacer_next(&pacer, 24 * MS, &until), PACER_FRAME);      /* late, but not by a frame */
    assert_int_equal(pacer.next, 0);
    pacer_made(&pacer, 0);
    assert_int_equal(pacer_next(&pacer, 50 * MS, &until), PACER_FRAME);      /* frame 1 was over when frame 2 began */
    assert_int_equal(pacer.next, 2);
    assert_int_equal(pacer.late, 1);
    pacer_made(&pacer, 0);
    assert_int_equal(pacer_next(&pacer, 1010 * MS, &until), PACER_FRAME);    /* frame 40 */
    assert_int_equal(pacer.next, 40);
    assert_int_equal(pacer.late, 1 + 37);
    pacer_made(&pacer, 0);
    assert_int_equal(pacer_next(&pacer, 1010 * MS, &until), PACER_WAIT);     /* not bunched */
    assert_int_equal(until, 1025 * MS);
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
        cmocka_unit_test(batches_are_spread_over_the_first_half),
        cmocka_unit_test(a_late_batch_is_sent_before_the_next_frame),
        cmocka_unit_test(a_frame_late_by_its_length_is_left_out_and_counted),
        cmocka_unit_test(keep_alive_is_within_0_8_to_1_second),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
