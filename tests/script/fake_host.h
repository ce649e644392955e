/* A host_lua_main() in C for tests of the process side: the script's bytes name one of the test's acts. A test program that
 * includes this does not get the Lua side of the library. */
#ifndef TESTS_FAKE_HOST_H
#define TESTS_FAKE_HOST_H

#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "script/script_internal.h"

struct fake_act { const char *name; void (*run)(struct host *host); };
extern const struct fake_act fake_acts[];    /* ended by a NULL name; given by the test */

/* Say that this script is of `kind` and called `name`, and wait for the go. */
static inline void fake_about(struct host *host, enum script_kind kind, const char *name)
{
    static struct script_about about;
    about.kind = kind;
    strcpy(about.name, name);
    strcpy(about.about, "a test");
    host_send_about(host, &about);
}

static inline void fake_rule(struct host *host)
{
    fake_about(host, SCRIPT_RULE, host->script->stem);
}

void host_lua_main(struct host *host)
{
    for (const struct fake_act *act = fake_acts; act->name; act++)
        if (!strcmp(act->name, host->script->bytes))
            act->run(host);
    host_done(host);
}

/* A script whose bytes are `act`. */
static inline struct script fake_script(const char *act)
{
    return (struct script){ .path = (char *)act, .stem = (char *)act, .bytes = (char *)act, .length = strlen(act) };
}

/* A show with so many fixtures of one 4-slot type, ids from 1, two universes, one site. */
static inline struct show *fake_show(uint32_t fixtures)
{
    struct show *show = show_new();
    assert_non_null(show);
    show->name = show_text(show, "Test", 4);
    show_add_site(show)->id = show_text(show, "quay", 4);
    struct type *type = show_add_type(show);
    type->id = show_text(show, "par", 3);
    type->modes = show_alloc(show, sizeof *type->modes);
    type->mode_count = 1;
    type->modes->id = show_text(show, "m", 1);
    type->modes->head = show_alloc(show, 4 * sizeof(struct slot));
    type->modes->head_count = 4;
    const char *params[] = { "intensity", "red", "green", "blue" };
    for (int i = 0; i < 4; i++)
        type->modes->head[i] = (struct slot){ (uint16_t)show_param(show, params[i], strlen(params[i])), false, 0.0 };
    for (int64_t id = 1; id <= 2; id++)
        show_add_universe(show)->id = id;
    for (uint32_t i = 0; i < fixtures; i++) {
        struct fixture *fixture = show_add_fixture(show);
        fixture->id = i + 1;
        fixture->type = type->id;
        fixture->mode = type->modes->id;
        fixture->universe = 1;
        fixture->address = 1 + 4 * (i % 128);
    }
    assert_int_equal(show_index(show), 0);
    return show;
}

/* Check some fake scripts; returns the findings, which the caller frees. */
static inline struct findings *fake_check(const struct show *show, const char *const *acts, size_t count, unsigned jobs)
{
    struct script scripts[64];
    struct rig_why why;
    struct findings *findings = findings_new();
    assert_true(count <= 64);
    for (size_t i = 0; i < count; i++)
        scripts[i] = fake_script(acts[i]);
    struct check_options options = { .scripts = scripts, .script_count = count, .jobs = jobs };
    int err = script_check(show, &options, findings, &why);
    if (err)
        fail_msg("%s", why.text);
    findings_sort(findings, show);
    return findings;
}

/* Check one fake script and demand one failure, which is returned as malloc'd text. */
static inline char *fake_failure(const struct show *show, const char *act)
{
    size_t count;
    struct findings *findings = fake_check(show, &act, 1, 1);
    const struct script_failure *failures = findings_failures(findings, &count);
    if (count != 1)
        fail_msg("%s: %zu failures, expected one", act, count);
    char *text = strdup(failures[0].text);
    findings_free(findings);
    return text;
}

static inline void assert_failure(const struct show *show, const char *act, const char *expected)
{
    char *text = fake_failure(show, act);
    if (!strstr(text, expected))
        fail_msg("%s: \"%s\", expected \"%s\"", act, text, expected);
    free(text);
}

#endif
