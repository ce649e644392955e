/* rigcall move, on the rig of plan_test.h with one fixture that works at the barge: T3 there, two radios dual, has lanes 2 to 4
 * free for universes 1 and 2, and its code stays because fixture 199 works on it. So each of the three fixtures of the quay must be
 * touched once, and two lanes are set. */
#include "plan_test.h"

#define BARGE \
    "    { id = 199, type = \"tile\", mode = \"m\", site = \"barge\", pos = { 503, 0, 2 }, universe = 3, address = 1,\n" \
    "      code = \"51829304\", air = \"dual\", lane = 1 },\n"
#define AT_BARGE "id,pos_x,pos_y,pos_z\n101,505,0,2\n102,506,0,2\n"

struct moved { char *show, *csv; };

static struct moved files(const struct place *place, const char *csv)
{
    return (struct moved){ program_file(place->folder, "rig.show.lua", RIG(SPARE, THREE BARGE)), program_file(place->folder, "at.csv", csv) };
}

static void files_free(struct moved *moved)
{
    free(moved->show);
    free(moved->csv);
}

static void fixtures_move_and_are_written(void **state)
{
    struct moved at = files(*state, AT_BARGE);
    json_t *plan = json_from(RUN("move", at.show, "--from", "quay", "--to", "barge", "--pos", at.csv, "--write", "--format", "json"), 0);
    assert_int_equal(number_in(plan, "touches"), 3);
    assert_int_equal(number_in(plan, "settings"), 2);
    assert_int_equal(number_in(plan, "dark"), 0);
    assert_int_equal(number_in(plan, "disturbed"), 0);
    assert_step(plan, 0, "set transmitter T3 lane 2 null 1");
    assert_step(plan, 1, "set transmitter T3 lane 3 null 2");
    assert_true(json_is_true(json_object_get(plan, "written")));
    json_decref(plan);
    char *text = program_read(at.show);
    char *first = strstr(text, "id = 101"), *third = strstr(text, "id = 103");
    *strchr(first, '\n') = '\0';
    *strchr(third, '\n') = '\0';
    assert_non_null(strstr(first, "site = \"barge\", pos = { 505, 0, 2 }"));
    assert_non_null(strstr(first, "code = \"51829304\", air = \"dual\", lane = 2"));
    assert_non_null(strstr(third, "site = \"barge\""));
    assert_null(strstr(third, "pos ="));                     /* not in the CSV */
    free(text);
    struct program_result check = RUN("check", at.show, "--only", "landing,universe-carried,code-clash,lane-exists,lane-shared,in-reach");
    assert_string_equal(check.out + strlen(check.out) - 23, "0 fail, 0 warn, 0 note\n");
    program_result_fini(&check);
    files_free(&at);
}

static void the_text_names_what_to_key_in(void **state)
{
    struct moved at = files(*state, AT_BARGE);
    struct program_result result = RUN("move", at.show, "--from", "quay", "--to=barge");
    assert_int_equal(result.status, 0);
    assert_ptr_equal(strstr(result.out, "Move from site quay to site barge\n\nTransmitters, in this order\n  1. transmitter T3 Barge mast, site barge (Barge)"), result.out);
    assert_non_null(strstr(result.out, "\nFixtures from site quay (North quay), 3 to touch, before they go or once they are there\n"));
    assert_non_null(strstr(result.out, "fixture 103 at 9 0 2 m: join code 51829304 (now 40718263), lane 3 (now 2)"));
    assert_non_null(strstr(result.out, "Nothing is written, --write does that.\n"));
    program_result_fini(&result);
    assert_file(at.show, RIG(SPARE, THREE BARGE));
    files_free(&at);
}

static void wrong_usage_and_bad_positions(void **state)
{
    static const struct { const char *csv, *words; } bad[] = {
        { "id,pos_x,pos_y,pos_z\n199,1,2,3\n", "fixture 199 is not of site quay" },
        { "id,pos_x,pos_y,pos_z,type,mode,site\n7,1,2,3,tile,m,quay\n", "fixture 7 is not in " },
        { "id,pos_x,pos_y,pos_z,lane\n101,1,2,3,4\n", "expected only a new place" },
        { "id,pos_x,pos_y,pos_z\n101,1,2,far\n", ":2:9:" },
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct moved at = files(*state, bad[i].csv);
        struct program_result result = RUN("move", at.show, "--from", "quay", "--to", "barge", "--pos", at.csv, "--write");
        if (result.status != 3 || !strstr(result.err, bad[i].words))
            fail_msg("%zu: status %d, %s", i, result.status, result.err);
        assert_file(at.show, RIG(SPARE, THREE BARGE));
        program_result_fini(&result);
        files_free(&at);
    }
    struct moved at = files(*state, AT_BARGE);
    assert_result(RUN("move", at.show, "--from", "quay"), 2, "", "rigcall: move needs --from SITE and --to SITE\n");
    assert_result(RUN("move", at.show, "--from", "quay", "--to", "quay"), 2, "", "rigcall: move: --from and --to are both quay\n");
    assert_fails(RUN("move", at.show, "--from", "quay", "--to", "bargo"), 2, "rigcall: --to: ");
    assert_fails(RUN("move", at.show, "--from", "quay", "--to", "barge", "--pos", "none.csv"), 3, "rigcall: none.csv: ");
    files_free(&at);
}

/* T4 on the barge has T1's code and stands 70 m from it: each reaches 50 m, so nobody on the quay (x up to 9) hears both, but whoever
 * goes to x = 30 does. */
static void two_with_one_code_are_refused(void **state)
{
    const struct place *place = *state;
    char *show = program_file(place->folder, "clash.show.lua", RIG(
        "    { id = \"T4\", site = \"barge\", pos = { 70, 0, 6 }, reach = 50, radios = 1, airs = { \"dual\" }, air = \"dual\",\n"
        "      code = \"40718263\", lanes = { { lane = 1, universe = 1 } } },\n", THREE));
    char *csv = program_file(place->folder, "at.csv", "id,pos_x,pos_y,pos_z\n101,30,0,2\n102,31,0,2\n103,32,0,2\n");
    json_t *plan = json_from(RUN("move", show, "--from", "quay", "--to", "barge", "--pos", csv, "--write", "--format", "json"), 1);
    assert_string_equal(json_string_value(json_object_get(plan, "rule")), "code-clash");
    assert_int_equal(json_array_size(json_object_get(plan, "steps")), 0);
    assert_true(json_is_false(json_object_get(plan, "written")));
    json_decref(plan);
    free(csv);
    free(show);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        PLACE_TEST(fixtures_move_and_are_written),
        PLACE_TEST(the_text_names_what_to_key_in),
        PLACE_TEST(wrong_usage_and_bad_positions),
        PLACE_TEST(two_with_one_code_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
