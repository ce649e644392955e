/* The example shows as files: they load, are in canonical form, and hold what examples/README.md and the issue of their making
 * promise of their size. What check finds in them is in test_findings.lua, how sequences play on them in tests/sequences/. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "rigcall/showfile.h"

#define COURTYARD RIGCALL_SOURCE_DIR "/examples/courtyard/courtyard.show.lua"
#define HARBOUR RIGCALL_SOURCE_DIR "/examples/harbour/harbour.show.lua"

static struct show *load(const char *path)
{
    struct show *show = NULL;
    struct rig_why why = { 0 };
    if (showfile_load(path, &show, &why))
        fail_msg("%s", why.text);
    return show;
}

static void check_canonical(const char *path)
{
    struct show *show = load(path);
    struct rig_why why = { 0 };
    char *file = NULL, *text = NULL;
    size_t file_length, length;
    assert_int_equal(showfile_read(path, SHOWFILE_BYTES, &file, &file_length, &why), 0);
    assert_int_equal(showfile_format(show, &text, &length, &why), 0);
    assert_string_equal(file, text);
    assert_int_equal(file_length, length);
    free(file);
    free(text);
    show_free(show);
}

static void the_shows_are_in_canonical_form(void **state)
{
    (void)state;
    check_canonical(COURTYARD);
    check_canonical(HARBOUR);
}

static void the_courtyard_has_the_size_that_is_promised(void **state)
{
    (void)state;
    struct show *show = load(COURTYARD);
    struct rig_why why = { 0 };
    uint32_t spares = 0;
    for (uint32_t i = 0; i < show->transmitter_count; i++)
        spares += show->transmitters[i].spare;
    assert_int_equal(show->fixture_count, 24);
    assert_int_equal(show->transmitter_count - spares, 2);
    assert_int_equal(spares, 1);
    assert_int_equal(showfile_require_sound(show, COURTYARD, &why), 0);
    show_free(show);
}

static void the_harbour_has_the_size_that_is_promised(void **state)
{
    (void)state;
    struct show *show = load(HARBOUR);
    struct rig_why why = { 0 };
    assert_true(show->fixture_count >= 400);
    assert_int_equal(show->type_count, 6);
    assert_int_equal(show->site_count, 3);
    assert_int_equal(show->transmitter_count, 9);
    assert_int_equal(show->universe_count, 60);
    assert_int_equal(showfile_require_sound(show, HARBOUR, &why), 0);
    show_free(show);
}

/* Common practice, no source: fixtures of 128 slots go four to a universe, at 1, 129, 257 and 385. One is typed wrong on purpose. */
static void tiles_stand_four_to_a_universe_but_for_the_planted_one(void **state)
{
    (void)state;
    struct show *show = load(HARBOUR);
    uint32_t tiles = 0, elsewhere = 0;
    for (uint32_t i = 0; i < show->fixture_count; i++) {
        const struct fixture *f = &show->fixtures[i];
        if (fixture_footprint(show, f) != 128)
            continue;
        tiles++;
        if (f->address != 1 && f->address != 129 && f->address != 257 && f->address != 385) {
            elsewhere++;
            assert_int_equal(f->id, 106);
            assert_int_equal(f->address, 128);
        }
    }
    assert_true(tiles > 0 && tiles % 4 == 0);
    assert_int_equal(elsewhere, 1);
    show_free(show);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_shows_are_in_canonical_form),
        cmocka_unit_test(the_courtyard_has_the_size_that_is_promised),
        cmocka_unit_test(the_harbour_has_the_size_that_is_promised),
        cmocka_unit_test(tiles_stand_four_to_a_universe_but_for_the_planted_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
