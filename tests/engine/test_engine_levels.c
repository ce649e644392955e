/* Levels and commands: what is in a frame. Expected levels are worked out by hand from design section 7:
 * 8-bit level = floor(p * 255 / 100 + 0.5), 16-bit likewise with 65535, fade = from + (to - from) * (t - t0) / d. */
#include "rig.h"

static int setup(void **state)
{
    struct rig *rig = malloc(sizeof *rig);
    rig_init(rig);
    *state = rig;
    return 0;
}

static int teardown(void **state)
{
    rig_fini(*state);
    free(*state);
    return 0;
}

static void a_set_is_in_the_first_frame_at_or_after_it(void **state)
{
    struct rig *rig = *state;
    uint32_t lamp = rig_fixture(rig, 1, rig_type(rig, "dim", HAZARD_NONE, "intensity", 0, "", ""), NULL, 1, 10);
    rig_start(rig, 40);
    rig_set(rig, 0, lamp, "intensity", 100);
    rig_set(rig, 26 * MS, lamp, "intensity", 50);    /* frames are at 25 and 50 ms */
    rig_frames(rig, 1);
    assert_int_equal(rig_level(rig, 0, 10), 255);
    rig_frames(rig, 1);
    assert_int_equal(rig_level(rig, 0, 10), 255);
    rig_frames(rig, 1);
    assert_int_equal(rig_level(rig, 0, 10), 128);    /* floor(127.5 + 0.5) */
}

static void a_microsecond_after_a_frame_is_at_it(void **state)
{
    struct rig *rig = *state;
    uint32_t lamp = rig_fixture(rig, 1, rig_type(rig, "dim", HAZARD_NONE, "intensity", 0, "", ""), NULL, 1, 1);
    rig_start(rig, 44);                              /* frame 1 at 22 727 272.7 ns */
    assert_int_equal(engine_frame_at(rig->engine, 22727273), 1);
    assert_int_equal(engine_frame_at(rig->engine, 22728272), 1);
    assert_int_equal(engine_frame_at(rig->engine, 22728274), 2);
    assert_int_equal(engine_frame_at(rig->engine, 0), 0);
    assert_int_equal(engine_frame_at(rig->engine, 1001), 1);
    rig_set(rig, 22728272, lamp, "intensity", 100);
    rig_frames(rig, 1);
    assert_int_equal(rig_level(rig, 0, 1), 0);
    rig_frames(rig, 1);
    assert_int_equal(rig_level(rig, 0, 1), 255);
}

static void a_fade_follows_its_formula(void **state)
{
    struct rig *rig = *state;
    uint32_t lamp = rig_fixture(rig, 1, rig_type(rig, "dim", HAZARD_NONE, "intensity", 0, "", ""), NULL, 1, 1);
    rig_start(rig, 40);
    rig_fade(rig, 0, lamp, "intensity", 100, 100 * MS);
    /* 0, 25, 50, 75, 100 %: 0, floor(64.25), floor(128), floor(191.75), 255 */
    const int expected[] = { 0, 64, 128, 191, 255, 255 };
    for (int k = 0; k < 6; k++) {
        rig_frames(rig, 1);
        assert_int_equal(rig_level(rig, 0, 1), expected[k]);
    }
}

static void a_fade_over_a_running_fade_starts_from_its_value_then(void **state)
{
    struct rig *rig = *state;
    uint32_t lamp = rig_fixture(rig, 1, rig_type(rig, "dim", HAZARD_NONE, "intensity", 0, "", ""), NULL, 1, 1);
    rig_start(rig, 40);
    rig_fade(rig, 0, lamp, "intensity", 100, SECOND);
    rig_fade(rig, 500 * MS, lamp, "intensity", 0, 250 * MS);
    rig_frames(rig, 21);
    assert_int_equal(rig_level(rig, 0, 1), 128);     /* 500 ms: 50 % */
    rig_frames(rig, 5);
    assert_int_equal(rig_level(rig, 0, 1), 64);      /* 625 ms: 25 %: 63.75 + 0.5 */
    rig_frames(rig, 5);
    assert_int_equal(rig_level(rig, 0, 1), 0);       /* 750 ms */
    rig_frames(rig, 12);
    assert_int_equal(rig_level(rig, 0, 1), 0);       /* the first fade does not come back */
}

