/* The one order of findings, so that two runs are equal octet for octet however the rules raced. */
#include <stdlib.h>
#include <string.h>

#include "report_internal.h"

const char *report__id(const struct show *show, struct subject subject, int64_t *number)
{
    switch (subject.kind) {
    case SUBJECT_FIXTURE:
        *number = show->fixtures[subject.index].id;
        return NULL;
    case SUBJECT_UNIVERSE:
        *number = show->universes[subject.index].id;
        return NULL;
    case SUBJECT_SITE:
        return show->sites[subject.index].id;
    case SUBJECT_TYPE:
        return show->types[subject.index].id;
    case SUBJECT_TRANSMITTER:
        return show->transmitters[subject.index].id;
    default:
        return show->name ? show->name : "";
    }
}

static int compare_numbers(int64_t a, int64_t b)
{
    return (a > b) - (a < b);
}

int report__compare_subjects(const struct show *show, struct subject a, struct subject b)
{
    int64_t number_a = 0, number_b = 0;
    if (a.kind != b.kind)
        return compare_numbers(a.kind, b.kind);
    const char *name_a = report__id(show, a, &number_a), *name_b = report__id(show, b, &number_b);
    return name_a ? strcmp(name_a, name_b) : compare_numbers(number_a, number_b);
}

struct keyed { struct finding finding; const struct show *show; };

static int compare_others(const struct show *show, const struct finding *a, const struct finding *b)
{
    for (uint32_t i = 0; i < a->other_count && i < b->other_count; i++) {
        int order = report__compare_subjects(show, a->others[i], b->others[i]);
        if (order)
            return order;
    }
    return compare_numbers(a->other_count, b->other_count);
}

static int compare_findings(const void *left, const void *right)
{
    const struct keyed *pair[2] = { left, right };
    const struct finding *a = &pair[0]->finding, *b = &pair[1]->finding;
    const struct show *show = pair[0]->show;
    int order = strcmp(a->rule, b->rule);
    if (!order)
        order = report__is_more(a) - report__is_more(b);
    if (!order)
        order = report__compare_subjects(show, a->subject, b->subject);
    if (!order)
        order = compare_others(show, a, b);
    if (!order)
        order = strcmp(a->text, b->text);
    if (!order)
        order = compare_numbers(a->severity, b->severity);
    return order ? order : compare_numbers(a->subject.index, b->subject.index);
}

static int compare_rules(const void *left, const void *right)
{
    return strcmp(((const struct report_rule *)left)->name, ((const struct report_rule *)right)->name);
}

static int compare_failures(const void *left, const void *right)
{
    const struct script_failure *a = left, *b = right;
    int order = strcmp(a->name, b->name);
    if (!order)
        order = strcmp(a->path, b->path);
    return order ? order : strcmp(a->text, b->text);
}

static void sort_in_place(struct findings *findings, const struct show *show)
{
    /* Without memory for the keys: insertion, slow but right. A rule gives at most 1,001 lines. */
    for (size_t i = 1; i < findings->count; i++) {
        struct keyed moved = { findings->items[i], show };
        size_t at = i;
        for (; at > 0; at--) {
            struct keyed before = { findings->items[at - 1], show };
            if (compare_findings(&before, &moved) <= 0)
                break;
            findings->items[at] = findings->items[at - 1];
        }
        findings->items[at] = moved.finding;
    }
}

void findings_sort(struct findings *findings, const struct show *show)
{
    struct keyed *keyed = malloc((findings->count + 1) * sizeof *keyed);
    if (keyed) {
        for (size_t i = 0; i < findings->count; i++)
            keyed[i] = (struct keyed){ findings->items[i], show };
        qsort(keyed, findings->count, sizeof *keyed, compare_findings);
        for (size_t i = 0; i < findings->count; i++)
            findings->items[i] = keyed[i].finding;
        free(keyed);
    } else {
        sort_in_place(findings, show);
    }
    if (findings->rule_count)
        qsort(findings->rules, findings->rule_count, sizeof *findings->rules, compare_rules);
    if (findings->failure_count)
        qsort(findings->failures, findings->failure_count, sizeof *findings->failures, compare_failures);
}
