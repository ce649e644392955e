/* Is there a spare that would take a transmitter's place without anybody walking to a fixture? The planner itself is asked. */
#include <stdlib.h>

#include "plan_internal.h"

static bool takes_over(const struct show *show, uint32_t lost, uint32_t spare)
{
    struct plan_swap_options options = { .out = &lost, .out_count = 1, .in = &spare, .in_count = 1, .keep_working = true };
    struct plan *plan;
    if (plan_swap(show, &options, &plan, NULL))
        return false;
    bool ready = !plan->refused && plan->dark == 0 && plan->touches == 0;
    plan_free(plan);
    return ready;
}

bool plan_spare_ready(const struct show *show, uint32_t lost, uint32_t *spare)
{
    for (uint32_t t = 0; t < show->transmitter_count; t++) {
        if (!show->transmitters[t].spare || t == lost || !takes_over(show, lost, t))
            continue;
        if (spare)
            *spare = t;
        return true;
    }
    return false;
}
