/* Every script of tests/script/hostile, and some that are generated, is run by the real host and contained: within its limit, with
 * the message that its head asks for, nothing left behind. Each script's head says which sentence of the design it is aimed at:
 *   -- play: rule | sequence | swap  how it is run; a sequence dry, a swap policy with two plans and a crew that says no
 *   -- expect: TEXT | TEXT ...     the failure contains one of these; "ends well": there is none; "contained": either, or a crash
 *   -- cpu: SECONDS                the most its host may use, when that is not the 0.5 s of loading or of a burst
 * Figures are those of the design, section "Scripts run in processes of their own". CPU time and memory are judged in builds
 * without sanitizers. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <dirent.h>
#include <fcntl.h>
#include <stdio.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "rigcall/showfile.h"
#include "script/script_internal.h"
#include "watch.h"

#define KILL_AND_LOOK_S (0.1 + 0.4)  /* the engine kills 0.1 s after the limit, or when a busy machine lets it look */
#define RESIDENT_KIB (512L << 10)

static const char show_text_of_four[] =
    "return { rigcall = 1, name = \"Four\", sites = { { id = \"quay\" } },\n"
    "types = { { id = \"par\", modes = { { id = \"m\", head = { \"intensity\", \"red\", \"green\", \"blue\" }, cells = 0, slots = {}, tail = {} } } } },\n"
    "universes = { { id = 1 } },\n"
    "fixtures = { { id = 1, type = \"par\", mode = \"m\", site = \"quay\", universe = 1, address = 1 },\n"
    "{ id = 2, type = \"par\", mode = \"m\", site = \"quay\", universe = 1, address = 5 },\n"
    "{ id = 3, type = \"par\", mode = \"m\", site = \"quay\", universe = 1, address = 9 },\n"
    "{ id = 4, type = \"par\", mode = \"m\", site = \"quay\" } } }\n";

static struct show *show;
static char folder[] = "/tmp/rigcall-hostile-XXXXXX";
static unsigned scripts_run, scripts_wrong;     /* all of them are run before the test fails */

/* What a script's head asks for. */
struct head { enum script_kind play; double cpu_s; char expect[512]; };

static bool head_line(const char *bytes, size_t length, const char *key, char *out, size_t size)
{
    char line[600];
    size_t key_length = strlen(key);
    for (const char *at = bytes, *end = bytes + length; at < end;) {
        const char *stop = memchr(at, '\n', (size_t)(end - at));
        size_t n = (size_t)((stop ? stop : end) - at);
        snprintf(line, sizeof line, "%.*s", (int)(n < sizeof line ? n : sizeof line - 1), at);
        if (!strncmp(line, key, key_length)) {
            snprintf(out, size, "%s", line + key_length);
            return true;
        }
        at += n + 1;
    }
    return false;
}

static struct head read_head(const struct script *script)
{
    struct head head = { .cpu_s = 0.5 };
    char value[512];
    if (head_line(script->bytes, script->length, "-- play: ", value, sizeof value))
        head.play = !strcmp(value, "sequence") ? SCRIPT_SEQUENCE : !strcmp(value, "swap") ? SCRIPT_SWAP : SCRIPT_RULE;
    if (head_line(script->bytes, script->length, "-- cpu: ", value, sizeof value))
        head.cpu_s = strtod(value, NULL);
    if (!head_line(script->bytes, script->length, "-- expect: ", head.expect, sizeof head.expect))
        fail_msg("%s: no line \"-- expect: \"", script->path);
    return head;
}

static bool as_expected(const char *failure, const char *expect)
{
    char words[512];
    char *rest = words;
    snprintf(words, sizeof words, "%s", expect);
    for (char *word = strsep(&rest, "|"); word; word = strsep(&rest, "|")) {
        while (*word == ' ')
            word++;
        for (size_t n = strlen(word); n && word[n - 1] == ' '; n--)
            word[n - 1] = '\0';
        if (!strcmp(word, "contained") || (!failure && !strcmp(word, "ends well")) || (failure && strstr(failure, word)))
            return true;
    }
    return false;
}

/* @return the failure, malloc'd, or NULL when it ends well */
static char *run_rule(const struct script *script)
{
    struct check_options options = { .scripts = script, .script_count = 1 };
    struct findings *findings = findings_new();
    struct rig_why why;
    size_t count;
    char *failure = NULL;
    if (script_check(show, &options, findings, &why))
        fail_msg("%s: %s", script->path, why.text);
    findings_sort(findings, show);
    const struct finding *items = findings_items(findings, &count);
    assert_true(count <= SCRIPT_FINDINGS + 1);
    for (size_t i = 0; i < count; i++)
        assert_int_equal(utf8_check(items[i].text, strlen(items[i].text)), strlen(items[i].text));
    const struct script_failure *failures = findings_failures(findings, &count);
    assert_true(count <= 1);
    if (count)
        failure = strdup(failures[0].text);
    findings_free(findings);
    return failure;
}

