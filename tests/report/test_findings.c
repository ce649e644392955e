/* Findings: order, text, JSON and JUnit. Expected texts are written by hand from the format that the README shows; the JUnit
 * output is read back by xmllint (libxml2), the JSON by jansson. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <cmocka.h>
#include <jansson.h>

#include "rigcall/report.h"

static const char *text(struct show *show, const char *bytes)
{
    return show_text(show, bytes, strlen(bytes));
}

/* Fixtures 9, 10, 101, transmitters T10, T2, universe 7. */
static struct show *make_show(void)
{
    static const int64_t ids[] = { 101, 10, 9 };
    struct show *show = show_new();
    assert_non_null(show);
    show->name = text(show, "Harbour & <Lanterns>");
    for (int i = 0; i < 3; i++) {
        struct fixture *fixture = show_add_fixture(show);
        fixture->id = ids[i];
        fixture->name = i == 0 ? text(show, "Rail \"1\"") : NULL;
    }
    show_add_transmitter(show)->id = text(show, "T2");
    show_add_transmitter(show)->id = text(show, "T10");
    struct universe *universe = show_add_universe(show);
    universe->id = 7;
    universe->label = text(show, "Quay");
    assert_int_equal(show_index(show), 0);
    return show;
}

static void put(struct findings *findings, const char *rule, enum severity severity, enum subject_kind kind, uint32_t index,
                const char *words)
{
    struct finding finding = { .rule = rule, .severity = severity, .subject = { kind, index }, .text = words };
    assert_int_equal(findings_add(findings, &finding), 0);
}

static char *written(const struct findings *findings, const struct show *show, enum report_format format, bool colour)
{
    char *bytes = NULL;
    size_t length = 0;
    struct rig_why why;
    FILE *out = open_memstream(&bytes, &length);
    assert_non_null(out);
    assert_int_equal(findings_write(findings, show, "harbour.show.lua", format, colour, out, &why), 0);
    fclose(out);
    return bytes;
}

static struct findings *make_findings(void)
{
    const struct subject others[] = { { SUBJECT_FIXTURE, 0 }, { SUBJECT_TRANSMITTER, 1 } };
    struct finding pair = { .rule = "address-overlap", .severity = SEVERITY_FAIL, .subject = { SUBJECT_FIXTURE, 2 },
                            .others = others, .other_count = 2, .text = "slots 5 to 9 are shared" };
    struct findings *findings = findings_new();
    assert_non_null(findings);
    put(findings, "label-form", SEVERITY_WARN, SUBJECT_UNIVERSE, 0, "no label");
    put(findings, "label-form", SEVERITY_NOTE, SUBJECT_SHOW, 0, "spelling <&\"'> \x01");
    put(findings, "address-overlap", SEVERITY_FAIL, SUBJECT_FIXTURE, 0, "past the end");
    assert_int_equal(findings_add(findings, &pair), 0);
    assert_int_equal(findings_add_rule(findings, "landing", "Lands where it should."), 0);
    assert_int_equal(findings_add_rule(findings, "label-form", "Labels."), 0);
    return findings;
}

