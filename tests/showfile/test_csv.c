/* CSV in and out, RFC 4180. Expected texts are written by hand from the show below. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "showfile/csv_internal.h"

static const char show_text_[] =
    "return { rigcall = 1, name = 'n', x_kept = 1, sites = { { id = 'quay' } },\n"
    "transmitters = { { id = 'T1', site = 'quay', radios = 4, airs = { 'single', 'dual' }, air = 'dual', code = '40718263', spare = true,\n"
    "  lanes = { { lane = 1, universe = 1 }, { lane = 2, universe = 2 } }, keep_out = { { from = 2402, to = 2423, who = 'camera' }, { from = 2450.5, to = 2460 } } } },\n"
    "fixtures = {\n"
    "  { id = 101, name = 'Rail 1', type = 'batten', mode = 'cells', site = 'quay', pos = { 3, 0.5, -2 }, tags = { 'rail', 'left' }, universe = 1, address = 1, code = '04071826', x_a = 5 },\n"
    "  { id = 102, name = 'Rail, \"2\"', type = 'batten', mode = 'cells', site = 'quay', tags = { 'up stage', '' }, wired = true, note = 'a\\nb' } } }\n";

#define FIXTURES_CSV \
    "id,name,type,mode,site,pos_x,pos_y,pos_z,tags,universe,address,code,wired,note\r\n" \
    "101,Rail 1,batten,cells,quay,3,0.5,-2,rail left,1,1,04071826,,\r\n" \
    "102,\"Rail, \"\"2\"\"\",batten,cells,quay,,,,\"\"\"up stage\"\" \"\"\"\"\",,,,true,\"a\nb\"\r\n"
#define TRANSMITTERS_CSV \
    "id,site,radios,airs,air,code,spare,lanes,keep_out\r\n" \
    "T1,quay,4,single dual,dual,40718263,true,1:1 2:2,2402-2423 2450.5-2460\r\n"

struct test { struct show *show, *out; struct csv_report report; struct rig_why why; };

static int set_up(void **state)
{
    struct test *test = calloc(1, sizeof *test);
    *state = test;
    return showfile_parse("a.show.lua", show_text_, sizeof show_text_ - 1, &test->show, NULL);
}

static int tear_down(void **state)
{
    struct test *test = *state;
    show_free(test->show);
    show_free(test->out);
    csv_report_free(&test->report);
    free(test);
    return 0;
}

static int import(struct test *test, enum csv_kind kind, const char *text)
{
    char *copy = strdup(text);
    show_free(test->out);
    csv_report_free(&test->report);
    int err = showfile__csv_import(test->show, kind, "a.csv", copy, strlen(copy), &test->out, &test->report, &test->why);
    free(copy);
    return err;
}

static void expect_errors(struct test *test, enum csv_kind kind, const char *text, const char *const *messages)
{
    size_t count = 0;
    assert_int_equal(import(test, kind, text), RIG_EINPUT);
    assert_null(test->out);
    for (; messages[count]; count++) {
        assert_true(count < test->report.error_count);
        assert_string_equal(test->report.errors[count].text, messages[count]);
    }
    assert_int_equal(test->report.error_count, count);
    assert_string_equal(test->why.text, messages[0]);
    assert_int_equal(test->why.line, test->report.errors[0].line);
    assert_int_equal(test->why.column, test->report.errors[0].column);
}
#define EXPECT_ERRORS(test, kind, text, ...) expect_errors(test, kind, text, (const char *const[]){ __VA_ARGS__, NULL })

static void export_writes_the_columns_that_have_values(void **state)
{
    struct test *test = *state;
    char *text;
    size_t length;
    assert_int_equal(csv_export(test->show, CSV_FIXTURES, &text, &length, NULL), 0);
    assert_string_equal(text, FIXTURES_CSV);
    assert_int_equal(length, strlen(text));
    free(text);
    assert_int_equal(csv_export(test->show, CSV_TRANSMITTERS, &text, &length, NULL), 0);
    assert_string_equal(text, TRANSMITTERS_CSV);
    free(text);
}

static void an_empty_show_exports_the_required_columns(void **state)
{
    (void)state;
    struct show *show;
    char *text;
    size_t length;
    assert_int_equal(showfile_parse("a", "return{rigcall=1,name=''}", 25, &show, NULL), 0);
    assert_int_equal(csv_export(show, CSV_FIXTURES, &text, &length, NULL), 0);
    assert_string_equal(text, "id,type,mode,site\r\n");
    free(text);
    show_free(show);
}

static void expect_same_file(const struct show *a, const struct show *b)
{
    char *left, *right;
    size_t length;
    assert_int_equal(showfile_format(a, &left, &length, NULL), 0);
    assert_int_equal(showfile_format(b, &right, &length, NULL), 0);
    assert_string_equal(left, right);
    free(left);
    free(right);
}

static void importing_what_was_exported_changes_nothing(void **state)
{
    struct test *test = *state;
    assert_int_equal(import(test, CSV_FIXTURES, FIXTURES_CSV), 0);
    assert_int_equal(test->report.change_count, 2);
    assert_int_equal(test->report.changes[0].kind, CSV_SAME);
    assert_int_equal(test->report.changes[1].kind, CSV_SAME);
    expect_same_file(test->show, test->out);
    assert_int_equal(import(test, CSV_TRANSMITTERS, "\xef\xbb\xbf" TRANSMITTERS_CSV), 0);
    assert_int_equal(test->report.changes[0].kind, CSV_SAME);
    expect_same_file(test->show, test->out);              /* also who a band is for, which CSV cannot say */
}