static char *run_sequence(const struct script *script)
{
    static const uint32_t fixtures[] = { 0, 1 };      /* not 2 */
    struct engine_options options = { .rate_hz = ENGINE_RATE, .fixtures = fixtures, .fixture_count = 2 };
    struct script_sequence *sequence;
    struct engine_report report = { 0 };
    struct engine *engine = NULL;
    struct rig_why why;
    char *failure = NULL;
    if (script_sequence_start(show, script, fixtures, 2, NULL, 0, &sequence, &why))
        return strdup(why.text);
    assert_int_equal(engine_new(show, &options, &engine, &why), 0);
    struct engine_crew crew = { .fd = -1, .standing = CREW_SKIP };
    struct engine_play play = { .engine = engine, .player = script_sequence_player(sequence, NULL, NULL, NULL), .crew = &crew };
    int err = engine_play_dry(&play, &report, &why);
    assert_true(err == 0 || err == RIG_ESCRIPT);
    if (err)
        failure = strdup(why.text);
    engine_report_fini(&report);
    engine_free(engine);
    script_sequence_free(sequence);
    return failure;
}

static int say_no(void *context, const char *question, enum crew_answer *answer, char *note, size_t note_size, struct rig_why *why)
{
    (void)context, (void)note_size, (void)why;
    assert_int_equal(utf8_check(question, strlen(question)), strlen(question));
    *answer = CREW_NO;
    note[0] = '\0';
    return 0;
}

static char *run_swap(const struct script *script)
{
    static struct plan_step steps[2000];
    static struct plan one = { .kind = PLAN_SWAP, .steps = steps, .step_count = 2000, .touches = 4 }, two = { .kind = PLAN_SWAP };
    static const struct plan *const plans[] = { &one, &two };
    struct script_swap_options options = { .script = script, .plans = plans, .plan_count = 2, .ask = say_no };
    struct script_verdict verdict;
    struct rig_why why;
    for (size_t s = 0; s < 2000; s++)
        steps[s] = (struct plan_step){ .subject = { SUBJECT_FIXTURE, (uint32_t)(s % 4) }, .id = SHOW_NONE, .field = "code", .why = "a test" };
    int err = script_decide(show, &options, &verdict, &why);
    assert_true(err == 0 || err == RIG_ESCRIPT);
    assert_true(verdict.plan <= 2 && utf8_check(verdict.why, strlen(verdict.why)) == strlen(verdict.why));
    return err ? strdup(why.text) : NULL;
}

static void run_hostile(const struct script *script)
{
    struct head head = read_head(script);
    double before = children_cpu_s();
    int descriptors = open_descriptors();
    char *failure = head.play == SCRIPT_SEQUENCE ? run_sequence(script) : head.play == SCRIPT_SWAP ? run_swap(script) : run_rule(script);
    double used = children_cpu_s() - before;
    scripts_run++;
    print_message("%-28s %.2f s  %s\n", script->stem, used, failure ? failure : "ends well");
    if (!as_expected(failure, head.expect) || (failure && strstr(failure, "sanitizer"))) {
        print_error("%s: \"%s\", expected \"%s\"\n", script->path, failure ? failure : "ends well", head.expect);
        scripts_wrong++;
    }
    free(failure);
    assert_int_equal(open_descriptors(), descriptors);
    assert_int_equal(waitpid(-1, NULL, WNOHANG), -1);
    if (!HOST_SANITIZED && used > head.cpu_s + KILL_AND_LOOK_S) {
        print_error("%s: %.3f s of CPU time, at most %.3f\n", script->path, used, head.cpu_s + KILL_AND_LOOK_S);
        scripts_wrong++;
    }
}

static void every_hostile_script_is_contained(void **state)
{
    struct script_list list = { 0 };
    struct rig_why why;
    (void)state;
    if (script_list_add(&list, RIGCALL_SOURCE_DIR "/tests/script/hostile", true, &why))
        fail_msg("%s", why.text);
    assert_true(list.count >= 60);
    if (script_list_add(&list, RIGCALL_SOURCE_DIR "/tests/script/hostile/use", true, &why))
        fail_msg("%s", why.text);
    for (size_t i = 0; i < list.count; i++)
        run_hostile(&list.items[i]);
    script_list_free(&list);
    assert_int_equal(scripts_wrong, 0);
}

/* ---- scripts that are generated: as long as a script may be ---- */

static void run_generated(const char *name, const char *expect, const char *before, const char *again, const char *after)
{
    char *bytes = malloc(SCRIPT_BYTES + 1);
    size_t length = (size_t)snprintf(bytes, SCRIPT_BYTES, "-- expect: %s\n%s", expect, before);
    while (length + strlen(again) + strlen(after) <= SCRIPT_BYTES) {
        memcpy(bytes + length, again, strlen(again));
        length += strlen(again);
    }
    memcpy(bytes + length, after, strlen(after));
    length += strlen(after);
    struct script script = { .path = (char *)name, .stem = (char *)name, .bytes = bytes, .length = length };
    run_hostile(&script);
    free(bytes);
}