static void findings_sort_by_rule_kind_and_id(void **state)
{
    (void)state;
    struct show *show = make_show();
    struct findings *findings = findings_new();
    size_t count;
    /* numbers by value: 9, 10, 101; names by octets: T10 before T2; the line of the left-out ones last of its rule */
    put(findings, "b", SEVERITY_FAIL, SUBJECT_TRANSMITTER, 0, "");
    put(findings, "b", SEVERITY_FAIL, SUBJECT_TRANSMITTER, 1, "");
    assert_int_equal(findings_add_more(findings, "b", SEVERITY_FAIL, 12), 0);
    put(findings, "b", SEVERITY_FAIL, SUBJECT_FIXTURE, 0, "");
    put(findings, "b", SEVERITY_FAIL, SUBJECT_FIXTURE, 1, "y");
    put(findings, "b", SEVERITY_FAIL, SUBJECT_FIXTURE, 1, "x");
    put(findings, "b", SEVERITY_FAIL, SUBJECT_FIXTURE, 2, "");
    put(findings, "a", SEVERITY_NOTE, SUBJECT_UNIVERSE, 0, "");
    findings_sort(findings, show);
    const struct finding *items = findings_items(findings, &count);
    assert_int_equal(count, 8);
    assert_string_equal(items[0].rule, "a");
    assert_int_equal(items[1].subject.index, 2);              /* fixture 9 */
    assert_string_equal(items[2].text, "x");                  /* fixture 10, by text */
    assert_string_equal(items[3].text, "y");
    assert_int_equal(items[4].subject.index, 0);              /* fixture 101 */
    assert_int_equal(items[5].subject.index, 1);              /* T10 */
    assert_int_equal(items[6].subject.index, 0);              /* T2 */
    assert_string_equal(items[7].text, "and 12 more");
    assert_int_equal(findings_count(findings, SEVERITY_FAIL), 6 + 12);
    assert_int_equal(findings_count(findings, SEVERITY_NOTE), 1);
    findings_free(findings);
    show_free(show);
}

static void text_has_one_line_a_finding_then_counts(void **state)
{
    (void)state;
    struct show *show = make_show();
    struct findings *findings = make_findings();
    assert_int_equal(findings_add_failure(findings, "mine", "rules/mine.lua", "line 3: attempt to\x1b[31m call"), 0);
    findings_sort(findings, show);
    char *plain = written(findings, show, REPORT_TEXT, false);
    assert_string_equal(plain,
        "fail  address-overlap  fixture 9: slots 5 to 9 are shared [fixture 101 Rail \"1\", transmitter T10]\n"
        "fail  address-overlap  fixture 101 Rail \"1\": past the end\n"
        "note  label-form       show Harbour & <Lanterns>: spelling <&\"'> ?\n"
        "warn  label-form       universe 7 Quay: no label\n"
        "broken  mine  rules/mine.lua: line 3: attempt to?[31m call\n"
        "harbour.show.lua: 3 rules, 2 fail, 1 warn, 1 note; 1 script broken\n");
    free(plain);
    char *coloured = written(findings, show, REPORT_TEXT, true);
    assert_non_null(strstr(coloured, "\033[1;31mfail\033[0m  address-overlap  fixture 9"));
    free(coloured);
    findings_free(findings);
    show_free(show);
}

static void nothing_found_is_one_line(void **state)
{
    (void)state;
    struct show *show = make_show();
    struct findings *findings = findings_new();
    findings_add_rule(findings, "landing", "");
    findings_sort(findings, show);
    char *plain = written(findings, show, REPORT_TEXT, false);
    assert_string_equal(plain, "harbour.show.lua: 1 rule, 0 fail, 0 warn, 0 note\n");
    free(plain);
    findings_free(findings);
    show_free(show);
}

static void long_lists_of_others_are_cut_in_text(void **state)
{
    (void)state;
    struct subject others[8];
    for (int i = 0; i < 8; i++)
        others[i] = (struct subject){ SUBJECT_FIXTURE, 2 };
    struct show *show = make_show();
    struct findings *findings = findings_new();
    struct finding finding = { .rule = "r", .severity = SEVERITY_WARN, .subject = { SUBJECT_TRANSMITTER, 0 }, .others = others,
                               .other_count = 8, .text = "t" };
    assert_int_equal(findings_add(findings, &finding), 0);
    char *plain = written(findings, show, REPORT_TEXT, false);
    assert_non_null(strstr(plain, "transmitter T2: t [fixture 9, fixture 9, fixture 9, fixture 9, fixture 9, fixture 9 and 2 more]\n"));
    free(plain);
    findings_free(findings);
    show_free(show);
}

