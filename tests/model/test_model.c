/* The show in memory: interning, indexes, footprints, selections, UTF-8. Expected values are worked out by hand. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>

#include "rigcall/model.h"

static const char *text(struct show *show, const char *bytes)
{
    return show_text(show, bytes, strlen(bytes));
}

static struct fixture *add_fixture(struct show *show, int64_t id, int64_t universe, int64_t address)
{
    struct fixture *fixture = show_add_fixture(show);
    assert_non_null(fixture);
    fixture->id = id;
    fixture->universe = universe;
    fixture->address = address;
    fixture->type = text(show, "wash");
    fixture->mode = text(show, "plain");
    fixture->site = text(show, "quay");
    return fixture;
}

/* A type "wash" with mode "plain": head 2, cells 3 of 4 slots, tail 1: footprint 15. */
static void add_type(struct show *show)
{
    struct type *type = show_add_type(show);
    type->id = text(show, "wash");
    type->modes = show_alloc(show, sizeof *type->modes);
    type->mode_count = 1;
    struct mode *mode = type->modes;
    mode->id = text(show, "plain");
    mode->cells = 3;
    mode->head_count = 2;
    mode->slot_count = 4;
    mode->tail_count = 1;
}

static void equal_texts_are_one_pointer(void **state)
{
    (void)state;
    struct show *show = show_new();
    const char *first = text(show, "quay");
    for (int i = 0; i < 5000; i++) {
        char other[16];
        snprintf(other, sizeof other, "t%d", i);
        assert_non_null(text(show, other));
    }
    assert_ptr_equal(first, text(show, "quay"));
    assert_ptr_not_equal(first, text(show, "quay2"));
    assert_int_equal(show_param(show, "red", 3), show_param(show, "red", 3));
    for (int i = 0; i < 500; i++) {
        char other[16];
        snprintf(other, sizeof other, "p%d", i);
        assert_int_equal(show_param(show, other, strlen(other)), i + 1);
    }
    assert_int_equal(show_param(show, "p499", 4), 500);
    show_free(show);
}

static void an_empty_show_answers_every_query(void **state)
{
    (void)state;
    struct show *show = show_new();
    uint32_t count = 7;
    assert_int_equal(show_index(show), 0);
    assert_int_equal(show_find_fixture(show, 1), SHOW_UNKNOWN);
    assert_int_equal(show_find_site(show, "quay"), SHOW_UNKNOWN);
    assert_int_equal(show_find_site(show, NULL), SHOW_UNKNOWN);
    show_universe_fixtures(show, 1, &count);
    assert_int_equal(count, 0);
    show_code_transmitters(show, "40718263", &count);
    assert_int_equal(count, 0);
    show_carriers(show, 1, &count);
    assert_int_equal(count, 0);
    show_free(show);
}

static void patch_order_is_universe_address_id_and_unpatched_last(void **state)
{
    (void)state;
    struct show *show = show_new();
    add_fixture(show, 9, SHOW_NONE, SHOW_NONE);
    add_fixture(show, 5, 2, 1);
    add_fixture(show, 4, 1, 129);
    add_fixture(show, 3, 1, 1);
    add_fixture(show, 2, 1, 129);
    add_fixture(show, 1, SHOW_NONE, 7);
    add_fixture(show, 8, -4, 1);
    assert_int_equal(show_index(show), 0);
    const int64_t wanted[] = { 8, 3, 2, 4, 5, 1, 9 };
    const uint32_t *order = show_patch_order(show);
    for (size_t i = 0; i < 7; i++)
        assert_int_equal(show->fixtures[order[i]].id, wanted[i]);
    uint32_t count;
    const uint32_t *first = show_universe_fixtures(show, 1, &count);
    assert_int_equal(count, 3);
    assert_int_equal(show->fixtures[first[0]].id, 3);
    show_universe_fixtures(show, -4, &count);
    assert_int_equal(count, 1);
    show_universe_fixtures(show, 3, &count);
    assert_int_equal(count, 0);
    show_universe_fixtures(show, SHOW_NONE, &count);
    assert_int_equal(count, 0);
    show_free(show);
}

