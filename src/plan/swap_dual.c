/* A second, stronger bound of a node. Every universe gets a price, and each receiver for itself takes the option and the
 * universes that leave it best off at those prices. Whatever the prices are, what all of them then pay is no more than any
 * answer costs (Lagrangian relaxation of "a universe is on one lane"; Held and Karp 1971). Unlike the relaxed assignment no
 * receiver mixes its options. A code that only one of several receivers may have has a price too. Prices are improved by steps
 * against what is taken twice or not at all. All arithmetic is in whole numbers, so the bound is exact. */
#include <stdlib.h>
#include <string.h>

#include "swap_dual.h"

static bool make_tables(struct swap_dual *dual, uint32_t options)
{
    struct swap *swap = dual->swap;
    plan_cost *values = swap__alloc(swap, options, sizeof *values), *tolls = swap__alloc(swap, options, sizeof *tolls);
    dual->value = swap__alloc(swap, swap->receiver_count, sizeof *dual->value);
    dual->toll = swap__alloc(swap, swap->receiver_count, sizeof *dual->toll);
    if (!values || !tolls || !dual->value || !dual->toll)
        return false;
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        dual->value[r] = values;
        dual->toll[r] = tolls;
        values += swap->receivers[r].option_count;
        tolls += swap->receivers[r].option_count;
    }
    return true;
}

int swap__dual_init(struct swap_dual *dual, struct swap *swap)
{
    uint32_t most = 0, options = 0;
    memset(dual, 0, sizeof *dual);
    dual->swap = swap;
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        most = swap->receivers[r].lane_count > most ? swap->receivers[r].lane_count : most;
        options += swap->receivers[r].option_count;
    }
    if (!swap__find_cliques(dual) || !make_tables(dual, options))
        return RIG_ENOMEM;
    dual->count = swap->item_count + dual->clique_count;
    dual->price = swap__alloc(swap, dual->count, sizeof *dual->price);
    dual->best_price = swap__alloc(swap, dual->count, sizeof *dual->best_price);
    dual->taken = swap__alloc(swap, dual->count, sizeof *dual->taken);
    dual->alone = swap__alloc(swap, swap->item_count, sizeof *dual->alone);
    dual->packed = swap__alloc(swap, swap->item_count, sizeof *dual->packed);
    dual->packed_at = swap__alloc(swap, swap->item_count, sizeof *dual->packed_at);
    dual->extra = swap__alloc(swap, (size_t)swap->item_count * swap->column_count, sizeof *dual->extra);
    dual->kept = swap__alloc(swap, most, sizeof *dual->kept);
    dual->lane_least = swap__alloc(swap, most, sizeof *dual->lane_least);
    dual->lane_item = swap__alloc(swap, most, sizeof *dual->lane_item);
    dual->chosen = swap__alloc(swap, swap->receiver_count, sizeof *dual->chosen);
    dual->least = swap__alloc(swap, swap->receiver_count, sizeof *dual->least);
    if (!dual->price || !dual->best_price || !dual->taken || !dual->alone || !dual->packed || !dual->packed_at || !dual->extra ||
        !dual->kept || !dual->lane_least || !dual->lane_item || !dual->chosen || !dual->least ||
        !assign_init(&dual->assign, most, swap->item_count))
        return RIG_ENOMEM;
    for (uint32_t i = 0; i < swap->item_count; i++)
        dual->alone[i] = swap__alone(swap, i);
    return 0;
}

void swap__dual_fini(struct swap_dual *dual)
{
    assign_fini(&dual->assign);
}

/* Every lane takes the universe that pays it best, some perhaps the same one: never more than the option is worth.
 * @return true if no universe is taken twice */
