/* A plan for people: transmitters, universes, then fixtures where they hang; then the lists and totals of plan_text_end.c. */
#include <inttypes.h>
#include <string.h>

#include "plan_text.h"

void plan_text__name(struct plan_text *text, enum subject_kind kind, uint32_t index)
{
    char name[REPORT_NAME];
    show_describe(text->show, kind, index, name, sizeof name);
    report__put(text->out, name);
}

void plan_text__universe(struct plan_text *text, int64_t id)
{
    uint32_t index = show_find_universe(text->show, id);
    if (index == SHOW_UNKNOWN)
        fprintf(text->out, "universe %" PRId64, id);
    else
        plan_text__name(text, SUBJECT_UNIVERSE, index);
}

static void put_value(struct plan_text *text, const struct plan_step *step, const struct plan_value *value)
{
    bool lane = !strncmp(step->field, "lane ", 5);
    if (value->kind == PLAN_NULL)
        fputs(lane ? "empty" : !strcmp(step->field, "keep_out") ? "nothing" : "none", text->out);
    else if (lane)
        plan_text__universe(text, value->number);
    else if (value->kind == PLAN_NUMBER)
        fprintf(text->out, "%" PRId64, value->number);
    else
        report__put(text->out, value->text);
    if (value->kind == PLAN_TEXT && (!strcmp(step->field, "keep_out") || !strcmp(step->field, "pos")))
        fputs(!strcmp(step->field, "pos") ? " m" : " MHz", text->out);
}

static const char *field_word(const char *field)
{
    static const struct { const char *field, *word; } words[] = {
        { "code", "join code" }, { "air", "air mode" }, { "keep_out", "keep out" }, { "pos", "position" }, { "address", "start address" },
    };
    for (unsigned i = 0; i < sizeof words / sizeof *words; i++)
        if (!strcmp(words[i].field, field))
            return words[i].word;
    return field;
}

void plan_text__change(struct plan_text *text, const struct plan_step *step)
{
    if (!strcmp(step->field, "spare")) {
        fputs("switch it on: no spare any more", text->out);
        return;
    }
    if (step->clear) {
        fprintf(text->out, "clear %s (", field_word(step->field));
        put_value(text, step, &step->from);
        fputc(')', text->out);
        return;
    }
    fprintf(text->out, "%s ", field_word(step->field));
    put_value(text, step, &step->to);
    if (step->from.kind == PLAN_NULL)
        return;
    fputs(" (now ", text->out);
    put_value(text, step, &step->from);
    fputc(')', text->out);
}

void plan_text__site(struct plan_text *text, const char *id)
{
    uint32_t index = show_find_site(text->show, id);
    const char *name = index == SHOW_UNKNOWN ? NULL : text->show->sites[index].name;
    fputs("site ", text->out);
    report__put(text->out, id);
    if (name) {
        fputs(" (", text->out);
        report__put(text->out, name);
        fputc(')', text->out);
    }
}

void plan_text__pos(struct plan_text *text, const struct position *pos)
{
    if (position_given(pos))
        fprintf(text->out, " at %.10g %.10g %.10g m", pos->x_m, pos->y_m, pos->z_m);
}

/* One line a change, and the reason behind it where it is not the one just given. */
static void put_transmitter(struct plan_text *text, uint32_t first, uint32_t end)
{
    const struct plan_step *steps = text->plan->steps;
    const struct transmitter *transmitter = &text->show->transmitters[steps[first].subject.index];
    fprintf(text->out, "%3u. ", ++text->number);
    plan_text__name(text, SUBJECT_TRANSMITTER, steps[first].subject.index);
    if (transmitter->site) {
        fputs(", ", text->out);
        plan_text__site(text, transmitter->site);
    }
    plan_text__pos(text, &transmitter->pos);
    fputc('\n', text->out);
    for (uint32_t i = first; i < end; i++) {
        bool again = i > first && steps[i].why && steps[i - 1].why && !strcmp(steps[i].why, steps[i - 1].why);
        fputs("       ", text->out);
        plan_text__change(text, &steps[i]);
        if (steps[i].why && !again) {
            fputs(": ", text->out);
            report__put(text->out, steps[i].why);
        }
        fputc('\n', text->out);
    }
}

static void put_transmitters(struct plan_text *text)
{
    const struct plan *plan = text->plan;
    bool any = false;
    for (uint32_t i = 0, end; i < plan->step_count; i = end) {
        const struct plan_step *step = &plan->steps[i];
        for (end = i + 1; end < plan->step_count && plan->steps[end].subject.kind == step->subject.kind
                          && plan->steps[end].subject.index == step->subject.index;)
            end++;
        if (step->subject.kind != SUBJECT_TRANSMITTER)
            continue;
        if (!any)
            fputs("\nTransmitters, in this order\n", text->out);
        any = true;
        put_transmitter(text, i, end);
    }
}

static void put_universes(struct plan_text *text)
{
    const struct plan *plan = text->plan;
    bool any = false;
    for (uint32_t i = 0; i < plan->step_count; i++) {
        const struct plan_step *step = &plan->steps[i];
        if (step->subject.kind != SUBJECT_UNIVERSE)
            continue;
        if (!any)
            fputs("\nUniverses\n", text->out);
        any = true;
        bool new = step->subject.index >= text->show->universe_count;
        fprintf(text->out, "     %suniverse %" PRId64 ": ", new ? "new " : "", new ? step->id : text->show->universes[step->subject.index].id);
        plan_text__change(text, step);
        fputc('\n', text->out);
    }
}

static void put_policy(struct plan_text *text)
{
    const struct plan_report *report = text->report;
    if (!report->policy)
        return;
    fputs("\nPolicy ", text->out);
    report__put(text->out, report->policy);
    if (report->policy_choice)
        fprintf(text->out, " chose plan %" PRIu32 " of %" PRIu32, report->policy_choice, report->policy_plans);
    else
        fprintf(text->out, " refuses, having seen %" PRIu32 " plan%s", report->policy_plans, report->policy_plans == 1 ? "" : "s");
    if (report->policy_says && *report->policy_says) {
        fputs(": ", text->out);
        report__put(text->out, report->policy_says);
    }
    fputc('\n', text->out);
}

int plan_write_text(const struct plan *plan, const struct show *show, const struct plan_report *report, FILE *out, struct rig_why *why)
{
    struct plan_text text = { plan, show, report, out, 0, 0 };
    int err = 0;
    if (report->title) {
        report__put(out, report->title);
        fputc('\n', out);
    }
    if (plan->refused) {
        put_policy(&text);
        plan_text__refusal(&text);
    } else {
        put_transmitters(&text);
        put_universes(&text);
        err = plan_text__fixtures(&text);
        plan_text__lists(&text);
        put_policy(&text);
        plan_text__totals(&text);
        plan_text__written(&text);
    }
    if (err)
        return rig_fail(why, err, "out of memory");
    return ferror(out) ? rig_fail(why, RIG_EIO, "the plan could not be written") : 0;
}
