/* Rules: findings, what a script may return, libs, parameters, messages. Expected values follow from design sections 3
 * and 7 and from the show of lua_show.h. */
#include "lua_fake.h"
#include "lua_show.h"

static struct show *show;

/* ---- findings ---- */

static void finding_takes_the_severity_of_the_rule(void **state)
{
    (void)state;
    fake_reset();
    fake_run(show, "return { kind = 'rule', name = 'r', severity = 'warn', run = function()\n"
                   "  finding(rig.get('fixture', 101), 'one')\n"
                   "  fail(rig.get('fixture', 101):cell(2), 'two', rig.get('transmitter', 'T1'))\n"
                   "  warn(rig.show(), 'three', { rig.get('universe', 1), rig.get('site', 'quay'), rig.get('type', "
                   "'batten') })\n"
                   "  note(rig.get('universe', 2), 'four', {})\n"
                   "end }");
    assert_log("warn fixture 101 Rail 1: one\n"
               "fail fixture 101 Rail 1 [transmitter T1 Mast]: two\n"
               "warn show Harbour [universe 1 Rail, site quay North quay, type batten Batten, 3 cells]: three\n"
               "note universe 2: four\n");
    assert_int_equal(fake.about.severity, SEVERITY_WARN);
}

static void severity_is_fail_when_not_given(void **state)
{
    (void)state;
    fake_reset();
    fake_rule(show, "finding(rig.show(), 'x')");
    assert_log("fail show Harbour: x\n");
}

static void texts_of_findings_are_made_safe(void **state)
{
    (void)state;
    fake_reset();
    fake_rule(show, "finding(rig.show(), 'a\\nb\\tc\\27[31m\\xffd \\u{202e}e \\u{85}f')");
    assert_log("fail show Harbour: a b c?[31m?d ?e ?f\n");
    fake_reset();
    fake_rule(show, "finding(rig.show(), ('\\u{e9}'):rep(600))");        /* 1200 octets: cut at a character border */
    assert_int_equal(strlen(fake.log), strlen("fail show Harbour: ") + 1000 + 1);
}

static void misuse_of_finding_is_an_error(void **state)
{
    (void)state;
    assert_breaks(show, "finding()", "test.lua:1: bad argument #1 to 'finding' (object of the show expected, got nothing)");
    assert_breaks(show, "finding('fixture 101', 'x')", "test.lua:1: bad argument #1 to 'finding' (object of the show "
                                                       "expected, got string)");
    assert_breaks(show, "finding(rig.show())", "test.lua:1: bad argument #2 to 'finding' (text expected, got no value)");
    assert_breaks(show, "finding(rig.show(), '')", "test.lua:1: bad argument #2 to 'finding' (text is empty)");
    assert_breaks(show, "finding(rig.show(), {})", "test.lua:1: bad argument #2 to 'finding' (text expected, got table)");
    assert_breaks(show, "warn(rig.show(), 'x', 5)", "test.lua:1: bad argument #3 to 'warn' (object of the show expected, "
                                                    "got number)");
    assert_breaks(show, "note(rig.show(), 'x', { rig.show(), 'y' })",
                  "test.lua:1: bad argument #3 to 'note' (entry 2 is a string, not an object of the show)");
}

static void more_than_a_thousand_others_are_left_out(void **state)
{
    (void)state;
    fake_reset();
    fake_rule(show, "local o = {} for i = 1, 1500 do o[i] = rig.get('universe', 2) end finding(rig.show(), 'x', o)");
    assert_true(fake.done);
    size_t count = 0;
    for (const char *at = fake.log; (at = strstr(at, "universe 2")); at++)
        count++;
    assert_int_equal(count, 1000);
}

