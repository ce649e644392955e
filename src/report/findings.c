/* The collection of findings: storage, counts, and the choice of a writer. Order is in order.c. */
#include "rigcall/report.h"

#include <ctype.h>
#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "report_internal.h"

/* Subject of a line "and N more", which stands for the show but sorts behind everything else of its rule. */
#define MORE_INDEX UINT32_MAX

const char *severity_name(enum severity severity)
{
    static const char *const names[] = { "fail", "warn", "note" };
    return (unsigned)severity < 3 ? names[severity] : "?";
}

struct findings *findings_new(void)
{
    return calloc(1, sizeof(struct findings));
}

static void free_finding(struct finding *finding)
{
    free((void *)finding->rule);
    free((void *)finding->others);
    free((void *)finding->text);
}

void findings_free(struct findings *findings)
{
    if (!findings)
        return;
    for (size_t i = 0; i < findings->count; i++)
        free_finding(&findings->items[i]);
    for (size_t i = 0; i < findings->rule_count; i++) {
        free(findings->rules[i].name);
        free(findings->rules[i].about);
    }
    for (size_t i = 0; i < findings->failure_count; i++) {
        free(findings->failures[i].name);
        free(findings->failures[i].path);
        free(findings->failures[i].text);
    }
    free(findings->items);
    free(findings->rules);
    free(findings->failures);
    free(findings);
}

/* Make room for one more element. */
static int grow(void **items, size_t count, size_t *room, size_t size)
{
    if (count < *room)
        return 0;
    size_t wanted = *room ? *room * 2 : 16;
    void *grown = realloc(*items, wanted * size);
    if (!grown)
        return RIG_ENOMEM;
    *items = grown;
    *room = wanted;
    return 0;
}

/* The place of a rule in the list, added if it is new. NULL when memory is short. */
static struct report_rule *rule_entry(struct findings *findings, const char *rule)
{
    for (size_t i = 0; i < findings->rule_count; i++)
        if (!strcmp(findings->rules[i].name, rule))
            return &findings->rules[i];
    if (grow((void **)&findings->rules, findings->rule_count, &findings->rule_room, sizeof *findings->rules))
        return NULL;
    struct report_rule added = { strdup(rule), strdup("") };
    if (!added.name || !added.about) {
        free(added.name);
        free(added.about);
        return NULL;
    }
    findings->rules[findings->rule_count] = added;
    return &findings->rules[findings->rule_count++];
}

int findings_add_rule(struct findings *findings, const char *rule, const char *about)
{
    struct report_rule *entry = rule_entry(findings, rule);
    char *text = strdup(about ? about : "");
    if (!entry || !text) {
        free(text);
        return RIG_ENOMEM;
    }
    free(entry->about);
    entry->about = text;
    return 0;
}

static int add(struct findings *findings, const struct finding *finding, uint64_t stands_for)
{
    if (!rule_entry(findings, finding->rule)
        || grow((void **)&findings->items, findings->count, &findings->room, sizeof *findings->items))
        return RIG_ENOMEM;
    struct finding kept = *finding;
    struct subject *others = NULL;
    if (finding->other_count && (others = malloc(finding->other_count * sizeof *others)))
        memcpy(others, finding->others, finding->other_count * sizeof *others);
    kept.rule = strdup(finding->rule);
    kept.text = strdup(finding->text);
    kept.others = others;
    if (!kept.rule || !kept.text || (finding->other_count && !others)) {
        free_finding(&kept);
        return RIG_ENOMEM;
    }
    findings->items[findings->count++] = kept;
    findings->counts[finding->severity] += stands_for;
    return 0;
}

int findings_add(struct findings *findings, const struct finding *finding)
{
    return add(findings, finding, 1);
}

int findings_add_more(struct findings *findings, const char *rule, enum severity severity, uint64_t more)
{
    char text[40];
    snprintf(text, sizeof text, "and %" PRIu64 " more", more);
    struct finding line = { .rule = rule, .severity = severity, .subject = { SUBJECT_SHOW, MORE_INDEX }, .text = text };
    return add(findings, &line, more);
}

bool report__is_more(const struct finding *finding)
{
    return finding->subject.kind == SUBJECT_SHOW && finding->subject.index == MORE_INDEX;
}

bool report__names(const struct show *show, const struct finding *finding, struct subject subject)
{
    char name[REPORT_NAME];
    size_t length = show_describe(show, subject.kind, subject.index, name, sizeof name);
    for (const char *at = finding->text; (at = strstr(at, name)); at++)
        if (!isalnum((unsigned char)at[length]))              /* "fixture 10" is not named by "fixture 101" */
            return true;
    return false;
}

int findings_add_failure(struct findings *findings, const char *name, const char *path, const char *text)
{
    if (grow((void **)&findings->failures, findings->failure_count, &findings->failure_room, sizeof *findings->failures))
        return RIG_ENOMEM;
    struct script_failure added = { strdup(name), strdup(path), strdup(text) };
    if (!added.name || !added.path || !added.text) {
        free(added.name);
        free(added.path);
        free(added.text);
        return RIG_ENOMEM;
    }
    findings->failures[findings->failure_count++] = added;
    return 0;
}

const struct finding *findings_items(const struct findings *findings, size_t *count)
{
    *count = findings->count;
    return findings->items;
}

uint64_t findings_count(const struct findings *findings, enum severity severity)
{
    return findings->counts[severity];
}

const struct script_failure *findings_failures(const struct findings *findings, size_t *count)
{
    *count = findings->failure_count;
    return findings->failures;
}

void report__put(FILE *out, const char *text)
{
    for (const unsigned char *c = (const unsigned char *)text; *c; c++) {
        bool c1 = c[0] == 0xc2 && c[1] >= 0x80 && c[1] <= 0x9f;
        fputc(c1 || *c < 0x20 || *c == 0x7f ? '?' : *c, out);
        c += c1;
    }
}

char *report__clean(const char *text)
{
    char *clean = strdup(text);
    if (!clean)
        return NULL;
    size_t length = strlen(clean), at = 0;
    while ((at += utf8_check(clean + at, length - at)) < length)
        clean[at++] = '?';
    return clean;
}

int findings_write(const struct findings *findings, const struct show *show, const char *show_path, enum report_format format,
                   bool colour, FILE *out, struct rig_why *why)
{
    int err;
    errno = 0;
    switch (format) {
    case REPORT_JSON:
        err = report__write_json(findings, show, show_path, out, why);
        break;
    case REPORT_JUNIT:
        err = report__write_junit(findings, show, show_path, out, why);
        break;
    default:
        err = report__write_text(findings, show, show_path, colour, out, why);
    }
    if (!err && (fflush(out) || ferror(out)))
        err = rig_fail(why, RIG_EIO, "the report is not written: %s", errno ? strerror(errno) : "write error");
    return err;
}
