/* What the rules say of a show before and after a plan: the shipped rules themselves, run in this process. A plan may bring no
 * `fail` that was not there before, told by rule and subject, but what it names: landing of fixtures_dark and fixtures_failing,
 * universe-carried of universes_dark. */
#ifndef TESTS_SCRIPT_AFTER_PLAN_H
#define TESTS_SCRIPT_AFTER_PLAN_H

#include <inttypes.h>

#include "lua_fake.h"
#include "rigcall/plan.h"
#include "rigcall/showfile.h"

/* The shipped rules that can fail, all of them. */
static const char *const failing_rules[] = { "address-fits", "address-overlap", "air-supported", "code-clash", "code-form",
                                             "firmware-floor", "hop-count", "ids-unique", "landing", "lane-exists", "lane-shared",
                                             "quiet-kept", "reference-known", "type-known", "universe-carried", "universe-number" };
#define FAILING_RULES (sizeof failing_rules / sizeof *failing_rules)
#define FAILS 1000

static char *rule_texts[FAILING_RULES];
static size_t rule_lengths[FAILING_RULES];

/* A finding: the rule, and the subject as people name it. */
struct fail { const char *rule; char subject[100], text[200]; };
struct fails { struct fail items[FAILS]; size_t count; };

static inline void read_rules(void)
{
    for (size_t r = 0; r < FAILING_RULES && !rule_texts[r]; r++) {
        char path[512];
        snprintf(path, sizeof path, RIGCALL_SOURCE_DIR "/scripts/rules/%s.lua", failing_rules[r]);
        FILE *file = fopen(path, "rb");
        assert_non_null(file);
        rule_texts[r] = malloc(SCRIPT_BYTES);
        rule_lengths[r] = fread(rule_texts[r], 1, SCRIPT_BYTES, file);
        fclose(file);
    }
}

static inline void free_rules(void)
{
    for (size_t r = 0; r < FAILING_RULES; r++)
        free(rule_texts[r]);
    fake_free();
}

/* "fail transmitter T1 [transmitter T2]: text" */
static inline void take_line(struct fails *fails, const char *rule, const char *line)
{
    if (strncmp(line, "fail ", 5) != 0)
        return;
    assert_true(fails->count < FAILS);
    struct fail *fail = &fails->items[fails->count++];
    const char *text = strstr(line, ": "), *others = strstr(line, " [");
    assert_non_null(text);
    const char *end = others && others < text ? others : text;
    fail->rule = rule;
    snprintf(fail->subject, sizeof fail->subject, "%.*s", (int)(end - line - 5), line + 5);
    snprintf(fail->text, sizeof fail->text, "%s", text + 2);
}

static inline void check_all(const struct show *show, struct fails *fails)
{
    read_rules();
    fails->count = 0;
    for (size_t r = 0; r < FAILING_RULES; r++) {
        fake_reset();
        fake_run_bytes(show, failing_rules[r], rule_texts[r], rule_lengths[r]);
        if (!fake.done)
            fail_msg("%s: %s", failing_rules[r], fake.error);
        for (char *line = strtok(fake.log, "\n"); line; line = strtok(NULL, "\n"))
            take_line(fails, failing_rules[r], line);
    }
}

static inline bool is_found(const struct fails *fails, const struct fail *wanted)
{
    for (size_t i = 0; i < fails->count; i++)
        if (!strcmp(fails->items[i].rule, wanted->rule) && !strcmp(fails->items[i].subject, wanted->subject))
            return true;
    return false;
}

static inline bool holds(const struct show *show, const uint32_t *list, uint32_t count, int64_t id)
{
    for (uint32_t i = 0; i < count; i++)
        if (show->fixtures[list[i]].id == id)
            return true;
    return false;
}

static inline bool is_named(const struct plan *plan, const struct show *show, const struct fail *fail)
{
    int64_t id;
    if (!strcmp(fail->rule, "landing") && sscanf(fail->subject, "fixture %" SCNd64, &id) == 1)
        return holds(show, plan->darkened, plan->darkened_count, id) || holds(show, plan->failing, plan->failing_count, id);
    if (!strcmp(fail->rule, "universe-carried") && sscanf(fail->subject, "universe %" SCNd64, &id) == 1)
        for (uint32_t i = 0; i < plan->universes_dark_count; i++)
            if (plan->universes_dark[i] == id)
                return true;
    return false;
}

