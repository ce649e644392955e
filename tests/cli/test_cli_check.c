/* rigcall check: exit statuses, forms of the report, where rules come from, where the report goes. The rules are written here, so
 * that what they must say is known. */
#include <sys/stat.h>
#include <jansson.h>

#include "cli_test.h"

static const char finds[] =
    "return { kind = 'rule', name = 'finds', about = 'finds something',\n"
    "  run = function() fail(rig.get('fixture', 2), 'is there', { rig.get('universe', 7) }) warn(rig.get('fixture', 1), 'too') end }\n";
static const char warns[] =
    "return { kind = 'rule', name = 'warns', about = 'warns', severity = 'warn',\n"
    "  run = function() print('looking') finding(rig.get('fixture', 1), 'hm') end }\n";
static const char breaks[] = "return { kind = 'rule', name = 'breaks', about = 'breaks', run = function() error('no luck') end }\n";

static void a_fail_is_status_1(void **state)
{
    const struct place *place = *state;
    char *rule = program_file(place->folder, "finds.lua", finds);
    char *out = text_of("warn  finds  fixture 1 Left: too\nfail  finds  fixture 2 Right: is there [universe 7 Hall]\n"
                        "%s: 1 rule, 1 fail, 1 warn, 0 note\n", place->show);
    assert_result(RUN("check", place->show, "--rules", rule, "--only", "finds"), 1, out, "");
    assert_result(RUN("check", place->show, "--rules", rule, "--only=finds,finds"), 1, out, "");
    free(out);
    free(rule);
}

static void warnings_alone_are_status_0_and_print_goes_to_stderr(void **state)
{
    const struct place *place = *state;
    char *rule = program_file(place->folder, "warns.lua", warns);
    char *out = text_of("warn  warns  fixture 1 Left: hm\n%s: 1 rule, 0 fail, 1 warn, 0 note\n", place->show);
    assert_result(RUN("check", place->show, "--rules", rule, "--only", "warns"), 0, out, "warns: looking\n");
    free(out);
    free(rule);
}

static void a_broken_script_is_status_5_and_the_others_run(void **state)
{
    const struct place *place = *state;
    char *first = program_file(place->folder, "breaks.lua", breaks), *second = program_file(place->folder, "finds.lua", finds);
    struct program_result result = RUN("check", place->show, "--rules", first, "--rules", second, "--only", "finds,breaks");
    assert_int_equal(result.status, 5);
    assert_non_null(strstr(result.out, "fail  finds  fixture 2 Right: is there"));
    assert_non_null(strstr(result.out, "\nbroken  breaks  "));
    assert_non_null(strstr(result.out, "no luck"));
    assert_non_null(strstr(result.out, "; 1 script broken\n"));
    assert_ptr_equal(strstr(result.err, "rigcall: script breaks ("), result.err);
    assert_non_null(strstr(result.err, "no luck"));
    program_result_fini(&result);
    free(first);
    free(second);
}

static void bad_shows_are_status_3(void **state)
{
    const struct place *place = *state;
    char *bad = program_file(place->folder, "bad.show.lua", "return {\n  rigcall = 1, name = 5 }\n");
    char *missing = text_of("%s/none.show.lua", place->folder), *at = text_of("%s:2:", bad);
    char *none = text_of("rigcall: %s: cannot open: No such file or directory\n", missing);
    assert_fails(RUN("check", bad), 3, at);
    assert_result(RUN("check", missing), 3, "", none);
    free(none);
    free(at);
    free(missing);
    free(bad);
}

static void unknown_rules_are_wrong_usage(void **state)
{
    const struct place *place = *state;
    struct program_result result = RUN("check", place->show, "--only", "landign");
    assert_int_equal(result.status, 2);
    assert_non_null(strstr(result.err, "landign"));
    assert_non_null(strstr(result.err, "landing"));
    program_result_fini(&result);
    assert_result(RUN("check", place->show, "--only", "a,,b"), 2, "", "rigcall: --only: \"a,,b\" has an empty part\n");
    assert_result(RUN("check", place->show, "--rules", "/nowhere/x.lua"), 3, "", "rigcall: /nowhere/x.lua: No such file or directory\n");
}