static void rows_change_and_add(void **state)
{
    struct test *test = *state;
    assert_int_equal(import(test, CSV_FIXTURES, "universe,id,address,code,type,mode,site,tags,wired,pos_x\n"
                                                "2,101,1.0,,batten,cells,quay,rail,,4\n"
                                                ",,,,,,,,,\n"
                                                "7,9,600,\"00000001\",wash,plain,barge,\"a \"\"b c\"\"\",FALSE,\n"), 0);
    assert_int_equal(test->report.change_count, 2);
    assert_int_equal(test->report.changes[0].kind, CSV_CHANGED);
    assert_int_equal(test->report.changes[0].index, 0);
    assert_string_equal(test->report.changes[0].fields,
                        "universe 1 -> 2, code \"04071826\" -> nothing, tags \"rail left\" -> \"rail\", pos_x 3 -> 4");
    assert_int_equal(test->report.changes[1].kind, CSV_ADDED);
    assert_int_equal(test->report.changes[1].index, 2);
    const struct fixture *changed = &test->out->fixtures[0], *added = &test->out->fixtures[2];
    assert_true(changed->universe == 2 && changed->address == 1 && !changed->code && changed->tag_count == 1 && changed->pos.x_m == 4);
    assert_int_equal(changed->extras.count, 1);
    assert_true(added->id == 9 && added->universe == 7 && added->address == 600 && added->lane == SHOW_NONE && isnan(added->pos.x_m));
    assert_string_equal(added->code, "00000001");
    assert_int_equal(added->tag_count, 2);
    assert_string_equal(added->tags[1], "b c");
    assert_int_equal(show_find_fixture(test->out, 9), 2);
    assert_int_equal(test->show->fixtures[0].universe, 1);
    assert_int_equal(test->show->fixture_count, 2);
}

static void transmitter_lists_are_read(void **state)
{
    struct test *test = *state;
    assert_int_equal(import(test, CSV_TRANSMITTERS, "id,site,radios,airs,air,lanes,keep_out,input\r\n"
                                                    "T1,quay,4,dual,dual, 1:5  3:-6 ,-5--3 2402-2402.5,unicast\r\n"), 0);
    assert_string_equal(test->report.changes[0].fields,
                        "airs \"single dual\" -> \"dual\", lanes \"1:1 2:2\" -> \"1:5 3:-6\", "
                        "keep_out \"2402-2423 2450.5-2460\" -> \"-5--3 2402-2402.5\", input nothing -> unicast");
    const struct transmitter *transmitter = &test->out->transmitters[0];
    assert_true(transmitter->lanes[1].lane == 3 && transmitter->lanes[1].universe == -6);
    assert_true(transmitter->keep_out[0].from_mhz == -5 && transmitter->keep_out[0].to_mhz == -3 && transmitter->keep_out[1].to_mhz == 2402.5);
    assert_int_equal(transmitter->airs, AIR_BIT(AIR_DUAL));
}

static void values_stay_as_they_are(void **state)
{
    struct test *test = *state;
    assert_int_equal(import(test, CSV_FIXTURES, "id,name,note\n101,=1+1,\"x\r\ny\"\n"), 0);
    assert_string_equal(test->out->fixtures[0].name, "=1+1");
    assert_string_equal(test->out->fixtures[0].note, "x\ny");
    char *text;
    size_t length;
    assert_int_equal(csv_export(test->out, CSV_FIXTURES, &text, &length, NULL), 0);
    assert_non_null(strstr(text, "101,=1+1,"));
    free(text);
}

