/* What no script can pass, design section 8: flashes of cells, fixtures and sites, strobe slots, hazards. Levels and luminances
 * are worked out by hand from the formulas there. */
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

#define REFUSED_NEVER (-1)
#define ALL ENGINE_ALL_CELLS

/* One target that is switched at 5 Hz: on at frames 0-3, off at 4-7, … */
struct target { uint32_t fixture, cell; const char *param; double low, high; };

/* @return the frame that is refused within 2 s */
static int flash(struct rig *rig, const struct target *targets, int count)
{
    for (int frame = 0; frame < 80; frame++) {
        for (int t = 0; t < count && frame % 4 == 0; t++)
            assert_int_equal(engine_set(rig->engine, frame * 25 * MS, targets[t].fixture, targets[t].cell,
                                        rig_param(rig, targets[t].param), frame / 4 % 2 ? targets[t].low : targets[t].high,
                                        &rig->why),
                             0);
        if (engine_next_frame(rig->engine) == ENGINE_FRAME_REFUSED)
            return frame;
    }
    return REFUSED_NEVER;
}

static const char *violation(const struct rig *rig)
{
    static char text[300];
    assert_non_null(engine_violation(rig->engine));
    size_t length = engine_violation_text(rig->engine, text, sizeof text);
    assert_int_equal(length, strlen(text));
    return text;
}

static void a_cell_that_flashes_is_refused(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "bar", HAZARD_NONE, "", 12, "intensity red green blue white", "");
    uint32_t bar = rig_fixture(rig, 101, type, "quay", 1, 1);
    rig_site(rig, "quay");
    rig_start(rig, 40);
    rig_set(rig, 0, bar, "white", 100);
    const struct target target = { bar, 2, "intensity", 0, 100 };    /* a twelfth of the mean is under 10 % */
    assert_int_equal(flash(rig, &target, 1), 28);
    assert_string_equal(violation(rig),
                        "fixture 101 Lamp 101, cell 3: 4 flashes between 0.000 s and 0.700 s; 3 in any second are allowed");
    const struct engine_violation *v = engine_violation(rig->engine);
    assert_int_equal(v->kind, VIOLATION_GENERAL_FLASH);
    assert_int_equal(v->of, VIOLATION_CELL);
    assert_int_equal(v->fixture, bar);
    assert_int_equal(v->cell, 2);
    assert_int_equal(v->count, 4);
    assert_true(v->from_s == 0 && v->to_s == 0.7);
    assert_int_equal(rig_level(rig, 0, 11), 255);    /* the levels before stay */
    assert_int_equal(engine_next_frame(rig->engine), ENGINE_FRAME_REFUSED);
    engine_begin_end(rig->engine);
    assert_int_equal(engine_next_frame(rig->engine), ENGINE_FRAME_SENT);
    assert_int_equal(rig_level(rig, 0, 11), 0);      /* the guard lets the way back pass */
}

/* Cell after cell flashes once, 0.1 s on and 0.1 s off: no cell flashes often, but their mean does. */
static void a_mean_of_cells_that_flashes_is_refused(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "bar", HAZARD_NONE, "", 4, "white", "");
    uint32_t bar = rig_fixture(rig, 1, type, "quay", 1, 1);
    rig_site(rig, "quay");
    rig_start(rig, 40);
    int refused = REFUSED_NEVER;
    for (int frame = 0; frame < 80 && refused < 0; frame++) {
        if (frame % 4 == 0)
            assert_int_equal(engine_set(rig->engine, frame * 25 * MS, bar, (uint32_t)(frame / 8 % 4), rig_param(rig, "white"),
                                        frame / 4 % 2 ? 0 : 100, &rig->why), 0);
        if (engine_next_frame(rig->engine) == ENGINE_FRAME_REFUSED)
            refused = frame;
    }
    assert_int_equal(refused, 28);                   /* a quarter of the mean each time */
    assert_string_equal(
        violation(rig),
        "fixture 1 Lamp 1, mean of its cells: 4 flashes between 0.000 s and 0.700 s; 3 in any second are allowed");
}

static int one_after_the_other(struct rig *rig, const uint32_t *fixtures, int count)
{
    for (int frame = 0; frame < 80; frame++) {
        if (frame % 4 == 0)
            rig_set(rig, frame * 25 * MS, fixtures[frame / 8 % count], "white", frame / 4 % 2 ? 0 : 100);
        if (engine_next_frame(rig->engine) == ENGINE_FRAME_REFUSED)
            return frame;
    }
    return REFUSED_NEVER;
}