static void functions_of_the_other_kind_say_so(void **state)
{
    (void)state;
    assert_breaks(show, "out.set(rig.get('fixture', 101), { red = 1 })", "test.lua:1: "
        "out.set() belongs to sequences; this script is a rule");
    assert_breaks(show, "wait(1)", "test.lua:1: wait() belongs to sequences; this script is a rule");
    assert_breaks(show, "crew.say('x')", "test.lua:1: crew.say() belongs to sequences; this script is a rule");
    assert_breaks(show, "start(function() end)", "test.lua:1: start() belongs to sequences; this script is a rule");
    fake_reset();
    fake_sequence(show, "finding(rig.show(), 'x')");
    assert_error("test.lua:1: finding() belongs to rules; this script is a sequence");
    fake_reset();
    fake_run(show, "\nfinding(rig.show(), 'x')\nreturn {}");
    assert_error("test.lua:2: finding() works only inside run, not while the file loads");
    fake_reset();
    fake_run(show, "wait(1)\nreturn {}");
    assert_error("test.lua:1: wait() works only inside run, not while the file loads");
}

/* ---- the table a script returns ---- */

static void assert_refused(const char *text, const char *expected)
{
    fake_reset();
    fake_run(show, text);
    assert_error(expected);
    assert_false(fake.about_sent);
}

static void what_a_script_returns_is_checked(void **state)
{
    (void)state;
    assert_refused("", "test.lua: returned a nil; a script returns one table "
                       "{ kind = ..., name = ..., run = function ... }");
    assert_refused("return 7", "test.lua: returned a number; a script returns one table "
                               "{ kind = ..., name = ..., run = function ... }");
    assert_refused("return {}", "test.lua: kind is missing; expected \"rule\", \"sequence\", \"swap\", \"sheet\" or "
                                "\"lib\"");
    assert_refused("return { kind = 'policy' }", "test.lua: kind \"policy\" is not known; expected one of rule, sequence, swap, sheet, lib");
    assert_refused("return { kind = 'rul' }", "test.lua: kind \"rul\" is not known; nearest: 'rule'");
    assert_refused("return { kind = 5 }", "test.lua: kind is a number; expected text");
    assert_refused("return { kind = 'rule', run = print }", "test.lua: name is missing");
    assert_refused("return { kind = 'rule', name = 'a b', run = print }", "test.lua: name \"a b\" is not 1 to 64 of A-Z "
        "a-z 0-9 _ . -");
    assert_refused("return { kind = 'rule', name = ('a'):rep(65), run = print }",
                   "test.lua: name \"aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa\" is not 1 to 64 "
                   "of A-Z a-z 0-9 _ . -");
    assert_refused("return { kind = 'rule', name = 'a', about = ('x'):rep(257), run = print }",
                   "test.lua: about has 257 octets; at most 256 are allowed");
    assert_refused("return { kind = 'rule', name = 'a', about = 'x\\n', run = print }",
                   "test.lua: about is not UTF-8 text without control characters");
    assert_refused("return { kind = 'rule', name = 'a', about = 'x\\0y', run = print }",
                   "test.lua: about is not UTF-8 text without control characters");
    assert_refused("return { kind = 'rule', name = 'a' }", "test.lua: run is a nil; expected a function");
    assert_refused("return { kind = 'rule', name = 'a', rum = print, run = print }", "test.lua: a rule has no key 'rum'; "
        "nearest: 'run'");
    assert_refused("return { kind = 'rule', name = 'a', run = print, 5 }", "test.lua: a rule has no key '1'");
    assert_refused("return { kind = 'rule', name = 'a', run = print, zz = 1, yy = 1 }",
        "test.lua: a rule has no key 'yy'");
    assert_refused("return { kind = 'sequence', name = 'a', run = print, severity = 'warn' }", "test.lua: a sequence has "
        "no key 'severity'");
    assert_refused("return { kind = 'rule', name = 'a', run = print, severity = 'Warn' }",
                   "test.lua: severity \"Warn\" is not known; nearest: 'warn'");
    assert_refused("return setmetatable({}, { __index = { kind = 'rule', name = 'a', run = print } })",
                   "test.lua: kind is missing; expected \"rule\", \"sequence\", \"swap\", \"sheet\" or \"lib\"");
}