struct after_seen { uint32_t plans, refused, dark, named_universes, named_fixtures, fails; };

/* The show as it is written and read again, so that the file is what is judged. */
static inline struct show *written(const struct plan *plan, const struct show *show)
{
    struct show *after, *read;
    struct rig_why why;
    char *text;
    size_t length;
    if (plan_apply(plan, show, &after, &why) || showfile_format(after, &text, &length, &why) ||
        showfile_parse("written", text, length, &read, &why))
        fail_msg("%s", why.text);
    free(text);
    show_free(after);
    return read;
}

/* Universes that a lane carries: an existing one, of a transmitter that is no spare. */
static inline bool is_carried(const struct show *show, int64_t universe)
{
    for (uint32_t t = 0; t < show->transmitter_count; t++)
        for (uint32_t e = 0; e < show->transmitters[t].lane_count; e++) {
            const struct lane *lane = &show->transmitters[t].lanes[e];
            if (!show->transmitters[t].spare && lane->universe == universe && lane->lane >= 1 &&
                lane->lane <= transmitter_lane_count(&show->transmitters[t]))
                return true;
        }
    return false;
}

/* Named is what leaves the air, and nothing else. */
static inline void check_universes(const struct plan *plan, const struct show *before, const struct show *after, uint64_t number)
{
    for (int64_t universe = -2; universe < 200; universe++) {
        bool named = false;
        for (uint32_t i = 0; i < plan->universes_dark_count; i++)
            named |= plan->universes_dark[i] == universe;
        if (named != (is_carried(before, universe) && !is_carried(after, universe)))
            fail_msg("show %" PRIu64 ": universe %" PRId64 " is %snamed", number, universe, named ? "" : "not ");
    }
}

static inline void check_after(const struct plan *plan, const struct show *show, uint64_t number, struct after_seen *seen)
{
    seen->plans++;
    seen->refused += plan->refused != NULL;
    if (plan->refused) {
        assert_int_equal(plan->step_count + plan->touches + plan->settings + plan->disturbed + plan->universes_dark_count, 0);
        assert_true(plan->refused_rule != NULL || !strncmp(plan->refused, "no fixture stands at site", 25));
        return;
    }
    seen->dark += plan->dark > 0;
    seen->named_universes += plan->universes_dark_count > 0;
    seen->named_fixtures += plan->failing_count > 0;
    static struct fails old, new;
    struct show *after = written(plan, show);
    check_all(show, &old);
    check_all(after, &new);
    for (size_t i = 0; i < new.count; i++) {
        seen->fails++;
        if (is_found(&old, &new.items[i]) || is_named(plan, show, &new.items[i]))
            continue;
        char *text;
        size_t length;
        if (!showfile_format(show, &text, &length, NULL))
            fprintf(stderr, "%s\n", text);
        free(text);
        fail_msg("show %" PRIu64 ": %s %s: %s", number, new.items[i].rule, new.items[i].subject, new.items[i].text);
    }
    check_universes(plan, show, after, number);
    show_free(after);
}

static inline void print_seen(const struct after_seen *seen)
{
    printf("%" PRIu32 " plans: %" PRIu32 " refused, %" PRIu32 " leave some dark, %" PRIu32 " take a universe off the air, %" PRIu32
           " name fixtures that failed before; %" PRIu32 " fails in all, each there before or named\n", seen->plans, seen->refused,
           seen->dark, seen->named_universes, seen->named_fixtures, seen->fails);
}

/* SHOWS=n runs more than the usual number. */
static inline uint32_t shows(uint32_t usual)
{
    const char *given = getenv("SHOWS");
    return given ? (uint32_t)strtoul(given, NULL, 10) : usual;
}

static inline uint64_t first_show(uint64_t usual)
{
    const char *given = getenv("FIRST");
    return given ? strtoull(given, NULL, 10) : usual;
}

#endif
