/* The shipped rules, each in a host of its own, against the cases in the folder `cases`: what a rule must find, all of it, and what
 * it must leave alone. Expected values stand in the cases, worked out by hand. */
#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include <lauxlib.h>
#include <lua.h>
#include <lualib.h>

#include "rigcall/script.h"
#include "rigcall/showfile.h"

#define RULES RIGCALL_SOURCE_DIR "/scripts/rules"
#define CASES RIGCALL_SOURCE_DIR "/tests/rules/cases"
#define RULE_COUNT 25                /* design: shipped rules */

/* ---- running rules on a text ---- */

/* @param kept  what script_check() is given beside the scripts: the show before, if any */
static struct findings *check_show(const struct show *show, struct check_options kept, const char *const *rules, size_t count,
                                   char *trouble, size_t size)
{
    struct script_list list = { NULL, 0 };
    struct findings *findings = findings_new();
    struct rig_why why = { 0 };
    char path[512];
    size_t failures = 0;
    int err = findings ? 0 : RIG_ENOMEM;
    for (size_t r = 0; !err && r < count; r++) {
        snprintf(path, sizeof path, RULES "/%s.lua", rules[r]);
        err = script_list_add(&list, path, true, &why);
    }
    kept.scripts = list.items;
    kept.script_count = list.count;
    if (!err)
        err = script_check(show, &kept, findings, &why);
    const struct script_failure *broken = err ? NULL : findings_failures(findings, &failures);
    if (err || failures) {
        snprintf(trouble, size, "%s", err ? why.text : broken->text);
        findings_free(findings);
        findings = NULL;
    } else
        findings_sort(findings, show);
    script_list_free(&list);
    return findings;
}

static void push_subject(lua_State *L, const struct show *show, struct subject subject)
{
    const char *kind = subject_kind_name(subject.kind);
    switch (subject.kind) {
    case SUBJECT_FIXTURE:     lua_pushfstring(L, "%s %I", kind, (lua_Integer)show->fixtures[subject.index].id); break;
    case SUBJECT_UNIVERSE:    lua_pushfstring(L, "%s %I", kind, (lua_Integer)show->universes[subject.index].id); break;
    case SUBJECT_SITE:        lua_pushfstring(L, "%s %s", kind, show->sites[subject.index].id); break;
    case SUBJECT_TYPE:        lua_pushfstring(L, "%s %s", kind, show->types[subject.index].id); break;
    case SUBJECT_TRANSMITTER: lua_pushfstring(L, "%s %s", kind, show->transmitters[subject.index].id); break;
    case SUBJECT_SHOW:        lua_pushstring(L, kind); break;
    }
}

static void push_finding(lua_State *L, const struct show *show, const struct finding *finding)
{
    lua_createtable(L, 2, 3);
    lua_pushstring(L, severity_name(finding->severity));
    lua_rawseti(L, -2, 1);
    push_subject(L, show, finding->subject);
    lua_rawseti(L, -2, 2);
    lua_pushstring(L, finding->rule);
    lua_setfield(L, -2, "rule");
    lua_pushstring(L, finding->text);
    lua_setfield(L, -2, "text");
    lua_createtable(L, (int)finding->other_count, 0);
    for (uint32_t o = 0; o < finding->other_count; o++) {
        push_subject(L, show, finding->others[o]);
        lua_rawseti(L, -2, (lua_Integer)o + 1);
    }
    lua_setfield(L, -2, "others");
}