static void others_that_the_text_names_are_not_said_twice(void **state)
{
    (void)state;
    const struct subject others[] = { { SUBJECT_FIXTURE, 0 }, { SUBJECT_FIXTURE, 1 } };
    struct show *show = make_show();
    struct findings *findings = findings_new();
    struct finding finding = { .rule = "r", .severity = SEVERITY_WARN, .subject = { SUBJECT_FIXTURE, 2 }, .others = others,
                               .other_count = 2, .text = "overlaps fixture 101 Rail \"1\"" };
    assert_int_equal(findings_add(findings, &finding), 0);
    char *plain = written(findings, show, REPORT_TEXT, false);
    /* fixture 10 is not named by "fixture 101" */
    assert_non_null(strstr(plain, "warn  r  fixture 9: overlaps fixture 101 Rail \"1\" [fixture 10]\n"));
    free(plain);
    findings_free(findings);
    show_free(show);
}

static void json_has_the_agreed_shape(void **state)
{
    (void)state;
    struct show *show = make_show();
    struct findings *findings = make_findings();
    json_error_t error;
    findings_sort(findings, show);
    char *bytes = written(findings, show, REPORT_JSON, true);
    json_t *got = json_loads(bytes, JSON_REJECT_DUPLICATES, &error);
    json_t *expected = json_loads(
        "{\"show\":\"harbour.show.lua\",\"rules\":[\"address-overlap\",\"label-form\",\"landing\"],"
        "\"counts\":{\"fail\":2,\"warn\":1,\"note\":1},\"findings\":["
        "{\"rule\":\"address-overlap\",\"severity\":\"fail\",\"subject\":{\"kind\":\"fixture\",\"id\":9},"
        " \"others\":[{\"kind\":\"fixture\",\"id\":101},{\"kind\":\"transmitter\",\"id\":\"T10\"}],\"text\":\"slots 5 to 9 are shared\"},"
        "{\"rule\":\"address-overlap\",\"severity\":\"fail\",\"subject\":{\"kind\":\"fixture\",\"id\":101},\"others\":[],\"text\":\"past the end\"},"
        "{\"rule\":\"label-form\",\"severity\":\"note\",\"subject\":{\"kind\":\"show\",\"id\":\"Harbour & <Lanterns>\"},\"others\":[],"
        " \"text\":\"spelling <&\\\"'> \\u0001\"},"
        "{\"rule\":\"label-form\",\"severity\":\"warn\",\"subject\":{\"kind\":\"universe\",\"id\":7},\"others\":[],\"text\":\"no label\"}]}",
        0, &error);
    assert_non_null(got);
    assert_non_null(expected);
    assert_true(json_equal(got, expected));
    json_decref(got);
    json_decref(expected);
    free(bytes);
    findings_free(findings);
    show_free(show);
}

static void json_lists_failures_only_when_there_are_any(void **state)
{
    (void)state;
    struct show *show = make_show();
    struct findings *findings = findings_new();
    assert_int_equal(findings_add_failure(findings, "mine", "rules/\xff.lua", "broke"), 0);
    char *bytes = written(findings, show, REPORT_JSON, false);
    json_t *got = json_loads(bytes, 0, NULL);
    json_t *expected = json_loads("{\"show\":\"harbour.show.lua\",\"rules\":[],\"counts\":{\"fail\":0,\"warn\":0,\"note\":0},\"findings\":[],"
                                  "\"failures\":[{\"script\":\"mine\",\"path\":\"rules/?.lua\",\"text\":\"broke\"}]}", 0, NULL);
    assert_true(json_equal(got, expected));
    json_decref(got);
    json_decref(expected);
    free(bytes);
    findings_free(findings);
    show_free(show);
}