static void a_fade_started_between_frames_starts_from_the_value_of_that_moment(void **state)
{
    struct rig *rig = *state;
    uint32_t lamp = rig_fixture(rig, 1, rig_type(rig, "dim", HAZARD_NONE, "intensity", 0, "", ""), NULL, 1, 1);
    rig_start(rig, 40);
    rig_fade(rig, 0, lamp, "intensity", 100, 100 * MS);
    rig_fade(rig, 40 * MS, lamp, "intensity", 0, 40 * MS);   /* from 40 %; at 50 ms 30 %, at 75 ms 5 % */
    rig_frames(rig, 3);
    assert_int_equal(rig_level(rig, 0, 1), 77);      /* 76.5 + 0.5 */
    rig_frames(rig, 1);
    assert_int_equal(rig_level(rig, 0, 1), 13);      /* 12.75 + 0.5 */
    rig_frames(rig, 1);
    assert_int_equal(rig_level(rig, 0, 1), 0);
}

static void the_last_command_wins_and_ends_a_fade(void **state)
{
    struct rig *rig = *state;
    uint32_t lamp = rig_fixture(rig, 1, rig_type(rig, "dim", HAZARD_NONE, "intensity", 0, "", ""), NULL, 1, 1);
    rig_start(rig, 40);
    rig_fade(rig, 0, lamp, "intensity", 100, SECOND);
    assert_int_equal(engine_fades_end(rig->engine, 0), SECOND);
    rig_set(rig, 0, lamp, "intensity", 20);
    assert_int_equal(engine_fades_end(rig->engine, 7), 7);
    rig_frames(rig, 41);
    assert_int_equal(rig_level(rig, 0, 1), 51);
    rig_fade(rig, SECOND + 25 * MS, lamp, "intensity", 80, 0);
    rig_frames(rig, 1);
    assert_int_equal(rig_level(rig, 0, 1), 204);     /* a fade of 0 s is a set */
}

static void a_16_bit_value_uses_both_slots(void **state)
{
    struct rig *rig = *state;
    uint32_t head = rig_fixture(rig, 1, rig_type(rig, "head", HAZARD_NONE, "pan pan+fine tilt", 0, "", ""), NULL, 1, 5);
    rig_start(rig, 40);
    rig_set(rig, 0, head, "pan", 50);                /* floor(32767.5 + 0.5) = 32768 = 0x8000 */
    rig_frames(rig, 1);
    assert_int_equal(rig_level(rig, 0, 5), 0x80);
    assert_int_equal(rig_level(rig, 0, 6), 0x00);
    rig_set(rig, 25 * MS, head, "pan", 33.3);        /* 21823.155 -> 21823 = 0x553f */
    rig_frames(rig, 1);
    assert_int_equal(rig_level(rig, 0, 5), 0x55);
    assert_int_equal(rig_level(rig, 0, 6), 0x3f);
    assert_int_equal(rig_level(rig, 0, 7), 0);
    rig_fade(rig, 50 * MS, head, "pan", 100, 100 * MS);
    rig_frames(rig, 3);                              /* 100 ms: 33.3 + 66.7 / 2 = 66.65 %: 43679.08 -> 43679 = 0xaa9f */
    assert_int_equal(rig_level(rig, 0, 5), 0xaa);
    assert_int_equal(rig_level(rig, 0, 6), 0x9f);
}

