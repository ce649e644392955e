/* Shortest augmenting paths (the method of Jonker and Volgenant, 1987, without its heuristics), one Dijkstra over the columns
 * for each row that the first sweep leaves without one. */
#include "assign.h"

#include <stdlib.h>
#include <string.h>

struct assign_work {
    plan_cost *dist;                 /* of each column from the row being placed */
    uint32_t *from;                  /* row that reaches the column at that distance */
    uint32_t *open, *done;           /* columns not settled yet; columns settled, in order */
    uint32_t *parent, *via, *queue;  /* assign_least(): by row, and one more for "nobody" */
    bool *frozen, *seen;
};

bool assign_init(struct assign *assign, uint32_t rows, uint32_t cols)
{
    size_t r = (size_t)rows + 1, c = (size_t)cols + 1;
    memset(assign, 0, sizeof *assign);
    assign->rows = rows;
    assign->cols = cols;
    assign->work = calloc(1, sizeof *assign->work);
    if (!assign->work)
        return false;
    struct assign_work *work = assign->work;
    assign->cost = calloc(r * c, sizeof *assign->cost);
    assign->alone = calloc(r, sizeof *assign->alone);
    assign->col_of = calloc(r, sizeof *assign->col_of);
    assign->row_of = calloc(c, sizeof *assign->row_of);
    assign->row_price = calloc(r, sizeof *assign->row_price);
    assign->col_price = calloc(c, sizeof *assign->col_price);
    work->dist = calloc(c, sizeof *work->dist);
    work->from = calloc(c, sizeof *work->from);
    work->open = calloc(c, sizeof *work->open);
    work->done = calloc(c, sizeof *work->done);
    work->parent = calloc(r, sizeof *work->parent);
    work->via = calloc(r, sizeof *work->via);
    work->queue = calloc(r, sizeof *work->queue);
    work->frozen = calloc(r, sizeof *work->frozen);
    work->seen = calloc(r, sizeof *work->seen);
    return assign->cost && assign->alone && assign->col_of && assign->row_of && assign->row_price && assign->col_price &&
           work->dist && work->from && work->open && work->done && work->parent && work->via && work->queue &&
           work->frozen && work->seen;
}

void assign_fini(struct assign *assign)
{
    struct assign_work *work = assign->work;
    if (work) {
        free(work->dist);
        free(work->from);
        free(work->open);
        free(work->done);
        free(work->parent);
        free(work->via);
        free(work->queue);
        free(work->frozen);
        free(work->seen);
    }
    free(work);
    free(assign->cost);
    free(assign->alone);
    free(assign->col_of);
    free(assign->row_of);
    free(assign->row_price);
    free(assign->col_price);
    memset(assign, 0, sizeof *assign);
}

/* Every row takes its cheapest column if nobody has it yet. @return nothing; rows left over have col_of = cols + 1 */
static void first_sweep(struct assign *assign)
{
    for (uint32_t j = 0; j < assign->cols; j++) {
        assign->row_of[j] = assign->rows;
        assign->col_price[j] = 0;
    }
    for (uint32_t i = 0; i < assign->rows; i++) {
        const plan_cost *cost = assign->cost + (size_t)i * assign->cols;
        plan_cost least = assign->alone[i];
        uint32_t col = assign->cols;
        for (uint32_t j = 0; j < assign->cols; j++)
            if (cost[j] < least || (cost[j] == least && col < assign->cols && assign->row_of[col] != assign->rows &&
                                    assign->row_of[j] == assign->rows)) {
                least = cost[j];
                col = j;
            }
        assign->steps += assign->cols;
        assign->row_price[i] = least;
        if (col == assign->cols) {
            assign->col_of[i] = col;
        } else if (assign->row_of[col] == assign->rows) {
            assign->col_of[i] = col;
            assign->row_of[col] = i;
        } else {
            assign->col_of[i] = assign->cols + 1;
        }
    }
}

/* Give `start` a column along the cheapest chain of changes, and adjust the prices. */
static void place(struct assign *assign, uint32_t start)
{
    struct assign_work *work = assign->work;
    uint32_t open_count = assign->cols, done_count = 0, row = start, end_row = start, end = assign->cols;
    plan_cost dist = 0, best_alone = assign->alone[start] - assign->row_price[start];
    bool reached = false;
    for (uint32_t j = 0; j < assign->cols; j++)
        work->open[j] = j;
    while (open_count > 0) {
        const plan_cost *cost = assign->cost + (size_t)row * assign->cols;
        plan_cost base = dist - assign->row_price[row], least = 0;
        uint32_t pick = 0;
        for (uint32_t k = 0; k < open_count; k++) {
            uint32_t j = work->open[k];
            plan_cost d = base + cost[j] - assign->col_price[j];
            if (!reached || d < work->dist[j]) {
                work->dist[j] = d;
                work->from[j] = row;
            }
            if (k == 0 || work->dist[j] < least) {
                least = work->dist[j];
                pick = k;
            }
        }
        reached = true;
        assign->steps += open_count;
        if (best_alone <= least)
            break;
        dist = least;
        uint32_t col = work->open[pick];
        work->open[pick] = work->open[--open_count];
        if (assign->row_of[col] == assign->rows) {
            end = col;
            break;
        }
        work->done[done_count++] = col;
        row = assign->row_of[col];
        plan_cost alone = dist + assign->alone[row] - assign->row_price[row];
        if (alone < best_alone) {
            best_alone = alone;
            end_row = row;
        }
    }
    if (end == assign->cols)
        dist = best_alone;
    assign->row_price[start] += dist;
    for (uint32_t k = 0; k < done_count; k++) {
        uint32_t col = work->done[k];
        plan_cost left = dist - work->dist[col];
        assign->col_price[col] -= left;
        assign->row_price[assign->row_of[col]] += left;
    }
    uint32_t col = end;
    if (end == assign->cols) {       /* the chain ends with a row that stays alone */
        col = assign->col_of[end_row];
        assign->col_of[end_row] = assign->cols;
        if (end_row == start)
            return;
    }
    for (;;) {
        uint32_t taker = work->from[col], left = assign->col_of[taker];
        assign->col_of[taker] = col;
        assign->row_of[col] = taker;
        if (taker == start)
            return;
        col = left;
    }
}

