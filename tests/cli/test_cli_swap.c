/* rigcall swap: what it says, what it writes, what it refuses. Every expected number is worked out by hand from the rig in
 * plan_test.h: T9 takes over code (1 setting) and two lanes (2 settings), so that nothing is keyed into a fixture. */
#include "plan_test.h"

static char *rig(const struct place *place, const char *text)
{
    return program_file(place->folder, "rig.show.lua", text);
}

static void a_spare_takes_over_without_a_touch(void **state)
{
    const struct place *place = *state;
    char *show = rig(place, RIG(SPARE, THREE));
    json_t *plan = json_from(RUN("swap", show, "--out", "T1", "--format", "json"), 0);
    assert_int_equal(number_in(plan, "touches"), 0);
    assert_int_equal(number_in(plan, "settings"), 3);
    assert_int_equal(number_in(plan, "dark"), 0);
    assert_int_equal(number_in(plan, "disturbed"), 0);
    assert_int_equal(json_array_size(json_object_get(plan, "steps")), 5);
    assert_step(plan, 0, "clear transmitter T1 code 40718263 null");
    assert_step(plan, 1, "clear transmitter T1 lanes 1:1 2:2 null");
    assert_step(plan, 2, "set transmitter T9 code null 40718263");
    assert_step(plan, 3, "set transmitter T9 lane 1 null 1");
    assert_step(plan, 4, "set transmitter T9 lane 2 null 2");
    json_decref(plan);
    assert_file(show, RIG(SPARE, THREE));                    /* nothing is written without --write */
    struct program_result text = RUN("swap", show, "--out", "T1");
    assert_int_equal(text.status, 0);
    assert_ptr_equal(strstr(text.out, "Swap: transmitter T1 Quay mast is lost\n\nTransmitters, in this order\n  1. transmitter T1 Quay mast, site quay "
                                      "(North quay) at 0 0 6 m\n       clear join code (40718263): "), text.out);
    assert_non_null(strstr(text.out, "\nNo fixture has to be touched.\n"));
    assert_non_null(strstr(text.out, "\nIn all: 0 stay dark, 0 disturbed, 0 fixtures to touch, 3 settings on transmitters.\n"
                                     "Nothing is written, --write does that.\n"));
    program_result_fini(&text);
    free(show);
}

static void written_it_is_clean_and_the_file_before_is_kept(void **state)
{
    const struct place *place = *state;
    char *show = rig(place, RIG(SPARE, THREE)), *kept = text_of("%s~", show);
    char *said = text_of("rigcall: the comments of %s are not kept; they are still in %s~\n", show, show);
    struct program_result result = RUN("swap", show, "--out", "T1", "--write", "--format", "json");
    assert_string_equal(result.err, said);
    json_t *plan = json_from(result, 0);
    assert_true(json_is_true(json_object_get(plan, "written")));
    json_decref(plan);
    assert_file(kept, RIG(SPARE, THREE));
    char *text = program_read(show);
    char *lost = strstr(text, "id = \"T1\""), *spare = strstr(text, "id = \"T9\""), *end = strchr(spare, '\n');
    *end = '\0';
    assert_non_null(strstr(spare, "code = \"40718263\""));
    assert_non_null(strstr(spare, "{ lane = 1, universe = 1 }, { lane = 2, universe = 2 }"));
    assert_null(strstr(spare, "spare"));
    *strchr(lost, '\n') = '\0';
    assert_null(strstr(lost, "code"));
    assert_non_null(strstr(lost, "lanes = {}"));
    free(text);
    struct program_result check = RUN("check", show, "--only", "landing,universe-carried,code-clash,in-reach,lane-exists,quiet-kept");
    assert_int_equal(check.status, 0);
    assert_string_equal(check.err, "");
    program_result_fini(&check);
    free(said);
    free(kept);
    free(show);
}

