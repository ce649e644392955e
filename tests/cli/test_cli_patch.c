/* rigcall patch. Tiles of 128 slots: four fill a universe (4 x 128 = 512), so in hang order the fifth opens the next one (common
 * practice, no source). T1 has two free lanes here, so eight tiles fit on the quay and a ninth does not. */
#include "plan_test.h"

#define LOOSE(id, x) "    { id = " #id ", type = \"tile\", mode = \"m\", site = \"quay\", pos = { " #x ", 0, 2 } },\n"
#define EIGHT LOOSE(1, 80) LOOSE(2, 70) LOOSE(3, 60) LOOSE(4, 50) LOOSE(5, 40) LOOSE(6, 30) LOOSE(7, 20) LOOSE(8, 10)
#define BARE(fixtures) \
    "return { rigcall = 1, name = \"Bare\", sites = { { id = \"quay\" }, { id = \"barge\" } },\n" \
    "  types = { { id = \"tile\", airs = { \"single\", \"dual\" }, modes = {\n" \
    "    { id = \"m\", head = {}, cells = 32, slots = { \"red\", \"green\", \"blue\", \"white\" }, tail = {} } } } },\n" \
    "  transmitters = { { id = \"T1\", site = \"quay\", pos = { 45, 0, 6 }, reach = 60, radios = 1, airs = { \"dual\" }, air = \"dual\" } },\n" \
    "  universes = {},\n  fixtures = {\n" fixtures "  } }\n"

static long long field_of(const json_t *plan, long long id, const char *field)
{
    size_t i;
    json_t *step;
    json_array_foreach(json_object_get(plan, "steps"), i, step)
        if (!strcmp(json_string_value(json_object_get(step, "kind")), "fixture") && json_integer_value(json_object_get(step, "id")) == id
            && !strcmp(json_string_value(json_object_get(step, "field")), field))
            return json_integer_value(json_object_get(step, "to"));
    return -1;
}

static void the_fifth_jumps_to_the_next_universe_in_hang_order(void **state)
{
    const struct place *place = *state;
    char *show = program_file(place->folder, "bare.show.lua", BARE(EIGHT));
    json_t *plan = json_from(RUN("patch", show, "--format", "json"), 0);
    assert_int_equal(number_in(plan, "touches"), 8);
    assert_int_equal(number_in(plan, "dark"), 0);
    for (int k = 0; k < 8; k++) {                            /* they hang by growing x: 8, 7, ... 1 */
        assert_int_equal(field_of(plan, 8 - k, "universe"), 1 + k / 4);
        assert_int_equal(field_of(plan, 8 - k, "address"), 1 + 128 * (k % 4));
        assert_int_equal(field_of(plan, 8 - k, "lane"), 1 + k / 4);
    }
    json_decref(plan);
    plan = json_from(RUN("patch", show, "--order", "id", "--format", "json"), 0);
    assert_int_equal(field_of(plan, 1, "universe"), 1);
    assert_int_equal(field_of(plan, 5, "universe"), 2);
    json_decref(plan);
    assert_file(show, BARE(EIGHT));
    free(show);
}

static void written_it_has_no_fail(void **state)
{
    const struct place *place = *state;
    char *show = program_file(place->folder, "bare.show.lua", BARE(EIGHT)), *kept = text_of("%s~", show);
    struct program_result write = RUN("patch", show, "--write");
    assert_int_equal(write.status, 0);
    assert_non_null(strstr(write.out, " is written, the file before is "));
    program_result_fini(&write);
    assert_file(kept, BARE(EIGHT));
    json_t *found = json_from(RUN("check", show, "--format", "json"), 0);
    assert_int_equal(number_in(json_object_get(found, "counts"), "fail"), 0);
    json_decref(found);
    struct program_result again = RUN("patch", show, "--write");
    assert_int_equal(again.status, 0);
    assert_non_null(strstr(again.out, "Nothing to write.\n"));
    program_result_fini(&again);
    assert_file(kept, BARE(EIGHT));                          /* so the file before is still the one before */
    free(kept);
    free(show);
}