static void fine_pairs_with_its_coarse_partner_wherever_it_stands(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "odd", HAZARD_NONE, "pan+fine tilt pan=25 gobo+fine=20", 0, "", "");
    uint32_t head = rig_fixture(rig, 1, type, NULL, 1, 1);
    rig_start(rig, 40);
    rig_frames(rig, 1);
    assert_int_equal(rig_level(rig, 0, 3), 0x40);    /* 25 % of 65535 = 16383.75 -> 16384 = 0x4000 */
    assert_int_equal(rig_level(rig, 0, 1), 0x00);
    assert_int_equal(rig_level(rig, 0, 4), 51);      /* a fine slot alone: its own default, and nothing drives it */
    assert_int_equal(engine_set(rig->engine, 25 * MS, head, ENGINE_ALL_CELLS, rig_param(rig, "gobo"), 1, &rig->why),
                     RIG_ESCRIPT);
    assert_string_equal(rig->why.text, "fixture 1 Lamp 1 has no parameter gobo");
    rig_set(rig, 25 * MS, head, "pan", 100);
    rig_frames(rig, 1);
    assert_int_equal(rig_level(rig, 0, 3), 255);
    assert_int_equal(rig_level(rig, 0, 1), 255);
}

static void out_slot_takes_one_octet_out_of_a_16_bit_fade(void **state)
{
    struct rig *rig = *state;
    uint32_t head = rig_fixture(rig, 1, rig_type(rig, "head", HAZARD_NONE, "pan pan+fine", 0, "", ""), NULL, 7, 1);
    rig_start(rig, 40);
    rig_fade(rig, 0, head, "pan", 100, 100 * MS);
    assert_int_equal(engine_slot(rig->engine, 0, 7, 1, 10, &rig->why), 0);
    rig_frames(rig, 3);                              /* 50 %: 0x8000 */
    assert_int_equal(rig_level(rig, 0, 1), 26);      /* 25.5 + 0.5 */
    assert_int_equal(rig_level(rig, 0, 2), 0x00);
    rig_frames(rig, 2);
    assert_int_equal(rig_level(rig, 0, 2), 0xff);
    rig_fade(rig, 125 * MS, head, "pan", 0, 50 * MS);        /* from 26 * 256 + 255 = 6911; half of it is 3455.5 -> 3456 = 0x0d80 */
    rig_frames(rig, 2);
    assert_int_equal(rig_level(rig, 0, 1), 0x0d);
    assert_int_equal(rig_level(rig, 0, 2), 0x80);
}

static void a_parameter_of_a_fixture_is_that_in_head_cells_and_tail(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "bar", HAZARD_NONE, "intensity", 3, "red intensity", "red speed");
    uint32_t bar = rig_fixture(rig, 1, type, NULL, 1, 100);
    rig_start(rig, 40);
    rig_set(rig, 0, bar, "red", 100);
    assert_int_equal(engine_set(rig->engine, 0, bar, 1, rig_param(rig, "intensity"), 100, &rig->why), 0);
    rig_frames(rig, 1);
    const int expected[] = { 0, 255, 0, 255, 255, 255, 0, 255, 0 };  /* head, 3 x (red, intensity), tail */
    for (int i = 0; i < 9; i++)
        assert_int_equal(rig_level(rig, 0, 100 + i), expected[i]);
    assert_int_equal(engine_set(rig->engine, 0, bar, 0, rig_param(rig, "speed"), 1, &rig->why), RIG_ESCRIPT);
    assert_string_equal(rig->why.text, "fixture 1 Lamp 1 has no parameter speed in its cells");
    assert_int_equal(engine_set(rig->engine, 0, bar, 3, rig_param(rig, "red"), 1, &rig->why), RIG_ESCRIPT);
    assert_string_equal(rig->why.text, "fixture 1 Lamp 1 has no cell 4: expected 1..3");
}