static void a_file_that_is_no_lua_text_is_refused(void **state)
{
    (void)state;
    assert_refused("return {\n kind = }", "test.lua:2: unexpected symbol near '}'");
    assert_refused("\x1bLua", "test.lua: a compiled chunk; only text is loaded");
    assert_refused("error('no', 0)", "no (from test.lua:1)");
    assert_refused("error({ code = 7 })", "error with a table instead of a text (from test.lua:1)");
    assert_refused("error(setmetatable({}, { __tostring = function() return 'custom' end }))",
        "custom (from test.lua:1)");
    assert_refused("error()", "error with a nil instead of a text (from test.lua:1)");
    size_t length = SCRIPT_BYTES + 1;
    char deep[2000] = "return ";
    memset(deep + strlen(deep), '(', 1000);
    assert_refused(deep, "test.lua: C stack overflow");
    char *big = malloc(length);
    memset(big, ' ', length);
    fake_reset();
    fake_run_bytes(show, "big.lua", big, length);
    free(big);
    assert_error("big.lua: longer than 65536 octets");
}

static void a_byte_order_mark_is_skipped(void **state)
{
    (void)state;
    fake_reset();
    fake_run(show, "\xef\xbb\xbfreturn { kind = 'rule', name = 'a', about = 'caf\xc3\xa9', run = function() "
                   "print('ran') end }");
    assert_log("ran\n");
    assert_string_equal(fake.about.about, "caf\xc3\xa9");
}

static void sheets_are_described_but_not_run(void **state)
{
    (void)state;
    fake_reset();
    fake_run(show, "return { kind = 'sheet', name = 'a', run = function() end }");
    assert_error("test.lua: a sheet cannot be run");
    assert_int_equal(fake.about.kind, SCRIPT_SHEET);
    fake_reset();
    fake.host.describe_only = true;
    fake_run(show, "return { kind = 'lib', name = 'a', exports = {} }");
    assert_true(fake.done);
    assert_int_equal(fake.about.kind, SCRIPT_LIB);
}

/* ---- messages ---- */

static void messages_are_one_clean_line(void **state)
{
    (void)state;
    assert_breaks(show, "error('a\\nb\\27c\\xff')", "test.lua:1: a b?c?");
    fake_reset();
    fake_rule(show, "error(('x'):rep(5000))");
    assert_int_equal(strlen(fake.error), 900);
    assert_breaks(show, "local t\n\nt.x = 1", "test.lua:3: attempt to index a nil value (local 't')");
}

static void unknown_names_are_errors_that_help(void **state)
{
    (void)state;
    assert_breaks(show, "findng()", "test.lua:1: unknown name 'findng'; nearest: 'finding'");
    assert_breaks(show, "return zzzzzzzzz", "test.lua:1: unknown name 'zzzzzzzzz'");
    assert_breaks(show, "rig.fixtrues{}", "test.lua:1: rig has no 'fixtrues'; nearest: 'fixtures'");
    assert_breaks(show, "os.execute('true')", "test.lua:1: os has no 'execute'");
    assert_prints(show, "mine = 5 print(mine)", "5\n");
}

/* ---- libs ---- */

static struct host_lib lib(const char *name, const char *text)
{
    struct host_lib item = { .bytes = text, .length = strlen(text), .path = NULL };
    snprintf(item.name, sizeof item.name, "%s", name);
    return item;
}

static void use_gives_the_exports_once(void **state)
{
    (void)state;
    fake_reset();
    fake.libs[0] = lib("numbers", "print('loading')\nlocal double = use('double')\nmine = 3\n"
                                  "return { kind = 'lib', name = 'numbers', exports = "
                                  "{ four = function() return double.of(2) end } }");
    fake.libs[1] = lib("double", "return { kind = 'lib', name = 'double', exports = "
                                 "{ of = function(x) return 2 * x end } }");
    fake_run(show, "local numbers = use('numbers')\n"
                   "return { kind = 'rule', name = 'a', run = function()\n"
                   "  print(numbers.four(), use('numbers') == numbers, pcall(function() return mine end)) end }");
    assert_log("loading\n4 true false test.lua:3: unknown name 'mine'\n");        /* a lib's globals are its own */
}