static void a_mean_of_a_site_that_flashes_is_refused(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "par", HAZARD_NONE, "white", 0, "", "");
    uint32_t pars[4];
    rig_site(rig, "quay");
    for (int i = 0; i < 4; i++)
        pars[i] = rig_fixture(rig, i + 1, type, "quay", i % 2 + 1, i + 1);
    rig_start(rig, 40);
    assert_int_equal(one_after_the_other(rig, pars, 4), 28);
    assert_string_equal(
        violation(rig),
        "site quay, mean of its fixtures: 4 flashes between 0.000 s and 0.700 s; 3 in any second are allowed");
}

static void fixtures_of_other_sites_and_without_light_are_not_in_a_site_mean(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "par", HAZARD_NONE, "white", 0, "", "");
    const char *dark = rig_type(rig, "motor", HAZARD_NONE, "speed", 0, "", "");
    uint32_t pars[4];
    rig_site(rig, "quay");
    rig_site(rig, "barge");
    for (int i = 0; i < 4; i++)
        pars[i] = rig_fixture(rig, i + 1, type, "quay", 1, i + 1);
    for (int i = 0; i < 30; i++) {                   /* counted in, they would make each change 1 in 34 */
        rig_fixture(rig, 100 + i, dark, "quay", 2, i + 1);
        if (i < 20)
            rig_fixture(rig, 200 + i, type, "barge", 3, i + 1);
    }
    rig_start(rig, 40);
    assert_int_equal(one_after_the_other(rig, pars, 4), 28);
}

static void a_large_site_averages_out(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "par", HAZARD_NONE, "white", 0, "", "");
    uint32_t pars[11];
    rig_site(rig, "quay");
    for (int i = 0; i < 11; i++)                     /* each is a eleventh: under 10 % */
        pars[i] = rig_fixture(rig, i + 1, type, "quay", 1, i + 1);
    rig_start(rig, 40);
    assert_int_equal(one_after_the_other(rig, pars, 11), REFUSED_NEVER);
}

static void fixtures_without_a_site_are_taken_together(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "par", HAZARD_NONE, "white", 0, "", "");
    uint32_t pars[4];
    for (int i = 0; i < 4; i++)
        pars[i] = rig_fixture(rig, i + 1, type, NULL, 1, i + 1);
    rig_start(rig, 40);
    assert_int_equal(one_after_the_other(rig, pars, 4), 28);
    assert_string_equal(violation(rig),
                        "fixtures without a site, mean of its fixtures: 4 flashes between 0.000 s and 0.700 s; "
                        "3 in any second are allowed");
}

/* What a parameter is worth, by the least level that makes a 10 % change (8 bit, by hand):
 * red 0.2126: 48 % x 0.2126 = 0.102; 46 % (117 / 255 = 0.4588): 0.0975. green 0.7152: 14 % (36): 0.101; 13.5 % (34): 0.0954.
 * white 1: 10 % (26): 0.102; 9.9 % (25): 0.098. amber 0.6: 17 % (43): 0.1012; 16.4 % (42): 0.0988. lime 0.7: 14.4 % (37): 0.1016;
 * 14.2 % (36): 0.0988. blue 0.0722 never makes 10 % alone. */