static void rules_beside_the_show_are_found_once(void **state)
{
    const struct place *place = *state;
    char *folder = text_of("%s/rules", place->folder);
    assert_int_equal(mkdir(folder, 0700), 0);
    char *rule = program_file(folder, "finds.lua", finds);
    struct program_result alone = RUN("check", place->show, "--only", "finds");
    assert_int_equal(alone.status, 1);
    assert_non_null(strstr(alone.out, "fail  finds  fixture 2"));
    struct program_result named = RUN("check", place->show, "--only", "finds", "--rules", folder, "--rules", rule);
    assert_string_equal(named.out, alone.out);
    assert_int_equal(named.status, 1);
    program_result_fini(&alone);
    program_result_fini(&named);
    free(rule);
    free(folder);
}

static void json_is_the_agreed_shape_and_repeats(void **state)
{
    const struct place *place = *state;
    char *rule = program_file(place->folder, "finds.lua", finds);
    char *wanted = text_of(
        "{\"show\":\"%s\",\"rules\":[\"finds\"],\"counts\":{\"fail\":1,\"warn\":1,\"note\":0},\"findings\":["
        "{\"rule\":\"finds\",\"severity\":\"warn\",\"subject\":{\"kind\":\"fixture\",\"id\":1},\"others\":[],\"text\":\"too\"},"
        "{\"rule\":\"finds\",\"severity\":\"fail\",\"subject\":{\"kind\":\"fixture\",\"id\":2},"
        "\"others\":[{\"kind\":\"universe\",\"id\":7}],\"text\":\"is there\"}]}", place->show);
    struct program_result first = RUN("check", place->show, "--rules", rule, "--only", "finds", "--format", "json");
    struct program_result second = RUN("check", place->show, "--rules", rule, "--only", "finds", "--format=json");
    json_t *got = json_loads(first.out, 0, NULL), *expected = json_loads(wanted, 0, NULL);
    assert_non_null(got);
    assert_non_null(expected);
    assert_true(json_equal(got, expected));
    assert_string_equal(first.out, second.out);
    json_decref(got);
    json_decref(expected);
    program_result_fini(&first);
    program_result_fini(&second);
    free(wanted);
    free(rule);
}

static void all_shipped_rules_repeat_octet_for_octet(void **state)
{
    (void)state;
    static const char *const forms[] = { "text", "json", "junit" };
    for (size_t i = 0; i < 3; i++) {
        struct program_result first = RUN("check", RIGCALL_SOURCE_DIR "/examples/harbour/harbour.show.lua", "--format", forms[i]);
        struct program_result second = RUN("check", RIGCALL_SOURCE_DIR "/examples/harbour/harbour.show.lua", "--format", forms[i]);
        assert_int_equal(first.status, 1);
        assert_string_equal(first.out, second.out);
        program_result_fini(&first);
        program_result_fini(&second);
    }
}

static void junit_is_well_formed(void **state)
{
    const struct place *place = *state;
    char *path = text_of("%s/report.xml", place->folder), *rule = program_file(place->folder, "breaks.lua", breaks);
    struct program_result result = RUN("check", RIGCALL_SOURCE_DIR "/examples/harbour/harbour.show.lua", "--rules", rule, "--format", "junit",
                                       "-o", path);
    assert_int_equal(result.status, 5);
    assert_string_equal(result.out, "");
    struct program_result lint = program_run((const char *const[]){ "xmllint", "--nonet", "--noout", path, NULL });
    assert_result(lint, 0, "", "");
    program_result_fini(&result);
    free(rule);
    free(path);
}

static void a_report_file_is_replaced_whole(void **state)
{
    const struct place *place = *state;
    char *old = program_file(place->folder, "report.txt", "old"), *link = text_of("%s/link.txt", place->folder);
    char *rule = program_file(place->folder, "warns.lua", warns), *out = text_of("warn  warns  fixture 1 Left: hm\n%s: 1 rule, 0 fail, 1 warn, 0 note\n", place->show);
    assert_int_equal(symlink("report.txt", link), 0);
    assert_result(RUN("check", place->show, "--rules", rule, "--only", "warns", "-o", link), 0, "", "warns: looking\n");
    char *text = program_read(old);
    struct stat status;
    assert_string_equal(text, out);
    assert_int_equal(lstat(link, &status), 0);
    assert_true(S_ISLNK(status.st_mode));
    free(text);
    free(out);
    free(rule);
    free(link);
    free(old);
}

