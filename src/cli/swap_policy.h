/* A swap policy between the planner and the plan that is told. */
#ifndef RIGCALL_CLI_SWAP_POLICY_H
#define RIGCALL_CLI_SWAP_POLICY_H

#include "find.h"
#include "replan.h"

/* What a policy is given, and what it decided. Begin zeroed. */
struct policy {
    struct script_list scripts;      /* the one */
    struct script_set *sets; size_t set_count;
    struct script_verdict verdict;
    struct plan *plans[PLAN_CHOICES]; uint32_t plan_count;
    struct plan refusal;             /* told instead of a plan when it refuses: everything lost stays dark */
};

/** Read the script of --policy and take --set. @return 0 or the code in why */
int policy_read(struct policy *policy, const struct replan *replan, struct rig_why *why);
/** Let the policy choose among the plans for this swap; where the planner refuses it is not asked. replan->report gets its choice
 * and its reason.
 * @param told  the plan to tell: the one that it chose, its refusal, or the planner's; lives until policy_fini(). @return 0, or the code in why: RIG_EUSAGE also where a question finds neither terminal nor --answer */
int policy_decide(struct policy *policy, struct replan *replan, const struct plan_swap_options *swap, const struct plan **told,
                  struct rig_why *why);
void policy_fini(struct policy *policy);

#endif
