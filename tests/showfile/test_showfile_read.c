/* What the reader takes. The show is the example of the format; expected values are read off its text by eye. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "rigcall/showfile.h"

#define HARBOUR RIGCALL_SOURCE_DIR "/tests/showfile/harbour.show.lua"

static struct show *parse(const char *text)
{
    struct show *show;
    struct rig_why why = { 0 };
    int err = showfile_parse("a.show.lua", text, strlen(text), &show, &why);
    if (err)
        print_error("%s\n", why.text);
    assert_int_equal(err, 0);
    return show;
}

static void the_example_loads(void **state)
{
    (void)state;
    struct show *show;
    struct rig_why why;
    assert_int_equal(showfile_load(HARBOUR, &show, &why), 0);
    assert_string_equal(show->name, "Harbour Lanterns");
    assert_string_equal(show->date, "2027-03-06");
    assert_string_equal(show->region, "GB");
    assert_true(show->has_call && show->call_hours == 10 && show->call_level == 60);
    assert_int_equal(show->site_count, 2);
    assert_string_equal(show->sites[1].name, "Barge");
    assert_int_equal(show->quiet_count, 1);
    assert_true(show->quiet[0].from_mhz == 2402 && show->quiet[0].to_mhz == 2423);
    assert_string_equal(show->quiet[0].who, "camera link");
    show_free(show);
}

static void a_type_loads_with_its_modes(void **state)
{
    (void)state;
    struct show *show;
    assert_int_equal(showfile_load(HARBOUR, &show, NULL), 0);
    assert_int_equal(show->type_count, 1);
    const struct type *type = &show->types[0];
    assert_int_equal(type->airs, AIR_BIT(AIR_SINGLE) | AIR_BIT(AIR_DUAL));
    assert_null(type->firmware_floor[AIR_SINGLE]);
    assert_string_equal(type->firmware_floor[AIR_DUAL], "3.1");
    assert_true(type->watts == 40 && type->battery_wh == 320 && type->sensitivity_dbm == -85);
    assert_int_equal(type->hazard, HAZARD_NONE);
    assert_int_equal(type->mode_count, 2);
    assert_int_equal(mode_footprint(&type->modes[0]), 12 * 5);
    assert_int_equal(mode_footprint(&type->modes[1]), 12 * 5 + 1);
    assert_string_equal(show->params[type->modes[1].tail[0].param], "strobe");
    show_free(show);
}

static void transmitters_universes_and_fixtures_load(void **state)
{
    (void)state;
    struct show *show;
    assert_int_equal(showfile_load(HARBOUR, &show, NULL), 0);
    const struct transmitter *transmitter = &show->transmitters[0];
    assert_true(transmitter->pos.x_m == 12 && transmitter->pos.y_m == 0 && transmitter->pos.z_m == 6);
    assert_true(transmitter->reach_m == 120 && transmitter->eirp_dbm == 20 && transmitter->radios == 4);
    assert_int_equal(transmitter->air, AIR_DUAL);
    assert_int_equal(transmitter->input, INPUT_NONE);
    assert_string_equal(transmitter->host, "10.20.0.11");
    assert_int_equal(transmitter->lane_count, 2);
    assert_true(transmitter->lanes[1].lane == 2 && transmitter->lanes[1].universe == 2);
    assert_int_equal(transmitter->keep_out_count, 1);
    assert_true(transmitter->keep_out[0].to_mhz == 2423);
    assert_true(show->universes[0].priority == 100 && show->universes[0].wire == 1);
    assert_true(show->universes[1].priority == SHOW_NONE && show->universes[1].wire == SHOW_NONE);
    const struct fixture *fixture = &show->fixtures[0];
    assert_true(fixture->id == 101 && fixture->universe == 1 && fixture->address == 1 && fixture->lane == 1);
    assert_true(fixture->same_as == SHOW_NONE && !fixture->wired);
    assert_int_equal(fixture->tag_count, 1);
    assert_string_equal(fixture->tags[0], "rail");
    assert_ptr_equal(fixture->code, transmitter->code);
    assert_int_equal(fixture->type_index, 0);
    show_free(show);
}

/* Lua 5.4 manual 3.1: escapes, long brackets, numerals. */
static void every_spelling_of_lua_data_is_read(void **state)
{
    (void)state;
    struct show *show = parse("\xef\xbb\xbf--[==[ long\n]] ]==] return { [ \"rigcall\" ] = 0x1; ['name'] = 'a\\x41\\u{20AC}\\065\\z  \n  b\\'';\n"
                              "note = [==[\r\nl1\r\n]]l2]==], [ [[region]] ] = \"G\\66\",\n"
                              "call = { hours = 1e1, level = 0x3C.8p0 }, x_more = { 1, 1.0, -0x10, 1e-7; a = true, ['end'] = {}, [\"b\"] = \"\\n\" } };");
    assert_string_equal(show->name, "aA\xe2\x82\xac" "Ab'");
    assert_string_equal(show->note, "l1\n]]l2");
    assert_string_equal(show->region, "GB");
    assert_true(show->call_hours == 10 && show->call_level == 60.5);
    assert_int_equal(show->extras.count, 1);
    assert_string_equal(show->extras.items[0].key, "x_more");
    assert_string_equal(show->extras.items[0].value, "{ 1, 1.0, -16, 1e-7, a = true, [\"end\"] = {}, b = \"\\n\" }");
    show_free(show);
}