static void the_parser_is_contained(void **state)
{
    (void)state;
    scripts_wrong = 0;
    run_generated("or-chain", "0.5 s CPU time | unknown name | returned a", "return x", " or x", "");
    run_generated("and-or-chain", "CPU time | unknown name | returned a", "return nil", " and x or y", "");
    run_generated("deep-parentheses", "C stack overflow | overflow | CPU time", "return ", "(", "");
    run_generated("deep-tables", "overflow | CPU time", "return ", "{", "");
    run_generated("deep-functions", "overflow | limit", "", "return function() ", "");
    run_generated("deep-unary", "overflow | CPU time", "return ", "- ", "1");
    run_generated("deep-concat", "overflow | unknown name | CPU time", "return x", "..x", "");
    run_generated("deep-power", "overflow | CPU time", "return 2", "^2", "");
    run_generated("deep-calls", "returned a | unknown name | attempt to call | CPU time", "local function f() return f end return f", "()", "");
    run_generated("many-locals", "too many local variables", "", "local a ", "");
    run_generated("many-constants", "returned a | limit", "local t = { ", "0.125,", "} return 1");
    run_generated("many-labels", "already defined | overflow", "", "::a:: ", "");
    run_generated("many-gotos", "no visible label", "do ", "goto a ", "end");
    run_generated("many-ifs", "returned a nil | overflow | CPU time", "", "if nil then else end ", "");
    run_generated("else-chain", "returned a nil | overflow | CPU time", "if nil then ", "elseif nil then ", "end");
    run_generated("long-text", "unfinished string", "return '", "x", "");
    run_generated("long-bracket", "unfinished long string", "return [==[", "x]=]", "");
    run_generated("long-number", "malformed number", "return 0x", "f", "g");
    run_generated("all-nul", "unexpected symbol", "\n", "\t", "\x01");
    assert_int_equal(scripts_wrong, 0);
}

static void bytecode_and_length_are_refused(void **state)
{
    struct script script = { .path = "bytecode", .stem = "bytecode", .bytes = "\x1bLuaT\0\x19\x93\r\n\x1a\n", .length = 12 };
    struct script_list list = { 0 };
    struct rig_why why;
    char path[64];
    (void)state;
    char *failure = run_rule(&script);
    assert_non_null(failure);
    assert_non_null(strstr(failure, "a compiled chunk; only text is loaded"));
    free(failure);
    script.bytes = "";
    script.length = 0;
    failure = run_rule(&script);
    assert_non_null(failure);
    free(failure);
    snprintf(path, sizeof path, "%s/long.lua", folder);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    assert_int_equal(ftruncate(fileno(file), SCRIPT_BYTES + 1), 0);
    fclose(file);
    assert_int_equal(script_list_add(&list, path, true, &why), RIG_EINPUT);
    assert_non_null(strstr(why.text, "long.lua: 65537 octets, a script has at most 65536"));
    unlink(path);
    script_list_free(&list);
}

static void nothing_was_made(void **state)
{
    struct dirent *entry;
    DIR *here = opendir(".");
    (void)state;
    while ((entry = readdir(here)))
        if (strcmp(entry->d_name, ".") && strcmp(entry->d_name, ".."))
            fail_msg("%s/%s was made", folder, entry->d_name);
    closedir(here);
}

static void no_host_took_half_a_gibibyte(void **state)
{
    struct rusage usage;
    (void)state;
    getrusage(RUSAGE_CHILDREN, &usage);
    print_message("%u scripts, largest host %ld KiB\n", scripts_run, usage.ru_maxrss);
    if (!HOST_SANITIZED)
        assert_true(usage.ru_maxrss < RESIDENT_KIB);
    getrusage(RUSAGE_SELF, &usage);
    if (!HOST_SANITIZED)
        assert_true(usage.ru_maxrss < RESIDENT_KIB);
}

static int set_up(void **state)
{
    struct rig_why why;
    (void)state;
    if (showfile_parse("four", show_text_of_four, sizeof show_text_of_four - 1, &show, &why))
        fail_msg("%s", why.text);
    return !mkdtemp(folder) || chdir(folder);
}

static int tear_down(void **state)
{
    (void)state;
    show_free(show);
    return chdir("/") || rmdir(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_hostile_script_is_contained), cmocka_unit_test(the_parser_is_contained),
        cmocka_unit_test(bytecode_and_length_are_refused), cmocka_unit_test(nothing_was_made),
        cmocka_unit_test(no_host_took_half_a_gibibyte),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
