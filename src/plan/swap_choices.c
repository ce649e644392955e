/* Several plans for one loss: the planner is asked again and again, each time with something forbidden. */
#include <stdlib.h>
#include <string.h>

#include "choices_internal.h"

#define STEP_PART 16                 /* a further plan may take this part of the steps that the first may take */

int choices__no_memory(const struct choices *choices)
{
    return rig_fail(choices->why, RIG_ENOMEM, "no memory for a plan");
}

static bool is_full(const struct choices *choices)
{
    return choices->way_count == PLAN_TRIES || choices->count == PLAN_CHOICES;
}

/* ---- when two are the same ---- */

static bool same_way(const struct way *a, const struct way *b)
{
    if (a->in_count != b->in_count || a->first_count != b->first_count || a->never_count != b->never_count ||
        a->keep_working != b->keep_working || a->touches_first != b->touches_first)
        return false;
    for (uint32_t i = 0; i < a->in_count; i++)
        if (a->in[i] != b->in[i])
            return false;
    for (uint32_t i = 0; i < a->first_count; i++)
        if (a->first[i] != b->first[i])
            return false;
    for (uint32_t i = 0; i < a->never_count; i++)
        if (a->never[i].universe != b->never[i].universe || a->never[i].transmitter != b->never[i].transmitter)
            return false;
    return true;
}

static bool same_value(const struct plan_value *a, const struct plan_value *b)
{
    return a->kind == b->kind && (a->kind != PLAN_NUMBER || a->number == b->number) &&
           (a->kind != PLAN_TEXT || !strcmp(a->text, b->text));
}

static bool same_plan(const struct plan *a, const struct plan *b)
{
    if (a->step_count != b->step_count)
        return false;
    for (uint32_t i = 0; i < a->step_count; i++) {
        const struct plan_step *x = &a->steps[i], *y = &b->steps[i];
        if (x->subject.kind != y->subject.kind || x->subject.index != y->subject.index || strcmp(x->field, y->field) ||
            !same_value(&x->to, &y->to))
            return false;
    }
    return true;
}

static int compare_costs(const struct plan *a, const struct plan *b)
{
    const uint32_t x[] = { a->dark, a->disturbed, a->touches, a->settings };
    const uint32_t y[] = { b->dark, b->disturbed, b->touches, b->settings };
    for (int i = 0; i < 4; i++)
        if (x[i] != y[i])
            return x[i] < y[i] ? -1 : 1;
    return 0;
}

/* ---- one asking ---- */

static bool lights_something(const struct plan *plan)
{
    return !plan->refused && plan->dark < plan->lost;
}

/* Keep it if it is new and lights something; the first in any case. */
static void keep(struct choices *choices, struct plan *plan, uint32_t way)
{
    bool known = choices->count > 0 && !lights_something(plan);
    for (uint32_t i = 0; i < choices->count && !known; i++)
        known = same_plan(choices->found[i].plan, plan);
    if (known)
        plan_free(plan);
    else
        choices->found[choices->count++] = (struct choice){ .plan = plan, .way = way };
}

int choices__try(struct choices *choices, const struct way *way)
{
    struct plan_swap_options options = *choices->options;
    struct plan *plan;
    if (is_full(choices) || way->in_count == 0)
        return 0;
    for (uint32_t w = 0; w < choices->way_count; w++)
        if (same_way(&choices->ways[w], way))
            return 0;
    options.in = way->in;
    options.in_count = way->in_count;
    options.never = way->never;
    options.never_count = way->never_count;
    options.keep_working = way->keep_working;
    options.touches_first = way->touches_first;
    options.first = way->first;
    options.first_count = way->first_count;
    options.step_limit = (options.step_limit ? options.step_limit : SWAP_STEPS) / STEP_PART + 1;
    choices->ways[choices->way_count] = *way;
    int err = plan_swap(choices->show, &options, &plan, choices->why);
    if (!err)
        keep(choices, plan, choices->way_count++);
    return err;
}

static int try_without(struct choices *choices, const struct way *from, uint32_t transmitter)
{
    struct way way = *from;
    uint32_t *in = plan__alloc(choices->notes, (from->in_count + (size_t)1) * sizeof *in);
    if (!in)
        return choices__no_memory(choices);
    way.in_count = 0;
    for (uint32_t i = 0; i < from->in_count; i++)
        if (from->in[i] != transmitter)
            in[way.in_count++] = from->in[i];
    way.in = in;
    return way.in_count < from->in_count ? choices__try(choices, &way) : 0;
}