/* check(rules, text, before?) -> array of findings, or nil and what went wrong. before is the text of the show before. */
static int check_text(lua_State *L)
{
    const char *rules[RULE_COUNT];
    size_t length, count = (size_t)lua_rawlen(L, 1), found_count;
    const char *text = luaL_checklstring(L, 2, &length);
    size_t before_length;
    const char *before_text = luaL_optlstring(L, 3, NULL, &before_length);
    struct show *show, *before = NULL;
    struct rig_why why = { 0 }, before_why = { 0 };
    struct check_options kept = { 0 };
    char trouble[1200] = "";
    luaL_argcheck(L, count >= 1 && count <= RULE_COUNT, 1, "1 to 25 rules");
    for (size_t r = 0; r < count; r++) {
        lua_rawgeti(L, 1, (lua_Integer)r + 1);               /* stays on the stack and so alive */
        rules[r] = luaL_checkstring(L, -1);
    }
    if (showfile_parse("case", text, length, &show, &why)) {
        lua_pushnil(L);
        lua_pushstring(L, why.text);
        return 2;
    }
    if (before_text && showfile_parse("case~", before_text, before_length, &before, &before_why))
        kept.before_trouble = before_why.text;
    kept.before = before;
    struct findings *findings = check_show(show, kept, rules, count, trouble, sizeof trouble);
    show_free(before);
    if (!findings) {
        show_free(show);
        lua_pushnil(L);
        lua_pushstring(L, trouble);
        return 2;
    }
    const struct finding *found = findings_items(findings, &found_count);
    lua_createtable(L, (int)found_count, 0);
    for (size_t i = 0; i < found_count; i++) {
        push_finding(L, show, &found[i]);
        lua_rawseti(L, -2, (lua_Integer)i + 1);
    }
    findings_free(findings);
    show_free(show);
    return 1;
}

/* ---- one test a case file ---- */

static void need(lua_State *L, int status)
{
    if (status == LUA_OK)
        return;
    print_error("%s\n", lua_tostring(L, -1));
    lua_close(L);
    fail();
}

static void cases_of_a_rule(void **state)
{
    const char *rule = *state;
    char path[512];
    lua_State *L = luaL_newstate();
    assert_non_null(L);
    luaL_openlibs(L);
    need(L, luaL_dofile(L, RIGCALL_SOURCE_DIR "/tests/rules/cases.lua"));
    lua_getfield(L, -1, "run");
    lua_pushstring(L, rule);
    snprintf(path, sizeof path, CASES "/%s.lua", rule);
    need(L, luaL_dofile(L, path));
    lua_pushcfunction(L, check_text);
    need(L, lua_pcall(L, 3, 4, 0));
    lua_Integer all = lua_tointeger(L, -4), finding = lua_tointeger(L, -3), silent = lua_tointeger(L, -2);
    bool right = lua_rawlen(L, -1) == 0;
    if (!right)
        fprintf(stderr, "%s\n", lua_tostring(L, -1));       /* cmocka's own would cut it */
    lua_close(L);
    assert_true(right);
    assert_true(all > 0 && finding > 0 && silent > 0);       /* what it must find and what it must not */
}

/* ---- the set of rules ---- */

static int is_script(const struct dirent *entry)
{
    size_t length = strlen(entry->d_name);
    return length > 4 && strcmp(entry->d_name + length - 4, ".lua") == 0;
}

static int stems(const char *folder, struct dirent ***entries)
{
    int count = scandir(folder, entries, is_script, alphasort);
    for (int i = 0; i < count; i++)
        (*entries)[i]->d_name[strlen((*entries)[i]->d_name) - 4] = '\0';
    return count;
}

static void free_entries(struct dirent **entries, int count)
{
    for (int i = 0; i < count; i++)
        free(entries[i]);
    free(entries);
}

static void every_rule_has_cases(void **state)
{
    struct dirent **rules, **cases;
    (void)state;
    int rule_count = stems(RULES, &rules), case_count = stems(CASES, &cases);
    assert_int_equal(rule_count, RULE_COUNT);
    assert_int_equal(case_count, RULE_COUNT);
    for (int i = 0; i < RULE_COUNT; i++)
        assert_string_equal(rules[i]->d_name, cases[i]->d_name);
    free_entries(rules, rule_count);
    free_entries(cases, case_count);
}

/* The doc comment: what it does, @kind, @reads, @usage with the rule's own name, @output as the command prints it. */
static void every_rule_is_documented(void **state)
{
    struct dirent **rules;
    (void)state;
    int count = stems(RULES, &rules);
    for (int i = 0; i < count; i++) {
        const char *name = rules[i]->d_name;
        char path[512], usage[400], output[3][400], *text;
        size_t length;
        snprintf(path, sizeof path, RULES "/%s.lua", name);
        assert_int_equal(showfile_read(path, SCRIPT_BYTES, &text, &length, NULL), 0);
        snprintf(usage, sizeof usage, "\n-- @usage rigcall check harbour.show.lua --only %s\n", name);
        for (int s = 0; s < 3; s++)
            snprintf(output[s], sizeof output[s], "\n-- @output %s %s ", severity_name((enum severity)s), name);
        bool right = strncmp(text, "--- ", 4) == 0 && strstr(text, "\n-- @kind rule\n") && strstr(text, "\n-- @reads ") &&
                     strstr(text, usage) && (strstr(text, output[0]) || strstr(text, output[1]) || strstr(text, output[2]));
        free(text);
        if (!right)
            print_error("%s\n", name);
        assert_true(right);
    }
    free_entries(rules, count);
}