static bool by_lanes(struct swap_dual *dual, const struct swap_receiver *r, const struct swap_option *option,
                     plan_cost *value)
{
    const struct swap *swap = dual->swap;
    bool apart = true;
    for (uint32_t l = 0; l < r->lane_count; l++) {
        dual->lane_least[l] = 0;
        dual->lane_item[l] = SHOW_UNKNOWN;
    }
    for (uint32_t i = 0; i < swap->item_count; i++) {
        const plan_cost *row = option->table + (size_t)i * r->lane_count;
        for (uint32_t l = 0; l < r->lane_count; l++) {
            plan_cost gain = row[l] - dual->price[i];
            if (gain < dual->lane_least[l] && row[l] < swap->weights.forbidden) {
                dual->lane_least[l] = gain;
                dual->lane_item[l] = i;
            }
        }
    }
    dual->steps += (uint64_t)swap->item_count * r->lane_count;
    *value = swap->weights.setting * option->fixed;
    for (uint32_t l = 0; l < r->lane_count; l++) {
        *value += dual->lane_least[l];
        for (uint32_t k = 0; k < l && apart; k++)
            apart = dual->lane_item[l] == SHOW_UNKNOWN || dual->lane_item[l] != dual->lane_item[k];
    }
    return apart;
}

/* The best matching of lanes and universes under an option, by the assignment solver: rows are lanes, columns the universes
 * that pay for some lane. */
static plan_cost by_matching(struct swap_dual *dual, const struct swap_receiver *r, const struct swap_option *option)
{
    const struct swap *swap = dual->swap;
    struct assign *assign = &dual->assign;
    uint32_t count = 0;
    for (uint32_t i = 0; i < swap->item_count; i++) {
        const plan_cost *row = option->table + (size_t)i * r->lane_count;
        bool pays = false;
        for (uint32_t l = 0; l < r->lane_count && !pays; l++)
            pays = row[l] < dual->price[i];
        if (pays)
            dual->packed[count++] = i;
    }
    assign->rows = r->lane_count;
    assign->cols = count;
    for (uint32_t l = 0; l < r->lane_count; l++) {
        assign->alone[l] = 0;
        for (uint32_t k = 0; k < count; k++) {
            plan_cost cost = option->table[(size_t)dual->packed[k] * r->lane_count + l];
            assign->cost[(size_t)l * count + k] = cost < swap->weights.forbidden ? cost - dual->price[dual->packed[k]] : cost;
        }
    }
    uint64_t before = assign->steps;
    assign_solve(assign);
    dual->steps += assign->steps - before + (uint64_t)count * r->lane_count;
    for (uint32_t l = 0; l < r->lane_count; l++)
        dual->lane_item[l] = assign->col_of[l] < count ? dual->packed[assign->col_of[l]] : SHOW_UNKNOWN;
    return swap->weights.setting * option->fixed + assign->total;
}

static bool allowed(const struct swap *swap, const uint32_t *choice, uint32_t receiver, uint32_t option)
{
    if (choice[receiver] != SHOW_UNKNOWN)
        return choice[receiver] == option;
    if (swap->receivers[receiver].options[option].dead)
        return false;
    for (uint32_t r = 0; r < swap->receiver_count; r++)
        if (r != receiver && choice[r] != SHOW_UNKNOWN && !swap__compatible(swap, receiver, option, r, choice[r]))
            return false;
    return true;
}

/* @return false if the receiver has no option left */
static bool value_receiver(struct swap_dual *dual, const uint32_t *choice, uint32_t receiver)
{
    const struct swap *swap = dual->swap;
    const struct swap_receiver *r = &swap->receivers[receiver];
    uint32_t best = SHOW_UNKNOWN, first = dual->chosen[receiver] < r->option_count ? dual->chosen[receiver] : 0;
    for (uint32_t n = 0; n < r->option_count; n++) {
        uint32_t o = n == 0 ? first : n <= first ? n - 1 : n;        /* mostly best is what it chose last: the others end early */
        plan_cost value;
        dual->value[receiver][o] = swap->weights.forbidden;
        if (!allowed(swap, choice, receiver, o))
            continue;
        bool exact = by_lanes(dual, r, &r->options[o], &value);
        value += dual->toll[receiver][o];
        if (!exact && (best == SHOW_UNKNOWN || value < dual->least[receiver]))
            value = by_matching(dual, r, &r->options[o]) + dual->toll[receiver][o];
        dual->value[receiver][o] = value;
        if (best != SHOW_UNKNOWN && value >= dual->least[receiver])
            continue;
        best = o;
        dual->least[receiver] = value;
        memcpy(dual->kept, dual->lane_item, r->lane_count * sizeof *dual->kept);
    }
    dual->chosen[receiver] = best;
    for (uint32_t k = 0; best != SHOW_UNKNOWN && k < dual->clique_count; k++)
        dual->taken[swap->item_count + k] += dual->cliques[k].member[receiver] && dual->cliques[k].code == r->options[best].code;
    for (uint32_t l = 0; best != SHOW_UNKNOWN && l < r->lane_count; l++)
        if (dual->kept[l] != SHOW_UNKNOWN)
            dual->taken[dual->kept[l]]++;
    return best != SHOW_UNKNOWN;
}

