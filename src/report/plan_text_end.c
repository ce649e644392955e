/* What stays dark and what leaves the air, the totals, and what was written or would be. */
#include <inttypes.h>
#include <string.h>

#include "plan_text.h"

/* ---- lists ---- */

static const char *at(const char *const *list, uint32_t i)
{
    return list ? list[i] : NULL;
}

static bool same_text(const char *a, const char *b)
{
    return a == b || (a && b && !strcmp(a, b));
}

static void put_why(struct plan_text *text, const char *why, const char *rule)
{
    report__put(text->out, why);
    if (rule)
        fprintf(text->out, " (rule %s)", rule);
}

/* Fixtures next to each other with one reason stand under it, unless nearly each has its own: then it stands behind the fixture. */
static void put_fixtures(struct plan_text *text, const uint32_t *fixtures, const char *const *whys, const char *const *rules, uint32_t count)
{
    uint32_t runs = 0;
    for (uint32_t i = 0; i < count; i++)
        runs += !i || !same_text(at(whys, i), at(whys, i - 1));
    bool behind = runs * 2 > count;
    for (uint32_t i = 0; i < count; i++) {
        const char *why = at(whys, i);
        if (why && !behind && (!i || !same_text(why, whys[i - 1]))) {
            fputs("   ", text->out);
            put_why(text, why, at(rules, i));
            fputs(":\n", text->out);
        }
        fputs("     ", text->out);
        plan_text__name(text, SUBJECT_FIXTURE, fixtures[i]);
        if (text->plan->kind != PLAN_MOVE)                   /* after a move it stands somewhere else */
            plan_text__pos(text, &text->show->fixtures[fixtures[i]].pos);
        if (why && behind) {
            fputs(": ", text->out);
            put_why(text, why, at(rules, i));
        }
        fputc('\n', text->out);
    }
}

static void put_list(struct plan_text *text, const char *one, const char *many, const uint32_t *fixtures, const char *const *whys,
                     const char *const *rules, uint32_t count)
{
    if (!count)
        return;
    fprintf(text->out, "\n%s: %" PRIu32 " fixture%s\n", count == 1 ? one : many, count, count == 1 ? "" : "s");
    put_fixtures(text, fixtures, whys, rules, count);
}

static void put_universes(struct plan_text *text)
{
    const struct plan *plan = text->plan;
    if (!plan->universes_dark_count)
        return;
    uint32_t count = plan->universes_dark_count;
    fprintf(text->out, "\n%s the air: %" PRIu32 " universe%s that no lane carries any more\n", count == 1 ? "Leaves" : "Leave", count,
            count == 1 ? "" : "s");
    for (uint32_t i = 0; i < count; i++) {
        fputs("     ", text->out);
        plan_text__universe(text, plan->universes_dark[i]);
        fputc('\n', text->out);
    }
}

void plan_text__lists(struct plan_text *text)
{
    const struct plan *plan = text->plan;
    bool patch = plan->kind == PLAN_PATCH;
    put_list(text, patch ? "Does not fit" : "Stays dark", patch ? "Do not fit" : "Stay dark", plan->darkened, plan->dark_whys,
             plan->dark_rules, plan->darkened_count);
    put_universes(text);
    put_list(text, "Was not lit rightly before and is not now, and check will say so",
             "Were not lit rightly before and are not now, and check will say so", plan->failing, NULL, NULL, plan->failing_count);
    put_list(text, "Works now and afterwards, and drops out in between (disturbed)",
             "Work now and afterwards, and drop out in between (disturbed)", plan->disturbed_fixtures, NULL, NULL, plan->disturbed_count);
}

/* ---- totals ---- */

static const char *plural(uint32_t count)
{
    return count == 1 ? "" : "s";
}

static void put_cost(FILE *out, uint32_t dark, uint32_t disturbed, uint32_t touches, uint32_t settings)
{
    fprintf(out, "%" PRIu32 " %s dark, %" PRIu32 " disturbed, %" PRIu32 " fixture%s to touch, %" PRIu32 " setting%s on transmitters", dark,
            dark == 1 ? "stays" : "stay", disturbed, touches, plural(touches), settings, plural(settings));
}

static uint32_t count_new_universes(const struct plan_text *text)
{
    uint32_t count = 0;
    for (uint32_t i = 0; i < text->plan->step_count; i++)
        count += text->plan->steps[i].subject.kind == SUBJECT_UNIVERSE && text->plan->steps[i].subject.index >= text->show->universe_count;
    return count;
}

static void put_unfit(struct plan_text *text)
{
    const struct plan *plan = text->plan;
    fprintf(text->out, "\nIn all: %" PRIu32 " %s not fit, so nothing is patched.\n", plan->dark, plan->dark == 1 ? "fixture does" : "fixtures do");
    if (plan->proved)
        return;
    fputs("The search for lanes stopped early: ", text->out);
    if (plan->dark_at_least)
        fprintf(text->out, "no patch can do with fewer than %" PRIu32 " that %s not fit, but one with fewer may exist.\n", plan->dark_at_least,
                plan->dark_at_least == 1 ? "does" : "do");
    else
        fputs("a patch in which all fit may exist. Patch one site at a time (--site), or try --tight.\n", text->out);
}

