/* rigcall swap --policy: shipped policies and those beside the show, in hosts of their own. The rig is that of plan_test.h with two
 * spares, so that there are two plans: T8 takes over as well as T9 (0 touches, 3 settings each); the lower id is ranked first. */
#include "plan_test.h"
#include "rigcall/showfile.h"

#define SPARES "    { id = \"T8\", name = \"Other spare\", site = \"quay\", pos = { 5, 0, 6 }, reach = 60, radios = 1, airs = { \"dual\" }, air = \"dual\", spare = true, lanes = {} },\n" SPARE
#define POLICY(name, body) "return { kind = 'swap', name = '" name "', about = 'a test', params = { n = { 'integer', min = 1, max = 9, default = 2 } },\n" \
                           "  run = function(plans, p) " body " end }\n"

struct at { char *show, *policy; };

static struct at files(void **state, const char *body)
{
    const struct place *place = *state;
    char *folder = text_of("%s/swaps", place->folder), *make = text_of("mkdir -p %s", folder);
    assert_int_equal(system(make), 0);
    struct at at = { program_file(place->folder, "rig.show.lua", RIG(SPARES, THREE)), program_file(folder, "mine.lua", body) };
    free(make);
    free(folder);
    return at;
}

static void files_free(struct at *at)
{
    free(at->show);
    free(at->policy);
}

static void a_policy_beside_the_show_chooses(void **state)
{
    struct at at = files(state, POLICY("mine", "print(#plans) return choose(p.n, 'number ' .. p.n)"));
    struct program_result result = RUN("swap", at.show, "--out", "T1", "--policy", "mine", "--write", "--format", "json");
    assert_ptr_equal(strstr(result.err, "2\n"), result.err);
    json_t *plan = json_from(result, 0);
    assert_step(plan, 2, "set transmitter T9 code null 40718263");
    json_t *policy = json_object_get(plan, "policy");
    assert_string_equal(json_string_value(json_object_get(policy, "name")), "mine");
    assert_int_equal(number_in(policy, "choice"), 2);
    assert_int_equal(number_in(policy, "plans"), 2);
    assert_int_equal(number_in(json_object_get(policy, "first"), "settings"), 3);
    assert_string_equal(json_string_value(json_object_get(policy, "why")), "number 2");
    assert_true(json_is_true(json_object_get(plan, "written")));
    json_decref(plan);
    files_free(&at);
    at = files(state, POLICY("mine", "return choose(p.n)"));
    plan = json_from(RUN("swap", at.show, "--out", "T1", "--policy", at.policy, "--set", "n=1", "--format", "json"), 0);
    assert_step(plan, 2, "set transmitter T8 code null 40718263");
    json_decref(plan);
    files_free(&at);
}

static void a_refusal_writes_nothing(void **state)
{
    struct at at = files(state, POLICY("mine", "return refuse('the show is over')"));
    struct program_result text = RUN("swap", at.show, "--out", "T1", "--policy", "mine", "--write");
    assert_int_equal(text.status, 1);
    assert_string_equal(text.out, "Swap: transmitter T1 Quay mast is lost\n\n"
                        "Policy mine refuses, having seen 2 plans: the show is over\n"
                        "The first of them: 0 stay dark, 0 disturbed, 0 fixtures to touch, 3 settings on transmitters.\nNothing is changed: 3 fixtures stay dark.\n");
    program_result_fini(&text);
    json_t *plan = json_from(RUN("swap", at.show, "--out", "T1", "--policy", "mine", "--write", "--format", "json"), 1);
    assert_string_equal(json_string_value(json_object_get(plan, "refused")), "the show is over");
    assert_true(json_is_null(json_object_get(json_object_get(plan, "policy"), "choice")));
    assert_true(json_is_false(json_object_get(plan, "written")));
    assert_int_equal(number_in(plan, "dark"), 3);
    assert_int_equal(json_array_size(json_object_get(plan, "fixtures_dark")), 3);
    assert_int_equal(json_integer_value(json_array_get(json_object_get(plan, "fixtures_dark"), 0)), 101);
    assert_int_equal(json_array_size(json_object_get(plan, "steps")), 0);
    json_decref(plan);
    assert_file(at.show, RIG(SPARES, THREE));
    files_free(&at);
}

