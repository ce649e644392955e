/* A rig for the tests of patch, swap and move, small enough to be solved by hand. */
#ifndef RIGCALL_TESTS_PLAN_TEST_H
#define RIGCALL_TESTS_PLAN_TEST_H

#include <jansson.h>

#include "cli_test.h"

/* T1 on the quay carries universes 1 and 2; T9 is a spare beside it, as good; T3 on the barge has universe 3 and one free lane
 * pair, and is too far away for the quay. Two types of a universe's quarter (128 slots). */
#define RIG(spare, fixtures) \
    "return { rigcall = 1, name = \"Plan\", -- a comment\n" \
    "  sites = { { id = \"quay\", name = \"North quay\" }, { id = \"barge\", name = \"Barge\" } },\n" \
    "  types = { { id = \"tile\", name = \"Tile\", airs = { \"single\", \"dual\" }, watts = 10, battery_wh = 500,\n" \
    "    modes = { { id = \"m\", head = {}, cells = 32, slots = { \"red\", \"green\", \"blue\", \"white\" }, tail = {} } } } },\n" \
    "  transmitters = {\n" \
    "    { id = \"T1\", name = \"Quay mast\", site = \"quay\", pos = { 0, 0, 6 }, reach = 50, radios = 1, airs = { \"dual\" }, air = \"dual\",\n" \
    "      code = \"40718263\", lanes = { { lane = 1, universe = 1 }, { lane = 2, universe = 2 } } },\n" \
    "    { id = \"T3\", name = \"Barge mast\", site = \"barge\", pos = { 500, 0, 6 }, reach = 50, radios = 2, airs = { \"dual\" }, air = \"dual\",\n" \
    "      code = \"51829304\", lanes = { { lane = 1, universe = 3 } } },\n" spare \
    "  },\n" \
    "  universes = { { id = 1, label = \"Quay 1\" }, { id = 2, label = \"Quay 2\" }, { id = 3, label = \"Barge 1\" } },\n" \
    "  fixtures = {\n" fixtures "  } }\n"
#define SPARE "    { id = \"T9\", name = \"Spare\", site = \"quay\", pos = { 5, 0, 6 }, reach = 60, radios = 1, airs = { \"dual\" }, air = \"dual\", spare = true, lanes = {} },\n"
#define FIXTURE(id, x, universe, address, code, lane) \
    "    { id = " #id ", type = \"tile\", mode = \"m\", site = \"quay\", pos = { " #x ", 0, 2 }, universe = " #universe ", address = " #address \
    ", code = \"" #code "\", air = \"dual\", lane = " #lane " },\n"
#define THREE FIXTURE(101, 3, 1, 1, 40718263, 1) FIXTURE(102, 6, 1, 129, 40718263, 1) FIXTURE(103, 9, 2, 1, 40718263, 2)

static inline json_t *json_from(struct program_result result, int status)
{
    json_t *json = json_loads(result.out, JSON_REJECT_DUPLICATES, NULL);
    if (!json || result.status != status)
        fail_msg("status %d, out \"%s\", err \"%s\"", result.status, result.out, result.err);
    program_result_fini(&result);
    return json;
}

static inline long long number_in(const json_t *json, const char *key)
{
    json_t *value = json_object_get(json, key);
    if (!json_is_integer(value))
        fail_msg("%s is no integer", key);
    return json_integer_value(value);
}

/* "kind id field from to" of a step, as in "transmitter T9 lane 1 null 1"; malloc'd. */
static inline char *step_words(const json_t *plan, size_t i)
{
    static const char *const keys[] = { "do", "kind", "id", "field", "from", "to" };
    json_t *step = json_array_get(json_object_get(plan, "steps"), i);
    char *words = strdup("");
    for (size_t k = 0; k < sizeof keys / sizeof *keys; k++) {
        json_t *value = json_object_get(step, keys[k]);
        char *longer = json_is_string(value) ? text_of("%s%s%s", words, k ? " " : "", json_string_value(value))
                     : json_is_integer(value) ? text_of("%s%s%lld", words, k ? " " : "", (long long)json_integer_value(value))
                     : text_of("%s%s%s", words, k ? " " : "", value ? "null" : "missing");
        free(words);
        words = longer;
    }
    return words;
}

static inline void assert_step(const json_t *plan, size_t i, const char *expected)
{
    char *words = step_words(plan, i);
    assert_string_equal(words, expected);
    free(words);
}

/* An array of numbers, told as "1 2 7". */
static inline void assert_numbers(const json_t *json, const char *key, const char *expected)
{
    json_t *list = json_object_get(json, key), *item;
    char *words = strdup("");
    size_t i;
    assert_true(json_is_array(list));
    json_array_foreach(list, i, item) {
        char *longer = text_of("%s%s%lld", words, i ? " " : "", (long long)json_integer_value(item));
        free(words);
        words = longer;
    }
    assert_string_equal(words, expected);
    free(words);
}

static inline void assert_file(const char *path, const char *expected)
{
    char *text = program_read(path);
    assert_non_null(text);
    assert_string_equal(text, expected);
    free(text);
}

#endif