static void wrong_headers_are_refused(void **state)
{
    struct test *test = *state;
    EXPECT_ERRORS(test, CSV_FIXTURES, "", "a.csv:1:1: found an empty file, expected a header of column names");
    EXPECT_ERRORS(test, CSV_FIXTURES, "name\n1\n", "a.csv:1:1: found no column \"id\", expected it in every import");
    EXPECT_ERRORS(test, CSV_FIXTURES, "id,adress,x_a,id,Name\n",
                  "a.csv:1:4: found unknown column \"adress\", expected one of a fixture (nearest: \"address\")",
                  "a.csv:1:11: found column \"x_a\", expected no x_ columns: they are kept in the show file only",
                  "a.csv:1:15: found column \"id\" again, expected each column once",
                  "a.csv:1:18: found unknown column \"Name\", expected one of a fixture (nearest: \"name\")");
    EXPECT_ERRORS(test, CSV_TRANSMITTERS, "id;site\n", "a.csv:1:1: found unknown column \"id;site\", expected one of a transmitter (nearest: \"site\")");
    EXPECT_ERRORS(test, CSV_FIXTURES, "id,pos,pos_x\n", "a.csv:1:4: found unknown column \"pos\", expected one of a fixture (nearest: \"pos_x\")");
    EXPECT_ERRORS(test, CSV_FIXTURES, "id,\"name\n", "a.csv:1:4: found a quoted field without an end, expected a closing \"");
}

static void every_bad_row_is_told(void **state)
{
    struct test *test = *state;
    EXPECT_ERRORS(test, CSV_FIXTURES,
                  "id,address,name,tags,air,wired,pos_x\r\n"
                  "101,1,a\r\n"
                  "101,1.5,,,,,3\r\n"
                  "x,1,,,,,\r\n"
                  ",1,,,,,\r\n"
                  "102,,\"a\nb\",,,,\r\n"
                  "102,,,,triple,,\r\n"
                  "101,,,,,,1e999\r\n"
                  "101,,a\"b,,,,\r\n"
                  "101,,\"a\"b,,,,\r\n"
                  "101,,,a\"b,,,\r\n"
                  "102,,,,,maybe,\r\n"
                  "102,,\xff,,,,\r\n",
                  "a.csv:2:1: found 3 fields, expected 7 as in the header",
                  "a.csv:3:5: fixture 101: address: found \"1.5\", expected an integer from -2147483648 to 2147483647",
                  "a.csv:4:1: id: found \"x\", expected an integer from 1 to 2147483647",
                  "a.csv:5:1: id: found nothing, expected an integer from 1 to 2147483647",
                  "a.csv:6:6: fixture 102: name: found \"a\\x0ab\", expected a text without control characters",
                  "a.csv:8:1: fixture 102: found a second row for it, expected one",
                  "a.csv:9:1: fixture 101: found a second row for it, expected one",
                  "a.csv:10:7: found a quote inside a field, expected a field with quotes to be quoted as a whole",
                  "a.csv:11:9: found text after a closing quote, expected a comma or the end of the row",
                  "a.csv:12:8: found a quote inside a field, expected a field with quotes to be quoted as a whole",
                  "a.csv:13:1: fixture 102: found a second row for it, expected one",
                  "a.csv:14:6: octet 0xff in a field, expected UTF-8");
}

static void bad_cells_say_what_was_expected(void **state)
{
    struct test *test = *state;
    EXPECT_ERRORS(test, CSV_FIXTURES, "id,air,wired,tags,pos_x\n101,both,,,3\n102,,maybe,,\n103,,,\"a \"\"b\",\n",
                  "a.csv:2:5: fixture 101: air: found \"both\", expected \"single\" or \"dual\"",
                  "a.csv:3:6: fixture 102: wired: found \"maybe\", expected true or false",
                  "a.csv:4:7: fixture 103: tags: found \"a \"b\", expected words separated by spaces");
    EXPECT_ERRORS(test, CSV_FIXTURES, "id,type\n101,\n5,batten\n", "a.csv:2:5: fixture 101: type: found nothing, expected it in every fixture",
                  "a.csv:3:1: fixture 5: found no column \"mode\", expected it for a new fixture");
    EXPECT_ERRORS(test, CSV_FIXTURES, "id,pos_x,pos_y\n101,,1\n102,3,4\n101,1,1\n",
                  "a.csv:2:1: fixture 101: found only a part of a position, expected pos_x, pos_y and pos_z or none of them",
                  "a.csv:3:1: fixture 102: found only a part of a position, expected pos_x, pos_y and pos_z or none of them",
                  "a.csv:4:1: fixture 101: found a second row for it, expected one");
    EXPECT_ERRORS(test, CSV_TRANSMITTERS, "id,lanes\nT1,1:1 2\n", "a.csv:2:4: transmitter T1: lanes: found \"1:1 2\", expected lanes and universes such as \"1:1 2:2\"");
    EXPECT_ERRORS(test, CSV_TRANSMITTERS, "id,lanes\nT1,1:1.5\n", "a.csv:2:4: transmitter T1: lanes: found \"1:1.5\", expected lanes and universes such as \"1:1 2:2\"");
    EXPECT_ERRORS(test, CSV_TRANSMITTERS, "id,keep_out\nT1,2423-2402\n", "a.csv:2:4: transmitter T1: keep_out: found \"2423-2402\", expected bands such as \"2402-2423 2450-2460\"");
    EXPECT_ERRORS(test, CSV_TRANSMITTERS, "id,airs\nT1,\"single,dual\"\n", "a.csv:2:4: transmitter T1: airs: found \"single,dual\", expected \"single\", \"dual\" or both");
    EXPECT_ERRORS(test, CSV_TRANSMITTERS, "id,reach\nT1,-1\nT 2,5\n", "a.csv:2:4: transmitter T1: reach: found \"-1\", expected a number from 0 to 2147483647",
                  "a.csv:3:1: id: found \"T 2\", expected an id of 1 to 32 of A-Z a-z 0-9 _ . -");
    EXPECT_ERRORS(test, CSV_FIXTURES, "id,name\n101,\"abc\n", "a.csv:2:5: found a quoted field without an end, expected a closing \"");
    EXPECT_ERRORS(test, CSV_FIXTURES, "id,name\n101,a\rb\n", "a.csv:2:6: found CR without LF, expected CR LF or LF at the end of a row");
}