static void what_does_not_fit_changes_nothing(void **state)
{
    const struct place *place = *state;
    char *show = program_file(place->folder, "bare.show.lua", BARE(EIGHT LOOSE(9, 5)));
    json_t *plan = json_from(RUN("patch", show, "--write", "--format", "json"), 1);
    assert_int_equal(number_in(plan, "touches"), 0);
    assert_true(number_in(plan, "dark") > 0);
    assert_int_equal(number_in(plan, "dark"), (long long)json_array_size(json_object_get(plan, "fixtures_dark")));
    assert_int_equal(json_array_size(json_object_get(plan, "steps")), 0);
    assert_true(json_is_false(json_object_get(plan, "written")));
    json_decref(plan);
    assert_file(show, BARE(EIGHT LOOSE(9, 5)));
    free(show);
}

/* T1's two lanes carry universes 1 and 2; universe 1 holds one tile, so that a second one fits only beside it. */
static void what_fits_only_by_filling_is_told(void **state)
{
    const struct place *place = *state;
    char *show = program_file(place->folder, "full.show.lua", RIG("", FIXTURE(101, 3, 1, 1, 40718263, 1) FIXTURE(103, 9, 2, 1, 40718263, 2) LOOSE(9, 5)));
    struct program_result text = RUN("patch", show);
    assert_int_equal(text.status, 1);
    assert_non_null(strstr(text.out, "\nDoes not fit: 1 fixture\n     fixture 9 at 5 0 2 m: no lane is left on a transmitter in reach of it (T1) "
                                     "(rule lane-exists)\n"));
    assert_non_null(strstr(text.out, "\nIn all: 1 fixture does not fit, so nothing is patched.\n"
                                     "With --fill, which also uses what is left free in universes already in use, all fit.\nNothing to write.\n"));
    program_result_fini(&text);
    json_t *plan = json_from(RUN("patch", show, "--fill", "--format", "json"), 0);
    assert_int_equal(field_of(plan, 9, "universe"), 1);
    assert_int_equal(field_of(plan, 9, "address"), 129);
    json_decref(plan);
    free(show);
}

static void tight_gives_the_bound(void **state)
{
    const struct place *place = *state;
    char *show = program_file(place->folder, "bare.show.lua", BARE(EIGHT));
    json_t *plan = json_from(RUN("patch", show, "--tight", "--format", "json"), 0);
    assert_int_equal(number_in(plan, "universes"), 2);       /* 8 x 128 slots = 2 x 512 */
    assert_int_equal(number_in(plan, "universes_at_least"), 2);
    assert_true(json_is_true(json_object_get(plan, "proved")));
    json_decref(plan);
    free(show);
}

static void only_a_site_and_unknown_names(void **state)
{
    const struct place *place = *state;
    char *show = program_file(place->folder, "bare.show.lua", BARE(EIGHT));
    json_t *plan = json_from(RUN("patch", show, "--site", "barge", "--format", "json"), 0);
    assert_int_equal(number_in(plan, "touches"), 0);
    json_decref(plan);
    char *message = text_of("rigcall: --site: %s has no site \"quax\", nearest is quay\n", show);
    assert_result(RUN("patch", show, "--site", "quax"), 2, "", message);
    free(message);
    assert_fails(RUN("patch", show, "--order", "size"), 2, "rigcall: patch: --order: \"size\", expected one of: hang id");
    free(show);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        PLACE_TEST(the_fifth_jumps_to_the_next_universe_in_hang_order),
        PLACE_TEST(written_it_has_no_fail),
        PLACE_TEST(what_does_not_fit_changes_nothing),
        PLACE_TEST(what_fits_only_by_filling_is_told),
        PLACE_TEST(tight_gives_the_bound),
        PLACE_TEST(only_a_site_and_unknown_names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