static void clear_puts_defaults_back(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "bar", HAZARD_NONE, "speed=40", 2, "red=10 pan=50 pan+fine", "");
    uint32_t bar = rig_fixture(rig, 1, type, NULL, 1, 1);
    rig_start(rig, 40);
    rig_set(rig, 0, bar, "red", 100);
    rig_set(rig, 0, bar, "pan", 100);
    rig_set(rig, 0, bar, "speed", 100);
    rig_frames(rig, 1);
    assert_int_equal(engine_clear(rig->engine, 25 * MS, bar, 1, &rig->why), 0);
    rig_frames(rig, 1);
    const int one[] = { 255, 255, 255, 255, 26, 0x80, 0x00 };
    for (int i = 0; i < 7; i++)
        assert_int_equal(rig_level(rig, 0, 1 + i), one[i]);
    assert_int_equal(engine_clear(rig->engine, 50 * MS, bar, ENGINE_ALL_CELLS, &rig->why), 0);
    rig_frames(rig, 1);
    const int all[] = { 102, 26, 0x80, 0x00, 26, 0x80, 0x00 };
    for (int i = 0; i < 7; i++)
        assert_int_equal(rig_level(rig, 0, 1 + i), all[i]);
}

static void fixtures_on_the_same_slots_share_them(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "dim", HAZARD_NONE, "intensity red", 0, "", "");
    uint32_t one = rig_fixture(rig, 1, type, NULL, 1, 1), two = rig_fixture(rig, 2, type, NULL, 1, 1);
    rig->show->fixtures[two].same_as = 1;
    rig_start(rig, 40);
    rig_fade(rig, 0, one, "intensity", 100, 100 * MS);
    rig_set(rig, 50 * MS, two, "intensity", 10);
    rig_set(rig, 50 * MS, one, "red", 100);
    rig_frames(rig, 2);
    assert_int_equal(rig_level(rig, 0, 1), 64);
    rig_frames(rig, 3);
    assert_int_equal(rig_level(rig, 0, 1), 26);
    assert_int_equal(rig_level(rig, 0, 2), 255);
}

static void universes_have_wire_numbers_and_priorities(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "dim", HAZARD_NONE, "intensity=100", 0, "", "");
    uint32_t count;
    rig_universe(rig, 1, 900, 120);
    rig_universe(rig, 2, SHOW_NONE, SHOW_NONE);
    rig_universe(rig, 3, SHOW_NONE, SHOW_NONE);
    rig_fixture(rig, 1, type, NULL, 1, 512);
    rig_fixture(rig, 2, type, NULL, 2, 1);
    rig_ungrant(rig, rig_fixture(rig, 3, type, NULL, 3, 1));
    rig_fixture(rig, 4, type, NULL, SHOW_NONE, SHOW_NONE);
    rig_ungrant(rig, rig_fixture(rig, 5, type, NULL, 1, 7));
    rig_start(rig, 40);
    const struct engine_universe *universes = engine_universes(rig->engine, &count);
    assert_int_equal(count, 2);
    assert_int_equal(universes[0].id, 2);
    assert_int_equal(universes[0].wire, 2);
    assert_int_equal(universes[0].priority, 100);
    assert_int_equal(universes[1].id, 1);
    assert_int_equal(universes[1].wire, 900);
    assert_int_equal(universes[1].priority, 120);
    assert_int_equal(universes[1].levels[511], 255);         /* at their defaults from the start, granted or not */
    assert_int_equal(universes[1].levels[6], 255);
    assert_int_equal(universes[1].levels[0], 0);
}

