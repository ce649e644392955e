/* Branch and bound over the ways to set receivers up. The first bound of a node is one assignment: decided receivers at their
 * prices, the others at their relaxation. Most searches end soon with that alone; one that does not begins again with what it has
 * found, and asks the bound by prices of universes too. Ties are settled by the list of columns, and a node that can at best tie is
 * left only if its list cannot be smaller. */
#include <stdlib.h>
#include <string.h>

#include "swap_search.h"

#define PLAIN_PART 40                /* part of the steps that the search without prices may take */
#define ROOT_ROUNDS 80               /* steps of the prices: at the root, and at every other node */
#define NODE_ROUNDS 8

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

/* The dearest cost that is still of use: what ties with the best answer is, for its list. */
static plan_cost dearest(const struct swap *swap)
{
    return swap->best.found && swap->best.cost < swap->limit ? swap->best.cost : swap->limit - 1;
}

static plan_cost whole_settings(plan_cost cost)
{
    return (cost + SWAP_SCALE - 1) / SWAP_SCALE * SWAP_SCALE;
}

/* The undecided receiver to branch on: one that has but one option left of use, or else the one whose relaxation is furthest from
 * any of its options. @param priced  the node has its prices. @return SHOW_UNKNOWN when all are decided */
static uint32_t pick(const struct search *search, bool priced)
{
    uint32_t picked = SHOW_UNKNOWN, least, fewest = 0;
    plan_cost gap = 0;
    const struct swap *swap = search->swap;
    const struct swap_dual *dual = &search->dual;
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        uint32_t left = 0;
        if (search->choice[r] != SHOW_UNKNOWN)
            continue;
        for (uint32_t o = 0; priced && o < swap->receivers[r].option_count; o++)
            left += whole_settings(dual->bound + dual->value[r][o] - dual->least[r]) <= dearest(swap);
        plan_cost mine = swap__estimate(search, r, &least);
        if (picked == SHOW_UNKNOWN || (left < fewest && left == 1) || (fewest != 1 && mine > gap)) {
            picked = r;
            fewest = left;
            gap = mine;
        }
    }
    return picked;
}

/* By what they leave the receiver with at the present prices; among equals, by what they make of the present assignment. */
static void sort_options(const struct search *search, uint32_t receiver)
{
    const struct swap_receiver *r = &search->swap->receivers[receiver];
    const plan_cost *value = search->plain ? r->estimate : search->dual.value[receiver];
    for (uint32_t o = 0; o < r->option_count; o++) {
        uint32_t k = o;
        for (; k > 0; k--) {
            uint32_t before = r->order[k - 1];
            if (value[before] == value[o] ? r->estimate[before] <= r->estimate[o] : value[before] < value[o])
                break;
            r->order[k] = before;
        }
        r->order[k] = o;
    }
}

bool swap__out_of_steps(struct swap *swap, const struct assign *assign, plan_cost bound)
{
    if (assign->steps <= swap->step_limit || (!swap->best.found && swap->limit == swap->weights.forbidden))
        return false;
    swap->limited = true;
    swap->open = bound < swap->open ? bound : swap->open;
    return true;
}

/* As could_be_smaller(), by the prices of universes. */
static bool may_be_smaller(struct search *search)
{
    struct swap *swap = search->swap;
    struct swap_dual *dual = &search->dual;
    plan_cost slack = swap->best.cost - dual->bound;
    swap__dual_extras(dual, search->choice, slack);
    for (uint32_t k = 0; k < swap->listed_count; k++) {
        uint32_t i = swap->listed[k], best = swap->best.column[i], col = 0;
        const plan_cost *row = dual->extra + (size_t)i * swap->column_count;
        while (col < best && row[col] > slack)
            col++;
        if (col < best)
            return true;
        if ((best < swap->column_count ? row[best] : swap__dual_alone(dual, i)) > slack)
            return false;
    }
    return false;
}

