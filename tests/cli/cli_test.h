/* Shared by the tests of commands: the program, a folder of its own for every test, and a small show whose content is known. */
#ifndef RIGCALL_TESTS_CLI_TEST_H
#define RIGCALL_TESTS_CLI_TEST_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <cmocka.h>

#include "support/program.h"

#define RUN(...) program_run((const char *const[]){ RIGCALL_PROGRAM, __VA_ARGS__, NULL })
#define START(...) program_start_terminal((const char *const[]){ RIGCALL_PROGRAM, __VA_ARGS__, NULL })

/* Two wired lamps of two slots and a moving head on universe 7 that an E1.31 receiver finds as wire 7. Type "mover" has a hazard. */
static const char small_show[] =
    "return { rigcall = 1, name = \"Small \\\"one\\\"\", -- a comment\n"
    "  sites = { { id = \"hall\", name = \"Hall\" } },\n"
    "  types = { { id = \"lamp\", name = \"Lamp\", modes = { { id = \"m\", head = { \"intensity\", \"red\" }, cells = 0, slots = {}, tail = {} } } },\n"
    "    { id = \"mover\", name = \"Mover\", hazard = \"motion\", modes = { { id = \"m\", head = { \"pan\", \"intensity\" }, cells = 0, slots = {}, tail = {} } } } },\n"
    "  transmitters = {},\n"
    "  universes = { { id = 7, label = \"Hall\" } },\n"
    "  fixtures = { { id = 1, name = \"Left\", type = \"lamp\", mode = \"m\", site = \"hall\", universe = 7, address = 1 },\n"
    "    { id = 2, name = \"Right\", type = \"lamp\", mode = \"m\", site = \"hall\", universe = 7, address = 3 },\n"
    "    { id = 9, name = \"Head\", type = \"mover\", mode = \"m\", site = \"hall\", universe = 7, address = 5 } } }\n";

/* What every test of a command has: a folder, removed afterwards, which is the state folder too; and the small show in it. */
struct place { char *folder, *show; };

static inline int place_setup(void **state)
{
    struct place *place = calloc(1, sizeof *place);
    place->folder = program_folder_new();
    place->show = program_file(place->folder, "small.show.lua", small_show);
    setenv("XDG_STATE_HOME", place->folder, 1);
    unsetenv("NO_COLOR");
    setenv("TERM", "xterm", 1);
    *state = place;
    return 0;
}

static inline int place_teardown(void **state)
{
    struct place *place = *state;
    free(place->show);
    program_folder_remove(place->folder);
    free(place);
    return 0;
}

#define PLACE_TEST(function) cmocka_unit_test_setup_teardown(function, place_setup, place_teardown)

/* Status and both outputs, exactly. */
static inline void assert_result(struct program_result result, int status, const char *out, const char *err)
{
    assert_string_equal(result.err, err);
    assert_string_equal(result.out, out);
    assert_int_equal(result.status, status);
    program_result_fini(&result);
}

/* Status, and the beginning of what was said on standard error. */
static inline void assert_fails(struct program_result result, int status, const char *err)
{
    if (strncmp(result.err, err, strlen(err)))
        fail_msg("expected \"%s\", got \"%s\"", err, result.err);
    assert_int_equal(result.status, status);
    program_result_fini(&result);
}

/* A formatted text, malloc'd. */
__attribute__((format(printf, 1, 2))) static inline char *text_of(const char *format, ...)
{
    char *text = NULL;
    va_list args;
    va_start(args, format);
    assert_true(vasprintf(&text, format, args) >= 0);
    va_end(args);
    return text;
}

#endif