static void only_granted_slots_are_driven(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "dim", HAZARD_NONE, "intensity", 0, "", "");
    rig_fixture(rig, 1, type, NULL, 1, 1);
    uint32_t other = rig_fixture(rig, 2, type, NULL, 1, 2), loose = rig_fixture(rig, 3, type, NULL, SHOW_NONE, SHOW_NONE);
    rig_ungrant(rig, other);
    rig_start(rig, 40);
    uint16_t intensity = rig_param(rig, "intensity");
    assert_int_equal(engine_set(rig->engine, 0, other, ENGINE_ALL_CELLS, intensity, 1, &rig->why), RIG_ESCRIPT);
    assert_string_equal(rig->why.text, "fixture 2 Lamp 2 was not given to this script");
    assert_int_equal(engine_set(rig->engine, 0, 99, ENGINE_ALL_CELLS, intensity, 1, &rig->why), RIG_ESCRIPT);
    assert_int_equal(engine_set(rig->engine, 0, loose, ENGINE_ALL_CELLS, intensity, 1, &rig->why), 0);
    assert_int_equal(engine_slot(rig->engine, 0, 1, 1, 100, &rig->why), 0);
    assert_int_equal(engine_slot(rig->engine, 0, 1, 2, 100, &rig->why), RIG_ESCRIPT);
    assert_string_equal(rig->why.text, "universe 1 slot 2: no fixture that was given to this script is patched there");
    assert_int_equal(engine_slot(rig->engine, 0, 1, 513, 100, &rig->why), RIG_ESCRIPT);
    assert_string_equal(rig->why.text, "universe 1 slot 513: expected 1..512");
    assert_int_equal(engine_slot(rig->engine, 0, 2, 1, 100, &rig->why), RIG_ESCRIPT);
    assert_int_equal(engine_slot(rig->engine, 0, INT64_MIN, INT64_MIN, 100, &rig->why), RIG_ESCRIPT);
}

static void commands_outside_their_ranges_are_refused(void **state)
{
    struct rig *rig = *state;
    uint32_t lamp = rig_fixture(rig, 1, rig_type(rig, "dim", HAZARD_NONE, "intensity", 0, "", ""), NULL, 1, 1);
    rig_start(rig, 40);
    const double bad[] = { -0.001, 100.001, (double)NAN, (double)INFINITY, -(double)INFINITY };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        assert_int_equal(engine_set(rig->engine, 0, lamp, ENGINE_ALL_CELLS, 0, bad[i], &rig->why), RIG_ESCRIPT);
        assert_int_equal(engine_slot(rig->engine, 0, 1, 1, bad[i], &rig->why), RIG_ESCRIPT);
    }
    assert_int_equal(engine_set(rig->engine, -1, lamp, ENGINE_ALL_CELLS, 0, 1, &rig->why), RIG_ESCRIPT);
    assert_int_equal(engine_set(rig->engine, INT64_MAX, lamp, ENGINE_ALL_CELLS, 0, 1, &rig->why), RIG_ESCRIPT);
    assert_int_equal(engine_fade(rig->engine, 0, lamp, ENGINE_ALL_CELLS, 0, 1, -1, &rig->why), RIG_ESCRIPT);
    assert_int_equal(engine_fade(rig->engine, 0, lamp, ENGINE_ALL_CELLS, 0, 1, 86401 * SECOND, &rig->why), RIG_ESCRIPT);
    assert_string_equal(rig->why.text, "a fade of 86401.000 s: expected 0..86400");
    assert_int_equal(engine_set(rig->engine, 0, lamp, ENGINE_ALL_CELLS, 9999, 1, &rig->why), RIG_ESCRIPT);
    assert_int_equal(engine_set(rig->engine, 0, lamp, 0, 0, 1, &rig->why), RIG_ESCRIPT);
}