static void colours_have_their_weights(void **state)
{
    (void)state;
    const struct { const char *param; double level; int refused; } rows[] = {
        { "green", 14, 28 }, { "green", 13.5, REFUSED_NEVER }, { "blue", 100, REFUSED_NEVER }, { "white", 10, 28 },
        { "white", 9.9, REFUSED_NEVER }, { "amber", 17, 28 }, { "amber", 16.4, REFUSED_NEVER }, { "lime", 14.4, 28 },
        { "lime", 14.2, REFUSED_NEVER }, { "warm_white", 10, 28 }, { "cool_white", 10, 28 }, { "pan", 100, REFUSED_NEVER },
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        for (int quick = 0; quick < 2; quick++) {
            struct rig rig;
            rig_init(&rig);
            /* with and without amber and lime the engine goes different ways */
            bool rare = strcmp(rows[i].param, "amber") == 0 || strcmp(rows[i].param, "lime") == 0 ||
                        strstr(rows[i].param, "_white");
            const char *type = rig_type(&rig, "par", HAZARD_NONE, quick && !rare ? "red green blue white pan"
                                        : "red green blue white amber lime warm_white cool_white pan", 0, "", "");
            struct target target = { rig_fixture(&rig, 1, type, NULL, 1, 1), ALL, rows[i].param, 0, rows[i].level };
            rig_start(&rig, 40);
            assert_int_equal(flash(&rig, &target, 1), rows[i].refused);
            rig_fini(&rig);
        }
}

static void red_makes_general_flashes_by_its_weight(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "par", HAZARD_NONE, "red green blue", 0, "", "");
    uint32_t par = rig_fixture(rig, 1, type, NULL, 1, 1);
    rig_start(rig, 40);
    rig_set(rig, 0, par, "green", 20);               /* 50 % red, 20 % green: not saturated (0.5 < 0.8 x 0.7) */
    rig_set(rig, 0, par, "blue", 10);
    struct target target = { par, ALL, "red", 1, 49 };       /* 0.48 x 0.2126 = 0.102 */
    assert_int_equal(flash(rig, &target, 1), 28);
    assert_int_equal(engine_violation(rig->engine)->kind, VIOLATION_GENERAL_FLASH);
}

static void the_sum_of_colours_is_one_at_most(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "par", HAZARD_NONE, "white=100 amber", 0, "", "");
    uint32_t par = rig_fixture(rig, 1, type, NULL, 1, 1);
    rig_start(rig, 40);
    struct target target = { par, ALL, "amber", 0, 100 };
    assert_int_equal(flash(rig, &target, 1), REFUSED_NEVER);
}

static void a_dim_red_is_a_red_flash_only(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "par", HAZARD_NONE, "intensity red green blue", 0, "", "");
    uint32_t par = rig_fixture(rig, 1, type, NULL, 1, 1);
    rig_start(rig, 40);
    rig_set(rig, 0, par, "red", 100);
    struct target target = { par, ALL, "intensity", 0, 40 };         /* luminance 0.085, redness 0.4, saturated; to black and back */
    assert_int_equal(flash(rig, &target, 1), 28);
    assert_string_equal(violation(rig),
                        "fixture 1 Lamp 1: 4 red flashes between 0.000 s and 0.700 s; 3 in any second are allowed");
    assert_int_equal(engine_violation(rig->engine)->kind, VIOLATION_RED_FLASH);
}

static void a_dim_pink_is_no_red_flash(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "par", HAZARD_NONE, "intensity red green blue", 0, "", "");
    uint32_t par = rig_fixture(rig, 1, type, NULL, 1, 1);
    rig_start(rig, 40);
    rig_set(rig, 0, par, "red", 100);
    rig_set(rig, 0, par, "blue", 26);                /* red share 1 / 1.26 = 0.794 */
    struct target target = { par, ALL, "intensity", 0, 40 };
    assert_int_equal(flash(rig, &target, 1), REFUSED_NEVER);
}

static void red_of_a_mean_and_of_a_site_is_judged(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "bar", HAZARD_NONE, "", 4, "red green blue", "");
    uint32_t bar = rig_fixture(rig, 1, type, NULL, 1, 1);
    rig_start(rig, 40);
    int refused = REFUSED_NEVER;
    for (int frame = 0; frame < 80 && refused < 0; frame++) {        /* 36 % red: a quarter is 0.09 of redness, 0.019 of luminance */
        if (frame % 4 == 0)
            assert_int_equal(engine_set(rig->engine, frame * 25 * MS, bar, (uint32_t)(frame / 8 % 4), rig_param(rig, "red"),
                                        frame / 4 % 2 ? 0 : 36, &rig->why), 0);
        if (engine_next_frame(rig->engine) == ENGINE_FRAME_REFUSED)
            refused = frame;
    }
    assert_int_equal(refused, 28);
    assert_string_equal(violation(rig), "fixture 1 Lamp 1, mean of its cells: 4 red flashes between 0.000 s and 0.700 s; "
                                        "3 in any second are allowed");
}

