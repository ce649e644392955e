/* What patch, swap and move share: the show in, a plan told, and carried out with --write. */
#ifndef RIGCALL_CLI_REPLAN_H
#define RIGCALL_CLI_REPLAN_H

#include "cli.h"
#include "rigcall/plan_report.h"

/* The options that all three have. */
#define REPLAN_OPTIONS \
    { .name = "write", .kind = OPTION_FLAG, .help = "carry the plan out in the show file, which keeps the one before as SHOW~" }, \
    { .name = "format", .kind = OPTION_CHOICE, .value = "FORM", .choices = "text json", .help = "text (default) or json" }, \
    { .name = "output", .letter = 'o', .kind = OPTION_TEXT, .value = "FILE", \
      .help = "write the plan to FILE instead of standard output" }

struct replan {
    const struct options *options;
    struct show *show;
    struct plan *plan;               /* NULL where another owns the plan that is told */
    struct plan_report report;       /* title and keep_option are the command's */
    char title[1200];
};

/** Load the show of the first word and refuse what is not sound. @return 0 or the code in why */
int replan_load(struct replan *replan, const struct options *options, struct rig_why *why);
/** Write the show file if --write asks and `fits` allows it, then tell the plan: that of replan, or another in its place. A plan that
 * is refused, or that is to light fixtures again and lights none, is not written. @return the exit status */
int replan_finish(struct replan *replan, const struct plan *plan, bool fits, struct rig_why *why);
void replan_fini(struct replan *replan);

/** The transmitters that an option names, each once. @param out  malloc'd. @return 0, RIG_EUSAGE with the nearest, RIG_ENOMEM */
int replan_transmitters(const struct replan *replan, const char *option, uint32_t **out, uint32_t *count, struct rig_why *why);
/** The site that an option names; SHOW_UNKNOWN when it is not given. @return 0 or RIG_EUSAGE with the nearest */
int replan_site(const struct replan *replan, const char *option, uint32_t *out, struct rig_why *why);

#endif