static void questions_need_somebody(void **state)
{
    struct at at = files(state, POLICY("mine", "return refuse('no')"));
    assert_fails(RUN("swap", at.show, "--out", "T1", "--policy", "ask-first"), 2, "rigcall: swap: the policy asks \"Plan 1 of 2, transmitter T8 Other spare: 0 stay dark");
    json_t *plan = json_from(RUN("swap", at.show, "--out", "T1", "--policy", "ask-first", "--answer", "yes", "--format", "json"), 0);
    assert_step(plan, 2, "set transmitter T8 code null 40718263");
    json_decref(plan);
    struct program_result skip = RUN("swap", at.show, "--out", "T1", "--policy", "ask-first", "--answer", "skip", "--write");
    assert_int_equal(skip.status, 1);
    program_result_fini(&skip);
    assert_file(at.show, RIG(SPARES, THREE));
    struct program_terminal terminal = START("swap", at.show, "--out", "T1", "--policy", "ask-first", "--write");
    program_expect(&terminal, "Plan 1 of 2, transmitter T8 Other spare: 0 stay dark, 0 disturbed, 0 to touch, 3 settings. Take it? [y, n or s to skip; then a note if you like] ");
    program_type(&terminal, "n too old\n");
    program_expect(&terminal, "Plan 2 of 2, transmitter T9 Spare: ");
    program_type(&terminal, "y it is new\n");
    program_expect(&terminal, "Policy ask-first chose plan 2 of 2: it is new");
    assert_int_equal(program_end(&terminal), 0);
    free(terminal.seen);
    char *text = program_read(at.show);
    assert_non_null(strstr(text, "id = \"T9\", name = \"Spare\", site = \"quay\", pos = { 5, 0, 6 }, reach = 60, radios = 1, airs = { \"dual\" }, air = \"dual\", code = \"40718263\""));
    free(text);
    files_free(&at);
}

static void broken_ones_are_status_5(void **state)
{
    static const struct { const char *body, *words; } broken[] = {
        { POLICY("mine", "return plans.x.y"), "mine.lua:2: attempt to index a nil value (field 'x')" },
        { POLICY("mine", "return 3"), "mine.lua: run ended without choose(n) or refuse(why)" },
        { POLICY("mine", "while true do end"), ": passed the limit of 2 s CPU time" },
        { "return { kind = 'rule', name = 'mine', run = function() end }", "swaps/mine.lua: is a rule, not a swap policy" },
        { "return 3", "mine.lua: returned a number" },
    };
    for (size_t i = 0; i < sizeof broken / sizeof *broken; i++) {
        struct at at = files(state, broken[i].body);
        struct program_result result = RUN("swap", at.show, "--out", "T1", "--policy", "mine", "--write");
        if (result.status != 5 || !strstr(result.err, broken[i].words))
            fail_msg("%zu: status %d, %s", i, result.status, result.err);
        assert_string_equal(result.out, "");
        assert_file(at.show, RIG(SPARES, THREE));
        program_result_fini(&result);
        files_free(&at);
    }
}

static void wrong_usage_is_named(void **state)
{
    struct at at = files(state, POLICY("mine", "return choose(1)"));
    assert_result(RUN("swap", at.show, "--out", "T1", "--set", "n=1"), 2, "", "rigcall: swap: --set works only with --policy\n");
    assert_result(RUN("swap", at.show, "--out", "T1", "--answer", "yes"), 2, "", "rigcall: swap: --answer works only with --policy\n");
    assert_result(RUN("swap", at.show, "--out", "T1", "--policy", "mime"), 2, "", "rigcall: no swap policy \"mime\", nearest is \"mine\"\n");
    assert_result(RUN("swap", at.show, "--out", "T1", "--policy", "mine", "--set", "n"), 2, "", "rigcall: swap: --set \"n\", expected P=V\n");
    assert_fails(RUN("swap", at.show, "--out", "T1", "--policy", "mine", "--set", "n=99"), 2, "rigcall: ");
    assert_fails(RUN("swap", at.show, "--out", "T1", "--policy", "mine", "--set", "m=1"), 2, "rigcall: ");
    assert_fails(RUN("swap", at.show, "--out", "T1", "--policy", "./none.lua"), 3, "rigcall: ./none.lua: ");
    char *folder = text_of("%.*s", (int)(strrchr(at.policy, '/') - at.policy), at.policy);
    char *message = text_of("rigcall: %s is a folder, expected the file of a swap policy\n", folder);
    assert_result(RUN("swap", at.show, "--out", "T1", "--policy", folder), 2, "", message);
    free(message);
    free(folder);
    assert_fails(RUN("swap", at.show, "--out", "T3", "--in", "T1", "--policy", "mime"), 2, "rigcall: no swap policy \"mime\"");
    files_free(&at);
}

