/* Memory runs out at every place where it can: one clear error, nothing leaked, and no slot left anywhere but at its default when
 * the run is over. The linker puts the functions below between the library and the C library (tests.cmake). */
#include "rig.h"

static long memory_left = -1;        /* -1: never fail; 0: the next one fails, and only that one */

static bool fails(void)
{
    return memory_left >= 0 && memory_left-- == 0;
}

void *__real_malloc(size_t size);
void *__wrap_malloc(size_t size);
void *__wrap_malloc(size_t size) { return fails() ? NULL : __real_malloc(size); }
void *__real_calloc(size_t count, size_t size);
void *__wrap_calloc(size_t count, size_t size);
void *__wrap_calloc(size_t count, size_t size) { return fails() ? NULL : __real_calloc(count, size); }
void *__real_realloc(void *old, size_t size);
void *__wrap_realloc(void *old, size_t size);
void *__wrap_realloc(void *old, size_t size) { return fails() ? NULL : __real_realloc(old, size); }

static uint32_t make_rig(struct rig *rig)
{
    rig_init(rig);
    rig_site(rig, "quay");
    const char *type = rig_type(rig, "bar", HAZARD_NONE, "intensity pan pan+fine", 3, "red green blue", "strobe");
    rig_fixture(rig, 2, type, NULL, 2, 1);
    uint32_t bar = rig_fixture(rig, 1, type, "quay", 1, 1);
    assert_int_equal(show_index(rig->show), 0);
    return bar;
}

static void an_engine_without_memory_is_refused(void **state)
{
    (void)state;
    bool whole = false;
    for (long left = 0; !whole; left++) {
        struct rig rig;
        make_rig(&rig);
        struct engine_options options = { .rate_hz = 40, .fixtures = rig.grant, .fixture_count = rig.grant_count };
        memory_left = left;
        int err = engine_new(rig.show, &options, &rig.engine, &rig.why);
        whole = memory_left >= 0;
        memory_left = -1;
        assert_int_equal(err, whole ? 0 : RIG_ENOMEM);
        if (!whole) {
            assert_null(rig.engine);
            assert_int_equal(rig.why.code, RIG_ENOMEM);
            assert_non_null(strstr(rig.why.text, "out of memory"));
        }
        rig_fini(&rig);
        assert_true(left < 1000);
    }
}

static void a_run_that_runs_out_of_memory_still_goes_back_to_the_defaults(void **state)
{
    (void)state;
    bool whole = false;
    int failed = 0;
    for (long left = 0; !whole; left++) {
        struct rig rig;
        struct engine_report report;
        uint32_t bar = make_rig(&rig);
        const struct step script[] = {
            { STEP_FADE, .fixture = bar, .text = "pan", .percent = 100, .duration_s = 0.2 },
            { STEP_FADE, .fixture = bar, .text = "red", .percent = 100, .duration_s = 0.3 },
            { STEP_SET, .fixture = bar, .text = "strobe", .percent = 100 }, { STEP_SAY, .text = "watch" },
            { STEP_WAIT, .seconds = 0.1 }, { STEP_ASK, .fixture = bar, .text = "Lit?" },
            { STEP_FADE, .fixture = bar, .text = "pan", .percent = 0, .duration_s = 0.1 }, { STEP_WAIT, .seconds = 0.15 },
            { .kind = STEP_DONE } };
        rig_start(&rig, 40);
        struct steps steps = { .rig = &rig, .steps = script };
        struct engine_player player = steps_player(&steps);
        struct engine_play play = { .engine = rig.engine, .player = &player, .trace = fopen("/dev/null", "w") };
        memory_left = left;
        int err = engine_play_dry(&play, &report, &rig.why);
        whole = memory_left >= 0;
        memory_left = -1;
        assert_true(err == 0 || rig.why.text[0]);
        if (whole)
            assert_int_equal(err, 0);
        failed += err != 0;
        for (int universe = 0; universe < 2; universe++)
            for (int slot = 1; slot <= 512; slot++)
                assert_int_equal(rig_level(&rig, (uint32_t)universe, slot), 0);
        fclose(play.trace);
        engine_report_fini(&report);
        rig_fini(&rig);
        assert_true(left < 1000);
    }
    assert_true(failed >= 5);                        /* output, trace, fades, answers */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_engine_without_memory_is_refused),
        cmocka_unit_test(a_run_that_runs_out_of_memory_still_goes_back_to_the_defaults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