static void commands_ahead_of_time_are_carried_out_in_order_of_time(void **state)
{
    struct rig *rig = *state;
    uint32_t lamp = rig_fixture(rig, 1, rig_type(rig, "dim", HAZARD_NONE, "intensity", 0, "", ""), NULL, 1, 1);
    rig_start(rig, 40);
    rig_set(rig, 60 * MS, lamp, "intensity", 40);
    rig_set(rig, 30 * MS, lamp, "intensity", 20);
    rig_fade(rig, 0, lamp, "intensity", 100, SECOND);
    assert_int_equal(engine_fades_end(rig->engine, 0), SECOND);
    rig_frames(rig, 2);
    assert_int_equal(rig_level(rig, 0, 1), 6);       /* 2.5 %: 6.375 + 0.5 */
    rig_frames(rig, 1);
    assert_int_equal(rig_level(rig, 0, 1), 51);
    rig_frames(rig, 1);
    assert_int_equal(rig_level(rig, 0, 1), 102);
    for (uint32_t i = 0; i < 65536; i++)
        rig_set(rig, 10 * SECOND, lamp, "intensity", 0);
    assert_int_equal(engine_set(rig->engine, 10 * SECOND, lamp, ENGINE_ALL_CELLS, 0, 0, &rig->why), RIG_ESCRIPT);
}

static void fades_of_different_times_are_bounded(void **state)
{
    struct rig *rig = *state;
    enum { FIXTURES = 200, SLOTS = FIXTURES * 512 };
    const char *type = rig_type(rig, "strip", HAZARD_NONE, "", 512, "r", "");
    uint32_t *grant = calloc(FIXTURES, sizeof *grant);
    for (uint32_t i = 0; i < FIXTURES; i++) {
        rig->grant_count = 0;
        grant[i] = rig_fixture(rig, i + 1, type, NULL, i + 1, 1);
    }
    assert_int_equal(show_index(rig->show), 0);
    struct engine_options options = { .rate_hz = 40, .fixtures = grant, .fixture_count = FIXTURES };
    assert_int_equal(engine_new(rig->show, &options, &rig->engine, &rig->why), 0);
    int err = 0, made = 0;
    for (; made < SLOTS && !err; made++)
        err = engine_fade(rig->engine, 0, grant[made / 512], (uint32_t)made % 512, 0, 100, SECOND + made, &rig->why);
    assert_int_equal(err, RIG_ESCRIPT);
    assert_int_equal(made, 65536 + 1);
    assert_string_equal(rig->why.text, "more than 65536 fades of different starts or durations at a time");
    rig_frames(rig, 42);
    assert_int_equal(rig_level(rig, 0, 1), 255);
    free(grant);
}

static void changed_marks_universes_that_changed(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "dim", HAZARD_NONE, "intensity", 0, "", "");
    uint32_t one = rig_fixture(rig, 1, type, NULL, 1, 1), count;
    rig_fixture(rig, 2, type, NULL, 2, 1);
    rig_start(rig, 40);
    const struct engine_universe *universes = engine_universes(rig->engine, &count);
    rig_frames(rig, 1);
    assert_false(universes[0].changed);
    rig_set(rig, 25 * MS, one, "intensity", 50);
    rig_frames(rig, 1);
    assert_true(universes[0].changed);
    assert_false(universes[1].changed);
    rig_set(rig, 50 * MS, one, "intensity", 50.1);   /* 127.755 -> 128 again */
    rig_frames(rig, 1);
    assert_false(universes[0].changed);
}

static void the_end_holds_the_defaults(void **state)
{
    struct rig *rig = *state;
    uint32_t lamp = rig_fixture(rig, 1, rig_type(rig, "dim", HAZARD_NONE, "intensity=30", 0, "", ""), NULL, 1, 1);
    rig_start(rig, 40);
    rig_fade(rig, 0, lamp, "intensity", 100, 50 * MS);
    rig_frames(rig, 2);
    engine_begin_end(rig->engine);
    rig_frames(rig, 1);
    assert_int_equal(rig_level(rig, 0, 1), 77);      /* 76.5 + 0.5 */
    rig_set(rig, 75 * MS, lamp, "intensity", 100);
    rig_frames(rig, 2);
    assert_int_equal(rig_level(rig, 0, 1), 77);
}

