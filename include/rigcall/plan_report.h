/* Plans told to people, as instructions to somebody on a ladder, and to programs, as JSON. Knows nothing of how a plan was found. */
#ifndef RIGCALL_PLAN_REPORT_H
#define RIGCALL_PLAN_REPORT_H

#include <stdio.h>

#include "rigcall/plan.h"

/* What the caller knows beyond the plan; all borrowed. */
struct plan_report {
    const char *title;               /* text: "swap of transmitter T1 Quay mast"; NULL: none */
    const char *path;                /* of the show file */
    bool write;                      /* --write was given */
    bool written;
    const char *policy;              /* name of the policy that decided, or NULL */
    const char *policy_says;         /* its reason; NULL or "" when it gives none */
    uint32_t policy_choice;          /* the plan it chose, from 1, of policy_plans; 0: it refused all of them */
    uint32_t policy_plans;
    const struct plan *policy_best;  /* the first of them, for its cost: told when another was chosen or none; or NULL */
    const char *hint;                /* text: one sentence after the totals, or NULL */
    const char *keep_option;         /* text: what asks for the best plan that disturbs nothing ("--keep-working"), or NULL */
};

/** Transmitters first, then universes, then fixture by fixture where they hang, with what to key in and why; then what stays dark
 * and the totals. @return 0, RIG_EIO (the stream), RIG_ENOMEM */
int plan_write_text(const struct plan *plan, const struct show *show, const struct plan_report *report, FILE *out, struct rig_why *why);
/** One object: touches, settings, dark, disturbed, steps, fixtures_touched, fixtures_dark, fixtures_disturbed, universes_dark,
 * fixtures_failing; where it applies also why_dark, universes, universes_at_least, codes, codes_at_least, proved, at_least, undisturbing,
 * refused, rule, policy, written.
 * @return 0, RIG_EIO, RIG_ENOMEM */
int plan_write_json(const struct plan *plan, const struct show *show, const struct plan_report *report, FILE *out, struct rig_why *why);

#endif
