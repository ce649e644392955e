#include "swap_policy.h"

#include <stdlib.h>
#include <string.h>

#include "run.h"

int policy_read(struct policy *policy, const struct replan *replan, struct rig_why *why)
{
    int err = find_script(&find_policy, options_text(replan->options, "policy", ""), replan->report.path, &policy->scripts, why);
    return err ? err : find_sets(replan->options, "swap", &policy->sets, &policy->set_count, why);
}

void policy_fini(struct policy *policy)
{
    find_sets_free(policy->sets, policy->set_count);
    script_list_free(&policy->scripts);
    for (uint32_t i = 0; i < policy->plan_count; i++)
        plan_free(policy->plans[i]);
    free(policy->refusal.darkened);
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

static int let_decide(struct policy *policy, const struct replan *replan, struct rig_why *why)
{
    struct asker asker = { .options = replan->options };
    struct script_swap_options options = { .script = &policy->scripts.items[0], .sets = policy->sets, .set_count = policy->set_count,
                                           .plans = (const struct plan *const *)policy->plans,
                                           .plan_count = policy->plan_count, .ask = ask, .printed = printed, .context = &asker };
    terminal_open(&asker.terminal);
    int err = script_decide(replan->show, &options, &policy->verdict, why);
    terminal_close(&asker.terminal);
    return err;
}

/* ---- what comes of it ---- */

struct dark { int64_t id; uint32_t index; };

static int compare_ids(const void *a, const void *b)
{
    const struct dark *x = a, *y = b;
    return x->id != y->id ? (x->id < y->id ? -1 : 1) : (x->index > y->index) - (x->index < y->index);
}

static bool is_lost(const struct show *show, uint32_t fixture, const struct plan_swap_options *swap)
{
    struct landing landing = radio_landing(show, &show->fixtures[fixture]);
    for (uint32_t i = 0; i < swap->out_count && landing.state == LANDING_RIGHT; i++)
        if (swap->out[i] == landing.transmitter)
            return true;
    return false;
}

/* Nothing is done: what was lost is dark. */
static int refuse(struct policy *policy, const struct show *show, const struct plan_swap_options *swap, struct rig_why *why)
{
    struct plan *refusal = &policy->refusal;
    struct dark *dark = calloc(show->fixture_count + (size_t)1, sizeof *dark);
    *refusal = (struct plan){ .kind = PLAN_SWAP, .proved = true,
                              .refused = *policy->verdict.why ? policy->verdict.why : "the policy gives no reason",
                              .darkened = calloc(show->fixture_count + (size_t)1, sizeof *refusal->darkened) };
    if (!dark || !refusal->darkened) {
        free(dark);
        return rig_fail(why, RIG_ENOMEM, "out of memory");
    }
    for (uint32_t f = 0; f < show->fixture_count; f++)
        if (is_lost(show, f, swap))
            dark[refusal->dark++] = (struct dark){ show->fixtures[f].id, f };
    qsort(dark, refusal->dark, sizeof *dark, compare_ids);
    for (uint32_t i = 0; i < refusal->dark; i++)
        refusal->darkened[i] = dark[i].index;
    refusal->darkened_count = refusal->dark;
    free(dark);
    return 0;
}

int policy_decide(struct policy *policy, struct replan *replan, const struct plan_swap_options *swap, const struct plan **told,
                  struct rig_why *why)
{
    const struct script_verdict *verdict = &policy->verdict;
    int err = plan_swap_choices(replan->show, swap, policy->plans, &policy->plan_count, why);
    if (err)
        return err;
    *told = policy->plans[0];
    if (policy->plans[0]->refused)
        return 0;
    err = let_decide(policy, replan, why);
    if (!err && verdict->plan == 0)
        err = refuse(policy, replan->show, swap, why);
    if (err)
        return err;
    *told = verdict->plan ? policy->plans[verdict->plan - 1] : &policy->refusal;
    replan->report.policy = verdict->name;
    replan->report.policy_says = verdict->why;
    replan->report.policy_choice = verdict->plan;
    replan->report.policy_plans = policy->plan_count;
    replan->report.policy_best = policy->plans[0];
    return 0;
}
