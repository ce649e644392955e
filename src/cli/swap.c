#include <stdlib.h>

#include "replan.h"

static const struct option swap_options[] = {
    { .name = "out", .kind = OPTION_TEXT, .repeat = true, .value = "TX,...", .help = "the transmitters that are lost" },
    { .name = "in", .kind = OPTION_TEXT, .repeat = true, .value = "TX,...", .help = "the only transmitters that may change" },
    { .name = "keep-working", .kind = OPTION_FLAG, .help = "never disturb a working fixture" },
    REPLAN_OPTIONS
};

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

static int make_plan(struct replan *replan, struct rig_why *why)
{
    uint32_t *out = NULL, *in = NULL;
    struct plan_swap_options swap = { .keep_working = options_has(replan->options, "keep-working") };
    int err = replan_transmitters(replan, "out", &out, &swap.out_count, why);
    if (!err)
        err = replan_transmitters(replan, "in", &in, &swap.in_count, why);
    if (!err && !swap.out_count)
        err = rig_fail(why, RIG_EUSAGE, "swap needs --out TX, the transmitter that is lost");
    swap.out = out;
    swap.in = in;
    if (!err) {
        write_title(replan, &swap);
        replan->report.keep_option = "--keep-working";
        err = plan_swap(replan->show, &swap, &replan->plan, why);
    }
    free(out);
    free(in);
    return err;
}

static int run_swap(const struct options *options)
{
    struct rig_why why;
    struct replan replan;
    int err = replan_load(&replan, options, &why);
    if (!err)
        err = make_plan(&replan, &why);
    int status = err ? say_failure(&why) : replan_finish(&replan, true, &why);
    replan_fini(&replan);
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
               "Exit status 0 when every fixture is lit again, 1 when one stays dark or nothing can be lit. --write writes also a plan\n"
               "that leaves some dark.",
    .example = "  rigcall swap harbour.show.lua --out T1\n"
               "  rigcall swap harbour.show.lua --out T1,T2 --in T9 --keep-working --write --format json",
    .run = run_swap,
};