static void a_repeated_id_finds_the_first(void **state)
{
    (void)state;
    struct show *show = show_new();
    add_fixture(show, 7, 1, 1);
    add_fixture(show, 7, 2, 1);
    assert_int_equal(show_index(show), 0);
    assert_int_equal(show_find_fixture(show, 7), 0);
    assert_int_equal(show_find(show, SUBJECT_FIXTURE, "7"), 0);
    assert_int_equal(show_find(show, SUBJECT_FIXTURE, "7x"), SHOW_UNKNOWN);
    assert_int_equal(show_find(show, SUBJECT_FIXTURE, ""), SHOW_UNKNOWN);
    show_free(show);
}

static void codes_and_carriers_are_grouped(void **state)
{
    (void)state;
    struct show *show = show_new();
    for (int i = 0; i < 3; i++) {
        struct transmitter *transmitter = show_add_transmitter(show);
        char id[8];
        snprintf(id, sizeof id, "T%d", i);
        transmitter->id = text(show, id);
        transmitter->code = i == 1 ? NULL : text(show, "40718263");
        transmitter->radios = 4;
        transmitter->air = AIR_DUAL;
        transmitter->lanes = show_alloc(show, 2 * sizeof *transmitter->lanes);
        transmitter->lane_count = 2;
        transmitter->lanes[0] = (struct lane){ 1, 5 };
        transmitter->lanes[1] = (struct lane){ 2, 10 + i };
    }
    add_fixture(show, 1, 1, 1)->code = text(show, "40718263");
    add_fixture(show, 2, 1, 1)->code = text(show, "11112222");
    add_fixture(show, 3, 1, 1)->code = text(show, "40718263");
    assert_int_equal(show_index(show), 0);
    uint32_t count;
    const uint32_t *found = show_code_transmitters(show, "40718263", &count);
    assert_int_equal(count, 2);
    assert_int_equal(found[0], 0);
    assert_int_equal(found[1], 2);
    found = show_code_fixtures(show, "40718263", &count);
    assert_int_equal(count, 2);
    assert_int_equal(found[1], 2);
    found = show_code_fixtures(show, "11112222", &count);
    assert_int_equal(count, 1);
    assert_int_equal(found[0], 1);
    const struct carrier *carriers = show_carriers(show, 5, &count);
    assert_int_equal(count, 3);
    assert_int_equal(carriers[2].transmitter, 2);
    assert_int_equal(carriers[2].entry, 0);
    show_carriers(show, 12, &count);
    assert_int_equal(count, 1);
    /* Common practice, no source: four radios in dual carry eight universes. */
    assert_int_equal(transmitter_lane_count(&show->transmitters[0]), 8);
    show_free(show);
}

static void footprints_do_not_overflow(void **state)
{
    (void)state;
    struct show *show = show_new();
    add_type(show);
    add_fixture(show, 1, 1, 500);
    add_fixture(show, 2, 1, 500)->mode = text(show, "other");
    add_fixture(show, 3, 1, SHOW_NONE);
    assert_int_equal(show_index(show), 0);
    assert_int_equal(fixture_footprint(show, &show->fixtures[0]), 15);
    assert_int_equal(fixture_last(show, &show->fixtures[0]), 514);
    assert_int_equal(fixture_footprint(show, &show->fixtures[1]), SHOW_NONE);
    assert_null(fixture_mode(show, &show->fixtures[1]));
    assert_int_equal(fixture_last(show, &show->fixtures[2]), SHOW_NONE);
    show->types[0].modes[0].cells = 1000000000;
    assert_int_equal(fixture_footprint(show, &show->fixtures[0]), 4000000003);
    show->types[0].modes[0].cells = INT64_MAX / 2;
    assert_true(fixture_last(show, &show->fixtures[0]) == INT64_MAX);
    show_free(show);
}