/* What xmllint says to an XPath over a document; the caller frees. */
static char *xpath(const char *document, const char *expression)
{
    char path[] = "/tmp/rigcall-junit-XXXXXX", command[512], *answer = NULL;
    size_t length = 0;
    int file = mkstemp(path);
    assert_true(file >= 0);
    assert_int_equal(write(file, document, strlen(document)), (ssize_t)strlen(document));
    close(file);
    snprintf(command, sizeof command, "xmllint --nonet --xpath '%s' %s", expression, path);
    FILE *out = open_memstream(&answer, &length), *in = popen(command, "r");
    for (int c; (c = fgetc(in)) != EOF;)
        fputc(c, out);
    assert_int_equal(pclose(in), 0);
    fclose(out);
    unlink(path);
    while (length && answer[length - 1] == '\n')
        answer[--length] = '\0';
    return answer;
}

static void assert_xpath(const char *document, const char *expression, const char *expected)
{
    char *answer = xpath(document, expression);
    assert_string_equal(answer, expected);
    free(answer);
}

static void junit_is_read_back_by_xmllint(void **state)
{
    (void)state;
    struct show *show = make_show();
    struct findings *findings = make_findings();
    assert_int_equal(findings_add_failure(findings, "mine", "rules/\xff<mine>.lua", "attempt to call & fail\n"), 0);
    put(findings, "address-overlap", SEVERITY_WARN, SUBJECT_FIXTURE, 0, "noncharacter \xef\xbf\xbf and ]]> here");
    findings_sort(findings, show);
    char *xml = written(findings, show, REPORT_JUNIT, true);
    assert_xpath(xml, "string(/testsuites/testsuite/@name)", "harbour.show.lua");
    assert_xpath(xml, "string(/testsuites/testsuite/@tests)", "4");
    assert_xpath(xml, "count(/testsuites/testsuite/testcase)", "4");
    assert_xpath(xml, "string(/testsuites/@failures)", "1");
    assert_xpath(xml, "count(//testcase[failure])", "1");
    assert_xpath(xml, "string(/testsuites/@errors)", "1");
    assert_xpath(xml, "string(//testcase[@name=\"address-overlap\"]/failure[1]/@message)",
                 "fixture 9: slots 5 to 9 are shared [fixture 101 Rail \"1\", transmitter T10]");
    assert_xpath(xml, "count(//testcase[@name=\"address-overlap\"]/failure)", "2");
    assert_xpath(xml, "string(//testcase[@name=\"mine\"]/error/@message)", "rules/?<mine>.lua: attempt to call & fail");
    assert_xpath(xml, "string(//testcase[@name=\"landing\"]/system-out)", "Lands where it should.");
    assert_xpath(xml, "contains(//testcase[@name=\"label-form\"]/system-out, \"note show Harbour & <Lanterns>: spelling <&\")", "true");
    assert_xpath(xml, "contains(//testcase[@name=\"address-overlap\"]/system-out, \"and ]]> here\")", "true");
    free(xml);
    findings_free(findings);
    show_free(show);
}

static void a_full_disk_is_an_error(void **state)
{
    (void)state;
    struct show *show = make_show();
    struct findings *findings = make_findings();
    struct rig_why why;
    FILE *full = fopen("/dev/full", "w");
    assert_non_null(full);
    assert_int_equal(findings_write(findings, show, "s", REPORT_JSON, false, full, &why), RIG_EIO);
    assert_string_equal(why.text, "the report is not written: No space left on device");
    fclose(full);
    findings_free(findings);
    show_free(show);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(findings_sort_by_rule_kind_and_id),
        cmocka_unit_test(text_has_one_line_a_finding_then_counts),
        cmocka_unit_test(nothing_found_is_one_line),
        cmocka_unit_test(long_lists_of_others_are_cut_in_text),
        cmocka_unit_test(others_that_the_text_names_are_not_said_twice),
        cmocka_unit_test(json_has_the_agreed_shape),
        cmocka_unit_test(json_lists_failures_only_when_there_are_any),
        cmocka_unit_test(junit_is_read_back_by_xmllint),
        cmocka_unit_test(a_full_disk_is_an_error),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