/* Without the spare nothing that remains reaches the quay: that is a plan, the best there is, and the file stays what it was. */
static void what_nothing_can_light_is_told_and_not_written(void **state)
{
    const struct place *place = *state;
    char *show = rig(place, RIG("", THREE)), *kept = text_of("%s~", show);
    json_t *plan = json_from(RUN("swap", show, "--out", "T1", "--write", "--format", "json"), 1);
    assert_int_equal(json_array_size(json_object_get(plan, "steps")), 2);
    assert_step(plan, 0, "clear transmitter T1 code 40718263 null");
    assert_step(plan, 1, "clear transmitter T1 lanes 1:1 2:2 null");
    assert_null(json_object_get(plan, "refused"));
    assert_int_equal(number_in(plan, "dark"), 3);
    assert_numbers(plan, "universes_dark", "1 2");
    assert_numbers(plan, "fixtures_dark", "101 102 103");
    assert_string_equal(json_string_value(json_object_get(json_array_get(json_object_get(plan, "why_dark"), 2), "rule")), "in-reach");
    assert_true(json_is_false(json_object_get(plan, "written")));
    json_decref(plan);
    struct program_result text = RUN("swap", show, "--out", "T1");
    assert_int_equal(text.status, 1);
    assert_non_null(strstr(text.out, "\nStay dark: 3 fixtures\n   no transmitter that may change reaches it (rule in-reach):\n"
                                     "     fixture 101 at 3 0 2 m\n"));
    assert_non_null(strstr(text.out, "\nLeave the air: 2 universes that no lane carries any more\n     universe 1 Quay 1\n     universe 2 Quay 2\n"));
    assert_non_null(strstr(text.out, "\nNo fixture would be lit: --write would write nothing.\n"));
    program_result_fini(&text);
    text = RUN("swap", show, "--out", "T1", "--write");
    assert_non_null(strstr(text.out, "\nNo fixture would be lit: nothing is written.\n"));
    program_result_fini(&text);
    assert_file(show, RIG("", THREE));
    assert_int_not_equal(access(kept, F_OK), 0);
    free(kept);
    free(show);
}

/* Fixture 104 stands 60 m from T9 (55 + 5: reach 60 is from x = 5, so x = 70 is 65 m away) but in reach of T1's 80 m. */
static void a_plan_that_lights_some_is_written_and_exits_1(void **state)
{
    const struct place *place = *state;
    char *show = rig(place, RIG("    { id = \"T5\", site = \"quay\", pos = { 70, 0, 2 }, reach = 10, radios = 1, airs = { \"dual\" }, air = \"dual\", code = \"62930415\",\n"
                                "      lanes = { { lane = 1, universe = 2 } } },\n" SPARE,
                                FIXTURE(101, 3, 1, 1, 40718263, 1) FIXTURE(104, 70, 2, 1, 62930415, 1)));
    json_t *plan = json_from(RUN("swap", show, "--out", "T1,T5", "--write", "--format", "json"), 1);
    assert_int_equal(number_in(plan, "dark"), 1);
    assert_int_equal(json_integer_value(json_array_get(json_object_get(plan, "fixtures_dark"), 0)), 104);
    assert_true(json_is_true(json_object_get(plan, "written")));
    assert_int_equal(number_in(json_array_get(json_object_get(plan, "why_dark"), 0), "id"), 104);
    json_decref(plan);
    free(show);
}

static void in_and_out_repeat_and_take_commas(void **state)
{
    const struct place *place = *state;
    char *show = rig(place, RIG(SPARE, THREE));
    json_t *plan = json_from(RUN("swap", show, "--out", "T1", "--out", "T1,T3", "--in", "T9", "--format", "json"), 0);
    assert_step(plan, 0, "clear transmitter T1 code 40718263 null");
    assert_step(plan, 2, "clear transmitter T3 code 51829304 null");
    json_decref(plan);
    assert_fails(RUN("swap", show, "--out", "T1", "--in", "T1"), 2, "rigcall: ");
    assert_fails(RUN("swap", show, "--out", "T1,,T3"), 2, "rigcall: --out: \"T1,,T3\" has an empty part");
    char *message = text_of("rigcall: --out: %s has no transmitter \"T2\", nearest is T1\n", show);
    assert_result(RUN("swap", show, "--out", "T2"), 2, "", message);
    free(message);
    message = text_of("rigcall: --in: %s has no transmitter \"quay mast\"\n", show);
    assert_result(RUN("swap", show, "--out", "T1", "--in", "quay mast"), 2, "", message);
    free(message);
    assert_result(RUN("swap", show), 2, "", "rigcall: swap needs --out TX, the transmitter that is lost\n");
    free(show);
}