static void selections_select(void **state)
{
    (void)state;
    static const struct { const char *text; int wanted; } cases[] = {
        { "", 3 }, { "id=2", 1 }, { "id=1-2, 7", 3 }, { "site=quay", 3 }, { "site = barge", 0 }, { "type=wash;universe=2", 1 },
        { "tag=rail", 1 }, { "name=\"Rail, 1; left\"", 1 }, { "id=3-6", 0 }, { "universe=1-2", 2 }, { "id=1;", 1 }, { "transmitter=T1", 3 },
    };
    struct show *show = show_new();
    const char *tags[] = { text(show, "deck"), text(show, "rail") };
    add_fixture(show, 1, 1, 1)->name = text(show, "Rail, 1; left");
    add_fixture(show, 2, 2, 1);
    add_fixture(show, 7, SHOW_NONE, SHOW_NONE);
    show->fixtures[1].tags = tags;
    show->fixtures[1].tag_count = 2;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct selection *selection;
        struct rig_why why = { 0 };
        int found = 0;
        if (selection_parse(cases[i].text, &selection, &why) != 0)
            fail_msg("%s: %s", cases[i].text, why.text);
        for (uint32_t f = 0; f < show->fixture_count; f++)
            found += selection_matches(selection, &show->fixtures[f]);
        if (found != cases[i].wanted)
            fail_msg("%s: %d selected, %d wanted", cases[i].text, found, cases[i].wanted);
        selection_free(selection);
    }
    show_free(show);
}

static void wrong_selections_are_refused(void **state)
{
    (void)state;
    static const struct { const char *text, *wanted; } cases[] = {
        { "sight=quay", "selection \"sight=quay\": unknown key \"sight\"; keys are id, name, type, mode, site, tag, universe, transmitter" },
        { "id", "selection \"id\": key \"id\" is not followed by =" },
        { "id=", "selection \"id=\": a value is empty" },
        { "id=2-1", "selection \"id=2-1\": id \"2-1\" is not a number or a range a-b" },
        { "id=99999999999999999999", "selection \"id=99999999999999999999\": id \"99999999999999999999\" is not a number or a range a-b" },
        { "id=1;id=2", "selection \"id=1;id=2\": key \"id\" is given twice; separate its values by commas" },
        { "name=\"x", "selection \"name=\"x\": a quote is not closed" },
        { "name=\"x\"y", "selection \"name=\"x\"y\": \"y\" after a value; expected , or ;" },
        { "name=\xff", "selection: not UTF-8" },
        { "site=quay, tag=rail", "selection \"site=quay, tag=rail\": value \"tag=rail\" has a =; keys are separated by ;, a value with = is quoted" },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct selection *selection;
        struct rig_why why = { 0 };
        assert_int_equal(selection_parse(cases[i].text, &selection, &why), RIG_EUSAGE);
        assert_null(selection);
        assert_string_equal(why.text, cases[i].wanted);
    }
}

