/* A walk past fixtures: from one end of where they are spread the most, each time to the nearest that is left. Where they hang in
 * one row that is the row; where there are several, one is done before the next. */
#include <math.h>
#include <stdlib.h>

#include "plan_text.h"

#define WALK_MOST 4000               /* fixtures of one site: each step looks at all that are left */

static double coordinate(const struct position *pos, int axis)
{
    return axis == 0 ? pos->x_m : axis == 1 ? pos->y_m : pos->z_m;
}

static void trade(struct stop *a, struct stop *b)
{
    struct stop kept = *a;
    *a = *b;
    *b = kept;
}

/* x, y or z */
static int widest_axis(const struct stop *stops, uint32_t count)
{
    int best = 0;
    double widest = -1;
    for (int axis = 0; axis < 3; axis++) {
        double least = INFINITY, most = -INFINITY;
        for (uint32_t i = 0; i < count; i++)
            if (position_given(&stops[i].pos)) {
                least = fmin(least, coordinate(&stops[i].pos, axis));
                most = fmax(most, coordinate(&stops[i].pos, axis));
            }
        if (most - least > widest) {
            widest = most - least;
            best = axis;
        }
    }
    return best;
}

static double square_of(const struct position *a, const struct position *b)
{
    double x = a->x_m - b->x_m, y = a->y_m - b->y_m, z = a->z_m - b->z_m;
    return x * x + y * y + z * z;
}

/* Along the axis; those without a position come last. Of equals the one that comes first in the plan. */
static int compare_along(const void *left, const void *right, void *axis)
{
    const struct stop *a = left, *b = right;
    double x = position_given(&a->pos) ? coordinate(&a->pos, *(int *)axis) : INFINITY;
    double y = position_given(&b->pos) ? coordinate(&b->pos, *(int *)axis) : INFINITY;
    return x != y ? (x > y) - (x < y) : (a->place > b->place) - (a->place < b->place);
}

void plan_text__walk(struct stop *stops, uint32_t count)
{
    uint32_t placed = 0;
    int axis = widest_axis(stops, count);
    qsort_r(stops, count, sizeof *stops, compare_along, &axis);
    while (placed < count && position_given(&stops[placed].pos))
        placed++;
    for (uint32_t i = 1; i < placed && placed <= WALK_MOST; i++) {
        uint32_t next = i;
        double nearest = square_of(&stops[i - 1].pos, &stops[i].pos);
        for (uint32_t k = i + 1; k < placed; k++) {
            double square = square_of(&stops[i - 1].pos, &stops[k].pos);
            if (square < nearest || (square == nearest && stops[k].place < stops[next].place)) {
                next = k;
                nearest = square;
            }
        }
        trade(&stops[i], &stops[next]);
    }
}
