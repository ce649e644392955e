/* Answers that the search tries on its way: the better the best one, the more can be left out. */
#include <string.h>

#include "swap_search.h"

/* What the present assignment really costs on a receiver under each of its options. @return the least over the relaxed price */
plan_cost swap__estimate(const struct search *search, uint32_t receiver, uint32_t *least)
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

bool swap__fits(const struct search *search, const uint32_t *choice, uint32_t receiver, uint32_t option)
{
    for (uint32_t r = 0; r < search->swap->receiver_count; r++)
        if (r != receiver && choice[r] != SHOW_UNKNOWN && !swap__compatible(search->swap, receiver, option, r, choice[r]))
            return false;
    return true;
}

/* Put the columns of a receiver back as the node has them. */
static void restore(struct search *search, uint32_t r)
{
    const struct swap_receiver *receiver = &search->swap->receivers[r];
    swap__set_columns(search->swap, &search->assign, r,
                      search->choice[r] == SHOW_UNKNOWN ? receiver->relaxed : receiver->options[search->choice[r]].table);
}

/* Try an answer: every receiver set up as `trial` has it. */
static int try_answer(struct search *search)
{
    struct swap *swap = search->swap;
    uint32_t base = 0;
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        base += swap->receivers[r].options[search->trial[r]].fixed;
        if (search->choice[r] != search->trial[r])
            swap__set_columns(swap, &search->assign, r, swap->receivers[r].options[search->trial[r]].table);
    }
    int err = swap__leaf(swap, &search->assign, search->trial, base);
    for (uint32_t r = 0; r < swap->receiver_count; r++)
        if (search->choice[r] != search->trial[r])
            restore(search, r);
    return err;
}

/* Complete the node by the option that suits the present assignment best, receiver by receiver: mostly a good answer. */
int swap__try_completion(struct search *search)
{
    struct swap *swap = search->swap;
    uint32_t least;
    memcpy(search->trial, search->choice, swap->receiver_count * sizeof *search->trial);
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        const struct swap_receiver *receiver = &swap->receivers[r];
        if (search->trial[r] != SHOW_UNKNOWN)
            continue;
        swap__estimate(search, r, &least);
        least = SHOW_UNKNOWN;
        for (uint32_t o = 0; o < receiver->option_count; o++)
            if ((least == SHOW_UNKNOWN || receiver->estimate[o] < receiver->estimate[least]) && swap__fits(search, search->trial, r, o))
                least = o;
        if (least == SHOW_UNKNOWN)
            return 0;
        search->trial[r] = least;
    }
    return try_answer(search);
}

/* Complete the node by what the receivers choose at the present prices, those with most to lose first; a choice that clashes
 * with one before it gives way to the next best. */
int swap__try_choices(struct search *search)
{
    struct swap *swap = search->swap;
    const struct swap_dual *dual = &search->dual;
    memcpy(search->trial, search->choice, swap->receiver_count * sizeof *search->trial);
    for (uint32_t left = swap->receiver_count; left > 0; left--) {
        uint32_t next = SHOW_UNKNOWN, best = SHOW_UNKNOWN;
        for (uint32_t r = 0; r < swap->receiver_count; r++)
            if (search->trial[r] == SHOW_UNKNOWN && (next == SHOW_UNKNOWN || dual->least[r] < dual->least[next]))
                next = r;
        if (next == SHOW_UNKNOWN)
            break;
        for (uint32_t o = 0; o < swap->receivers[next].option_count; o++)
            if (dual->value[next][o] < swap->weights.forbidden &&
                !swap->receivers[next].options[o].dead &&
                (best == SHOW_UNKNOWN || dual->value[next][o] < dual->value[next][best]) && swap__fits(search, search->trial, next, o))
                best = o;
        if (best == SHOW_UNKNOWN)
            return 0;
        search->trial[next] = best;
    }
    if (!memcmp(search->tried, search->trial, swap->receiver_count * sizeof *search->trial))
        return 0;
    memcpy(search->tried, search->trial, swap->receiver_count * sizeof *search->trial);
    return try_answer(search);
}

/* Change one receiver of the best answer; whoever then clashes with it takes what suits it best at the present prices.
 * @return false if somebody has no way left */
static bool vary(struct search *search, uint32_t receiver, uint32_t option)
{
    struct swap *swap = search->swap;
    memcpy(search->trial, swap->best.choice, swap->receiver_count * sizeof *search->trial);
    search->trial[receiver] = option;
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        uint32_t best = SHOW_UNKNOWN;
        if (r == receiver || swap__compatible(swap, receiver, option, r, search->trial[r]))
            continue;
        for (uint32_t o = 0; o < swap->receivers[r].option_count; o++)
            if ((best == SHOW_UNKNOWN || search->dual.value[r][o] < search->dual.value[r][best]) && swap__fits(search, search->trial, r, o))
                best = o;
        if (best == SHOW_UNKNOWN)
            return false;
        search->trial[r] = best;
    }
    return true;
}

/* Better the best answer by one receiver at a time, as long as that helps. */
int swap__polish(struct search *search)
{
    struct swap *swap = search->swap;
    int err = 0;
    while (swap->best.found && search->polished != swap->best.cost && !err) {
        search->polished = swap->best.cost;
        for (uint32_t r = 0; r < swap->receiver_count && !err && search->polished == swap->best.cost; r++)
            for (uint32_t o = 0; o < swap->receivers[r].option_count && !err; o++)
                if (swap->receivers[r].option_count > 1 && o != swap->best.choice[r] && search->assign.steps <= swap->step_limit &&
                    swap->receivers[r].options[o].dead != 1 && vary(search, r, o))
                    err = try_answer(search);
    }
    return err;
}