/* RFC 3629: section 4's table of well-formed sequences and section 10's overlong example. */
static void utf8_is_checked(void **state)
{
    (void)state;
    static const struct { const char *bytes; size_t length, wanted; } cases[] = {
        { "", 0, 0 }, { "abc", 3, 3 }, { "\xc3\xa9", 2, 2 }, { "\xe2\x99\xaa", 3, 3 }, { "\xf0\x9f\x92\xa1", 4, 4 },
        { "a\xc0\x80", 3, 1 }, { "\xed\xa0\x80", 3, 0 }, { "\xf4\x90\x80\x80", 4, 0 }, { "ab\xe2\x99", 4, 2 },
        { "\x80", 1, 0 }, { "\xf5\x80\x80\x80", 4, 0 }, { "\xe0\x9f\xbf", 3, 0 }, { "\xef\xbf\xbf", 3, 3 },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        assert_int_equal(utf8_check(cases[i].bytes, cases[i].length), cases[i].wanted);
    assert_int_equal(utf8_count("r\xc3\xa9\xe2\x99\xaa", 6), 3);
    assert_int_equal(utf8_cut("r\xc3\xa9\xe2\x99\xaa", 6, 6), 6);
    assert_int_equal(utf8_cut("r\xc3\xa9\xe2\x99\xaa", 6, 5), 3);
    assert_int_equal(utf8_cut("r\xc3\xa9\xe2\x99\xaa", 6, 2), 1);
    assert_int_equal(utf8_cut("r\xc3\xa9\xe2\x99", 5, 9), 3);
    assert_int_equal(utf8_cut("\xf0\x9f\x92\xa1", 4, 3), 0);
    assert_int_equal(utf8_cut("abc", 3, 2), 2);
    assert_int_equal(utf8_cut("", 0, 4), 0);
}

/* ANSI E1.20 Table C-2: SD_ADD red 0x0205, intensity 0x0001, strobe 0x0404. */
static void the_parameter_table_is_sorted_and_right(void **state)
{
    (void)state;
    size_t count;
    const struct parameter *table = parameter_table(&count);
    for (size_t i = 1; i < count; i++)
        assert_true(strcmp(table[i - 1].name, table[i].name) < 0);
    assert_int_equal(parameter_find("red")->slot_id, 0x0205);
    assert_int_equal(parameter_find("intensity")->slot_id, 0x0001);
    assert_int_equal(parameter_find("strobe")->slot_id, 0x0404);
    assert_int_equal(parameter_find("strobe")->role, ROLE_STROBE);
    assert_null(parameter_find("reddish"));
}

static void objects_are_named_as_people_do(void **state)
{
    (void)state;
    struct show *show = show_new();
    char buffer[64];
    show->name = text(show, "Harbour Lanterns");
    add_fixture(show, 101, 1, 1)->name = text(show, "Rail 1");
    add_fixture(show, 102, 1, 1);
    show_describe(show, SUBJECT_FIXTURE, 0, buffer, sizeof buffer);
    assert_string_equal(buffer, "fixture 101 Rail 1");
    show_describe(show, SUBJECT_FIXTURE, 1, buffer, sizeof buffer);
    assert_string_equal(buffer, "fixture 102");
    show_describe(show, SUBJECT_SHOW, 0, buffer, sizeof buffer);
    assert_string_equal(buffer, "show Harbour Lanterns");
    show->name = text(show, "H\xc3\xa4");
    assert_int_equal(show_describe(show, SUBJECT_SHOW, 0, buffer, 8), 6);
    assert_string_equal(buffer, "show H");
    show_free(show);
}

static void errors_keep_one_clean_line(void **state)
{
    (void)state;
    struct rig_why why;
    assert_int_equal(rig_fail_at(&why, RIG_EINPUT, 3, 9, "bad \x1b[31m\n%s", "thing"), RIG_EINPUT);
    assert_string_equal(why.text, "bad ?[31m?thing");
    assert_int_equal(why.line, 3);
    assert_int_equal(why.column, 9);
    assert_int_equal(rig_exit_status(RIG_EINPUT), 3);
    assert_int_equal(rig_exit_status(RIG_EGUARD), 6);
    assert_string_equal(rig_error_name(RIG_ENET), "RIG_ENET");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(equal_texts_are_one_pointer),
        cmocka_unit_test(an_empty_show_answers_every_query),
        cmocka_unit_test(patch_order_is_universe_address_id_and_unpatched_last),
        cmocka_unit_test(a_repeated_id_finds_the_first),
        cmocka_unit_test(codes_and_carriers_are_grouped),
        cmocka_unit_test(footprints_do_not_overflow),
        cmocka_unit_test(selections_select),
        cmocka_unit_test(wrong_selections_are_refused),
        cmocka_unit_test(utf8_is_checked),
        cmocka_unit_test(the_parameter_table_is_sorted_and_right),
        cmocka_unit_test(objects_are_named_as_people_do),
        cmocka_unit_test(errors_keep_one_clean_line),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
