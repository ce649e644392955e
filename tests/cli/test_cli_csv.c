/* rigcall export and import: what would change, what changes, what is refused. */
#include <jansson.h>

#include "cli_test.h"

static void export_goes_to_stdout_or_a_file(void **state)
{
    const struct place *place = *state;
    char *path = text_of("%s/out.csv", place->folder);
    struct program_result plain = RUN("export", place->show, "csv", "--of", "fixtures");
    assert_int_equal(plain.status, 0);
    assert_ptr_equal(strstr(plain.out, "id,"), plain.out);
    assert_non_null(strstr(plain.out, "Left"));
    assert_result(RUN("export", place->show, "csv", "--of", "fixtures", "-o", path), 0, "", "");
    char *text = program_read(path);
    assert_string_equal(text, plain.out);
    program_result_fini(&plain);
    free(text);
    free(path);
}

static void what_was_exported_changes_nothing(void **state)
{
    const struct place *place = *state;
    char *path = text_of("%s/out.csv", place->folder), *out = text_of("%s: 0 changed, 0 new, 3 the same; nothing to write\n", path);
    assert_result(RUN("export", place->show, "csv", "--of", "fixtures", "-o", path), 0, "", "");
    assert_result(RUN("import", place->show, "csv", path, "--of", "fixtures", "--write"), 0, out, "");
    char *text = program_read(place->show);
    assert_string_equal(text, small_show);                    /* comments and all */
    free(text);
    free(out);
    free(path);
}

static void changes_are_listed_and_only_written_on_demand(void **state)
{
    const struct place *place = *state;
    char *csv = program_file(place->folder, "in.csv", "id,name,address,type,mode,site\n2,Right,7,lamp,m,hall\n5,Fifth,,lamp,m,hall\n");
    struct program_result look = RUN("import", place->show, "csv", csv, "--of", "fixtures");
    assert_int_equal(look.status, 0);
    assert_non_null(strstr(look.out, "fixture 2 Right: address 3 -> 7\n"));
    assert_non_null(strstr(look.out, "fixture 5 Fifth: new\n"));
    assert_non_null(strstr(look.out, ": 1 changed, 1 new, 0 the same; nothing is written, --write does that\n"));
    char *text = program_read(place->show);
    assert_string_equal(text, small_show);
    free(text);
    program_result_fini(&look);

    char *err = text_of("rigcall: the comments of %s are not kept; they are still in %s~\n", place->show, place->show);
    struct program_result change = RUN("import", place->show, "csv", csv, "--of", "fixtures", "--write");
    assert_int_equal(change.status, 0);
    assert_string_equal(change.err, err);
    text = program_read(place->show);
    assert_non_null(strstr(text, "address = 7"));
    assert_non_null(strstr(text, "\"Fifth\""));
    assert_null(strstr(text, "a comment"));
    free(text);
    char *kept = text_of("%s~", place->show);
    text = program_read(kept);
    assert_string_equal(text, small_show);
    free(text);
    program_result_fini(&change);
    free(kept);
    free(err);
    free(csv);
}

static void json_lists_the_changes(void **state)
{
    const struct place *place = *state;
    char *csv = program_file(place->folder, "in.csv", "id,address\n2,7\n1,1\n");
    struct program_result result = RUN("import", place->show, "csv", csv, "--of", "fixtures", "--format", "json");
    json_t *got = json_loads(result.out, 0, NULL);
    json_t *expected = json_loads("{\"of\":\"fixtures\",\"counts\":{\"changed\":1,\"new\":0,\"same\":1},\"written\":false,"
                                  "\"changes\":[{\"change\":\"changed\",\"id\":2,\"fields\":\"address 3 -> 7\"}]}", 0, NULL);
    assert_int_equal(result.status, 0);
    assert_true(json_equal(got, expected));
    json_decref(got);
    json_decref(expected);
    program_result_fini(&result);
    free(csv);
}

static void every_bad_row_is_named_and_nothing_changes(void **state)
{
    const struct place *place = *state;
    char *csv = program_file(place->folder, "in.csv", "id,address\n2,seven\n1,1\nx,3\n");
    struct program_result result = RUN("import", place->show, "csv", csv, "--of", "fixtures", "--write");
    char *first = text_of("%s:2:", csv), *second = text_of("\n%s:4:", csv), *last = text_of("rigcall: %s: 2 bad rows, nothing is changed\n", csv);
    assert_int_equal(result.status, 3);
    assert_ptr_equal(strstr(result.err, first), result.err);
    assert_non_null(strstr(result.err, second));
    assert_non_null(strstr(result.err, last));
    assert_string_equal(result.out, "");
    char *text = program_read(place->show);
    assert_string_equal(text, small_show);
    free(text);
    program_result_fini(&result);
    free(first);
    free(second);
    free(last);
    free(csv);
}

static void an_import_that_leaves_an_unknown_type_is_refused(void **state)
{
    const struct place *place = *state;
    char *csv = program_file(place->folder, "in.csv", "id,type\n2,lampp\n");
    struct program_result result = RUN("import", place->show, "csv", csv, "--of", "fixtures", "--write");
    assert_int_equal(result.status, 3);
    assert_non_null(strstr(result.err, "lampp"));
    char *text = program_read(place->show);
    assert_string_equal(text, small_show);
    free(text);
    program_result_fini(&result);
    free(csv);
}

static void wrong_usage(void **state)
{
    const struct place *place = *state;
    assert_result(RUN("export", place->show, "xls", "--of", "fixtures"), 2, "", "rigcall: export: \"xls\" is no known form, expected csv\n");
    assert_result(RUN("export", place->show, "csv"), 2, "", "rigcall: export needs --of fixtures or --of transmitters\n");
    assert_result(RUN("import", place->show, "csv", "x"), 2, "", "rigcall: import needs --of fixtures or --of transmitters\n");
    assert_result(RUN("import", place->show, "mvr", "x", "--of", "fixtures"), 2, "", "rigcall: import: \"mvr\" is no known form, expected csv\n");
    assert_fails(RUN("import", place->show, "csv", "/nowhere.csv", "--of", "fixtures"), 3, "rigcall: /nowhere.csv: cannot open: No such file");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        PLACE_TEST(export_goes_to_stdout_or_a_file),
        PLACE_TEST(what_was_exported_changes_nothing),
        PLACE_TEST(changes_are_listed_and_only_written_on_demand),
        PLACE_TEST(json_lists_the_changes),
        PLACE_TEST(every_bad_row_is_named_and_nothing_changes),
        PLACE_TEST(an_import_that_leaves_an_unknown_type_is_refused),
        PLACE_TEST(wrong_usage),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
