/* Fixtures that did not land rightly before, of which the rule landing said nothing, and does afterwards: the only transmitter
 * that matched them is lost or has another code, or a second one far away got their code too. A plan names them. */
#include <stdlib.h>

#include "plan_internal.h"

/* The rule landing says nothing of it now: what is wrong is another rule's matter. */
static bool is_silent(enum landing_state state)
{
    return state == LANDING_BEYOND || state == LANDING_SHARED;
}

/* The rule landing leaves it to another rule whatever happens. */
static bool is_excused(const struct show *show, const struct fixture *fixture)
{
    const struct type *type = fixture_type(show, fixture);
    return !fixture_mode(show, fixture) || !(type->airs & AIR_BIT(fixture->air)) || !plan__is_code(fixture->code);
}

static uint32_t find_silent(const struct show *show, uint32_t *list)
{
    uint32_t count = 0;
    for (uint32_t f = 0; f < show->fixture_count; f++)
        if (is_silent(radio_landing(show, &show->fixtures[f]).state) && !is_excused(show, &show->fixtures[f]))
            list[count++] = f;
    return count;
}

int plan__name_failing(const struct show *show, struct plan *plan)
{
    struct show *after = NULL;
    uint32_t *list = malloc((show->fixture_count + (size_t)1) * sizeof *list);
    uint32_t count = list ? find_silent(show, list) : 0, kept = 0;
    int err = list ? 0 : RIG_ENOMEM;
    if (count)                       /* rare, so that the copy is made only then */
        err = plan_apply(plan, show, &after, NULL);
    for (uint32_t i = 0; i < count && !err; i++) {
        enum landing_state state = radio_landing(after, &after->fixtures[list[i]]).state;
        if (!is_silent(state) && state != LANDING_RIGHT)
            list[kept++] = list[i];
    }
    if (!err && !(plan->failing = plan__fixtures(plan, show, list, kept)))
        err = RIG_ENOMEM;
    plan->failing_count = err ? 0 : kept;
    show_free(after);
    free(list);
    return err;
}