static void intensity_of_the_head_is_that_of_every_cell(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "bar", HAZARD_NONE, "intensity", 3, "intensity white", "");
    uint32_t bar = rig_fixture(rig, 1, type, NULL, 1, 1);
    rig_start(rig, 40);
    rig_set(rig, 0, bar, "white", 100);
    rig_set(rig, 0, bar, "intensity", 100);          /* head and cells */
    rig_frames(rig, 1);
    for (int frame = 1; frame < 28; frame++) {       /* the head's slot alone, at 5 Hz */
        if (frame % 4 == 0)
            assert_int_equal(engine_slot(rig->engine, frame * 25 * MS, 1, 1, frame / 4 % 2 ? 0 : 100, &rig->why), 0);
        rig_frames(rig, 1);
    }
    assert_int_equal(engine_slot(rig->engine, 28 * 25 * MS, 1, 1, 0, &rig->why), 0);
    assert_int_equal(engine_next_frame(rig->engine), ENGINE_FRAME_REFUSED);
    assert_int_equal(engine_violation(rig->engine)->of, VIOLATION_CELL);
    assert_int_equal(engine_violation(rig->engine)->cell, 0);
}

static void a_dark_head_hides_its_cells(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "bar", HAZARD_NONE, "intensity", 3, "white", "");
    uint32_t bar = rig_fixture(rig, 1, type, NULL, 1, 1);
    rig_start(rig, 40);
    struct target target = { bar, ALL, "white", 0, 100 };
    assert_int_equal(flash(rig, &target, 1), REFUSED_NEVER);
}

static void the_heads_own_colours_are_a_light_of_their_own(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "eye", HAZARD_NONE, "intensity=100 white", 12, "green", "");
    uint32_t eye = rig_fixture(rig, 1, type, NULL, 1, 1);
    rig_start(rig, 40);
    struct target target = { eye, ALL, "white", 0, 100 };
    assert_int_equal(flash(rig, &target, 1), 28);
    assert_string_equal(violation(rig),
                        "fixture 1 Lamp 1: 4 flashes between 0.000 s and 0.700 s; 3 in any second are allowed");
}

static void cells_without_colours_have_the_heads(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "bar", HAZARD_NONE, "green", 12, "intensity", "");
    uint32_t bar = rig_fixture(rig, 1, type, NULL, 1, 1);
    rig_start(rig, 40);
    rig_set(rig, 0, bar, "green", 13.5);             /* 34 / 255 x 0.7152 = 0.0954 */
    struct target target = { bar, 5, "intensity", 0, 100 };
    assert_int_equal(flash(rig, &target, 1), REFUSED_NEVER);
    rig_set(rig, 3 * SECOND, bar, "green", 14);
    for (int frame = 80; frame < 120; frame++)
        engine_next_frame(rig->engine);
    int64_t t = 3 * SECOND;
    int refused = REFUSED_NEVER;
    for (int change = 0; change < 8 && refused < 0; change++, t += 25 * MS) {
        assert_int_equal(engine_set(rig->engine, t, bar, 5, rig_param(rig, "intensity"), change % 2 ? 0 : 100, &rig->why), 0);
        if (engine_next_frame(rig->engine) == ENGINE_FRAME_REFUSED)
            refused = change;
    }
    assert_int_equal(refused, 7);
}

static void sixteen_bit_levels_are_judged_whole(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "par", HAZARD_NONE, "intensity intensity+fine", 0, "", "");
    uint32_t par = rig_fixture(rig, 1, type, NULL, 1, 1);
    rig_start(rig, 40);
    struct target under = { par, ALL, "intensity", 0, 9.999 };       /* 6553 / 65535 = 0.09999 */
    assert_int_equal(flash(rig, &under, 1), REFUSED_NEVER);
    struct target exact = { par, ALL, "intensity", 0, 10.0001 };     /* 6554 / 65535 = 0.100008; 8 bit would be 26 or 25 */
    int64_t t = 2 * SECOND;
    for (int change = 0; change < 7; change++, t += 25 * MS) {
        rig_set(rig, t, par, "intensity", change % 2 ? 0 : exact.high);
        rig_frames(rig, 1);
    }
    rig_set(rig, t, par, "intensity", 0);
    assert_int_equal(engine_next_frame(rig->engine), ENGINE_FRAME_REFUSED);
}