static void put_patch_totals(struct plan_text *text)
{
    const struct plan *plan = text->plan;
    FILE *out = text->out;
    uint32_t universes = count_new_universes(text);
    if (plan->dark) {
        put_unfit(text);
        return;
    }
    fprintf(out, "\nIn all: %" PRIu32 " fixture%s to touch, %" PRIu32 " setting%s on transmitters, %" PRIu32 " new universe%s.\n", plan->touches,
            plural(plan->touches), plan->settings, plural(plan->settings), universes, plural(universes));
    if (plan->has_bins && plan->universes == plan->universes_at_least)
        fprintf(out, "%" PRIu32 " universe%s newly patched; no plan does with fewer.\n", plan->universes,
                plural(plan->universes));
    else if (plan->has_bins)
        fprintf(out, "%" PRIu32 " universe%s newly patched. The search stopped early: fewer may do, but no plan does with fewer than "
                     "%" PRIu32 ".\n", plan->universes, plural(plan->universes), plan->universes_at_least);
    if (plan->codes_at_least < plan->codes)
        fprintf(out, "%" PRIu32 " new join codes. The search stopped early: fewer may do for these transmitters, but not fewer than %" PRIu32
                     ".\n", plan->codes, plan->codes_at_least);
}

static void put_best(struct plan_text *text)
{
    const struct plan *best = text->report->policy_best;
    if (!best)
        return;
    fputs("The first of them: ", text->out);
    put_cost(text->out, best->dark, best->disturbed, best->touches, best->settings);
    fputs(".\n", text->out);
}

static void put_hint(struct plan_text *text)
{
    if (!text->report->hint)
        return;
    report__put(text->out, text->report->hint);
    fputc('\n', text->out);
}

void plan_text__totals(struct plan_text *text)
{
    const struct plan *plan = text->plan, *quiet = plan->undisturbing;
    FILE *out = text->out;
    if (plan->kind == PLAN_PATCH) {
        put_patch_totals(text);
        put_hint(text);
        return;
    }
    if (plan->kind == PLAN_SWAP && !plan->lost)
        fputs("\nNo fixture was lit by what is lost: nothing goes dark.\n", out);
    fputs("\nIn all: ", out);
    put_cost(out, plan->dark, plan->disturbed, plan->touches, plan->settings);
    fputs(".\n", out);
    if (text->report->policy_choice > 1) {
        put_best(text);              /* what no plan can beat is said of that one */
    } else if (!plan->proved) {
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
    put_hint(text);
}

/* ---- what was written ---- */

static void put_path(struct plan_text *text)
{
    report__put(text->out, text->report->path ? text->report->path : "the show file");
}

/* What a person does next, and how to go back. */
static void put_next(struct plan_text *text)
{
    fputs("Look it over with: rigcall check ", text->out);
    put_path(text);
    fputs("\nTo undo, before anything else is written: mv ", text->out);
    put_path(text);
    fputs("~ ", text->out);
    put_path(text);
    fputc('\n', text->out);
}

static void put_away(struct plan_text *text)
{
    if (text->plan->kind == PLAN_SWAP)
        fputs("In a later swap name with --out again whatever is still away: else it may be chosen to take over.\n", text->out);
}

void plan_text__written(struct plan_text *text)
{
    const struct plan *plan = text->plan;
    if (text->report->written) {
        put_path(text);
        fputs(" is written, the file before is ", text->out);
        put_path(text);
        fputs("~\n", text->out);
        put_next(text);
        put_away(text);
    } else if (!plan->step_count) {
        fputs("Nothing to write.\n", text->out);
        put_away(text);
    } else if (plan->lost && plan->dark >= plan->lost) {
        fprintf(text->out, "No fixture would be lit: %s.\n", text->report->write ? "nothing is written" : "--write would write nothing");
    } else {
        fprintf(text->out, "Nothing is written%s\n", text->report->write ? "." : ", --write does that.");
    }
}

void plan_text__refusal(struct plan_text *text)
{
    const struct plan *plan = text->plan;
    if (text->report->policy) {
        put_best(text);
        fputs("Nothing is changed", text->out);
        if (plan->dark)
            fprintf(text->out, ": %" PRIu32 " fixture%s dark", plan->dark, plan->dark == 1 ? " stays" : "s stay");
        fputs(".\n", text->out);
        return;
    }
    fputs("\nRefused: ", text->out);
    report__put(text->out, plan->refused);
    if (plan->refused_rule)
        fprintf(text->out, " (rule %s names it)", plan->refused_rule);
    fputs("\n", text->out);
    put_list(text, "What it concerns", "What it concerns", plan->darkened, plan->dark_whys, plan->dark_rules, plan->darkened_count);
    fputs("Nothing is changed.\n", text->out);
}