/* True if the prices show that nothing of use is below the node. */
static bool priced_out(struct search *search, plan_cost *bound)
{
    struct swap *swap = search->swap;
    struct swap_dual *dual = &search->dual;
    uint64_t before = dual->steps;
    plan_cost most = dearest(swap);
    memcpy(dual->price, search->prices + (size_t)search->depth * dual->count, dual->count * sizeof *dual->price);
    bool possible = swap__dual_improve(dual, search->choice, search->depth ? NODE_ROUNDS : ROOT_ROUNDS, most);
    bool out = !possible || whole_settings(dual->bound) > most;
    *bound = possible && whole_settings(dual->bound) > *bound ? whole_settings(dual->bound) : *bound;
    if (!out && swap->best.found && *bound == swap->best.cost)
        out = !may_be_smaller(search);
    search->assign.steps += dual->steps - before;
    return out;
}

/* What is left at the root after it is known what an answer costs at most. */
static void reduce(struct search *search)
{
    struct swap *swap = search->swap;
    swap__dual_drop(&search->dual, search->choice, dearest(swap), 1);
    swap__dual_forbid(&search->dual, search->choice, dearest(swap));
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        struct swap_receiver *receiver = &swap->receivers[r];
        if (receiver->option_count == 1)
            continue;
        search->base -= receiver->fixed;
        swap__relax(swap, receiver);
        search->base += receiver->fixed;
        swap__set_columns(swap, &search->assign, r, receiver->relaxed);
    }
}

/* Options that were dead below the node that is left may live elsewhere. */
static void revive(struct search *search, uint32_t mark)
{
    for (uint32_t r = 0; r < search->swap->receiver_count; r++)
        for (uint32_t o = 0; o < search->swap->receivers[r].option_count; o++)
            if (search->swap->receivers[r].options[o].dead == mark)
                search->swap->receivers[r].options[o].dead = 0;
}

static int visit(struct search *search);

/* Visit the node once with every option of a receiver. @param known  least cost of the node */
static int branch(struct search *search, uint32_t receiver, plan_cost known)
{
    struct swap *swap = search->swap;
    const struct swap_receiver *r = &swap->receivers[receiver];
    const struct swap_dual *dual = &search->dual;
    uint32_t count = r->option_count, least;
    uint32_t *order = malloc((size_t)count * sizeof *order);
    plan_cost *over = calloc(count, sizeof *over), bound = search->plain ? known : dual->bound, floor = search->floor;
    int err = order && over ? 0 : RIG_ENOMEM;
    if (!err) {
        swap__estimate(search, receiver, &least);
        sort_options(search, receiver);
        memcpy(order, r->order, count * sizeof *order);
    }
    if (!err && search->plain)
        err = swap__try_completion(search);
    if (!err && !search->plain) {
        for (uint32_t o = 0; o < count; o++)
            over[o] = dual->value[receiver][o] - dual->least[receiver];
        memcpy(search->prices + (size_t)(search->depth + 1) * dual->count, dual->price, dual->count * sizeof *search->prices);
        err = search->depth ? swap__try_choices(search) : 0;
    }
    for (uint32_t k = 0; k < count && !err; k++) {
        if (whole_settings(bound + over[order[k]]) > dearest(swap) || r->options[order[k]].dead ||
            !swap__fits(search, search->choice, receiver, order[k]))
            continue;
        decide(search, receiver, order[k]);
        plan_cost mine = whole_settings(bound + over[order[k]]);
        search->floor = mine > known ? mine : known;
        search->depth++;
        err = visit(search);
        search->depth--;
        undecide(search, receiver);
        if (!err && !search->plain)
            err = swap__polish(search);
    }
    search->floor = floor;
    free(order);
    free(over);
    return err;
}

/* First answers, prices that begin at those of the relaxation, and what can be left out for good.
 * @param done  nothing is left below. @return as visit() */
