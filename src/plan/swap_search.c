/* Branch and bound over the ways to set receivers up. The bound of a node is one assignment: decided receivers at their prices,
 * the others at their relaxation. Ties are settled by the list of columns, and a node that can at best tie is left only if its
 * list cannot be smaller. */
#include <stdlib.h>
#include <string.h>

#include "swap_internal.h"

struct search {
    struct swap *swap;
    struct assign assign;
    uint32_t *choice, *trial;        /* options decided; SHOW_UNKNOWN: not yet */
    uint32_t base;                   /* settings in any case */
};

void swap__set_columns(const struct swap *swap, struct assign *assign, uint32_t receiver, const plan_cost *table)
{
    const struct swap_receiver *r = &swap->receivers[receiver];
    for (uint32_t i = 0; r->lane_count && i < assign->rows; i++)
        memcpy(assign->cost + (size_t)i * assign->cols + r->first, table + (size_t)i * r->lane_count,
               r->lane_count * sizeof *table);
}

/* < 0 if the list a is smaller */
static int compare_lists(const struct swap *swap, const uint32_t *a, const uint32_t *b)
{
    for (uint32_t k = 0; k < swap->listed_count; k++) {
        uint32_t i = swap->listed[k];
        if (a[i] != b[i])
            return a[i] < b[i] ? -1 : 1;
    }
    return 0;
}

/* A list that no answer within `slack` of the total can go below, item by item: is it smaller than the best one? */
static bool could_be_smaller(const struct swap *swap, const struct assign *assign, plan_cost slack)
{
    for (uint32_t k = 0; k < swap->listed_count; k++) {
        uint32_t i = swap->listed[k], best = swap->best.column[i], col = 0;
        while (col < best && assign_extra(assign, i, col) > slack)
            col++;
        if (col < best)
            return true;
        if (assign_extra(assign, i, col) > slack)
            return false;
    }
    return false;
}

bool swap__hopeless(const struct swap *swap, struct assign *assign, uint32_t base, plan_cost *bound)
{
    plan_cost total = assign->total + swap->weights.setting * base;
    *bound = (total + SWAP_SCALE - 1) / SWAP_SCALE * SWAP_SCALE;
    if (total >= swap->weights.forbidden || *bound >= swap->limit)
        return true;
    if (!swap->best.found || *bound < swap->best.cost)
        return false;
    if (*bound > swap->best.cost)
        return true;
    if (*bound != total)
        return !could_be_smaller(swap, assign, *bound - total);
    assign_least(assign, swap->listed, swap->listed_count);
    return compare_lists(swap, assign->col_of, swap->best.column) >= 0;
}

void swap__keep(struct swap *swap, plan_cost cost, const uint32_t *choice, const uint32_t *column)
{
    struct swap_answer *best = &swap->best;
    if (cost >= swap->limit || (best->found && (cost > best->cost ||
                                                (cost == best->cost && compare_lists(swap, column, best->column) >= 0))))
        return;
    best->found = true;
    best->cost = cost;
    memcpy(best->choice, choice, swap->receiver_count * sizeof *choice);
    if (swap->item_count)
        memcpy(best->column, column, swap->item_count * sizeof *column);
}

/* What the present assignment really costs on a receiver under each of its options. @return the least over the relaxed price */
static plan_cost estimate(const struct search *search, uint32_t receiver, uint32_t *least)
{
    const struct swap *swap = search->swap;
    const struct swap_receiver *r = &swap->receivers[receiver];
    plan_cost relaxed = swap->weights.setting * r->fixed;
    for (uint32_t o = 0; o < r->option_count; o++)
        r->estimate[o] = swap->weights.setting * r->options[o].fixed;
    for (uint32_t l = 0; l < r->lane_count; l++) {
        uint32_t row = search->assign.row_of[r->first + l];
        if (row == search->assign.rows)
            continue;
        size_t cell = (size_t)row * r->lane_count + l;
        relaxed += r->relaxed[cell];
        for (uint32_t o = 0; o < r->option_count; o++)
            r->estimate[o] += r->options[o].table[cell];
    }
    *least = 0;
    for (uint32_t o = 1; o < r->option_count; o++)
        if (r->estimate[o] < r->estimate[*least])
            *least = o;
    return r->estimate[*least] - relaxed;
}

static bool fits(const struct search *search, const uint32_t *choice, uint32_t receiver, uint32_t option)
{
    for (uint32_t r = 0; r < search->swap->receiver_count; r++)
        if (r != receiver && choice[r] != SHOW_UNKNOWN && !swap__compatible(search->swap, receiver, option, r, choice[r]))
            return false;
    return true;
}

static void decide(struct search *search, uint32_t receiver, uint32_t option)
{
    const struct swap_receiver *r = &search->swap->receivers[receiver];
    search->base += r->options[option].fixed - r->fixed;
    search->choice[receiver] = option;
    swap__set_columns(search->swap, &search->assign, receiver, r->options[option].table);
}

static void undecide(struct search *search, uint32_t receiver)
{
    const struct swap_receiver *r = &search->swap->receivers[receiver];
    search->base -= r->options[search->choice[receiver]].fixed - r->fixed;
    search->choice[receiver] = SHOW_UNKNOWN;
    swap__set_columns(search->swap, &search->assign, receiver, r->relaxed);
}

