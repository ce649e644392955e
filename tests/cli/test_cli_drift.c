/* The rule plan-drift behind the commands: what swap, patch, move and import write is what check then says of it; and a kept
 * file that is missing, broken or no file. Expected texts are worked out by hand from the rigs below. */
#include <stdbool.h>
#include <sys/stat.h>

#include "plan_test.h"

/* T1 is lost; T2 beside it reaches everything, has lanes 2 to 4 free, and keeps its code because 201 works on it. So universes 1
 * and 2 go to its lanes 2 and 3, and 101 and 103 are keyed anew. */
#define QUAY \
    "return { rigcall = 1, name = \"Quay\", sites = { { id = \"quay\" } },\n" \
    "  types = { { id = \"tile\", airs = { \"dual\" }, modes = { { id = \"m\", cells = 32, slots = { \"red\", \"green\", \"blue\", \"white\" } } } } },\n" \
    "  transmitters = {\n" \
    "    { id = \"T1\", site = \"quay\", pos = { 0, 0, 6 }, reach = 50, radios = 1, airs = { \"dual\" }, air = \"dual\", code = \"40718263\",\n" \
    "      lanes = { { lane = 1, universe = 1 }, { lane = 2, universe = 2 } } },\n" \
    "    { id = \"T2\", site = \"quay\", pos = { 5, 0, 6 }, reach = 60, radios = 2, airs = { \"dual\" }, air = \"dual\", code = \"62930415\",\n" \
    "      lanes = { { lane = 1, universe = 3 } } } },\n" \
    "  universes = { { id = 1, label = \"One\" }, { id = 2, label = \"Two\" }, { id = 3, label = \"Three\" } },\n" \
    "  fixtures = {\n" FIXTURE(101, 3, 1, 1, 40718263, 1) FIXTURE(103, 9, 2, 1, 40718263, 2) FIXTURE(201, 12, 3, 1, 62930415, 1) "  } }\n"

static json_t *drift(const char *show)
{
    return json_from(RUN("check", show, "--only", "plan-drift", "--format", "json"), 0);
}

static void assert_drift(const char *show, const char *text)
{
    char *out = text_of("%s%s: 1 rule, 0 fail, 0 warn, %zu note\n", text, show, strlen(text) ? (size_t)1 : (size_t)0);
    assert_result(RUN("check", show, "--only", "plan-drift"), 0, out, "");
    free(out);
}

static void assert_finding(const json_t *found, size_t i, const char *kind, const char *id, const char *text)
{
    json_t *finding = json_array_get(json_object_get(found, "findings"), i), *subject = json_object_get(finding, "subject");
    json_t *value = json_object_get(subject, "id");
    char *number = json_is_integer(value) ? text_of("%lld", (long long)json_integer_value(value)) : strdup(json_string_value(value));
    assert_string_equal(json_string_value(json_object_get(finding, "text")), text);
    assert_string_equal(json_string_value(json_object_get(finding, "severity")), "note");
    assert_string_equal(json_string_value(json_object_get(subject, "kind")), kind);
    assert_string_equal(number, id);
    free(number);
}

static bool is_of(const json_t *step, const json_t *subject)
{
    return json_equal(json_object_get(step, "kind"), json_object_get(subject, "kind"))
           && json_equal(json_object_get(step, "id"), json_object_get(subject, "id"));
}

/* Every finding is of an object of the steps, and every object of the steps has one finding. */
static void assert_the_steps(const json_t *plan, const json_t *found)
{
    json_t *steps = json_object_get(plan, "steps"), *findings = json_object_get(found, "findings"), *step, *finding, *other;
    size_t i, k;
    assert_true(json_array_size(steps) > 0);
    json_array_foreach(steps, i, step) {
        size_t count = 0;
        json_array_foreach(findings, k, finding)
            count += is_of(step, json_object_get(finding, "subject"));
        assert_int_equal(count, 1);
    }
    json_array_foreach(findings, i, finding) {
        size_t count = 0;
        json_array_foreach(steps, k, other)
            count += is_of(other, json_object_get(finding, "subject"));
        assert_true(count > 0);
    }
}