static void an_unsound_show_is_refused(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "dim", HAZARD_NONE, "intensity", 0, "", "");
    uint32_t lamp = rig_fixture(rig, 1, type, NULL, 1, 513);
    assert_int_equal(rig_try_start(rig, 40, false, NULL, 0), RIG_EINPUT);
    assert_string_equal(rig->why.text, "fixture 1 Lamp 1: slots 513..513, expected 1..512");
    rig->show->fixtures[lamp].address = 0;
    assert_int_equal(rig_try_start(rig, 40, false, NULL, 0), RIG_EINPUT);
    rig->show->fixtures[lamp].address = 1;
    rig->show->fixtures[lamp].universe = 64000;
    assert_int_equal(rig_try_start(rig, 40, false, NULL, 0), RIG_EINPUT);
    assert_string_equal(rig->why.text, "universe 64000: wire number 64000, expected 1..63999");
    rig->show->fixtures[lamp].universe = 1;
    rig->show->fixtures[lamp].type = "none";
    assert_int_equal(rig_try_start(rig, 40, false, NULL, 0), RIG_EINPUT);
    assert_string_equal(rig->why.text, "fixture 1 Lamp 1: type none mode m does not exist");
    rig->show->fixtures[lamp].type = type;
    const double rates[] = { 0.99, 44.01, (double)NAN, 0, -40 };
    for (size_t i = 0; i < sizeof rates / sizeof *rates; i++)
        assert_int_equal(rig_try_start(rig, rates[i], false, NULL, 0), RIG_EUSAGE);
    rig_universe(rig, 2, 1, SHOW_NONE);
    rig_fixture(rig, 2, type, NULL, 2, 1);
    assert_int_equal(rig_try_start(rig, 40, false, NULL, 0), RIG_EINPUT);
    assert_string_equal(rig->why.text, "universes 1 and 2 both have wire number 1");
    rig->show->fixtures[1].universe = 3;
    rig->show->fixtures[1].id = 1;
    assert_int_equal(rig_try_start(rig, 40, false, NULL, 0), RIG_EINPUT);
    assert_string_equal(rig->why.text, "fixture 1 Lamp 2: two fixtures have this id");
}

static void many_cells_without_slots_cost_nothing(void **state)
{
    struct rig *rig = *state;
    uint32_t lamp = rig_fixture(rig, 1, rig_type(rig, "dim", HAZARD_NONE, "intensity", 1000000000, "", ""), NULL, 1, 512);
    rig_start(rig, 40);
    rig_set(rig, 0, lamp, "intensity", 100);
    rig_frames(rig, 1);
    assert_int_equal(rig_level(rig, 0, 512), 255);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_set_is_in_the_first_frame_at_or_after_it),
        TEST(a_microsecond_after_a_frame_is_at_it),
        TEST(a_fade_follows_its_formula),
        TEST(a_fade_over_a_running_fade_starts_from_its_value_then),
        TEST(a_fade_started_between_frames_starts_from_the_value_of_that_moment),
        TEST(the_last_command_wins_and_ends_a_fade),
        TEST(a_16_bit_value_uses_both_slots),
        TEST(fine_pairs_with_its_coarse_partner_wherever_it_stands),
        TEST(out_slot_takes_one_octet_out_of_a_16_bit_fade),
        TEST(a_parameter_of_a_fixture_is_that_in_head_cells_and_tail),
        TEST(clear_puts_defaults_back),
        TEST(fixtures_on_the_same_slots_share_them),
        TEST(universes_have_wire_numbers_and_priorities),
        TEST(only_granted_slots_are_driven),
        TEST(commands_outside_their_ranges_are_refused),
        TEST(commands_ahead_of_time_are_carried_out_in_order_of_time),
        TEST(fades_of_different_times_are_bounded),
        TEST(changed_marks_universes_that_changed),
        TEST(the_end_holds_the_defaults),
        TEST(an_unsound_show_is_refused),
        TEST(many_cells_without_slots_cost_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