static plan_cost least_of(plan_cost a, plan_cost b)
{
    return a < b ? a : b;
}

/* What each option pays for its code. */
static void set_tolls(struct swap_dual *dual)
{
    const struct swap *swap = dual->swap;
    for (uint32_t r = 0; r < swap->receiver_count; r++)
        memset(dual->toll[r], 0, swap->receivers[r].option_count * sizeof *dual->toll[r]);
    for (uint32_t k = 0; k < dual->clique_count; k++)
        for (uint32_t r = 0; r < swap->receiver_count && dual->price[swap->item_count + k] != 0; r++)
            for (uint32_t o = 0; dual->cliques[k].member[r] && o < swap->receivers[r].option_count; o++)
                if (swap->receivers[r].options[o].code == dual->cliques[k].code)
                    dual->toll[r][o] += dual->price[swap->item_count + k];
}

static bool evaluate(struct swap_dual *dual, const uint32_t *choice)
{
    const struct swap *swap = dual->swap;
    bool possible = true;
    dual->bound = 0;
    for (uint32_t k = swap->item_count; k < dual->count; k++) {
        dual->taken[k] = 0;
        dual->bound -= dual->price[k];
    }
    set_tolls(dual);
    for (uint32_t i = 0; i < swap->item_count; i++) {
        plan_cost alone = dual->alone[i];
        dual->taken[i] = alone < dual->price[i];
        dual->bound += least_of(alone, dual->price[i]);
    }
    for (uint32_t r = 0; r < swap->receiver_count && possible; r++) {
        possible = value_receiver(dual, choice, r);
        dual->bound += dual->least[r];
    }
    return possible;
}

/* A step against what is taken twice (its price falls) or not at all (it rises), as long as the way to the aim asks for
 * (Polyak 1969). @return false if everything is taken exactly once */
static bool step(struct swap_dual *dual, plan_cost aim, double share)
{
    const struct swap *swap = dual->swap;
    uint64_t length = 0;
    for (uint32_t k = 0; k < dual->count; k++) {
        int64_t off = 1 - dual->taken[k];
        if (k < swap->item_count || off < 0 || dual->price[k] > 0)
            length += (uint64_t)(off * off);
    }
    if (length == 0)
        return false;
    plan_cost stride = (plan_cost)((long double)(aim - dual->bound) * share / (long double)length);
    if (stride < 1)
        stride = 1;
    for (uint32_t i = 0; i < swap->item_count; i++)
        dual->price[i] = least_of(dual->price[i] + stride * (1 - dual->taken[i]), swap->weights.forbidden);
    for (uint32_t k = swap->item_count; k < dual->count; k++) {
        dual->price[k] += stride * (dual->taken[k] - 1);
        if (dual->price[k] < 0)
            dual->price[k] = 0;
    }
    return true;
}

bool swap__dual_improve(struct swap_dual *dual, const uint32_t *choice, uint32_t rounds, plan_cost aim)
{
    size_t size = dual->count * sizeof *dual->price;
    double share = 1;
    uint32_t since = 0;
    for (uint32_t k = 0; k < rounds; k++) {
        if (!evaluate(dual, choice))
            return false;
        if (k == 0 || dual->bound > dual->best_bound) {
            dual->best_bound = dual->bound;
            memcpy(dual->best_price, dual->price, size);
            since = 0;
        } else if (++since == 5) {
            share /= 2;
            since = 0;
        }
        if (dual->best_bound > aim)
            return true;
        if (k + 1 < rounds && !step(dual, aim, share))
            return true;
    }
    if (dual->bound == dual->best_bound)
        return true;
    memcpy(dual->price, dual->best_price, size);
    return evaluate(dual, choice);
}

/* ---- what a pair costs over the bound ---- */

plan_cost swap__dual_alone(const struct swap_dual *dual, uint32_t item)
{
    plan_cost alone = dual->alone[item];
    return alone - least_of(alone, dual->price[item]);
}

