#include "swap_policy.h"

#include <stdlib.h>
#include <string.h>

#include "run.h"

/* The plans to choose among, best first; each is owned here until it is chosen. */
struct ranked { struct plan *plans[POLICY_SINGLES + 2]; uint32_t count; };

static bool same_value(const struct plan_value *a, const struct plan_value *b)
{
    return a->kind == b->kind && (a->kind != PLAN_NUMBER || a->number == b->number)
        && (a->kind != PLAN_TEXT || !strcmp(a->text, b->text));
}

static bool same_plan(const struct plan *a, const struct plan *b)
{
    if (a->step_count != b->step_count)
        return false;
    for (uint32_t i = 0; i < a->step_count; i++) {
        const struct plan_step *x = &a->steps[i], *y = &b->steps[i];
        if (x->subject.kind != y->subject.kind || x->subject.index != y->subject.index || strcmp(x->field, y->field)
            || !same_value(&x->to, &y->to))
            return false;
    }
    return true;
}

static int compare_costs(const struct plan *a, const struct plan *b)
{
    const uint32_t x[] = { a->dark, a->disturbed, a->touches, a->settings }, y[] = { b->dark, b->disturbed, b->touches, b->settings };
    for (int i = 0; i < 4; i++)
        if (x[i] != y[i])
            return x[i] < y[i] ? -1 : 1;
    return 0;
}

/* Behind those that cost as much. One that is refused or there already is freed, and one that lights nothing beside others. */
static void add(struct ranked *ranked, struct plan *plan)
{
    bool known = plan->refused || (ranked->count && plan->lost && plan->dark >= plan->lost);
    for (uint32_t i = 0; i < ranked->count && !known; i++)
        known = same_plan(ranked->plans[i], plan);
    if (known) {
        plan_free(plan);
        return;
    }
    uint32_t at = ranked->count++;
    for (; at > 0 && compare_costs(ranked->plans[at - 1], plan) > 0; at--)
        ranked->plans[at] = ranked->plans[at - 1];
    ranked->plans[at] = plan;
}

static int add_planned(struct ranked *ranked, const struct show *show, const struct plan_swap_options *swap, struct rig_why *why)
{
    struct plan *plan;
    int err = plan_swap(show, swap, &plan, why);
    if (!err)
        add(ranked, plan);
    return err;
}

static bool is_in(uint32_t index, const uint32_t *list, uint32_t count)
{
    for (uint32_t i = 0; i < count; i++)
        if (list[i] == index)
            return true;
    return false;
}

/* Plans in which one transmitter alone takes over: spares first, then the others, each in the order of the file. */
static int add_singles(struct ranked *ranked, const struct show *show, const struct plan_swap_options *swap, struct rig_why *why)
{
    uint32_t tried = 0;
    int err = 0;
    for (int pass = 0; pass < 2; pass++)
        for (uint32_t t = 0; t < show->transmitter_count && tried < POLICY_SINGLES && !err; t++) {
            if (show->transmitters[t].spare != (pass == 0) || is_in(t, swap->out, swap->out_count)
                || (swap->in_count && !is_in(t, swap->in, swap->in_count)))
                continue;
            struct plan_swap_options single = *swap;
            single.in = &t;
            single.in_count = 1;
            tried++;
            err = add_planned(ranked, show, &single, why);
        }
    return err;
}

static int rank(struct ranked *ranked, struct replan *replan, const struct plan_swap_options *swap, struct rig_why *why)
{
    struct plan_swap_options quiet = *swap;
    int err = 0;
    add(ranked, replan->plan);
    replan->plan = NULL;
    quiet.keep_working = true;
    if (ranked->plans[0]->disturbed)
        err = add_planned(ranked, replan->show, &quiet, why);
    return err ? err : add_singles(ranked, replan->show, swap, why);
}

/* ---- questions ---- */

struct asker { const struct options *options; struct terminal terminal; };

static int ask(void *context, const char *question, enum crew_answer *answer, char *note, size_t note_size, struct rig_why *why)
{
    struct asker *asker = context;
    const char *given = options_text(asker->options, "answer", NULL);
    note[0] = '\0';
    if (given) {
        *answer = !strcmp(given, "yes") ? CREW_YES : CREW_SKIP;
        return 0;
    }
    if (asker->terminal.fd < 0)
        return rig_fail(why, RIG_EUSAGE, "swap: the policy asks \"%.300s\", and there is no terminal to answer at; --answer skip or --answer "
                                         "yes does", question);
    terminal_ask(&asker->terminal, NULL, question);
    while (!terminal_read(&asker->terminal, answer, note, note_size))
        ;
    return 0;
}

static void printed(void *context, const char *text)
{
    (void)context;
    fprintf(stderr, "%s\n", text);
}

static int let_decide(struct replan *replan, const struct ranked *ranked, struct script_verdict *verdict, struct rig_why *why)
{
    struct script_list list = { 0 };
    struct script_set *sets = NULL;
    struct asker asker = { .options = replan->options };
    size_t set_count = 0;
    int err = find_script(&find_policy, options_text(replan->options, "policy", ""), replan->report.path, &list, why);
    if (!err)
        err = find_sets(replan->options, "swap", &sets, &set_count, why);
    terminal_open(&asker.terminal);
    if (!err) {
        struct script_swap_options options = { .script = &list.items[0], .sets = sets, .set_count = set_count,
                                               .plans = (const struct plan *const *)ranked->plans, .plan_count = ranked->count,
                                               .ask = ask, .printed = printed, .context = &asker };
        err = script_decide(replan->show, &options, verdict, why);
    }
    terminal_close(&asker.terminal);
    find_sets_free(sets, set_count);
    script_list_free(&list);
    return err;
}

int policy_decide(struct replan *replan, const struct plan_swap_options *swap, struct policy *policy, bool *refused, struct rig_why *why)
{
    struct ranked ranked = { 0 };
    struct script_verdict verdict = { 0 };
    int err = rank(&ranked, replan, swap, why);
    if (!err)
        err = let_decide(replan, &ranked, &verdict, why);
    if (!err) {
        uint32_t chosen = verdict.plan ? verdict.plan - 1 : 0;
        replan->plan = ranked.plans[chosen];
        ranked.plans[chosen] = NULL;
        *refused = verdict.plan == 0;
        snprintf(policy->name, sizeof policy->name, "%s", verdict.name);
        snprintf(policy->why, sizeof policy->why, "%s", verdict.why);
        policy->refusal = (struct plan){ .kind = PLAN_SWAP, .proved = true, .refused = *policy->why ? policy->why : "the policy gives no reason" };
        replan->report.policy = policy->name;
        replan->report.policy_says = policy->why;
    }
    for (uint32_t i = 0; i < ranked.count; i++)
        plan_free(ranked.plans[i]);
    return err;
}