static void a_fade_is_no_flash_until_it_swings_too_fast(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "par", HAZARD_NONE, "intensity", 0, "", "");
    uint32_t par = rig_fixture(rig, 1, type, NULL, 1, 1);
    rig_start(rig, 40);
    for (int i = 0; i < 20; i++)                     /* 3 Hz: up in 1/6 s, down in 1/6 s */
        rig_fade(rig, i * SECOND / 6, par, "intensity", i % 2 ? 0 : 100, SECOND / 6);
    rig_frames(rig, 140);
    for (int i = 0; i < 20; i++)                     /* 4 Hz */
        rig_fade(rig, 4 * SECOND + i * SECOND / 8, par, "intensity", i % 2 ? 0 : 100, SECOND / 8);
    int refused = REFUSED_NEVER;
    for (int frame = 140; frame < 240 && refused < 0; frame++)
        if (engine_next_frame(rig->engine) == ENGINE_FRAME_REFUSED)
            refused = frame;
    /* 20 % a frame: each change reaches 10 % a frame after its turn, in frames 161, 166, … 196. The eighth is a fall, which is at
     * 0.80 then, so it counts a frame later, when it is under 0.80. */
    assert_int_equal(refused, 197);
    assert_true(engine_violation(rig->engine)->from_s == 161 / 40.0 && engine_violation(rig->engine)->to_s == 196 / 40.0);
}

static void the_guard_starts_from_the_defaults(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "par", HAZARD_NONE, "intensity=100", 0, "", "");
    uint32_t par = rig_fixture(rig, 1, type, NULL, 1, 1);
    rig_start(rig, 40);
    struct target target = { par, ALL, "intensity", 100, 0 };
    assert_int_equal(flash(rig, &target, 1), 28);    /* the first change is from the default, in frame 0 */
}

static void fixtures_that_were_not_granted_are_watched_too(void **state)
{
    struct rig *rig = *state;
    const char *head = rig_type(rig, "head", HAZARD_NONE, "pan", 0, "", ""),
               *par = rig_type(rig, "par", HAZARD_NONE, "intensity", 0, "", "");
    uint32_t mover = rig_fixture(rig, 1, head, NULL, 1, 1);
    rig_ungrant(rig, rig_fixture(rig, 2, par, NULL, 1, 1));          /* patched on the same slot by mistake */
    rig_start(rig, 40);
    struct target target = { mover, ALL, "pan", 0, 100 };
    assert_int_equal(flash(rig, &target, 1), 28);
    assert_string_equal(violation(rig),
                        "fixture 2 Lamp 2: 4 flashes between 0.000 s and 0.700 s; 3 in any second are allowed");
}

static void allow_flash_lifts_the_limit_and_the_strobe_lock(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "par", HAZARD_NONE, "intensity strobe=50", 0, "", "");
    uint32_t par = rig_fixture(rig, 1, type, NULL, 1, 1);
    assert_int_equal(rig_try_start(rig, 40, true, NULL, 0), 0);
    assert_int_equal(rig_level(rig, 0, 2), 128);     /* its default goes out */
    rig_set(rig, 0, par, "strobe", 100);
    struct target target = { par, ALL, "intensity", 0, 100 };
    assert_int_equal(flash(rig, &target, 1), REFUSED_NEVER);
    assert_int_equal(rig_level(rig, 0, 2), 255);
    assert_null(engine_violation(rig->engine));
    engine_begin_end(rig->engine);
    rig_frames(rig, 1);
    assert_int_equal(rig_level(rig, 0, 2), 128);
}

static void strobe_and_shutter_slots_are_held_at_0(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "par", HAZARD_NONE,
                                "strobe=50 shutter=100 strobe_rate=10 shutter2 shutter2+fine intensity", 0, "", "");
    const char *names[] = { "strobe", "shutter", "strobe_rate", "shutter2" };
    uint32_t par = rig_fixture(rig, 1, type, NULL, 1, 1);
    rig_start(rig, 40);
    for (int i = 0; i < 4; i++) {
        rig_set(rig, 0, par, names[i], 100);
        rig_fade(rig, 0, par, names[i], 100, SECOND);
    }
    assert_int_equal(engine_slot(rig->engine, 0, 1, 1, 100, &rig->why), 0);
    assert_int_equal(engine_clear(rig->engine, 0, par, ALL, &rig->why), 0);
    assert_int_equal(engine_fades_end(rig->engine, 0), 0);
    rig_frames(rig, 50);
    for (int slot = 1; slot <= 5; slot++)
        assert_int_equal(rig_level(rig, 0, slot), 0);
    engine_begin_end(rig->engine);
    rig_frames(rig, 1);
    for (int slot = 1; slot <= 5; slot++)
        assert_int_equal(rig_level(rig, 0, slot), 0);
}