static void libs_that_do_not_load_say_why(void **state)
{
    (void)state;
    fake_reset();
    fake.libs[0] = lib("a", "return use('b')");
    fake.libs[1] = lib("b", "\nuse('a')");
    fake_run(show, "\nuse('a')");
    assert_error("b:2: lib 'a' uses itself in a circle (from test.lua:2)");
    fake_reset();
    fake.libs[0] = lib("channels", "return { kind = 'rule', name = 'channels', run = print }");
    fake_run(show, "use('channels')");
    assert_error("test.lua:1: channels: kind is \"rule\"; use() gives only scripts of kind \"lib\"");
    fake_reset();
    fake.libs[0] = lib("channels", "return { kind = 'lib', name = 'other', exports = {} }");
    fake_run(show, "use('channels')");
    assert_error("test.lua:1: channels: name is \"other\"; a lib is named like its file, \"channels\"");
    fake_reset();
    fake.libs[0] = lib("channels", "return { kind = 'lib', name = 'channels', fn = print, exports = {} }");
    fake_run(show, "use('channels')");
    assert_error("test.lua:1: channels: a lib has no key 'fn'");
    fake_reset();
    fake.libs[0] = lib("channels", "return { kind = 'lib', name = 'channels' }");
    fake_run(show, "use('channels')");
    assert_error("test.lua:1: channels: exports is a nil; expected a table");
    fake_reset();
    fake.libs[0] = lib("channels", "");
    fake_run(show, "use('chanels')");
    assert_error("test.lua:1: bad argument #1 to 'use' (no lib 'chanels' is shipped or beside this script; nearest: "
                 "'channels')");
}

static void an_error_in_a_lib_names_both_places(void **state)
{
    (void)state;
    fake_reset();
    fake.libs[0] = lib("sums", "return { kind = 'lib', name = 'sums', exports = { add = function(a, b)\n"
                               "  return a + b end } }");
    fake_run(show, "local sums = use('sums')\nreturn { kind = 'rule', name = 'a', run = function()\n\n"
                   "  sums.add(1, nil)\nend }");
    assert_error("sums:2: attempt to perform arithmetic on a nil value (local 'b') (from test.lua:4)");
}

/* ---- parameters ---- */

static const char with_params[] =
    "return { kind = 'rule', name = 'a', params = {\n"
    "  reach = { 'number', unit = 'm', min = 0.5, max = 10, default = 2.5, help = 'how far' },\n"
    "  count = { 'integer', min = 1, default = 3 },\n"
    "  label = { 'text', default = 'x' },\n"
    "  loud = { 'boolean', default = true },\n"
    "  side = { 'choice', choices = { 'left', 'right' }, default = 'left' },\n"
    "  free = { 'number' } },\n"
    "  run = function(p) print(p.reach, p.count, math.type(p.count), p.label, p.loud, p.side, p.free) end }";

static void params_are_described_and_defaulted(void **state)
{
    (void)state;
    fake_reset();
    fake_run(show, with_params);
    assert_log("2.5 3 integer x true left nil\n");
    const struct script_about *about = &fake.about;
    assert_int_equal(about->param_count, 6);
    static const char *const names[] = { "count", "free", "label", "loud", "reach", "side" };        /* sorted */
    for (int i = 0; i < 6; i++)
        assert_string_equal(about->params[i].name, names[i]);
    assert_int_equal(about->params[4].type, PARAM_NUMBER);
    assert_string_equal(about->params[4].unit, "m");
    assert_string_equal(about->params[4].help, "how far");
    assert_string_equal(about->params[4].default_text, "2.5");
    assert_true(about->params[4].least == 0.5 && about->params[4].most == 10);
    assert_true(isnan(about->params[0].most));
    assert_string_equal(about->params[5].choices, "left right");
    assert_string_equal(about->params[3].default_text, "true");
    assert_string_equal(about->params[1].default_text, "");
}