static void a_swap_is_told_object_by_object(void **state)
{
    const struct place *place = *state;
    char *show = program_file(place->folder, "quay.show.lua", QUAY);
    assert_drift(show, "");                                  /* nothing is kept */
    json_t *plan = json_from(RUN("swap", show, "--out", "T1", "--write", "--format", "json"), 0), *found = drift(show);
    assert_the_steps(plan, found);
    assert_int_equal(json_array_size(json_object_get(found, "findings")), 4);
    assert_finding(found, 0, "fixture", "101", "join code 40718263 -> 62930415; lane 1 -> 2");
    assert_finding(found, 1, "fixture", "103", "join code 40718263 -> 62930415; lane 2 -> 3");
    assert_finding(found, 2, "transmitter", "T1",
                   "join code 40718263 -> none; lane 1: universe 1 -> empty; lane 2: universe 2 -> empty");
    assert_finding(found, 3, "transmitter", "T2", "lane 2: empty -> universe 1; lane 3: empty -> universe 2");
    json_decref(found);
    json_decref(plan);
    free(show);
}

/* Two tiles of 128 slots that nothing patches yet go to universes 1 and 2 as patch finds them: the lists must agree. */
static void a_patch_is_told_object_by_object(void **state)
{
    const struct place *place = *state;
    static const char loose[] = "    { id = 301, type = \"tile\", mode = \"m\", site = \"quay\", pos = { 4, 0, 2 } },\n"
                                "    { id = 302, type = \"tile\", mode = \"m\", site = \"quay\", pos = { 5, 0, 2 } },\n";
    char *text = text_of(RIG(SPARE, "%s"), loose), *show = program_file(place->folder, "rig.show.lua", text);
    json_t *plan = json_from(RUN("patch", show, "--all", "--write", "--format", "json"), 0), *found = drift(show);
    assert_the_steps(plan, found);
    json_decref(found);
    json_decref(plan);
    free(text);
    free(show);
}

static void a_move_is_told_object_by_object(void **state)
{
    const struct place *place = *state;
    char *show = program_file(place->folder, "rig.show.lua", RIG(SPARE, THREE));
    json_t *plan = json_from(RUN("move", show, "--from", "quay", "--to", "barge", "--write", "--format", "json"), 0);
    json_t *found = drift(show);
    assert_the_steps(plan, found);
    json_decref(found);
    json_decref(plan);
    free(show);
}

static void an_import_is_told(void **state)
{
    const struct place *place = *state;
    char *csv = program_file(place->folder, "new.csv", "id,address,name\n2,10,Right\n");
    struct program_result result = RUN("import", place->show, "csv", csv, "--of", "fixtures", "--write");
    assert_int_equal(result.status, 0);
    program_result_fini(&result);
    assert_drift(place->show, "note  plan-drift  fixture 2 Right: address 3 -> 10 in universe 7\n");
    free(csv);
}

static void undone_it_is_silent(void **state)
{
    const struct place *place = *state;
    char *show = program_file(place->folder, "quay.show.lua", QUAY), *kept = text_of("%s~", show);
    json_decref(json_from(RUN("swap", show, "--out", "T1", "--write", "--format", "json"), 0));
    assert_int_equal(rename(kept, show), 0);
    assert_drift(show, "");
    free(kept);
    free(show);
}

/* ---- what is kept is another show, broken, or no file ---- */

static void a_kept_show_of_another_name_is_compared(void **state)
{
    const struct place *place = *state;
    free(program_file(place->folder, "small.show.lua~", "return { rigcall = 1, name = \"Else\" }"));
    json_t *found = drift(place->show);
    /* The name of the show, three fixtures, one site, two types, one universe. */
    assert_int_equal(json_array_size(json_object_get(found, "findings")), 8);
    assert_finding(found, 3, "show", "Small \"one\"", "name \"Else\" -> \"Small \"one\"\"");
    json_decref(found);
}

static void a_broken_kept_file_is_one_note_and_breaks_nothing(void **state)
{
    const struct place *place = *state;
    free(program_file(place->folder, "small.show.lua~", "return {\n  rigcall = 1, name = 5 }\n"));
    char *at = text_of(" show Small \"one\": cannot say what has changed: %s~:2:23: ", place->show);
    struct program_result result = RUN("check", place->show);
    assert_int_equal(result.status, 0);
    assert_string_equal(result.err, "");
    assert_non_null(strstr(result.out, at));
    assert_non_null(strstr(result.out, "hazard-marked"));    /* the others ran */
    program_result_fini(&result);
    free(at);
}

