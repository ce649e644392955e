/* A plan for people: transmitters, universes, then fixtures where they hang; what stays dark; totals. */
#include <inttypes.h>
#include <string.h>

#include "plan_text.h"

void plan_text__name(struct plan_text *text, enum subject_kind kind, uint32_t index)
{
    char name[REPORT_NAME];
    show_describe(text->show, kind, index, name, sizeof name);
    report__put(text->out, name);
}

/* "universe 7 Rail A" by its id: those that the plan adds have no name yet. */
static void put_universe(struct plan_text *text, int64_t id)
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
        put_universe(text, value->number);
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
            fputs("\nTransmitters\n", text->out);
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

/* ---- what stays dark, and the totals ---- */

static void put_list(struct plan_text *text, const char *head, const uint32_t *fixtures, const char *const *whys, uint32_t count)
{
    if (!count)
        return;
    fprintf(text->out, "\n%s\n", head);
    for (uint32_t i = 0; i < count; i++) {
        fputs("     ", text->out);
        plan_text__name(text, SUBJECT_FIXTURE, fixtures[i]);
        if (whys && whys[i]) {
            fputs(": ", text->out);
            report__put(text->out, whys[i]);
        }
        fputc('\n', text->out);
    }
}

static void put_cost(FILE *out, uint32_t dark, uint32_t disturbed, uint32_t touches, uint32_t settings)
{
    fprintf(out, "%" PRIu32 " %s dark, %" PRIu32 " disturbed, %" PRIu32 " %s to touch, %" PRIu32 " setting%s on transmitters", dark,
            dark == 1 ? "stays" : "stay", disturbed, touches, touches == 1 ? "fixture" : "fixtures", settings, settings == 1 ? "" : "s");
}

static void put_totals(struct plan_text *text)
{
    const struct plan *plan = text->plan, *quiet = plan->undisturbing;
    FILE *out = text->out;
    fputs("\nIn all: ", out);
    put_cost(out, plan->dark, plan->disturbed, plan->touches, plan->settings);
    fputs(".\n", out);
    if (plan->has_bins && plan->proved)
        fprintf(out, "%" PRIu32 " new universes; no plan does with fewer.\n", plan->universes);
    else if (plan->has_bins)
        fprintf(out, "%" PRIu32 " new universes; the search stopped early, no plan does with fewer than %" PRIu32 ".\n", plan->universes,
                plan->universes_at_least);
    else if (!plan->proved) {
        fputs("The search stopped early. No plan can be better than this: ", out);
        put_cost(out, plan->dark_at_least, plan->disturbed_at_least, plan->touches_at_least, plan->settings_at_least);
        fputs(".\n", out);
    }
    if (quiet) {
        fputs("The best plan that disturbs no working fixture: ", out);
        put_cost(out, quiet->dark, quiet->disturbed, quiet->touches, quiet->settings);
        if (text->report->keep_option)
            fprintf(out, " (%s)", text->report->keep_option);
        fputs(".\n", out);
    }
}

static void put_written(struct plan_text *text)
{
    const struct plan_report *report = text->report;
    const char *path = report->path ? report->path : "the show file";
    if (report->written) {
        report__put(text->out, path);
        fputs(" is written, the file before is ", text->out);
        report__put(text->out, path);
        fputs("~\n", text->out);
    } else if (!text->plan->step_count) {
        fputs("Nothing to write.\n", text->out);
    } else {
        fprintf(text->out, "Nothing is written%s\n", report->write ? "." : ", --write does that.");
    }
}

static void put_policy(struct plan_text *text)
{
    const struct plan_report *report = text->report;
    if (!report->policy)
        return;
    fputs("\nPolicy ", text->out);
    report__put(text->out, report->policy);
    fputs(text->plan->refused ? " refuses" : " chose this plan", text->out);
    if (report->policy_says && *report->policy_says) {
        fputs(": ", text->out);
        report__put(text->out, report->policy_says);
    }
    fputc('\n', text->out);
}

static void put_refusal(struct plan_text *text)
{
    const struct plan *plan = text->plan;
    put_policy(text);
    if (!text->report->policy) {
        fputs("\nRefused: ", text->out);
        report__put(text->out, plan->refused);
        if (plan->refused_rule)
            fprintf(text->out, " (rule %s names it)", plan->refused_rule);
        fputs("\n", text->out);
    }
    put_list(text, "What it concerns", plan->darkened, plan->dark_whys, plan->darkened_count);
    fputs("Nothing is changed.\n", text->out);
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
        put_refusal(&text);
    } else {
        put_transmitters(&text);
        put_universes(&text);
        err = plan_text__fixtures(&text);
        put_list(&text, plan->kind == PLAN_PATCH ? "Does not fit" : "Stays dark", plan->darkened, plan->dark_whys, plan->darkened_count);
        put_list(&text, "Works now and after, but must be keyed anew (disturbed)", plan->disturbed_fixtures, NULL, plan->disturbed_count);
        put_policy(&text);
        put_totals(&text);
        put_written(&text);
    }
    if (err)
        return rig_fail(why, err, "out of memory");
    return ferror(out) ? rig_fail(why, RIG_EIO, "the plan could not be written") : 0;
}
