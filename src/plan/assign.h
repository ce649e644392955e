/* The assignment problem: give every row one column, or leave it alone at its own price, at the least total. Exact, by shortest
 * augmenting paths with dual prices. It knows nothing of shows. */
#ifndef RIGCALL_PLAN_ASSIGN_H
#define RIGCALL_PLAN_ASSIGN_H

#include <stdbool.h>
#include <stdint.h>

__extension__ typedef __int128 plan_cost;

/* `cost` and `alone` are the caller's to fill; the rest is the answer. Entries may be negative; sums of rows + 1 entries must
 * stay under 2^126. A pair that must not be is given a price above all that can be paid otherwise. */
struct assign {
    uint32_t rows, cols;
    plan_cost *cost;                 /* rows x cols, by row */
    plan_cost *alone;                /* of each row */
    uint32_t *col_of;                /* of each row; cols when the row is alone */
    uint32_t *row_of;                /* of each column; rows when nobody has it */
    plan_cost *row_price, *col_price;        /* cost >= row_price + col_price, equal where assigned; col_price <= 0, 0 where unused */
    plan_cost total;
    uint64_t steps;                  /* counted up: cells looked at, the measure of the work */
    struct assign_work *work;
};

/** @return false when memory is short; assign_fini() is fine then too */
bool assign_init(struct assign *assign, uint32_t rows, uint32_t cols);
void assign_fini(struct assign *assign);
/** Fill the answer: the least total, one of the assignments that have it, and prices that prove it. */
void assign_solve(struct assign *assign);
/** Of all assignments with the least total, take the one whose list of columns over `rows` (in that order) is least; alone counts
 * after every column. Call after assign_solve(). */
void assign_least(struct assign *assign, const uint32_t *rows, uint32_t count);
/** What must be paid at least over the total when `row` is given `col` (cols: alone). */
plan_cost assign_extra(const struct assign *assign, uint32_t row, uint32_t col);

#endif
