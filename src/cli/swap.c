#include <stdio.h>
#include <stdlib.h>

#include "cli.h"
#include "explain.h"
#include "swap_policy.h"

static const struct option swap_options[] = {
    { .name = "out", .kind = OPTION_TEXT, .repeat = true, .value = "TX,...", .help = "the transmitters that are lost" },
    { .name = "in", .kind = OPTION_TEXT, .repeat = true, .value = "TX,...", .help = "the only transmitters that may change" },
    { .name = "keep-working", .kind = OPTION_FLAG, .help = "never disturb a working fixture" },
    { .name = "policy", .kind = OPTION_TEXT, .value = "NAME|FILE", .help = "let a swap policy choose, refuse or ask" },
    { .name = "set", .kind = OPTION_TEXT, .repeat = true, .value = "P=V", .help = "give the policy's parameter P the value V" },
    { .name = "answer", .kind = OPTION_CHOICE, .choices = "skip yes", .value = "skip|yes",
      .help = "answer every question of the policy so, ask nobody" },
    REPLAN_OPTIONS
};

/* What one swap holds. */
struct swapping { struct replan replan; uint32_t *out, *in; struct plan_swap_options asked; struct policy policy; };

static void write_title(struct replan *replan, const struct plan_swap_options *swap)
{
    char name[200];
    size_t size = sizeof replan->title;
    int at = snprintf(replan->title, size, "Swap: ");
    for (uint32_t i = 0; i < swap->out_count && at >= 0 && (size_t)at < size; i++) {
        show_describe(replan->show, SUBJECT_TRANSMITTER, swap->out[i], name, sizeof name);
        at += snprintf(replan->title + at, size - (size_t)at, "%s%s", i ? ", " : "", name);
    }
    if (at >= 0 && (size_t)at < size)
        snprintf(replan->title + at, size - (size_t)at, swap->out_count == 1 ? " is lost" : " are lost");
}

static int check_usage(const struct options *options, struct rig_why *why)
{
    static const char *const policy_only[] = { "set", "answer" };
    for (size_t i = 0; i < sizeof policy_only / sizeof policy_only[0]; i++)
        if (options_has(options, policy_only[i]) && !options_has(options, "policy"))
            return rig_fail(why, RIG_EUSAGE, "swap: --%s works only with --policy", policy_only[i]);
    return 0;
}

static int read_asked(struct swapping *swapping, struct rig_why *why)
{
    struct replan *replan = &swapping->replan;
    struct plan_swap_options *asked = &swapping->asked;
    int err = replan_transmitters(replan, "out", &swapping->out, &asked->out_count, why);
    if (!err)
        err = replan_transmitters(replan, "in", &swapping->in, &asked->in_count, why);
    if (!err && !asked->out_count)
        err = rig_fail(why, RIG_EUSAGE, "swap needs --out TX, the transmitter that is lost");
    if (err)
        return err;
    asked->out = swapping->out;
    asked->in = swapping->in;
    asked->keep_working = options_has(replan->options, "keep-working");
    write_title(replan, asked);
    replan->report.keep_option = "--keep-working";
    return options_has(replan->options, "policy") ? policy_read(&swapping->policy, replan, why) : 0;
}

static int make_plan(struct swapping *swapping, const struct plan **told, struct rig_why *why)
{
    struct replan *replan = &swapping->replan;
    if (options_has(replan->options, "policy"))
        return policy_decide(&swapping->policy, replan, &swapping->asked, told, why);
    int err = plan_swap(replan->show, &swapping->asked, &replan->plan, why);
    *told = replan->plan;
    return err;
}

static int run_swap(const struct options *options)
{
    struct rig_why why;
    struct swapping swapping = { 0 };
    const struct plan *told = NULL;
    int err = check_usage(options, &why);
    if (!err)
        err = replan_load(&swapping.replan, options, &why);
    if (!err)
        err = read_asked(&swapping, &why);
    if (!err)
        err = make_plan(&swapping, &told, &why);
    int status = err ? say_failure(&why) : replan_finish(&swapping.replan, told, true, &why);
    replan_fini(&swapping.replan);
    policy_fini(&swapping.policy);
    free(swapping.out);
    free(swapping.in);
    return status;
}

static int explain(const struct options *options)
{
    const char *show_path = options->words[0], *policy = options_text(options, "policy", NULL);
    if (!policy) {
        help_print(&command_swap, stdout);
        puts("");
    }
    int status = explain_scripts(&find_policy, show_path, policy);
    if (!status && policy)
        printf("\nrigcall swap --help explains the options.\n");
    else if (!status)
        printf("\nrigcall swap %s --policy NAME --help explains one, with its parameters.\n", show_path);
    return status;
}

const struct command command_swap = {
    .name = "swap",
    .about = "Moves a lost transmitter's universes to others at the least cost.",
    .words = "SHOW",
    .words_least = 1, .words_most = 1,
    .options = swap_options, .option_count = sizeof swap_options / sizeof swap_options[0],
    .details = "What counts, in this order: the fewest fixtures dark, the fewest working ones disturbed, the fewest to touch, the fewest\n"
               "settings on transmitters. A spare that can take over join code and lanes costs no touch at all. --out and --in take\n"
               "commas and may repeat; several lost transmitters are one problem.\n\n"
               "A policy is a script that sees up to 24 different plans, cheapest first, and chooses one, refuses them all, or asks.\n"
               "Shipped are least-touches, never-disturb and ask-first; those in swaps/ beside the show have a name, too, and a path\n"
               "also does. rigcall swap SHOW --help lists them, rigcall swap SHOW --policy NAME --help explains one.\n\n"
               "Exit status 0 when every fixture is lit again, 1 when one stays dark, the show contradicts itself or the policy refuses.\n"
               "--write also writes a plan that leaves some dark, if it lights at least one. What is lost goes off the air in the file:\n"
               "no join code, no lanes. Name it again with --out in a later swap while it is away.",
    .example = "  rigcall swap harbour.show.lua --out T1\n"
               "  rigcall swap harbour.show.lua --out T1,T2 --in T9 --keep-working --write --format json\n"
               "  rigcall swap harbour.show.lua --out T1 --policy ask-first --write",
    .run = run_swap,
    .explain = explain,
};