static int compare_nevers(const void *a, const void *b)
{
    const struct plan_never *x = a, *y = b;
    if (x->universe != y->universe)
        return x->universe < y->universe ? -1 : 1;
    return (x->transmitter > y->transmitter) - (x->transmitter < y->transmitter);
}

static int try_elsewhere(struct choices *choices, const struct way *from, int64_t universe, uint32_t transmitter)
{
    struct way way = *from;
    struct plan_never *never = plan__alloc(choices->notes, (from->never_count + (size_t)1) * sizeof *never);
    if (!never)
        return choices__no_memory(choices);
    if (from->never_count)
        memcpy(never, from->never, from->never_count * sizeof *never);
    never[way.never_count++] = (struct plan_never){ universe, transmitter };
    qsort(never, way.never_count, sizeof *never, compare_nevers);
    way.never = never;
    return choices__try(choices, &way);
}

/* ---- what follows from a plan ---- */

/* True if the plan puts a universe on a transmitter that it sets up: it stands on a lane afterwards. */
static bool is_put_on(const struct choices *choices, const struct plan *plan, uint32_t transmitter, int64_t universe)
{
    const struct transmitter *before = &choices->show->transmitters[transmitter];
    bool there = false;
    for (uint32_t e = 0; e < before->lane_count; e++)
        there |= before->lanes[e].universe == universe;
    for (uint32_t s = 0; s < plan->step_count; s++) {
        const struct plan_step *step = &plan->steps[s];
        if (step->clear || step->subject.kind != SUBJECT_TRANSMITTER || step->subject.index != transmitter ||
            strncmp(step->field, "lane ", 5))
            continue;
        if (step->to.kind == PLAN_NUMBER && step->to.number == universe)
            return true;
        if (step->from.kind == PLAN_NUMBER && step->from.number == universe)
            there = false;
    }
    return there;
}

/* The next transmitter that the plan sets up, from step *at on; SHOW_UNKNOWN: none is left. Steps of one stand together. */
static uint32_t next_set_up(const struct plan *plan, uint32_t *at, uint32_t last)
{
    for (; *at < plan->step_count; ++*at) {
        const struct plan_step *step = &plan->steps[*at];
        if (!step->clear && step->subject.kind == SUBJECT_TRANSMITTER && step->subject.index != last)
            return step->subject.index;
    }
    return SHOW_UNKNOWN;
}

static int open_transmitters(struct choices *choices, const struct plan *plan, const struct way *way)
{
    uint32_t at = 0, t = SHOW_UNKNOWN;
    int err = 0;
    while (!err && !is_full(choices) && (t = next_set_up(plan, &at, t)) != SHOW_UNKNOWN)
        err = try_without(choices, way, t);
    return err;
}

static int open_universes(struct choices *choices, const struct plan *plan, const struct way *way)
{
    uint32_t at = 0, t = SHOW_UNKNOWN;
    int err = 0;
    while (!err && !is_full(choices) && (t = next_set_up(plan, &at, t)) != SHOW_UNKNOWN)
        for (uint32_t u = 0; u < choices->lost_count && !err; u++)
            if (is_put_on(choices, plan, t, choices->lost[u]))
                err = try_elsewhere(choices, way, choices->lost[u], t);
    return err;
}

static int open_cheapest(struct choices *choices, bool *any)
{
    struct choice *cheapest = NULL;
    for (uint32_t i = 0; i < choices->count; i++)
        if (!choices->found[i].opened && (!cheapest || compare_costs(choices->found[i].plan, cheapest->plan) < 0))
            cheapest = &choices->found[i];
    *any = cheapest != NULL;
    if (!cheapest)
        return 0;
    const struct plan *plan = cheapest->plan;
    const struct way *way = &choices->ways[cheapest->way];
    cheapest->opened = true;
    int err = open_transmitters(choices, plan, way);
    if (!err && (plan->dark || plan->disturbed || plan->touches))
        err = open_universes(choices, plan, way);
    return err;
}

/* ---- all of them ---- */

static bool is_in(uint32_t index, const uint32_t *list, uint32_t count)
{
    for (uint32_t i = 0; i < count; i++)
        if (list[i] == index)
            return true;
    return false;
}

