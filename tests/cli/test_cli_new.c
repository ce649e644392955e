/* rigcall new: what it writes loads and checks clean, and nothing is ever overwritten. */
#include "cli_test.h"

static char *path_in(const struct place *place, const char *name)
{
    return text_of("%s/%s", place->folder, name);
}

/* The eight digits behind the first `code = "`. */
static void code_of(const char *text, char code[9])
{
    const char *at = strstr(text, "code = \"");
    assert_non_null(at);
    memcpy(code, at + strlen("code = \""), 8);
    code[8] = '\0';
    assert_int_equal(strspn(code, "0123456789"), 8);
}

static void a_new_show_checks_clean(void **state)
{
    char *name = path_in(*state, "gala"), *show = path_in(*state, "gala.show.lua");
    char *out = text_of("%s is written. Open it in an editor and make it yours; then:\n  rigcall check %s\n  rigcall run %s colour-roll\n",
                        show, show, show);
    assert_result(RUN("new", name), 0, out, "");
    struct program_result check = RUN("check", show);
    assert_int_equal(check.status, 0);
    assert_string_equal(check.err, "");
    assert_non_null(strstr(check.out, ", 0 fail, 0 warn, 0 note\n"));
    program_result_fini(&check);
    free(out);
    free(name);
    free(show);
}

static void every_show_gets_a_code_of_its_own(void **state)
{
    char codes[2][9];
    for (int i = 0; i < 2; i++) {
        char *name = path_in(*state, i ? "b" : "a"), *show = path_in(*state, i ? "b.show.lua" : "a.show.lua");
        struct program_result result = RUN("new", name);
        assert_int_equal(result.status, 0);
        char *text = program_read(show);
        code_of(text, codes[i]);
        free(text);
        free(name);
        free(show);
        program_result_fini(&result);
    }
    assert_string_not_equal(codes[0], codes[1]);              /* equal by chance once in 100 million */
}

static void an_existing_file_is_not_touched(void **state)
{
    const struct place *place = *state;
    char *name = path_in(place, "small"), *err = text_of("rigcall: %s: exists already, nothing is overwritten\n", place->show);
    assert_result(RUN("new", name), 3, "", err);
    char *text = program_read(place->show);
    assert_string_equal(text, small_show);
    free(text);
    free(err);
    free(name);
}

static void the_name_may_end_in_the_suffix_and_hold_quotes(void **state)
{
    char *name = path_in(*state, "it's \"here\" \\o.show.lua");
    struct program_result result = RUN("new", name), check = RUN("check", name);
    assert_int_equal(result.status, 0);
    assert_int_equal(check.status, 0);
    char *text = program_read(name);
    assert_non_null(strstr(text, "name = \"it's \\\"here\\\" \\\\o\""));
    free(text);
    free(name);
    program_result_fini(&result);
    program_result_fini(&check);
}

static void bad_names_and_places_are_refused(void **state)
{
    (void)state;
    assert_result(RUN("new", ""), 2, "", "rigcall: new: the show needs a name\n");
    assert_result(RUN("new", "x\ny"), 2, "", "rigcall: new: control characters in the name\n");
    assert_result(RUN("new", "x\xff"), 2, "", "rigcall: new: the name is not UTF-8\n");
    assert_result(RUN("new", "/nowhere/x"), 3, "", "rigcall: /nowhere/x.show.lua: No such file or directory\n");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        PLACE_TEST(a_new_show_checks_clean),
        PLACE_TEST(every_show_gets_a_code_of_its_own),
        PLACE_TEST(an_existing_file_is_not_touched),
        PLACE_TEST(the_name_may_end_in_the_suffix_and_hold_quotes),
        PLACE_TEST(bad_names_and_places_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