/* T4 has code and a lane, and no fixture lands on it: nothing goes dark, and the file says that it is off the air. */
static void a_transmitter_that_lights_nothing_goes_off_the_air(void **state)
{
    const struct place *place = *state;
    char *show = rig(place, RIG("    { id = \"T4\", site = \"quay\", reach = 50, radios = 1, airs = { \"dual\" }, air = \"dual\", code = \"62930415\",\n"
                                "      lanes = { { lane = 1, universe = 4 } } },\n" SPARE, THREE));
    struct program_result text = RUN("swap", show, "--out", "T4", "--write");
    assert_int_equal(text.status, 0);
    assert_non_null(strstr(text.out, "\nNo fixture was lit by what is lost: nothing goes dark.\n"));
    assert_non_null(strstr(text.out, "\nLeaves the air: 1 universe that no lane carries any more\n     universe 4\n"));
    assert_non_null(strstr(text.out, "\nTo undo, before anything else is written: mv "));
    program_result_fini(&text);
    char *written = program_read(show), *lost = strstr(written, "id = \"T4\"");
    *strchr(lost, '\n') = '\0';
    assert_null(strstr(lost, "code"));
    assert_non_null(strstr(lost, "lanes = {}"));
    free(written);
    text = RUN("swap", show, "--out", "T4", "--write");      /* once more: there is nothing to take away */
    assert_int_equal(text.status, 0);
    assert_non_null(strstr(text.out, "\nNothing to write.\n"));
    program_result_fini(&text);
    free(show);
}

static void a_show_that_is_not_sound_is_refused(void **state)
{
    const struct place *place = *state;
    static const char *const commands[][4] = { { "swap", "--out", "T1", NULL }, { "patch", "--all", NULL, NULL } };
    char *show = rig(place, RIG(SPARE, THREE FIXTURE(101, 3, 1, 257, 40718263, 1)));
    for (size_t i = 0; i < sizeof commands / sizeof *commands; i++) {
        struct program_result result = RUN(commands[i][0], show, commands[i][1], commands[i][2]);
        assert_int_equal(result.status, 3);
        assert_string_equal(result.out, "");
        assert_non_null(strstr(result.err, "101"));
        program_result_fini(&result);
    }
    assert_fails(RUN("swap", "no-such.show.lua", "--out", "T1"), 3, "rigcall: no-such.show.lua: ");
    free(show);
}

static void the_plan_goes_to_a_file(void **state)
{
    const struct place *place = *state;
    char *show = rig(place, RIG(SPARE, THREE)), *path = text_of("%s/plan.json", place->folder);
    assert_result(RUN("swap", show, "--out", "T1", "--format", "json", "-o", path), 0, "", "");
    char *text = program_read(path);
    json_t *plan = json_loads(text, 0, NULL);
    assert_int_equal(number_in(plan, "settings"), 3);
    json_decref(plan);
    free(text);
    free(path);
    free(show);
}

static void the_harbour_swaps_by_its_spare(void **state)
{
    (void)state;
    json_t *plan = json_from(RUN("swap", RIGCALL_SOURCE_DIR "/examples/harbour/harbour.show.lua", "--out", "T1", "--format", "json"), 0);
    assert_int_equal(number_in(plan, "touches"), 0);          /* T7, the quay's spare, has four radios like T1: code and eight lanes */
    assert_int_equal(number_in(plan, "settings"), 9);
    json_decref(plan);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        PLACE_TEST(a_spare_takes_over_without_a_touch),
        PLACE_TEST(written_it_is_clean_and_the_file_before_is_kept),
        PLACE_TEST(what_nothing_can_light_is_told_and_not_written),
        PLACE_TEST(a_plan_that_lights_some_is_written_and_exits_1),
        PLACE_TEST(in_and_out_repeat_and_take_commas),
        PLACE_TEST(a_transmitter_that_lights_nothing_goes_off_the_air),
        PLACE_TEST(a_show_that_is_not_sound_is_refused),
        PLACE_TEST(the_plan_goes_to_a_file),
        PLACE_TEST(the_harbour_swaps_by_its_spare),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