static int visit_root(struct search *search, plan_cost bound, bool *done)
{
    struct swap *swap = search->swap;
    memcpy(search->prices, search->assign.row_price, swap->item_count * sizeof *search->prices);
    int err = swap__try_completion(search);
    *done = err || priced_out(search, &bound);
    if (*done)
        return err;
    search->floor = bound;
    err = swap__try_choices(search);
    *done = err || swap__out_of_steps(swap, &search->assign, bound);
    if (*done)
        return err;
    err = swap__polish(search);
    if (err)
        return err;
    reduce(search);
    assign_solve(&search->assign);
    return 0;
}

static int visit(struct search *search)
{
    struct swap *swap = search->swap;
    plan_cost bound;
    assign_solve(&search->assign);
    if (swap__hopeless(swap, &search->assign, search->base, &bound))
        return 0;
    bound = bound > search->floor ? bound : search->floor;
    if (swap__out_of_steps(swap, &search->assign, bound))
        return 0;
    uint32_t receiver = pick(search, false);
    if (receiver == SHOW_UNKNOWN)
        return swap__leaf(swap, &search->assign, search->choice, search->base);
    if (search->plain)
        return branch(search, receiver, bound);
    bool done = false;
    if (search->depth == 0) {
        int err = visit_root(search, bound, &done);
        return err || done ? err : branch(search, pick(search, true), search->floor);
    }
    if (priced_out(search, &bound))
        return 0;
    swap__dual_drop(&search->dual, search->choice, dearest(swap), search->depth + 1);
    int err = branch(search, pick(search, true), bound);
    revive(search, search->depth + 1);
    return err;
}

static int prepare(struct search *search)
{
    struct swap *swap = search->swap;
    size_t most = 0;
    search->choice = swap__alloc(swap, swap->receiver_count, sizeof *search->choice);
    search->trial = swap__alloc(swap, swap->receiver_count, sizeof *search->trial);
    search->tried = swap__alloc(swap, swap->receiver_count, sizeof *search->tried);
    swap->best.choice = swap__alloc(swap, swap->receiver_count, sizeof *swap->best.choice);
    swap->best.column = swap__alloc(swap, swap->item_count, sizeof *swap->best.column);
    for (uint32_t r = 0; r < swap->receiver_count; r++)
        most = swap->receivers[r].lane_count > most ? swap->receivers[r].lane_count : most;
    swap->leaf_table = swap__alloc(swap, most * swap->item_count, sizeof *swap->leaf_table);
    if (!search->choice || !search->trial || !search->tried || !swap->best.choice || !swap->best.column || !swap->leaf_table ||
        !assign_init(&search->assign, swap->item_count, swap->column_count))
        return RIG_ENOMEM;
    for (uint32_t i = 0; i < swap->item_count; i++)
        search->assign.alone[i] = swap__alone(swap, i);
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        const struct swap_receiver *receiver = &swap->receivers[r];
        search->choice[r] = receiver->option_count == 1 ? 0 : SHOW_UNKNOWN;
        search->tried[r] = SHOW_UNKNOWN;
        search->base += receiver->fixed;
        swap__set_columns(swap, &search->assign, r, receiver->option_count == 1 ? receiver->options[0].table : receiver->relaxed);
    }
    return 0;
}

/* First without prices, with a part of the steps. @return 0 or RIG_ENOMEM */
static int search_plainly(struct search *search)
{
    struct swap *swap = search->swap;
    uint64_t limit = swap->step_limit;
    search->plain = true;
    swap->step_limit = limit / PLAIN_PART;
    int err = visit(search);
    search->plain = false;
    swap->step_limit = limit;
    return err;
}

static int search_priced(struct search *search)
{
    struct swap *swap = search->swap;
    swap->limited = false;
    swap->open = swap->weights.forbidden;
    if (swap__dual_init(&search->dual, swap))
        return RIG_ENOMEM;
    search->prices = swap__alloc(swap, ((size_t)swap->receiver_count + 1) * search->dual.count, sizeof *search->prices);
    return search->prices ? visit(search) : RIG_ENOMEM;
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
        err = search_plainly(&search);
    if (!err && swap->limited)
        err = search_priced(&search);
    swap->steps = search.assign.steps;
    assign_fini(&search.assign);
    swap__dual_fini(&search.dual);
    return err;
}