/* The way that narrows nothing. */
static int whole_way(struct choices *choices, struct way *way)
{
    const struct plan_swap_options *options = choices->options;
    uint32_t *in = plan__alloc(choices->notes, (choices->show->transmitter_count + (size_t)1) * sizeof *in);
    struct plan_never *never = plan__alloc(choices->notes, (options->never_count + (size_t)1) * sizeof *never);
    if (!in || !never)
        return choices__no_memory(choices);
    *way = (struct way){ .in = in, .first = options->first, .first_count = options->first_count, .never = never,
                         .never_count = options->never_count, .keep_working = options->keep_working,
                         .touches_first = options->touches_first };
    for (uint32_t t = 0; t < choices->show->transmitter_count; t++)
        if (!is_in(t, options->out, options->out_count) && (!options->in_count || is_in(t, options->in, options->in_count)))
            in[way->in_count++] = t;
    if (options->never_count) {
        memcpy(never, options->never, options->never_count * sizeof *never);
        qsort(never, options->never_count, sizeof *never, compare_nevers);
    }
    return 0;
}

static int compare_universes(const void *a, const void *b)
{
    const int64_t *x = a, *y = b;
    return (*x > *y) - (*x < *y);
}

static int list_lost(struct choices *choices)
{
    const struct plan_swap_options *options = choices->options;
    size_t room = 1;
    uint32_t count = 0, kept = 0;
    for (uint32_t i = 0; i < options->out_count; i++)
        room += choices->show->transmitters[options->out[i]].lane_count;
    int64_t *lost = plan__alloc(choices->notes, room * sizeof *lost);
    if (!lost)
        return choices__no_memory(choices);
    for (uint32_t i = 0; i < options->out_count; i++)
        for (uint32_t e = 0; count < room - 1 && e < choices->show->transmitters[options->out[i]].lane_count; e++)
            lost[count++] = choices->show->transmitters[options->out[i]].lanes[e].universe;
    qsort(lost, count, sizeof *lost, compare_universes);
    for (uint32_t i = 0; i < count; i++)
        if (!kept || lost[kept - 1] != lost[i])
            lost[kept++] = lost[i];
    choices->lost = lost;
    choices->lost_count = kept;
    return 0;
}

static int find_further(struct choices *choices)
{
    struct way quiet = choices->ways[0], least = choices->ways[0];
    int err = 0;
    quiet.keep_working = true;
    least.touches_first = true;
    if (choices->found[0].plan->disturbed)
        err = choices__try(choices, &quiet);
    if (!err && !least.keep_working && choices->found[0].plan->touches)
        err = choices__try(choices, &least);
    if (!err)
        err = choices__try_needs(choices);
    for (bool any = true; any && !err && !is_full(choices);)
        err = open_cheapest(choices, &any);
    return err;
}

/* By rising cost; of equal ones the one that was found first. */
static void hand_over(struct choices *choices, struct plan **plans)
{
    for (uint32_t i = 0; i < choices->count; i++) {
        uint32_t at = i;
        for (; at > 0 && compare_costs(plans[at - 1], choices->found[i].plan) > 0; at--)
            plans[at] = plans[at - 1];
        plans[at] = choices->found[i].plan;
    }
}

static int find_all(struct choices *choices)
{
    struct plan *first;
    int err = plan_swap(choices->show, choices->options, &first, choices->why);      /* judges the options, too */
    if (err)
        return err;
    keep(choices, first, 0);
    err = whole_way(choices, &choices->ways[0]);
    choices->way_count = 1;
    if (!err && lights_something(first))
        err = list_lost(choices);
    return err || !lights_something(first) ? err : find_further(choices);
}

int plan_swap_choices(const struct show *show, const struct plan_swap_options *options, struct plan *plans[PLAN_CHOICES],
                      uint32_t *count, struct rig_why *why)
{
    struct choices *choices = calloc(1, sizeof *choices);
    struct plan *notes = plan__new(PLAN_SWAP);
    int err;
    *count = 0;
    if (!choices || !notes) {
        err = rig_fail(why, RIG_ENOMEM, "no memory for a plan");
        goto out;
    }
    *choices = (struct choices){ .show = show, .options = options, .notes = notes, .why = why };
    err = find_all(choices);
    if (!err) {
        hand_over(choices, plans);
        *count = choices->count;
        goto out;
    }
    for (uint32_t i = 0; i < choices->count; i++)
        plan_free(choices->found[i].plan);
out:
    plan_free(notes);
    free(choices);
    return err;
}