static void set_replaces_defaults(void **state)
{
    (void)state;
    fake_reset();
    fake.sets[0] = (struct script_set){ "reach", "10" };
    fake.sets[1] = (struct script_set){ "count", "7.0" };
    fake.sets[2] = (struct script_set){ "label", "12" };
    fake.sets[3] = (struct script_set){ "loud", "false" };
    fake.sets[4] = (struct script_set){ "side", "right" };
    fake.sets[5] = (struct script_set){ "free", "-1e3" };
    fake_run(show, with_params);
    assert_log("10 7 integer 12 false right -1000.0\n");
}

static void assert_set_refused(const char *name, const char *value, const char *expected)
{
    fake_reset();
    fake.sets[0] = (struct script_set){ name, value };
    fake_run(show, with_params);
    assert_error(expected);
    assert_true(fake.usage);
    assert_false(fake.about_sent);
}

static void a_wrong_set_is_wrong_usage(void **state)
{
    (void)state;
    assert_set_refused("reach", "11", "--set reach=11: expected a number from 0.5 up to 10");
    assert_set_refused("reach", "nan", "--set reach=nan: expected a number from 0.5 up to 10");
    assert_set_refused("reach", "", "--set reach=: expected a number from 0.5 up to 10");
    assert_set_refused("free", "inf", "--set free=inf: expected a number");
    assert_set_refused("free", "1e999", "--set free=1e999: expected a number");
    assert_set_refused("count", "1.5", "--set count=1.5: expected a whole number from 1");
    assert_set_refused("count", "1e300", "--set count=1e300: expected a whole number from 1");
    assert_set_refused("loud", "yes", "--set loud=yes: expected true or false");
    assert_set_refused("side", "lef", "--set side=lef: expected one of: left right");
    assert_set_refused("side", "left right", "--set side=left right: expected one of: left right");
    assert_set_refused("label", "\xff", "--set label=?: expected text");
    assert_set_refused("raech", "1", "--set raech: script a has no such parameter; nearest: 'reach'");
    fake_reset();
    fake.sets[0] = fake.sets[1] = (struct script_set){ "loud", "true" };
    fake_run(show, with_params);
    assert_error("--set loud is given twice");
}

static void assert_params_refused(const char *params, const char *expected)
{
    char text[600];
    snprintf(text, sizeof text, "return { kind = 'rule', name = 'a', params = %s, run = print }", params);
    assert_refused(text, expected);
}

