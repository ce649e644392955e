/* A copy says what the show says and shares nothing with it: the show is freed before the copy is looked at, under
 * AddressSanitizer. The canonical text of the show file is the judge, since it holds every key of the format. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "rigcall/radio.h"
#include "rigcall/showfile.h"

/* Every kind of object with every key that DEVELOPERS.md lists for it. */
static const char every_key[] =
    "return { rigcall = 1, name = \"All\", date = \"2027-03-06\", region = \"GB\", call = { hours = 10, level = 60 }, note = \"n\",\n"
    " sites = { { id = \"quay\", name = \"Quay\", note = \"wet\", x_a = { 1, 2 } } },\n"
    " quiet = { { from = 2402, to = 2410, who = \"camera\", note = \"q\", x_b = 1 } },\n"
    " types = { { id = \"wash\", name = \"Wash\", airs = { \"single\", \"dual\" }, firmware_floor = { single = \"1.0\", dual = \"2.0\" },\n"
    "   watts = 40, battery_wh = 320, sensitivity_dbm = -85, hazard = \"motion\", note = \"t\", x_c = \"c\",\n"
    "   modes = { { id = \"m\", name = \"Mode\", head = { \"pan\", \"pan+fine\" }, cells = 3, slots = { \"red\", { \"strobe\", default = 5 } },\n"
    "     tail = { \"intensity\" }, note = \"m\", x_d = true } } } },\n"
    " transmitters = { { id = \"T1\", name = \"Mast\", site = \"quay\", pos = { 1, 2, 3 }, reach = 50, eirp_dbm = 20, radios = 2,\n"
    "   airs = { \"dual\" }, air = \"dual\", code = \"40718263\", firmware = \"1.2\", host = \"10.0.0.1\", input = \"unicast\", spare = false,\n"
    "   lanes = { { lane = 1, universe = 1 } }, keep_out = { { from = 2402, to = 2410, who = \"w\", note = \"k\", x_e = 2 } },\n"
    "   note = \"tx\", x_f = 3 } },\n"
    " universes = { { id = 1, label = \"One\", priority = 90, wire = 7, note = \"u\", x_g = 4 } },\n"
    " fixtures = { { id = 101, name = \"Rail\", type = \"wash\", mode = \"m\", site = \"quay\", pos = { 3, 0, 2 }, tags = { \"a\", \"b\" },\n"
    "   universe = 1, address = 10, code = \"40718263\", air = \"dual\", lane = 1, firmware = \"2.1\", wired = false, same_as = 101,\n"
    "   note = \"f\", x_h = { deep = { 1 } } } } }\n";

static char *formatted(const struct show *show)
{
    char *text;
    size_t length;
    assert_int_equal(showfile_format(show, &text, &length, NULL), 0);
    return text;
}

static void check_copy(struct show *show)
{
    char *before = formatted(show);
    struct show *copy = show_copy(show);
    assert_non_null(copy);
    show_free(show);
    char *after = formatted(copy);
    assert_string_equal(before, after);
    free(before);
    free(after);
    show_free(copy);
}

static void a_copy_has_every_key(void **state)
{
    (void)state;
    struct show *show;
    struct rig_why why;
    if (showfile_parse("all", every_key, strlen(every_key), &show, &why))
        fail_msg("%s", why.text);
    check_copy(show);
}

static void the_examples_copy_as_they_are(void **state)
{
    (void)state;
    static const char *const paths[] = { RIGCALL_SOURCE_DIR "/examples/harbour/harbour.show.lua",
                                         RIGCALL_SOURCE_DIR "/examples/courtyard/courtyard.show.lua" };
    for (size_t i = 0; i < sizeof paths / sizeof *paths; i++) {
        struct show *show;
        assert_int_equal(showfile_load(paths[i], &show, NULL), 0);
        check_copy(show);
    }
}

static void a_copy_is_indexed_and_changes_alone(void **state)
{
    (void)state;
    struct show *show;
    assert_int_equal(showfile_parse("all", every_key, strlen(every_key), &show, NULL), 0);
    struct show *copy = show_copy(show);
    assert_non_null(copy);
    assert_int_equal(show_find_fixture(copy, 101), 0);
    assert_int_equal(radio_landing(copy, &copy->fixtures[0]).state, LANDING_RIGHT);
    copy->transmitters[0].lanes[0].universe = 2;
    copy->types[0].modes[0].slots[0].param = 0;
    copy->fixtures[0].tags[0] = copy->fixtures[0].tags[1];
    assert_int_equal(show->transmitters[0].lanes[0].universe, 1);
    assert_string_equal(show->params[show->types[0].modes[0].slots[0].param], "red");
    assert_string_equal(show->fixtures[0].tags[0], "a");
    show_free(copy);
    show_free(show);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_copy_has_every_key),
        cmocka_unit_test(the_examples_copy_as_they_are),
        cmocka_unit_test(a_copy_is_indexed_and_changes_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
