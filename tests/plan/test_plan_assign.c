/* The assignment solver against every assignment there is, and its prices against what makes them a proof. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

#include "plan/assign.h"

#define ROWS 5
#define COLS 5

static uint64_t state_of_dice;

static uint32_t below(uint32_t limit)
{
    state_of_dice = state_of_dice * 6364136223846793005u + 1442695040888963407u;
    return (uint32_t)(state_of_dice >> 33) % limit;
}

struct every { const struct assign *assign; uint32_t order[ROWS]; uint32_t now[ROWS], best[ROWS]; long long total; bool found; };

static long long price(const struct assign *assign, uint32_t row, uint32_t col)
{
    return (long long)(col == assign->cols ? assign->alone[row] : assign->cost[row * assign->cols + col]);
}

/* Rows in the order of the list, columns rising, alone last: the first of the least totals found has the least list. */
static void try_all(struct every *every, uint32_t k, bool taken[COLS], long long sum)
{
    const struct assign *assign = every->assign;
    if (k == assign->rows) {
        if (!every->found || sum < every->total) {
            every->found = true;
            every->total = sum;
            memcpy(every->best, every->now, sizeof every->best);
        }
        return;
    }
    for (uint32_t col = 0; col <= assign->cols; col++) {
        if (col < assign->cols && taken[col])
            continue;
        if (col < assign->cols)
            taken[col] = true;
        every->now[every->order[k]] = col;
        try_all(every, k + 1, taken, sum + price(assign, every->order[k], col));
        if (col < assign->cols)
            taken[col] = false;
    }
}

static void check_prices(const struct assign *assign)
{
    for (uint32_t i = 0; i < assign->rows; i++)
        for (uint32_t j = 0; j <= assign->cols; j++)
            assert_true(assign_extra(assign, i, j) >= 0);
    for (uint32_t i = 0; i < assign->rows; i++)
        assert_true(assign_extra(assign, i, assign->col_of[i]) == 0);
    for (uint32_t j = 0; j < assign->cols; j++) {
        assert_true(assign->col_price[j] <= 0);
        if (assign->row_of[j] == assign->rows)
            assert_true(assign->col_price[j] == 0);
        else
            assert_int_equal(assign->col_of[assign->row_of[j]], j);
    }
}

static void least_total_and_least_list(void **state)
{
    (void)state;
    for (uint32_t number = 0; number < 5000; number++) {
        struct assign assign;
        bool taken[COLS] = { false };
        state_of_dice = number;
        uint32_t rows = below(ROWS + 1), cols = below(COLS + 1), spread = 1 + below(number % 2 ? 3 : 50);
        assert_true(assign_init(&assign, rows, cols));
        struct every every = { .assign = &assign };
        for (uint32_t i = 0; i < rows; i++) {
            assign.alone[i] = below(3) ? (plan_cost)below(2 * spread) : 1000000;
            for (uint32_t j = 0; j < cols; j++)
                assign.cost[i * cols + j] = below(8) ? (plan_cost)below(spread) - below(2) : 1000000;
            every.order[i] = i;
        }
        for (uint32_t i = rows; i > 1; i--) {                /* any order of the list */
            uint32_t k = below(i), kept = every.order[k];
            every.order[k] = every.order[i - 1];
            every.order[i - 1] = kept;
        }
        try_all(&every, 0, taken, 0);
        assign_solve(&assign);
        assert_int_equal((long long)assign.total, every.total);
        check_prices(&assign);
        assign_least(&assign, every.order, rows);
        check_prices(&assign);
        for (uint32_t i = 0; i < rows; i++)
            assert_int_equal(assign.col_of[i], every.best[i]);
        assign_fini(&assign);
    }
}

/* Rows that are not in the list may give way, but only at no cost. */
static void rows_outside_the_list_give_way(void **state)
{
    (void)state;
    const plan_cost costs[3][3] = { { 1, 1, 5 }, { 1, 1, 1 }, { 5, 1, 1 } };
    const uint32_t list[] = { 1 };
    struct assign assign;
    assert_true(assign_init(&assign, 3, 3));
    for (uint32_t i = 0; i < 3; i++) {
        assign.alone[i] = 100;
        for (uint32_t j = 0; j < 3; j++)
            assign.cost[i * 3 + j] = costs[i][j];
    }
    assign_solve(&assign);
    assert_int_equal((int)assign.total, 3);
    assign_least(&assign, list, 1);
    assert_int_equal(assign.col_of[1], 0);                   /* then row 0 must have column 1 and row 2 column 2 */
    assert_int_equal(assign.col_of[0], 1);
    assert_int_equal(assign.col_of[2], 2);
    assign_fini(&assign);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(least_total_and_least_list),
        cmocka_unit_test(rows_outside_the_list_give_way),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
