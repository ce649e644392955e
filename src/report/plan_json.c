/* A plan for programs. */
#include <jansson.h>
#include <stdlib.h>

#include "report_internal.h"
#include "rigcall/plan_report.h"

static json_t *text_json(const char *text)
{
    char *clean = text ? report__clean(text) : NULL;
    json_t *json = !text ? json_null() : clean ? json_string(clean) : NULL;
    free(clean);
    return json;
}

static json_t *value_json(const struct plan_value *value)
{
    return value->kind == PLAN_NUMBER ? json_integer(value->number) : text_json(value->kind == PLAN_TEXT ? value->text : NULL);
}

static json_t *id_json(const struct show *show, const struct plan_step *step)
{
    int64_t number = step->id;
    if (step->subject.kind == SUBJECT_UNIVERSE && step->subject.index >= show->universe_count)
        return json_integer(number);
    const char *id = report__id(show, (struct subject){ step->subject.kind, step->subject.index }, &number);
    return id ? text_json(id) : json_integer(number);
}

static json_t *step_json(const struct show *show, const struct plan_step *step)
{
    return json_pack("{s:s, s:s, s:o, s:s, s:o, s:o, s:o}", "do", step->clear ? "clear" : "set", "kind",
                     subject_kind_name(step->subject.kind), "id", id_json(show, step), "field", step->field, "from",
                     value_json(&step->from), "to", value_json(&step->to), "why", text_json(step->why ? step->why : ""));
}

static json_t *steps_json(const struct plan *plan, const struct show *show)
{
    json_t *list = json_array();
    for (uint32_t i = 0; list && i < plan->step_count; i++)
        if (json_array_append_new(list, step_json(show, &plan->steps[i]))) {
            json_decref(list);
            return NULL;
        }
    return list;
}

static json_t *fixtures_json(const struct show *show, const uint32_t *indexes, uint32_t count)
{
    json_t *list = json_array();
    for (uint32_t i = 0; list && i < count; i++)
        if (json_array_append_new(list, json_integer(show->fixtures[indexes[i]].id))) {
            json_decref(list);
            return NULL;
        }
    return list;
}

static json_t *numbers_json(const int64_t *numbers, uint32_t count)
{
    json_t *list = json_array();
    for (uint32_t i = 0; list && i < count; i++)
        if (json_array_append_new(list, json_integer(numbers[i]))) {
            json_decref(list);
            return NULL;
        }
    return list;
}

static json_t *why_dark_json(const struct plan *plan, const struct show *show)
{
    json_t *list = json_array();
    for (uint32_t i = 0; list && i < plan->darkened_count; i++) {
        if (!plan->dark_whys[i])
            continue;
        json_t *item = json_pack("{s:I, s:o}", "id", (json_int_t)show->fixtures[plan->darkened[i]].id, "why", text_json(plan->dark_whys[i]));
        if (plan->dark_rules && plan->dark_rules[i] && json_object_set_new(item, "rule", text_json(plan->dark_rules[i]))) {
            json_decref(item);
            item = NULL;
        }
        if (json_array_append_new(list, item)) {
            json_decref(list);
            return NULL;
        }
    }
    return list;
}

static json_t *cost_json(uint32_t dark, uint32_t disturbed, uint32_t touches, uint32_t settings)
{
    return json_pack("{s:I, s:I, s:I, s:I}", "dark", (json_int_t)dark, "disturbed", (json_int_t)disturbed, "touches",
                     (json_int_t)touches, "settings", (json_int_t)settings);
}

static json_t *policy_json(const struct plan_report *report)
{
    const struct plan *best = report->policy_best;
    json_t *policy = json_pack("{s:o, s:o, s:I, s:o}", "name", text_json(report->policy), "choice",
                               report->policy_choice ? json_integer(report->policy_choice) : json_null(), "plans",
                               (json_int_t)report->policy_plans, "why", text_json(report->policy_says ? report->policy_says : ""));
    if (best && json_object_set_new(policy, "first", cost_json(best->dark, best->disturbed, best->touches, best->settings))) {
        json_decref(policy);
        return NULL;
    }
    return policy;
}

/* What only some plans have. @return 0 or -1 */
static int add_rest(json_t *root, const struct plan *plan, const struct show *show, const struct plan_report *report)
{
    const struct plan *quiet = plan->undisturbing;
    int bad = 0;
    if (plan->dark_whys && plan->darkened_count)
        bad |= json_object_set_new(root, "why_dark", why_dark_json(plan, show));
    if (plan->has_bins) {
        bad |= json_object_set_new(root, "universes", json_integer(plan->universes));
        bad |= json_object_set_new(root, "universes_at_least", json_integer(plan->universes_at_least));
    }
    if (plan->codes_at_least < plan->codes) {
        bad |= json_object_set_new(root, "codes", json_integer(plan->codes));
        bad |= json_object_set_new(root, "codes_at_least", json_integer(plan->codes_at_least));
    }
    bool own = report->policy_choice <= 1;   /* what no plan can beat is said of the planner's own */
    if (plan->has_bins || (!plan->proved && own))
        bad |= json_object_set_new(root, "proved", json_boolean(plan->proved));
    if (!plan->proved && own && (plan->kind != PLAN_PATCH || plan->dark))
        bad |= json_object_set_new(root, "at_least", cost_json(plan->dark_at_least, plan->disturbed_at_least, plan->touches_at_least,
                                                               plan->settings_at_least));
    if (quiet)
        bad |= json_object_set_new(root, "undisturbing", cost_json(quiet->dark, quiet->disturbed, quiet->touches, quiet->settings));
    if (plan->refused)
        bad |= json_object_set_new(root, "refused", text_json(plan->refused));
    if (plan->refused && plan->refused_rule)
        bad |= json_object_set_new(root, "rule", text_json(plan->refused_rule));
    if (report->policy)
        bad |= json_object_set_new(root, "policy", policy_json(report));
    if (report->write)
        bad |= json_object_set_new(root, "written", json_boolean(report->written));
    return bad;
}

int plan_write_json(const struct plan *plan, const struct show *show, const struct plan_report *report, FILE *out, struct rig_why *why)
{
    int err = 0;
    json_t *root = json_pack("{s:I, s:I, s:I, s:I, s:o, s:o, s:o, s:o, s:o, s:o}", "touches", (json_int_t)plan->touches, "settings",
                             (json_int_t)plan->settings, "dark", (json_int_t)plan->dark, "disturbed", (json_int_t)plan->disturbed,
                             "steps", steps_json(plan, show), "fixtures_touched", fixtures_json(show, plan->touched, plan->touched_count),
                             "fixtures_dark", fixtures_json(show, plan->darkened, plan->darkened_count), "fixtures_disturbed",
                             fixtures_json(show, plan->disturbed_fixtures, plan->disturbed_count), "universes_dark",
                             numbers_json(plan->universes_dark, plan->universes_dark_count), "fixtures_failing",
                             fixtures_json(show, plan->failing, plan->failing_count));
    if (!root || add_rest(root, plan, show, report))
        err = rig_fail(why, RIG_ENOMEM, "out of memory");
    if (!err && !json_dumpf(root, out, JSON_INDENT(2)))
        fputc('\n', out);
    json_decref(root);
    return !err && ferror(out) ? rig_fail(why, RIG_EIO, "the plan could not be written") : err;
}