static void more_bad_rows_than_are_told_are_counted(void **state)
{
    struct test *test = *state;
    char text[32 + 1005 * 3], *to = stpcpy(text, "id,name\n");
    for (int i = 0; i < 1005; i++)
        to = stpcpy(to, "x\n");
    assert_int_equal(import(test, CSV_FIXTURES, text), RIG_EINPUT);
    assert_int_equal(test->report.error_count, 1000);
    assert_int_equal(test->report.errors_left_out, 5);
}

static void rows_past_the_limit_end_the_import(void **state)
{
    struct test *test = *state;
    char *text = malloc(8 + 300001 * 2 + 1), *to = stpcpy(text, "id,name\n");
    for (int i = 0; i < 300001; i++)
        to = stpcpy(to, "x\n");
    assert_int_equal(import(test, CSV_FIXTURES, text), RIG_EINPUT);
    assert_int_equal(test->report.error_count, 1000);
    assert_int_equal(test->report.errors_left_out, 299000 + 1);
    free(text);
}

static void an_id_that_the_show_repeats_cannot_be_changed(void **state)
{
    struct test *test = *state;
    show_free(test->show);
    const char *text = "return{rigcall=1,name='',fixtures={{id=1,type='a',mode='b',site='c'},{id=1,type='a',mode='b',site='c'}}}";
    assert_int_equal(showfile_parse("a", text, strlen(text), &test->show, NULL), 0);
    EXPECT_ERRORS(test, CSV_FIXTURES, "id,name\n1,x\n", "a.csv:2:1: fixture 1: found its id more than once in the show, expected it once");
    assert_int_equal(import(test, CSV_FIXTURES, "id,type,mode,site\n2,x,y,z\n"), 0);
}

static void a_missing_file_is_told(void **state)
{
    struct test *test = *state;
    assert_int_equal(csv_import(test->show, CSV_FIXTURES, "/nowhere/a.csv", &test->out, &test->report, &test->why), RIG_EIO);
    assert_string_equal(test->why.text, "/nowhere/a.csv: cannot open: No such file or directory");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(export_writes_the_columns_that_have_values, set_up, tear_down),
        cmocka_unit_test(an_empty_show_exports_the_required_columns),
        cmocka_unit_test_setup_teardown(importing_what_was_exported_changes_nothing, set_up, tear_down),
        cmocka_unit_test_setup_teardown(rows_change_and_add, set_up, tear_down),
        cmocka_unit_test_setup_teardown(transmitter_lists_are_read, set_up, tear_down),
        cmocka_unit_test_setup_teardown(values_stay_as_they_are, set_up, tear_down),
        cmocka_unit_test_setup_teardown(wrong_headers_are_refused, set_up, tear_down),
        cmocka_unit_test_setup_teardown(every_bad_row_is_told, set_up, tear_down),
        cmocka_unit_test_setup_teardown(bad_cells_say_what_was_expected, set_up, tear_down),
        cmocka_unit_test_setup_teardown(more_bad_rows_than_are_told_are_counted, set_up, tear_down),
        cmocka_unit_test_setup_teardown(rows_past_the_limit_end_the_import, set_up, tear_down),
        cmocka_unit_test_setup_teardown(an_id_that_the_show_repeats_cannot_be_changed, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_missing_file_is_told, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