static void definitions_of_params_are_checked(void **state)
{
    (void)state;
    assert_params_refused("5", "test.lua: params is a number; expected a table");
    assert_params_refused("{ a = 5 }", "test.lua: param a is a number; expected a table { \"number\", ... }");
    assert_params_refused("{ ['a-b'] = { 'number' } }", "test.lua: param name 'a-b' is not 1 to 32 of a-z A-Z 0-9 _");
    assert_params_refused("{ [1] = { 'number' } }", "test.lua: param name '1' is not 1 to 32 of a-z A-Z 0-9 _");
    assert_params_refused("{ a = {} }",
        "test.lua: param a: its type is wrong; expected \"number\", \"integer\", \"text\", \"boolean\" or \"choice\" as "
        "first value");
    assert_params_refused("{ a = { 'number', mim = 1 } }", "test.lua: param a has no key 'mim'; nearest: 'min'");
    assert_params_refused("{ a = { 'number', 7, default = 1 } }", "test.lua: param a has no key '2'");
    assert_params_refused("{ a = { 'number', min = 'x' } }", "test.lua: param a: min is wrong; expected a number");
    assert_params_refused("{ a = { 'number', min = 0/0 } }", "test.lua: param a: min is wrong; expected a number");
    assert_params_refused("{ a = { 'number', min = 2, max = 1 } }", "test.lua: param a: max is wrong; expected a number "
        "not under min");
    assert_params_refused("{ a = { 'text', min = 2 } }", "test.lua: param a: min or max is wrong; expected none but "
                                                         "for numbers");
    assert_params_refused("{ a = { 'number', min = 2, default = 1 } }", "test.lua: param a: default is wrong; expected a "
        "number from 2");
    assert_params_refused("{ a = { 'integer', default = 1.5 } }", "test.lua: param a: default is wrong; expected a whole "
        "number");
    assert_params_refused("{ a = { 'boolean', default = 1 } }", "test.lua: param a: default is wrong; expected true or "
        "false");
    assert_params_refused("{ a = { 'text', default = ('x'):rep(161) } }", "test.lua: param a: default is wrong; expected "
        "text of at most 160 octets");
    assert_params_refused("{ a = { 'number', unit = ('x'):rep(17) } }", "test.lua: param a: unit is wrong; expected text "
        "of at most 16 octets");
    assert_params_refused("{ a = { 'number', help = '\\27' } }", "test.lua: param a: help is wrong; expected text of at "
        "most 160 octets");
    assert_params_refused("{ a = { 'choice', choices = { 'x', 'y' }, default = 'z' } }",
                          "test.lua: param a: default is wrong; expected one of: x y");
    assert_params_refused("{ a = { 'choice' } }", "test.lua: param a: choices is wrong; expected an array of words of "
                          "A-Z a-z 0-9 _ . -, together at most 160 octets");
    assert_params_refused("{ a = { 'choice', choices = { 'x y' } } }", "test.lua: param a: choices is wrong; expected an "
        "array of words of "
                          "A-Z a-z 0-9 _ . -, together at most 160 octets");
    assert_params_refused("{ a = { 'number', choices = { 'x' } } }", "test.lua: param a: choices is wrong; expected no "
        "choices but for a \"choice\"");
    assert_params_refused("(function() local t = {} for i = 1, 33 do t['p' .. i] = { 'number' } end return t end)()",
                          "test.lua: more than 32 params");
}

static void a_misspelt_parameter_is_an_error(void **state)
{
    (void)state;
    fake_reset();
    fake_run(show, "return { kind = 'rule', name = 'a', params = { reach = { 'number' } }, run = function(p) "
                   "print(p.reech) end }");
    assert_error("test.lua:1: the script has no parameter 'reech'; nearest: 'reach'");
}

static int open_show(void **state)
{
    (void)state;
    show = lua_show();
    return show ? 0 : -1;
}

static int close_show(void **state)
{
    (void)state;
    show_free(show);
    fake_free();
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finding_takes_the_severity_of_the_rule),
        cmocka_unit_test(severity_is_fail_when_not_given),
        cmocka_unit_test(texts_of_findings_are_made_safe),
        cmocka_unit_test(misuse_of_finding_is_an_error),
        cmocka_unit_test(more_than_a_thousand_others_are_left_out),
        cmocka_unit_test(functions_of_the_other_kind_say_so),
        cmocka_unit_test(what_a_script_returns_is_checked),
        cmocka_unit_test(a_file_that_is_no_lua_text_is_refused),
        cmocka_unit_test(a_byte_order_mark_is_skipped),
        cmocka_unit_test(sheets_are_described_but_not_run),
        cmocka_unit_test(messages_are_one_clean_line),
        cmocka_unit_test(unknown_names_are_errors_that_help),
        cmocka_unit_test(use_gives_the_exports_once),
        cmocka_unit_test(libs_that_do_not_load_say_why),
        cmocka_unit_test(an_error_in_a_lib_names_both_places),
        cmocka_unit_test(params_are_described_and_defaulted),
        cmocka_unit_test(set_replaces_defaults),
        cmocka_unit_test(a_wrong_set_is_wrong_usage),
        cmocka_unit_test(definitions_of_params_are_checked),
        cmocka_unit_test(a_misspelt_parameter_is_an_error),
    };
    return cmocka_run_group_tests(tests, open_show, close_show);
}
