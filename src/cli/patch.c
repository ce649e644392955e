#include <stdlib.h>
#include <string.h>

#include "replan.h"

static const struct option patch_options[] = {
    { .name = "all", .kind = OPTION_FLAG, .help = "patch every fixture anew, also those that are patched" },
    { .name = "site", .kind = OPTION_TEXT, .value = "S", .help = "only the fixtures of this site" },
    { .name = "order", .kind = OPTION_CHOICE, .choices = "hang id", .value = "hang|id",
      .help = "along each site's longest axis (default), or by id" },
    { .name = "tight", .kind = OPTION_FLAG, .help = "the fewest universes, in any order" },
    { .name = "fill", .kind = OPTION_FLAG, .help = "also use what is left free in universes already in use" },
    REPLAN_OPTIONS
};

/* What does not fit may fit into what is left free in universes in use. */
static int try_filling(struct replan *replan, const struct plan_patch_options *asked, struct rig_why *why)
{
    struct plan_patch_options patch = *asked;
    struct plan *filled = NULL;
    patch.fill = true;
    int err = plan_patch(replan->show, &patch, &filled, why);
    if (!err && !filled->refused && !filled->dark)
        replan->report.hint = "With --fill, which also uses what is left free in universes already in use, all fit.";
    plan_free(filled);
    return err;
}

static int make_plan(struct replan *replan, struct rig_why *why)
{
    const struct options *options = replan->options;
    struct plan_patch_options patch = {
        .all = options_has(options, "all"), .tight = options_has(options, "tight"), .fill = options_has(options, "fill"),
        .by_id = !strcmp(options_text(options, "order", "hang"), "id") };
    int err = replan_site(replan, "site", &patch.site, why);
    snprintf(replan->title, sizeof replan->title, "Patch of %s%s%.200s", replan->report.path,
             patch.site == SHOW_UNKNOWN ? "" : ", site ", options_text(options, "site", ""));
    if (!err)
        err = plan_patch(replan->show, &patch, &replan->plan, why);
    return err || !replan->plan->dark || patch.fill ? err : try_filling(replan, &patch, why);
}

static int run_patch(const struct options *options)
{
    struct rig_why why;
    struct replan replan;
    int err = replan_load(&replan, options, &why);
    if (!err)
        err = make_plan(&replan, &why);
    int status = err ? say_failure(&why) : replan_finish(&replan, replan.plan, !replan.plan->dark, &why);
    replan_fini(&replan);
    return status;
}

const struct command command_patch = {
    .name = "patch",
    .about = "Gives unpatched fixtures universe, address, lane and join code.",
    .words = "SHOW",
    .words_least = 1, .words_most = 1,
    .options = patch_options, .option_count = sizeof patch_options / sizeof patch_options[0],
    .details = "Neighbours in hang order stay together: each universe is one stretch of it, on one lane of a transmitter that reaches\n"
               "all its fixtures. What is patched already stays, and so do codes and lanes that are set. If the rig does not fit, the\n"
               "plan says which fixtures and why, and nothing is changed.\n\n"
               "Exit status 0 when every fixture fits, 1 when one does not.",
    .example = "  rigcall patch harbour.show.lua\n"
               "  rigcall patch harbour.show.lua --site quay --tight --write",
    .run = run_patch,
};
