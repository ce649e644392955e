/* Findings for programs: {"show","rules","counts","findings"}, and "failures" only when scripts broke. */
#include <jansson.h>
#include <stdlib.h>

#include "report_internal.h"

/* A text that may hold octets that are not UTF-8 (a path). */
static json_t *text_json(const char *text)
{
    char *clean = report__clean(text);
    json_t *json = clean ? json_string(clean) : NULL;
    free(clean);
    return json;
}

static json_t *subject_json(const struct show *show, struct subject subject)
{
    int64_t number = 0;
    const char *id = report__id(show, subject, &number);
    return json_pack("{s:s, s:o}", "kind", subject_kind_name(subject.kind), "id", id ? text_json(id) : json_integer(number));
}

static json_t *others_json(const struct show *show, const struct finding *finding)
{
    json_t *others = json_array();
    for (uint32_t i = 0; others && i < finding->other_count; i++)
        if (json_array_append_new(others, subject_json(show, finding->others[i]))) {
            json_decref(others);
            return NULL;
        }
    return others;
}

static json_t *finding_json(const struct show *show, const struct finding *finding)
{
    return json_pack("{s:o, s:s, s:o, s:o, s:o}", "rule", text_json(finding->rule), "severity", severity_name(finding->severity),
                     "subject", subject_json(show, finding->subject), "others", others_json(show, finding), "text",
                     text_json(finding->text));
}

static json_t *counts_json(const struct findings *findings)
{
    json_t *counts = json_object();
    for (int i = SEVERITY_FAIL; i <= SEVERITY_NOTE; i++)
        if (json_object_set_new(counts, severity_name(i), json_integer((json_int_t)findings->counts[i]))) {
            json_decref(counts);
            return NULL;
        }
    return counts;
}

static json_t *failures_json(const struct findings *findings)
{
    json_t *list = json_array();
    for (size_t i = 0; list && i < findings->failure_count; i++) {
        const struct script_failure *failure = &findings->failures[i];
        json_t *json = json_pack("{s:o, s:o, s:o}", "script", text_json(failure->name), "path", text_json(failure->path), "text",
                                 text_json(failure->text));
        if (json_array_append_new(list, json)) {
            json_decref(list);
            return NULL;
        }
    }
    return list;
}

/* Fill a list made by the caller. @return 0 or -1 */
static int add_rules(json_t *list, const struct findings *findings)
{
    for (size_t i = 0; i < findings->rule_count; i++)
        if (json_array_append_new(list, text_json(findings->rules[i].name)))
            return -1;
    return 0;
}

static int add_findings(json_t *list, const struct findings *findings, const struct show *show)
{
    for (size_t i = 0; i < findings->count; i++)
        if (json_array_append_new(list, finding_json(show, &findings->items[i])))
            return -1;
    return 0;
}

int report__write_json(const struct findings *findings, const struct show *show, const char *show_path, FILE *out,
                       struct rig_why *why)
{
    int err = 0;
    json_t *rules = json_array(), *items = json_array();
    json_t *root = json_pack("{s:o, s:O, s:o, s:O}", "show", text_json(show_path), "rules", rules, "counts", counts_json(findings),
                             "findings", items);
    if (!root || add_rules(rules, findings) || add_findings(items, findings, show)
        || (findings->failure_count && json_object_set_new(root, "failures", failures_json(findings))))
        err = rig_fail(why, RIG_ENOMEM, "out of memory");
    /* A failed write shows in the stream, which findings_write() looks at. */
    if (!err && !json_dumpf(root, out, JSON_INDENT(2)))
        fputc('\n', out);
    json_decref(items);
    json_decref(rules);
    json_decref(root);
    return err;
}