/* Complete the node by the option that suits the present assignment best, receiver by receiver: mostly a good answer. */
static int try_completion(struct search *search)
{
    struct swap *swap = search->swap;
    uint32_t base = 0, least;
    int err = 0;
    memcpy(search->trial, search->choice, swap->receiver_count * sizeof *search->trial);
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        const struct swap_receiver *receiver = &swap->receivers[r];
        if (search->trial[r] == SHOW_UNKNOWN) {
            estimate(search, r, &least);
            least = SHOW_UNKNOWN;
            for (uint32_t o = 0; o < receiver->option_count; o++)
                if ((least == SHOW_UNKNOWN || receiver->estimate[o] < receiver->estimate[least]) &&
                    fits(search, search->trial, r, o))
                    least = o;
            if (least == SHOW_UNKNOWN)
                return 0;
            search->trial[r] = least;
        }
        base += receiver->options[search->trial[r]].fixed;
    }
    for (uint32_t r = 0; r < swap->receiver_count; r++)
        if (search->choice[r] == SHOW_UNKNOWN)
            swap__set_columns(swap, &search->assign, r, swap->receivers[r].options[search->trial[r]].table);
    err = swap__leaf(swap, &search->assign, search->trial, base);
    for (uint32_t r = 0; r < swap->receiver_count; r++)
        if (search->choice[r] == SHOW_UNKNOWN)
            swap__set_columns(swap, &search->assign, r, swap->receivers[r].relaxed);
    return err;
}

/* The undecided receiver whose relaxation is furthest from any of its options. @return SHOW_UNKNOWN when all are decided */
static uint32_t pick(struct search *search, plan_cost *gap)
{
    uint32_t picked = SHOW_UNKNOWN, least;
    *gap = -1;
    for (uint32_t r = 0; r < search->swap->receiver_count; r++) {
        if (search->choice[r] != SHOW_UNKNOWN)
            continue;
        plan_cost mine = estimate(search, r, &least);
        if (picked == SHOW_UNKNOWN || mine > *gap) {
            picked = r;
            *gap = mine;
        }
    }
    return picked;
}

static void sort_options(const struct swap_receiver *r)
{
    for (uint32_t o = 0; o < r->option_count; o++) {
        uint32_t k = o;
        for (; k > 0 && r->estimate[r->order[k - 1]] > r->estimate[o]; k--)
            r->order[k] = r->order[k - 1];
        r->order[k] = o;
    }
}

bool swap__out_of_steps(struct swap *swap, const struct assign *assign, plan_cost bound)
{
    if (assign->steps <= swap->step_limit || !swap->best.found)
        return false;
    swap->limited = true;
    swap->open = bound < swap->open ? bound : swap->open;
    return true;
}

static int visit(struct search *search)
{
    struct swap *swap = search->swap;
    plan_cost bound, gap;
    assign_solve(&search->assign);
    if (swap__hopeless(swap, &search->assign, search->base, &bound))
        return 0;
    if (swap__out_of_steps(swap, &search->assign, bound))
        return 0;
    uint32_t receiver = pick(search, &gap);
    if (receiver == SHOW_UNKNOWN)
        return swap__leaf(swap, &search->assign, search->choice, search->base);
    const struct swap_receiver *r = &swap->receivers[receiver];
    uint32_t least;
    estimate(search, receiver, &least);
    sort_options(r);
    int err = try_completion(search);
    for (uint32_t k = 0; k < r->option_count && !err; k++) {
        if (!fits(search, search->choice, receiver, r->order[k]))
            continue;
        decide(search, receiver, r->order[k]);
        err = visit(search);
        undecide(search, receiver);
    }
    return err;
}

static int prepare(struct search *search)
{
    struct swap *swap = search->swap;
    size_t most = 0;
    search->choice = swap__alloc(swap, swap->receiver_count, sizeof *search->choice);
    search->trial = swap__alloc(swap, swap->receiver_count, sizeof *search->trial);
    swap->best.choice = swap__alloc(swap, swap->receiver_count, sizeof *swap->best.choice);
    swap->best.column = swap__alloc(swap, swap->item_count, sizeof *swap->best.column);
    for (uint32_t r = 0; r < swap->receiver_count; r++)
        most = swap->receivers[r].lane_count > most ? swap->receivers[r].lane_count : most;
    swap->leaf_table = swap__alloc(swap, most * swap->item_count, sizeof *swap->leaf_table);
    if (!search->choice || !search->trial || !swap->best.choice || !swap->best.column || !swap->leaf_table ||
        !assign_init(&search->assign, swap->item_count, swap->column_count))
        return RIG_ENOMEM;
    for (uint32_t i = 0; i < swap->item_count; i++)
        search->assign.alone[i] = swap__alone(swap, i);
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        const struct swap_receiver *receiver = &swap->receivers[r];
        search->choice[r] = receiver->option_count == 1 ? 0 : SHOW_UNKNOWN;
        search->base += receiver->fixed;
        swap__set_columns(swap, &search->assign, r, receiver->option_count == 1 ? receiver->options[0].table : receiver->relaxed);
    }
    return 0;
}

int swap__search(struct swap *swap)
{
    struct search search = { .swap = swap };
    swap->step_limit = swap->problem->step_limit ? swap->problem->step_limit : SWAP_STEPS;
    swap->open = swap->weights.forbidden;
    if (swap->limit == 0)
        swap->limit = swap->weights.forbidden;
    int err = prepare(&search);
    if (!err)
        err = visit(&search);
    swap->steps = search.assign.steps;
    assign_fini(&search.assign);
    return err;
}