static void what_a_rule_judges_loads(void **state)
{
    (void)state;
    struct show *show = parse("return { rigcall = 1, name = '', universes = { { id = 64000, label = 'llllllllllllllllllllllllllllllllllllllllllllllll"
                              "llllllllllllllllllllllllllllllllllllllllll' }, { id = 64000 }, { id = -1, wire = 0 } },\n"
                              "types = { { id = 't', modes = { { id = 'm', slots = { 'red' }, cells = 1000000000 }, { id = 'n', slots = {} } } } },\n"
                              "transmitters = { { id = 'T', site = 'nowhere', radios = 0, airs = {}, air = 'dual', code = '12',\n"
                              "  lanes = { { lane = 99, universe = 7 }, { lane = 0, universe = 7 } } } },\n"
                              "fixtures = { { id = 1, type = 'no such', mode = 'm', site = '', address = 600, universe = 8, same_as = 5, code = '' },\n"
                              "  { id = 1, type = 't', mode = 'm', site = 's', address = -5 } } }");
    assert_int_equal(show->types[0].modes[0].cells, 1000000000);
    assert_int_equal(show->types[0].modes[1].cells, 0);
    assert_int_equal(show->fixture_count, 2);
    assert_int_equal(show->fixtures[0].address, 600);
    assert_int_equal(show->transmitters[0].lanes[0].lane, 99);
    show_free(show);
}

static void cells_are_one_where_slots_are_given_alone(void **state)
{
    (void)state;
    struct show *show = parse("return { rigcall = 1, name = 'n', types = { { id = 't', modes = { { id = 'm', slots = { 'pan', 'pan+fine',"
                              " { 'strobe', default = 12.5 } } } } } } }");
    const struct mode *mode = &show->types[0].modes[0];
    assert_int_equal(mode->cells, 1);
    assert_int_equal(mode_footprint(mode), 3);
    assert_true(!mode->slots[0].fine && mode->slots[1].fine && mode->slots[0].param == mode->slots[1].param);
    assert_true(isnan(mode->slots[1].default_percent) && mode->slots[2].default_percent == 12.5);
    show_free(show);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_example_loads),
        cmocka_unit_test(a_type_loads_with_its_modes),
        cmocka_unit_test(transmitters_universes_and_fixtures_load),
        cmocka_unit_test(every_spelling_of_lua_data_is_read),
        cmocka_unit_test(what_a_rule_judges_loads),
        cmocka_unit_test(cells_are_one_where_slots_are_given_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
