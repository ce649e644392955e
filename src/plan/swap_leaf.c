/* With every option decided the rest is an assignment, but for parking: a dark fixture must be keyed anew if the lane it is keyed
 * to gets another universe. That price hangs on two items at once, so it is branched over where an assignment would pay it:
 * either the lane stays free for the fixture's own universe, or the universe pays for its dark fixtures wherever it goes. */
#include <stdlib.h>
#include <string.h>

#include "swap_internal.h"

struct paid { const struct paid *next; uint32_t item, column; };

struct leaf {
    struct swap *swap;
    struct assign *assign;
    const uint32_t *choice;
};

static bool is_paid(const struct paid *paid, uint32_t item, uint32_t column)
{
    for (; paid; paid = paid->next)
        if (paid->item == item && paid->column == column)
            return true;
    return false;
}

/* The first item and lane whose parking is not paid for. */
static bool find_parking(const struct leaf *leaf, const struct paid *paid, uint32_t *item, uint32_t *column)
{
    const struct swap *swap = leaf->swap;
    for (uint32_t f = 0; f < swap->lost_count; f++) {
        struct swap_fate fate = swap__fate(swap, leaf->choice, leaf->assign->col_of, leaf->assign->row_of, &swap->lost[f]);
        if (!fate.park || fate.column == SHOW_UNKNOWN || is_paid(paid, swap->lost[f].item, fate.column))
            continue;
        *item = swap->lost[f].item;
        *column = fate.column;
        return true;
    }
    return false;
}

static int solve(const struct leaf *leaf, uint32_t base, const struct paid *paid);

static int keep_free(const struct leaf *leaf, uint32_t base, const struct paid *paid, uint32_t item, uint32_t column)
{
    struct swap *swap = leaf->swap;
    struct assign *assign = leaf->assign;
    plan_cost *saved = malloc(((size_t)assign->rows + 1) * sizeof *saved);
    if (!saved)
        return RIG_ENOMEM;
    for (uint32_t i = 0; i < assign->rows; i++) {
        plan_cost *cell = &assign->cost[(size_t)i * assign->cols + column];
        saved[i] = *cell;
        if (i != item)
            *cell = swap->weights.forbidden;
    }
    int err = solve(leaf, base, paid);
    for (uint32_t i = 0; i < assign->rows; i++)
        assign->cost[(size_t)i * assign->cols + column] = saved[i];
    free(saved);
    return err;
}

/* Fixtures of the item that the lane would land in another universe, if the item sits at `at` (or nowhere) and leaves them dark. */
static uint32_t count_parked(const struct leaf *leaf, uint32_t item, uint32_t column, uint32_t at)
{
    const struct swap *swap = leaf->swap;
    uint32_t count = 0;
    for (uint32_t f = swap->items[item].lost; f < swap->items[item].lost + swap->items[item].lost_count; f++) {
        const struct swap_fixture *fixture = &swap->lost[f];
        if (fixture->parks || swap__old_column(swap, leaf->choice, fixture) != column)
            continue;
        if (at < swap->column_count) {
            uint32_t r = swap->column_receiver[at];
            int64_t number = swap->receivers[r].lanes[swap->column_lane[at]].number;
            if (swap__lights(swap, r, leaf->choice, number, fixture))
                continue;
        }
        count++;
    }
    return count;
}

static int pay(const struct leaf *leaf, uint32_t base, const struct paid *paid, uint32_t item, uint32_t column)
{
    struct swap *swap = leaf->swap;
    struct assign *assign = leaf->assign;
    struct paid mine = { paid, item, column };
    plan_cost *row = assign->cost + (size_t)item * assign->cols, alone = assign->alone[item];
    plan_cost *saved = malloc(((size_t)assign->cols + 1) * sizeof *saved);
    if (!saved)
        return RIG_ENOMEM;
    memcpy(saved, row, assign->cols * sizeof *saved);
    for (uint32_t j = 0; j < assign->cols; j++)
        if (row[j] < swap->weights.forbidden)
            row[j] = j == column ? swap->weights.forbidden : row[j] + swap->weights.touch * count_parked(leaf, item, column, j);
    assign->alone[item] += swap->weights.touch * count_parked(leaf, item, column, SHOW_UNKNOWN);
    int err = solve(leaf, base, &mine);
    memcpy(row, saved, assign->cols * sizeof *saved);
    assign->alone[item] = alone;
    free(saved);
    return err;
}

static int solve(const struct leaf *leaf, uint32_t base, const struct paid *paid)
{
    struct swap *swap = leaf->swap;
    struct assign *assign = leaf->assign;
    plan_cost bound;
    uint32_t item, column;
    assign_solve(assign);
    if (swap__hopeless(swap, assign, base, &bound))
        return 0;
    if (swap__out_of_steps(swap, assign, bound))
        return 0;
    assign_least(assign, swap->listed, swap->listed_count);
    if (!find_parking(leaf, paid, &item, &column)) {
        swap__keep(swap, bound, leaf->choice, assign->col_of);
        return 0;
    }
    int err = keep_free(leaf, base, paid, item, column);
    return err ? err : pay(leaf, base, paid, item, column);
}

int swap__leaf(struct swap *swap, struct assign *assign, const uint32_t *choice, uint32_t base)
{
    struct leaf leaf = { swap, assign, choice };
    int err = 0;
    if (swap__tears(swap, choice))
        return 0;
    for (uint32_t r = 0; r < swap->receiver_count; r++) {
        const struct swap_option *option = &swap->receivers[r].options[choice[r]];
        uint32_t fixed;
        if (!option->recheck && !swap__shares_code(swap, r, choice))
            continue;
        swap__price(swap, r, choice[r], choice, swap->leaf_table, &fixed);
        swap__set_columns(swap, assign, r, swap->leaf_table);
        base += fixed - option->fixed;
    }
    err = solve(&leaf, base, NULL);
    for (uint32_t r = 0; r < swap->receiver_count; r++)
        swap__set_columns(swap, assign, r, swap->receivers[r].options[choice[r]].table);
    return err;
}
