/* What the program says about itself, and exact messages for wrong usage. Texts are written by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "support/program.h"

#define RUN(...) program_run((const char *const[]){ RIGCALL_PROGRAM, __VA_ARGS__, NULL })

static const char *const names[] = { "new", "check", "run", "import", "export", "help", "version" };
#define NAMES (sizeof names / sizeof names[0])

static void assert_wrong_usage(struct program_result result, const char *message)
{
    assert_string_equal(result.err, message);
    assert_string_equal(result.out, "");
    assert_int_equal(result.status, 2);
    program_result_fini(&result);
}

static void version_is_one_line(void **state)
{
    (void)state;
    struct program_result result = RUN("--version");
    assert_int_equal(result.status, 0);
    assert_string_equal(result.out, "rigcall 0.1.0\n");
    assert_string_equal(result.err, "");
    program_result_fini(&result);
}

static void help_lists_every_command(void **state)
{
    (void)state;
    struct program_result result = RUN("help"), same = RUN("--help");
    assert_int_equal(result.status, 0);
    assert_string_equal(result.out, same.out);
    for (size_t i = 0; i < NAMES; i++) {
        char line[40];
        snprintf(line, sizeof line, "\n  %s ", names[i]);
        assert_non_null(strstr(result.out, line));
    }
    program_result_fini(&result);
    program_result_fini(&same);
}

static void every_command_explains_itself_with_an_example(void **state)
{
    (void)state;
    for (size_t i = 0; i < NAMES; i++) {
        char usage[60], example[60];
        struct program_result result = RUN(names[i], "--help"), same = RUN("help", names[i]), short_form = RUN(names[i], "-h");
        snprintf(usage, sizeof usage, "Usage: rigcall %s", names[i]);
        snprintf(example, sizeof example, "\nExample:\n  rigcall %s", names[i]);
        assert_int_equal(result.status, 0);
        assert_string_equal(result.err, "");
        assert_ptr_equal(strstr(result.out, usage), result.out);
        assert_non_null(strstr(result.out, example));
        assert_non_null(strstr(result.out, "-h, --help"));
        assert_string_equal(result.out, same.out);
        assert_string_equal(result.out, short_form.out);
        program_result_fini(&result);
        program_result_fini(&same);
        program_result_fini(&short_form);
    }
}

static void run_help_has_the_cautions(void **state)
{
    (void)state;
    static const char *const words[] = { "photosensitive epilepsy", "hazard", "Radio power", "not for life safety" };
    struct program_result result = RUN("run", "--help");
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        assert_non_null(strstr(result.out, words[i]));
    program_result_fini(&result);
}

static void without_arguments_it_shows_help_and_status_2(void **state)
{
    (void)state;
    struct program_result result = program_run((const char *const[]){ RIGCALL_PROGRAM, NULL });
    assert_int_equal(result.status, 2);
    assert_string_equal(result.out, "");
    assert_non_null(strstr(result.err, "Usage: rigcall COMMAND"));
    program_result_fini(&result);
}

static void unknown_commands_name_the_nearest(void **state)
{
    (void)state;
    assert_wrong_usage(RUN("chekc", "x"), "rigcall: unknown command chekc, nearest is check\n");
    assert_wrong_usage(RUN("frobnicate"), "rigcall: unknown command frobnicate; rigcall help lists the commands\n");
    assert_wrong_usage(RUN("help", "rnu"), "rigcall: unknown command rnu, nearest is run\n");
    assert_wrong_usage(RUN("--verbose"), "rigcall: unknown option --verbose; rigcall help lists the commands\n");
    assert_wrong_usage(RUN("bad\x1b[31mname"), "rigcall: unknown command bad?[31mname; rigcall help lists the commands\n");
}

static void unknown_options_name_the_nearest(void **state)
{
    (void)state;
    assert_wrong_usage(RUN("check", "x", "--fromat", "json"),
                       "rigcall: check: unknown option --fromat, nearest is --format; rigcall check --help explains\n");
    assert_wrong_usage(RUN("check", "x", "--onyl=a"),
                       "rigcall: check: unknown option --onyl=a, nearest is --only; rigcall check --help explains\n");
    assert_wrong_usage(RUN("check", "x", "-z"), "rigcall: check: unknown option -z; rigcall check --help explains\n");
    assert_wrong_usage(RUN("check", "x", "--hlep"),
                       "rigcall: check: unknown option --hlep, nearest is --help; rigcall check --help explains\n");
}

static void values_are_checked(void **state)
{
    (void)state;
    assert_wrong_usage(RUN("check", "x", "--format", "xml"),
                       "rigcall: check: --format: \"xml\", expected one of: text json junit; rigcall check --help explains\n");
    assert_wrong_usage(RUN("check", "x", "--format"),
                       "rigcall: check: --format needs a value: --format FORM; rigcall check --help explains\n");
    assert_wrong_usage(RUN("check", "x", "--format=json", "--format=json"),
                       "rigcall: check: --format is given twice; rigcall check --help explains\n");
    assert_wrong_usage(RUN("run", "x", "y", "--live=yes"),
                       "rigcall: run: --live takes no value; rigcall run --help explains\n");
    assert_wrong_usage(RUN("run", "x", "y", "--rate", "45"),
                       "rigcall: run: --rate: \"45\", expected a number from 1 to 44; rigcall run --help explains\n");
    assert_wrong_usage(RUN("run", "x", "y", "--rate=0x10"),
                       "rigcall: run: --rate: \"0x10\", expected a number from 1 to 44; rigcall run --help explains\n");
    assert_wrong_usage(RUN("run", "x", "y", "--rate", "nan"),
                       "rigcall: run: --rate: \"nan\", expected a number from 1 to 44; rigcall run --help explains\n");
    assert_wrong_usage(RUN("run", "x", "y", "--port", "80.5"),
                       "rigcall: run: --port: \"80.5\", expected a whole number from 1 to 65535; rigcall run --help explains\n");
    assert_wrong_usage(RUN("run", "x", "y", "--port="),
                       "rigcall: run: --port: \"\", expected a whole number from 1 to 65535; rigcall run --help explains\n");
}

static void words_are_counted(void **state)
{
    (void)state;
    assert_wrong_usage(RUN("check"), "rigcall: check needs SHOW; rigcall check --help explains\n");
    assert_wrong_usage(RUN("run", "x"), "rigcall: run needs SHOW SEQUENCE; rigcall run --help explains\n");
    assert_wrong_usage(RUN("check", "x", "y"), "rigcall: check: one argument too many, \"y\"; rigcall check --help explains\n");
    assert_wrong_usage(RUN("check", "--", "x", "--only"),
                       "rigcall: check: one argument too many, \"--only\"; rigcall check --help explains\n");
    assert_wrong_usage(RUN("version", "x"), "rigcall: version: one argument too many, \"x\"; rigcall version --help explains\n");
}

static void commands_of_later_versions_are_unknown(void **state)
{
    (void)state;
    static const char *const later[] = { "relay", "twin", "sheet", "log", "share" };
    for (size_t i = 0; i < sizeof later / sizeof later[0]; i++) {
        struct program_result result = RUN(later[i], "x");
        assert_int_equal(result.status, 2);
        assert_ptr_equal(strstr(result.err, "rigcall: unknown command "), result.err);
        program_result_fini(&result);
    }
}

static void a_full_disk_is_status_3(void **state)
{
    (void)state;
    struct program_result result = program_run((const char *const[]){ "sh", "-c", "\"$0\" help > /dev/full", RIGCALL_PROGRAM, NULL });
    assert_string_equal(result.err, "rigcall: cannot write to standard output: No space left on device\n");
    assert_int_equal(result.status, 3);
    program_result_fini(&result);
}

static void a_reader_that_goes_away_is_no_error(void **state)
{
    (void)state;
    /* the pipe has no reader when the program writes: the reader has ended before the program is started */
    struct program_result result = program_run((const char *const[]){
        "bash", "-c", "exec 3> >(exec true); wait $!; \"$0\" help >&3", RIGCALL_PROGRAM, NULL });
    assert_string_equal(result.err, "");
    assert_int_equal(result.status, 0);
    program_result_fini(&result);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(version_is_one_line),
        cmocka_unit_test(help_lists_every_command),
        cmocka_unit_test(every_command_explains_itself_with_an_example),
        cmocka_unit_test(run_help_has_the_cautions),
        cmocka_unit_test(without_arguments_it_shows_help_and_status_2),
        cmocka_unit_test(unknown_commands_name_the_nearest),
        cmocka_unit_test(unknown_options_name_the_nearest),
        cmocka_unit_test(values_are_checked),
        cmocka_unit_test(words_are_counted),
        cmocka_unit_test(commands_of_later_versions_are_unknown),
        cmocka_unit_test(a_full_disk_is_status_3),
        cmocka_unit_test(a_reader_that_goes_away_is_no_error),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
