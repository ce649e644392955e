/* A rule that sorts more than a little, over a show so small that the engine itself never did: the C library asks for the size of
 * memory at the first larger qsort() of a process, and the jail must not take that for an attack. */
#include "cli/cli_test.h"

static void a_rule_may_sort_over_a_small_show(void **state)
{
    const struct place *place = *state;
    char *rule = program_file(place->folder, "sorts.lua",
        "return { kind = 'rule', name = 'sorts', severity = 'note', about = 'a', run = function()\n"
        "  local t, n = {}, 0 for i = 1, 500 do t['k' .. i] = i end\n"
        "  for k in pairs(t) do n = n + 1 end\n"
        "  finding(rig.show(), tostring(n)) end }\n");
    struct program_result result = RUN("check", place->show, "--rules", rule, "--only", "sorts");
    assert_string_equal(result.err, "");
    assert_non_null(strstr(result.out, ": 500\n"));
    assert_int_equal(result.status, 0);
    program_result_fini(&result);
    free(rule);
}

int main(void)
{
    const struct CMUnitTest tests[] = { PLACE_TEST(a_rule_may_sort_over_a_small_show) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