/* ---- crowds ---- */

/* `count` fixtures of four slots at address 1 of universe 1, two pairs that share an address on purpose after them, and `count`
 * universes with one label and one wire number. */
static struct show *crowd(uint32_t count)
{
    static const char head[] = "return { rigcall = 1, name = \"Crowd\", sites = { { id = \"quay\" } }, types = { { id = \"wash\", modes = {"
        "{ id = \"plain\", cells = 1, slots = { \"intensity\", \"red\", \"green\", \"blue\" } } } } }, universes = {";
    static const char fixture[] = "{ id = %u, type = \"wash\", mode = \"plain\", site = \"quay\", universe = %u, address = 1%s },";
    size_t room = 2048 + (size_t)count * 160, at;
    char *text = malloc(room);
    struct show *show = NULL;
    assert_non_null(text);
    at = (size_t)snprintf(text, room, "%s", head);
    for (uint32_t i = 1; i <= count; i++)
        at += (size_t)snprintf(text + at, room - at, "{ id = %u, label = \"Rail\", wire = 7 },", i);
    at += (size_t)snprintf(text + at, room - at, "}, fixtures = {");
    for (uint32_t i = 1; i <= count; i++)
        at += (size_t)snprintf(text + at, room - at, fixture, i, 1u, "");
    at += (size_t)snprintf(text + at, room - at, fixture, 9001u, 2u, "");
    at += (size_t)snprintf(text + at, room - at, fixture, 9002u, 2u, ", same_as = 9001");
    at += (size_t)snprintf(text + at, room - at, fixture, 9003u, 3u, ", same_as = 9004");
    at += (size_t)snprintf(text + at, room - at, fixture, 9004u, 3u, "");
    at += (size_t)snprintf(text + at, room - at, "} }");
    assert_true(at < room);
    assert_int_equal(showfile_parse("crowd", text, at, &show, NULL), 0);
    free(text);
    return show;
}

/* 2,000 at one place: pairs are told until half a million are passed, which the 1,001st does (1,001 x 1,000 / 2 = 500,500);
 * each of the last 999 gets one finding. All are counted, 1,000 are shown. The pairs on purpose stay silent. */
static void a_crowd_stays_within_the_limits(void **state)
{
    static const char *const rules[] = { "address-overlap", "label-form", "universe-number" };
    (void)state;
    struct show *show = crowd(2000);
    for (size_t r = 0; r < 3; r++) {
        char trouble[1200] = "";
        struct findings *findings = check_show(show, (struct check_options){ 0 }, &rules[r], 1, trouble, sizeof trouble);
        if (!findings)
            print_error("%s: %s\n", rules[r], trouble);
        assert_non_null(findings);
        uint64_t all = findings_count(findings, SEVERITY_FAIL) + findings_count(findings, SEVERITY_WARN);
        findings_free(findings);
        assert_int_equal(all, 500500 + 999);
    }
    show_free(show);
}

int main(void)
{
    struct dirent **cases;
    int count = stems(CASES, &cases);
    if (count < 0) {
        fprintf(stderr, "no cases in %s\n", CASES);
        return 1;
    }
    struct CMUnitTest *tests = calloc((size_t)count + 3, sizeof *tests);
    for (int i = 0; tests && i < count; i++)
        tests[i] = (struct CMUnitTest){ cases[i]->d_name, cases_of_a_rule, NULL, NULL, cases[i]->d_name };
    if (!tests)
        return 1;
    tests[count] = (struct CMUnitTest)cmocka_unit_test(every_rule_has_cases);
    tests[count + 1] = (struct CMUnitTest)cmocka_unit_test(every_rule_is_documented);
    tests[count + 2] = (struct CMUnitTest)cmocka_unit_test(a_crowd_stays_within_the_limits);
    int failed = _cmocka_run_group_tests("rules", tests, (size_t)count + 3, NULL, NULL);
    free(tests);
    free_entries(cases, count);
    return failed;
}