static void what_is_no_file_is_said(void **state)
{
    const struct place *place = *state;
    char *kept = text_of("%s~", place->show);
#define CANNOT "note  plan-drift  show Small \"one\": cannot say what has changed: %s: "
    char *folder = text_of(CANNOT "found a folder, expected a file\n", kept);
    char *pipe = text_of(CANNOT "found no regular file, expected a file\n", kept);
    char *link = text_of(CANNOT "cannot open: No such file or directory\n", kept);
    assert_int_equal(mkdir(kept, 0700), 0);
    assert_drift(place->show, folder);
    assert_int_equal(rmdir(kept), 0);
    assert_int_equal(mkfifo(kept, 0600), 0);
    assert_drift(place->show, pipe);
    assert_int_equal(unlink(kept), 0);
    assert_int_equal(symlink("nowhere", kept), 0);
    assert_drift(place->show, link);
    free(link);
    free(pipe);
    free(folder);
    free(kept);
}

/* A name of 255 octets leaves no room for the ~, so nothing can have been kept. */
static void the_longest_name_is_silent(void **state)
{
    const struct place *place = *state;
    char name[256];
    memset(name, 'a', 255);
    name[255] = '\0';
    char *show = program_file(place->folder, name, QUAY);
    assert_drift(show, "");
    free(show);
}

/* A command that writes through a link keeps the file beside what the link points to. */
static void through_a_link_the_file_beside_the_real_one_counts(void **state)
{
    const struct place *place = *state;
    char *folder = text_of("%s/tonight", place->folder), *link = text_of("%s/show.lua", folder);
    char *csv = program_file(place->folder, "new.csv", "id,address\n2,10\n");
    assert_int_equal(mkdir(folder, 0700), 0);
    assert_int_equal(symlink(place->show, link), 0);
    struct program_result result = RUN("import", link, "csv", csv, "--of", "fixtures", "--write");
    assert_int_equal(result.status, 0);
    program_result_fini(&result);
    assert_drift(link, "note  plan-drift  fixture 2 Right: address 3 -> 10 in universe 7\n");
    assert_drift(place->show, "note  plan-drift  fixture 2 Right: address 3 -> 10 in universe 7\n");
    free(csv);
    free(link);
    free(folder);
}

/* ---- many ---- */

static char *many(int count, int address)
{
    char *text = malloc(400 + (size_t)count * 80);
    static const char head[] = "return { rigcall = 1, name = \"Many\", sites = { { id = \"s\" } }, types = {}, universes = {},\n"
        "transmitters = { { id = \"T1\", site = \"s\", radios = %d, airs = { \"dual\" }, air = \"dual\" } },\nfixtures = {\n";
    static const char fixture[] = "{ id = %d, type = \"t\", mode = \"m\", site = \"s\", universe = 1, address = %d },\n";
    size_t at = (size_t)sprintf(text, head, address);
    for (int i = 1; i <= count; i++)
        at += (size_t)sprintf(text + at, fixture, i, address);
    strcpy(text + at, "} }\n");
    return text;
}

/* 10,001 objects have changed; 1,000 are kept, the transmitter among them, and the rest is counted. */
static void ten_thousand_changes_are_a_thousand_and_a_number(void **state)
{
    const struct place *place = *state;
    char *now = many(10000, 2), *before = many(10000, 1);
    char *show = program_file(place->folder, "many.show.lua", now);
    char *kept = program_file(place->folder, "many.show.lua~", before);
    json_t *found = drift(show), *findings = json_object_get(found, "findings");
    assert_int_equal(number_in(json_object_get(found, "counts"), "note"), 10001);
    assert_int_equal(json_array_size(findings), 1001);
    assert_finding(found, 0, "fixture", "1", "address 1 -> 2 in universe 1");
    assert_finding(found, 999, "transmitter", "T1", "radios 1 -> 2");
    assert_finding(found, 1000, "show", "Many", "and 9001 more");
    json_decref(found);
    free(kept);
    free(show);
    free(before);
    free(now);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        PLACE_TEST(a_swap_is_told_object_by_object),
        PLACE_TEST(a_patch_is_told_object_by_object),
        PLACE_TEST(a_move_is_told_object_by_object),
        PLACE_TEST(an_import_is_told),
        PLACE_TEST(undone_it_is_silent),
        PLACE_TEST(a_kept_show_of_another_name_is_compared),
        PLACE_TEST(a_broken_kept_file_is_one_note_and_breaks_nothing),
        PLACE_TEST(what_is_no_file_is_said),
        PLACE_TEST(the_longest_name_is_silent),
        PLACE_TEST(through_a_link_the_file_beside_the_real_one_counts),
        PLACE_TEST(ten_thousand_changes_are_a_thousand_and_a_number),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
