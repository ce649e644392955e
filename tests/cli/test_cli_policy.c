/* rigcall swap --policy: shipped policies and those beside the show, in hosts of their own. The rig is that of plan_test.h with two
 * spares, so that there are two plans: T8 takes over as well as T9 (0 touches, 3 settings each); the lower id is ranked first. */
#include "plan_test.h"

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
    assert_string_equal(json_string_value(json_object_get(policy, "says")), "number 2");
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
    assert_string_equal(text.out, "Swap: transmitter T1 Quay mast is lost\n\nPolicy mine refuses: the show is over\nNothing is changed.\n");
    program_result_fini(&text);
    json_t *plan = json_from(RUN("swap", at.show, "--out", "T1", "--policy", "mine", "--write", "--format", "json"), 1);
    assert_string_equal(json_string_value(json_object_get(plan, "refused")), "the show is over");
    assert_int_equal(json_array_size(json_object_get(plan, "steps")), 0);
    json_decref(plan);
    assert_file(at.show, RIG(SPARES, THREE));
    files_free(&at);
}

static void questions_need_somebody(void **state)
{
    struct at at = files(state, POLICY("mine", "return refuse('no')"));
    assert_fails(RUN("swap", at.show, "--out", "T1", "--policy", "ask-first"), 2, "rigcall: swap: the policy asks \"Plan 1 of 2: ");
    json_t *plan = json_from(RUN("swap", at.show, "--out", "T1", "--policy", "ask-first", "--answer", "yes", "--format", "json"), 0);
    assert_step(plan, 2, "set transmitter T8 code null 40718263");
    json_decref(plan);
    struct program_result skip = RUN("swap", at.show, "--out", "T1", "--policy", "ask-first", "--answer", "skip", "--write");
    assert_int_equal(skip.status, 1);
    program_result_fini(&skip);
    assert_file(at.show, RIG(SPARES, THREE));
    struct program_terminal terminal = START("swap", at.show, "--out", "T1", "--policy", "ask-first", "--write");
    program_expect(&terminal, "Plan 1 of 2: 0 stay dark, 0 working disturbed, 0 to touch, 3 settings. Take it? [y, n or s to skip; then a note if you like] ");
    program_type(&terminal, "n too old\n");
    program_expect(&terminal, "Plan 2 of 2: ");
    program_type(&terminal, "y it is new\n");
    program_expect(&terminal, "Policy ask-first chose this plan: it is new");
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
        { "return { kind = 'rule', name = 'mine', run = function() end }", ": is a rule, not a swap policy" },
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
    assert_result(RUN("swap", at.show, "--out", "T1", "--policy", "mime"), 2, "", "rigcall: no policy \"mime\", nearest is \"mine\"\n");
    assert_fails(RUN("swap", at.show, "--out", "T1", "--policy", "mine", "--set", "n=99"), 2, "rigcall: ");
    assert_fails(RUN("swap", at.show, "--out", "T1", "--policy", "mine", "--set", "m=1"), 2, "rigcall: ");
    assert_fails(RUN("swap", at.show, "--out", "T1", "--policy", "./none.lua"), 3, "rigcall: ./none.lua: ");
    files_free(&at);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        PLACE_TEST(a_policy_beside_the_show_chooses),
        PLACE_TEST(a_refusal_writes_nothing),
        PLACE_TEST(questions_need_somebody),
        PLACE_TEST(broken_ones_are_status_5),
        PLACE_TEST(wrong_usage_is_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
