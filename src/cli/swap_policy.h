/* A swap policy between the planner and the plan that is told. */
#ifndef RIGCALL_CLI_SWAP_POLICY_H
#define RIGCALL_CLI_SWAP_POLICY_H

#include "replan.h"

#define POLICY_SINGLES 16u           /* plans in which one transmitter alone takes over */

/* What a policy decided. */
struct policy { char name[65], why[401]; struct plan refusal; };

/** Rank the plans for this swap and let the policy of --policy choose: the chosen one becomes replan->plan. If it refuses, that
 * is policy->refusal, and replan->plan stays.
 * @return 0, or the code in why: RIG_EUSAGE also where a question finds neither terminal nor --answer */
int policy_decide(struct replan *replan, const struct plan_swap_options *swap, struct policy *policy, bool *refused, struct rig_why *why);

#endif