static void help_lists_policies_and_explains_one(void **state)
{
    struct at at = files(state, POLICY("mine", "choose(1)"));
    assert_result(RUN("swap", at.show, "--policy", "mine", "--help"), 0,
                  "mine: a test\n\nParameters, set by --set NAME=VALUE:\n  n  (1 to 9; default 2)\n\nrigcall swap --help explains the options.\n", "");
    struct program_result list = RUN("swap", at.show, "--help");
    assert_int_equal(list.status, 0);
    assert_non_null(strstr(list.out, "Usage: rigcall swap SHOW"));
    assert_non_null(strstr(list.out, "\nSwap policies, the shipped ones and those in swaps/ beside the show:\n"));
    assert_non_null(strstr(list.out, "\n  never-disturb  the best plan that leaves every working fixture alone\n"));
    assert_non_null(strstr(list.out, "\n  mine           a test\n"));
    program_result_fini(&list);
    files_free(&at);
}

/* Where the planner refuses there is nothing to choose: the policy is not asked. T1 has no join code that could be one. */
static void a_refused_plan_is_told_as_without_a_policy(void **state)
{
    struct at at = files(state, POLICY("mine", "error('I was asked')"));
    char *text = program_read(at.show);
    memcpy(strstr(text, "40718263"), "4071826x", 8);
    free(at.show);
    at.show = program_file(((const struct place *)*state)->folder, "rig.show.lua", text);
    json_t *plan = json_from(RUN("swap", at.show, "--out", "T1", "--policy", "mine", "--write", "--format", "json"), 1);
    assert_string_equal(json_string_value(json_object_get(plan, "rule")), "code-form");
    assert_null(json_object_get(plan, "policy"));
    json_decref(plan);
    assert_file(at.show, text);
    free(text);
    files_free(&at);
}

/* A spare is lost: no fixture goes dark, but --write would take it off the air, so the policy has its say. */
static void what_would_be_written_is_decided(void **state)
{
    struct at at = files(state, POLICY("mine", "refuse(('%d plan, %d lost'):format(#plans, plans[1].lost))"));
    struct program_result result = RUN("swap", at.show, "--out", "T8", "--policy", "mine", "--write");
    assert_int_equal(result.status, 1);
    assert_non_null(strstr(result.out, "Policy mine refuses, having seen 1 plan: 1 plan, 0 lost\nThe first of them: 0 stay dark, "
                            "0 disturbed, 0 fixtures to touch, 0 settings on transmitters.\nNothing is changed.\n"));
    program_result_fini(&result);
    assert_file(at.show, RIG(SPARES, THREE));
    files_free(&at);
}

/* How many of the fixtures that a plan leaves dark have the tag. */
static size_t dark_of_tag(json_t *plan, const char *tag)
{
    struct show *show;
    size_t count = 0;
    assert_int_equal(showfile_load(RIGCALL_SOURCE_DIR "/examples/harbour/harbour.show.lua", &show, NULL), 0);
    json_t *dark = json_object_get(plan, "fixtures_dark");
    for (size_t i = 0; i < json_array_size(dark); i++) {
        const struct fixture *fixture = &show->fixtures[show_find_fixture(show, json_integer_value(json_array_get(dark, i)))];
        for (uint32_t t = 0; t < fixture->tag_count; t++)
            count += !strcmp(fixture->tags[t], tag);
    }
    show_free(show);
    return count;
}

/* Four universes of tiles, and a spare with four lanes: all tiles can be saved, and the least cost does not do it. */
static void the_harbour_keeps_its_tiles(void **state)
{
    (void)state;
    json_t *plan = json_from(RUN("swap", RIGCALL_SOURCE_DIR "/examples/harbour/harbour.show.lua", "--out", "T5", "--format", "json"), 1);
    assert_true(dark_of_tag(plan, "tiles") > 0);
    json_t *kept = json_from(RUN("swap", RIGCALL_SOURCE_DIR "/examples/harbour/harbour.show.lua", "--out", "T5", "--policy", "keep-lit",
                                 "--format", "json"), 1);
    assert_int_equal(dark_of_tag(kept, "tiles"), 0);
    assert_int_equal(number_in(json_object_get(json_object_get(kept, "policy"), "first"), "dark"), number_in(plan, "dark"));
    json_decref(kept);
    json_decref(plan);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        PLACE_TEST(a_policy_beside_the_show_chooses),
        PLACE_TEST(a_refusal_writes_nothing),
        PLACE_TEST(questions_need_somebody),
        PLACE_TEST(broken_ones_are_status_5),
        PLACE_TEST(wrong_usage_is_named),
        PLACE_TEST(help_lists_policies_and_explains_one),
        PLACE_TEST(a_refused_plan_is_told_as_without_a_policy),
        PLACE_TEST(what_would_be_written_is_decided),
        PLACE_TEST(the_harbour_keeps_its_tiles),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