/* Over the value of the option, if this pair must be in its matching. */
static plan_cost pair_extra(const struct swap_dual *dual, plan_cost cell, uint32_t item, uint32_t lane, bool matched)
{
    if (!matched)
        return cell - dual->price[item] - dual->lane_least[lane];
    if (dual->packed_at[item] == SHOW_UNKNOWN)
        return cell - dual->price[item] - dual->assign.row_price[lane];
    return assign_extra(&dual->assign, lane, dual->packed_at[item]);
}

static bool solve_exactly(struct swap_dual *dual, const struct swap_receiver *r, const struct swap_option *option,
                          plan_cost *value)
{
    if (by_lanes(dual, r, option, value))
        return false;
    *value = by_matching(dual, r, option);
    for (uint32_t i = 0; i < dual->swap->item_count; i++)
        dual->packed_at[i] = SHOW_UNKNOWN;
    for (uint32_t k = 0; k < dual->assign.cols; k++)
        dual->packed_at[dual->packed[k]] = k;
    return true;
}

typedef void visit_pair(struct swap_dual *dual, uint32_t receiver, uint32_t option, uint32_t item, uint32_t lane,
                        plan_cost extra);

/* Call visit() for every pair of every option that may be, with what it costs over the bound. */
static void visit_pairs(struct swap_dual *dual, const uint32_t *choice, plan_cost slack, visit_pair *visit)
{
    const struct swap *swap = dual->swap;
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        const struct swap_receiver *receiver = &swap->receivers[r];
        for (uint32_t o = 0; o < receiver->option_count; o++) {
            const struct swap_option *option = &receiver->options[o];
            plan_cost value;
            if (dual->value[r][o] - dual->least[r] > slack || !allowed(swap, choice, r, o))
                continue;
            bool matched = solve_exactly(dual, receiver, option, &value);
            value += dual->toll[r][o] - dual->least[r];
            for (uint32_t i = 0; i < swap->item_count; i++) {
                plan_cost taken = dual->price[i] - least_of(dual->price[i], dual->alone[i]);
                for (uint32_t l = 0; l < receiver->lane_count; l++) {
                    plan_cost cell = option->table[(size_t)i * receiver->lane_count + l];
                    if (cell < swap->weights.forbidden)
                        visit(dual, r, o, i, l, value + taken + pair_extra(dual, cell, i, l, matched));
                }
            }
        }
    }
}

static void note_least(struct swap_dual *dual, uint32_t receiver, uint32_t option, uint32_t item, uint32_t lane, plan_cost extra)
{
    plan_cost *cell = &dual->extra[(size_t)item * dual->swap->column_count + dual->swap->receivers[receiver].first + lane];
    (void)option;
    *cell = least_of(*cell, extra);
}

void swap__dual_extras(struct swap_dual *dual, const uint32_t *choice, plan_cost slack)
{
    size_t cells = (size_t)dual->swap->item_count * dual->swap->column_count;
    for (size_t k = 0; k < cells; k++)
        dual->extra[k] = dual->swap->weights.forbidden;
    dual->steps += cells;
    visit_pairs(dual, choice, slack, note_least);
}

static void forbid_dear(struct swap_dual *dual, uint32_t receiver, uint32_t option, uint32_t item, uint32_t lane, plan_cost extra)
{
    const struct swap_receiver *r = &dual->swap->receivers[receiver];
    if (extra > dual->most_extra)
        r->options[option].table[(size_t)item * r->lane_count + lane] = dual->swap->weights.forbidden;
}

void swap__dual_drop(struct swap_dual *dual, const uint32_t *choice, plan_cost most, uint32_t mark)
{
    const struct swap *swap = dual->swap;
    for (uint32_t r = 0; r < swap->receiver_count; r++)
        for (uint32_t o = 0; choice[r] == SHOW_UNKNOWN && o < swap->receivers[r].option_count; o++)
            if (!swap->receivers[r].options[o].dead && dual->bound + dual->value[r][o] - dual->least[r] > most)
                swap->receivers[r].options[o].dead = mark;
}

void swap__dual_forbid(struct swap_dual *dual, const uint32_t *choice, plan_cost most)
{
    dual->most_extra = most - dual->bound;
    visit_pairs(dual, choice, dual->most_extra, forbid_dear);
}