static void a_hazard_stays_at_its_defaults_until_it_is_armed(void **state)
{
    struct rig *rig = *state;
    const char *type = rig_type(rig, "flame", HAZARD_FLAME, "intensity=20 pan", 0, "", "");
    uint32_t one = rig_fixture(rig, 1, type, NULL, 1, 1), two = rig_fixture(rig, 2, type, NULL, 1, 11);
    assert_int_equal(rig_try_start(rig, 40, false, &two, 1), 0);
    rig_set(rig, 0, one, "intensity", 100);
    rig_fade(rig, 0, one, "pan", 100, SECOND);
    assert_int_equal(engine_slot(rig->engine, 0, 1, 2, 100, &rig->why), 0);
    rig_set(rig, 0, two, "intensity", 100);
    rig_frames(rig, 41);
    assert_int_equal(rig_level(rig, 0, 1), 51);
    assert_int_equal(rig_level(rig, 0, 2), 0);
    assert_int_equal(rig_level(rig, 0, 11), 255);
    engine_begin_end(rig->engine);
    rig_frames(rig, 1);
    assert_int_equal(rig_level(rig, 0, 11), 51);
}

/* The slots of a hazard are not driven through another fixture that is patched over them, whichever was granted. */
static void a_hazard_is_not_driven_through_another_fixture(void **state)
{
    (void)state;
    for (int order = 0; order < 2; order++)
        for (int granted = 0; granted < 2; granted++) {
            struct rig rig;
            rig_init(&rig);
            const char *flame = rig_type(&rig, "flame", HAZARD_FLAME, "fuel=10", 0, "", "");
            const char *par = rig_type(&rig, "par", HAZARD_NONE, "intensity=50 red", 0, "", "");
            uint32_t hazard = order ? rig_fixture(&rig, 1, flame, NULL, 1, 2) : 0;
            uint32_t lamp = rig_fixture(&rig, 2, par, NULL, 1, 2);
            if (!order)
                hazard = rig_fixture(&rig, 3, flame, NULL, 1, 2);
            if (!granted)
                rig_ungrant(&rig, hazard);
            rig_start(&rig, 40);
            rig_set(&rig, 0, lamp, "intensity", 100);
            rig_set(&rig, 0, lamp, "red", 100);
            assert_int_equal(engine_slot(rig.engine, 0, 1, 2, 100, &rig.why), 0);
            rig_frames(&rig, 1);
            assert_int_equal(rig_level(&rig, 0, 2), 26);     /* the hazard's default */
            assert_int_equal(rig_level(&rig, 0, 3), 255);
            rig_fini(&rig);
        }
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_cell_that_flashes_is_refused),
        TEST(a_mean_of_cells_that_flashes_is_refused),
        TEST(a_mean_of_a_site_that_flashes_is_refused),
        TEST(fixtures_of_other_sites_and_without_light_are_not_in_a_site_mean),
        TEST(a_large_site_averages_out),
        TEST(fixtures_without_a_site_are_taken_together),
        cmocka_unit_test(colours_have_their_weights),
        TEST(red_makes_general_flashes_by_its_weight),
        TEST(the_sum_of_colours_is_one_at_most),
        TEST(a_dim_red_is_a_red_flash_only),
        TEST(a_dim_pink_is_no_red_flash),
        TEST(red_of_a_mean_and_of_a_site_is_judged),
        TEST(intensity_of_the_head_is_that_of_every_cell),
        TEST(a_dark_head_hides_its_cells),
        TEST(the_heads_own_colours_are_a_light_of_their_own),
        TEST(cells_without_colours_have_the_heads),
        TEST(sixteen_bit_levels_are_judged_whole),
        TEST(a_fade_is_no_flash_until_it_swings_too_fast),
        TEST(the_guard_starts_from_the_defaults),
        TEST(fixtures_that_were_not_granted_are_watched_too),
        TEST(allow_flash_lifts_the_limit_and_the_strobe_lock),
        TEST(strobe_and_shutter_slots_are_held_at_0),
        TEST(a_hazard_stays_at_its_defaults_until_it_is_armed),
        cmocka_unit_test(a_hazard_is_not_driven_through_another_fixture),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