static void devices_and_wrong_places(void **state)
{
    const struct place *place = *state;
    char *rule = program_file(place->folder, "finds.lua", finds), *folder = text_of("rigcall: %s: is a folder, expected a file\n", place->folder);
    struct stat status;
    struct program_result nothing = RUN("check", place->show, "--rules", rule, "--only", "finds", "-o", "/dev/null");
    assert_int_equal(nothing.status, 1);
    program_result_fini(&nothing);
    assert_int_equal(stat("/dev/null", &status), 0);
    assert_true(S_ISCHR(status.st_mode));
    assert_result(RUN("check", place->show, "--rules", rule, "--only", "finds", "-o", "/dev/full"), 3, "",
                  "rigcall: /dev/full: No space left on device\n");
    assert_result(RUN("check", place->show, "--rules", rule, "--only", "finds", "-o", place->folder), 3, "", folder);
    struct program_result full = program_run((const char *const[]){ "sh", "-c", "\"$0\" check \"$1\" --only landing > /dev/full", RIGCALL_PROGRAM,
                                                                    place->show, NULL });
    assert_result(full, 3, "", "rigcall: cannot write to standard output: No space left on device\n");
    struct program_result gone = program_run((const char *const[]){
        "bash", "-c", "exec 3> >(exec true); wait $!; \"$0\" check \"$1\" --only landing >&3", RIGCALL_PROGRAM, place->show, NULL });
    assert_result(gone, 0, "", "");
    free(folder);
    free(rule);
}

static void colour_only_on_a_terminal_and_not_with_no_color(void **state)
{
    const struct place *place = *state;
    char *rule = program_file(place->folder, "finds.lua", finds);
    struct program_terminal plain, coloured = START("check", place->show, "--rules", rule, "--only", "finds");
    assert_int_equal(program_end(&coloured), 1);
    assert_non_null(strstr(coloured.seen, "\033[1;31mfail\033[0m  finds"));
    setenv("NO_COLOR", "1", 1);
    plain = START("check", place->show, "--rules", rule, "--only", "finds");
    assert_int_equal(program_end(&plain), 1);
    assert_non_null(strstr(plain.seen, "fail  finds"));
    assert_null(strchr(plain.seen, '\033'));
    free(plain.seen);
    free(coloured.seen);
    free(rule);
}

static void long_checks_show_progress_on_a_terminal_only(void **state)
{
    const struct place *place = *state;
    char *rule = program_file(place->folder, "slow.lua",
        "return { kind = 'rule', name = 'slow', about = 'takes 1.5 s', run = function() local t = os.clock() while os.clock() - t < 1.5 do end end }\n");
    char *out = text_of("%s: 1 rule, 0 fail, 0 warn, 0 note\n", place->show);
    struct program_terminal terminal = START("check", place->show, "--rules", rule, "--only", "slow");
    program_expect(&terminal, " scripts\033[K");
    program_expect(&terminal, "\r\033[K");
    assert_int_equal(program_end(&terminal), 0);
    free(terminal.seen);
    assert_result(RUN("check", place->show, "--rules", rule, "--only", "slow"), 0, out, "");
    free(out);
    free(rule);
}

static void a_rule_about_the_network_needs_live(void **state)
{
    struct place *place = *state;
    assert_result(RUN("check", place->show, "--only", "landing,wire-present"), 2, "",
                  "rigcall: check: the rule wire-present is about what is heard on the network: it needs --live\n");
    assert_result(RUN("check", place->show, "--if", "lo"), 2, "", "rigcall: check: --if needs --live\n");
    assert_result(RUN("check", place->show, "--only", "../wire/wire-present"), 2, "",
                  "rigcall: no rule is called \"../wire/wire-present\"\n");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        PLACE_TEST(a_fail_is_status_1),
        PLACE_TEST(warnings_alone_are_status_0_and_print_goes_to_stderr),
        PLACE_TEST(a_broken_script_is_status_5_and_the_others_run),
        PLACE_TEST(bad_shows_are_status_3),
        PLACE_TEST(unknown_rules_are_wrong_usage),
        PLACE_TEST(a_rule_about_the_network_needs_live),
        PLACE_TEST(rules_beside_the_show_are_found_once),
        PLACE_TEST(json_is_the_agreed_shape_and_repeats),
        PLACE_TEST(all_shipped_rules_repeat_octet_for_octet),
        PLACE_TEST(junit_is_well_formed),
        PLACE_TEST(a_report_file_is_replaced_whole),
        PLACE_TEST(devices_and_wrong_places),
        PLACE_TEST(long_checks_show_progress_on_a_terminal_only),
        PLACE_TEST(colour_only_on_a_terminal_and_not_with_no_color),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