static void sum_up(struct assign *assign)
{
    assign->total = 0;
    for (uint32_t i = 0; i < assign->rows; i++) {
        uint32_t col = assign->col_of[i];
        assign->total += col == assign->cols ? assign->alone[i] : assign->cost[(size_t)i * assign->cols + col];
    }
}

void assign_solve(struct assign *assign)
{
    first_sweep(assign);
    for (uint32_t i = 0; i < assign->rows; i++)
        if (assign->col_of[i] > assign->cols)
            place(assign, i);
    sum_up(assign);
}

plan_cost assign_extra(const struct assign *assign, uint32_t row, uint32_t col)
{
    if (col == assign->cols)
        return assign->alone[row] - assign->row_price[row];
    return assign->cost[(size_t)row * assign->cols + col] - assign->row_price[row] - assign->col_price[col];
}

/* ---- the least list: moves along pairs that cost nothing extra ---- */

/* "Nobody" (node `rows`) has every column that no row has, and may take any whose price is 0. */
struct chain { struct assign *assign; uint32_t head, tail, target, target_row; bool found; uint32_t last; };

static void chain_push(struct chain *chain, uint32_t node, uint32_t parent, uint32_t via)
{
    struct assign_work *work = chain->assign->work;
    if (work->seen[node])
        return;
    work->seen[node] = true;
    work->parent[node] = parent;
    work->via[node] = via;
    work->queue[chain->tail++] = node;
}

static void chain_end(struct chain *chain, uint32_t node)
{
    if (!chain->found)
        chain->last = node;
    chain->found = true;
}

/* Who could make room for `node` by moving on: owners of the columns that `node` may take. */
static void chain_row(struct chain *chain, uint32_t node)
{
    struct assign *assign = chain->assign;
    for (uint32_t j = 0; j < assign->cols && !chain->found; j++) {
        if (assign_extra(assign, node, j) != 0)
            continue;
        if (j == chain->target)
            chain_end(chain, node);
        else if (assign->row_of[j] == assign->rows || !assign->work->frozen[assign->row_of[j]])
            chain_push(chain, assign->row_of[j], node, j);
    }
    assign->steps += assign->cols;
    if (!chain->found && assign_extra(assign, node, assign->cols) == 0 && assign->col_of[node] != assign->cols)
        chain_push(chain, assign->rows, node, assign->cols);
}

static void chain_nobody(struct chain *chain)
{
    struct assign *assign = chain->assign;
    if (chain->target == assign->cols || assign->col_price[chain->target] == 0) {
        chain_end(chain, assign->rows);
        return;
    }
    for (uint32_t i = 0; i < assign->rows; i++) {
        uint32_t col = assign->col_of[i];
        if (!assign->work->frozen[i] && (col == assign->cols || assign->col_price[col] == 0))
            chain_push(chain, i, assign->rows, col);
    }
}

/* Give `row` the column `col` if some assignment of the least total does so without touching frozen rows. */
static bool take(struct assign *assign, uint32_t row, uint32_t col)
{
    struct assign_work *work = assign->work;
    struct chain chain = { assign, 0, 0, assign->col_of[row], row, false, 0 };
    uint32_t first = col == assign->cols ? assign->rows : assign->row_of[col];
    if (assign_extra(assign, row, col) != 0 || (first < assign->rows && work->frozen[first]))
        return false;
    memset(work->seen, 0, ((size_t)assign->rows + 1) * sizeof *work->seen);
    work->frozen[row] = true;
    chain_push(&chain, first, assign->rows + 1, col);
    while (chain.head < chain.tail && !chain.found) {
        uint32_t node = work->queue[chain.head++];
        if (node == assign->rows)
            chain_nobody(&chain);
        else
            chain_row(&chain, node);
    }
    work->frozen[row] = false;
    if (!chain.found)
        return false;
    uint32_t gets = chain.target;
    for (uint32_t node = chain.last; node <= assign->rows; node = work->parent[node]) {
        if (node < assign->rows)
            assign->col_of[node] = gets;
        if (gets < assign->cols)
            assign->row_of[gets] = node;
        gets = work->via[node];
    }
    assign->col_of[row] = col;
    if (col < assign->cols)
        assign->row_of[col] = row;
    return true;
}

void assign_least(struct assign *assign, const uint32_t *rows, uint32_t count)
{
    memset(assign->work->frozen, 0, ((size_t)assign->rows + 1) * sizeof *assign->work->frozen);
    for (uint32_t k = 0; k < count; k++) {
        for (uint32_t col = 0; col < assign->col_of[rows[k]]; col++)
            if (take(assign, rows[k], col))
                break;
        assign->work->frozen[rows[k]] = true;
    }
}
